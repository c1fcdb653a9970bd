//! Checks of `mechanics`.

mod acts;
mod forces;
mod leak;
mod patients;
mod phantom;
mod rods;
