//! A stretch of vessel as a device feels it: a table of frames and radii that answers "how deep in the wall is this point?".

use crate::anatomy::{Rail, Tree, VesselName};
use crate::math::{Curve, Streams, Vec3, ops};

/// Spacing of the table along the vessel, mm.
const STEP_MM: f64 = 0.5;
/// Angles of the table.
const ANGLES: usize = 48;
/// Radial stiffness of a soft arterial wall, kPa for each mm: about 0.35 mm of radius for 40 mmHg (assumed).
pub(super) const WALL_KPA_PER_MM: f64 = 15.0;
/// How much stiffer a fully calcified cell is, and how much softer 1 mm of thrombus makes it (assumed).
const CALCIUM_STIFFER: f64 = 4.0;
const THROMBUS_SOFTER_PER_MM: f64 = 0.15;

/// The vessels that a device lies in, in order from the valve outward, joined to one ruler.
///
/// The ruler is the aorta's own arc length; beyond a bifurcation the child's arc length is added.
#[derive(Clone, Debug)]
pub struct Route {
    /// (vessel index in the tree, ruler position where it begins, own arc length there).
    parts: Vec<(usize, f64, f64)>,
    length_mm: f64,
    /// One smooth centreline for more than one vessel.
    joined: Option<Curve>,
}

impl Route {
    /// Along the named vessels, each a branch of the one before. Names that do not join on are left out.
    pub fn along(tree: &Tree, names: &[VesselName]) -> Self {
        let mut parts: Vec<(usize, f64, f64)> = Vec::new();
        let mut length_mm = 0.0;
        for name in names {
            let Some(index) = tree.vessels.iter().position(|v| v.name == *name) else { continue };
            let vessel = &tree.vessels[index];
            match (parts.last(), vessel.root) {
                (None, _) => length_mm = vessel.curve.length_mm(),
                (Some(&(parent, start, own)), Some(root)) if root.parent == parent => {
                    let at = start + root.s_mm - own;
                    parts.push((index, at, 0.0));
                    length_mm = at + vessel.curve.length_mm();
                    continue;
                }
                _ => continue,
            }
            parts.push((index, 0.0, 0.0));
        }
        if parts.is_empty() {
            parts.push((0, 0.0, 0.0));
            length_mm = tree.aorta().curve.length_mm();
        }
        let mut route = Self { parts, length_mm, joined: None };
        if route.parts.len() > 1 {
            route.joined = route.join(tree);
        }
        route
    }

    /// Along the aorta only.
    pub fn aorta(tree: &Tree) -> Self {
        Self::along(tree, &[VesselName::Aorta])
    }

    /// Along the ruler of an access.
    pub fn of_rail(tree: &Tree, rail: &Rail) -> Self {
        let parts = rail.legs.iter().map(|l| (l.vessel, l.from_mm, l.s_mm)).collect();
        let mut route = Self { parts, length_mm: rail.length_mm(), joined: None };
        if route.parts.len() > 1 {
            route.joined = route.join(tree);
        }
        route
    }

    /// Length of the ruler, mm.
    pub fn length_mm(&self) -> f64 {
        self.length_mm
    }

    /// The vessel at a place on the ruler, and the arc length along it.
    pub fn vessel_at(&self, s_mm: f64) -> (usize, f64) {
        let k = self.parts.partition_point(|p| p.1 <= s_mm).max(1) - 1;
        let (index, start, own) = self.parts[k];
        (index, own + s_mm - start)
    }

    /// Which of the route's vessels lies at a place on the ruler, counted from the first.
    pub(super) fn leg_at(&self, s_mm: f64) -> usize {
        self.parts.partition_point(|p| p.1 <= s_mm).max(1) - 1
    }

    /// Place on the ruler of an arc length on one of its vessels.
    pub fn ruler_mm(&self, vessel: usize, s_mm: f64) -> Option<f64> {
        let k = self.parts.iter().position(|p| p.0 == vessel)?;
        let (_, start, own) = self.parts[k];
        let ruler = start + s_mm - own;
        let until = self.parts.get(k + 1).map_or(self.length_mm, |p| p.1);
        (ruler <= until).then_some(ruler)
    }

    /// Knots every few millimetres, with the corner at each joint left out, so that the centreline turns as a device would.
    fn join(&self, tree: &Tree) -> Option<Curve> {
        const KNOT_MM: f64 = 6.0;
        const CORNER_MM: f64 = 9.0;
        let n = (self.length_mm / KNOT_MM).ceil() as usize;
        let mut points = Vec::with_capacity(n + 1);
        for i in 0..=n {
            let s = self.length_mm * i as f64 / n as f64;
            if self.parts[1..].iter().any(|p| (p.1 - s).abs() < CORNER_MM) && i != n && i != 0 {
                continue;
            }
            let (v, own) = self.vessel_at(s);
            points.push(tree.vessels[v].curve.point(own));
        }
        Curve::through(&points)
    }
}

