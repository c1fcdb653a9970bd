//! Guide wires.

use serde::{Deserialize, Serialize};

/// A guide wire.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wire {
    /// Outer diameter, mm; a 0.035 inch wire is 0.889 mm.
    pub diameter_mm: f64,
    /// Whole length, cm. An exchange needs at least the device's length outside the patient.
    pub length_cm: f64,
    /// How stiff its shaft is, in the trade's words.
    pub grade: WireGrade,
    /// Bending stiffness of the shaft, N mm².
    pub ei_n_mm2: f64,
    /// The soft end.
    pub tip: WireTip,
    /// Length of the soft end, cm.
    pub tip_cm: f64,
    /// Bending stiffness at the very tip, N mm²; it rises evenly to the shaft's over the soft end.
    pub tip_ei_n_mm2: f64,
    /// Slippery when wet: less friction, and less feel.
    #[serde(default)]
    pub hydrophilic: bool,
}

impl Wire {
    /// Bending stiffness at a distance behind the tip, N mm².
    pub fn ei_at_n_mm2(&self, behind_tip_mm: f64) -> f64 {
        let soft = 10.0 * self.tip_cm;
        if behind_tip_mm >= soft {
            return self.ei_n_mm2;
        }
        self.tip_ei_n_mm2 + (self.ei_n_mm2 - self.tip_ei_n_mm2) * (behind_tip_mm / soft).max(0.0)
    }
}

/// Stiffness grades, soft to stiff.
///
/// The moduli are those measured on intact 0.035 inch wires in three-point bending (Harrison et al., J
/// Endovasc Ther 18:797, 2011). Two wires sold under the same word differed fivefold, hence two grades of
/// "extra stiff".
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireGrade {
    /// To find the way.
    Standard,
    /// A working wire with more body.
    HeavyDuty,
    /// First of the exchange wires.
    Stiff,
    /// The softer of the wires called extra stiff.
    ExtraStiff,
    /// Carries large sheaths through moderate bends.
    SuperStiff,
    /// As the former, a little stiffer.
    UltraStiff,
    /// The stiffer of the wires called extra stiff.
    ExtraStiffPlus,
    /// For aortic delivery systems.
    AorticExchange,
}

impl WireGrade {
    /// All grades, soft to stiff.
    pub const ALL: [Self; 8] = [
        Self::Standard,
        Self::HeavyDuty,
        Self::Stiff,
        Self::ExtraStiff,
        Self::SuperStiff,
        Self::UltraStiff,
        Self::ExtraStiffPlus,
        Self::AorticExchange,
    ];

    /// Effective flexural modulus of the whole wire, GPa (Harrison 2011; heavy duty is the middle of 11.4 to
    /// 14.5).
    pub fn flexural_modulus_gpa(self) -> f64 {
        match self {
            Self::Standard => 9.5,
            Self::HeavyDuty => 12.95,
            Self::Stiff => 17.0,
            Self::ExtraStiff => 29.2,
            Self::SuperStiff => 60.3,
            Self::UltraStiff => 65.4,
            Self::ExtraStiffPlus => 139.6,
            Self::AorticExchange => 158.4,
        }
    }

    /// Bending stiffness E pi d⁴ / 64 of a round wire of this grade, N mm².
    pub fn ei_n_mm2(self, diameter_mm: f64) -> f64 {
        let d2 = diameter_mm * diameter_mm;
        1000.0 * self.flexural_modulus_gpa() * std::f64::consts::PI * d2 * d2 / 64.0
    }
}

/// Shape of a wire's soft end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum WireTip {
    /// Straight.
    Straight,
    /// Bent, to be steered into branches.
    Angled,
    /// Curled back on itself: pushes branches and plaque aside.
    J {
        /// Radius of the curl, mm.
        radius_mm: f64,
    },
    /// Preformed wide curve, to lie against the valve without pressing into the ventricle.
    WideCurve {
        /// Radius of the curve, mm.
        radius_mm: f64,
    },
}
