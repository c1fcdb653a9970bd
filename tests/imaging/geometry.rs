//! The C-arm's geometry and line integrals against closed forms.

use super::patient::{straight, v};
use overwire::anatomy::{Lumen, Tree, Vessel, VesselName, Wall};
use overwire::imaging::*;
use overwire::math::{Curve, Vec3};

fn scene(tree: &Tree) -> Scene<'_> {
    Scene { tree, linings: &[], pools: &[], body: None, devices: &[] }
}

/// DICOM PS3.3 C.8.7.5: both angles say where the detector is; LAO towards the patient's left, cranial towards the head.
#[test]
fn positioner_angles_point_the_detector_where_dicom_says() {
    let axis = |p, s| Pose::default().turned(p, s).beam_axis();
    let near = |a: Vec3, b: Vec3| a.distance(b) < 1e-12;
    assert!(near(axis(0.0, 0.0), v(0.0, -1.0, 0.0)), "AP: the detector is in front");
    assert!(near(axis(90.0, 0.0), v(1.0, 0.0, 0.0)), "LAO 90: at the patient's left");
    assert!(near(axis(-90.0, 0.0), v(-1.0, 0.0, 0.0)), "RAO 90: at the right");
    assert!(near(axis(0.0, 90.0), v(0.0, 0.0, 1.0)), "cranial 90: at the head");
    let view = Pose::default().view(512);
    assert!(
        view.project(v(10.0, 0.0, 0.0)).0 > view.project(v(-10.0, 0.0, 0.0)).0,
        "left of the patient on the right"
    );
    assert!(view.project(v(0.0, 0.0, 10.0)).1 < view.project(v(0.0, 0.0, -10.0)).1, "head up");
    // Source to isocentre, and all three axes at right angles, at an awkward angle.
    let p = Pose { primary_deg: 37.0, secondary_deg: -21.0, isocentre: v(3.0, 4.0, 5.0), ..Pose::default() };
    let w = p.view(256);
    assert!((w.source.distance(p.isocentre) - p.sod_mm).abs() < 1e-9);
    assert!(w.axis.dot(w.right).abs() + w.axis.dot(w.up).abs() + w.right.dot(w.up).abs() < 1e-12);
    assert!(near(w.right.cross(w.up), -w.axis) || near(w.right.cross(w.up), w.axis));
}

/// Similar triangles: magnification SID/SOD; a length 20 degrees out of plane shows as its cosine, 93.969 of 100 mm.
#[test]
fn magnification_and_foreshortening() {
    let pose = Pose::default();
    let view = pose.view(1000);
    let (a, b) = (view.project(v(-5.0, 0.0, 0.0)), view.project(v(5.0, 0.0, 0.0)));
    let seen_mm = (b.0 - a.0) * view.pitch_mm;
    assert!((seen_mm / 10.0 - pose.magnification()).abs() < 1e-9);
    // A thin length far from the source, so that only the angle matters.
    let far = Pose { sod_mm: 1e7, sid_mm: 1.5e7, ..pose };
    for (angle, want) in [(20.0f64, 93.969), (60.0, 50.0)] {
        let view = far.turned(angle, 0.0).view(1000);
        let (a, b) = (view.project(v(-50.0, 0.0, 0.0)), view.project(v(50.0, 0.0, 0.0)));
        let mm = (b.0 - a.0) * view.pitch_mm / far.magnification();
        assert!((mm - want).abs() < 2e-3, "{angle}: {mm}");
    }
}

/// Volume of a cylinder and of a half torus (2 pi^2 R a^2 / 2), from the cells' faces. The rings are 32-gons of exact
/// area; the torus loses what straight stations lose.
#[test]
fn cell_volumes_add_up_to_the_closed_form() {
    let tree = straight(200.0, 12.0);
    let cells = Cells::of(&scene(&tree), Ends::Calibre).unwrap();
    let ml: f64 = cells.volume_ml.iter().sum();
    assert!((ml / (std::f64::consts::PI * 1.44 * 20.0) - 1.0).abs() < 1e-9, "{ml}");
    assert!(cells.volume_ml.iter().all(|&v| v > 0.0));
    let cells_ml: f64 = Cells::of(&scene(&half_torus()), Ends::Calibre).unwrap().volume_ml.iter().sum();
    let want = std::f64::consts::PI * std::f64::consts::PI * 40.0 * 100.0 * 1e-3;
    assert!((cells_ml / want - 1.0).abs() < 2e-3, "{cells_ml} {want}");
}

