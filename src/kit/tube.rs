//! Catheters and sheaths: what runs over a wire and what other things run through.

use super::MM_PER_FR;
use serde::{Deserialize, Serialize};

/// A catheter. Its French size is the outer one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Catheter {
    /// Outer size, Fr.
    pub outer_fr: f64,
    /// Bore, mm: the thickest wire that it runs over.
    pub inner_mm: f64,
    /// Length, cm.
    pub length_cm: f64,
    /// Where contrast comes out.
    pub tip: CatheterTip,
    /// Preformed shape.
    pub shape: CatheterShape,
    /// Radio-opaque bands to measure by.
    #[serde(default)]
    pub bands: Option<MarkerBands>,
    /// Highest injection pressure, psi.
    pub max_psi: f64,
    /// Highest flow that it is meant for, mL/s.
    pub max_flow_ml_s: f64,
    /// Bending stiffness without a wire in it, N mm².
    pub ei_n_mm2: f64,
}

impl Catheter {
    /// Outer diameter, mm.
    pub fn outer_mm(&self) -> f64 {
        self.outer_fr * MM_PER_FR
    }
}

/// Where contrast leaves a catheter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CatheterTip {
    /// Through many side holes: for a pump.
    Flush,
    /// Through the end only: by hand, else the jet strips the wall or throws the tip out.
    EndHole,
}

/// A catheter's preformed shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CatheterShape {
    /// A closed curl.
    Pigtail,
    /// None.
    Straight,
    /// One gentle angle.
    Angled,
    /// Two curves, for visceral branches.
    Cobra,
    /// Long hook, formed in the arch.
    ReverseCurve,
    /// Fine, through another catheter.
    Micro,
}

/// Bands at equal distances, from the tip back.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MarkerBands {
    /// How many.
    pub count: u32,
    /// From one to the next, mm.
    pub spacing_mm: f64,
}

/// A sheath. Its French size is the largest catheter that it takes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sheath {
    /// Largest catheter that it takes, Fr.
    pub inner_fr: f64,
    /// What the artery must take, Fr; usually about 2 Fr more.
    pub outer_fr: f64,
    /// Length, cm.
    pub length_cm: f64,
    /// Bending stiffness, N mm².
    pub ei_n_mm2: f64,
}

impl Sheath {
    /// Outer diameter, mm.
    pub fn outer_mm(&self) -> f64 {
        self.outer_fr * MM_PER_FR
    }
    /// Bore, mm.
    pub fn inner_mm(&self) -> f64 {
        self.inner_fr * MM_PER_FR
    }
}
