//! CT reading: sizes and values are those of the anatomy.

use super::patient::{self, adult, straight};
use overwire::imaging::*;
use overwire::math::Streams;

/// Diameters read at half height on an orthogonal section are the anatomy's, at every station and angle tried.
#[test]
fn orthogonal_sections_measure_what_the_anatomy_holds() {
    let a = adult(0.0);
    let aorta = a.tree.aorta();
    let mut scan = Scan::new(&Scene::bare(&a.tree, None));
    scan.noise_hu = 0.0;
    for s in [60.0, 180.0, 260.0, 400.0] {
        let frame = aorta.curve.frame(s);
        let plane = Plane::orthogonal(&frame, 161, 0.3);
        let slice = scan.slice(&plane, &mut Streams::new(1).named("ct")).unwrap();
        for dir in [(1.0, 0.0), (0.0, 1.0), (0.8, 0.6)] {
            let edge = |sign: f64| {
                let inside = |t: f64| {
                    let (x, y) = (80.0 + sign * t * dir.0, 80.0 + sign * t * dir.1);
                    slice.at(x.round() as usize, y.round() as usize) > 200.0
                };
                (0..110).map(|k| f64::from(k) * 0.5).take_while(|t| inside(*t)).last().unwrap() * 0.3
            };
            let towards = plane.right * dir.0 + plane.down * dir.1;
            for sign in [1.0, -1.0] {
                let want = aorta.lumen.radius(s, frame.angle_of(towards * sign));
                let got = edge(sign);
                // Half a pixel of rounding on each axis.
                assert!((got - want).abs() < 0.45, "at {s}: {got} {want}");
            }
        }
    }
}

/// Enhanced blood, air and noise read as set: mean within its standard error, standard deviation within 5 %.
#[test]
fn hounsfield_values_and_noise() {
    let tree = straight(120.0, 14.0);
    let scan = Scan::new(&Scene::bare(&tree, None));
    let slice = scan.slice(&Plane::axial(0.0, 0.0, 0.0, 256, 0.2), &mut Streams::new(3).named("ct")).unwrap();
    let inside: Vec<f64> = (0..256 * 256)
        .filter(|i| {
            let (x, y) = ((i % 256) as f64 - 127.5, (i / 256) as f64 - 127.5);
            x * x + y * y < 50.0 * 50.0
        })
        .map(|i| f64::from(slice.hu[i]))
        .collect();
    let mean = inside.iter().sum::<f64>() / inside.len() as f64;
    let sd = (inside.iter().map(|h| (h - mean) * (h - mean)).sum::<f64>() / inside.len() as f64).sqrt();
    assert!((mean - (scan.arterial_hu + 45.0)).abs() < 2.0, "{mean}");
    assert!((sd / f64::from(scan.noise_hu) - 1.0).abs() < 0.10, "{sd}");
    // Outside any vessel without a body: air, -1000 HU by the scale's definition.
    assert!((slice.at(2, 2) + 1000.0).abs() < 80.0);
}

/// By definition of the scale (Hounsfield 1973) water is 0: soft tissue lies a little above, fat near -100, lung far below.
#[test]
fn tissues_lie_in_their_usual_bands() {
    let a = adult(0.0);
    let body = Body::new(&a.tree, &Beam::default());
    let mut scan = Scan::new(&Scene::bare(&a.tree, Some(&body)));
    scan.noise_hu = 0.0;
    let at = |x: f64, y: f64, z: f64| {
        let plane = Plane { size: (1, 1), ..Plane::axial(z, x, y, 1, 1.0) };
        scan.slice(&plane, &mut Streams::new(1).named("ct")).unwrap().hu[0]
    };
    let lung = at(-75.0, -10.0, 0.0);
    assert!((-900.0..-500.0).contains(&lung), "{lung}");
    let liver = at(-70.0, -10.0, -170.0);
    assert!((20.0..110.0).contains(&liver), "{liver}");
    let fat = at(0.0, -111.0, -60.0);
    assert!((-140.0..-30.0).contains(&fat), "{fat}");
    let air = at(0.0, -300.0, 0.0);
    assert_eq!(air, -1000.0);
}

