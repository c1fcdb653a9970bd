//! A septum that splits the aorta into a true and a false lumen.
//!
//! Each section is cut by a straight septum into two parts of the stated areas. The aorta becomes the true
//! lumen, with a centreline of its own; the false lumen is a vessel beside it. Whatever leaves the aorta is
//! moved to the part that feeds it.

use super::around::{theta_of, wrap};
use super::build::locate;
use super::course::bisect;
use super::spec::Dissection;
use super::{Lumen, Root, Tree, Vessel, VesselName, Wall};
use crate::math::{Curve, Frame, Vec3, interp, ops};
use std::f64::consts::TAU;

/// The septum as it lies on a built aorta; arc lengths are those of the true lumen.
#[derive(Clone, Debug, PartialEq)]
pub struct Septum {
    /// Where the false lumen starts, mm.
    pub from_mm: f64,
    /// Where it ends, mm.
    pub to_mm: f64,
    /// Part of the section that is true lumen in its middle.
    pub true_fraction: f64,
    /// Holes in it, the entry first.
    pub tears: Vec<Tear>,
    /// Branches whose own mouth is torn or clotted, and the part of it that is left open, 0 to 1.
    pub mouths: Vec<(VesselName, f64)>,
    /// Days since it tore.
    pub age_days: f64,
}

/// A hole in the septum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tear {
    /// Arc length on the true lumen, mm.
    pub true_s_mm: f64,
    /// Arc length on the false lumen, mm.
    pub false_s_mm: f64,
    /// Angle of its middle in the true lumen's frame, rad.
    pub theta_rad: f64,
    /// Diameter, mm.
    pub diameter_mm: f64,
}

/// Length over which the septum comes away from the wall at the entry, mm (assumed).
const OPENING_MM: f64 = 15.0;
/// Length over which it returns to the wall, mm (assumed).
const CLOSING_MM: f64 = 25.0;
/// Ends of the false lumen that are too thin to draw, mm.
const SLIVER_MM: f64 = 4.0;
/// Spacing of the new centrelines' knots, mm.
const KNOT_MM: f64 = 6.0;

