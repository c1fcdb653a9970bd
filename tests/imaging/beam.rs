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
    let mu = 0.6 * beam.mu(Material::Water);
    assert!((t(0.0, 0.0) - (-mu * 23.6).exp()).abs() < 1e-9);
    assert!((t(90.0, 0.0) - (-mu * 32.8).exp()).abs() < 1e-9);
    assert!(t(45.0, 0.0) < t(0.0, 0.0) && t(45.0, 25.0) < t(45.0, 0.0));
}
