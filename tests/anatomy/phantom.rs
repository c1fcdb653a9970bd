//! Shapes whose measures are known in closed form.

use overwire::anatomy::{Lumen, Tree, Vessel, VesselName, Wall};
use overwire::math::{Curve, Vec3, ops};
use std::f64::consts::TAU;

/// A tube of given radii about a curve, as the aorta of a tree at 90 mmHg.
pub fn tube(curve: Curve, n_theta: usize, radius_mm: impl Fn(f64, f64) -> f64) -> Tree {
    let lumen = Lumen::sample(curve.length_mm(), 1.0, n_theta, radius_mm);
    let aorta = Vessel { name: VesselName::Aorta, curve, lumen, wall: Wall::default(), root: None };
    Tree { vessels: vec![aorta], reference_map_mmhg: 90.0 }
}

/// Along -z, from the origin.
pub fn line(length_mm: f64) -> Curve {
    let points: Vec<Vec3> = (0..=20).map(|i| Vec3::new(0.0, 0.0, -length_mm * f64::from(i) / 20.0)).collect();
    Curve::through(&points).unwrap()
}

/// An arc of a circle in the x-z plane, rising from the origin and turning to +x.
pub fn arc(radius_mm: f64, angle_rad: f64) -> Curve {
    let points: Vec<Vec3> = (0..=96)
        .map(|i| {
            let (s, c) = ops::sin_cos(angle_rad * f64::from(i) / 96.0);
            Vec3::new(radius_mm * (1.0 - c), 0.0, radius_mm * s)
        })
        .collect();
    Curve::through(&points).unwrap()
}

/// Radius of an ellipse of semi-axes a, b at an angle.
pub fn ellipse(a: f64, b: f64, theta: f64) -> f64 {
    let (s, c) = ops::sin_cos(theta);
    a * b / ((b * c) * (b * c) + (a * s) * (a * s)).sqrt()
}

/// Volume and surface of a lumen's polygon rings swept along a curve, mm³ and mm².
pub fn volume_and_surface(tree: &Tree) -> (f64, f64) {
    let v = tree.aorta();
    let (step, n) = (v.lumen.step_mm(), v.lumen.n_theta());
    let point = |i: usize, k: usize| {
        let frame = v.curve.frame(step * i as f64);
        let theta = TAU * (k % n) as f64 / n as f64;
        frame.at + frame.radial(theta) * v.lumen.radius(step * i as f64, theta)
    };
    let (mut volume, mut surface) = (0.0, 0.0);
    for i in 0..v.lumen.stations() - 1 {
        for k in 0..n {
            let (a, b, c, d) = (point(i, k), point(i, k + 1), point(i + 1, k + 1), point(i + 1, k));
            for (p, q, r) in [(a, b, c), (a, c, d)] {
                let normal = (q - p).cross(r - p);
                surface += 0.5 * normal.norm();
                volume += p.dot(normal) / 6.0;
            }
        }
    }
    // The open ends of a closed torus meet; of anything else they are not asked for.
    (volume.abs(), surface)
}
