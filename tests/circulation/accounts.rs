//! Ledgers: blood, cord perfusion, debt, oxygen, and the long step against the short one.

use super::{Row, healthy, near, row, steady, wait};
use overwire::anatomy::VesselName as V;
use overwire::circulation::{
    Anaesthesia, Bleed, Circulation, Drug, Layout, Organ, Patient, Product, Site, Space, Start, Test,
};

/// Ledger, cord, long step.
pub fn rows() -> Vec<Row> {
    let mut c = healthy();
    everything(&mut c);
    wait(&mut c, 3600);
    let mut out = vec![near(
        "one hour with every treatment: blood not accounted for, relative",
        "conservation",
        0.0,
        1e-9,
        c.ledger_error_ml() / Patient::default().blood_volume_ml(),
    )];
    let o = c.organs();
    let cord = c.cord_artery_mmhg() - o.csf_mmhg.max(c.vitals().cvp_mmhg) - o.cord_perfusion_mmhg;
    out.push(near(
        "cord perfusion less (artery - higher of CSF and vein), mmHg",
        "arithmetic of spinal cord perfusion pressure",
        0.0,
        1.5,
        cord,
    ));
    let mut c = healthy();
    let before = c.organs().of(Organ::Cord).delivery;
    c.set_segmental_cover(&[(140.0, 330.0)]);
    c.set_patency(V::LeftSubclavian, 0.0);
    wait(&mut c, 120);
    let covered = c.organs().of(Organ::Cord).delivery;
    out.push(row(
        "cord delivery with a long cover and the subclavian lost, over before",
        "collateral network: falls, seldom to nothing (Griepp and Griepp 2010)",
        0.3,
        0.85,
        covered / before,
    ));
    out.extend(long_step());
    out
}

/// The long step against the short one: thirty minutes of a bleed that takes a third of the blood, in one call and by the minute
/// as on the ward, and an ooze with treatment.
fn long_step() -> Vec<Row> {
    let run = |area_mm2: f64, treated: bool, call_s: Option<f64>| {
        let mut c = healthy();
        let hole = Bleed { from: Site::AortaMm(300.0), into: Space::Retroperitoneum, area_mm2, clots: false };
        c.set_bleed("tear", hole);
        if treated {
            c.transfuse_over(Product::Crystalloid, 500.0, 30.0);
            c.infuse(Drug::Noradrenaline, 0.03);
        }
        match call_s {
            Some(s) => (0..(1800.0 / s) as u32).for_each(|_| c.advance_long(s)),
            None => wait(&mut c, 1800),
        }
        let lost = c.lost_ml(Space::Retroperitoneum);
        let hb = c.lab(Test::Haemoglobin);
        (steady(&mut c), lost, hb)
    };
    let by = "our own 1 kHz step over the same 30 minutes";
    let mut out = Vec::new();
    let short = run(0.4, false, None);
    for call_s in [1800.0, 60.0] {
        let long = run(0.4, false, Some(call_s));
        out.extend([
            near("long step, open tear: blood lost, ratio", by, 1.0, 0.02, long.1 / short.1),
            near(
                "long step, open tear: mean pressure, difference, mmHg",
                by,
                0.0,
                3.0,
                long.0.root.mean_mmhg - short.0.root.mean_mmhg,
            ),
            near(
                "long step, open tear: heart rate, difference",
                by,
                0.0,
                4.0,
                long.0.heart_rate_bpm - short.0.heart_rate_bpm,
            ),
        ]);
    }
    let (short, long) = (run(0.15, true, None), run(0.15, true, Some(1800.0)));
    out.extend([
        near("long step, ooze treated: blood lost, ratio", by, 1.0, 0.02, long.1 / short.1),
        near(
            "long step, ooze treated: mean pressure, difference, mmHg",
            by,
            0.0,
            3.0,
            long.0.root.mean_mmhg - short.0.root.mean_mmhg,
        ),
        near("long step, ooze treated: haemoglobin, ratio", by, 1.0, 0.02, long.2 / short.2),
    ]);
    out
}

/// Every kind of treatment at once.
fn everything(c: &mut Circulation) {
    c.set_bleed(
        "a",
        Bleed { from: Site::AortaMm(300.0), into: Space::Retroperitoneum, area_mm2: 1.0, clots: true },
    );
    c.set_bleed("b", Bleed { from: Site::Veins, into: Space::Peritoneum, area_mm2: 3.0, clots: true });
    for (i, p) in Product::ALL.into_iter().enumerate() {
        c.transfuse_over(p, 150.0 + 30.0 * i as f64, 40.0);
    }
    c.set_anaesthesia(Anaesthesia::General(0.6));
    c.set_csf_drain(Some(8.0), None);
    c.set_warming(true);
    c.set_occlusion(200.0, 0.5);
    c.set_patency(V::LeftRenal, 0.3);
    for d in [Drug::Noradrenaline, Drug::Dobutamine, Drug::Esmolol, Drug::Nicardipine] {
        c.infuse(d, 0.5);
    }
    for d in [Drug::Heparin, Drug::Furosemide, Drug::TranexamicAcid, Drug::Contrast, Drug::CalciumChloride] {
        c.give(d, 40.0);
    }
}

