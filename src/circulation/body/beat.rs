//! What is read of each beat: means for the slow life, pressures for the monitor, samples for its traces.

use super::{Body, WATCHED};
use crate::circulation::heart::Rhythm;
use crate::circulation::network::{LA, Network, RA};
use crate::circulation::organs::Organ;
use crate::circulation::plumbing::node;
use crate::circulation::territory::Bed;
use crate::circulation::traces::Scene;
use crate::circulation::vitals::Pressure;

impl Body {
    pub(super) fn beat_end<const W: usize>(&mut self, net: &mut Network<W>, lane: usize) {
        let n = f64::from(self.beat_steps.max(1));
        let beat_ms = n * f64::from(self.step_ms);
        for (to, from) in self.means.p.iter_mut().zip(&net.sums.p) {
            *to = from[lane] / n;
        }
        for (to, from) in self.means.pipe.iter_mut().zip(&net.sums.pipe) {
            *to = from[lane] / n;
        }
        for (e, to) in self.means.link.iter_mut().enumerate().take(self.map.links) {
            *to = net.link_flow_ml_s(e, lane, &self.means.p);
        }
        self.means.output_ml_s = net.sums.valve[3][lane] / n;
        net.clear_sums(lane);
        let pressure = |i: usize| Pressure {
            systolic_mmhg: self.high[i],
            diastolic_mmhg: self.low[i],
            mean_mmhg: self.means.p[WATCHED[i]],
        };
        let v = &mut self.vitals;
        v.root = pressure(0);
        v.right_radial = pressure(1);
        v.left_radial = pressure(2);
        v.right_femoral = pressure(3);
        v.left_femoral = pressure(4);
        v.rhythm = self.pacer.rhythm;
        v.heart_rate_bpm = match self.pacer.rhythm {
            Rhythm::Asystole | Rhythm::Fibrillation | Rhythm::AvBlock => 0.0,
            _ => 60e3 / beat_ms,
        };
        v.cvp_mmhg = self.means.p[RA];
        v.left_atrial_mmhg = self.means.p[LA];
        v.output_l_min = self.means.output_ml_s * 0.06;
        v.stroke_ml = self.means.output_ml_s * beat_ms * 1e-3;
        v.dp_dt_mmhg_s = self.dpdt;
        self.dpdt = 0.0;
        self.low = [1e9; 5];
        self.high = [-1e9; 5];
        self.beat_steps = 0;
    }

    pub(super) fn sample<const W: usize>(&mut self, net: &Network<W>, lane: usize) {
        let p = |n: usize| net.p_mmhg[n][lane];
        let heart = self.organs.of(Organ::Heart);
        let short = (1.0 - heart.delivery / (0.55 * self.heart_work).max(0.05)).clamp(0.0, 1.0);
        let scene = Scene {
            pacer: &self.pacer,
            breathing: &self.breathing,
            st_mv: -0.25 * short,
            potassium: self.blood.potassium_mmol_l,
            hand: (self.map.bed_r[Bed::RightArm as usize] * net.link_g[Bed::RightArm as usize][lane])
                .clamp(0.0, 1.5)
                .sqrt(),
        };
        let pressures = [p(node::R_RADIAL), p(node::L_RADIAL), p(node::R_FEMORAL), p(RA)];
        self.recorder.sample(self.ms, pressures, &scene);
    }
}
