//! Stents, coils, plugs, particles and closure.

use serde::{Deserialize, Serialize};

/// A stent, bare or covered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stent {
    /// With fabric.
    pub covered: bool,
    /// What opens it.
    pub drive: StentDrive,
    /// Diameter when open, mm.
    pub diameter_mm: f64,
    /// Length, mm.
    pub length_mm: f64,
    /// Sheath that it needs, Fr.
    pub sheath_fr: f64,
    /// Thickest wire that it runs over, mm.
    pub wire_mm: f64,
}

/// What opens a stent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StentDrive {
    /// A balloon inside it.
    Balloon,
    /// Its own spring.
    SelfExpanding,
}

/// An embolisation coil.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Coil {
    /// Diameter of its loops, mm; about a fifth more than the vessel's.
    pub diameter_mm: f64,
    /// Length when stretched, cm.
    pub length_cm: f64,
    /// Thickness, mm, which the catheter's bore must take.
    pub thickness_mm: f64,
    /// Can be taken back until it is let go.
    pub detachable: bool,
}

/// A woven plug.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plug {
    /// Free diameter, mm.
    pub diameter_mm: f64,
    /// Length, mm.
    pub length_mm: f64,
    /// Sheath or guide that it needs, Fr.
    pub sheath_fr: f64,
}

/// Particles that flow to where they stick.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Particles {
    /// Smallest, micrometres.
    pub from_um: f64,
    /// Largest, micrometres.
    pub to_um: f64,
    /// Dissolves within weeks, as gelatin sponge does.
    pub temporary: bool,
    /// Volume in one portion, mL.
    pub portion_ml: f64,
}

/// A means to close an arterial puncture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Closure {
    /// How it closes.
    pub kind: ClosureKind,
    /// Largest hole that one of it closes, Fr outer.
    pub max_fr: f64,
}

/// How a puncture is closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClosureKind {
    /// A suture laid before the hole is made large, pulled tight at the end.
    PreClosureSuture,
    /// A plug against the wall.
    Plug,
    /// Open exposure and suture.
    CutDown,
}