/// The stretched vessel is as long as its centreline and, along its axis, blood from end to end.
#[test]
fn a_curved_reformat_keeps_length() {
    let a = adult(26.0);
    let mut scan = Scan::new(&Scene::bare(&a.tree, None));
    scan.noise_hu = 0.0;
    let s = scan.stretched(0, a.marks.lesion_rad, 101, 1.0, &mut Streams::new(1).named("ct")).unwrap();
    assert!((s.size.1 as f64 - a.length()).abs() <= 1.0);
    assert!((2..s.size.1 - 2).all(|r| s.at(50, r) > 300.0));
    // The sac stands out on its own side: 26 mm beyond a wall of some 12.
    let row = a.marks.lesion.round() as usize;
    let reach = (50..101).take_while(|&c| s.at(c, row) > 300.0).count() as f64;
    let want = a.tree.aorta().lumen.radius(a.marks.lesion, a.marks.lesion_rad);
    assert!((reach - want).abs() < 1.5, "{reach} {want}");
}

/// DICOM PS3.10: preamble, magic, group length that leads to the first data element; explicit lengths that end at the
/// file's end. (`pydicom` and a conformance checker read the files that the gallery writes.)
#[test]
fn dicom_files_have_the_structure_of_part_10() {
    let tree = straight(120.0, 14.0);
    let scan = Scan::new(&Scene::bare(&tree, None));
    let plane = Plane::axial(0.0, 0.0, 0.0, 64, 1.0);
    let slice = scan.slice(&plane, &mut Streams::new(3).named("ct")).unwrap();
    let study = dicom::Study { case: "TUBE".into(), session: "1".into() };
    let file = dicom::ct_slice(&slice, &plane, 1, 2.0, &study);
    assert_eq!(&file[128..132], b"DICM");
    let mut at = 132;
    let (mut last, mut pixels) = (0u32, 0usize);
    while at < file.len() {
        let group = u32::from(u16::from_le_bytes([file[at], file[at + 1]]));
        let tag = group << 16 | u32::from(u16::from_le_bytes([file[at + 2], file[at + 3]]));
        assert!(tag > last, "tags rise: {last:08x} {tag:08x}");
        last = tag;
        let long = matches!(&file[at + 4..at + 6], b"OB" | b"OW" | b"SQ" | b"UN");
        let (head, length) = if long {
            (12, u32::from_le_bytes([file[at + 8], file[at + 9], file[at + 10], file[at + 11]]) as usize)
        } else {
            (8, usize::from(u16::from_le_bytes([file[at + 6], file[at + 7]])))
        };
        assert_eq!(length % 2, 0, "{tag:08x} has an odd length");
        if tag == 0x7fe0_0010 {
            pixels = length;
        }
        at += head + length;
    }
    assert_eq!((at, pixels), (file.len(), 64 * 64 * 2));
}

/// Blood of a stated volume is drawn in that volume: 800 ml in a left pleura, measured on the CT as the rise in Hounsfield
/// units over that of whole pixels of lung turned to blood, and in a frontal view as the added attenuation, which by the definition of a line integral
/// sums to the volume times the difference of the coefficients.
#[test]
fn lost_blood_is_drawn_in_its_volume() {
    use overwire::anatomy::Cavity;
    let adult = adult(26.0);
    let beam = Beam::default();
    let dry = Body::new(&adult.tree, &beam);
    let from = adult.tree.aorta().curve.point(adult.marks.lesion);
    let wet = dry.with_spilled(&[Spill { into: Cavity::LeftPleura, ml: 800.0, from }]);
    let both = dry.with_spilled(&[
        Spill { into: Cavity::LeftPleura, ml: 800.0, from },
        Spill { into: Cavity::Mediastinum, ml: 150.0, from },
    ]);
    // Lung turned to blood, left and right of the midline, ml. Vessels of the lung are not counted.
    let turned = |body: &Body| {
        let (pixel_mm, apart_mm) = (2.5, 8.0);
        let scan = |body| {
            let mut scan = Scan::new(&Scene::bare(&adult.tree, Some(body)));
            scan.noise_hu = 0.0;
            scan
        };
        let (dry, wet) = (scan(&dry), scan(body));
        let (mut ml, mut whole) = ([0.0; 2], (0.0, 0.0));
        for k in 0..45 {
            let plane = Plane::axial(100.0 - apart_mm * f64::from(k), 0.0, 0.0, 150, pixel_mm);
            let mut stream = Streams::new(1).named("ct");
            let a = dry.slice(&plane, &mut stream).unwrap();
            let b = wet.slice(&plane, &mut stream).unwrap();
            for (i, (a, b)) in a.hu.iter().zip(&b.hu).enumerate().filter(|(_, (a, b))| **b - **a > 20.0) {
                ml[usize::from(i % 150 < 75)] += f64::from(b - a) * pixel_mm * pixel_mm * apart_mm * 1e-3;
                if *a < -500.0 && *b > 0.0 {
                    whole = (whole.0 + f64::from(b - a), whole.1 + 1.0);
                }
            }
        }
        ml.map(|v| v * whole.1 / f64::max(whole.0, 1.0))
    };
    let ([left, right], [more, _]) = (turned(&wet), turned(&both));
    assert!((left / 800.0 - 1.0).abs() < 0.07 && right < 5.0, "{left} {right}");
    // Blood in the mediastinum takes the place of fat and of lung.
    assert!((5.0..150.0).contains(&(more - left)), "{more} {left}");

    let view =
        Pose { isocentre: patient::v(60.0, 20.0, -60.0), field_mm: 500.0, ..Pose::default() }.view(256);
    let line = |b: &Body| {
        let mut out = b.background(&view).still;
        b.background(&view).moving.add_to(&mut out, &motion::Motion::default());
        out
    };
    let extra: f64 = line(&wet).iter().zip(line(&dry)).map(|(w, d)| f64::from(w - d)).sum();
    // A pixel's area where the blood lies, some 40 mm nearer to the tube than the isocentre's plane.
    let at = view.pixel_at_isocentre_mm() * (760.0 - 40.0) / 760.0;
    // Lung low in a patient on the back is a seventh denser than its mean (as drawn).
    let mu = beam.mu(Material::Blood) - 1.15 * beam.mu(Material::InflatedLung);
    let seen_ml = extra * at * at * 1e-2 / mu;
    assert!((seen_ml / 800.0 - 1.0).abs() < 0.12, "{seen_ml}");
}

