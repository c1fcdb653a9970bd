//! Organs keep score: oxygen delivered against oxygen needed, debt, and what no longer comes back.

use super::blood::Blood;
use super::territory::{BEDS, Bed};
use crate::math::ops;
use serde::{Deserialize, Serialize};

/// An organ or a territory.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the organ")]
pub enum Organ {
    Heart,
    RightBrain,
    LeftBrain,
    PosteriorBrain,
    Cord,
    Liver,
    Gut,
    Colon,
    RightKidney,
    LeftKidney,
    RightArm,
    LeftArm,
    RightLeg,
    LeftLeg,
    Pelvis,
}

/// Number of organs.
pub const ORGANS: usize = 15;

struct Need {
    /// Beds that feed it.
    beds: &'static [Bed],
    /// Part of the resting delivery below which it goes into debt at rest and 37 C.
    critical: f64,
    /// Seconds without any flow until the first of it dies.
    tolerates_s: f64,
    /// Lactate that it makes in full debt, umol/s in an adult. Assumed by mass.
    lactate_umol_s: f64,
}

impl Organ {
    /// Every organ.
    pub const ALL: [Self; ORGANS] = [
        Self::Heart,
        Self::RightBrain,
        Self::LeftBrain,
        Self::PosteriorBrain,
        Self::Cord,
        Self::Liver,
        Self::Gut,
        Self::Colon,
        Self::RightKidney,
        Self::LeftKidney,
        Self::RightArm,
        Self::LeftArm,
        Self::RightLeg,
        Self::LeftLeg,
        Self::Pelvis,
    ];
    /// As said aloud.
    pub fn label(self) -> &'static str {
        match self {
            Self::Heart => "heart",
            Self::RightBrain => "right hemisphere",
            Self::LeftBrain => "left hemisphere",
            Self::PosteriorBrain => "brain stem and cerebellum",
            Self::Cord => "spinal cord",
            Self::Liver => "liver",
            Self::Gut => "small bowel",
            Self::Colon => "left colon",
            Self::RightKidney => "right kidney",
            Self::LeftKidney => "left kidney",
            Self::RightArm => "right arm",
            Self::LeftArm => "left arm",
            Self::RightLeg => "right leg",
            Self::LeftLeg => "left leg",
            Self::Pelvis => "pelvis and buttocks",
        }
    }
    /// Critical flow of brain: ischaemia below 18-20 of a normal 50 ml/100 g/min (clinical table). Tolerance of warm
    /// ischaemia: brain 4-6 min, heart 20 min, cord 20-30 min, kidney 45-60 min, liver 60-90 min, bowel 3-6 h, limb 6 h
    /// (surgical textbooks; common practice). Critical fractions of the others: extraction at rest (bowel, colon, liver and
    /// resting limb about 0.35) over that at the critical delivery, about 0.65 in whole dogs and their bowel (Nelson, J Appl
    /// Physiol 1988, from memory); the cord's so that a perfusion pressure below about 45 mmHg harms it (assumed).
    fn need(self) -> Need {
        let n = |beds, critical, tolerates_s, lactate_umol_s| Need {
            beds,
            critical,
            tolerates_s,
            lactate_umol_s,
        };
        match self {
            Self::Heart => n(&[Bed::Heart], 0.55, 1200.0, 10.0),
            Self::RightBrain => n(&[Bed::RightBrain], 0.40, 300.0, 8.0),
            Self::LeftBrain => n(&[Bed::LeftBrain], 0.40, 300.0, 8.0),
            Self::PosteriorBrain => n(&[Bed::PosteriorBrain], 0.40, 360.0, 4.0),
            Self::Cord => n(&[Bed::Cord], 0.6, 1500.0, 0.5),
            Self::Liver => n(&[Bed::Liver, Bed::Gut], 0.55, 4500.0, 30.0),
            Self::Gut => n(&[Bed::Gut], 0.6, 10800.0, 40.0),
            Self::Colon => n(&[Bed::Colon], 0.5, 10800.0, 10.0),
            Self::RightKidney => n(&[Bed::RightKidney], 0.35, 2700.0, 5.0),
            Self::LeftKidney => n(&[Bed::LeftKidney], 0.35, 2700.0, 5.0),
            Self::RightArm => n(&[Bed::RightArm], 0.55, 21600.0, 15.0),
            Self::LeftArm => n(&[Bed::LeftArm], 0.55, 21600.0, 15.0),
            Self::RightLeg => n(&[Bed::RightLeg], 0.55, 21600.0, 45.0),
            Self::LeftLeg => n(&[Bed::LeftLeg], 0.55, 21600.0, 45.0),
            Self::Pelvis => n(&[Bed::RightPelvis, Bed::LeftPelvis], 0.55, 21600.0, 25.0),
        }
    }
}

