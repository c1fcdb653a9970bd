//! Diameter follows pressure: a shocked aorta is smaller than the same aorta after resuscitation.

use super::spec::Sex;
use super::{Lumen, Tree, Vessel};
use crate::math::ops;

/// Section area against pressure: A = Am (1/2 + atan((p - p0) / p1) / pi), Langewouters et al., J Biomech
/// 17:425, 1984.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WallLaw {
    /// Pressure at which it gives most, mmHg.
    pub p0_mmhg: f64,
    /// Half-width of the pressures over which it gives, mmHg.
    pub p1_mmhg: f64,
}

impl Default for WallLaw {
    fn default() -> Self {
        Self::of_age(50.0, Sex::Male)
    }
}

impl WallLaw {
    /// The thoracic aorta of a given age: p0 = 76 - 0.89 age in men, 72 - 0.89 age in women; p1 = 57 - 0.44
    /// age (regressions as used by Wesseling et al., J Appl Physiol 74:2566, 1993; coefficients from memory).
    ///
    /// A man of 35 whose mean pressure falls from 90 to 60 mmHg loses a tenth of the diameter, in line with
    /// the growth of 12.6 % after resuscitation in patients with a pulse of 130 or more (Jonker et al., J
    /// Vasc Surg 2010).
    pub fn of_age(age_years: f64, sex: Sex) -> Self {
        let p0 = if sex == Sex::Male { 76.0 } else { 72.0 };
        Self { p0_mmhg: p0 - 0.89 * age_years, p1_mmhg: (57.0 - 0.44 * age_years).max(8.0) }
    }

    /// The law whose diameter grows by so many percent from 60 to 90 mmHg, at the usual p0 of 30 mmHg.
    pub fn giving_percent(percent: f64) -> Self {
        let law = |p1: f64| Self { p0_mmhg: 30.0, p1_mmhg: p1 };
        let growth = |p1: f64| 100.0 * (law(p1).diameter(90.0) / law(p1).diameter(60.0) - 1.0);
        // Growth rises with p1 up to a maximum near 60 mmHg and 15 %.
        if percent <= growth(60.0) {
            law(super::course::bisect(0.5, 60.0, |p1| growth(p1) - percent))
        } else {
            // A very soft wall: move the point of most give into the range instead.
            let soft = |p0: f64| Self { p0_mmhg: p0, p1_mmhg: 30.0 };
            let growth = |p0: f64| 100.0 * (soft(p0).diameter(90.0) / soft(p0).diameter(60.0) - 1.0);
            soft(super::course::bisect(30.0, 90.0, |p0| growth(p0) - percent))
        }
    }

    /// Diameter at a mean pressure relative to that at infinite pressure.
    pub fn diameter(&self, map_mmhg: f64) -> f64 {
        (0.5 + ops::atan((map_mmhg - self.p0_mmhg) / self.p1_mmhg) / std::f64::consts::PI).sqrt()
    }

    /// Diameter at `to_mmhg` over that at `from_mmhg`.
    pub fn ratio(&self, from_mmhg: f64, to_mmhg: f64) -> f64 {
        self.diameter(to_mmhg) / self.diameter(from_mmhg)
    }
}

impl Tree {
    /// The same vessels at another mean pressure, mmHg (held to 20 to 200). Calcified wall gives in
    /// proportion less.
    pub fn at_pressure(&self, map_mmhg: f64) -> Self {
        let map_mmhg = map_mmhg.clamp(20.0, 200.0);
        let law = self.aorta().wall.law;
        let ratio = law.ratio(self.reference_map_mmhg, map_mmhg);
        let vessels = self.vessels.iter().map(|v| v.grown(ratio)).collect();
        let mut tree = Self { vessels, reference_map_mmhg: map_mmhg };
        for v in &mut tree.vessels {
            if let Some(root) = &mut v.root {
                root.radius_mm *= ratio;
            }
            for root in &mut v.wall.segmentals {
                root.radius_mm *= ratio;
            }
        }
        tree
    }
}

impl Vessel {
    fn grown(&self, ratio: f64) -> Self {
        let mut grown = self.clone();
        if self.wall.calcium.is_empty() {
            grown.lumen = self.lumen.scaled(ratio);
            return grown;
        }
        let n = self.lumen.n_theta();
        let give = |i: usize, k: usize| 1.0 - self.wall.calcium.get(i * n + k).copied().unwrap_or(0.0);
        let mut lumen: Lumen = self.lumen.clone();
        for i in 0..lumen.stations() {
            for (k, r) in lumen.ring_mut(i).iter_mut().enumerate() {
                *r *= 1.0 + (ratio - 1.0) * give(i, k);
            }
        }
        grown.lumen = lumen;
        grown
    }
}
