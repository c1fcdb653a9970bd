//! Attenuation, inverse square, dose.

use overwire::imaging::{Beam, Material, Pose, dose};

/// xraylib 4.2 (Schoonjans et al., Spectrochim. Acta B 66:776, 2011), total cross sections at energies between the
/// table's own, cm²/g.
#[test]
fn mass_attenuation_matches_xraylib_between_its_knots() {
    use Material::*;
    #[rustfmt::skip]
    let rows = [
        (37.0, [(Water, 0.28941), (Iodine, 27.031), (Blood, 0.29127), (Fat, 0.25154), (CorticalBone, 0.76814), (Nitinol, 4.3876), (Steel, 4.5134), (Platinum, 15.249)]),
        (47.5, [(Water, 0.23456), (Iodine, 14.11), (Blood, 0.23455), (Fat, 0.21726), (CorticalBone, 0.45539), (Nitinol, 2.1935), (Steel, 2.2508), (Platinum, 7.9445)]),
        (63.0, [(Water, 0.20142), (Iodine, 6.6493), (Blood, 0.20046), (Fat, 0.19442), (CorticalBone, 0.29015), (Nitinol, 1.0381), (Steel, 1.0623), (Platinum, 3.828)]),
        (95.0, [(Water, 0.17354), (Iodine, 2.2231), (Blood, 0.17217), (Fat, 0.17196), (CorticalBone, 0.19278), (Nitinol, 0.40527), (Steel, 0.41147), (Platinum, 5.5794)]),
    ];
    for (kev, row) in rows {
        for (material, want) in row {
            let got = material.mass_cm2_g(kev);
            assert!((got / want - 1.0).abs() < 0.01, "{material:?} at {kev} keV: {got} not {want}");
        }
    }
    // Either side of iodine's K edge, 33.17 keV.
    assert!((Iodine.mass_cm2_g(33.0) - 6.643).abs() < 0.05);
    assert!((Iodine.mass_cm2_g(33.3) - 35.47).abs() < 0.2);
}

/// SpekPy 2, 80 kV, 2.5 mm Al + 0.2 mm Cu, 12 degree anode: 24.746 uGy/mAs at 1 m.
#[test]
fn kerma_follows_the_inverse_square_and_its_product_with_area_does_not_change() {
    let y = Beam { kvp: 80.0 }.kerma_ugy_per_mas_at_1m();
    assert!((y - 24.746).abs() < 0.01);
    let (near, far) = (dose::kerma_ugy(y, 100.0, 600.0), dose::kerma_ugy(y, 100.0, 1000.0));
    assert!((near / far - (1000.0f64 / 600.0).powi(2)).abs() < 1e-12);
    // The same field on detectors at two distances, same exposure at the reference point.
    let a = Pose { sid_mm: 1000.0, field_mm: 300.0, ..Pose::default() };
    let b = Pose { sid_mm: 1200.0, field_mm: 360.0, ..Pose::default() };
    let (ea, eb) = (dose::frame(&a, 1.0, 0.05), dose::frame(&b, 1.0 / 1.44, 0.05));
    assert!((ea.kap_gy_cm2 / eb.kap_gy_cm2 - 1.0).abs() < 1e-12);
    assert!((ea.reference_mgy / eb.reference_mgy - 1.0).abs() < 1e-12);
}

/// 80 kV + 2.5 mm Al gives 81.977 uGy/mAs at 1 m (SpekPy 2); 10 x 10 cm at 60 cm and 100 mAs is 2.27714 Gy cm².
#[test]
fn kerma_area_product_matches_the_worked_example() {
    for d in [600.0, 1000.0] {
        let edge_cm = 10.0 * d / 600.0;
        let kap = dose::kerma_ugy(81.977, 100.0, d) * 1e-6 * edge_cm * edge_cm;
        assert!((kap - 2.27714).abs() < 1e-4, "{kap}");
    }
}

/// Angulation spreads skin dose: the same kerma at two opposed obliques peaks lower than at one.
#[test]
fn skin_dose_adds_where_beams_overlap_only() {
    let one = |angles: [f64; 2]| {
        let mut record = dose::DoseRecord::new(164.0, 118.0);
        for a in angles {
            let pose = Pose { primary_deg: a, field_mm: 250.0, ..Pose::default() };
            record.add(&pose, dose::Exposure { reference_mgy: 1.0, kap_gy_cm2: 0.1 }, 1000.0);
        }
        record
    };
    let (same, spread) = (one([0.0, 0.0]), one([-45.0, 45.0]));
    assert!((same.reference_mgy - spread.reference_mgy).abs() < 1e-9);
    assert!(spread.skin.peak_mgy() < 0.65 * same.skin.peak_mgy());
}

