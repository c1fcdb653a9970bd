//! What a monitor draws: electrocardiogram, arterial, venous, pulse and carbon dioxide curves at 250 Hz.

use super::breathing::{Airway, Breathing};
use super::heart::{Pacer, Rhythm};
use crate::math::ops;
use std::collections::VecDeque;

/// A sample every this many milliseconds.
pub const SAMPLE_MS: u64 = 4;
/// Samples kept when nobody drains them: one minute.
const KEPT: usize = 15_000;

/// One moment of the monitor.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TraceSample {
    /// Milliseconds since the start.
    pub t_ms: u64,
    /// Lead II, mV.
    pub ecg_mv: f64,
    /// Right radial line, mmHg.
    pub art_mmhg: f64,
    /// Left radial line, mmHg.
    pub left_art_mmhg: f64,
    /// Right femoral line, mmHg.
    pub femoral_mmhg: f64,
    /// Central venous line, mmHg.
    pub cvp_mmhg: f64,
    /// Plethysmogram at the right hand, arbitrary (1 = normal pulse).
    pub pleth: f64,
    /// Carbon dioxide at the mouth, mmHg.
    pub co2_mmhg: f64,
}

/// The recorder.
#[derive(Clone, Debug)]
pub struct Recorder {
    /// Whether it records.
    pub on: bool,
    samples: VecDeque<TraceSample>,
    pleth_slow: f64,
    pleth: f64,
    co2: f64,
    noise: u64,
}

/// What the recorder needs besides pressures.
pub struct Scene<'a> {
    /// Timing.
    pub pacer: &'a Pacer,
    /// Breath.
    pub breathing: &'a Breathing,
    /// Depression of the ST segment, mV.
    pub st_mv: f64,
    /// Potassium, mmol/l.
    pub potassium: f64,
    /// How warm and filled the hand is, 0 to 1.
    pub hand: f64,
}

impl Default for Recorder {
    fn default() -> Self {
        Self {
            on: true,
            samples: VecDeque::with_capacity(KEPT),
            pleth_slow: 90.0,
            pleth: 0.0,
            co2: 0.0,
            noise: 0x9e37_79b9_7f4a_7c15,
        }
    }
}

impl Recorder {
    /// All samples since the last call.
    pub fn drain(&mut self) -> Vec<TraceSample> {
        self.samples.drain(..).collect()
    }

    /// Adds the sample of this moment: right radial, left radial, femoral and central venous pressure.
    pub fn sample(&mut self, t_ms: u64, p: [f64; 4], s: &Scene<'_>) {
        if self.samples.len() == KEPT {
            self.samples.pop_front();
        }
        self.pleth_slow += (p[0] - self.pleth_slow) * 0.004;
        let pulse = (p[0] - self.pleth_slow) / 25.0 * s.hand;
        self.pleth += (pulse - self.pleth) * 0.12;
        self.co2 += (self.exhaled(s) - self.co2) * 0.12;
        let wobble = self.noise();
        self.samples.push_back(TraceSample {
            t_ms,
            ecg_mv: ecg(s, t_ms) + 0.012 * wobble,
            art_mmhg: p[0],
            left_art_mmhg: p[1],
            femoral_mmhg: p[2],
            cvp_mmhg: p[3],
            pleth: self.pleth,
            co2_mmhg: self.co2,
        });
    }

    fn exhaled(&self, s: &Scene<'_>) -> f64 {
        let b = s.breathing;
        if b.held || b.rate_per_min < 1.0 {
            return if b.airway == Airway::Ventilated && b.held { b.etco2_mmhg } else { 0.0 };
        }
        // Out from 45 % of the breath to its end: an upstroke and a slow rise to the end-tidal value.
        if b.phase < 0.45 { 0.0 } else { b.etco2_mmhg * (0.9 + 0.1 * (b.phase - 0.45) / 0.55) }
    }

    /// A xorshift for the amplifier's hiss: decides nothing.
    fn noise(&mut self) -> f64 {
        self.noise ^= self.noise << 13;
        self.noise ^= self.noise >> 7;
        self.noise ^= self.noise << 17;
        (self.noise >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

fn ecg(s: &Scene<'_>, t_ms: u64) -> f64 {
    let t = t_ms as f64 * 1e-3;
    let beat = f64::from(s.pacer.beat_ms) * 1e-3;
    let period = f64::from(s.pacer.period_ms) * 1e-3;
    match s.pacer.rhythm {
        Rhythm::Asystole => 0.02 * ops::sin(1.9 * t),
        Rhythm::Fibrillation => {
            0.28 * ops::sin(31.0 * t + 1.3 * ops::sin(3.1 * t))
                + 0.17 * ops::sin(43.0 * t + 2.0 * ops::sin(1.7 * t))
        }
        // P waves march on alone.
        Rhythm::AvBlock => 0.12 * bump(t - (t / 0.7).floor() * 0.7 - 0.35, 0.025),
        Rhythm::Paced => {
            let spike = if s.pacer.beat_ms < 4 { 1.2 } else { 0.0 };
            spike + 1.3 * bump(beat - 0.07, 0.032)
                - 0.9 * bump(beat - 0.15, 0.03)
                - 0.45 * bump(beat - 0.62 * s.pacer.systole_s() - 0.1, 0.05)
        }
        Rhythm::Sinus => {
            // High potassium flattens P, widens QRS and tents T.
            let k = ((s.potassium - 5.5) / 3.0).clamp(0.0, 1.0);
            let w = 1.0 + 1.5 * k;
            let pr = 0.16_f64.min(0.3 * period);
            let p = 0.12 * (1.0 - k) * bump(beat - (period - pr + 0.04), 0.022);
            let qrs = -0.10 * bump(beat - 0.012, 0.006 * w) + 1.15 * bump(beat - 0.035, 0.010 * w)
                - 0.22 * bump(beat - 0.060, 0.009 * w);
            let t_at = 0.72 * s.pacer.systole_s() + 0.03;
            let st = s.st_mv * (bump(beat - 0.6 * t_at, 0.06)).min(1.0);
            p + qrs + st + (0.28 + 0.7 * k) * bump(beat - t_at, 0.042 * (1.0 - 0.4 * k))
        }
    }
}

/// A Gaussian of unit height.
fn bump(x: f64, width: f64) -> f64 {
    let z = x / width;
    if z.abs() > 5.0 { 0.0 } else { ops::exp(-0.5 * z * z) }
}
