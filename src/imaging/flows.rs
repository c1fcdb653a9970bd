//! What the rest of the patient tells the picture: who flows where, and what is injected.

use super::scene::{ImagingError, in_range};
use crate::math::interp;

/// Blood flows during a run, means over a beat.
#[derive(Clone, Debug, PartialEq)]
pub struct Flows {
    /// Mean flow into each vessel at its root, ml/s, in the tree's order; the first is what the heart ejects into the
    /// aorta. Negative: the vessel runs backward into its parent (or into the space behind fabric that covers its root).
    /// What enters a vessel and leaves by no branch, leak or bleed leaves by its end.
    pub root_ml_s: Vec<f64>,
    /// The beat.
    pub beat: Beat,
    /// Flows past or through fabric into the space behind it.
    pub leaks: Vec<LeakFlow>,
    /// Flows through holes in the wall.
    pub bleeds: Vec<Bleed>,
    /// Which vessel's end feeds which other vessel's end when that runs backward.
    pub collaterals: Vec<Collateral>,
}

/// Flow through the aortic valve over one cycle, relative to its mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Beat {
    /// Length of a cycle, s.
    pub period_s: f64,
    /// (Fraction of the cycle, flow over mean flow), rising from 0 to 1; scaled here to a mean of one.
    pub shape: Vec<(f64, f64)>,
}

impl Beat {
    /// A half-sine ejection over the systole of a heart at `rate_per_min`, with a short closing backflow.
    ///
    /// Systole lasts 0.5 - 0.075 / T of a cycle's T seconds (Ursino, Am J Physiol 275:H1733, 1998), in seconds.
    pub fn at_rate(rate_per_min: f64) -> Self {
        let period_s = 60.0 / rate_per_min;
        let systole = ((0.5 - 0.075 / period_s) / period_s).clamp(0.2, 0.6);
        let mut shape: Vec<(f64, f64)> = (0..=16)
            .map(|k| {
                let u = f64::from(k) / 16.0;
                (u * systole, crate::math::ops::sin(std::f64::consts::PI * u).max(0.0))
            })
            .collect();
        shape.extend([(systole + 0.03, -0.12), (systole + 0.07, 0.0), (1.0, 0.0)]);
        let mut beat = Self { period_s, shape };
        beat.normalise();
        beat
    }

    /// Scales the shape to a mean of one (leaves a shape without net flow alone).
    pub fn normalise(&mut self) {
        let mean: f64 = self.shape.windows(2).map(|w| (w[1].0 - w[0].0) * (w[0].1 + w[1].1) / 2.0).sum();
        if mean > 1e-9 {
            self.shape.iter_mut().for_each(|p| p.1 /= mean);
        }
    }

    /// Flow at time `t_s` over mean flow.
    pub fn at(&self, t_s: f64) -> f64 {
        let turns = t_s / self.period_s;
        interp::linear(&self.shape, turns - turns.floor())
    }
}

/// Where a leak comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Entry {
    /// Past the edge of the fabric, from the stream beyond it.
    Edge,
    /// Through the fabric: a junction, a tear, its pores.
    Fabric,
}

/// One flow into the space behind fabric (a covered branch that runs backward into it is told by its root flow).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeakFlow {
    /// The lined vessel.
    pub vessel: usize,
    /// By which way.
    pub entry: Entry,
    /// Where on the vessel: for an edge leak the edge, mm.
    pub s_mm: f64,
    /// At which angle, rad.
    pub theta_rad: f64,
    /// Mean flow into the space, ml/s; negative: out of it.
    pub ml_s: f64,
    /// Volume that goes in with each systole and out again with each diastole, ml.
    pub swing_ml: f64,
}

/// A flow out of a hole in a vessel's wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bleed {
    /// The vessel.
    pub vessel: usize,
    /// Where, mm.
    pub s_mm: f64,
    /// At which angle, rad.
    pub theta_rad: f64,
    /// Flow, ml/s.
    pub ml_s: f64,
    /// Index of the pool that it enters, if it stays where contrast can show it.
    pub pool: Option<usize>,
}

/// An unseen channel from the end of one vessel to the end of another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Collateral {
    /// The vessel that it feeds, backward.
    pub feeds: usize,
    /// The vessel whose far blood it brings.
    pub from: usize,
    /// Blood on the way, ml: the delay is this over the flow.
    pub volume_ml: f64,
}

/// An injection of contrast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Injection {
    /// The vessel that the catheter's holes lie in.
    pub vessel: usize,
    /// Where, mm along it.
    pub s_mm: f64,
    /// Start, s after the run begins.
    pub start_s: f64,
    /// Plateau rate, ml/s.
    pub rate_ml_s: f64,
    /// Volume, ml.
    pub volume_ml: f64,
    /// Time to reach the rate, s.
    pub rise_s: f64,
    /// Iodine, mg/ml.
    pub iodine_mg_ml: f64,
    /// One hole at the end (a jet along the vessel) instead of side holes.
    pub end_hole: bool,
}

impl Injection {
    /// A usual one by pump through side holes in the ascending aorta (common practice, no source).
    pub const USUAL: Self = Self {
        vessel: 0,
        s_mm: 80.0,
        start_s: 0.5,
        rate_ml_s: 20.0,
        volume_ml: 30.0,
        rise_s: 0.3,
        iodine_mg_ml: 350.0,
        end_hole: false,
    };

    /// Checks every number against what a pump and a bottle can give.
    pub fn check(&self) -> Result<(), ImagingError> {
        in_range("injection rate (ml/s)", self.rate_ml_s, 0.1, 40.0)?;
        in_range("injection volume (ml)", self.volume_ml, 0.1, 150.0)?;
        in_range("injection rise time (s)", self.rise_s, 0.0, 2.0)?;
        in_range("injection start (s)", self.start_s, 0.0, 30.0)?;
        in_range("iodine (mg/ml)", self.iodine_mg_ml, 0.0, 400.0)?;
        Ok(())
    }
    /// How long it lasts, s: a ramp, a plateau, a stop.
    pub fn duration_s(&self) -> f64 {
        let rise = self.rise();
        rise + (self.volume_ml - 0.5 * rise * self.rate_ml_s) / self.rate_ml_s
    }
    /// The rise, shortened when the volume is spent before the rate is reached.
    fn rise(&self) -> f64 {
        self.rise_s.min(2.0 * self.volume_ml / self.rate_ml_s)
    }
    /// Volume given from the start of the run until `t_s`, ml.
    pub fn given_ml(&self, t_s: f64) -> f64 {
        let (t, rise) = (t_s - self.start_s, self.rise());
        if t <= 0.0 {
            0.0
        } else if t < rise {
            0.5 * self.rate_ml_s * t * t / rise
        } else {
            (self.rate_ml_s * (t - 0.5 * rise)).min(self.volume_ml)
        }
    }
    /// The highest rate that a catheter passes at a pressure limit, ml/s: laminar flow of contrast at body temperature
    /// (10.4 mPa s, product data of 350 mg/ml non-ionic media; from memory), so the true limit is lower.
    pub fn catheter_limit_ml_s(bore_mm: f64, length_mm: f64, limit_psi: f64) -> f64 {
        let pascal = limit_psi * 6894.757;
        let r = bore_mm * 0.5e-3;
        std::f64::consts::PI * r * r * r * r * pascal / (8.0 * 0.0104 * length_mm * 1e-3) * 1e6
    }
}