/// Steeper views look through more of an elliptic trunk and cost more: at 90 degrees the path is the width, exactly.
#[test]
fn oblique_views_cost_more() {
    let beam = Beam::default();
    let t = |p: f64, s: f64| dose::trunk_transmission(&Pose::default().turned(p, s), (164.0, 118.0), &beam);
    let mu = dose::CHEST_OF_WATER * beam.mu(Material::Water);
    assert!((t(0.0, 0.0) - (-mu * 23.6).exp()).abs() < 1e-9);
    assert!((t(90.0, 0.0) - (-mu * 32.8).exp()).abs() < 1e-9);
    assert!(t(45.0, 0.0) < t(0.0, 0.0) && t(45.0, 25.0) < t(45.0, 0.0));
}

/// The dose told without a picture is the one that the picture's automatic exposure asks for, within a third.
#[test]
fn dose_without_a_picture_agrees_with_the_drawn_trunk() {
    let adult = super::patient::adult(0.0);
    let beam = Beam::default();
    let body = overwire::imaging::Body::new(&adult.tree, &beam);
    let scene = overwire::imaging::Scene {
        tree: &adult.tree,
        linings: &[],
        pools: &[],
        body: Some(&body),
        devices: &[],
    };
    for (primary, secondary) in [(0.0, 0.0), (45.0, 0.0), (60.0, 0.0), (90.0, 0.0), (0.0, 20.0)] {
        let pose = Pose { isocentre: super::patient::v(10.0, 10.0, -2.0), ..Pose::default() };
        let pose = pose.turned(primary, secondary);
        let streams = overwire::math::Streams::new(1);
        let drawn = overwire::imaging::screen(&scene, &pose, 128, &beam, 1.0, 70.0, true, streams).unwrap();
        let told = dose::trunk_transmission(&pose, dose::trunk_half_axes_mm(75.0, 175.0), &beam);
        let told = dose::frame(&pose, dose::FLUORO_UGY, told);
        let ratio = told.reference_mgy / drawn.exposure.reference_mgy;
        assert!((0.67..1.5).contains(&ratio), "{primary} {secondary}: {ratio}");
    }
}

/// Levels of NCRP report 168 (from memory): 3 and 5 Gy at the reference point, 2 and 3 Gy of skin, 300 and 500 Gy cm²,
/// 30 and 60 min. A record with an hour of fluoroscopy and little else has passed both levels of time and no other.
#[test]
fn an_hour_of_fluoroscopy_passes_the_levels_of_time() {
    let mut record = dose::DoseRecord::new(164.0, 118.0);
    (0..3660).for_each(|_| record.screen(&Pose::default(), &Beam::default(), 1.0));
    let passed: Vec<_> = dose::LEVELS
        .iter()
        .zip(record.quantities())
        .map(|(l, v)| (l.quantity, v >= l.notify, v >= l.substantial))
        .collect();
    assert_eq!(passed[3], ("fluoroscopy time", true, true));
    assert!(passed[..3].iter().all(|p| !p.1), "{passed:?} {:?}", record.quantities());
    // A thicker patient and a smaller field take more, a closed shutter spreads less.
    let kerma = |mass_kg: f64, pose: Pose| {
        let (w, d) = dose::trunk_half_axes_mm(mass_kg, 175.0);
        let mut r = dose::DoseRecord::new(w, d);
        r.run(&pose, &Beam::default(), 5.0);
        (r.reference_mgy, r.kap_gy_cm2)
    };
    let usual = kerma(75.0, Pose::default());
    assert!(kerma(110.0, Pose::default()).0 > 1.5 * usual.0);
    assert!(kerma(75.0, Pose { field_mm: 250.0, ..Pose::default() }).0 > 1.3 * usual.0);
    let shut = overwire::imaging::Shutter { left: 0.25, right: 0.25, ..Default::default() };
    let (mgy, kap) = kerma(75.0, Pose { shutter: shut, ..Pose::default() });
    assert!((mgy / usual.0 - 1.0).abs() < 1e-12 && (kap / usual.1 - 0.5).abs() < 1e-12);
}
