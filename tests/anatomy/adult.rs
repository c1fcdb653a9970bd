//! The default adult against published calibres and lengths.

use overwire::anatomy::{AnatomySpec, Landmark, Rail, Sex, Site, Tree, VesselName, Zone, normal};

fn adult(age_years: f64, sex: Sex) -> Tree {
    AnatomySpec { age_years, sex, ..AnatomySpec::default() }.build().unwrap()
}

/// Mean of both sexes at the tables' middle age.
fn mean_mm(landmark: Landmark) -> f64 {
    0.5 * (normal::aorta_mm(landmark, 50.0, Sex::Male) + normal::aorta_mm(landmark, 50.0, Sex::Female))
}

/// Hager et al., J Thorac Cardiovasc Surg 123:1060, 2002 (n = 70) and Lee et al., J Korean Soc Radiol 69:105,
/// 2013 (n = 300): every level within one standard deviation of the published mean.
#[test]
fn calibres_match_hager_and_lee() {
    use Landmark::*;
    let published = [
        (Sinus, 29.8, 4.6),
        (Ascending, 30.9, 4.1),
        (PreInnominate, 29.4, 4.2),
        (ProximalArch, 27.7, 3.7),
        (DistalArch, 26.1, 4.1),
        (Isthmus, 24.7, 4.0),
        (Diaphragm, 24.3, 3.5),
        (Ascending, 29.9, 5.7),
        (ProximalArch, 25.4, 3.5),
        (Isthmus, 23.6, 3.5),
        (MidDescending, 22.3, 3.7),
        (Diaphragm, 21.7, 3.8),
        (Coeliac, 21.0, 3.5),
        (Suprarenal, 19.4, 3.6),
        (Bifurcation, 15.8, 2.4),
    ];
    for (landmark, mean, sd) in published {
        let ours = mean_mm(landmark);
        assert!((ours - mean).abs() <= sd, "{landmark:?}: {ours:.1} against {mean} +- {sd}");
    }
}

/// Rogers et al., Am J Cardiol 111:1510, 2013 (n = 3431) by sex, and Joh et al. 2012 (n = 1218): within 2 mm,
/// about half a standard deviation of either; women narrower at every level.
#[test]
fn calibres_match_rogers_and_joh() {
    use Landmark::*;
    let published = [
        (Ascending, 34.1, 31.9),
        (MidDescending, 25.8, 23.1),
        (Infrarenal, 19.3, 16.7),
        (Bifurcation, 18.7, 16.0),
        (Suprarenal, 22.0, 21.1),
        (Infrarenal, 19.0, 17.9),
    ];
    for (landmark, man, woman) in published {
        for (sex, mm) in [(Sex::Male, man), (Sex::Female, woman)] {
            let ours = normal::aorta_mm(landmark, 50.0, sex);
            assert!((ours - mm).abs() <= 2.4, "{landmark:?} {sex:?}: {ours:.1} against {mm}");
        }
        assert!(normal::aorta_mm(landmark, 50.0, Sex::Female) < normal::aorta_mm(landmark, 50.0, Sex::Male));
    }
}

/// The built lumen has the written diameter at each landmark, and areas are those of its circle.
#[test]
fn the_lumen_is_the_size_that_was_written() {
    let mut spec = AnatomySpec { step_mm: 0.5, ..AnatomySpec::default() };
    spec.aorta.diameters_mm.insert(Landmark::Isthmus, 31.0);
    spec.aorta.diameters_mm.insert(Landmark::Infrarenal, 22.0);
    let tree = spec.build().unwrap();
    let isthmus = tree.ostium_s_mm(VesselName::LeftSubclavian).unwrap() + 20.0;
    assert!((tree.aorta().lumen.diameter_mm(isthmus) - 31.0).abs() < 0.05);
    let neck = tree.ostium_s_mm(VesselName::RightRenal).unwrap() + 10.0;
    assert!((tree.aorta().lumen.diameter_mm(neck) - 22.0).abs() < 0.05);
}

/// Lengths of the 56-artery benchmark tree (Boileau et al., IJNMBE 31:e02732, 2015) for its own young man:
/// root to innominate 74.41 mm, left subclavian to coeliac 206.32 mm, coeliac to bifurcation 126.61 mm.
#[test]
fn lengths_are_the_benchmark_trees() {
    let tree = adult(30.0, Sex::Male);
    let s = |name| tree.ostium_s_mm(name).unwrap();
    let length = tree.aorta().curve.length_mm();
    assert!((s(VesselName::Innominate) - 74.41).abs() < 0.3);
    assert!((s(VesselName::Coeliac) - s(VesselName::LeftSubclavian) - 206.33).abs() < 0.5);
    assert!((length - s(VesselName::Coeliac) - 126.61).abs() < 0.3);
    // Left common and external iliac with the first part of the femoral: 74.04 + 102.21 + 31.59 mm.
    let leg: f64 = [VesselName::LeftCommonIliac, VesselName::LeftExternalIliac]
        .iter()
        .map(|&v| tree.get(v).unwrap().curve.length_mm())
        .sum();
    assert!((leg - 207.84).abs() < 1.0, "{leg}");
}