/// Torus R = 40, a = 10 in the plane of x and z, the half with z > 0.
fn half_torus() -> Tree {
    let knots: Vec<Vec3> = (0..=24)
        .map(|i| std::f64::consts::PI * f64::from(i) / 24.0)
        .map(|a| v(-40.0 * a.cos(), 0.0, 40.0 * a.sin()))
        .collect();
    let curve = Curve::through(&knots).unwrap();
    let lumen = Lumen::sample(curve.length_mm(), 2.0, 32, |_, _| 10.0);
    let vessel = Vessel { name: VesselName::Aorta, curve, lumen, wall: Wall::default(), root: None };
    Tree { vessels: vec![vessel], reference_map_mmhg: 90.0 }
}

/// Chord of the ray through the isocentre, cm.
fn central_path(tree: &Tree, pose: &Pose) -> f64 {
    let cells = Cells::of(&scene(tree), Ends::Calibre).unwrap();
    let matrix = PathMatrix::new(&pose.view(65), &cells);
    assert_eq!(matrix.unpaired, 0);
    matrix.row(32 * 65 + 32).map(|(_, cm)| f64::from(cm)).sum()
}

/// Through the torus along its axis at radius 43: 2 sqrt(a² - 3²) = 19.0788 mm. In its plane at height z = 45: one chord,
/// 2 sqrt((R + a)² - 45²) = 43.589 mm. Closed forms.
#[test]
fn torus_line_integrals() {
    let tree = half_torus();
    let pose = Pose {
        field_mm: 100.0,
        isocentre: v(43.0 * 0.5f64.sqrt(), 0.0, 43.0 * 0.5f64.sqrt()),
        ..Pose::default()
    };
    let got = central_path(&tree, &pose) * 10.0;
    assert!((got - 19.0788).abs() < 0.15, "{got}");
    let pose = Pose { isocentre: v(0.0, 0.0, 45.0), ..pose }.turned(90.0, 0.0);
    let got = central_path(&tree, &pose) * 10.0;
    assert!((got - 43.589).abs() < 0.35, "{got}");
}

/// Every pixel of an oblique cone-beam view of a cylinder, against the quadratic's two roots; and the whole shadow's sum.
#[test]
fn cylinder_line_integrals_all_over_an_oblique_view() {
    let (length, r) = (120.0, 12.0);
    let tree = straight(length, r);
    let pose = Pose { field_mm: 300.0, ..Pose::default() }.turned(35.0, 20.0);
    let view = pose.view(128);
    let cells = Cells::of(&scene(&tree), Ends::Calibre).unwrap();
    let matrix = PathMatrix::new(&view, &cells);
    assert_eq!(matrix.unpaired, 0);
    let mut got = vec![0.0f32; 128 * 128];
    matrix.project(&vec![1.0; cells.len()], &mut got);
    let (mut sum, mut exact_sum, mut worst) = (0.0, 0.0, 0.0f64);
    for (p, g) in got.iter().enumerate() {
        let d = view.ray((p % 128) as f64, (p / 128) as f64).unit();
        let o = view.source;
        let (a, b, c) = (d.x * d.x + d.y * d.y, o.x * d.x + o.y * d.y, o.x * o.x + o.y * o.y - r * r);
        let disc = b * b - a * c;
        let mut exact = 0.0;
        if disc > 0.0 {
            let z = |t: f64| (-length / 2.0 - o.z) / d.z * (1.0 - t) + (length / 2.0 - o.z) / d.z * t;
            let (z0, z1) = (z(0.0).min(z(1.0)), z(0.0).max(z(1.0)));
            exact = (((-b + disc.sqrt()) / a).min(z1) - ((-b - disc.sqrt()) / a).max(z0)).max(0.0) * 0.1;
        }
        sum += f64::from(*g);
        exact_sum += exact;
        // Away from the rim, where a 32-gon and a circle differ most.
        if exact > 1.2 {
            worst = worst.max((f64::from(*g) - exact).abs() / exact);
        }
    }
    assert!((sum / exact_sum - 1.0).abs() < 1.5e-3, "{sum} {exact_sum}");
    assert!(worst < 0.03, "{worst}");
}

