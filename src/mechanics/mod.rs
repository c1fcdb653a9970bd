//! What lies in the vessel, and what it does to it: rods, delivery, contact, gaps, leaks, balloons and injury.
//!
//! Units inside this room: mm, N, kPa (1 kPa = 1e-3 N/mm²), mL, s. Pressures at its doors are mmHg.

pub mod balloon;
mod chain;
mod contact;
pub mod deploy;
pub mod embolic;
pub mod forces;
pub mod gate;
pub mod hazard;
pub mod leak;
mod linear;
pub mod lines;
pub mod place;
mod plan;
pub mod rod;
mod shape;
pub mod sleeve;
mod tube;
mod unroll;

pub use balloon::{Around, Inflated, inflate};
pub use deploy::{DeployEvent, Deployment, PressureState, Pull};
pub use hazard::{Disease, Hazard, HazardKind, Territory};
pub use leak::{LeakKind, LeakReport, Pressures};
pub use lines::{Laid, Refusal, Stack, Warning};
pub use place::{Case, Cell, End, Moulding, Ostium, PlaceAt, Placed, Row, SacPatch, lay, place};
pub use rod::{Corridor, Rod, RodShape, TipRest, reach, settle};
pub use tube::Route;

/// 1 mmHg in kPa.
pub const KPA_PER_MMHG: f64 = 0.133_322;
