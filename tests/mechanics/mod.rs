//! Checks of `mechanics`.

mod acts;
mod forces;
mod gallery;
mod leak;
mod patients;
mod phantom;
mod plot;
mod rods;
