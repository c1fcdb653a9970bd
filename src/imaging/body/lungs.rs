//! Lung vessels: a random branching from each hilum, kept where there is air.

use super::soft::Anatomy;
use crate::imaging::solid::Solid;
use crate::math::{Streams, Vec3, ops};

/// Thinnest vessel drawn, mm, and most generations.
const THINNEST_MM: f64 = 0.42;
const GENERATIONS: u32 = 8;
/// Trunks from each hilum.
const TRUNKS: u32 = 15;

/// The trees of both lungs, in trunk coordinates.
pub fn vessels(anatomy: &Anatomy) -> Vec<Solid> {
    let mut stream = Streams::new(5).named("imaging/lung-vessels");
    let mu = anatomy.tissues.blood - anatomy.tissues.lung;
    let mut out = Vec::new();
    for (side, hilum) in [(1.0, Vec3::new(46.0, 10.0, -14.0)), (-1.0, Vec3::new(-44.0, 8.0, -26.0))] {
        let mut stack = Vec::new();
        for i in 0..TRUNKS {
            let a = f64::from(i) / f64::from(TRUNKS) * std::f64::consts::TAU + 0.3;
            let (s, c) = ops::sin_cos(a);
            let dir = Vec3::new(side * (0.35 + 0.6 * stream.uniform()), 0.85 * c, 1.05 * s - 0.15).unit();
            stack.push((hilum + dir * 9.0, dir, 2.1 + 1.5 * stream.uniform(), 0));
        }
        while let Some((at, dir, radius, depth)) = stack.pop() {
            if radius < THINNEST_MM || depth > GENERATIONS {
                continue;
            }
            let mut jitter =
                || Vec3::new(stream.range(-1.0, 1.0), stream.range(-1.0, 1.0), stream.range(-1.0, 1.0));
            let (bend, turn) = (jitter(), jitter());
            let spread = [jitter(), jitter(), jitter()];
            let length = (9.0 + radius * 5.0) * stream.range(0.75, 1.25);
            let end = at + dir * length + bend * (length * 0.08);
            if anatomy.at(end).lung < 0.5 && depth > 1 {
                continue;
            }
            let middle = (at + end) * 0.5 + turn * (length * 0.06);
            out.extend(Solid::chain(&[at, middle, end], |_| radius, mu));
            let children = if stream.chance(0.6) { 2 } else { 3 };
            for (k, s) in spread.iter().enumerate().take(children) {
                let (wide, thin) = if k == 0 { (0.35, 0.84) } else { (0.85, stream.range(0.58, 0.74)) };
                stack.push((end, (dir + *s * wide).unit(), radius * thin, depth + 1));
            }
        }
    }
    out
}