/// Table of a stretch of a route.
#[derive(Clone, Debug)]
pub(super) struct Tube {
    /// Ruler position of the first entry, mm.
    pub from_mm: f64,
    pub step_mm: f64,
    pub frames: Vec<[Vec3; 4]>,
    /// Change of the tangent for each mm, for each interval.
    turn: Vec<Vec3>,
    radius: Vec<f64>,
    stiffness: Vec<f64>,
    /// True where an earlier graft, not the vessel, is what the device meets.
    lined: Vec<bool>,
}

/// A place on the ruler is found to within this, mm: a wall that flares by a half moves by half of it.
const NEAR_MM: f64 = 1e-4;

/// How a point lies to the wall.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Depth {
    /// Distance beyond the wall, mm; negative inside the lumen.
    pub mm: f64,
    /// Gradient of that distance.
    pub slope: Vec3,
    /// Ruler position and angle of the point.
    pub s_mm: f64,
    pub theta_rad: f64,
    /// Radial stiffness of the wall there, kPa/mm.
    pub wall_kpa_mm: f64,
    /// What is met is fabric of an earlier graft.
    pub lined: bool,
}

impl Tube {
    /// From the tree. `irregular_mm` is the root-mean-square unevenness of a wall, drawn from `seed`.
    pub(super) fn cut(
        tree: &Tree,
        route: &Route,
        from_mm: f64,
        to_mm: f64,
        irregular_mm: f64,
        seed: u64,
    ) -> Self {
        Self::sampled(tree, route, [from_mm, to_mm, STEP_MM], irregular_mm, seed)
    }

    /// As [`Tube::cut`], with the spacing given: `[from, to, step]`, mm.
    pub(super) fn sampled(
        tree: &Tree,
        route: &Route,
        [from_mm, to_mm, step]: [f64; 3],
        irregular_mm: f64,
        seed: u64,
    ) -> Self {
        let from_mm = from_mm.max(0.0);
        let to_mm = to_mm.min(route.length_mm());
        let n = (((to_mm - from_mm) / step).ceil() as usize).max(2) + 1;
        let step_mm = (to_mm - from_mm) / (n - 1) as f64;
        let bumps = Bumps::draw(irregular_mm, seed);
        let mut frames = Vec::with_capacity(n);
        let mut radius = Vec::with_capacity(n * ANGLES);
        let mut stiffness = Vec::with_capacity(n * ANGLES);
        for i in 0..n {
            let s = from_mm + step_mm * i as f64;
            let (index, own) = route.vessel_at(s);
            let vessel = &tree.vessels[index];
            let native = vessel.curve.frame(own);
            let frame = match &route.joined {
                Some(curve) => curve.frame(s * curve.length_mm() / route.length_mm()),
                None => native,
            };
            let shift = if route.joined.is_some() { native.angle_of(frame.normal) } else { 0.0 };
            let grid_row = ((own / vessel.lumen.step_mm()).round() as usize).min(vessel.lumen.stations() - 1);
            let uneven = bumps.ring(s);
            for (k, bump) in uneven.iter().enumerate() {
                let theta = std::f64::consts::TAU * k as f64 / ANGLES as f64;
                let there = theta + shift;
                radius.push((vessel.lumen.radius(own, there) + bump).max(1.0));
                let turns = there / std::f64::consts::TAU;
                let col = ((turns - turns.floor()) * vessel.lumen.n_theta() as f64) as usize;
                let cell = grid_row * vessel.lumen.n_theta() + col.min(vessel.lumen.n_theta() - 1);
                let calcium = vessel.wall.calcium.get(cell).copied().unwrap_or(0.0);
                let thrombus = vessel.wall.thrombus_mm.get(cell).copied().unwrap_or(0.0);
                stiffness.push(
                    WALL_KPA_PER_MM * (1.0 + CALCIUM_STIFFER * calcium)
                        / (1.0 + THROMBUS_SOFTER_PER_MM * thrombus),
                );
            }
            frames.push([frame.at, frame.tangent, frame.normal, frame.binormal]);
        }
        let turn = frames.windows(2).map(|w| (w[1][1] - w[0][1]) * (1.0 / step_mm)).collect();
        let lined = vec![false; n * ANGLES];
        Self { from_mm, step_mm, frames, turn, radius, stiffness, lined }
    }

