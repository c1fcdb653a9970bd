//! Checks of `mechanics`.

mod leak;
mod phantom;
mod rods;
