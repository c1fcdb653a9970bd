//! The ward: written targets are kept, the usual care goes on, and time passes in long steps.

use super::World;
use crate::circulation::{Product, Vitals};
use crate::scenario::Order;

/// Water that a resting adult is given, mL per kg and hour: 25 to 30 mL/kg a day (NICE CG174, 2013), less the 10 that leave by skin and
/// lungs (textbook) and that the circulation does not count.
const MAINTENANCE_ML_KG_H: f64 = 0.7;
/// A fluid challenge, mL, and the minutes it runs (half of the resuscitation bolus of NICE CG174).
const CHALLENGE: (f64, f64) = (250.0, 15.0);
/// Red cells below this haemoglobin, g/L, when heart or vessels are ill (AABB guideline, Carson, JAMA 2023).
const HAEMOGLOBIN_G_L: f64 = 80.0;
/// A full vein: no more volume (common practice, no source).
const CVP_FULL_MMHG: f64 = 12.0;
/// Most volume beyond maintenance that nurses give in a day without asking, mL (common practice, no source).
const DAY_ML: f64 = 3000.0;
/// From here on a belly is tight (intra-abdominal hypertension by the WSACS consensus, Kirkpatrick, Intensive Care Med 2013), mmHg.
const TIGHT_MMHG: f64 = 12.0;
/// A round at the bedside, s.
const ROUND_S: f64 = 1800.0;

/// What the ward remembers.
#[derive(Clone, Debug, Default)]
pub struct Ward {
    since_s: f64,
    given_ml: f64,
    lowest_map_mmhg: f64,
}

impl World {
    /// Quiet seconds are leapt, hours on the ward pass in longer leaps, and grafts lie on coarser rows of cells.
    pub fn set_coarse(&mut self) {
        self.patient.set_coarse();
        self.seal.set_coarse();
        if !self.seal.pieces.is_empty() {
            self.lay_again();
        }
    }

    pub(super) fn hand_over(&mut self, order: &Order) {
        let Order::HandOver { map_low_mmhg, sbp_high_mmhg, .. } = order else { return };
        self.lay_on_ward(*map_low_mmhg, *sbp_high_mmhg);
    }

    /// The patient lies on the ward from now on, with these targets.
    pub(super) fn lay_on_ward(&mut self, map_low_mmhg: f64, sbp_high_mmhg: f64) {
        self.on_ward = true;
        self.pacing = None;
        self.breath_held = false;
        self.patient.set_pacing(None);
        self.patient.set_breath_hold(false);
        self.patient.set_warming(true);
        self.picture.screening = false;
        self.ward = Ward { since_s: ROUND_S, given_ml: 0.0, lowest_map_mmhg: map_low_mmhg };
        // A systolic floor follows from the mean that was asked for; the ward's ceiling wins where they cross.
        let low = (map_low_mmhg + 15.0).min(sbp_high_mmhg - 10.0);
        self.keep(Some((low, sbp_high_mmhg)), Some(map_low_mmhg));
    }

    /// The usual care, every half hour: water, and volume or red cells for a patient who is dry by any of four signs.
    pub(super) fn ward_care(&mut self, seconds: f64) {
        self.ward.since_s += seconds;
        self.ward.given_ml = (self.ward.given_ml - DAY_ML * seconds / 86_400.0).max(0.0);
        if !self.on_ward || self.ward.since_s < ROUND_S || !self.patient.alive() {
            return;
        }
        let passed_h = self.ward.since_s.min(2.0 * ROUND_S) / 3600.0;
        self.ward.since_s = 0.0;
        let mass_kg = self.case.case.patient.mass_kg;
        let water_ml = MAINTENANCE_ML_KG_H * mass_kg * passed_h;
        self.patient.transfuse_over(Product::Crystalloid, water_ml, 60.0 * passed_h);
        let v = *self.patient.vitals();
        if !self.dry(&v, mass_kg) || v.cvp_mmhg > CVP_FULL_MMHG || self.ward.given_ml > DAY_ML - CHALLENGE.0 {
            return;
        }
        let product = if self.patient.blood().haemoglobin_g_l() < HAEMOGLOBIN_G_L {
            Product::RedCells
        } else {
            Product::Crystalloid
        };
        self.ward.given_ml += CHALLENGE.0;
        self.patient.transfuse_over(product, CHALLENGE.0, CHALLENGE.1);
    }

    /// Pressure below the written mean, a fast heart, little urine, or lactate (common practice, no source). Under a tight belly little
    /// urine says nothing of dryness.
    fn dry(&self, v: &Vitals, mass_kg: f64) -> bool {
        let tight = self.patient.bladder_mmhg() >= TIGHT_MMHG;
        v.right_radial.mean_mmhg < self.ward.lowest_map_mmhg - 2.0
            || v.heart_rate_bpm > 100.0
            || (v.urine_ml_h < 0.5 * mass_kg && !tight)
            || self.patient.lab(crate::circulation::Test::Lactate) > 2.5
    }
}
