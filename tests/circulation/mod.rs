//! Checks of `circulation` against closed forms, independent solvers and published bands.

mod accounts;
mod clot;
mod drugs;
mod engine;
mod gallery;
mod haemorrhage;
mod interventions;
mod loops;
mod orders;
mod reference;
mod rest;
mod starts;

use std::sync::OnceLock;

use overwire::circulation::{Circulation, Layout, Patient, Start, Vitals};

/// One line of the reference page.
pub struct Row {
    what: &'static str,
    source: &'static str,
    low: f64,
    high: f64,
    got: f64,
}

/// A check: what, by whom, and the band that it must fall in.
pub fn row(what: &'static str, source: &'static str, low: f64, high: f64, got: f64) -> Row {
    Row { what, source, low, high, got }
}

/// The same, as a value with a tolerance.
pub fn near(what: &'static str, source: &'static str, want: f64, tolerance: f64, got: f64) -> Row {
    Row { what, source, low: want - tolerance, high: want + tolerance, got }
}

/// A healthy man of 50 at rest, settled once for all checks.
pub fn healthy() -> Circulation {
    static HEALTHY: OnceLock<Circulation> = OnceLock::new();
    let c =
        HEALTHY.get_or_init(|| Circulation::new(&Patient::default(), &Layout::adult(), &Start::default()));
    let mut c = c.clone();
    c.set_tracing(false);
    c
}

/// Lets some seconds pass.
pub fn wait(c: &mut Circulation, seconds: u32) {
    c.advance_ms(seconds * 1000);
}

/// Means over half a minute of beats: a breath moves every single one.
pub fn steady(c: &mut Circulation) -> Vitals {
    let mut mean = Vitals::default();
    let n = 150;
    for _ in 0..n {
        c.advance_ms(200);
        let v = *c.vitals();
        let add = |to: &mut f64, x: f64| *to += x / f64::from(n);
        add(&mut mean.heart_rate_bpm, v.heart_rate_bpm);
        add(&mut mean.output_l_min, v.output_l_min);
        add(&mut mean.stroke_ml, v.stroke_ml);
        add(&mut mean.cvp_mmhg, v.cvp_mmhg);
        add(&mut mean.left_atrial_mmhg, v.left_atrial_mmhg);
        add(&mut mean.dp_dt_mmhg_s, v.dp_dt_mmhg_s);
        add(&mut mean.urine_ml_h, v.urine_ml_h);
        add(&mut mean.breaths_per_min, v.breaths_per_min);
        for (to, x) in [
            (&mut mean.root, v.root),
            (&mut mean.right_radial, v.right_radial),
            (&mut mean.left_radial, v.left_radial),
            (&mut mean.right_femoral, v.right_femoral),
        ] {
            to.systolic_mmhg += x.systolic_mmhg / f64::from(n);
            to.diastolic_mmhg += x.diastolic_mmhg / f64::from(n);
            to.mean_mmhg += x.mean_mmhg / f64::from(n);
        }
    }
    mean
}
