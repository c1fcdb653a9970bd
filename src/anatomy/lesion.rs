//! How lesions change a lumen, and what is remembered of them on the wall.

use super::around::{theta_of, wrap};
use super::spec::{Lesion, LesionShape, Patch, ResizeSpec, Rupture};
use super::{Lumen, Vessel};
use crate::math::{interp, ops};
use std::f64::consts::PI;

/// A lesion as it lies on a built vessel.
#[derive(Clone, Debug, PartialEq)]
pub struct LesionMark {
    /// As said aloud.
    pub label: String,
    /// First and last arc length, mm.
    pub from_mm: f64,
    /// Last arc length, mm.
    pub to_mm: f64,
    /// Middle of its side, rad; `None` when it goes all round.
    pub theta_rad: Option<f64>,
    /// Its shape as written.
    pub shape: LesionShape,
    /// Where it has burst: the middle of the lesion's deepest wall.
    pub rupture: Option<Rupture>,
}

impl LesionMark {
    /// Arc length of its middle, mm.
    pub fn at_mm(&self) -> f64 {
        0.5 * (self.from_mm + self.to_mm)
    }

    /// How deep a fusiform one is at a place, as a part of its depth in the middle; none outside it and for other shapes.
    fn depth(&self, s_mm: f64) -> Option<f64> {
        let half = 0.5 * (self.to_mm - self.from_mm);
        let ds = (s_mm - self.at_mm()).abs();
        let fusiform = matches!(self.shape, LesionShape::Fusiform { .. });
        (fusiform && ds < half).then(|| swelling(ds / half))
    }
}

/// Changes the lumen, and returns the mark. `at_mm` is the middle.
pub(super) fn apply(lesion: &Lesion, at_mm: f64, vessel: &mut Vessel) -> LesionMark {
    let half = 0.5 * lesion.length_mm;
    let curve = vessel.curve.clone();
    let side = |toward| theta_of(&curve, at_mm, toward);
    let theta_rad = match lesion.shape {
        LesionShape::Fusiform { toward, .. } => toward.map(side),
        LesionShape::Saccular { toward, .. }
        | LesionShape::Ulcer { toward, .. }
        | LesionShape::Transection { toward, .. } => Some(side(toward)),
    };
    match lesion.shape {
        LesionShape::Fusiform { max_mm, .. } => {
            let swell = 0.5 * (max_mm - vessel.lumen.diameter_mm(at_mm));
            edit(&mut vessel.lumen, at_mm, half, |r, ds, theta| {
                // One side may carry up to 1.6 times the other's growth; the mean stays as written.
                let lean = theta_rad.map_or(1.0, |t| 1.0 + 0.23 * ops::cos(theta - t));
                r + swell * lean * swelling(ds / half)
            });
        }
        LesionShape::Saccular { neck_mm, depth_mm, .. }
        | LesionShape::Ulcer { neck_mm, depth_mm, .. }
        | LesionShape::Transection { neck_mm, depth_mm, .. } => {
            if depth_mm > 0.0 {
                let theta = theta_rad.unwrap_or(0.0);
                let wall = vessel.lumen.radius(at_mm, theta);
                let pouch = Pouch::new(neck_mm, depth_mm, half, wall);
                edit(&mut vessel.lumen, at_mm, half, |r, ds, t| pouch.union(r, ds, wrap(t - theta)));
            }
        }
    }
    let label = if lesion.label.is_empty() { default_label(&lesion.shape) } else { lesion.label.clone() };
    LesionMark {
        label,
        from_mm: (at_mm - half).max(0.0),
        to_mm: (at_mm + half).min(vessel.curve.length_mm()),
        theta_rad,
        shape: lesion.shape,
        rupture: lesion.rupture,
    }
}

/// A bump from 1 in the middle to 0 at either end, by the part of the way there.
fn swelling(part: f64) -> f64 {
    0.5 * (1.0 + ops::cos(PI * part))
}

/// Scales a stretch so that its middle has the given diameter. `at_mm` is the middle.
pub(super) fn resize(spec: &ResizeSpec, at_mm: f64, vessel: &mut Vessel) {
    let half = 0.5 * spec.length_mm;
    let factor = spec.diameter_mm / vessel.lumen.diameter_mm(at_mm);
    // Full size over the middle half, soft ends.
    edit(&mut vessel.lumen, at_mm, half, |r, ds, _| {
        r * (1.0 + (factor - 1.0) * (1.0 - interp::smooth_step(0.5 * half, half, ds.abs())))
    });
}

/// Draws in the inner side of a bend where rings would otherwise cross: a wide sac on a sharp bend lies to
/// its outer side. Nothing else is touched.
pub(super) fn unfold(vessel: &mut Vessel) {
    let (step, n) = (vessel.lumen.step_mm(), vessel.lumen.n_theta());
    for i in 0..vessel.lumen.stations() {
        let s = step * i as f64;
        let k = vessel.curve.curvature(s);
        let frame = vessel.curve.frame(s);
        for (j, r) in vessel.lumen.ring_mut(i).iter_mut().enumerate() {
            let facing = frame.radial(2.0 * PI * j as f64 / n as f64).dot(k);
            if *r * facing > CROSSING {
                *r = CROSSING / facing;
            }
        }
    }
}

/// Radius over radius of curvature at which rings are about to cross.
const CROSSING: f64 = 0.92;

fn default_label(shape: &LesionShape) -> String {
    match shape {
        LesionShape::Fusiform { max_mm, .. } => format!("fusiform aneurysm, {max_mm:.0} mm"),
        LesionShape::Saccular { depth_mm, .. } => format!("saccular aneurysm, {depth_mm:.0} mm deep"),
        LesionShape::Ulcer { .. } => "penetrating ulcer".to_owned(),
        LesionShape::Transection { grade, .. } => format!("blunt aortic injury, grade {grade}"),
    }
}

