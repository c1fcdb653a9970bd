//! The body's part in finding the case's first moment (the search itself is in `settle`).

use super::Body;
use crate::circulation::bleed::Space;
use crate::circulation::blood::Product;
use crate::circulation::network::{Network, RA};
use crate::circulation::organs::Organs;
use crate::circulation::plumbing::{Map, node};
use crate::circulation::territory::BEDS;

impl Body {
    /// Takes the present state as the patient's own rest.
    pub(in crate::circulation) fn mark_rest(&mut self) {
        self.cvp_rest = self.means.p[RA];
        self.map.bed_q.copy_from_slice(&self.means.link[..BEDS]);
        let content = self.breathing.content(self.patient.haemoglobin_g_l);
        let p = &self.patient;
        self.organs = Organs::new(
            &self.map.bed_q,
            content,
            p.creatinine_umol_l,
            p.egfr_ml_min(),
            p.mass_kg,
            p.csf_mmhg,
        );
    }

    /// How far the patient's compensation has given in at the start: up to 0.8 the vessels answer the nerves less and less
    /// (frozen, a fifth of the blood lost is a mean pressure near 45 mmHg), beyond it veins pool blood (15 % for each 1) and arterioles
    /// slacken. Below 0 arterioles are tighter than the nerves make them.
    pub(in crate::circulation) fn give_in(&mut self, x: f64) {
        let beyond = (x - 0.8).max(0.0);
        self.answer = 1.0 - x.clamp(0.0, 0.8);
        self.pooled_ml = 0.15 * self.start_ml * beyond;
        self.steer = if x < 0.0 { -0.4 * x } else { -0.25 * beyond };
    }

    /// What the start's rate needs: above 0 pain and fear, below it a sinus node that answers less, and last a slower one.
    pub(in crate::circulation) fn urge(&mut self, x: f64) {
        self.distress = x.max(0.0);
        self.rate_answer = 1.0 + x.clamp(-0.9, 0.0);
        self.rate_steer = (x + 0.9).min(0.0);
    }

    /// Some seconds of the time before the case: tissue water follows the lost blood into the vessels.
    pub(in crate::circulation) fn refill_before<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        dt_s: f64,
    ) {
        let held = net.v_ml[node::SYSTEMIC][lane];
        let filtered = (self.blood.filtration_ml_s(self.capillary_over_rest_mmhg()) * dt_s).min(0.02 * held);
        self.blood.filter(filtered);
        net.v_ml[node::SYSTEMIC][lane] -= filtered;
        self.poured_ml -= filtered;
        self.blood.volume_ml -= filtered;
    }

    /// Crystalloid that ran in before the case: a quarter is still in the vessels, the rest in the tissue (common practice).
    pub(in crate::circulation) fn poured_before<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        ml: f64,
    ) {
        net.v_ml[node::SYSTEMIC][lane] += 0.25 * ml;
        self.poured_ml += 0.25 * ml;
        self.blood.volume_ml += 0.25 * ml;
        self.blood.pour(Product::Crystalloid, ml);
        self.blood.filter(0.75 * ml);
    }

    /// Puts blood from the great veins into a space (before the case begins).
    pub(in crate::circulation) fn displace<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        space: Space,
        ml: f64,
    ) {
        net.v_ml[node::SYSTEMIC][lane] -= ml;
        net.v_ml[Map::space_node(space)][lane] += ml;
    }

    /// The first moment: fluids, organs and holes begin to act.
    pub(in crate::circulation) fn start_living<const W: usize>(&mut self, net: &mut Network<W>, lane: usize) {
        self.living = true;
        (self.starved_s, self.still_s) = (0.0, 0.0);
        self.ms = 0;
        self.second(net, lane, 1.0);
    }
}
