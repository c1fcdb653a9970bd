//! What the anaesthetist does: doses in the drug's own unit, drips that run, and a pressure that is kept.

use super::World;
use crate::circulation::{Airway, Awareness, Drug, Product};
use crate::scenario::quantity::{Dose, DoseUnit, Rate, Span};

/// A systolic pressure to keep, and the two infusions by which it is kept.
#[derive(Clone, Debug, Default)]
pub struct Regulator {
    /// Lowest and highest systolic pressure, mmHg.
    pub band: Option<(f64, f64)>,
    /// Lowest mean pressure, mmHg (on the ward).
    pub map_low: Option<f64>,
    noradrenaline_ug_kg_min: f64,
    clevidipine_mg_h: f64,
    esmolol_ug_kg_min: f64,
    since_s: f64,
}

/// How often a hand on the pump acts, s (common practice, no source).
const HAND_S: f64 = 15.0;

/// An amount in a drug's own unit; the error is why it cannot be.
pub fn in_unit_of(drug: Drug, dose: &Dose, mass_kg: f64) -> Result<f64, String> {
    let base = dose.total_base(mass_kg);
    let mass = matches!(dose.unit, DoseUnit::Microgram | DoseUnit::Milligram | DoseUnit::Gram);
    match drug.unit() {
        "ug" if mass => Ok(base),
        "mg" if mass => Ok(base / 1e3),
        "g" if mass => Ok(base / 1e6),
        "U" | "IU" if dose.unit == DoseUnit::Unit => Ok(base),
        "mmol" if dose.unit == DoseUnit::Millimole => Ok(base),
        "ml" | "mL" if dose.unit == DoseUnit::Millilitre => Ok(base),
        unit => Err(format!("{} is given in {unit}; \"{dose}\" is another kind of amount", drug.label())),
    }
}

/// A rate in a drug's own rate unit; the error is why it cannot be.
pub fn in_rate_unit_of(drug: Drug, rate: &Rate, mass_kg: f64) -> Result<f64, String> {
    in_unit_of(drug, &rate.dose, mass_kg)?;
    let unit = drug.rate_unit();
    let mut out = rate.base_per_min(mass_kg);
    if unit.starts_with("mg") {
        out /= 1e3;
    }
    if unit.contains("/kg") {
        out /= mass_kg;
    }
    Ok(if unit.ends_with("/h") { out * 60.0 } else { out })
}

impl World {
    pub(super) fn give(&mut self, drug: Drug, dose: &Dose) -> Result<(), String> {
        let amount = in_unit_of(drug, dose, self.case.case.patient.mass_kg)?;
        self.patient.give(drug, amount);
        self.face_canal(drug, amount);
        Ok(())
    }

    pub(super) fn infuse(&mut self, drug: Drug, rate: &Rate) -> Result<(), String> {
        let rate = in_rate_unit_of(drug, rate, self.case.case.patient.mass_kg)?;
        self.patient.infuse(drug, rate);
        match drug {
            Drug::Noradrenaline => self.regulator.noradrenaline_ug_kg_min = rate,
            Drug::Clevidipine => self.regulator.clevidipine_mg_h = rate,
            Drug::Esmolol => self.regulator.esmolol_ug_kg_min = rate,
            _ => {}
        }
        Ok(())
    }

    pub(super) fn hang(&mut self, product: Product, ml: f64, over: Span) {
        self.patient.transfuse_over(product, ml, over.as_seconds() / 60.0);
    }