/// One organ's account.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Account {
    /// Oxygen delivered, as a part of its own at rest.
    pub delivery: f64,
    /// Debt: 1 is where cells begin to die.
    pub debt: f64,
    /// Part that is dead.
    pub dead: f64,
    /// Part that is stunned: alive, not working.
    pub stunned: f64,
}

/// All organs, and the markers that a laboratory would find.
#[derive(Clone, Debug)]
pub struct Organs {
    /// By organ, in the order of `Organ::ALL`.
    pub accounts: [Account; ORGANS],
    /// Mean pressure in the cord's arteries less the higher of cerebrospinal and venous pressure, mmHg.
    pub cord_perfusion_mmhg: f64,
    /// Cerebrospinal fluid pressure, mmHg.
    pub csf_mmhg: f64,
    /// Troponin relative to the 99th centile.
    pub troponin: f64,
    troponin_muscle: f64,
    /// Creatinine, umol/l.
    pub creatinine_umol_l: f64,
    /// Glomerular filtration relative to the patient's own at rest.
    pub filtration: f64,
    /// Harm to the tubules by contrast, 0 to 1.
    pub contrast_harm: f64,
    delivery_rest: [f64; ORGANS],
    creatinine_made: f64,
    creatinine_litres: f64,
    gfr_rest_l_s: f64,
}

impl Organs {
    /// An unharmed patient's.
    pub fn new(
        bed_q_rest: &[f64; BEDS],
        content_rest: f64,
        creatinine: f64,
        egfr_ml_min: f64,
        mass_kg: f64,
        csf: f64,
    ) -> Self {
        let gfr_rest_l_s = egfr_ml_min / 60e3;
        Self {
            accounts: [Account { delivery: 1.0, ..Account::default() }; ORGANS],
            cord_perfusion_mmhg: 80.0,
            csf_mmhg: csf,
            troponin: 0.3,
            troponin_muscle: 0.0,
            creatinine_umol_l: creatinine,
            filtration: 1.0,
            contrast_harm: 0.0,
            delivery_rest: Organ::ALL.map(|o| flow(o, bed_q_rest) * content_rest),
            creatinine_made: creatinine * gfr_rest_l_s,
            creatinine_litres: 0.55 * mass_kg,
            gfr_rest_l_s,
        }
    }
    /// One organ's account.
    pub fn of(&self, organ: Organ) -> &Account {
        &self.accounts[organ as usize]
    }
    /// The worst-fed part of the brain, oxygen delivery relative to rest.
    pub fn brain_delivery(&self) -> f64 {
        [Organ::RightBrain, Organ::LeftBrain, Organ::PosteriorBrain]
            .iter()
            .map(|&o| self.of(o).delivery)
            .fold(0.0, |a, b| a + b / 3.0)
    }

