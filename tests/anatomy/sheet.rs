//! A sizing sheet comes out as it was written, and a bad one is told why.

use overwire::anatomy::{
    AnatomySpec, ArchType, Cavity, Lesion, LesionShape, Patch, Place, Rupture, Toward, VesselName, around,
};

/// Type by the drop of the innominate artery's origin in diameters of the left carotid: < 1, 1 to 2, > 2.
/// Worked example (common practice): a carotid of 8 mm and a drop of 13 mm give 1.625 and type II.
#[test]
fn arch_types() {
    for kind in [ArchType::I, ArchType::II, ArchType::III] {
        let mut spec = AnatomySpec::default();
        spec.aorta.arch = Some(kind);
        assert_eq!(spec.build().unwrap().arch_type(), Some(kind));
    }
    let mut spec = AnatomySpec { ellipticity_percent: 0.0, ..AnatomySpec::default() };
    spec.aorta.innominate_drop_mm = Some(13.0);
    spec.branches = ron::from_str("[(vessel: left_carotid, diameter_mm: Some(8))]").unwrap();
    let tree = spec.build().unwrap();
    let drop = tree.innominate_drop_mm().unwrap();
    assert!((drop - 13.0).abs() < 1.5, "{drop}");
    assert_eq!(tree.arch_type(), Some(ArchType::II));
}

/// The inner curve has the radius that was written: 1 / curvature - radius of the lumen at the top of the
/// arch.
#[test]
fn inner_radius() {
    for r in [20.0, 30.0, 45.0] {
        let mut spec = AnatomySpec { ellipticity_percent: 0.0, ..AnatomySpec::default() };
        spec.aorta.inner_radius_mm = Some(r);
        let tree = spec.build().unwrap();
        let aorta = tree.aorta();
        let lsa = tree.ostium_s_mm(VesselName::LeftSubclavian).unwrap();
        let s = tree.ostium_s_mm(VesselName::Innominate).unwrap().midpoint(lsa);
        let centre = 1.0 / aorta.curve.curvature(s).norm();
        let inner = centre - 0.5 * aorta.lumen.diameter_mm(s);
        assert!((inner - r).abs() < 0.12 * r, "{r}: {inner}");
        // The arch branches leave from the outer side.
        let root = tree.get(VesselName::LeftSubclavian).unwrap().root.unwrap();
        let inner_side = around::inner_theta(&aorta.curve, root.s_mm).unwrap();
        assert!((around::wrap(root.theta_rad - inner_side).abs() - std::f64::consts::PI).abs() < 0.01);
    }
}

/// Length over chord between the written ends.
#[test]
fn tortuosity() {
    let mut spec = AnatomySpec::default();
    spec.aorta.abdominal_tortuosity = Some(1.36);
    spec.left_access.tortuosity = Some(1.5);
    let tree = spec.build().unwrap();
    let aorta = &tree.aorta().curve;
    let coeliac = tree.ostium_s_mm(VesselName::Coeliac).unwrap();
    let ti = (aorta.length_mm() - coeliac) / aorta.point(coeliac).distance(aorta.point(aorta.length_mm()));
    assert!((ti - 1.36).abs() < 0.02, "{ti}");
    let common = &tree.get(VesselName::LeftCommonIliac).unwrap().curve;
    let external = &tree.get(VesselName::LeftExternalIliac).unwrap().curve;
    let length = common.length_mm() + external.length_mm();
    let ti = length / common.point(0.0).distance(external.point(external.length_mm()));
    assert!((ti - 1.5).abs() < 0.05, "{ti}");
}