/// Rewrites the radii within `half` of `at_mm`.
fn edit(lumen: &mut Lumen, at_mm: f64, half: f64, new_radius: impl Fn(f64, f64, f64) -> f64) {
    let (step, n) = (lumen.step_mm(), lumen.n_theta());
    for i in 0..lumen.stations() {
        let ds = step * i as f64 - at_mm;
        if ds.abs() >= half {
            continue;
        }
        for (k, r) in lumen.ring_mut(i).iter_mut().enumerate() {
            *r = new_radius(*r, ds, 2.0 * PI * k as f64 / n as f64);
        }
    }
}

/// A ball, drawn out along the vessel, that meets the wall in a mouth of the given width.
struct Pouch {
    /// Radius of the ball, mm.
    ball: f64,
    /// Distance of its centre from the centreline, mm.
    out: f64,
    /// Half its length along the vessel, mm.
    half: f64,
}

impl Pouch {
    fn new(neck_mm: f64, depth_mm: f64, half_mm: f64, wall_mm: f64) -> Self {
        // Chord of the mouth and height of the cap: R = (h² + (n/2)²) / 2h.
        let ball = (depth_mm * depth_mm + 0.25 * neck_mm * neck_mm) / (2.0 * depth_mm);
        Self { ball, out: wall_mm + depth_mm - ball, half: half_mm }
    }

    /// The farther of the wall and the ball, seen from the centreline at angle `phi` from the ball's.
    fn union(&self, r: f64, ds: f64, phi: f64) -> f64 {
        let t = ds / self.half;
        let slice = self.ball * (1.0 - t * t).max(0.0).sqrt();
        let (s, c) = ops::sin_cos(phi);
        let inside = slice * slice - self.out * self.out * s * s;
        if inside <= 0.0 || (self.out > slice && c <= 0.0) {
            return r;
        }
        let far = self.out * c + inside.sqrt();
        // A rounded lip of about a millimetre instead of an edge.
        let lip = 1.0;
        let h = interp::smooth_step(-lip, lip, far - r);
        r + (far - r).max(0.0) * h
    }
}

/// Adds calcium to the wall. `at_mm` is the patch's middle.
pub(super) fn calcify(patch: &Patch, at_mm: f64, vessel: &mut Vessel) {
    let cells = vessel.lumen.stations() * vessel.lumen.n_theta();
    if vessel.wall.calcium.is_empty() {
        vessel.wall.calcium = vec![0.0; cells];
    }
    let cover = cover(patch, at_mm, vessel, true);
    for (cell, c) in vessel.wall.calcium.iter_mut().zip(cover) {
        *cell = (*cell + patch.amount * c).clamp(0.0, 1.0);
    }
}

/// Lines the wall with thrombus and narrows the stream by it, leaving at least a millimetre. `at_mm` is the
/// middle. In a fusiform aneurysm it is as thick as the sac is deep there, and runs out with it: a clot fills what has
/// widened, and does not stand in the stream as a ring.
pub(super) fn line(patch: &Patch, at_mm: f64, vessel: &mut Vessel) {
    let n = vessel.lumen.n_theta();
    if vessel.wall.thrombus_mm.is_empty() {
        vessel.wall.thrombus_mm = vec![0.0; vessel.lumen.stations() * n];
    }
    let step = vessel.lumen.step_mm();
    let sac = |s_mm: f64| vessel.wall.lesions.iter().find_map(|l| l.depth(s_mm));
    let depth: Vec<Option<f64>> = (0..vessel.lumen.stations()).map(|i| sac(step * i as f64)).collect();
    let soft =
        |s_mm: f64| 1.0 - interp::smooth_step(0.6, 1.4, (s_mm - at_mm).abs() / (0.5 * patch.length_mm));
    let [blunt, round] = [cover(patch, at_mm, vessel, true), cover(patch, at_mm, vessel, false)];
    for i in 0..vessel.lumen.stations() {
        let along = depth[i].map(|d| d * soft(step * i as f64));
        for (k, r) in vessel.lumen.ring_mut(i).iter_mut().enumerate() {
            let part = along.map_or(blunt[i * n + k], |a| a * round[i * n + k]);
            let thick = (patch.amount * part).min(*r - 1.0).max(0.0);
            *r -= thick;
            vessel.wall.thrombus_mm[i * n + k] += thick;
        }
    }
}

/// How much of each cell a patch covers, 0 to 1, with soft edges of a twentieth of its size; unless `ends`, as if it had no
/// upper and lower end.
fn cover(patch: &Patch, at_mm: f64, vessel: &Vessel, ends: bool) -> Vec<f64> {
    let (n, step) = (vessel.lumen.n_theta(), vessel.lumen.step_mm());
    let half = 0.5 * patch.length_mm;
    let arc = 0.5 * patch.arc_deg.to_radians();
    let whole = patch.arc_deg >= 359.0 || patch.toward.is_none();
    let mut out = Vec::with_capacity(vessel.lumen.stations() * n);
    for i in 0..vessel.lumen.stations() {
        let s = step * i as f64;
        let ds = (s - at_mm).abs();
        let along = if ends { 1.0 - interp::smooth_step(0.9 * half, 1.1 * half, ds) } else { 1.0 };
        let theta0 = match patch.toward {
            Some(toward) if along > 0.0 && !whole => theta_of(&vessel.curve, s, toward),
            _ => 0.0,
        };
        for k in 0..n {
            let turn = wrap(2.0 * PI * k as f64 / n as f64 - theta0).abs();
            let round = if whole { 1.0 } else { 1.0 - interp::smooth_step(0.9 * arc, 1.1 * arc, turn) };
            out.push(along * round);
        }
    }
    out
}
