//! Oxygen, heat and life: what each second does to organs, and when it is over.

use super::Body;
use crate::circulation::bleed::Space;
use crate::circulation::drugs::Drug;
use crate::circulation::heart::Rhythm;
use crate::circulation::network::{LA, Network, RA};
use crate::circulation::organs::Organ;
use crate::circulation::plumbing::{Map, node};
use crate::circulation::territory::BEDS;
use crate::circulation::vitals::{Awareness, Death};
use crate::math::ops;

impl Body {
    pub(in crate::circulation) fn oxygen<const W: usize>(
        &mut self,
        net: &Network<W>,
        lane: usize,
        dt_s: f64,
    ) {
        let blood_in = |s: Space| net.v_ml[Map::space_node(s)][lane];
        let lungs = (blood_in(Space::LeftPleura) + blood_in(Space::RightPleura)) / 9000.0;
        let wet = ((self.means.p[LA] - 20.0) / 30.0).max(0.0);
        self.breathing.shunt = (lungs + wet).clamp(0.0, 0.7);
        let output = self.means.output_ml_s * 0.06 / self.patient.output_rest_l_min();
        let brain = self.organs.brain_delivery();
        let acid = 0.05 * (-self.blood.base_excess_mmol_l()).max(0.0);
        let drive = acid + 0.6 * self.reflex.drive.resistance.max(0.0);
        let heat = ops::exp(0.07 * (self.blood.temperature_c - 37.0));
        let depression = self.effects.breathing + 0.6 * self.volatile;
        self.breathing.second(output, depression, brain, drive, heat, dt_s);
        let content = self.breathing.content(self.blood.haemoglobin_g_l());
        let mut q = [0.0; BEDS];
        q.copy_from_slice(&self.means.link[self.map.bed_link..self.map.bed_link + BEDS]);
        let v = &self.vitals;
        let product = v.heart_rate_bpm * v.root.systolic_mmhg;
        let rest = self.patient.heart_rate_rest_bpm * self.patient.map_rest_mmhg * 1.3;
        self.heart_work = (0.3 + 0.7 * product / rest).clamp(0.25, 3.0);
        let calm = 1.0 - 0.35 * (self.volatile + self.effects.sedation).min(1.0);
        self.organs.step(&q, content, self.heart_work, calm, &mut self.blood, dt_s);
        // Cord.
        let csf_rest = self.patient.csf_mmhg + 0.7 * (self.means.p[RA] - self.cvp_rest);
        self.spinal_fluid(csf_rest, dt_s);
        let o = &mut self.organs;
        o.cord_perfusion_mmhg = self.means.p[node::CORD] - o.csf_mmhg.max(self.means.p[RA]);
        let contrast = self.pharmacy.in_body(Drug::Contrast) / self.patient.egfr_ml_min().max(5.0);
        let dose = (contrast - 1.8).max(0.0) * 1e-6 * dt_s;
        o.contrast_harm = (o.contrast_harm + dose).min(0.8);
    }

    pub(super) fn heat(&mut self, dt_s: f64) {
        // A covered patient holds; anaesthesia and shock lose 0.5-1 C/h; a forced-air blanket and warmed fluid give back
        // about 0.5 C/h (Sessler, Lancet 2016; rounded).
        let t = self.blood.temperature_c;
        let shock = (1.0 - self.means.output_ml_s * 0.06 / self.patient.output_rest_l_min()).clamp(0.0, 1.0);
        let asleep = (self.volatile + self.effects.sedation).min(1.0);
        let loss = 0.15 + 0.55 * asleep + 0.5 * shock;
        let gain = if self.warming { 0.9 } else { 0.0 }
            + if asleep < 0.3 { 0.3 * (36.8 - t).clamp(0.0, 1.0) } else { 0.0 };
        let rest = 0.15 * ((t - 30.0) / 7.0).clamp(0.0, 1.0);
        let slope = if t > 36.9 { (36.9 - t) * 0.5 } else { rest - loss * ((t - 22.0) / 15.0) + gain };
        let slope = if t > 36.6 && slope > 0.0 { slope * ((36.9 - t) / 0.3).clamp(0.0, 1.0) } else { slope };
        self.blood.temperature_c += slope * dt_s / 3600.0;
    }

    /// Vessels that had given in at the start answer again over some hours. Assumed: four.
    pub(super) fn recover(&mut self, dt_s: f64) {
        let part = dt_s / 14_400.0;
        self.answer += (1.0 - self.answer) * part;
        self.rate_answer += (1.0 - self.rate_answer) * part;
        self.rate_steer -= self.rate_steer * part;
        self.pooled_ml -= self.pooled_ml * part;
        if self.steer < 0.0 {
            self.steer -= self.steer * part;
        }
    }

    pub(super) fn arrest(&mut self, dt_s: f64) {
        let heart = *self.organs.of(Organ::Heart);
        let short = (1.0 - heart.delivery / (0.55 * self.heart_work).max(0.02)).clamp(0.0, 1.0);
        self.starved_s = (self.starved_s + dt_s * if short > 0.55 { short } else { -1.5 }).clamp(0.0, 600.0);
        let beating = !matches!(self.pacer.rhythm, Rhythm::Asystole | Rhythm::Fibrillation);
        if beating && self.starved_s > 240.0 {
            self.pacer.rhythm = Rhythm::Asystole;
        }
        let fibrillates = self.blood.temperature_c < 27.5 || (heart.debt > 1.3 && self.heart_work > 1.0);
        if beating && fibrillates {
            self.pacer.rhythm = Rhythm::Fibrillation;
        }
        if beating && self.blood.potassium_mmol_l > 8.5 {
            self.pacer.rhythm = Rhythm::Asystole;
        }
        let still = self.means.output_ml_s * 0.06 < 0.15 * self.patient.output_rest_l_min();
        self.still_s = if still { self.still_s + dt_s } else { (self.still_s - dt_s).max(0.0) };
        if self.death.is_none() {
            let o = &self.organs;
            let brain = [Organ::RightBrain, Organ::LeftBrain, Organ::PosteriorBrain];
            let dead = brain.iter().map(|&x| o.of(x).dead).sum::<f64>() / 3.0;
            let cause = if self.still_s > 900.0 {
                Some(match self.pacer.rhythm {
                    Rhythm::Fibrillation => "ventricular fibrillation",
                    _ if self.spaces_ml > 0.3 * self.start_ml => "exsanguination",
                    _ => "cardiac arrest",
                })
            } else if dead > 0.8 {
                Some("brain death")
            } else {
                None
            };
            self.death = cause.map(|cause| Death { at_ms: self.ms, cause });
        }
    }

    /// Fills in the slow vital signs.
    pub(super) fn shade(&mut self) {
        let asleep = self.volatile + self.effects.sedation;
        let brain = self.organs.brain_delivery();
        let v = &mut self.vitals;
        v.spo2 = self.breathing.saturation();
        v.etco2_mmhg = self.breathing.etco2_mmhg;
        v.breaths_per_min = self.breathing.rate_per_min;
        v.temperature_c = self.blood.temperature_c;
        v.urine_ml_h = self.urine_ml_s * 3600.0;
        v.awareness = if self.death.is_some() {
            Awareness::Dead
        } else if brain < 0.45 {
            Awareness::Unconscious
        } else if asleep > 0.8 {
            Awareness::Asleep
        } else if brain < 0.62 || asleep > 0.4 {
            Awareness::Drowsy
        } else if brain < 0.78 {
            Awareness::Anxious
        } else {
            Awareness::Alert
        };
    }
}
