//! Wires in vessels.

use super::phantom::Stick;
use overwire::anatomy::{Lumen, Tree, Vessel, VesselName, Wall};
use overwire::kit::WireGrade;
use overwire::math::{Curve, Vec3, ops};
use overwire::mechanics::rod::capstan;
use overwire::mechanics::{Corridor, Rod, RodShape, Route, settle};

/// Advances a rod by 1 cm at a time.
pub fn advance(corridor: &Corridor, rod: impl Fn(f64) -> Rod, to_mm: f64) -> RodShape {
    let mut shape = settle(corridor, &rod(to_mm.min(100.0)), None);
    let mut length = 100.0;
    while length < to_mm {
        length = (length + 10.0).min(to_mm);
        shape = settle(corridor, &rod(length), Some(&shape));
    }
    shape
}

/// Straightening of a sinusoid on an elastic (Winkler) foundation: the amplitude that is left is 1 / (1 + EI q⁴ / k)
/// (Hetényi, Beams on Elastic Foundation, 1946). The support of a vessel here is 12 kN/m².
#[test]
fn stiff_wire_straightens_a_wavy_vessel() {
    for wave in [100.0, 150.0, 200.0] {
        let q = std::f64::consts::TAU / wave;
        let points: Vec<Vec3> =
            (0..=160).map(|i| 4.0 * f64::from(i)).map(|z| Vec3::new(1.5 * ops::sin(q * z), 0.0, z)).collect();
        let curve = Curve::through(&points).unwrap();
        // A vessel without clearance: its radius is the rod's.
        let lumen = Lumen::sample(curve.length_mm(), 1.0, 48, |_, _| 1.0);
        let vessel = Vessel { name: VesselName::Aorta, curve, lumen, wall: Wall::default(), root: None };
        let tree = Tree { vessels: vec![vessel], reference_map_mmhg: 90.0 };
        let route = Route::aorta(&tree);
        let corridor = Corridor::new(&tree, &route, route.length_mm(), true);
        let rod = Rod::even(6100.0, 1.0, route.length_mm() - 4.0);
        let mut shape = settle(&corridor, &rod, None);
        for _ in 0..10 {
            shape = settle(&corridor, &rod, Some(&shape));
        }
        let middle = shape.nodes.iter().filter(|n| n.at.z > 200.0 && n.at.z < 440.0).map(|n| n.at.x.abs());
        let left = middle.fold(0.0, f64::max) / 1.5;
        let exact = 1.0 / (1.0 + 6100.0 * q * q * q * q / 0.012);
        assert!((left - exact).abs() < 0.03, "{wave}: {left} {exact}");
    }
}

/// Euler's and Eytelwein's rope: mu 0.1 over pi gives 1.369108, over two pi 1.874456.
#[test]
fn capstan_ratio() {
    assert!((capstan(0.1, std::f64::consts::PI) - 1.369_108).abs() < 1e-6);
    assert!((capstan(0.1, std::f64::consts::TAU) - 1.874_456).abs() < 1e-6);
}

/// Each stiffer grade presses harder on the arch, moves it further and bends less itself; a tighter arch bears more.
#[test]
fn stiffer_wires_press_harder_and_straighten_the_arch() {
    let mut of_radius = Vec::new();
    for arch_radius in [45.0, 35.0, 25.0] {
        let stick = Stick { arch_radius, ..Stick::default() };
        let tree = stick.tree();
        let route = Route::aorta(&tree);
        let corridor = Corridor::new(&tree, &route, route.length_mm() - 5.0, true);
        let (a, b) = stick.arch();
        let mut last: Option<RodShape> = None;
        for grade in [WireGrade::Standard, WireGrade::Stiff, WireGrade::SuperStiff, WireGrade::AorticExchange]
        {
            let ei = grade.ei_n_mm2(0.889);
            let shape = advance(&corridor, |l| Rod::even(ei, 0.45, l), route.length_mm() - 30.0);
            if let Some(softer) = &last {
                assert!(shape.wall_n > softer.wall_n && shape.shift_mm > softer.shift_mm);
                assert!(shape.turn_rad(a, b) < softer.turn_rad(a, b) + 0.02);
                assert!(shape.push_n > softer.push_n);
            }
            last = Some(shape);
        }
        of_radius.extend(last.map(|s| s.wall_n));
    }
    assert!(of_radius[0] < of_radius[1] && of_radius[1] < of_radius[2], "{of_radius:?}");
}

/// The wire runs on the outer side of the arch.
#[test]
fn wire_hugs_the_outer_curve() {
    let stick = Stick::default();
    let tree = stick.tree();
    let route = Route::aorta(&tree);
    let corridor = Corridor::new(&tree, &route, route.length_mm() - 5.0, true);
    let shape = advance(&corridor, |l| Rod::even(895.0, 0.45, l), route.length_mm() - 30.0);
    let (a, b) = stick.arch();
    let centre = Vec3::new(0.0, stick.arch_radius, stick.ascending);
    let top: Vec<f64> = shape
        .nodes
        .iter()
        .filter(|n| n.s_mm > a + 35.0 && n.s_mm < b - 35.0)
        .map(|n| n.at.distance(centre) - stick.arch_radius)
        .collect();
    assert!(top.iter().all(|&outward| outward > 8.0), "{top:?}");
    assert!(shape.slack_mm > 20.0);
}
