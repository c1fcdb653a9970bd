//! The case's first moment: the stated loss is kept, the stated pressure is met by how well the patient compensates.

use super::{Row, near, row, steady, wait};
use overwire::circulation::{Circulation, Layout, Organ, Patient, Product, Space, Start, Test};

/// A woman of 74 with a contained rupture: 900 of 4000 ml lost twenty minutes ago.
fn ruptured(sbp_mmhg: Option<f64>, heart_rate_bpm: Option<f64>, lost_ml: f64) -> Circulation {
    let patient = Patient {
        age_years: 74.0,
        male: false,
        mass_kg: 62.0,
        height_cm: 160.0,
        map_rest_mmhg: 100.0,
        haemoglobin_g_l: 112.0,
        ..Patient::default()
    };
    let lost_ml = vec![(Space::LeftPleura, lost_ml)];
    let start = Start { sbp_mmhg, heart_rate_bpm, lost_ml, minutes_since: 20.0, ..Start::default() };
    let mut c = Circulation::new(&patient, &Layout::adult(), &start);
    c.set_tracing(false);
    c
}

pub fn rows() -> Vec<Row> {
    let mut c = ruptured(Some(92.0), Some(108.0), 900.0);
    let unmet = c.start_doubts().len();
    let lost = c.lost_ml(Space::LeftPleura);
    let lactate = c.lab(Test::Lactate);
    let v = steady(&mut c);
    let asked = "what the case asks for";
    let by = "class II to III: output down, lactate 2-4 mmol/l; common practice";
    let mut out = vec![
        near(
            "92 systolic, 108 a minute, 900 ml lost: systolic, mmHg",
            asked,
            92.0,
            8.0,
            v.right_radial.systolic_mmhg,
        ),
        near("the same: rate", asked, 108.0, 6.0, v.heart_rate_bpm),
        near("the same: blood in the pleura, ml", asked, 900.0, 1e-6, lost),
        near("the same: doubts", asked, 0.0, 0.0, unmet as f64),
        row("the same: output, l/min", by, 2.3, 3.8, v.output_l_min),
        row("the same: lactate, mmol/l", by, 1.8, 4.2, lactate),
        row(
            "the same: brain's oxygen over rest",
            "she talks: a brain above two thirds of its flow, textbook",
            0.67,
            1.3,
            c.organs().of(Organ::LeftBrain).delivery,
        ),
    ];
    wait(&mut c, 300);
    let later = steady(&mut c).right_radial.systolic_mmhg;
    out.push(near(
        "the same, five minutes later without bleeding: systolic, mmHg",
        "a start is no transient",
        92.0,
        14.0,
        later,
    ));
    c.transfuse(Product::WholeBlood, 900.0);
    wait(&mut c, 900);
    let given = steady(&mut c).right_radial.systolic_mmhg;
    out.push(row("the same, blood given back: systolic, mmHg", "transfusion restores", 110.0, 150.0, given));
    let mut c = ruptured(Some(100.0), None, 600.0);
    out.push(near(
        "100 systolic, 600 ml lost: systolic, mmHg",
        asked,
        100.0,
        8.0,
        steady(&mut c).right_radial.systolic_mmhg,
    ));
    // Nobody has 200 systolic with half of the blood gone.
    let impossible = ruptured(Some(130.0), None, 1900.0).start_doubts().len();
    out.push(near(
        "130 systolic with 1900 of 4000 ml lost: doubts",
        "cannot be, and is said",
        1.0,
        0.0,
        impossible as f64,
    ));
    out
}

/// Every start ends, whatever is asked, and says what it could not meet.
#[test]
fn no_start_runs_for_ever() {
    for sbp in [None, Some(45.0), Some(100.0), Some(240.0), Some(f64::NAN), Some(-1e9)] {
        for lost in [0.0, 600.0, 3000.0, f64::INFINITY] {
            let c = ruptured(sbp, Some(70.0), lost);
            assert_eq!(c.fault(), None, "{sbp:?} {lost}");
            assert!(c.ledger_error_ml().abs() < 1e-6, "{sbp:?} {lost}");
        }
    }
}
