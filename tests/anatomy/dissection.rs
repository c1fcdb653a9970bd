//! A split aorta: the parts add up to the whole, and everything that leaves it still leaves from where it
//! was.

use overwire::anatomy::{AnatomySpec, SizingSheet, VesselName};

const SPLIT: &str = "(age_years: 56, ellipticity_percent: 0, dissection: Some((
    entry: past(left_subclavian, 20), end: past(right_renal, 50), entry_mm: 12, true_fraction: 0.35,
    toward: outer, winds_deg: 60, from_false: [left_renal], reentries: [(past(coeliac, -30), 5)])))";

#[test]
fn true_and_false_lumen_add_up() {
    let split: AnatomySpec = ron::from_str(SPLIT).unwrap();
    let whole = AnatomySpec { dissection: None, ..split.clone() }.build().unwrap();
    let tree = split.build().unwrap();
    let (aorta, channel) = (tree.aorta(), tree.get(VesselName::FalseLumen).unwrap());
    let septum = aorta.wall.septum.clone().unwrap();
    // Area is conserved and split as written, over the middle of the dissected stretch.
    for i in 3..8 {
        let s = septum.from_mm + (septum.to_mm - septum.from_mm) * f64::from(i) / 10.0;
        let p = aorta.curve.point(s);
        let there = channel.curve.nearest(p);
        let before = whole.aorta().curve.nearest(p);
        let (a, b) = (aorta.lumen.area_mm2(s), channel.lumen.area_mm2(there));
        let all = whole.aorta().lumen.area_mm2(before);
        assert!(((a + b) / all - 1.0).abs() < 0.05, "{a} + {b} against {all}");
        assert!((a / all - 0.35).abs() < 0.03, "{}", a / all);
        // The two centrelines lie on opposite sides of the old one.
        let q = channel.curve.point(there);
        let old = whole.aorta().curve.point(before);
        assert!((p - old).dot(q - old) < 0.0);
    }
    // Above the entry nothing has changed.
    let arch = tree.ostium_s_mm(VesselName::Innominate).unwrap();
    assert!((aorta.lumen.diameter_mm(arch) / whole.aorta().lumen.diameter_mm(arch) - 1.0).abs() < 0.01);
}

#[test]
fn branches_leave_from_where_they_were() {
    let split: AnatomySpec = ron::from_str(SPLIT).unwrap();
    let whole = AnatomySpec { dissection: None, ..split.clone() }.build().unwrap();
    let tree = split.build().unwrap();
    let place = |t: &overwire::anatomy::Tree, name| {
        let root = t.get(name).unwrap().root.unwrap();
        (root.parent, t.vessels[root.parent].curve.frame(root.s_mm))
    };
    for name in
        [VesselName::LeftSubclavian, VesselName::Coeliac, VesselName::LeftRenal, VesselName::RightRenal]
    {
        let ((_, before), (parent, after)) = (place(&whole, name), place(&tree, name));
        assert!(before.at.distance(after.at) < 12.0, "{name:?} moved by {}", before.at.distance(after.at));
        let fed = if name == VesselName::LeftRenal { VesselName::FalseLumen } else { VesselName::Aorta };
        assert_eq!(tree.vessels[parent].name, fed);
    }
    let septum = tree.aorta().wall.septum.clone().unwrap();
    assert_eq!(septum.tears.len(), 2);
    assert!((septum.tears[0].diameter_mm - 12.0).abs() < 1e-12);
    let sheet = SizingSheet::measure(&tree, 0, 80.0).unwrap();
    assert_eq!(sheet.lesion, "dissection");
    // The branch that the false lumen feeds keeps its level, so the zones stay in order.
    let ends = tree.zone_ends_mm();
    assert!(ends.windows(2).all(|w| w[1] > w[0]), "{ends:?}");
    let renal = sheet.ostia.iter().find(|o| o.vessel == VesselName::LeftRenal).unwrap();
    let before = whole.ostium_s_mm(VesselName::LeftRenal).unwrap();
    assert!(renal.from_false && (renal.s_mm - before).abs() < 8.0, "{} {before}", renal.s_mm);
    // 35 % of the area: an equal-area diameter of sqrt(0.35) of the whole, and a flat section.
    let section = tree.aorta().section(0.5 * (septum.from_mm + septum.to_mm));
    assert!(section.max_mm > 1.3 * section.min_mm);
}

#[test]
fn impossible_dissections_are_told() {
    let short = SPLIT.replace("past(right_renal, 50)", "past(left_subclavian, 50)");
    let faults = ron::from_str::<AnatomySpec>(&short).unwrap().build().unwrap_err();
    assert!(faults[0].contains("60 mm"), "{faults:?}");
    let off = SPLIT.replace("[left_renal]", "[innominate]");
    let faults = ron::from_str::<AnatomySpec>(&off).unwrap().build().unwrap_err();
    assert!(faults[0].contains("innominate"), "{faults:?}");
}
