//! The long step: the pulse is sampled, the slow life runs on.
//!
//! A burst of the 1 kHz model finds the beat; its means are then held while fluids, organs, drugs, heat and holes run
//! for a leap in whole seconds. The same code makes both, so long and short agree as far as the beat is steady over a
//! leap; the leap shortens when it is not.

use super::Circulation;
use crate::math::ops;

/// Milliseconds of the 1 kHz model between leaps.
const BURST_MS: u32 = 4_000;
/// Milliseconds at the end that are never leapt over.
const LAST_MS: u64 = 20_000;
/// Longest leap, s.
const LEAP_S: f64 = 240.0;

impl Circulation {
    /// Lets `seconds` pass with beat-averaged leaps. Traces are not recorded.
    pub fn advance_long(&mut self, seconds: f64) {
        if !(seconds.is_finite() && seconds > 0.0) {
            return;
        }
        let tracing = std::mem::replace(&mut self.body.recorder.on, false);
        let end = self.body.ms + (seconds * 1e3).round() as u64;
        let mut leap_s = 10.0_f64;
        while self.body.ms < end {
            let before = self.body.vitals;
            let left = end - self.body.ms;
            self.advance_ms(BURST_MS.min(left.min(u64::from(u32::MAX)) as u32));
            // A leap is made of whole seconds of the slow life's clock.
            self.advance_ms((1000 - (self.body.ms % 1000) as u32) % 1000);
            let now = self.body.vitals;
            let moved = (now.root.mean_mmhg - before.root.mean_mmhg).abs() / 4.0
                + (now.heart_rate_bpm - before.heart_rate_bpm).abs() / 4.0;
            leap_s = if moved > 1.0 { (leap_s * 0.4).max(4.0) } else { (leap_s * 1.6).min(LEAP_S) };
            // The last stretch is walked, so that nerves and veins end where they belong.
            let left_s = end.saturating_sub(self.body.ms + LAST_MS) / 1000;
            let whole = (leap_s as u64).min(left_s);
            if whole > 0 && self.body.vitals.heart_rate_bpm > 0.0 {
                self.leap(whole);
            }
        }
        self.body.recorder.on = tracing;
    }

    /// Runs the slow life for whole seconds on held means. Stops early when volume has moved by 20 ml.
    fn leap(&mut self, whole_s: u64) {
        let mut moved_ml = 0.0;
        for _ in 0..whole_s {
            let out = self.body.leap_second(&mut self.net, 0);
            moved_ml += ops::sqrt(out * out);
            if moved_ml > 20.0 || self.body.death.is_some() {
                break;
            }
        }
    }
}
