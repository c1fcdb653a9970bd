//! What lies on the shelf: wires, catheters, sheaths, grafts, balloons, stents, embolics and closure, as
//! data.
//!
//! Everything is generic: an item is described by its dimensions and stiffness, never by a maker. Catheters
//! are named by their outer size, sheaths by the largest catheter that they take, as the trade does. A
//! hospital's own shelf is the same file with other items.

pub mod balloon;
pub mod graft;
pub mod implant;
pub mod offer;
pub mod shelf;
pub mod tube;
pub mod wire;

pub use balloon::{Balloon, BalloonKind};
pub use graft::{Graft, GraftKind, GraftSizes};
pub use implant::{Closure, ClosureKind, Coil, Particles, Plug, Stent, StentDrive};
pub use offer::{Offer, OversizeRange};
pub use shelf::{Device, Shelf, Stocked};
pub use tube::{Catheter, CatheterShape, CatheterTip, MarkerBands, Sheath};
pub use wire::{Wire, WireGrade, WireTip};

/// Millimetres to one French.
pub const MM_PER_FR: f64 = 1.0 / 3.0;
/// Millimetres to one inch, in which guide wires are named.
pub const MM_PER_INCH: f64 = 25.4;
