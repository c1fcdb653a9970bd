//! What is done to vessels and heart: pacing, a balloon, covered branches, tamponade.

use super::{Row, healthy, near, row, steady, wait};
use overwire::anatomy::VesselName as V;
use overwire::circulation::{Bleed, Drug, Organ, Product, Site, Space};

/// Pacing, adenosine, balloon, covered branches, tamponade.
pub fn rows() -> Vec<Row> {
    let mut out = Vec::new();
    let base = steady(&mut healthy()).root.mean_mmhg;
    let mut c = healthy();
    c.set_pacing(Some(170.0));
    wait(&mut c, 6);
    out.push(row(
        "pacing at 170: mean pressure, mmHg",
        "Ricotta series: 42 (8) at 170 (15)",
        35.0,
        55.0,
        c.vitals().root.mean_mmhg,
    ));
    c.set_pacing(None);
    let mut s = 0.0;
    while c.vitals().root.mean_mmhg < 0.9 * base && s < 60.0 {
        c.advance_ms(100);
        s += 0.1;
    }
    out.push(row("seconds to 90 % of rest after pacing", "published 2-8 s; asked under 10", 0.5, 10.0, s));
    let mut c = healthy();
    c.give(Drug::Adenosine, 24.0);
    let mut still = 0.0;
    for _ in 0..400 {
        c.advance_ms(100);
        still += if c.vitals().heart_rate_bpm < 1.0 { 0.1 } else { 0.0 };
    }
    out.push(row(
        "ventricular standstill after adenosine 24 mg, s",
        "18.6 (6.6) s at 24-36 mg (PubMed 22045080)",
        8.0,
        26.0,
        still,
    ));
    let mut c = healthy();
    c.set_occlusion(160.0, 1.0);
    wait(&mut c, 60);
    let v = steady(&mut c);
    out.push(row(
        "balloon in the descending aorta: proximal over rest",
        "aortic clamp studies: up by a third to two thirds, from memory",
        1.2,
        1.9,
        v.root.mean_mmhg / base,
    ));
    out.push(row(
        "balloon: femoral mean, mmHg",
        "distal stump 10-30, from memory",
        8.0,
        30.0,
        v.right_femoral.mean_mmhg,
    ));
    c.set_occlusion(160.0, 0.0);
    wait(&mut c, 60);
    out.push(near(
        "a minute after the balloon: mean over rest",
        "back with the vessel open",
        1.0,
        0.12,
        steady(&mut c).root.mean_mmhg / base,
    ));
    let mut c = healthy();
    c.set_patency(V::LeftSubclavian, 0.0);
    wait(&mut c, 60);
    let v = steady(&mut c);
    out.push(row(
        "left subclavian covered: left arm over right, mean",
        "fed by collaterals: half to nine tenths, common practice",
        0.5,
        0.9,
        v.left_radial.mean_mmhg / v.right_radial.mean_mmhg,
    ));
    out.push(row(
        "left subclavian covered: left vertebral, ml/s",
        "reverses (subclavian steal)",
        -6.0,
        -0.3,
        c.flow_ml_s(V::LeftVertebral),
    ));
    let mut c = healthy();
    c.set_patency(V::Coeliac, 0.0);
    wait(&mut c, 60);
    out.push(row(
        "coeliac covered: liver's delivery over rest",
        "fed by the pancreatic arcade and the portal vein, common practice",
        0.5,
        0.95,
        c.organs().of(Organ::Liver).delivery,
    ));
    let mut c = healthy();
    let tear = Bleed { from: Site::AortaMm(10.0), into: Space::PericardialSac, area_mm2: 0.3, clots: false };
    c.set_bleed("tear", tear);
    while c.lost_ml(Space::PericardialSac) < 250.0 && c.t_ms() < 1_500_000 {
        c.advance_ms(500);
    }
    c.remove_bleed("tear");
    wait(&mut c, 60);
    let v = steady(&mut c);
    out.push(row(
        "250 ml in the pericardium: central venous over rest, mmHg",
        "acute tamponade raises it, textbook",
        3.0,
        15.0,
        v.cvp_mmhg - steady(&mut healthy()).cvp_mmhg,
    ));
    out.push(row(
        "250 ml in the pericardium: output, l/min",
        "acute tamponade halves it or worse, textbook",
        1.0,
        4.0,
        v.output_l_min,
    ));
    // Trauma patients who got 13 l of Ringer's in a day had a bladder pressure above 20 mmHg twice as often as those with 7 l, 42 against
    // 20 % (Balogh, Arch Surg 2003;138:637, from memory). A bladder reads 5 to 7 mmHg at rest and is high from 12 (WSACS 2013).
    for (what, ml, low, high) in [
        ("7 l of crystalloid in a day: bladder, mmHg", 7000.0, 6.0, 14.0),
        ("13 l of crystalloid in a day: bladder, mmHg", 13000.0, 12.0, 25.0),
    ] {
        let mut c = healthy();
        c.transfuse_over(Product::Crystalloid, ml, 1440.0);
        c.advance_long(86_400.0);
        out.push(row(what, "Balogh 2003; WSACS 2013", low, high, c.bladder_mmhg()));
    }
    out
}