    /// A stretch of `dt_s` at these mean bed flows (ml/s), oxygen content (ml O2/ml) and need relative to rest.
    /// `heart_work` scales the heart's own need. Leaves lactate and potassium in the blood.
    pub fn step(
        &mut self,
        bed_q: &[f64; BEDS],
        content: f64,
        heart_work: f64,
        calm: f64,
        blood: &mut Blood,
        dt_s: f64,
    ) {
        // Metabolism falls by about 6 % a degree (Q10 of 2).
        let heat = ops::exp(0.07 * (blood.temperature_c - 37.0)).min(1.3);
        let (mut made, mut liver) = (0.0, 1.0);
        for (i, organ) in Organ::ALL.into_iter().enumerate() {
            let need = organ.need();
            let a = &mut self.accounts[i];
            a.delivery = (flow(organ, bed_q).max(0.0) * content / self.delivery_rest[i].max(1e-9)).min(20.0);
            let work = match organ {
                Organ::Heart => heart_work,
                Organ::RightBrain | Organ::LeftBrain | Organ::PosteriorBrain => calm,
                _ => 1.0,
            };
            let critical = need.critical * work * heat;
            let short = (1.0 - a.delivery / critical.max(1e-6)).clamp(0.0, 1.0);
            // Debt grows straight with time at constant flow; it is paid back twice as fast when flow is full.
            a.debt += short * heat * dt_s / need.tolerates_s;
            if short == 0.0 {
                let paid = 2.0 * (a.delivery / critical.max(1e-6) - 1.0).min(1.0) * dt_s / need.tolerates_s;
                a.debt = (a.debt - paid).max(0.0);
            }
            a.debt = a.debt.min(4.0);
            let dying = (a.debt - 1.0).max(0.0) * short * dt_s / need.tolerates_s;
            a.dead += (1.0 - a.dead) * (1.0 - ops::exp(-2.0 * dying));
            a.stunned = (a.debt * 0.8).min(1.0 - a.dead);
            made += short * need.lactate_umol_s * (1.0 - a.dead);
            if organ == Organ::Liver {
                liver = (1.0 - short) * (1.0 - a.dead);
            }
            if organ == Organ::Heart {
                // Leak of the stunned and flood of the dead; out of the muscle over hours, out of the blood over a day.
                self.troponin_muscle += (short * 0.02 + 40.0 * dying) * dt_s.min(60.0) * 0.1;
            }
        }
        self.markers(blood, made, liver, dt_s);
    }

    fn markers(&mut self, blood: &mut Blood, made_umol_s: f64, liver: f64, dt_s: f64) {
        // Rest: 1400 mmol a day in an adult, cleared mostly by liver; half-life about 20 min when healthy.
        let rest_mmol_s = 1400.0 / 86400.0 * blood.litres_of_water() / 30.0;
        let clear = (rest_mmol_s / blood.litres_of_water()) * (0.25 + 0.75 * liver);
        let made = rest_mmol_s + made_umol_s * 1e-3;
        let half = 1.0 + blood.lactate_mmol_l / 12.0;
        let rate = clear * (1.0 + 1.0 / 12.0) / half;
        let target = made / blood.litres_of_water() / rate.max(1e-9);
        let f = 1.0 - ops::exp(-rate * dt_s);
        blood.lactate_mmol_l = (blood.lactate_mmol_l + (target - blood.lactate_mmol_l) * f).clamp(0.2, 35.0);
        let out = self.troponin_muscle * (1.0 - ops::exp(-dt_s / 14400.0));
        self.troponin_muscle -= out;
        self.troponin += out * 50.0 - (self.troponin - 0.3) * (1.0 - ops::exp(-dt_s / 86400.0));
        let kidney = |o: Organ| {
            let a = self.of(o);
            (1.0 - a.dead) * (1.0 - 0.9 * a.stunned)
        };
        let nephrons =
            0.5 * (kidney(Organ::RightKidney) + kidney(Organ::LeftKidney)) * (1.0 - self.contrast_harm);
        let fed = 0.5 * (self.of(Organ::RightKidney).delivery + self.of(Organ::LeftKidney).delivery);
        self.filtration = (nephrons * (1.3 * fed - 0.3).clamp(0.0, 1.1)).max(0.0);
        let gfr = self.gfr_rest_l_s * self.filtration;
        let (v, made) = (self.creatinine_litres, self.creatinine_made);
        let rate = gfr / v;
        let f = 1.0 - ops::exp(-rate * dt_s);
        if rate > 1e-12 {
            self.creatinine_umol_l += (made / gfr - self.creatinine_umol_l) * f;
        } else {
            self.creatinine_umol_l += made * dt_s / v;
        }
        self.contrast_harm -= self.contrast_harm * dt_s / 432_000.0;
    }
}

fn flow(organ: Organ, bed_q: &[f64; BEDS]) -> f64 {
    organ.need().beds.iter().map(|b| bed_q[*b as usize]).sum()
}

/// Index check: beds are stored in the order of their names.
#[cfg(test)]
mod tests {
    use super::*;
    use crate::circulation::territory::BED_KINDS;
    #[test]
    fn beds_are_in_order() {
        for (i, k) in BED_KINDS.iter().enumerate() {
            assert_eq!(k.bed as usize, i);
        }
        for (i, o) in Organ::ALL.iter().enumerate() {
            assert_eq!(*o as usize, i);
        }
    }
}
