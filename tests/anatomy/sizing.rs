//! Worked sizing examples. The arithmetic is checked by hand; ranges are those of the publications named at
//! `OversizeRange::for_sheet`.

use super::phantom::{ellipse, line, tube};
use overwire::anatomy::measure::recovered_mm;
use overwire::anatomy::{AnatomySpec, Landmark, SizingSheet, VesselName};
use overwire::kit::graft::oversize_percent;
use overwire::kit::{MM_PER_FR, OversizeRange, Shelf};

fn close(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance, "{a} against {b}");
}

fn spec(text: &str) -> AnatomySpec {
    ron::from_str(text).unwrap()
}

/// (graft - vessel) / vessel. Proximal 32 mm: 34 to 42 mm give 6.25, 12.5, 18.75, 25 and 31.25 %; distal 28
/// mm: 30, 32, 34 give 7.1, 14.3, 21.4, a straight 38 gives 35.7.
#[test]
fn oversizing_is_of_the_vessel() {
    for (graft, percent) in [(34.0, 6.25), (36.0, 12.5), (38.0, 18.75), (40.0, 25.0), (42.0, 31.25)] {
        close(oversize_percent(graft, 32.0), percent, 1e-9);
    }
    for (graft, percent) in [(30.0, 7.1), (32.0, 14.3), (34.0, 21.4), (38.0, 35.7)] {
        close(oversize_percent(graft, 28.0), percent, 0.05);
    }
}

/// An aneurysm between 32 and 28 mm: the shelf's straight 38 mm is refused for its distal end, the tapered 38
/// to 34 is within range at both; nothing offered without an objection is under 10 or over 25 %.
#[test]
fn a_tapered_aorta_wants_a_tapered_graft() {
    let sheet = sheet_of(
        "(ellipticity_percent: 0, n_theta: 96, age_years: 70, aorta: (inner_radius_mm: Some(35),
          diameters_mm: {distal_arch: 32, isthmus: 32, mid_descending: 28, diaphragm: 28, coeliac: 27}),
          lesions: [(at: past(left_subclavian, 70), length_mm: 60, shape: fusiform(max_mm: 62))])",
        90.0,
    );
    close(sheet.proximal.diameter_mm(), 32.0, 0.4);
    close(sheet.distal.diameter_mm(), 28.0, 0.4);
    let offers = Shelf::generic().offers(&sheet);
    let find = |id: &str| offers.iter().find(|o| o.id == id).unwrap_or_else(|| panic!("{id}"));
    assert!(find("tube_38_200").against.iter().any(|a| a.starts_with("distal")), "{:?}", find("tube_38_200"));
    assert_eq!(find("taper_38_34_150").against, Vec::<String>::new());
    assert!(find("tube_42_200").against.iter().any(|a| a.starts_with("proximal")));
    let range = OversizeRange::for_sheet(&sheet);
    assert_eq!((range.lo, range.hi), (10.0, 25.0));
    assert!(offers[0].against.is_empty());
    for o in offers.iter().filter(|o| o.against.is_empty()) {
        assert!((10.0..=25.0).contains(&o.proximal.recovered), "{o}");
        assert!(o.distal.is_some_and(|d| (10.0..=25.0).contains(&d.recovered)), "{o}");
        assert!(o.landing_mm >= 40.0);
    }
}

fn sheet_of(text: &str, recovered: f64) -> SizingSheet {
    SizingSheet::measure(&spec(text).build().unwrap(), 0, recovered).unwrap()
}

/// Blunt injury in shock: 22 mm at a pulse of 130 will be 24.77 (Jonker 2010): 26 mm is +18.2 % measured and
/// +5.0 % true, 24 mm is too small, 28 mm 13 % too big for 0 to 10. A wall that gives 12.6 % says the same by
/// pressure.
#[test]
fn a_shocked_young_aorta_wants_the_recovered_size() {
    let truly = recovered_mm(22.0, 130.0);
    close(oversize_percent(26.0, 22.0), 18.2, 0.05);
    close(oversize_percent(26.0, truly), 5.0, 0.05);
    close(oversize_percent(24.0, truly), -3.1, 0.05);
    close(oversize_percent(28.0, truly), 13.0, 0.05);

    let sheet = sheet_of(
        "(ellipticity_percent: 0, n_theta: 96, age_years: 28, map_at_ct_mmhg: 60, give_percent: Some(12.6), aorta: (
          inner_radius_mm: Some(22), diameters_mm: {distal_arch: 22, isthmus: 22, mid_descending: 22, diaphragm: 22}),
          lesions: [(at: past(left_subclavian, 40), length_mm: 20,
                     shape: transection(grade: 3, neck_mm: 14, depth_mm: 9, toward: inner))])",
        90.0,
    );
    close(sheet.recovered_ratio, 1.126, 1e-4);
    let offers = Shelf::generic().offers(&sheet);
    let good: Vec<&str> = offers.iter().filter(|o| o.against.is_empty()).map(|o| o.id.as_str()).collect();
    assert!(good.contains(&"tube_26_100"), "{good:?}");
    assert!(good.iter().all(|id| id.contains("_26_")), "{good:?}");
    let o = offers.iter().find(|o| o.id == "tube_26_100").unwrap();
    close(o.proximal.at_ct, 18.2, 0.6);
    close(o.proximal.recovered, 5.0, 0.6);
}