/// Splits the aorta between entry and end.
pub(super) fn split(spec: &Dissection, tree: &mut Tree) -> Result<(), String> {
    let (_, entry) = locate(tree, VesselName::Aorta, spec.entry, "dissection entry")?;
    let (_, end) = locate(tree, VesselName::Aorta, spec.end, "dissection end")?;
    if end < entry + OPENING_MM + CLOSING_MM + 20.0 {
        return Err("anatomy, dissection: the end must lie at least 60 mm beyond the entry".to_owned());
    }
    let old = tree.vessels[0].clone();
    let whole = Whole { vessel: &old, spec, entry, end, theta0: theta_of(&old.curve, entry, spec.toward) };

    let step = old.curve.length_mm() / (old.curve.length_mm() / KNOT_MM).round();
    let count = (old.curve.length_mm() / step).round() as usize;
    let stations: Vec<f64> = (0..=count).map(|i| step * i as f64).collect();
    let inner: Vec<f64> =
        stations.iter().copied().filter(|&s| s >= entry + SLIVER_MM && s <= end - SLIVER_MM).collect();
    let folded =
        || "anatomy, dissection: the septum folds the true lumen; write a larger true_fraction".to_owned();
    let true_side = Side::new(&whole, &stations, Part::True).ok_or_else(folded)?;
    let false_side = Side::new(&whole, &inner, Part::False).ok_or_else(folded)?;

    let n = old.lumen.n_theta();
    let aorta = &mut tree.vessels[0];
    aorta.lumen = true_side.lumen(old.lumen.step_mm(), n);
    aorta.curve = true_side.curve.clone();
    aorta.wall.calcium = true_side.resample(&old.wall.calcium, &aorta.lumen);
    aorta.wall.thrombus_mm = true_side.resample(&old.wall.thrombus_mm, &aorta.lumen);
    for lesion in &mut aorta.wall.lesions {
        lesion.theta_rad = lesion.theta_rad.map(|t| true_side.theta(lesion.at_mm(), t));
        (lesion.from_mm, lesion.to_mm) = (true_side.s(lesion.from_mm), true_side.s(lesion.to_mm));
    }
    for root in &mut aorta.wall.segmentals {
        (root.theta_rad, root.s_mm) = (true_side.theta(root.s_mm, root.theta_rad), true_side.s(root.s_mm));
    }
    let mut tears = vec![(entry + OPENING_MM, spec.entry_mm)];
    for (i, &(at, mm)) in spec.reentries.iter().enumerate() {
        let who = format!("dissection re-entry {}", i + 1);
        let (_, s) = locate_old(&old, tree, at, &who)?;
        if !(entry..=end).contains(&s) {
            return Err(format!("anatomy, {who}: it lies outside the dissected stretch"));
        }
        tears.push((s, mm));
    }
    let tears: Vec<Tear> = tears
        .into_iter()
        .map(|(s, diameter_mm)| Tear {
            true_s_mm: true_side.s(s),
            false_s_mm: false_side.s(s),
            theta_rad: true_side.theta(s, whole.theta(s)),
            diameter_mm,
        })
        .collect();
    let root = Root {
        parent: 0,
        s_mm: tears[0].true_s_mm,
        theta_rad: tears[0].theta_rad,
        radius_mm: 0.5 * spec.entry_mm,
    };
    let (from_mm, to_mm) = (true_side.s(entry), true_side.s(end));
    let mut mouths = Vec::new();
    for &(name, percent) in &spec.blocked {
        if tree.get(name).and_then(|v| v.root).is_none_or(|r| r.parent != 0) {
            return Err(format!("anatomy, dissection: blocked, {} is no branch of the aorta", name.label()));
        }
        mouths.push((name, 1.0 - 0.01 * percent.clamp(0.0, 100.0)));
    }
    tree.vessels[0].wall.septum = Some(Septum {
        from_mm,
        to_mm,
        true_fraction: spec.true_fraction,
        tears,
        mouths,
        age_days: spec.age_days,
    });

    // The false lumen comes next to the aorta, for parents come before children; its children are moved to it by name.
    let false_index = 1;
    for v in tree.vessels.iter_mut().skip(1) {
        if let Some(root) = v.root.as_mut().filter(|r| r.parent >= false_index) {
            root.parent += 1;
        }
        let Some(root) = v.root.as_mut().filter(|r| r.parent == 0) else { continue };
        let fed = spec.from_false.contains(&v.name);
        if fed && !(entry..=end).contains(&root.s_mm) {
            return Err(format!(
                "anatomy, dissection: the {} lies outside the dissected stretch",
                v.name.label()
            ));
        }
        let side = if fed { &false_side } else { &true_side };
        let (s_mm, theta_rad) = (side.s(root.s_mm), side.theta(root.s_mm, root.theta_rad));
        *root = Root { parent: if fed { false_index } else { 0 }, s_mm, theta_rad, ..*root };
    }
    let lumen = false_side.lumen(old.lumen.step_mm(), n);
    let wall = Wall { law: old.wall.law, ..Wall::default() };
    let channel =
        Vessel { name: VesselName::FalseLumen, curve: false_side.curve, lumen, wall, root: Some(root) };
    tree.vessels.insert(false_index, channel);
    Ok(())
}

/// A place on the aorta before it was split.
fn locate_old(old: &Vessel, tree: &Tree, at: super::Place, who: &str) -> Result<(usize, f64), String> {
    let mut before = tree.clone();
    before.vessels[0] = old.clone();
    locate(&before, VesselName::Aorta, at, who)
}

/// The undivided aorta and how it is cut.
struct Whole<'a> {
    vessel: &'a Vessel,
    spec: &'a Dissection,
    entry: f64,
    end: f64,
    theta0: f64,
}

