//! Bringing the patient to the case's first moment: find the resting state, take the blood, meet the start.

use super::Circulation;
use super::anaesthesia::Anaesthesia;
use super::breathing::Airway;
use super::patient::{Start, StartDoubt};
use crate::math::ops;

/// Rounds of half a second of the search for the resting state.
const REST_ROUNDS: u32 = 180;
/// Rounds of half a second of the approach to the start.
const START_ROUNDS: u32 = 300;
/// No beat is longer, ms (18 a minute).
const LONGEST_BEAT_MS: u32 = 3400;
/// A start's systolic pressure is met within this, mmHg.
const MET_MMHG: f64 = 6.0;
/// A start's rate is met within this, beats per minute.
const MET_BPM: f64 = 6.0;

impl Circulation {
    pub(super) fn settle(&mut self, start: &Start, changed: impl FnOnce(&mut Self)) {
        self.body.recorder.on = false;
        self.find_rest();
        changed(self);
        self.take_blood(start);
        self.body.settle_accounts(&self.net, 0);
        if start.crystalloid_ml.is_finite() && start.crystalloid_ml > 0.0 {
            self.body.poured_before(&mut self.net, 0, start.crystalloid_ml.min(10_000.0));
        }
        self.meet(start);
        // The case begins with a whole beat.
        for _ in 0..LONGEST_BEAT_MS {
            if self.body.pacer.beat_ms == 0 {
                break;
            }
            self.advance_ms(1);
        }
        self.body.recorder.on = true;
        self.body.start_living(&mut self.net, 0);
    }

    /// Resting resistance and venous slack, so that the patient's own mean pressure and output come out: first in strides, then
    /// on averages over a breath, which moves every single beat.
    fn find_rest(&mut self) {
        let (map, output) = (self.body.patient.map_rest_mmhg, self.body.patient.output_rest_l_min());
        let (mut map_now, mut output_now) = (map, output);
        for round in 0..REST_ROUNDS {
            self.advance_ms(500);
            let v = self.body.vitals;
            if v.output_l_min <= 0.0 {
                continue;
            }
            let fine = round >= REST_ROUNDS / 3;
            let (new, r_gain, slack_gain) = if fine { (0.1, 0.06, 40.0) } else { (1.0, 0.25, 120.0) };
            map_now += new * (v.root.mean_mmhg - map_now);
            output_now += new * (v.output_l_min - output_now);
            let b = &mut *self.body;
            let r_off = ops::ln((map / output) / (map_now / output_now).max(0.1));
            b.r_rest = (b.r_rest + r_gain * r_off).clamp(-1.0, 1.0);
            let short = (output - output_now) / output;
            b.slack_ml = (b.slack_ml - slack_gain * short * b.patient.blood_volume_ml() / 5300.0)
                .clamp(-1500.0, 1500.0);
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

    /// Lets nerves, tissue water and the search run until the asked rate and systolic pressure come out.
    ///
    /// The blood is what the case says is lost; it is never changed to meet a pressure. What is free is how well this patient
    /// compensates: [`Body::answer`](super::body::Body) of the vessels first, then pooling and slack arterioles.
    fn meet(&mut self, start: &Start) {
        if start.asleep {
            self.body.anaesthesia = Anaesthesia::General(0.8);
            self.body.set_airway(Airway::Ventilated);
        }
        let minutes =
            if start.minutes_since.is_finite() { start.minutes_since.clamp(0.0, 600.0) } else { 0.0 };
        let sbp = start.sbp_mmhg.filter(|p| p.is_finite()).map(|p| p.clamp(45.0, 240.0));
        let rate = start.heart_rate_bpm.filter(|r| r.is_finite()).map(|r| r.clamp(35.0, 190.0));
        let set_rest_mmhg = self.body.reflex.p_set_mmhg;
        // Averages over a breath, so that the search does not chase it.
        let (mut rate_now, mut sbp_now) =
            (self.body.vitals.heart_rate_bpm, self.body.vitals.right_radial.systolic_mmhg);
        let (mut give_in, mut urge) = (0.0, 0.0);
        for _ in 0..START_ROUNDS {
            self.advance_ms(500);
            // The minutes since the loss, told in this many rounds: refill, and the organs' debts.
            let passed_s = minutes * 60.0 / f64::from(START_ROUNDS);
            self.body.refill_before(&mut self.net, 0, passed_s);
            self.body.oxygen(&self.net, 0, passed_s.max(0.5));
            let v = self.body.vitals;
            rate_now += (v.heart_rate_bpm - rate_now) * 0.1;
            sbp_now += (v.right_radial.systolic_mmhg - sbp_now) * 0.1;
            let b = &mut *self.body;
            if let Some(rate) = rate {
                let gap = ops::ln(rate / rate_now.max(20.0));
                urge = (urge + 0.06 * gap).clamp(-1.6, 2.0);
                b.urge(urge);
            }
            if let Some(sbp) = sbp {
                let gap = ops::ln(sbp / sbp_now.max(20.0));
                if sbp > 1.35 * b.patient.map_rest_mmhg {
                    // A high pressure is tone. Hours of it have reset the receptors most of the way (assumed: three quarters).
                    let reset = 0.75 * (v.root.mean_mmhg - b.patient.map_rest_mmhg).max(0.0);
                    b.reflex.p_set_mmhg += 0.02 * (set_rest_mmhg + reset - b.reflex.p_set_mmhg);
                    b.steer = (b.steer + 0.03 * gap).clamp(-0.9, 0.9);
                } else {
                    give_in = (give_in - 0.06 * gap).clamp(-0.6, 2.0);
                    b.give_in(give_in);
                }
            }
        }
        self.doubt(sbp.zip(Some(sbp_now)), rate.zip(Some(rate_now)));
    }

    /// Says what could not be met.
    fn doubt(&mut self, pressure: Option<(f64, f64)>, rate: Option<(f64, f64)>) {
        let off = |met: &(f64, f64), within: f64| (met.0 - met.1).abs() > within;
        let pressure = pressure.filter(|p| off(p, MET_MMHG));
        let rate = rate.filter(|r| off(r, MET_BPM));
        self.doubts.extend(
            pressure.map(|(asked_mmhg, reached_mmhg)| StartDoubt::Systolic { asked_mmhg, reached_mmhg }),
        );
        self.doubts.extend(rate.map(|(asked_bpm, reached_bpm)| StartDoubt::Rate { asked_bpm, reached_bpm }));
    }
}
