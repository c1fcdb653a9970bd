//! Checks of `mechanics`.

mod acts;
mod forces;
mod leak;
mod gallery;
mod patients;
mod phantom;
mod plot;
mod rods;
