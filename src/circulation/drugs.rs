//! Drugs: first-order kinetics with an effect site each, and what each does to the circulation.

use crate::math::ops;
use serde::{Deserialize, Serialize};

macro_rules! drugs {
    ($($(#[$doc:meta])* $name:ident, $label:literal, $unit:literal, $rate:literal;)*) => {
        /// A drug that can be given or infused.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        #[expect(missing_docs, reason = "each variant is the generic name")]
        pub enum Drug { $($(#[$doc])* $name,)* }
        impl Drug {
            /// Every drug.
            pub const ALL: [Self; [$(Self::$name),*].len()] = [$(Self::$name),*];
            /// As said aloud.
            pub fn label(self) -> &'static str { match self { $(Self::$name => $label,)* } }
            /// Unit of a bolus.
            pub fn unit(self) -> &'static str { match self { $(Self::$name => $unit,)* } }
            /// Unit of an infusion.
            pub fn rate_unit(self) -> &'static str { match self { $(Self::$name => $rate,)* } }
        }
    };
}

drugs! {
    Noradrenaline, "noradrenaline", "ug", "ug/kg/min";
    Adrenaline, "adrenaline", "ug", "ug/kg/min";
    Phenylephrine, "phenylephrine", "ug", "ug/min";
    Ephedrine, "ephedrine", "mg", "mg/h";
    Vasopressin, "vasopressin", "U", "U/min";
    Dobutamine, "dobutamine", "ug", "ug/kg/min";
    Atropine, "atropine", "mg", "mg/h";
    Esmolol, "esmolol", "mg", "ug/kg/min";
    Labetalol, "labetalol", "mg", "mg/h";
    Nicardipine, "nicardipine", "mg", "mg/h";
    Clevidipine, "clevidipine", "mg", "mg/h";
    Nitroprusside, "nitroprusside", "ug", "ug/kg/min";
    GlycerylTrinitrate, "glyceryl trinitrate", "ug", "ug/min";
    Adenosine, "adenosine", "mg", "mg/min";
    Heparin, "heparin", "IU", "IU/h";
    LowMolecularHeparin, "low molecular heparin", "IU", "IU/h";
    Protamine, "protamine", "mg", "mg/min";
    TranexamicAcid, "tranexamic acid", "mg", "mg/h";
    CalciumChloride, "calcium chloride", "mmol", "mmol/h";
    Bicarbonate, "sodium bicarbonate", "mmol", "mmol/h";
    Propofol, "propofol", "mg", "mg/h";
    Ketamine, "ketamine", "mg", "mg/h";
    Midazolam, "midazolam", "mg", "mg/h";
    Fentanyl, "fentanyl", "ug", "ug/h";
    Furosemide, "furosemide", "mg", "mg/h";
    Contrast, "iodinated contrast", "ml", "ml/min";
}

/// What a concentration at the effect site does, at full effect. Factors are natural logarithms.
#[derive(Clone, Copy, Debug, Default)]
struct Action {
    /// Log of the factor on arteriolar resistance.
    resistance: f64,
    /// Venous unstressed volume, as a part of the whole (negative squeezes).
    venous: f64,
    /// Log of the factor on the heart's own rate.
    rate: f64,
    /// Log of the factor on contractility.
    contractility: f64,
    /// Part of the beta receptors that are shut.
    beta_block: f64,
    /// Part of the vagus that is shut.
    vagal_block: f64,
    /// Part of atrioventricular conduction that is shut.
    av_block: f64,
    /// Depth of anaesthesia.
    sedation: f64,
    /// Relief of pain.
    analgesia: f64,
    /// Depression of the reflexes.
    reflex: f64,
    /// Depression of breathing.
    breathing: f64,
}

struct Kinetics {
    /// Elimination (or effective) half-life, s.
    half_life_s: f64,
    /// Half-life of the effect site, s.
    onset_s: f64,
    /// Amount per kilogram in the body that gives half the full effect.
    ec50_per_kg: f64,
    /// Second, deep half-life sink for drugs that leave the blood by distribution: unused when equal to `half_life_s`.
    action: Action,
}

const NONE: Action = Action {
    resistance: 0.0,
    venous: 0.0,
    rate: 0.0,
    contractility: 0.0,
    beta_block: 0.0,
    vagal_block: 0.0,
    av_block: 0.0,
    sedation: 0.0,
    analgesia: 0.0,
    reflex: 0.0,
    breathing: 0.0,
};

/// Half-lives and onsets: noradrenaline 2.4 min, phenylephrine effect 5-15 min, esmolol 9 min, nitroprusside 2 min,
/// clevidipine 1 min with an effect of 5-15 min, adenosine under 10 s, heparin 60-90 min (product literature and
/// handbook tables); the half-effect doses and full effects are calibrated in the tests to the published change at the
/// published dose where there is one, and are otherwise assumed.
fn kinetics(drug: Drug) -> Kinetics {
    let k =
        |half_life_s, onset_s, ec50_per_kg, action| Kinetics { half_life_s, onset_s, ec50_per_kg, action };
    match drug {
        // 0.1 ug/kg/min holds 0.1 * 2.4 / ln 2 = 0.35 ug/kg.
        Drug::Noradrenaline => {
            k(145.0, 15.0, 0.6, Action { resistance: 1.3, venous: -0.16, contractility: 0.15, ..NONE })
        }
        Drug::Adrenaline => k(
            150.0,
            15.0,
            0.5,
            Action { resistance: 0.9, venous: -0.15, rate: 0.55, contractility: 0.8, ..NONE },
        ),
        Drug::Phenylephrine => k(330.0, 20.0, 3.0, Action { resistance: 0.9, venous: -0.12, ..NONE }),
        Drug::Ephedrine => k(
            3600.0,
            60.0,
            0.25,
            Action { resistance: 0.25, venous: -0.08, rate: 0.35, contractility: 0.35, ..NONE },
        ),
        // 0.03 U/min with a 15 min half-life holds 0.65 U in the body, about 0.009 U/kg.
        Drug::Vasopressin => k(900.0, 60.0, 0.012, Action { resistance: 0.8, venous: -0.06, ..NONE }),
        Drug::Dobutamine => {
            k(140.0, 30.0, 20.0, Action { resistance: -0.3, rate: 0.35, contractility: 0.9, ..NONE })
        }
        Drug::Atropine => k(9000.0, 45.0, 0.008, Action { vagal_block: 1.0, ..NONE }),
        // 100 ug/kg/min holds 0.1 * 9 / ln 2 = 1.3 mg/kg.
        Drug::Esmolol => k(540.0, 60.0, 0.75, Action { beta_block: 0.97, contractility: -0.15, ..NONE }),
        Drug::Labetalol => k(
            19800.0,
            150.0,
            0.6,
            Action { beta_block: 0.75, resistance: -0.35, contractility: -0.08, ..NONE },
        ),
        Drug::Nicardipine => k(2400.0, 180.0, 0.09, Action { resistance: -0.95, ..NONE }),
        Drug::Clevidipine => k(360.0, 60.0, 0.02, Action { resistance: -0.9, ..NONE }),
        Drug::Nitroprusside => k(120.0, 20.0, 5.0, Action { resistance: -1.1, venous: 0.14, ..NONE }),
        Drug::GlycerylTrinitrate => k(180.0, 30.0, 5.0, Action { resistance: -0.35, venous: 0.14, ..NONE }),
        Drug::Adenosine => k(8.0, 5.0, 0.08, Action { av_block: 1.0, resistance: -0.8, ..NONE }),
        Drug::Heparin => k(4800.0, 20.0, 100.0, NONE),
        // By its activity against factor Xa: half gone in four to five hours, highest three to four after it went under the skin (product
        // literature, from memory).
        Drug::LowMolecularHeparin => k(16_200.0, 3600.0, 100.0, NONE),
        Drug::Protamine => k(420.0, 30.0, 1.0, Action { resistance: -0.1, ..NONE }),
        Drug::TranexamicAcid => k(7200.0, 300.0, 6.0, NONE),
        Drug::CalciumChloride | Drug::Bicarbonate => k(60.0, 10.0, 1.0, NONE),
        // Induction 2 mg/kg; effect-site half-life about 1.7 min, redistribution ends it in minutes.
        Drug::Propofol => k(
            420.0,
            100.0,
            1.2,
            Action {
                resistance: -0.28,
                venous: 0.04,
                contractility: -0.12,
                sedation: 1.4,
                reflex: 0.85,
                breathing: 1.2,
                ..NONE
            },
        ),
        Drug::Ketamine => k(
            900.0,
            60.0,
            1.0,
            Action {
                resistance: 0.08,
                rate: 0.15,
                contractility: 0.05,
                sedation: 1.3,
                analgesia: 1.0,
                breathing: 0.1,
                ..NONE
            },
        ),
        Drug::Midazolam => k(
            7200.0,
            180.0,
            0.06,
            Action { resistance: -0.12, venous: 0.03, sedation: 0.8, reflex: 0.3, breathing: 0.5, ..NONE },
        ),
        Drug::Fentanyl => k(
            2400.0,
            200.0,
            2.5,
            Action { analgesia: 1.2, sedation: 0.3, reflex: 0.2, breathing: 0.9, rate: -0.1, ..NONE },
        ),
        Drug::Furosemide => k(5400.0, 300.0, 0.4, Action { venous: 0.02, ..NONE }),
        Drug::Contrast => k(5400.0, 10.0, 1.0, NONE),
    }
}

/// The sum of all drugs' actions now.
#[derive(Clone, Copy, Debug, Default)]
pub struct Effects {
    /// Log of the factor on arteriolar resistance.
    pub resistance: f64,
    /// Change of venous unstressed volume, as a part of the whole.
    pub venous: f64,
    /// Log of the factor on the heart's own rate.
    pub rate: f64,
    /// Log of the factor on contractility.
    pub contractility: f64,
    /// Part of the beta receptors that are shut, 0 to 1.
    pub beta_block: f64,
    /// Part of the vagus that is shut, 0 to 1.
    pub vagal_block: f64,
    /// Part of atrioventricular conduction that is shut, 0 to 1.
    pub av_block: f64,
    /// Depth of anaesthesia by injected drugs (1 = surgical).
    pub sedation: f64,
    /// Relief of pain, 0 to 1.
    pub analgesia: f64,
    /// Depression of the reflexes, 0 to 1.
    pub reflex: f64,
    /// Depression of breathing (1 = apnoea).
    pub breathing: f64,
}

/// Amounts in one body, in each drug's unit.
#[derive(Clone, Debug)]
pub struct Pharmacy {
    mass_kg: f64,
    body: [f64; Drug::ALL.len()],
    site: [f64; Drug::ALL.len()],
    rate: [f64; Drug::ALL.len()],
    given: [f64; Drug::ALL.len()],
    keep: [(f64, f64); Drug::ALL.len()],
}

/// Kinetics advance in steps of this length, s.
pub const STEP_S: f64 = 0.1;
/// Part of what heparin blocks of clotting that as much of the low molecular one blocks: it leaves part of thrombin alone (assumed).
pub const LOW_MOLECULAR_PART: f64 = 0.6;
/// So many steps are taken at once, by the sum of their series.
const AT_ONCE: u32 = 20;
/// Less of a drug than this, in its unit, does nothing that could be told.
const TRACE: f64 = 1e-6;

impl Pharmacy {
    /// An empty body.
    pub fn new(mass_kg: f64) -> Self {
        let ln2 = std::f64::consts::LN_2;
        let keep = Drug::ALL.map(|d| {
            let k = kinetics(d);
            (ops::exp(-ln2 * STEP_S / k.half_life_s), 1.0 - ops::exp(-ln2 * STEP_S / k.onset_s))
        });
        let zero = [0.0; Drug::ALL.len()];
        Self { mass_kg, body: zero, site: zero, rate: zero, given: zero, keep }
    }
    /// A bolus, in the drug's unit.
    pub fn give(&mut self, drug: Drug, amount: f64) {
        if amount.is_finite() && amount > 0.0 {
            self.body[drug as usize] += amount.min(1e7);
            self.given[drug as usize] += amount.min(1e7);
        }
    }
    /// An infusion, in the drug's rate unit; 0 stops it. Whether that changes anything.
    pub fn infuse(&mut self, drug: Drug, rate: f64) -> bool {
        let per_s = match drug.rate_unit() {
            u if u.ends_with("/kg/min") => {
                self.mass_kg / 60.0 * if drug == Drug::Esmolol { 1e-3 } else { 1.0 }
            }
            u if u.ends_with("/min") => 1.0 / 60.0,
            _ => 1.0 / 3600.0,
        };
        let was = self.rate[drug as usize];
        self.rate[drug as usize] = if rate.is_finite() { rate.clamp(0.0, 1e7) * per_s } else { 0.0 };
        was != self.rate[drug as usize]
    }
    /// Amount in the body, in the drug's unit.
    pub fn in_body(&self, drug: Drug) -> f64 {
        self.body[drug as usize]
    }
    /// Amount at the effect site, in the drug's unit.
    pub fn at_site(&self, drug: Drug) -> f64 {
        self.site[drug as usize]
    }
    /// Amount given so far, in the drug's unit.
    pub fn given(&self, drug: Drug) -> f64 {
        self.given[drug as usize]
    }
    /// Takes some out of the body (protamine binding heparin).
    pub fn remove(&mut self, drug: Drug, amount: f64) {
        let d = drug as usize;
        self.body[d] = (self.body[d] - amount).max(0.0);
        self.site[d] = (self.site[d] - amount).max(0.0);
    }
    /// Is more of a drug in the body, or running in, than a trace?
    pub fn holds(&self, drug: Drug) -> bool {
        self.body[drug as usize] > TRACE || self.rate[drug as usize] > 0.0
    }
    /// `n` steps of `STEP_S`. `clearance` slows with a failing circulation (1 = normal).
    pub fn steps(&mut self, n: u32, clearance: f64) {
        for i in 0..Drug::ALL.len() {
            if self.body[i] == 0.0 && self.rate[i] == 0.0 && self.site[i] == 0.0 {
                continue;
            }
            let (keep, onset) = self.keep[i];
            let run_in = self.rate[i] * STEP_S;
            self.given[i] += run_in * f64::from(n);
            // Adenosine is taken up by the blood itself; the others wait for liver, kidney or plasma to see them.
            let clearance = if i == Drug::Adenosine as usize { 1.0 } else { clearance };
            let stays = 1.0 - (1.0 - keep) * clearance;
            if n < AT_ONCE {
                for _ in 0..n {
                    self.body[i] = (self.body[i] + run_in) * stays;
                    self.site[i] += (self.body[i] - self.site[i]) * onset;
                }
            } else {
                (self.body[i], self.site[i]) =
                    after_steps(n, (self.body[i], self.site[i]), run_in, stays, 1.0 - onset);
            }
            if self.body[i] < 1e-12 && self.site[i] < 1e-12 {
                (self.body[i], self.site[i]) = (0.0, 0.0);
            }
        }
    }
    /// Fraction of the full effect of a drug, 0 to 1.
    pub fn level(&self, drug: Drug) -> f64 {
        let c = self.site[drug as usize] / self.mass_kg;
        c / (c + kinetics(drug).ec50_per_kg)
    }
    /// What all of them do together.
    pub fn effects(&self) -> Effects {
        let mut e = Effects::default();
        let (mut beta_open, mut vagus_open, mut av_open, mut pain, mut reflex_open) =
            (1.0, 1.0, 1.0, 1.0, 1.0);
        for d in Drug::ALL {
            if self.site[d as usize] == 0.0 {
                continue;
            }
            let (l, a) = (self.level(d), kinetics(d).action);
            e.resistance += l * a.resistance;
            e.venous += l * a.venous;
            e.rate += l * a.rate;
            e.contractility += l * a.contractility;
            e.sedation += l * a.sedation;
            e.breathing += l * a.breathing;
            beta_open *= 1.0 - l * a.beta_block;
            vagus_open *= 1.0 - l * a.vagal_block;
            av_open *= 1.0 - l * a.av_block;
            pain *= 1.0 - (l * a.analgesia).min(1.0);
            reflex_open *= 1.0 - l * a.reflex;
        }
        e.beta_block = 1.0 - beta_open;
        e.vagal_block = 1.0 - vagus_open;
        e.av_block = 1.0 - av_open;
        e.analgesia = 1.0 - pain;
        e.reflex = 1.0 - reflex_open;
        e
    }
}

/// Body and site after `n` steps, each of which adds `run_in` and keeps a part of what is in the body, and of what sets the site
/// apart from it: the sums of the two geometric series.
fn after_steps(n: u32, (body, site): (f64, f64), run_in: f64, stays: f64, apart: f64) -> (f64, f64) {
    if stays >= 1.0 {
        // Nothing leaves: step by step, as there is no level to settle at.
        return (0..n).fold((body, site), |(body, site), _| {
            let body = body + run_in;
            (body, body + (site - body) * apart)
        });
    }
    let settles = run_in * stays / (1.0 - stays);
    let (kept, lag) = (ops::powi(stays, n as i32), ops::powi(apart, n as i32));
    let above = body - settles;
    // Where both fade alike the series is its own derivative.
    let mixed = if (stays - apart).abs() > 1e-9 {
        (kept - lag) / (stays - apart)
    } else {
        f64::from(n) * ops::powi(stays, n as i32 - 1)
    };
    let site = settles + lag * (site - settles) + (1.0 - apart) * stays * above * mixed;
    (settles + kept * above, site)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Many steps at once are those steps one after the other (the sum of a geometric series): a drug that runs in, one that
    /// fades, one whose effect lags behind, in a failing circulation.
    #[test]
    fn steps_at_once_are_steps_one_by_one() {
        let mut at_once = Pharmacy::new(70.0);
        at_once.infuse(Drug::Noradrenaline, 0.2);
        at_once.give(Drug::Heparin, 5000.0);
        at_once.give(Drug::Fentanyl, 0.1);
        let mut one_by_one = at_once.clone();
        for n in [40, 600, 36_000] {
            at_once.steps(n, 0.7);
            (0..n).for_each(|_| one_by_one.steps(1, 0.7));
            for d in [Drug::Noradrenaline, Drug::Heparin, Drug::Fentanyl] {
                let (a, b) = (at_once.level(d), one_by_one.level(d));
                assert!((a - b).abs() < 1e-9 * b.max(1e-3), "{d:?} after {n}: {a} {b}");
                let (a, b) = (at_once.in_body(d), one_by_one.in_body(d));
                assert!((a - b).abs() < 1e-9 * b.max(1e-3), "{d:?} after {n}: {a} {b}");
            }
        }
    }
}
