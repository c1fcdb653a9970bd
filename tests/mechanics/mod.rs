//! Checks of `mechanics`.

mod acts;
mod forces;
mod leak;
mod phantom;
mod rods;
