//! Resistance of each bed: nerves, drugs, its own regulation, viscosity, and the pressure against which it empties.

use super::Body;
use crate::circulation::network::Network;
use crate::circulation::plumbing::node;
use crate::circulation::territory::{BED_KINDS, Bed};
use crate::math::interp::linear;
use crate::math::ops;

impl Body {
    /// Resistance of each bed: nerves, drugs, its own regulation, viscosity.
    pub(super) fn beds<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, dt_s: f64) {
        let fx = self.effects;
        let asked = self.reflex.drive.resistance;
        // Arterioles give in later than veins. Assumed.
        let log = 0.42 * if asked > 0.0 { asked * (0.5 + 0.5 * self.answer) } else { asked };
        let drug = fx.resistance - 0.08 * self.volatile;
        // After long shock the vessels no longer answer (vasoplegia by acid and debt). Assumed slope.
        let ph = self.blood.ph(self.breathing.paco2_mmhg);
        let answer = linear(&[(6.9, 0.35), (7.1, 0.7), (7.25, 1.0)], ph);
        let viscosity =
            self.blood.viscosity() / ops::exp(2.0 * (self.patient.haemoglobin_g_l / 340.0 - 0.43));
        let common = ops::exp(self.r_rest + self.steer) * viscosity;
        let p_vein = self.means.p[node::SYSTEMIC];
        let belly = self.belly_mmhg(net, lane);
        let content = self.breathing.content(self.blood.haemoglobin_g_l())
            / (1.36e-3 * self.patient.haemoglobin_g_l).max(1e-6);
        let content = content.clamp(0.3, 1.2);
        let rest = self.patient.map_rest_mmhg - 4.0;
        let per_rest = 1.0 / (rest - 5.8);
        for (i, kind) in BED_KINDS.iter().enumerate() {
            let p = self.means.p[kind.artery];
            let outside = match kind.bed {
                Bed::Cord => self.organs.csf_mmhg,
                Bed::RightBrain | Bed::LeftBrain | Bed::PosteriorBrain => self.organs.csf_mmhg,
                Bed::RightKidney | Bed::LeftKidney | Bed::Gut | Bed::Colon | Bed::Liver => belly,
                _ => 0.0,
            };
            let back = outside.max(p_vein);
            let (floor, ceiling) = match kind.bed {
                Bed::Heart if self.patient.ischaemic_heart => (0.55, 2.0),
                Bed::Heart => (0.22, 2.0),
                _ => (0.6, 1.6),
            };
            let mut want = (p - back) * per_rest;
            if kind.bed == Bed::Heart {
                want = (p - back) / (0.5 * rest) / self.heart_work.max(0.2);
            }
            // A bed poor in oxygen opens further.
            let want = (want * content).clamp(floor, ceiling);
            self.auto[i] += dt_s / 6.0 * (1.0 + kind.autoregulation * (want - 1.0) - self.auto[i]);
            let reach = 0.3 + 0.7 * kind.sympathetic;
            let reach = if matches!(kind.bed, Bed::Heart | Bed::Cord) || kind.autoregulation > 0.8 {
                0.0
            } else {
                reach
            };
            let tone = ops::exp((log * kind.sympathetic + drug * reach) * answer) * self.auto[i];
            self.tone[i] = tone;
            // The bed empties against the highest of vein, squeeze from outside, and its arterioles' own closing.
            self.p_bed[i] += (net.p_mmhg[kind.artery][lane] - self.p_bed[i]) * (dt_s / 0.4);
            let p_now = self.p_bed[i];
            let back = back.max(CLOSES_MMHG * tone.sqrt());
            let (drives, falls) = ((p_now - back).max(0.0), (p_now - p_vein).max(1.0));
            net.link_g[self.map.bed_link + i][lane] =
                drives.min(falls) / (falls * self.map.bed_r[i] * tone * common);
        }
    }
}

/// Pressure at which arterioles of normal tone close, mmHg. Assumed from arrest studies, in which arterial pressure lingers
/// near 20-30 mmHg while venous pressure is below 15.
const CLOSES_MMHG: f64 = 18.0;
