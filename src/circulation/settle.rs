//! Bringing the patient to the case's first moment: find the resting state, take the blood, meet the start.

use super::Circulation;
use super::body::Anaesthesia;
use super::breathing::Airway;
use super::patient::Start;
use crate::math::ops;

/// Rounds of half a second of the search for the resting state.
const REST_ROUNDS: u32 = 100;
/// Rounds of half a second of the approach to the start.
const START_ROUNDS: u32 = 300;

impl Circulation {
    pub(super) fn settle(&mut self, start: &Start) {
        self.body.recorder.on = false;
        self.find_rest();
        self.take_blood(start);
        if start.crystalloid_ml.is_finite() && start.crystalloid_ml > 0.0 {
            self.body.poured_before(&mut self.net, 0, start.crystalloid_ml.min(10_000.0));
        }
        self.meet(start);
        let b = &mut *self.body;
        b.recorder.on = true;
        b.living = true;
        b.clear_rest();
        b.ms = 0;
        // Book what stands in the spaces without shedding it twice.
        b.start_living(&mut self.net, 0, start.minutes_since);
    }

    /// Resting resistance and venous slack, so that the patient's own mean pressure and output come out.
    fn find_rest(&mut self) {
        let (map, output) = (self.body.patient.map_rest_mmhg, self.body.patient.output_rest_l_min());
        for _ in 0..REST_ROUNDS {
            self.advance_ms(500);
            let v = self.body.vitals;
            if v.output_l_min <= 0.0 {
                continue;
            }
            let b = &mut *self.body;
            let r_now = v.root.mean_mmhg / v.output_l_min;
            b.r_rest = (b.r_rest + 0.25 * ops::ln((map / output) / r_now.max(0.1))).clamp(-1.0, 1.0);
            let short = (output - v.output_l_min) / output;
            b.slack_ml =
                (b.slack_ml - 120.0 * short * b.patient.blood_volume_ml() / 5300.0).clamp(-1500.0, 1500.0);
        }
        self.body.mark_rest();
        self.body.reflex.close();
    }

    /// Blood lost before the case, out of the veins and into its spaces, over the first part of the approach.
    fn take_blood(&mut self, start: &Start) {
        let total: f64 = start.lost_ml.iter().map(|l| l.1.max(0.0)).filter(|x| x.is_finite()).sum();
        let most = 0.5 * self.body.patient.blood_volume_ml();
        let scale = if total > most { most / total } else { 1.0 };
        let rounds = 60;
        for _ in 0..rounds {
            for &(space, ml) in &start.lost_ml {
                if ml.is_finite() && ml > 0.0 {
                    self.body.displace(&mut self.net, 0, space, ml * scale / f64::from(rounds));
                }
            }
            self.advance_ms(500);
        }
    }

    /// Distress and tone, so that the asked rate and systolic pressure come out; the reflexes keep working meanwhile.
    fn meet(&mut self, start: &Start) {
        if start.asleep {
            self.body.anaesthesia = Anaesthesia::General(0.8);
            self.body.set_airway(Airway::Ventilated);
        }
        let set_rest_mmhg = self.body.reflex.p_set_mmhg;
        // Averages over a breath, so that the search does not chase it.
        let (mut rate_now, mut sbp_now) =
            (self.body.vitals.heart_rate_bpm, self.body.vitals.right_radial.systolic_mmhg);
        for _ in 0..START_ROUNDS {
            self.advance_ms(500);
            let v = self.body.vitals;
            rate_now += (v.heart_rate_bpm - rate_now) * 0.15;
            sbp_now += (v.right_radial.systolic_mmhg - sbp_now) * 0.15;
            let b = &mut *self.body;
            if let Some(rate) = start.heart_rate_bpm.filter(|r| r.is_finite()) {
                let gap = ops::ln(rate.clamp(35.0, 190.0) / rate_now.max(20.0));
                // Fast: pain and fear. Slow: a sinus node that answers less than the average one.
                let pain = b.distress + 0.05 * gap;
                b.distress = pain.clamp(0.0, 2.0);
                if pain < 0.0 || b.rate_steer < 0.0 {
                    b.rate_steer = (b.rate_steer + 0.04 * gap).clamp(-0.4, 0.0);
                }
            }
            if let Some(sbp) = start.sbp_mmhg.filter(|p| p.is_finite()) {
                let gap = ops::ln(sbp.clamp(45.0, 240.0) / sbp_now.max(20.0));
                // A high pressure is tone; a low one is blood that nobody has counted.
                if sbp > 1.35 * b.patient.map_rest_mmhg {
                    // Hours of a high pressure have reset the receptors most of the way (assumed: three quarters).
                    let reset = 0.75 * (v.root.mean_mmhg - b.patient.map_rest_mmhg).max(0.0);
                    b.reflex.p_set_mmhg += 0.02 * (set_rest_mmhg + reset - b.reflex.p_set_mmhg);
                    b.steer = (b.steer + 0.03 * gap).clamp(-0.9, 0.9);
                } else {
                    b.slack_ml = (b.slack_ml - 20.0 * gap * b.patient.mass_kg / 70.0).clamp(-2200.0, 2200.0);
                }
            }
        }
    }
}