#[derive(Clone, Copy, PartialEq)]
enum Part {
    True,
    False,
}

type Point = (f64, f64);

impl Whole<'_> {
    /// Side of the false lumen, rad in the old frame.
    fn theta(&self, s: f64) -> f64 {
        let t = ((s - self.entry) / (self.end - self.entry)).clamp(0.0, 1.0);
        wrap(self.theta0 + self.spec.winds_deg.to_radians() * t)
    }

    /// Part of the section that is true lumen.
    fn fraction(&self, s: f64) -> f64 {
        let open = interp::smooth_step(self.entry, self.entry + OPENING_MM, s);
        let close = 1.0 - interp::smooth_step(self.end - CLOSING_MM, self.end, s);
        1.0 - (1.0 - self.spec.true_fraction) * open.min(close)
    }

    /// Outline of one part of the section at `s`, in the old frame.
    fn outline(&self, s: f64, part: Part) -> Vec<Point> {
        let n = self.vessel.lumen.n_theta();
        let ring: Vec<Point> = (0..n)
            .map(|k| {
                let theta = TAU * k as f64 / n as f64;
                let (sin, cos) = ops::sin_cos(theta);
                let r = self.vessel.lumen.radius(s, theta);
                (r * cos, r * sin)
            })
            .collect();
        let fraction = self.fraction(s);
        if fraction > 0.9999 && part == Part::True {
            return ring;
        }
        let (sin, cos) = ops::sin_cos(self.theta(s));
        let whole = area(&ring);
        let reach = ring.iter().map(|p| p.0.abs().max(p.1.abs())).fold(0.0, f64::max) * 1.5;
        let depth = bisect(-reach, reach, |d| area(&clip(&ring, (cos, sin), d)) - fraction * whole);
        match part {
            Part::True => clip(&ring, (cos, sin), depth),
            Part::False => clip(&ring, (-cos, -sin), -depth),
        }
    }
}

/// Keeps what lies within `depth` along the unit direction `out`.
fn clip(ring: &[Point], out: Point, depth: f64) -> Vec<Point> {
    let height = |p: Point| p.0 * out.0 + p.1 * out.1 - depth;
    let mut kept = Vec::with_capacity(ring.len() + 2);
    for (i, &a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        let (ha, hb) = (height(a), height(b));
        if ha <= 0.0 {
            kept.push(a);
        }
        if (ha < 0.0 && hb > 0.0) || (ha > 0.0 && hb < 0.0) {
            let t = ha / (ha - hb);
            kept.push((a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t));
        }
    }
    kept
}

fn area(ring: &[Point]) -> f64 {
    (0..ring.len()).map(|i| cross(ring[i], ring[(i + 1) % ring.len()])).sum::<f64>() / 2.0
}

fn cross(a: Point, b: Point) -> f64 {
    a.0 * b.1 - a.1 * b.0
}

fn centroid(ring: &[Point]) -> Point {
    let total = area(ring);
    if total.abs() < 1e-9 {
        return ring.first().copied().unwrap_or((0.0, 0.0));
    }
    let (mut x, mut y) = (0.0, 0.0);
    for (i, &a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        let c = cross(a, b) / (6.0 * total);
        x += (a.0 + b.0) * c;
        y += (a.1 + b.1) * c;
    }
    (x, y)
}

/// Distance from `from` to the outline along the unit direction `dir`: the farthest crossing.
fn ray(ring: &[Point], from: Point, dir: Point) -> f64 {
    let mut far = 0.0_f64;
    for (i, &a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        let (pa, pb) = ((a.0 - from.0, a.1 - from.1), (b.0 - from.0, b.1 - from.1));
        let (ca, cb) = (cross(dir, pa), cross(dir, pb));
        if (ca <= 0.0) == (cb <= 0.0) {
            continue;
        }
        let t = ca / (ca - cb);
        far = far.max((pa.0 + (pb.0 - pa.0) * t) * dir.0 + (pa.1 + (pb.1 - pa.1) * t) * dir.1);
    }
    far.max(0.3)
}

