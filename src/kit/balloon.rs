//! Balloons.

use serde::{Deserialize, Serialize};

/// A balloon on its catheter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Balloon {
    /// How it grows.
    pub kind: BalloonKind,
    /// Widest that it may get, mm.
    pub max_mm: f64,
    /// Volume at that diameter, mL.
    pub max_ml: f64,
    /// Length of its cylindrical part, mm; 0 for a ball.
    pub length_mm: f64,
    /// Sheath that it needs, Fr.
    pub sheath_fr: f64,
    /// Length of its catheter, cm.
    pub catheter_cm: f64,
    /// Rated burst pressure, atm; a compliant balloon bursts by volume instead.
    #[serde(default)]
    pub rated_atm: Option<f64>,
    /// Thickest wire that it runs over, mm.
    pub wire_mm: f64,
}

/// How a balloon grows with what is put into it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BalloonKind {
    /// Follows what surrounds it; presses fabric to the wall. Volume decides.
    Moulding,
    /// Compliant, on a firm shaft, to stop the aorta's flow.
    Occlusion,
    /// Grows somewhat with pressure; opens branch stents.
    SemiCompliant,
    /// Keeps its diameter up to its burst pressure; opens narrowings.
    NonCompliant,
}

impl BalloonKind {
    /// Whether volume rather than pressure sets its size.
    pub fn compliant(self) -> bool {
        matches!(self, Self::Moulding | Self::Occlusion)
    }
}
