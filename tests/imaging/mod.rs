//! Checks of `imaging`.

mod beam;
mod blind;
mod contrast;
mod gallery;
mod geometry;
mod leaks;
mod patient;
mod picture;
mod reading;