/// One part of the split aorta with its own centreline.
struct Side<'a> {
    whole: &'a Whole<'a>,
    part: Part,
    curve: Curve,
    /// Old arc length against new, at the knots.
    old_to_new: Vec<(f64, f64)>,
    new_to_old: Vec<(f64, f64)>,
}

impl<'a> Side<'a> {
    fn new(whole: &'a Whole<'a>, stations: &[f64], part: Part) -> Option<Self> {
        let points: Vec<Vec3> = stations
            .iter()
            .map(|&s| {
                let f = whole.vessel.curve.frame(s);
                let c = centroid(&whole.outline(s, part));
                f.at + f.normal * c.0 + f.binormal * c.1
            })
            .collect();
        let curve = Curve::through(&points)?;
        let new: Vec<f64> = points.iter().map(|&p| curve.nearest(p)).collect();
        let old_to_new: Vec<(f64, f64)> = stations.iter().copied().zip(new).collect();
        let new_to_old = old_to_new.iter().map(|&(old, new)| (new, old)).collect();
        Some(Self { whole, part, curve, old_to_new, new_to_old })
    }

    /// New arc length of an old one.
    fn s(&self, old_mm: f64) -> f64 {
        interp::linear(&self.old_to_new, old_mm)
    }

    /// Angle in the new frame of an angle in the old one: both point the same way in space.
    fn theta(&self, old_mm: f64, theta_rad: f64) -> f64 {
        let out = self.whole.vessel.curve.frame(old_mm).radial(theta_rad);
        self.curve.frame(self.s(old_mm)).angle_of(out)
    }

    fn lumen(&self, step_mm: f64, n_theta: usize) -> Lumen {
        let length = self.curve.length_mm();
        let rings = (length / step_mm).ceil().max(1.0);
        let step = length / rings;
        let cuts: Vec<(Frame, Frame, Vec<Point>, Point)> = (0..=rings as usize)
            .map(|i| {
                let s = step * i as f64;
                let old_mm = interp::linear(&self.new_to_old, s);
                let old = self.whole.vessel.curve.frame(old_mm);
                let new = self.curve.frame(s);
                let outline = self.whole.outline(old_mm, self.part);
                let at = new.at - old.at;
                (old, new, outline, (at.dot(old.normal), at.dot(old.binormal)))
            })
            .collect();
        Lumen::sample(length, step, n_theta, |s, theta| {
            let i = ((s / step).round() as usize).min(cuts.len() - 1);
            let (old, new, outline, from) = &cuts[i];
            let out = new.radial(theta);
            let (x, y) = (out.dot(old.normal), out.dot(old.binormal));
            let long = (x * x + y * y).sqrt().max(1e-9);
            ray(outline, *from, (x / long, y / long))
        })
    }

    /// Wall data moved to the new grid by direction.
    fn resample(&self, cells: &[f64], lumen: &Lumen) -> Vec<f64> {
        if cells.is_empty() {
            return Vec::new();
        }
        let old = &self.whole.vessel.lumen;
        let n = old.n_theta();
        let mut out = Vec::with_capacity(lumen.stations() * n);
        for i in 0..lumen.stations() {
            let s = lumen.step_mm() * i as f64;
            let old_mm = interp::linear(&self.new_to_old, s);
            let row = ((old_mm / old.step_mm()).round() as usize).min(old.stations() - 1);
            let (from, to) = (self.curve.frame(s), self.whole.vessel.curve.frame(old_mm));
            for k in 0..n {
                let turns = to.angle_of(from.radial(TAU * k as f64 / n as f64)) / TAU;
                let column = ((turns - turns.floor()) * n as f64).round() as usize % n;
                out.push(cells.get(row * n + column).copied().unwrap_or(0.0));
            }
        }
        out
    }
}
