//! What the monitor and the eye see.

use super::heart::Rhythm;
use serde::{Deserialize, Serialize};

/// A pulse, mmHg.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Pressure {
    pub systolic_mmhg: f64,
    pub diastolic_mmhg: f64,
    pub mean_mmhg: f64,
}

impl Pressure {
    /// Systolic less diastolic, mmHg.
    pub fn pulse_mmhg(&self) -> f64 {
        self.systolic_mmhg - self.diastolic_mmhg
    }
}

/// How awake the patient is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Awareness {
    #[default]
    Alert,
    Anxious,
    Drowsy,
    /// Anaesthetised.
    Asleep,
    Unconscious,
    Dead,
}

/// Values of the last whole beat, and the slow ones of the last second.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Vitals {
    /// Beats per minute; 0 without a ventricular beat.
    pub heart_rate_bpm: f64,
    /// Rhythm.
    pub rhythm: Rhythm,
    /// At the aortic root.
    pub root: Pressure,
    /// Right radial line.
    pub right_radial: Pressure,
    /// Left radial line.
    pub left_radial: Pressure,
    /// Right femoral line.
    pub right_femoral: Pressure,
    /// Left femoral line.
    pub left_femoral: Pressure,
    /// Central venous, mmHg.
    pub cvp_mmhg: f64,
    /// Left atrial, mmHg.
    pub left_atrial_mmhg: f64,
    /// Chest's pressure relative to its mean at rest, mmHg.
    pub chest_mmhg: f64,
    /// Cardiac output, l/min.
    pub output_l_min: f64,
    /// Stroke volume, ml.
    pub stroke_ml: f64,
    /// Steepest rise of left ventricular pressure, mmHg/s.
    pub dp_dt_mmhg_s: f64,
    /// Saturation, 0 to 1.
    pub spo2: f64,
    /// End-tidal carbon dioxide, mmHg.
    pub etco2_mmhg: f64,
    /// Breaths per minute.
    pub breaths_per_min: f64,
    /// Core temperature, Celsius.
    pub temperature_c: f64,
    /// Urine, ml/h.
    pub urine_ml_h: f64,
    /// How awake.
    pub awareness: Awareness,
}

/// Least pulse at the wrist that a pulse oximeter reads, mmHg (assumed).
const READ_PULSE_MMHG: f64 = 8.0;

impl Vitals {
    /// What a pulse oximeter shows, %: nothing where there is no pulse to read.
    pub fn oximeter_percent(&self) -> Option<f64> {
        let pulse = self.heart_rate_bpm > 0.0 && self.right_radial.pulse_mmhg() >= READ_PULSE_MMHG;
        pulse.then_some(100.0 * self.spo2)
    }
}

/// The end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Death {
    /// When the model found no way back, ms.
    pub at_ms: u64,
    /// Of what, from the state of the model.
    pub cause: &'static str,
}
