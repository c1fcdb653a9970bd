//! Clot: what closes by itself, what does not, and what opens again.

use super::{Row, healthy, row, wait};
use overwire::circulation::{
    Bleed, Circulation, Drug, Feed, Layout, Patient, Product, Sac, Site, Space, Start,
};

fn torn(mut c: Circulation, area_mm2: f64) -> Circulation {
    c.set_bleed("tear", Bleed { from: Site::AortaMm(300.0), into: Space::Outside, area_mm2, clots: true });
    c
}

fn ml_min(c: &Circulation) -> f64 {
    c.bleed_ml_s("tear").map_or(0.0, |b| 60.0 * b.0)
}

/// Minutes until a tear runs with less than 0.3 ml/min; 240 if it does not.
fn minutes_to_stop(c: &mut Circulation) -> f64 {
    for minute in 1..=240 {
        c.advance_long(60.0);
        if ml_min(c) < 0.3 {
            return f64::from(minute);
        }
    }
    240.0
}

fn with(p: Patient) -> Circulation {
    let mut c = Circulation::new(&p, &Layout::adult(), &Start::default());
    c.set_tracing(false);
    c
}

pub fn rows() -> Vec<Row> {
    let mut out = Vec::new();
    let small = "an arterial needle hole stops within minutes of pressure; assumed: 5 to 60 unpressed";
    let mut c = torn(healthy(), 0.05);
    wait(&mut c, 10);
    out.push(row("0.05 mm2 of aorta: first flow, ml/min", "Cd A sqrt(2 dP / rho)", 5.0, 12.0, ml_min(&c)));
    out.push(row("the same: minutes until it stops", small, 5.0, 60.0, minutes_to_stop(&mut c)));
    let wide = "a wall hole under pressure does not close by itself, common practice";
    for (what, area) in
        [("0.3 mm2 of aorta: flow after an hour over the first", 0.3), ("1 mm2, after ten minutes", 1.0)]
    {
        let mut c = torn(healthy(), area);
        wait(&mut c, 10);
        let first = ml_min(&c);
        c.advance_long(if area < 0.5 { 3600.0 } else { 600.0 });
        out.push(row(what, wide, 0.4, 1.1, ml_min(&c) / first));
    }
    let fails =
        "heparin, cold, acid and dilution: clot fails (trauma guideline); assumed: not within four hours";
    let mut c = torn(healthy(), 0.05);
    c.give(Drug::Heparin, 7500.0);
    c.infuse(Drug::Heparin, 1500.0);
    out.push(row(
        "0.05 mm2 under heparin: minutes until it stops",
        fails,
        240.0,
        240.0,
        minutes_to_stop(&mut c),
    ));
    let mut c = torn(with(Patient { temperature_c: 32.0, clotting: 0.5, ..Patient::default() }), 0.05);
    out.push(row("0.05 mm2 at 32 C, clotting halved: minutes", fails, 240.0, 240.0, minutes_to_stop(&mut c)));
    out.extend(residual());
    out.extend(permissive());
    out
}

/// What a sealed graft's last gap lets into a torn sac.
fn residual() -> Vec<Row> {
    let mut c = healthy();
    let feeds = vec![Feed { from: Site::AortaMm(200.0), r: 700.0, k: 1.0 }];
    let rupture = Some((0.2, Space::Mediastinum));
    c.set_sac("sac", &Sac { feeds, compliance_ml_mmhg: 0.5, rupture, clots: true });
    c.advance_long(3600.0);
    let hour = c.lost_ml(Space::Mediastinum);
    let flow = c.bleed_ml_s("sac").map_or(0.0, |b| 60.0 * b.0);
    c.advance_long(71.0 * 3600.0);
    let days = c.lost_ml(Space::Mediastinum) + c.lost_ml(Space::LeftPleura) - hour;
    let by = "assumed: a few ml/min through a sealed graft stop within the hour and stay stopped";
    vec![
        row("a gap of 700 mmHg s/ml into a torn sac: ml/min after an hour", by, 0.0, 0.5, flow),
        row("the same: ml lost in the 71 hours after", by, -1.0, 10.0, days),
    ]
}

/// A tear that low pressure lets clot, and a high one opens again.
fn permissive() -> Vec<Row> {
    let mut c = healthy();
    c.infuse(Drug::Nitroprusside, 4.0);
    wait(&mut c, 300);
    let mut c = torn(c, 0.2);
    let low = minutes_to_stop(&mut c);
    let at = c.vitals().root.mean_mmhg;
    c.infuse(Drug::Nitroprusside, 0.0);
    c.infuse(Drug::Noradrenaline, 0.5);
    c.transfuse(Product::WholeBlood, 600.0);
    c.advance_long(900.0);
    let by =
        "swine aortotomies stop at low pressure and re-bleed at a mean of 64 mmHg (Sondeen, J Trauma 2003)";
    vec![
        row("0.2 mm2 at a low pressure: that pressure, mmHg", "nitroprusside 4 ug/kg/min", 40.0, 68.0, at),
        row("the same: minutes until it stops", by, 5.0, 90.0, low),
        row("then noradrenaline and blood: ml/min a quarter of an hour later", by, 10.0, 60.0, ml_min(&c)),
    ]
}
