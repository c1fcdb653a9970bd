//! What nerves and drugs make of the heart and the veins, fifty times a second.

use super::Body;
use crate::circulation::anaesthesia::Anaesthesia;
use crate::circulation::heart::Rhythm;
use crate::circulation::network::{LA, LV, Network, RA, RV};
use crate::circulation::organs::Organ;
use crate::circulation::plumbing::node;
use crate::circulation::reflex::Senses;
use crate::math::interp::linear;
use crate::math::ops;

impl Body {
    /// Beta receptors that this patient's own tablets leave open.
    pub(super) fn beta_open_rest(&self) -> f64 {
        if self.patient.beta_blocked { 0.45 } else { 1.0 }
    }

    /// What the heart feels of a sympathetic drive, over what it feels at rest, where some tone is already there. A blocker
    /// competes: a strong drive wins back a part (assumed: a drive of 2 takes a third of its odds).
    pub(super) fn beta_seen(&self, drive: f64, tone: f64) -> f64 {
        let at_rest = self.beta_open_rest();
        if drive < -tone {
            return drive + tone - tone * at_rest;
        }
        let odds = self.effects.beta_block / (1.0 - self.effects.beta_block).max(0.02);
        let open = 1.0 / (1.0 + odds / (1.0 + 0.2 * drive.max(0.0)));
        (drive + tone) * open * at_rest - tone * at_rest
    }

    /// The sinus node's rate now, per minute.
    pub(super) fn sinus_bpm(&self) -> f64 {
        let d = &self.reflex.drive;
        let sympathetic = self.beta_seen(d.rate, RATE_TONE);
        let open = (1.0 - self.effects.beta_block) * self.beta_open_rest();
        // The old heart answers less (assumed: a third less at 80 than at 30).
        let youth = 1.0 - 0.0067 * (self.patient.age_years - 30.0).clamp(0.0, 60.0);
        let nerves = 0.85 * youth * early(sympathetic) + 0.17 * d.vagal;
        let nerves = if nerves > 0.0 { nerves * self.rate_answer } else { nerves };
        let log = nerves + self.effects.rate * open.max(0.1) + self.rate_steer;
        // Age sets the ceiling (Tanaka, JACC 2001); it is approached, not hit.
        let top = 208.0 - 0.7 * self.patient.age_years;
        let rest = self.patient.heart_rate_rest_bpm;
        let asked = rest * ops::exp(log);
        // A vagus in full tone alone halves the rate of a node; it does not stop it for long (textbook).
        let floor = 0.5 * rest;
        let end = if asked > rest { top } else { floor };
        let reached = end - (end - rest) * ops::exp(-(asked - rest) / (end - rest));
        let heat = 1.0 + 0.07 * (self.blood.temperature_c - self.patient.temperature_c);
        let starved = ops::exp(-(self.starved_s - 60.0).max(0.0) / 50.0);
        (reached * heat.clamp(0.3, 1.4)).min(top) * starved
    }

    /// Nerves, breath and tone, fifty times a second.
    pub(in crate::circulation) fn control<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        dt_s: f64,
    ) {
        let chest = self.breathing.chest_mmhg(dt_s);
        self.vitals.chest_mmhg = chest;
        for i in [node::PA, node::PULM, node::PV] {
            net.p_ext_mmhg[i][lane] = chest;
        }
        let fx = self.effects;
        let asleep = (self.volatile + fx.sedation).min(1.3);
        let pain = self.distress
            * (1.0 - fx.analgesia)
            * (1.0 - asleep).clamp(0.0, 1.0)
            * if self.anaesthesia == Anaesthesia::Local { 0.85 } else { 1.0 };
        // Stretch is what the receptors feel: pressure across the wall, not the chamber's own.
        let filling = 0.5 * (self.means.p[RA] + self.means.p[LA]) - self.squeeze_mmhg;
        let brain = self.organs.brain_delivery();
        self.reflex.step(&Senses {
            p_mmhg: net.p_mmhg[node::AORTA + 2][lane],
            filling,
            brain,
            distress: pain,
            depression: 1.0 - (1.0 - fx.reflex) * (1.0 - 0.45 * self.volatile.min(1.2)),
            vagal_block: fx.vagal_block,
        });
        let d = self.reflex.drive;
        // Contractility.
        let ph = self.blood.ph(self.breathing.paco2_mmhg);
        let heart = self.organs.of(Organ::Heart);
        let acid = linear(&[(6.8, 0.4), (7.0, 0.65), (7.2, 0.9), (7.35, 1.0)], ph);
        let calcium = linear(&[(0.4, 0.5), (0.8, 0.85), (1.1, 1.0), (1.6, 1.1)], self.blood.calcium_mmol_l);
        let starved = ops::exp(-(self.starved_s - 30.0).max(0.0) / 120.0);
        let alive = (1.0 - heart.dead) * (1.0 - 0.8 * heart.stunned);
        let sympathetic = self.beta_seen(d.contractility, FORCE_TONE);
        let pacing = if self.pacer.rhythm == Rhythm::Paced { 0.8 } else { 1.0 };
        let anaesthetic = 1.0 - 0.08 * self.volatile.min(1.5);
        let target = (1.0 + 0.28 * sympathetic).max(0.3)
            * ops::exp(fx.contractility)
            * acid
            * calcium
            * starved
            * alive
            * pacing
            * anaesthetic;
        if (target - self.contractility).abs() > 1e-9 {
            let f = target / self.contractility;
            for c in [RV, LV] {
                net.chambers[c].e_max[lane] *= f;
            }
            self.contractility = target;
        }
        // Veins.
        let v = if d.venous > 0.0 { d.venous * self.answer } else { d.venous };
        let squeeze = if v > 0.0 { 1.0 - ops::exp(-0.9 * v) } else { 0.7 * v };
        let size = self.start_ml / 5300.0;
        let relax = fx.venous + 0.03 * self.volatile;
        let pool = |rest: f64, reach: f64| (rest - reach * squeeze + rest * relax) * size;
        net.v_u_ml[node::SPLANCHNIC][lane] = pool(1121.0, 800.0) + 0.45 * (self.slack_ml + self.pooled_ml);
        net.v_u_ml[node::SYSTEMIC][lane] = pool(1375.0, 600.0) + 0.55 * (self.slack_ml + self.pooled_ml);
        self.beds(net, lane, dt_s);
    }
}

/// A sinus node answers the first of a drive more than the last. Assumed, so that the rates of haemorrhage classes II and III
/// both come out.
fn early(drive: f64) -> f64 {
    if drive > 0.0 { 1.5 * drive / (1.0 + 0.5 * drive) } else { 1.5 * drive }
}

/// Sympathetic tone of a resting sinus node and a resting ventricle, in units of drive. Assumed, so that full blockade slows
/// a resting adult by a seventh.
const RATE_TONE: f64 = 0.35;

const FORCE_TONE: f64 = 0.35;
