//! The vessel tree: centrelines, lumens as rings of radii, walls, ostia, zones and lesions.
//!
//! Everything that is sized, touched, leaked past, filled with contrast or looked at reads this one description.
//! Lengths are millimetres, angles radians; arc length on the aorta starts at the aortic valve.

pub mod lumen;
pub mod name;
pub mod tree;

pub use lumen::Lumen;
pub use name::VesselName;
pub use tree::{Root, Tree, Vessel, Wall};
