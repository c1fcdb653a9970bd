//! Drugs against the published change at the published dose.

use super::{Row, healthy, near, row, steady, wait};
use overwire::circulation::{Anaesthesia, Circulation, Drug, Layout, Patient, Start, Test};

/// Drugs and blood.
pub fn rows() -> Vec<Row> {
    let mut out = Vec::new();
    let base = steady(&mut healthy());
    let after = |setup: &dyn Fn(&mut Circulation), seconds: u32| {
        let mut c = healthy();
        setup(&mut c);
        wait(&mut c, seconds - 5);
        steady(&mut c)
    };
    // Asleep, as the patients of the study were: a waking baroreflex hides most of it.
    let mut c = healthy();
    c.set_anaesthesia(Anaesthesia::General(0.8));
    wait(&mut c, 900);
    let asleep = steady(&mut c);
    c.give(Drug::Ephedrine, 7.5);
    wait(&mut c, 285);
    let v = steady(&mut c);
    let by = "ephedrine 0.1 mg/kg at 5 min: MAP +8.3 mmHg, output +7.4 % (BMC Anesthesiol 2023)";
    out.push(row("ephedrine: mean pressure, mmHg", by, 4.0, 13.0, v.root.mean_mmhg - asleep.root.mean_mmhg));
    out.push(row(
        "ephedrine: output, %",
        by,
        3.0,
        14.0,
        (v.output_l_min / asleep.output_l_min - 1.0) * 100.0,
    ));
    let v = after(&|c| c.infuse(Drug::Noradrenaline, 0.1), 600);
    out.push(row(
        "noradrenaline 0.1 ug/kg/min: mean pressure, mmHg",
        "common practice: plus 10-30",
        8.0,
        30.0,
        v.root.mean_mmhg - base.root.mean_mmhg,
    ));
    let v = after(
        &|c| {
            c.give(Drug::Propofol, 150.0);
            c.set_anaesthesia(Anaesthesia::General(0.8));
        },
        240,
    );
    out.push(row(
        "induction of anaesthesia: mean pressure over rest",
        "falls by 20-35 %, common practice",
        0.6,
        0.85,
        v.root.mean_mmhg / base.root.mean_mmhg,
    ));
    // Dissection: the beta-blocker first against the vasodilator first.
    let hypertensive = Patient { age_years: 56.0, mass_kg: 88.0, map_rest_mmhg: 108.0, ..Patient::default() };
    let start = Start { sbp_mmhg: Some(188.0), heart_rate_bpm: Some(104.0), ..Start::default() };
    let mut found = Circulation::new(&hypertensive, &Layout::adult(), &start);
    found.set_tracing(false);
    let v0 = steady(&mut found);
    out.push(near(
        "dissection: systolic at the start, mmHg",
        "what the case asks for",
        188.0,
        12.0,
        v0.right_radial.systolic_mmhg,
    ));
    out.push(near("dissection: rate at the start", "what the case asks for", 104.0, 6.0, v0.heart_rate_bpm));
    out.extend(esmolol_by_dose(&found));
    let mut beta = found.clone();
    beta.give(Drug::Esmolol, 88.0);
    beta.infuse(Drug::Esmolol, 200.0);
    wait(&mut beta, 600);
    let b = steady(&mut beta);
    let mut dilator = found.clone();
    dilator.infuse(Drug::Nicardipine, 15.0);
    wait(&mut dilator, 900);
    let d = steady(&mut dilator);
    let by = "anti-impulse therapy: beta-blocker first, or reflex tachycardia (ACC/AHA 2022)";
    out.push(row("esmolol first: rate, change", by, -45.0, -12.0, b.heart_rate_bpm - v0.heart_rate_bpm));
    out.push(row("esmolol first: dP/dt, ratio", by, 0.5, 0.9, b.dp_dt_mmhg_s / v0.dp_dt_mmhg_s));
    out.push(row("vasodilator first: rate, change", by, 2.0, 30.0, d.heart_rate_bpm - v0.heart_rate_bpm));
    out.push(row("vasodilator first: dP/dt over esmolol's", by, 1.1, 2.0, d.dp_dt_mmhg_s / b.dp_dt_mmhg_s));
    out.push(row(
        "vasodilator first: systolic, change, mmHg",
        by,
        -70.0,
        -8.0,
        d.right_radial.systolic_mmhg - v0.right_radial.systolic_mmhg,
    ));
    // Heparin.
    let eighty = Patient { mass_kg: 80.0, ..Patient::default() };
    let mut c = Circulation::new(&eighty, &Layout::adult(), &Start::default());
    let by = "Amsterdam activated clotting time studies: 5000 IU 197 (31) s; 100 IU/kg 227 (37) s";
    out.push(near(
        "activated clotting time at rest, s",
        "134-138 (17), same studies",
        136.0,
        17.0,
        c.lab(Test::Act),
    ));
    c.give(Drug::Heparin, 5000.0);
    wait(&mut c, 300);
    out.push(near("after heparin 5000 IU at 80 kg, s", by, 197.0, 31.0, c.lab(Test::Act)));
    c.give(Drug::Heparin, 3000.0);
    wait(&mut c, 300);
    out.push(near("after 100 IU/kg, s", by, 227.0, 37.0, c.lab(Test::Act)));
    c.give(Drug::Protamine, 80.0);
    wait(&mut c, 300);
    out.push(near(
        "after protamine 1 mg per 100 IU, s",
        "back to rest, common practice",
        136.0,
        12.0,
        c.lab(Test::Act),
    ));
    out
}

/// Half an hour of esmolol by dose, and a hand that turns the pump toward a rate of 60 beside a vasodilator.
fn esmolol_by_dose(found: &Circulation) -> Vec<Row> {
    let at = |dose: f64| {
        let mut c = found.clone();
        c.infuse(Drug::Esmolol, dose);
        wait(&mut c, 1800);
        let v = steady(&mut c);
        (v.heart_rate_bpm, v.dp_dt_mmhg_s)
    };
    let (none, low, high) = (at(0.0), at(100.0), at(200.0));
    let fall = |now: f64, without: f64| (now / without - 1.0) * 100.0;
    let by = "rate falls by 15-25 % at 100-200 ug/kg/min; four in five come below 80, one in four below 60 (esmolol series)";
    let force = "dP/dt falls by 10-30 % in man, from memory";
    let mut c = found.clone();
    c.give(Drug::Fentanyl, 150.0);
    c.infuse(Drug::Esmolol, 250.0);
    c.infuse(Drug::Clevidipine, 10.0);
    let mut lowest = 999.0_f64;
    for _ in 0..180 {
        wait(&mut c, 10);
        lowest = lowest.min(c.vitals().heart_rate_bpm);
    }
    vec![
        row("esmolol 100 ug/kg/min at a rate of 104: rate, %", by, -25.0, -15.0, fall(low.0, none.0)),
        row("esmolol 200 ug/kg/min: rate, %", by, -28.0, -17.0, fall(high.0, none.0)),
        row("esmolol 100 ug/kg/min: dP/dt, %", force, -30.0, -10.0, fall(low.1, none.1)),
        row("esmolol 200 ug/kg/min: dP/dt, %", force, -35.0, -12.0, fall(high.1, none.1)),
        row("esmolol 250 with clevidipine and fentanyl: rate", by, 55.0, 78.0, steady(&mut c).heart_rate_bpm),
        row(
            "the same: the lowest rate in half an hour",
            "no overdose: it slows, it does not stop",
            50.0,
            78.0,
            lowest,
        ),
    ]
}
