//! Courses of the branches, as offsets from their origin in patient axes (x left, y back, z head).

use super::VesselName;
use super::course::{arc, bisect, respace};
use crate::math::{Curve, Vec3, ops};
use std::f64::consts::PI;

/// Offsets from the origin, mm; only their shape counts, the length is set by the caller.
fn template(name: VesselName) -> &'static [[f64; 3]] {
    use VesselName::*;
    match name {
        Aorta | FalseLumen | Intercostals => &[[30.0, 25.0, -4.0], [70.0, 10.0, -10.0]],
        Innominate => &[[-8.0, -3.0, 16.0], [-16.0, -4.0, 30.0], [-24.0, -3.0, 43.0]],
        RightCarotid => &[[-1.0, 1.0, 20.0], [-5.0, 4.0, 50.0], [-6.0, 6.0, 81.0]],
        RightSubclavian => &[
            [-12.0, 2.0, 9.0],
            [-40.0, 8.0, 14.0],
            [-75.0, 12.0, 0.0],
            [-105.0, 10.0, -30.0],
            [-128.0, 6.0, -90.0],
            [-140.0, 0.0, -160.0],
            [-148.0, -8.0, -290.0],
        ],
        LeftCarotid => &[[3.0, 0.0, 25.0], [9.0, 4.0, 70.0], [12.0, 8.0, 121.0]],
        LeftSubclavian => &[
            [5.0, 5.0, 25.0],
            [16.0, 10.0, 48.0],
            [42.0, 15.0, 56.0],
            [78.0, 16.0, 42.0],
            [110.0, 12.0, 10.0],
            [134.0, 6.0, -50.0],
            [146.0, 0.0, -120.0],
            [156.0, -8.0, -290.0],
        ],
        RightVertebral => &[[4.0, 10.0, 22.0], [8.0, 14.0, 70.0], [8.0, 14.0, 200.0]],
        LeftVertebral => &[[-4.0, 8.0, 20.0], [-8.0, 12.0, 70.0], [-8.0, 12.0, 200.0]],
        Coeliac => &[[-1.0, -12.0, -6.0], [-8.0, -20.0, -4.0], [-32.0, -26.0, 4.0], [-62.0, -20.0, 8.0]],
        Sma => &[[0.0, -10.0, -8.0], [-1.0, -18.0, -30.0], [-5.0, -24.0, -90.0], [-22.0, -26.0, -190.0]],
        RightRenal => &[[-10.0, -2.0, -4.0], [-24.0, 10.0, -9.0], [-36.0, 22.0, -12.0]],
        LeftRenal => &[[9.0, 1.0, -3.0], [22.0, 10.0, -6.0], [34.0, 20.0, -8.0]],
        Ima => &[[4.0, -6.0, -12.0], [12.0, -7.0, -40.0], [20.0, 0.0, -85.0]],
        RightCommonIliac => &[[-10.0, -3.0, -15.0], [-26.0, 0.0, -38.0], [-42.0, 7.0, -60.0]],
        LeftCommonIliac => &[[10.0, -3.0, -15.0], [26.0, 0.0, -38.0], [42.0, 7.0, -60.0]],
        RightInternalIliac => &[[2.0, 14.0, -14.0], [7.0, 28.0, -38.0], [8.0, 32.0, -60.0]],
        LeftInternalIliac => &[[-2.0, 14.0, -14.0], [-7.0, 28.0, -38.0], [-8.0, 32.0, -60.0]],
        RightExternalIliac => {
            &[[-14.0, 0.0, -22.0], [-26.0, -14.0, -52.0], [-34.0, -36.0, -84.0], [-36.0, -46.0, -118.0]]
        }
        LeftExternalIliac => {
            &[[14.0, 0.0, -22.0], [26.0, -14.0, -52.0], [34.0, -36.0, -84.0], [36.0, -46.0, -118.0]]
        }
    }
}

