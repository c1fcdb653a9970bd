//! Deterministic arithmetic: the only room that every other room may lean on.
//!
//! `+ - * / sqrt` are exact by IEEE 754 and the same everywhere; every other function goes to the pinned `libm`
//! through [`ops`], because the platform's own differs between systems. Chance comes from named streams ([`rng`]).

pub mod curve;
pub mod interp;
pub mod ops;
pub mod orifice;
pub mod rng;
pub mod spline;
pub mod vec3;

pub use curve::{Curve, Frame};
pub use orifice::through;
pub use rng::Streams;
pub use vec3::Vec3;
