//! The spinal fluid: made at a steady rate, taken up by the veins of the head, and let out by a drain.

use super::Body;

/// Made in a minute, mL (about half a litre a day; textbook).
const MADE_ML_MIN: f64 = 0.35;
/// Pressure that drives a millilitre a minute into the veins, mmHg (normal 6 to 10; textbook).
const UPTAKE_MMHG_MIN_ML: f64 = 10.0;
/// A millilitre more or less is about a mmHg (assumed): with the uptake that is ten minutes for two thirds of the way back.
const ML_PER_MMHG: f64 = 1.0;
/// The most that runs through an open drain, mL/s (assumed: a drop a second or a little more).
const OPEN_ML_S: f64 = 0.02;

/// A drain as it stands: where it hangs, and how much it may in an hour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpinalDrain {
    /// It drips above this pressure, mmHg.
    pub at_mmhg: f64,
    /// It is closed for the rest of the hour after so much, mL; none: as it comes.
    pub most_ml_h: Option<f64>,
}

impl Body {
    /// A stretch of the fluid's life. `rest_mmhg` is where its pressure would stand without a drain.
    pub(super) fn spinal_fluid(&mut self, rest_mmhg: f64, dt_s: f64) {
        // Short steps: a drain empties what has come within a minute, however long the ward's step is.
        let steps = (dt_s / 60.0).ceil().clamp(1.0, 120.0);
        let step_s = dt_s / steps;
        for _ in 0..steps as u32 {
            let p = self.organs.csf_mmhg;
            // Above rest more is taken up than made; below it less, and at the least nothing.
            let gain_ml_min = ((rest_mmhg - p) / UPTAKE_MMHG_MIN_ML).min(MADE_ML_MIN);
            // No more than the whole way: long steps must not swing past it.
            let way = (rest_mmhg - p).abs() * ML_PER_MMHG;
            let gain_ml = (gain_ml_min * step_s / 60.0).clamp(-way, way);
            let filled = p + gain_ml / ML_PER_MMHG;
            let out_ml = self.csf_drain.map_or(0.0, |drain| {
                let rate_ml_s = drain.most_ml_h.map_or(OPEN_ML_S, |most| (most / 3600.0).min(OPEN_ML_S));
                ((filled - drain.at_mmhg) * ML_PER_MMHG).clamp(0.0, rate_ml_s * step_s)
            });
            self.organs.csf_mmhg = filled - out_ml / ML_PER_MMHG;
            self.csf_drained_ml += out_ml;
        }
    }
}
