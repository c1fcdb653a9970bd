//! The engine alone: closed forms and independent solvers.

use super::loops::{regazzoni, regazzoni_phi, ursino, ursino_step};
use super::{Row, near};
use overwire::circulation::bleed::orifice_k;
use overwire::circulation::breathing::severinghaus;
use overwire::circulation::network::{Activation, LA, LV, Network, RA};
use overwire::circulation::plumbing::tube_r;

const STILL: Activation<1> = Activation { ventricles: [0.0], atria: [0.0] };

pub fn rows() -> Vec<Row> {
    let mut out = windkessel();
    out.extend(frozen_loop());
    out.extend(other_loop());
    out.push(wave());
    out.extend(tamponade());
    out.push(near(
        "Poiseuille: l 10 cm, r 3 mm, 3.5 mPa s, mmHg s/ml",
        "8 mu l / (pi r^4), arithmetic",
        0.082532,
        2e-6,
        tube_r(3.0, 100.0),
    ));
    out.push(near(
        "saturation at 26.8 mmHg",
        "P50 of normal human haemoglobin, textbook",
        0.5,
        0.01,
        severinghaus(26.8),
    ));
    out
}

/// Two-element decay, and three elements under half-sine systole against the exact periodic answer.
fn windkessel() -> Vec<Row> {
    let mut n = Network::<1>::new(1e-3);
    let p = n.add_node(1.3, 0.0, 100.0);
    let ground = n.add_node(1e12, 0.0, 0.0);
    n.add_link(p, ground, 1.0);
    for _ in 0..500 {
        n.step(&STILL, &STILL);
    }
    let decayed = n.v_ml[p][0] / 1.3;
    let (z, systole, period) = (0.05, 0.3, 0.8);
    let q = |t: f64| {
        let t = t.rem_euclid(period);
        if t < systole { 400.0 * (std::f64::consts::PI * t / systole).sin() } else { 0.0 }
    };
    let mut n = Network::<1>::new(1e-3);
    let c = n.add_node(1.3, 0.0, 77.655012);
    let ground = n.add_node(1e12, 0.0, 0.0);
    n.add_link(c, ground, 1.0);
    let (mut top, mut sum) = (0.0_f64, 0.0);
    for k in 0..32_000_u32 {
        let t = f64::from(k) * 1e-3;
        n.source_ml_s[c] = [q(t + 0.5e-3)];
        n.step(&STILL, &STILL);
        if k >= 31_200 {
            let p = n.v_ml[c][0] / 1.3 + z * q(t + 1e-3);
            top = top.max(p);
            sum += p / 800.0;
        }
    }
    vec![
        near(
            "two-element windkessel after 0.5 s, mmHg",
            "P0 exp(-t/RC), closed form",
            68.07124,
            1e-4,
            decayed,
        ),
        near(
            "three-element windkessel: start of beat, mmHg",
            "exact periodic solution",
            77.655012,
            1e-3,
            n.v_ml[c][0] / 1.3,
        ),
        near("three-element windkessel: maximum, mmHg", "exact periodic solution", 126.254536, 1e-3, top),
        near("three-element windkessel: mean, mmHg", "mean flow times (Z + R)", 100.267614, 1e-3, sum),
    ]
}

fn frozen_loop() -> Vec<Row> {
    let mut n = ursino::<1>(1e-3);
    let before = n.total_ml(0);
    let (mut sys, mut dia, mut sum) = (0.0_f64, 1e9_f64, 0.0);
    let (mut edv, mut esv, mut pa_s, mut pa_d, mut cvp, mut lap, mut steps) =
        (0.0_f64, 1e9_f64, 0.0_f64, 1e9_f64, 0.0, 0.0, 0.0);
    for k in 0..83_300_u64 {
        ursino_step(&mut n, k);
        if k >= 82_467 {
            let p = n.v_ml[9][0] / 0.28;
            (sys, dia, sum, steps) = (sys.max(p), dia.min(p), sum + p, steps + 1.0);
            (edv, esv) = (edv.max(n.v_ml[LV][0]), esv.min(n.v_ml[LV][0]));
            let pa = n.v_ml[4][0] / 0.76;
            (pa_s, pa_d) = (pa_s.max(pa), pa_d.min(pa));
            cvp += (n.v_ml[RA][0] - 25.0) / 31.25;
            lap += (n.v_ml[LA][0] - 25.0) / 19.23;
        }
    }
    let by = "Ursino 1998 parameters; stiff solver of another library at 1e-6";
    vec![
        near("frozen loop, beat 100: systolic, mmHg", by, 132.175, 0.05, sys),
        near("frozen loop: diastolic, mmHg", by, 88.697, 0.05, dia),
        near("frozen loop: mean, mmHg", by, 101.074, 0.05, sum / steps),
        near("frozen loop: end-diastolic volume, ml", by, 132.623, 0.05, edv),
        near("frozen loop: end-systolic volume, ml", by, 56.994, 0.05, esv),
        near("frozen loop: pulmonary systolic, mmHg", by, 27.52, 0.05, pa_s),
        near("frozen loop: pulmonary diastolic, mmHg", by, 13.17, 0.05, pa_d),
        near("frozen loop: central venous, mmHg", by, 4.99, 0.05, cvp / steps),
        near("frozen loop: left atrial, mmHg", by, 8.03, 0.05, lap / steps),
        near(
            "frozen loop: arterial pressure after 100 beats, mmHg",
            "adaptive Tsit45 at 1e-6 (diffsol 0.18): 90.1114",
            90.1114,
            0.1,
            n.v_ml[9][0] / 0.28,
        ),
        near(
            "frozen loop: change of total volume, relative",
            "conservation",
            0.0,
            1e-9,
            n.total_ml(0) / before - 1.0,
        ),
    ]
}

