//! Fabric, leaks and devices on a CT.

use super::patient::{straight, v};
use overwire::imaging::*;
use overwire::math::Streams;
use overwire::session::planned;

const PIXELS: usize = 200;
const PIXEL_MM: f64 = 0.3;

fn axial(scan: &Scan, z_mm: f64) -> Slice {
    let plane = Plane::axial(z_mm, 0.0, 0.0, PIXELS, PIXEL_MM);
    scan.slice(&plane, &mut Streams::new(1).named("ct")).unwrap()
}

/// Iodine enhances by about 25 HU for each mg/ml at 120 kVp (Bae 2010, Radiology 256:32, from memory), a fifth less where a
/// trunk has hardened the beam (common practice, no source): a balloon with 60 mg/ml is that much brighter than blood without
/// contrast, and as wide as it is.
#[test]
fn a_balloon_shows_its_iodine() {
    let tree = straight(120.0, 24.0);
    let balloon =
        Shape::rod(vec![v(0.0, 0.0, 30.0), v(0.0, 0.0, -30.0)], 12.0, Substance::iodine_mg_ml(60.0));
    let bare = Scene::bare(&tree, None);
    let mut scan = Scan::new(&Scene { devices: std::slice::from_ref(&balloon), ..bare });
    (scan.noise_hu, scan.arterial_hu) = (0.0, 0.0);
    let slice = axial(&scan, 0.0);
    let rise = slice.at(100, 100) - slice.at(100, 160);
    assert!((f64::from(rise) / (60.0 * 22.5) - 1.0).abs() < 0.13, "{rise}");
    let bright = (0..PIXELS).filter(|x| slice.at(*x, 100) > 700.0).count() as f64 * PIXEL_MM;
    assert!((bright - 24.0).abs() < 0.9, "{bright}");
    assert!(axial(&scan, 40.0).hu.iter().all(|h| *h < 100.0), "beyond its end is blood");
}

/// Blur spreads what is there and loses none of it (a point-spread function has unit integral): the brightness of a thin shaft,
/// summed over the picture, is its attenuation times its area.
#[test]
fn a_thin_shaft_keeps_its_mass() {
    let tree = straight(120.0, 24.0);
    let radius_mm = 0.3;
    let shaft = Shape::rod(
        vec![v(0.4, 0.2, 50.0), v(0.4, 0.2, -50.0)],
        radius_mm,
        Substance::solid(Material::LoadedPolymer),
    );
    let bare = Scene::bare(&tree, None);
    let mut scan = Scan::new(&Scene { devices: std::slice::from_ref(&shaft), ..bare });
    scan.noise_hu = 0.0;
    let (with, without) = (axial(&scan, 0.0), {
        let mut scan = Scan::new(&bare);
        scan.noise_hu = 0.0;
        axial(&scan, 0.0)
    });
    let sum: f64 =
        with.hu.iter().zip(&without.hu).map(|(a, b)| f64::from(a - b)).sum::<f64>() * PIXEL_MM * PIXEL_MM;
    let beam = Beam { kvp: 120.0 };
    let above = beam.mu(Material::LoadedPolymer) - beam.mu(Material::Blood);
    let want = 1000.0 * above / beam.mu(Material::Water) * std::f64::consts::PI * radius_mm * radius_mm;
    assert!((sum / want - 1.0).abs() < 0.1, "{sum} {want}");
}

/// Behind fabric nothing shines until a leak brings contrast; then as much shines as the leak brought in the eight seconds
/// that a triggered scan waits, with what swings at each beat, and nearest to where it came in.
#[test]
fn contrast_behind_fabric_is_what_the_leak_brought() {
    let tree = straight(160.0, 26.0);
    let fabric = overwire::anatomy::Lumen::sample(100.0, 2.0, 32, |_, _| 16.0);
    let lining = Lining { vessel: 0, from_mm: 30.0, to_mm: 130.0, fabric };
    let scene = Scene { linings: std::slice::from_ref(&lining), ..Scene::bare(&tree, None) };
    let leak =
        LeakFlow { vessel: 0, entry: Entry::Edge, s_mm: 30.0, theta_rad: 0.0, ml_s: 1.5, swing_ml: 2.0 };
    let shines = |scan: &Scan, z: i32| {
        let slice = axial(scan, f64::from(z));
        let beyond = |i: &usize| {
            let (x, y) = ((i % PIXELS) as f64 - 99.5, (i / PIXELS) as f64 - 99.5);
            (17.0..25.0).contains(&(PIXEL_MM * (x * x + y * y).sqrt()))
        };
        let lit = (0..PIXELS * PIXELS).filter(beyond).filter(|i| slice.hu[*i] > 200.0).count();
        lit as f64 * PIXEL_MM * PIXEL_MM
    };
    let mut dry = Scan::new(&scene);
    dry.noise_hu = 0.0;
    assert!((-49..=49).all(|z| shines(&dry, z) == 0.0));
    assert!(axial(&dry, 0.0).at(100, 100) > 300.0, "the stream inside the fabric");
    let wet = dry.clone().leaking(&[leak]);
    let by_mm: Vec<f64> = (-49..=49).map(|z| shines(&wet, z)).collect();
    // The ring that is counted is this part of the whole space behind the fabric.
    let counted = (25.0 * 25.0 - 17.0 * 17.0) / (26.0 * 26.0 - 16.0 * 16.0);
    let ml = by_mm.iter().sum::<f64>() / 1000.0 / counted;
    assert!((ml / (1.5 * 8.0 + 2.0) - 1.0).abs() < 0.15, "{ml}");
    let upper: f64 = by_mm[60..].iter().sum();
    assert!(upper > 0.99 * by_mm.iter().sum::<f64>(), "the upper edge lies head-ward");
}

/// A graft of years ago is on the planning CT, one of tonight's is not (by definition of a planning CT).
#[test]
fn the_planning_ct_shows_the_grafts_of_an_earlier_year() {
    let brightest = |id: &str| {
        let case = overwire::records::library::case(id).unwrap();
        let scanned = planned(&case);
        let mut scan = scanned.scan();
        scan.noise_hu = 0.0;
        let curve = &case.tree.aorta().curve;
        let widest = |s: f64| {
            let frame = curve.frame(s);
            let slice =
                scan.slice(&Plane::orthogonal(&frame, 160, 0.4), &mut Streams::new(1).named("ct")).unwrap();
            // Within the vessel's own wall there is no bone.
            let inside = |i: &usize| {
                let (x, y) = ((i % 160) as f64 - 79.5, (i / 160) as f64 - 79.5);
                0.4 * (x * x + y * y).sqrt() < 0.5 * case.tree.aorta().lumen.diameter_mm(s).min(40.0)
            };
            (0..160 * 160).filter(inside).map(|i| slice.hu[i]).fold(f32::MIN, f32::max)
        };
        (0..8).map(|k| widest(180.0 + 5.0 * f64::from(k))).fold(f32::MIN, f32::max)
    };
    assert!(brightest("junction_leak") > 1500.0);
    assert!(brightest("ward_weakness") < 1200.0, "calcium at the most");
}
