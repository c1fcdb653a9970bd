//! Blood lost, by class, and given back.

use super::{Row, healthy, near, row, steady, wait};
use overwire::anatomy::VesselName as V;
use overwire::circulation::{Bleed, Circulation, Patient, Product, Site, Space, Test};

/// Haemorrhage classes at 10, 20, 35 and 45 % of the blood, lost over ten minutes, read five minutes later.
pub fn rows() -> Vec<Row> {
    let blood = Patient::default().blood_volume_ml();
    let base = steady(&mut healthy());
    let mut seen = Vec::new();
    let mut returned = 0.0;
    for part in [0.10, 0.20, 0.35, 0.45] {
        let mut c = healthy();
        bleed(&mut c, part * blood, 600);
        wait(&mut c, 290);
        let v = steady(&mut c);
        seen.push((v, c.lab(Test::BaseExcess)));
        if part == 0.35 {
            returned = restore(&mut c, part * blood);
        }
    }
    let acs = "haemorrhage classes, American College of Surgeons table; a teaching scale";
    let v = |i: usize| seen[i].0;
    let pulse = |i: usize| v(i).right_radial.pulse_mmhg();
    vec![
        row("class I: heart rate", acs, 60.0, 100.0, v(0).heart_rate_bpm),
        row("class II: heart rate", acs, 100.0, 120.0, v(1).heart_rate_bpm),
        row("class III: heart rate", acs, 120.0, 140.0, v(2).heart_rate_bpm),
        row("class IV: heart rate", acs, 140.0, 185.0, v(3).heart_rate_bpm),
        row("class I: systolic, mmHg (normal)", acs, 110.0, 140.0, v(0).right_radial.systolic_mmhg),
        row("class II: systolic, mmHg (normal)", acs, 100.0, 140.0, v(1).right_radial.systolic_mmhg),
        row("class III: systolic, mmHg (down)", acs, 70.0, 105.0, v(2).right_radial.systolic_mmhg),
        row("class IV: systolic, mmHg (down)", acs, 40.0, 90.0, v(3).right_radial.systolic_mmhg),
        row(
            "class II: pulse pressure over rest (down)",
            acs,
            0.4,
            0.97,
            pulse(1) / base.right_radial.pulse_mmhg(),
        ),
        row("class III over class II pulse pressure", acs, 0.3, 0.97, pulse(2) / pulse(1)),
        row("class IV over class III pulse pressure", acs, 0.3, 0.97, pulse(3) / pulse(2)),
        row("class I: urine, ml/h", acs, 30.0, 90.0, v(0).urine_ml_h),
        row("class II: urine, ml/h", acs, 20.0, 30.0, v(1).urine_ml_h),
        row("class III: urine, ml/h", acs, 5.0, 15.0, v(2).urine_ml_h),
        row("class IV: urine, ml/h", acs, 0.0, 4.0, v(3).urine_ml_h),
        row("class I: breaths a minute", acs, 14.0, 20.0, v(0).breaths_per_min),
        row("class II: breaths a minute", acs, 20.0, 30.0, v(1).breaths_per_min),
        row("class III: breaths a minute", acs, 30.0, 40.0, v(2).breaths_per_min),
        row("class IV: breaths a minute (above 35)", acs, 35.0, 45.0, v(3).breaths_per_min),
        row("class IV: base excess below class III's, mmol/l", acs, 0.5, 12.0, seen[2].1 - seen[3].1),
        near(
            "class III given back as whole blood: mean pressure over rest",
            "transfusion restores",
            1.0,
            0.1,
            returned / base.root.mean_mmhg,
        ),
    ]
}

fn bleed(c: &mut Circulation, ml: f64, seconds: u32) {
    let mut area = 3.0;
    for k in 0..seconds {
        let due = ml * f64::from(k + 1) / f64::from(seconds) - c.lost_ml(Space::Outside);
        area = (0.7 * area + 0.2 * due.max(0.0)).clamp(0.0, 30.0);
        let hole = Bleed {
            from: Site::Vessel(V::RightExternalIliac),
            into: Space::Outside,
            area_mm2: area,
            clots: false,
        };
        assert!(c.set_bleed("line", hole));
        wait(c, 1);
    }
    c.remove_bleed("line");
}

fn restore(c: &mut Circulation, ml: f64) -> f64 {
    c.transfuse(Product::WholeBlood, ml);
    wait(c, 600);
    steady(c).root.mean_mmhg
}