/// True lumen 24 x 14 mm: 18.33 by area, 19.33 by perimeter (Ramanujan's formula gives the same); a 34 mm
/// graft is 85.5 %, 26 mm 41.8 %, 22 mm 20.0 % over the area diameter; 31 to 18.33 is a taper of 40.9 %.
#[test]
fn an_oval_true_lumen() {
    let tree = tube(line(100.0), 360, |_, theta| ellipse(12.0, 7.0, theta));
    let s = tree.aorta().section(50.0);
    close(s.area_diameter_mm(), 18.33, 0.01);
    close(s.perimeter_diameter_mm(), 19.33, 0.01);
    close(s.max_mm, 24.0, 0.01);
    close(s.min_mm, 14.0, 0.01);
    for (graft, percent) in [(34.0, 85.5), (26.0, 41.8), (22.0, 20.0)] {
        close(oversize_percent(graft, s.area_diameter_mm()), percent, 0.1);
    }
    close(100.0 * (31.0 - s.area_diameter_mm()) / 31.0, 40.9, 0.1);
}

/// 22 Fr of outer size is 7.33 mm: 1.128 of an iliac of 6.5 mm (too much), 0.991 of 7.4 mm; 1.05 is met at
/// 6.98 mm.
#[test]
fn access_ratio() {
    close(22.0 * MM_PER_FR, 7.333, 1e-3);
    close(22.0 * MM_PER_FR / 1.05, 6.98, 0.005);
    let sheet = sheet_of(
        "(right_access: (external_iliac_mm: Some(6.5), calcium: 0.4), left_access: (external_iliac_mm: Some(7.4)),
          lesions: [(at: past(left_subclavian, 95), length_mm: 60, shape: fusiform(max_mm: 62))])",
        90.0,
    );
    let [right, left] = &sheet.access[..] else { panic!("two groins") };
    close(right.ratio(22.0 * MM_PER_FR), 1.128, 0.01);
    close(left.ratio(22.0 * MM_PER_FR), 0.991, 0.01);
    close(right.calcium_percent, 40.0, 0.1);
}

/// Infrarenal neck of 24 mm, 14 mm long, 40 degrees, measured in shock: 27.02 mm recovered. 28 mm is 16.7 %
/// on CT and 3.6 % recovered, 30 mm 25 and 11.0, 32 mm 33.3 and 18.4, 34 mm 41.7 and 25.8: 30 and 32 fit 10
/// to 20 %.
#[test]
fn a_neck_measured_in_shock() {
    let sheet = sheet_of(
        "(ellipticity_percent: 0, n_theta: 96, age_years: 77, map_at_ct_mmhg: 60, give_percent: Some(12.6),
          aorta: (neck_angle_deg: Some(40), lengths_mm: {infrarenal: 130},
                  diameters_mm: {suprarenal: 24, infrarenal: 24, bifurcation: 22}),
          lesions: [(at: past(right_renal, 61), length_mm: 90, shape: fusiform(max_mm: 72))])",
        90.0,
    );
    close(sheet.proximal.diameter_mm(), 24.0, 0.3);
    // 61 - 45 = 16 mm from the ostium's centre, less its radius of 3.1.
    close(sheet.proximal.lengths.centre_mm, 13.0, 1.0);
    assert_eq!(sheet.proximal.bound, VesselName::RightRenal.label());
    assert!(sheet.neck_angle_deg.is_some_and(|a| (10.0..45.0).contains(&a)), "{:?}", sheet.neck_angle_deg);
    let offers = Shelf::generic().offers(&sheet);
    for (mm, ct, recovered) in [(28, 16.7, 3.6), (30, 25.0, 11.0), (32, 33.3, 18.4), (34, 41.7, 25.8)] {
        let o = offers.iter().find(|o| o.id == format!("body_{mm}_14_120")).unwrap();
        close(o.proximal.at_ct, ct, 1.5);
        close(o.proximal.recovered, recovered, 1.5);
        assert_eq!(o.against.iter().any(|a| a.starts_with("proximal")), !(30..=32).contains(&mm), "{o}");
    }
}

/// The sheet reads aloud, and every number that decides is in it.
#[test]
fn the_sheet_can_be_read() {
    let sheet = sheet_of(
        "(age_years: 74, sex: female, map_at_ct_mmhg: 65, lesions: [(label: \"sac\", at: past(left_subclavian, 60),
          length_mm: 50, shape: saccular(neck_mm: 24, depth_mm: 26, toward: clock(3)),
          rupture: Some((area_mm2: 3, into: left_pleura)))])",
        90.0,
    );
    let text = sheet.to_string();
    for word in ["sac", "proximal landing", "left subclavian", "arch type", "right groin", "LAO", "o'clock"] {
        assert!(text.contains(word), "{word} in\n{text}");
    }
    println!("{text}");
    for o in Shelf::generic().offers(&sheet).iter().take(6) {
        println!("{o}");
    }
    assert_eq!(sheet.proximal.bound, VesselName::LeftSubclavian.label());
    assert_eq!(sheet.zones.0.0, 4);
    let wide = spec("(age_years: 74, sex: female)").build().unwrap();
    close(sheet.distal.diameter_mm(), wide.aorta().lumen.diameter_mm(sheet.distal.near_mm + 10.0), 0.6);
    assert!(Landmark::Isthmus < Landmark::Coeliac);
}