fn other_loop() -> Vec<Row> {
    let mut n = regazzoni(1e-3);
    let (mut edv, mut esv, mut sys, mut dia) = (0.0_f64, 1e9_f64, 0.0_f64, 1e9_f64);
    for k in 0..8_000_u32 {
        let t = f64::from(k) * 1e-3;
        let at = |t: f64| {
            let (v, a) = regazzoni_phi(t);
            Activation { ventricles: [v], atria: [a] }
        };
        n.step(&at(t), &at(t + 0.5e-3));
        if k >= 7_200 {
            (edv, esv) = (edv.max(n.v_ml[LV][0]), esv.min(n.v_ml[LV][0]));
            let p = n.v_ml[4][0] / 1.372;
            (sys, dia) = (sys.max(p), dia.min(p));
        }
    }
    let by = "Regazzoni 2020 defaults, solved by its own package (0.4.0)";
    vec![
        near("second loop, beat 10: end-diastolic volume, ml", by, 136.84, 0.4, edv),
        near("second loop: end-systolic volume, ml", by, 66.99, 0.4, esv),
        near("second loop: systolic, mmHg", by, 118.84, 0.4, sys),
        near("second loop: diastolic, mmHg", by, 79.86, 0.4, dia),
    ]
}

/// A step of pressure runs down 40 cm of tube at 5 m/s: 80 ms to half height at a matched end.
fn wave() -> Row {
    let (cells, length_cm, speed_cm_s, area_cm2) = (32, 40.0, 500.0, 3.0);
    let rho = 1060.0 * 1e-4 / 133.322;
    let dx = length_cm / f64::from(cells);
    let (l, c) = (rho * dx / area_cm2, area_cm2 * dx / (rho * speed_cm_s * speed_cm_s));
    let mut n = Network::<1>::new(1e-4);
    let source = n.add_node(1e9, 0.0, 10.0);
    let mut last = source;
    for _ in 0..cells {
        let next = n.add_node(c, 0.0, 0.0);
        n.add_pipe(last, next, l, 1e-9);
        last = next;
    }
    let ground = n.add_node(1e12, 0.0, 0.0);
    n.add_link(last, ground, (c / l).sqrt());
    let mut ms = 0.0;
    while n.v_ml[last][0] / c < 5.0 && ms < 1000.0 {
        n.step(&STILL, &STILL);
        ms += 0.1;
    }
    near(
        "pulse over 40 cm at 5 m/s, ms",
        "length / wave speed (Moens-Korteweg); 32 cells spread the front",
        80.0,
        3.0,
        ms,
    )
}

/// A 5 mm hole from a constant 90 mmHg into a space of 20 ml/mmHg: the root of the gradient falls straight to zero.
fn tamponade() -> Vec<Row> {
    let mut n = Network::<1>::new(1e-3);
    let artery = n.add_node(1e12, 0.0, 90.0);
    let space = n.add_node(20.0, 0.0, 0.0);
    let hole = n.add_orifice();
    n.set_orifice(hole, 0, (artery, space), 1e-6, orifice_k(std::f64::consts::PI * 2.5 * 2.5), false);
    let mut first = 0.0;
    let mut half = 0.0;
    for k in 0..64_222 {
        n.step(&STILL, &STILL);
        if k == 0 {
            first = n.orifice_q_ml_s[hole][0] * 60.0;
        }
        if k == 32_110 {
            half = 90.0 - n.v_ml[space][0] / 20.0;
        }
    }
    vec![
        near("5 mm hole at 90 mmHg, ml/min", "Cd A sqrt(2 dP / rho), Cd 0.6", 3363.3, 1.0, first),
        near("gradient halfway to the stop, mmHg", "closed form: a quarter of 90", 22.5, 0.05, half),
        near(
            "blood in the space when it stops (64.222 s), ml",
            "closed form: C times 90",
            1800.0,
            0.5,
            n.v_ml[space][0],
        ),
    ]
}

/// Halving the step moves the frozen loop by what a second-order rule may.
#[test]
fn the_step_is_converged() {
    let end = |dt: f64, steps: u64| {
        let mut n = ursino::<1>(dt);
        for k in 0..steps {
            ursino_step(&mut n, k);
        }
        n.v_ml[9][0] / 0.28
    };
    let (whole, tenth) = (end(1e-3, 8_330), end(1e-4, 83_300));
    assert!((whole - tenth).abs() < 0.1, "{whole} {tenth}");
}

/// Lanes never meet: four loops stepped together have the bits of one stepped alone.
#[test]
fn lanes_keep_their_own_bits() {
    let mut one = ursino::<1>(1e-3);
    let mut four = ursino::<4>(1e-3);
    for k in 0..2_000 {
        ursino_step(&mut one, k);
        ursino_step(&mut four, k);
    }
    for (a, b) in one.v_ml.iter().zip(&four.v_ml) {
        assert!(b.iter().all(|x| x.to_bits() == a[0].to_bits()));
    }
}