/// Sphere under a cone beam: chord 2 sqrt(r² - |o x d|²), exact.
#[test]
fn sphere_line_integrals() {
    let view = Pose { field_mm: 200.0, ..Pose::default() }.turned(30.0, -15.0).view(96);
    let (c, r) = (v(4.0, -6.0, 9.0), 21.0);
    let axes = [v(1.0, 0.0, 0.0), v(0.0, 1.0, 0.0), v(0.0, 0.0, 1.0)];
    let mut got = vec![0.0f32; 96 * 96];
    Solid::ellipsoid(c, axes, [r, r, r], 0.5).paint(&view, &mut got);
    for (p, g) in got.iter().enumerate() {
        let d = view.ray((p % 96) as f64, (p / 96) as f64).unit();
        let miss = (c - view.source).cross(d).norm();
        let want = if miss < r { 2.0 * (r * r - miss * miss).sqrt() * 0.05 } else { 0.0 };
        assert!((f64::from(*g) - want).abs() < 2e-6 * (1.0 + want), "pixel {p}: {g} {want}");
    }
}

/// A wire thinner than a pixel keeps its mass: the shadow's sum equals section times length times magnification.
#[test]
fn thin_rods_keep_their_mass() {
    let view = Pose { field_mm: 380.0, ..Pose::default() }.view(512);
    let path: Vec<Vec3> =
        (0..=40).map(|i| v(0.3 + 0.7 * f64::from(i), 0.0, -40.0 + 2.0 * f64::from(i))).collect();
    let mut out = vec![0.0f32; 512 * 512];
    let r = 0.18;
    solid::paint(&Solid::chain(&path, |_| r, 1.0), &view, &mut out);
    let px = view.pixel_at_isocentre_mm();
    // nats * mm² over the shadow, against mu (1/mm) times volume.
    let sum: f64 = out.iter().map(|v| f64::from(*v)).sum::<f64>() * px * px;
    let want = 0.1 * std::f64::consts::PI * r * r * 40.0 * (4.0f64 + 0.49).sqrt();
    assert!((sum / want - 1.0).abs() < 0.02, "{sum} {want}");
}

/// Every pose of the working range sees watertight cells, the branched adult's with a sac included.
#[test]
fn no_ray_crosses_a_cell_an_odd_number_of_times() {
    let a = super::patient::adult(26.0);
    let cells = Cells::of(&scene(&a.tree), Ends::Calibre).unwrap();
    assert!(cells.volume_ml.iter().all(|&v| v > -1e-6));
    for (p, s) in [(0.0, 0.0), (47.0, 0.0), (90.0, 0.0), (-30.0, 25.0)] {
        let pose = Pose { isocentre: v(10.0, 10.0, -60.0), ..Pose::default() }.turned(p, s);
        assert_eq!(PathMatrix::new(&pose.view(160), &cells).unpaired, 0, "at {p} {s}");
    }
}

/// How small vessels end is the caller's wish, whatever stands around them: drawn for the eye they hold less than their lumen
/// (the tree's own volume), and the aorta, which has no such end, holds the same.
#[test]
fn ends_are_the_callers_wish() {
    let a = super::patient::adult(26.0);
    let body = Body::new(&a.tree, &Beam::default());
    let ml = |body, ends| {
        let cells = Cells::of(&Scene { body, ..scene(&a.tree) }, ends).unwrap();
        let of = |tube: &std::ops::Range<usize>| cells.volume_ml[tube.clone()].iter().sum::<f64>();
        let tubes: Vec<_> = cells.tubes.iter().map(|t| t.first).chain([cells.len()]).collect();
        tubes.windows(2).map(|w| of(&(w[0]..w[1]))).collect::<Vec<f64>>()
    };
    let (plain, drawn) = (ml(None, Ends::Calibre), ml(None, Ends::Drawn));
    assert_eq!(plain, ml(Some(&body), Ends::Calibre));
    assert_eq!(drawn, ml(Some(&body), Ends::Drawn));
    let sma = a.tree.vessels.iter().position(|v| v.name == VesselName::Sma).unwrap();
    assert!(drawn[sma] < 0.9 * plain[sma], "{} {}", drawn[sma], plain[sma]);
    assert_eq!(drawn[0], plain[0]);
}
