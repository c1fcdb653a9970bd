//! When the heart beats: rhythm, timing, and the activation that drives the chambers.

use crate::math::ops;
use serde::{Deserialize, Serialize};

/// What the monitor would call it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rhythm {
    /// Sinus rhythm, fast or slow.
    #[default]
    Sinus,
    /// Right ventricular pacing.
    Paced,
    /// Atria beat, ventricles do not (adenosine).
    AvBlock,
    /// Ventricular fibrillation.
    Fibrillation,
    /// Nothing.
    Asystole,
}

/// Timing of one heart. Times are whole milliseconds.
#[derive(Clone, Debug)]
pub struct Pacer {
    /// Rhythm now.
    pub rhythm: Rhythm,
    /// Rate that the pacing wire gives, if it runs.
    pub pacing_bpm: Option<f64>,
    /// Milliseconds since this beat began.
    pub beat_ms: u32,
    /// Length of this beat, ms.
    pub period_ms: u32,
    systole_s: f64,
    kick_s: f64,
    /// Length and systole of the beat before, s: a fast paced ventricle has not relaxed when the next beat comes.
    before: (f64, f64),
    block_ms: u32,
}

impl Default for Pacer {
    fn default() -> Self {
        let mut p = Self {
            rhythm: Rhythm::Sinus,
            pacing_bpm: None,
            beat_ms: 0,
            period_ms: 833,
            systole_s: 0.41,
            kick_s: 0.15,
            before: (1.0, 0.0),
            block_ms: 0,
        };
        p.begin(70.0);
        p
    }
}

impl Pacer {
    fn begin(&mut self, rate_bpm: f64) {
        self.before = (f64::from(self.beat_ms) * 1e-3, self.systole_s);
        self.beat_ms = 0;
        self.period_ms = (60_000.0 / rate_bpm.clamp(18.0, 230.0)) as u32;
        let t = f64::from(self.period_ms) * 1e-3;
        // Ursino 1998: Tsys = 0.5 - 0.075 / T.
        self.systole_s = (0.5 - 0.075 / t).clamp(0.12, 0.5);
        self.kick_s = (0.8 * (t - self.systole_s)).clamp(0.03, 0.15);
    }

    /// Advances some milliseconds; true when a beat just ended.
    pub fn tick(&mut self, ms: u32) -> bool {
        self.beat_ms += ms;
        self.beat_ms >= self.period_ms
    }

    /// Begins the next beat. `sinus_bpm` is what the node would fire at.
    pub fn next(&mut self, sinus_bpm: f64, av_block: f64) {
        match self.rhythm {
            Rhythm::Fibrillation | Rhythm::Asystole => self.begin(60.0),
            _ => {
                if let Some(bpm) = self.pacing_bpm {
                    self.rhythm = Rhythm::Paced;
                    self.begin(bpm);
                    // A ventricle paced from its apex contracts in turn, not together, and without the adrenergic drive of
                    // a sinus tachycardia: contraction and relaxation take 0.4 s at any rate. Assumed, so that pacing
                    // at 170 and 190 gives the published pressures.
                    self.systole_s = (self.systole_s + 0.05).max(PACED_SYSTOLE_S);
                } else if av_block > 0.5 && self.block_ms < 25_000 {
                    // No ventricular beat: look again in a tenth of a second; an escape comes after 25 s at the latest.
                    self.rhythm = Rhythm::AvBlock;
                    self.beat_ms = 0;
                    self.period_ms = 100;
                    self.systole_s = 0.0;
                    self.kick_s = 0.0;
                    self.block_ms += 100;
                } else {
                    self.rhythm = Rhythm::Sinus;
                    self.block_ms = 0;
                    self.begin(sinus_bpm);
                }
            }
        }
    }

    /// Activation of (ventricles, atria), `ahead_s` after this tick.
    pub fn activation(&self, ahead_s: f64) -> (f64, f64) {
        if matches!(self.rhythm, Rhythm::Fibrillation | Rhythm::Asystole) {
            return (0.0, 0.0);
        }
        let t = f64::from(self.beat_ms) * 1e-3 + ahead_s;
        let own = if t < self.systole_s { squared_sine(t / self.systole_s) } else { 0.0 };
        let t_before = t + self.before.0;
        let rest = if t_before < self.before.1 { squared_sine(t_before / self.before.1) } else { 0.0 };
        let ventricles = own.max(rest);
        // The kick ends 20 ms before the next beat; with the ventricle paced the atria beat on their own, out of step.
        let left = f64::from(self.period_ms) * 1e-3 - 0.02 - t;
        let kick = self.rhythm == Rhythm::Sinus && left > 0.0 && left < self.kick_s;
        (ventricles, if kick { squared_sine(left / self.kick_s) } else { 0.0 })
    }
    /// Whether the ventricles are in systole now.
    pub fn in_systole(&self) -> bool {
        f64::from(self.beat_ms) * 1e-3 < self.systole_s
    }
    /// Length of systole in this beat, s.
    pub fn systole_s(&self) -> f64 {
        self.systole_s
    }
}

/// Contraction and relaxation of a paced ventricle, s.
const PACED_SYSTOLE_S: f64 = 0.40;

fn squared_sine(turn: f64) -> f64 {
    let s = ops::sin(std::f64::consts::PI * turn);
    s * s
}