    /// Ruler position of the last entry, mm.
    pub(super) fn to_mm(&self) -> f64 {
        self.from_mm + self.step_mm * (self.frames.len() - 1) as f64
    }

    fn cell(&self, s_mm: f64) -> (usize, f64) {
        let last = self.frames.len() - 1;
        let x = ((s_mm - self.from_mm) / self.step_mm).clamp(0.0, last as f64);
        let i = (x as usize).min(last - 1);
        (i, x - i as f64)
    }

    /// Centre, tangent, normal, binormal at a ruler position.
    pub(super) fn frame(&self, s_mm: f64) -> [Vec3; 4] {
        let (i, f) = self.cell(s_mm);
        let (a, b) = (&self.frames[i], &self.frames[i + 1]);
        [a[0].lerp(b[0], f), a[1].lerp(b[1], f), a[2].lerp(b[2], f), a[3].lerp(b[3], f)]
    }

    /// Curvature as components on normal and binormal, 1/mm; it points to the inner side of the bend.
    pub(super) fn curvature(&self, s_mm: f64) -> [f64; 2] {
        let (i, f) = self.cell(s_mm);
        let (a, b) = (&self.frames[i], &self.frames[i + 1]);
        let turn = self.turn[i];
        [turn.dot(a[2].lerp(b[2], f)), turn.dot(a[3].lerp(b[3], f))]
    }

    /// Curvature smoothed over a window, 1/mm.
    pub(super) fn mean_curvature(&self, from_mm: f64, to_mm: f64) -> [f64; 2] {
        let n = 8;
        let mut sum = [0.0; 2];
        for i in 0..n {
            let k = self.curvature(from_mm + (to_mm - from_mm) * (f64::from(i) + 0.5) / f64::from(n));
            sum = [sum[0] + k[0], sum[1] + k[1]];
        }
        [sum[0] / f64::from(n), sum[1] / f64::from(n)]
    }

    /// Angle that the tangent turns between two positions, as components of the change on normal and binormal.
    pub(super) fn turned(&self, from_mm: f64, to_mm: f64) -> [f64; 2] {
        let n = 12;
        let h = (to_mm - from_mm) / f64::from(n);
        let mut sum = [0.0; 2];
        for i in 0..n {
            let k = self.curvature(from_mm + h * (f64::from(i) + 0.5));
            sum = [sum[0] + k[0] * h, sum[1] + k[1] * h];
        }
        sum
    }

    /// Mean radius of a section, mm.
    pub(super) fn mean_radius(&self, s_mm: f64) -> f64 {
        let (i, f) = self.cell(s_mm);
        let sum = |i: usize| self.radius[i * ANGLES..(i + 1) * ANGLES].iter().sum::<f64>() / ANGLES as f64;
        sum(i) * (1.0 - f) + sum(i + 1) * f
    }

    /// Median radius of a section, mm: a pouch on one side does not move it.
    pub(super) fn median_radius(&self, s_mm: f64) -> f64 {
        let (i, f) = self.cell(s_mm);
        let i = if f < 0.5 { i } else { i + 1 };
        let mut ring = self.radius[i * ANGLES..(i + 1) * ANGLES].to_vec();
        ring.sort_by(f64::total_cmp);
        0.5 * (ring[ANGLES / 2 - 1] + ring[ANGLES / 2])
    }

    /// Radius at a place, mm.
    pub(super) fn radius_at(&self, s_mm: f64, theta_rad: f64) -> f64 {
        let (i, f) = self.cell(s_mm);
        let (j, g) = column(theta_rad);
        let at = |i: usize| {
            let row = &self.radius[i * ANGLES..(i + 1) * ANGLES];
            row[j] * (1.0 - g) + row[(j + 1) % ANGLES] * g
        };
        at(i) * (1.0 - f) + at(i + 1) * f
    }