/// Along a patient's way to the groin: a straightened vessel is blood from the valve to the puncture, row by row as long as the
/// centreline, whatever side it is turned to.
#[test]
fn the_stretched_way_is_blood_to_the_groin() {
    use overwire::anatomy::{Rail, Site};
    let case = overwire::records::library::case("descending_rupture").unwrap();
    let mut scan = Scan::new(&Scene::bare(&case.tree, None));
    scan.noise_hu = 0.0;
    let leg = Site::RightFemoral;
    let length_mm = Rail::for_access(&case.tree, leg).unwrap().length_mm();
    for turn_deg in [0.0, 70.0, 180.0] {
        let (field_mm, slab_mm) = (600.0, 10.0);
        let view = cut::View::Stretched;
        let cut = Cut { view, at_mm: 0.5 * length_mm, leg, field_mm, on_vessel: true, turn_deg, slab_mm };
        let s = cut.of(&case.tree, &scan, 300, &mut Streams::new(1).named("ct")).unwrap();
        let lit: Vec<usize> = (0..300).filter(|r| s.at(150, *r) > 250.0).collect();
        let long = lit.len() as f64 * s.pixel_mm;
        // An end's row is half blurred; a small artery's axis can fall between two columns.
        assert!(long > 0.97 * length_mm.min(field_mm) && long <= length_mm + 4.0, "{long} {length_mm}");
    }
}

/// A maximum is no less than any of its parts (definition): every point of the centreline that lies in the slab is bright at its
/// place on the picture; a thin slab in front of the vessel shows none of it.
#[test]
fn the_brightest_of_a_slab_holds_what_lies_in_it() {
    use overwire::anatomy::Site;
    use overwire::math::Vec3;
    let case = overwire::records::library::case("descending_rupture").unwrap();
    let mut scan = Scan::new(&Scene::bare(&case.tree, None));
    scan.noise_hu = 0.0;
    let curve = &case.tree.aorta().curve;
    let at_mm = 300.0;
    let middle = curve.point(at_mm);
    for turn_deg in [0.0_f64, 90.0, -40.0] {
        let view = cut::View::Brightest;
        let cut = Cut {
            view,
            at_mm,
            leg: Site::RightFemoral,
            field_mm: 200.0,
            on_vessel: true,
            turn_deg,
            slab_mm: 200.0,
        };
        let s = cut.of(&case.tree, &scan, 200, &mut Streams::new(1).named("ct")).unwrap();
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let right = Vec3::new(cos, sin, 0.0);
        let mut seen = 0;
        for k in 0..200 {
            let q = curve.point(at_mm - 100.0 + f64::from(k)) - middle;
            let (x, y) = (q.dot(right) + 99.5, -q.z + 99.5);
            if (2.0..198.0).contains(&x) && (2.0..198.0).contains(&y) {
                seen += 1;
                assert!(s.at(x.round() as usize, y.round() as usize) > 300.0, "{turn_deg}: {k}");
            }
        }
        assert!(seen > 100, "{seen}");
    }
}
