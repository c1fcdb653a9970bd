//! The pelvis against the landmarks that a puncture and a reader go by.

use overwire::anatomy::{Rail, Site, VesselName};
use overwire::imaging::{Beam, Body, Plane, Scan, Scene};
use overwire::math::{Streams, Vec3};
use overwire::records::library;
use overwire::session::planned_body;

/// The common femoral artery is punctured over the femoral head, where it can be pressed against bone (common practice). In
/// every case the CT at the level of the groin must show, behind the artery's bright lumen, a round of bone as wide as a head:
/// 43 to 52 mm (adult women's means to men's means, from memory), its middle no more than a thumb's breadth (20 mm) outward of
/// the artery. Between both heads lie soft tissue, fat and gas, but no dense bone on the midline.
#[test]
fn groins_lie_over_femoral_heads() {
    for (id, _) in library::BUILT_IN {
        let case = library::case(id).unwrap();
        let body = planned_body(&case);
        let mut scan = Scan::new(&Scene::bare(&case.tree, Some(&body)));
        scan.noise_hu = 0.0;
        for (site, outward) in [(Site::RightFemoral, -1.0), (Site::LeftFemoral, 1.0)] {
            let rail = Rail::for_access(&case.tree, site).unwrap();
            let groin = rail.frame(&case.tree, rail.length_mm()).at;
            let plane = Plane::axial(groin.z, groin.x, groin.y, 256, 0.5);
            let slice = scan.slice(&plane, &mut Streams::new(1).named("ct")).unwrap();
            assert!(slice.at(128, 128) > 250.0, "{id}: the artery is bright");
            // Rows behind the artery; in each the widest piece of bone.
            let bone = |row: usize| -> (usize, usize) {
                let (mut best, mut from) = ((0, 0), None);
                for column in 0..=256 {
                    let hard = column < 256 && slice.at(column, row) > 130.0;
                    match (hard, from) {
                        (true, None) => from = Some(column),
                        (false, Some(a)) => {
                            if column - a > best.1 - best.0 {
                                best = (a, column);
                            }
                            from = None;
                        }
                        _ => {}
                    }
                }
                best
            };
            let widest = (150..230).map(bone).max_by_key(|b| b.1 - b.0).unwrap();
            let mm = |columns: usize| 0.5 * columns as f64;
            let width = mm(widest.1 - widest.0);
            // Socket and head are one piece where they touch.
            assert!((40.0..75.0).contains(&width), "{id}, {site:?}: {width} mm of bone");
            let middle = (mm(widest.0 + widest.1) * 0.5 - 64.0) * outward;
            assert!((-8.0..20.0).contains(&middle), "{id}, {site:?}: {middle} mm outward of the artery");
        }
    }
}

/// The aorta parts in front of the fourth lumbar vertebra, give or take one (textbook), and the line between the highest points
/// of both iliac crests crosses the spine at the fourth lumbar body or the disc below it. So along the midline, from the
/// bifurcation down to the level of the crests, there is no more than a vertebra and a half between the two, and the crests lie
/// below the bifurcation or within half a vertebra above it.
#[test]
fn crests_lie_at_the_level_of_the_bifurcation() {
    for (id, _) in library::BUILT_IN {
        let case = library::case(id).unwrap();
        let body = Body::new(&case.tree, &Beam::default());
        let mut scan = Scan::new(&Scene::bare(&case.tree, Some(&body)));
        scan.noise_hu = 0.0;
        let iliac = case.tree.get(VesselName::RightCommonIliac).unwrap().curve.point(0.0);
        // A frontal slab through the crests: the highest bone lateral of the spine and below the ribs.
        let plane = Plane {
            middle: Vec3::new(0.0, 40.0, iliac.z),
            right: Vec3::new(1.0, 0.0, 0.0),
            down: Vec3::new(0.0, 0.0, -1.0),
            size: (300, 200),
            pixel_mm: 1.0,
        };
        let slice = scan.brightest(&plane, 40.0, &mut Streams::new(1).named("ct")).unwrap();
        let crest_row = (80..200).find(|row| (40..95).any(|column| slice.at(column, *row) > 250.0)).unwrap();
        let below_mm = crest_row as f64 - 99.5;
        assert!((-20.0..55.0).contains(&below_mm), "{id}: crests {below_mm} mm below the bifurcation");
    }
}