/// An adult makes about half a litre of spinal fluid a day, 0.35 mL a minute, 21 mL an hour (physiology textbooks): an open drain that
/// hangs below where uptake ends takes all of that and no more, once the first millilitres are out; a cap on the hour holds; a
/// clamped drain lets the pressure come back.
#[test]
fn a_drain_takes_what_is_made_and_a_cap_holds() {
    let mut c = healthy();
    let hour = |c: &mut Circulation| {
        let before = c.csf_drained_ml();
        c.advance_long(3600.0);
        c.csf_drained_ml() - before
    };
    let rest = c.organs().csf_mmhg;
    c.set_csf_drain(Some(0.0), None);
    let first = hour(&mut c);
    let second = hour(&mut c);
    assert!(first > second + 5.0 && (second - 21.0).abs() < 1.0, "{first} {second}");
    c.set_csf_drain(Some(0.0), Some(15.0));
    let capped = hour(&mut c);
    assert!((capped - 15.0).abs() < 0.5, "{capped}");
    c.set_csf_drain(None, None);
    assert_eq!(hour(&mut c), 0.0);
    hour(&mut c);
    assert!((c.organs().csf_mmhg - rest).abs() < 1.5, "{} {rest}", c.organs().csf_mmhg);
}

/// Debt is linear in time at constant flow and monotone in flow.
#[test]
fn debt_is_linear_and_monotone() {
    use overwire::circulation::Blood;
    use overwire::circulation::organs::Organs;
    use overwire::circulation::territory::BEDS;
    let p = Patient::default();
    let debt = |flow: f64, seconds: u32| {
        let rest = [1.0; BEDS];
        let mut o = Organs::new(&rest, 0.2, 80.0, 90.0, 75.0, 10.0);
        let mut blood = Blood::new(&p, 5000.0);
        for _ in 0..seconds {
            o.step(&[flow; BEDS], 0.2, 1.0, 1.0, &mut blood, 1.0);
        }
        o.of(Organ::Gut).debt
    };
    let (one, two) = (debt(0.1, 600), debt(0.1, 1200));
    assert!(one > 0.0 && (two / one - 2.0).abs() < 0.02, "{one} {two}");
    assert!(debt(0.0, 600) > one && one > debt(0.3, 600));
}

/// Oxygen delivery: 5 l/min, 150 g/l, saturation 0.98, 100 mmHg carry 999.9 ml/min (arithmetic, 1.34 ml/g and
/// 0.003 ml/dl/mmHg).
#[test]
fn oxygen_content_is_the_textbook_sum() {
    let mut b = overwire::circulation::breathing::Breathing::new(30.0);
    b.pao2_mmhg = 100.0;
    let s = b.saturation();
    let content = b.content(150.0) * 5000.0;
    assert!(
        (content - (1.34 * 150.0 * s + 0.03 * 100.0) * 5.0).abs() < 1e-9 && (content - 999.9).abs() < 8.0,
        "{content}"
    );
}

/// A crushed pelvis dissolves clot and fibrinogen with it; tranexamic acid keeps most of it (fibrinogen is the first factor to fall in
/// trauma with shock: Hayakawa, J Intensive Care 2017; fewer bleed to death with it, the sooner the fewer: CRASH-2, Lancet 2010; both from
/// memory). Half in four hours at a lysis of 1 is assumed.
#[test]
fn plasmin_takes_fibrinogen_and_tranexamic_acid_keeps_it() {
    let patient = Patient { fibrinolysis: 0.9, ..Patient::default() };
    let after_2_h = |acid_mg: f64, patient: &Patient| {
        let mut c = Circulation::new(patient, &Layout::adult(), &Start::default());
        let before = c.lab(Test::Fibrinogen);
        c.give(Drug::TranexamicAcid, acid_mg);
        c.advance_long(7200.0);
        c.lab(Test::Fibrinogen) / before
    };
    let (without, with, well) =
        (after_2_h(0.0, &patient), after_2_h(1000.0, &patient), after_2_h(0.0, &Patient::default()));
    // The integral of 0.8 / 2^h over two hours is 0.87 h: two to the minus 0.22.
    assert!((without - 0.86).abs() < 0.03, "{without}");
    assert!(with > without + 0.06 && with < well + 0.01, "{with} {without} {well}");
    assert!((well - 1.0).abs() < 0.05, "{well}");
}