/// The thoracic aorta lengthens by 59 mm (men) between 20 and 80 years (Adriaans et al., Heart 104:1772,
/// 2018); ours starts at 30.
#[test]
fn the_thoracic_aorta_lengthens_with_age() {
    let to_coeliac = |age| adult(age, Sex::Male).ostium_s_mm(VesselName::Coeliac).unwrap();
    let growth = to_coeliac(80.0) - to_coeliac(20.0);
    assert!((40.0..=70.0).contains(&growth), "{growth}");
}

/// Zones in order, each branch in the zone that a graft edge there would cover (map of the SVS/STS reporting
/// standard).
#[test]
fn zones_follow_the_map() {
    let tree = adult(70.0, Sex::Female);
    let ends = tree.zone_ends_mm();
    assert!(ends.windows(2).all(|w| w[1] > w[0]), "{ends:?}");
    let at = |name| tree.zone_at(tree.ostium_s_mm(name).unwrap());
    assert_eq!(at(VesselName::Innominate), Zone(0));
    assert_eq!(at(VesselName::LeftCarotid), Zone(1));
    assert_eq!(at(VesselName::LeftSubclavian), Zone(2));
    let lsa = tree.get(VesselName::LeftSubclavian).unwrap().root.unwrap();
    let (from, to) = tree.zone_bounds_mm(Zone(3)).unwrap();
    assert!((to - from - 20.0).abs() < 1e-9 && (from - lsa.s_mm - lsa.radius_mm).abs() < 1e-9);
    assert_eq!(tree.zone_at(lsa.s_mm + 60.0), Zone(4));
    assert_eq!(tree.zone_at(tree.ostium_s_mm(VesselName::Coeliac).unwrap() - 20.0), Zone(5));
    assert_eq!(at(VesselName::LeftRenal), Zone(8));
    assert_eq!(at(VesselName::RightRenal), Zone(8));
    assert_eq!(at(VesselName::Ima), Zone(9));
}

/// The ruler counts on without a gap from the aorta into either groin and either arm, and back.
#[test]
fn the_rail_is_one_ruler() {
    let tree = adult(60.0, Sex::Male);
    for site in Site::ALL {
        let rail = Rail::for_access(&tree, site).unwrap();
        let mut last = rail.frame(&tree, 0.0).at;
        let mut mm = 0.0;
        while mm < rail.length_mm() {
            mm += 1.0;
            let (vessel, s) = rail.place(mm);
            let back = rail.rail_mm(vessel, s).unwrap();
            assert!((back - mm.min(rail.length_mm())).abs() < 1e-9, "{site:?} {mm} {back}");
            let at = rail.frame(&tree, mm).at;
            // A side branch starts halfway to the wall of its parent, so the ruler may jump there, by no more
            // than that.
            let jump = if site.femoral() { 1.1 } else { 12.0 };
            assert!(at.distance(last) < jump, "{site:?} at {mm}: {}", at.distance(last));
            last = at;
        }
    }
    let rail = Rail::for_access(&tree, Site::LeftFemoral).unwrap();
    assert_eq!(rail.zone(&tree, tree.aorta().curve.length_mm() + 10.0), Some(Zone(10)));
    assert_eq!(rail.zone(&tree, rail.length_mm()), Some(Zone(11)));
    let marks = rail.marks(&tree);
    assert!(
        marks.iter().any(|m| m.label == "zone 11") && marks.iter().any(|m| m.label.contains("subclavian"))
    );
}

/// Mean growth of 12.6 % after resuscitation in patients with a pulse of 130 or more (Jonker et al., J Vasc
/// Surg 2010, trauma patients): a man of 35 between mean pressures of 60 and 90. An old aorta gives much
/// less: of 45 men the strain over one beat was 0.092 at 43 and 0.056 at 69 years (Martin et al., Ann Biomed
/// Eng 2013).
#[test]
fn a_shocked_aorta_is_smaller() {
    let growth = |age: f64| {
        let spec = AnatomySpec { age_years: age, map_at_ct_mmhg: 60.0, ..AnatomySpec::default() };
        let shocked = spec.build().unwrap();
        let well = shocked.at_pressure(90.0);
        let s = shocked.ostium_s_mm(VesselName::LeftSubclavian).unwrap() + 60.0;
        100.0 * (well.aorta().lumen.diameter_mm(s) / shocked.aorta().lumen.diameter_mm(s) - 1.0)
    };
    assert!((growth(35.0) - 12.6).abs() < 2.0, "{}", growth(35.0));
    assert!(growth(75.0) < 0.6 * growth(43.0));
    // An educator's own figure goes before the age's.
    for percent in [3.0, 12.6, 20.0] {
        let spec =
            AnatomySpec { give_percent: Some(percent), map_at_ct_mmhg: 60.0, ..AnatomySpec::default() };
        let tree = spec.build().unwrap();
        let ratio =
            tree.at_pressure(90.0).aorta().lumen.diameter_mm(200.0) / tree.aorta().lumen.diameter_mm(200.0);
        assert!((100.0 * (ratio - 1.0) - percent).abs() < 0.01, "{percent}: {ratio}");
    }
}