#[test]
fn lesions_have_their_size() {
    let mut spec = AnatomySpec { ellipticity_percent: 0.0, n_theta: 96, ..AnatomySpec::default() };
    spec.lesions = vec![
        Lesion {
            label: String::new(),
            vessel: VesselName::Aorta,
            at: Place::Past(VesselName::LeftSubclavian, 90.0),
            length_mm: 60.0,
            shape: LesionShape::Saccular { neck_mm: 24.0, depth_mm: 26.0, toward: Toward::Clock(3.0) },
            rupture: Some(Rupture { area_mm2: 3.0, into: Cavity::LeftPleura }),
        },
        Lesion {
            label: "sac".to_owned(),
            vessel: VesselName::Aorta,
            at: Place::Past(VesselName::RightRenal, 55.0),
            length_mm: 70.0,
            shape: LesionShape::Fusiform { max_mm: 64.0, toward: None },
            rupture: None,
        },
    ];
    spec.thrombus = vec![Patch {
        vessel: VesselName::Aorta,
        at: Place::Past(VesselName::RightRenal, 55.0),
        length_mm: 40.0,
        toward: None,
        arc_deg: 360.0,
        amount: 10.0,
    }];
    let tree = spec.build().unwrap();
    let aorta = tree.aorta();
    let [saccular, fusiform] = &aorta.wall.lesions[..] else { panic!("two lesions") };
    let (s, theta) = (saccular.at_mm(), saccular.theta_rad.unwrap());
    let bare = AnatomySpec { lesions: vec![], thrombus: vec![], ..spec.clone() }.build().unwrap();
    let depth = aorta.lumen.radius(s, theta) - bare.aorta().lumen.radius(s, theta);
    assert!((depth - 26.0).abs() < 0.5, "{depth}");
    // It points to the patient's left and leaves the other side alone.
    assert!(aorta.curve.frame(s).radial(theta).x > 0.8);
    let opposite = theta + std::f64::consts::PI;
    assert!((aorta.lumen.radius(s, opposite) - bare.aorta().lumen.radius(s, opposite)).abs() < 1e-9);
    // 64 mm of wall, 10 mm of thrombus on each side: 44 mm of stream.
    assert!((aorta.lumen.diameter_mm(fusiform.at_mm()) - 44.0).abs() < 0.4);
    assert!((fusiform.to_mm - fusiform.from_mm - 70.0).abs() < 1e-9);
    // The clot lies in what has widened: towards the middle the stream only grows, without a ring where the clot begins.
    let half = 0.5 * (fusiform.to_mm - fusiform.from_mm);
    for side in [-1.0, 1.0] {
        let stream = |i: u32| aorta.lumen.diameter_mm(fusiform.at_mm() + side * half * f64::from(i) / 20.0);
        assert!(
            (0..20).all(|i| stream(i) > stream(i + 1) - 0.05),
            "{:?}",
            (0..=20).map(stream).collect::<Vec<_>>()
        );
    }
}

/// Every fault at once, each with its place and what to write instead; a typing error names the field.
#[test]
fn faults_are_told() {
    let mut spec = AnatomySpec { age_years: 300.0, ..AnatomySpec::default() };
    spec.aorta.inner_radius_mm = Some(-4.0);
    spec.right_access.calcium = 2.0;
    let faults = spec.build().unwrap_err();
    assert_eq!(faults.len(), 3, "{faults:?}");
    assert!(faults[1].contains("inner_radius_mm") && faults[1].contains("from 8 to 80"));

    let off = r"(lesions: [(at: past(left_renal, 900), length_mm: 40, shape: fusiform(max_mm: 50))])";
    let faults = ron::from_str::<AnatomySpec>(off).unwrap().build().unwrap_err();
    assert!(faults[0].contains("lesion 1") && faults[0].contains("off the aorta"), "{faults:?}");
    let no_branch = r"(lesions: [(at: past(left_vertebral, 9), length_mm: 40, shape: fusiform(max_mm: 50))])";
    let faults = ron::from_str::<AnatomySpec>(no_branch).unwrap().build().unwrap_err();
    assert!(faults[0].contains("does not leave the aorta"), "{faults:?}");
    let error = ron::from_str::<AnatomySpec>("(age_yaers: 60)").unwrap_err().to_string();
    assert!(error.contains("age_yaers"), "{error}");
}

/// Any sheet within the stated bounds builds or says why; nothing panics and no radius is less than nothing.
#[test]
fn any_allowed_sheet_builds() {
    let mut built = 0;
    for i in 0..50_u32 {
        let f =
            |k: u32, lo: f64, hi: f64| lo + (hi - lo) * f64::from((i * 7919 + k * 104_729) % 1000) / 999.0;
        let mut spec = AnatomySpec {
            age_years: f(1, 16.0, 105.0),
            height_cm: f(2, 120.0, 215.0),
            n_theta: 24,
            step_mm: 3.0,
            ..AnatomySpec::default()
        };
        spec.aorta.inner_radius_mm = Some(f(3, 15.0, 40.0));
        spec.aorta.innominate_drop_mm = Some(f(4, 0.0, 30.0));
        if i % 2 == 0 {
            spec.aorta.thoracic_tortuosity = Some(f(5, 1.1, 1.5));
            spec.aorta.abdominal_tortuosity = Some(f(6, 1.05, 1.6));
        } else {
            spec.aorta.neck_angle_deg = Some(f(7, 0.0, 70.0));
        }
        match spec.build() {
            Ok(tree) => {
                built += 1;
                for v in &tree.vessels {
                    assert!((0..v.lumen.stations()).all(|i| v.lumen.ring(i).iter().all(|&r| r > 0.0)));
                }
            }
            // Such as a wide arch in a short young aorta.
            Err(faults) => assert!(faults.iter().all(|f| f.starts_with("anatomy")), "{faults:?}"),
        }
    }
    assert!(built >= 40, "{built}");
}