    /// The pressure is kept.
    pub(super) fn regulate(&mut self, seconds: f64) {
        self.regulator.since_s += seconds;
        if self.regulator.since_s < HAND_S || !self.patient.alive() {
            return;
        }
        // After a long step a hand has been at the pump more than once.
        let turns = (self.regulator.since_s / HAND_S).clamp(1.0, 4.0);
        self.regulator.since_s = 0.0;
        self.guard_airway();
        let v = &self.patient.vitals().right_radial;
        let (sbp, map) = (v.systolic_mmhg, v.mean_mmhg);
        let hr = self.patient.vitals().heart_rate_bpm;
        let r = &mut self.regulator;
        let Some((low, high)) = r.band else { return };
        let short = (low - sbp).max(r.map_low.map_or(0.0, |m| m - map)).max(0.0);
        let over = (sbp - high).max(0.0);
        // A hand turns a pump by a part of what is missing, and takes back the opposite drug first.
        if short > 0.0 {
            if r.clevidipine_mg_h > 0.0 || r.esmolol_ug_kg_min > 0.0 {
                r.clevidipine_mg_h = (r.clevidipine_mg_h * 0.6 - 0.2).max(0.0);
                r.esmolol_ug_kg_min = (r.esmolol_ug_kg_min * 0.6 - 2.0).max(0.0);
            } else {
                r.noradrenaline_ug_kg_min = (r.noradrenaline_ug_kg_min + 0.002 * turns * short).min(0.6);
            }
        } else if over > 0.0 {
            if r.noradrenaline_ug_kg_min > 0.0 {
                r.noradrenaline_ug_kg_min = (r.noradrenaline_ug_kg_min * 0.7 - 0.004).max(0.0);
            } else {
                // Rate first, then vasodilation (the order of the aortic guidelines).
                if hr > 60.0 {
                    r.esmolol_ug_kg_min = (r.esmolol_ug_kg_min + 1.2 * turns * over).min(250.0);
                }
                if hr <= 65.0 || r.esmolol_ug_kg_min >= 100.0 {
                    r.clevidipine_mg_h = (r.clevidipine_mg_h + 0.08 * turns * over).min(21.0);
                }
            }
        } else {
            // Within the band a drip is weaned: what lifts a pressure above the band's middle is taken back, and the other way.
            let above = sbp > 0.5 * (low + high);
            if above {
                r.noradrenaline_ug_kg_min = (r.noradrenaline_ug_kg_min * 0.97 - 0.0005).max(0.0);
            } else {
                r.clevidipine_mg_h = (r.clevidipine_mg_h * 0.97 - 0.02).max(0.0);
                r.esmolol_ug_kg_min = (r.esmolol_ug_kg_min * 0.97 - 0.5).max(0.0);
            }
        }
        let (na, cl, es) = (r.noradrenaline_ug_kg_min, r.clevidipine_mg_h, r.esmolol_ug_kg_min);
        self.patient.infuse(Drug::Noradrenaline, na);
        self.patient.infuse(Drug::Clevidipine, cl);
        self.patient.infuse(Drug::Esmolol, es);
    }

    /// Whoever looks after the patient gives oxygen when it falls, and an anaesthetist who is there takes over the breathing
    /// of a patient who no longer breathes.
    fn guard_airway(&mut self) {
        let v = *self.patient.vitals();
        if v.spo2 < 0.93 {
            self.patient.set_fio2(0.6);
        }
        let here = self.calls.iter().any(|c| c.2 && c.1 == "anaesthetist");
        let still = !self.breath_held && v.breaths_per_min < 4.0;
        if here && (still || v.awareness >= Awareness::Unconscious) {
            self.patient.set_fio2(1.0);
            self.patient.set_airway(Airway::Ventilated);
        }
    }

    pub(super) fn keep(&mut self, band: Option<(f64, f64)>, map_low: Option<f64>) {
        self.regulator.band = band;
        self.regulator.map_low = map_low;
        self.regulator.since_s = HAND_S;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doses_reach_the_drugs_own_unit() {
        let dose = |t: &str| Dose::parse(t).unwrap();
        assert_eq!(in_unit_of(Drug::Esmolol, &dose("0.5 mg/kg"), 80.0), Ok(40.0));
        assert_eq!(in_unit_of(Drug::Noradrenaline, &dose("0.008 mg"), 80.0), Ok(8.0));
        assert!(in_unit_of(Drug::Heparin, &dose("5 mg"), 80.0).is_err());
        let rate = |t: &str| Rate::parse(t).unwrap();
        assert_eq!(in_rate_unit_of(Drug::Esmolol, &rate("100 ug/kg/min"), 80.0), Ok(100.0));
        assert_eq!(in_rate_unit_of(Drug::Noradrenaline, &rate("8 ug/min"), 80.0), Ok(0.1));
        assert!((in_rate_unit_of(Drug::Clevidipine, &rate("4 mg/h"), 80.0).unwrap() - 4.0).abs() < 1e-12);
        assert!((in_rate_unit_of(Drug::Nicardipine, &rate("0.1 mg/min"), 80.0).unwrap() - 6.0).abs() < 1e-12);
    }
}