/// Centreline of a branch that starts at `start`, leaves along `heading` (no matter if zero) and is
/// `length_mm` long.
pub(super) fn course(name: VesselName, start: Vec3, heading: Vec3, length_mm: f64) -> Option<Curve> {
    let shape: Vec<Vec3> = template(name).iter().map(|&[x, y, z]| Vec3::new(x, y, z)).collect();
    // The first millimetres leave square to the parent; the rest is stretched to the length.
    let lead = heading.unit() * (0.12 * length_mm).min(8.0);
    let points = |k: f64| {
        let mut p = vec![start];
        if lead.norm() > 0.0 {
            p.push(start + lead);
        }
        p.extend(shape.iter().map(|&d| start + lead + d * k));
        p
    };
    // Length grows almost in proportion to the stretch: a few corrections reach it.
    let mut k = 1.0;
    for _ in 0..4 {
        let ours = Curve::through(&points(k))?.length_mm();
        k *= (length_mm - lead.norm()) / (ours - lead.norm()).max(1.0);
    }
    Curve::through(&points(k))
}

/// The way from the bifurcation to the groin, through the common into the external iliac, with the given
/// tortuosity: length to chord. `None` keeps the usual course with the stated lengths; tortuosity makes both
/// longer between the same ends.
pub(super) fn iliacs(
    common: VesselName,
    external: VesselName,
    start: Vec3,
    heading: Vec3,
    lengths_mm: [f64; 2],
    tortuosity: Option<f64>,
) -> Result<[Curve; 2], String> {
    let folded =
        || format!("anatomy, {}: the course folds onto itself; write a smaller tortuosity", common.label());
    let first = course(common, start, Vec3::ZERO, lengths_mm[0]).ok_or_else(folded)?;
    let end = first.point(lengths_mm[0]);
    let second = course(external, end, Vec3::ZERO, lengths_mm[1]).ok_or_else(folded)?;
    let sampled =
        |c: &Curve| (0..=40).map(|i| c.point(c.length_mm() * f64::from(i) / 40.0)).collect::<Vec<_>>();
    let mut way = sampled(&first);
    way.extend(sampled(&second).into_iter().skip(1));
    // One smooth line through both, so that the joint has no corner; it starts a little along the aorta.
    way[1] = way[1].lerp(start + heading.unit() * way[0].distance(way[1]), 0.3);
    let way = respace(&way, 4.0);
    let total = lengths_mm[0] + lengths_mm[1];
    let chord = |w: &[Vec3]| w[0].distance(w[w.len() - 1]);
    let (span, natural) = (chord(&way), arc(&way) / chord(&way));
    let side = Vec3::new(0.25, 0.95, 0.18).reject((way[way.len() - 1] - way[0]).unit()).unit();
    let bent = |sway: f64| -> Vec<Vec3> {
        let n = way.len() - 1;
        let wave = |i: usize| {
            let t = i as f64 / n as f64;
            let fade = ops::sin(PI * t);
            sway * fade * ops::sin(4.0 * PI * t)
        };
        way.iter().enumerate().map(|(i, &p)| p + side * wave(i)).collect()
    };
    let sway = match tortuosity {
        None => 0.0,
        Some(ti) if ti < natural - 0.02 => {
            return Err(format!(
                "anatomy, {}: tortuosity {ti} is straighter than the pelvis allows; write {natural:.2} or more",
                common.label()
            ));
        }
        Some(ti) => bisect(0.0, 0.6 * span, |a| arc(&bent(a)) / span - ti),
    };
    let whole = bent(sway);
    let curve = Curve::through(&respace(&whole, 8.0)).ok_or_else(folded)?;
    let k = curve.length_mm() / total;
    let cut = |a: f64, b: f64| {
        let n = ((b - a) / 6.0).ceil().max(4.0) as usize;
        let points: Vec<Vec3> =
            (0..=n).map(|i| curve.point(k * (a + (b - a) * i as f64 / n as f64))).collect();
        Curve::through(&points)
    };
    Ok([cut(0.0, lengths_mm[0]).ok_or_else(folded)?, cut(lengths_mm[0], total).ok_or_else(folded)?])
}
