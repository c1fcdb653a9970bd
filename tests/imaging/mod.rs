//! Checks of `imaging`.

mod beam;
mod blind;
mod contrast;
mod devices_on_ct;
mod geometry;
mod leaks;
#[allow(dead_code, reason = "the gallery draws with more of it than the checks need")]
mod patient;
mod pelvis;
mod picture;
mod reading;
mod spine;