    /// Where a point lies to the wall; `guess_mm` is a ruler position near it.
    pub(super) fn depth(&self, p: Vec3, guess_mm: f64) -> Depth {
        let mut s = guess_mm;
        for _ in 0..4 {
            let (i, f) = self.cell(s);
            let (a, b) = (&self.frames[i], &self.frames[i + 1]);
            let d = p - a[0].lerp(b[0], f);
            let along = (1.0 - d.dot(self.turn[i])).max(0.2);
            let ds = d.dot(a[1].lerp(b[1], f)) / along;
            s = (s + ds).clamp(self.from_mm, self.to_mm());
            if ds.abs() < NEAR_MM {
                break;
            }
        }
        let (i, f) = self.cell(s);
        let (a, b) = (&self.frames[i], &self.frames[i + 1]);
        let d = p - a[0].lerp(b[0], f);
        let (t, n, b) = (a[1].lerp(b[1], f), a[2].lerp(b[2], f), a[3].lerp(b[3], f));
        let (x, y) = (d.dot(n), d.dot(b));
        let r = (x * x + y * y).sqrt() + 1e-12;
        let theta = ops::atan2(y, x);
        let (j, g) = column(theta);
        let j1 = (j + 1) % ANGLES;
        let (row0, row1) = (i * ANGLES, (i + 1) * ANGLES);
        let [r00, r01] = [self.radius[row0 + j], self.radius[row0 + j1]];
        let [r10, r11] = [self.radius[row1 + j], self.radius[row1 + j1]];
        let wall = (r00 * (1.0 - g) + r01 * g) * (1.0 - f) + (r10 * (1.0 - g) + r11 * g) * f;
        let along = ((r10 - r00) * (1.0 - g) + (r11 - r01) * g) / self.step_mm;
        let round = ((r01 - r00) * (1.0 - f) + (r11 - r10) * f) * (ANGLES as f64 / std::f64::consts::TAU);
        let stretch = (1.0 - d.dot(self.turn[i])).max(0.2);
        let e_r = (n * x + b * y) * (1.0 / r);
        let e_t = (b * x - n * y) * (1.0 / r);
        let nearest = if g < 0.5 { j } else { j1 };
        let row = if f < 0.5 { row0 } else { row1 };
        Depth {
            mm: r - wall,
            slope: e_r - t * (along / stretch) - e_t * (round / r),
            s_mm: s,
            theta_rad: theta,
            wall_kpa_mm: self.stiffness[row + nearest],
            lined: self.lined[row + nearest],
        }
    }

    /// Lets an earlier graft's inner face be the wall where it lies inside the present one.
    pub(super) fn line(&mut self, inner_radius: impl Fn(f64, f64) -> Option<f64>, stiffness_kpa_mm: f64) {
        for i in 0..self.frames.len() {
            let s = self.from_mm + self.step_mm * i as f64;
            for k in 0..ANGLES {
                let theta = std::f64::consts::TAU * k as f64 / ANGLES as f64;
                if let Some(r) = inner_radius(s, theta) {
                    let c = i * ANGLES + k;
                    self.lined[c] = true;
                    if r < self.radius[c] {
                        self.radius[c] = r;
                        self.stiffness[c] = stiffness_kpa_mm;
                    }
                }
            }
        }
    }
}

fn column(theta_rad: f64) -> (usize, f64) {
    let turns = theta_rad / std::f64::consts::TAU;
    let y = (turns - turns.floor()) * ANGLES as f64;
    let j = (y as usize).min(ANGLES - 1);
    (j, y - j as f64)
}

/// Unevenness of a wall that no scan shows: a few waves round and along.
struct Bumps {
    waves: Vec<Wave>,
}

struct Wave {
    amplitude_mm: f64,
    /// Height round the vessel at each angle of the table.
    round: Vec<f64>,
    along_per_mm: f64,
    phase: f64,
}

impl Bumps {
    fn draw(rms_mm: f64, seed: u64) -> Self {
        if rms_mm <= 0.0 {
            return Self { waves: Vec::new() };
        }
        let mut stream = Streams::new(seed).named("mechanics/wall");
        let tau = std::f64::consts::TAU;
        let mut waves: Vec<Wave> = (0..6)
            .map(|m| {
                let m = f64::from(m);
                let amplitude_mm = stream.normal();
                let turn = stream.range(0.0, tau);
                let angle = |k: usize| (m + 2.0) * tau * k as f64 / ANGLES as f64 + turn;
                Wave {
                    amplitude_mm,
                    round: (0..ANGLES).map(|k| ops::cos(angle(k))).collect(),
                    along_per_mm: tau / (18.0 + 7.0 * m),
                    phase: stream.range(0.0, tau),
                }
            })
            .collect();
        // A product of two cosines has a mean square of one quarter.
        let power: f64 = waves.iter().map(|w| w.amplitude_mm * w.amplitude_mm / 4.0).sum();
        let scale = rms_mm / power.max(1e-12).sqrt();
        waves.iter_mut().for_each(|w| w.amplitude_mm *= scale);
        Self { waves }
    }

    /// Heights of one ring, mm.
    fn ring(&self, s_mm: f64) -> Vec<f64> {
        let mut ring = vec![0.0; ANGLES];
        for w in &self.waves {
            let here = w.amplitude_mm * ops::cos(w.along_per_mm * s_mm + w.phase);
            ring.iter_mut().zip(&w.round).for_each(|(r, c)| *r += here * c);
        }
        ring
    }
}
