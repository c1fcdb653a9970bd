//! Checks of `imaging`.

mod beam;
mod contrast;
mod gallery;
mod geometry;
mod patient;
mod picture;
