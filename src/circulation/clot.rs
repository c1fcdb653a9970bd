//! Clot on a hole: it grows where blood is still, is washed away by a jet, hardens, melts, and lifts.

use crate::math::ops;

/// Mean pressure that a fresh clot stands on a hole of 3 mm², mmHg: swine aortotomies re-bled at 64 (systolic 94), whatever
/// the hole's size or the time (Sondeen, J Trauma 2003; sizes of 1.5 to 2.8 mm from memory).
const CLOT_HOLDS_MMHG: f64 = 64.0;
/// Seconds in which a still clot covers most of a small hole at normal clotting. Assumed, near a bleeding time of five minutes.
const CLOT_FORMS_S: f64 = 240.0;
/// Power of the jet, mmHg ml/s, at which half of what forms is washed away. Assumed: 10 ml/min at 90 mmHg stop in
/// minutes to an hour, 30 ml/min and more at a normal pressure do not.
const WASHES_MMHG_ML_S: f64 = 6.5;
/// Seconds in which a still clot grows deep and hard, and then stands more than twice the pressure of a fresh one. Assumed.
const CLOT_DEEPENS_S: f64 = 7200.0;
/// Part of the area under clot from which it is a plug that lets nothing through.
const PLUG: f64 = 0.97;

/// The clot of one hole.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Clot {
    /// Part of the hole's area that it covers, 0 to 1.
    pub cover: f64,
    /// How far it has become deep and hard, 0 to 1.
    depth: f64,
}

impl Clot {
    /// Part of the area that lets blood through.
    pub fn open(&self) -> f64 {
        (1.0 - self.cover / PLUG).max(0.0)
    }

    /// Leaves this part of it.
    pub fn tear(&mut self, kept: f64) {
        (self.cover, self.depth) = (self.cover * kept, self.depth * kept);
    }

    /// Mean pressure that it stands, mmHg. A small hole is plugged firmer: its clot hangs on more rim for its area (the fifth
    /// root is assumed).
    fn stands_mmhg(&self, area_mm2: f64, clotting: f64) -> f64 {
        let size = ops::powf(3.0 / area_mm2.clamp(0.01, 100.0), 0.2);
        CLOT_HOLDS_MMHG * size * clotting.min(1.2) * (0.7 + 1.3 * self.depth)
    }

    /// Some seconds on a hole of `area_mm2` with a mean of `d_mmhg` across it and a jet of this power, mmHg ml/s. `clotting` is 1
    /// when normal; `lysis` of 1 melts a fresh one within an hour.
    pub fn age(&mut self, area_mm2: f64, d_mmhg: f64, power: f64, clotting: f64, lysis: f64, dt_s: f64) {
        // A jet washes away what forms, by its power: a small or slow hole clots, a wide one under pressure does not.
        let jet = power / WASHES_MMHG_ML_S;
        let calm = 1.0 / (1.0 + jet * jet);
        let grows = clotting * calm / (CLOT_FORMS_S * (1.0 + area_mm2));
        // What has become deep and hard no longer melts.
        let rate = grows + lysis * (1.0 - self.depth) / 3600.0;
        let kept = ops::exp(-rate * dt_s);
        self.cover = self.cover * kept + grows / rate.max(1e-12) * (1.0 - kept);
        self.depth += (self.cover - self.depth) * (1.0 - ops::exp(-clotting * calm * dt_s / CLOT_DEEPENS_S));
        // Beyond what it stands, it lifts within a minute.
        let over = (d_mmhg - self.stands_mmhg(area_mm2, clotting)) / 20.0;
        if over > 0.0 {
            self.tear(ops::exp(-over * dt_s / 30.0));
        }
        self.cover = self.cover.clamp(0.0, 1.0);
    }
}
