//! Line integrals through simple solids: quadrics cut by up to two planes.
//!
//! Bones, wires, struts and balloons are all made of these. The ray to pixel (x, y) is affine in x and y, so along one
//! row of pixels everything that the chord needs is a polynomial of at most second degree in x.

use super::noise::value_noise;
use super::pose::View;
use super::scene::Shape;
use crate::math::Vec3;

/// An ellipsoid, or a round or elliptic cylinder, cut by planes.
#[derive(Clone, Debug)]
pub struct Solid {
    /// `(p - centre)^T shape (p - centre) <= 1`; the matrix as columns.
    shape: [Vec3; 3],
    centre: Vec3,
    /// Kept where `normal . (p - at) >= 0`.
    cuts: [Option<(Vec3, Vec3)>; 2],
    /// Bounding capsule.
    ends: (Vec3, Vec3),
    reach_mm: f64,
    /// Radius of a thin round rod, which is drawn wider and thinner below a pixel.
    rod_mm: Option<f64>,
    /// Attenuation beyond what is around, 1/cm.
    pub mu_per_cm: f64,
    /// Strength of the mottle, as in spongy bone.
    pub mottle: f64,
}

impl Solid {
    /// An ellipsoid with unit axes and half lengths, mm.
    pub fn ellipsoid(centre: Vec3, axes: [Vec3; 3], half_mm: [f64; 3], mu_per_cm: f64) -> Self {
        let reach_mm = half_mm.into_iter().fold(0.0, f64::max);
        let shape = quadric(&[(axes[0], half_mm[0]), (axes[1], half_mm[1]), (axes[2], half_mm[2])]);
        let cuts = [None, None];
        Self { shape, centre, cuts, ends: (centre, centre), reach_mm, rod_mm: None, mu_per_cm, mottle: 0.0 }
    }

    /// What an ellipsoid has on one side of a plane: where `normal . (p - at) >= 0` of `cut`.
    pub fn cap(centre: Vec3, axes: [Vec3; 3], half_mm: [f64; 3], cut: (Vec3, Vec3), mu_per_cm: f64) -> Self {
        Self { cuts: [Some(cut), None], ..Self::ellipsoid(centre, axes, half_mm, mu_per_cm) }
    }

    /// A slab of an elliptic cylinder: sections along the first two axes, half height along the third.
    pub fn disc(centre: Vec3, axes: [Vec3; 3], half_mm: [f64; 3], mu_per_cm: f64) -> Self {
        let wide = half_mm[0].max(half_mm[1]);
        let end = axes[2] * half_mm[2];
        Self {
            shape: quadric(&[(axes[0], half_mm[0]), (axes[1], half_mm[1])]),
            centre,
            cuts: [Some((axes[2], centre - end)), Some((-axes[2], centre + end))],
            ends: (centre - end, centre + end),
            reach_mm: wide,
            rod_mm: None,
            mu_per_cm,
            mottle: 0.0,
        }
    }

    /// A round rod between two points, cut by planes through them with the given normals (towards the far end), so that
    /// neighbours in a chain meet without overlap.
    pub fn rod(a: Vec3, b: Vec3, normals: (Vec3, Vec3), radius_mm: f64, mu_per_cm: f64) -> Self {
        let axis = (b - a).unit();
        let e1 = axis
            .cross(if axis.x.abs() < 0.7 { Vec3::new(1.0, 0.0, 0.0) } else { Vec3::new(0.0, 1.0, 0.0) })
            .unit();
        let e2 = axis.cross(e1);
        Self {
            shape: quadric(&[(e1, radius_mm), (e2, radius_mm)]),
            centre: a,
            cuts: [Some((normals.0, a)), Some((-normals.1, b))],
            ends: (a, b),
            reach_mm: radius_mm * 1.25,
            rod_mm: Some(radius_mm),
            mu_per_cm,
            mottle: 0.0,
        }
    }

    /// A chain of rods along a path with a radius at each point.
    pub fn chain(path: &[Vec3], radius_mm: impl Fn(usize) -> f64, mu_per_cm: f64) -> Vec<Self> {
        let n = path.len();
        let tangent = |i: usize| (path[(i + 1).min(n - 1)] - path[i.saturating_sub(1)]).unit();
        (0..n.saturating_sub(1))
            .filter(|&i| path[i].distance(path[i + 1]) > 1e-6)
            .map(|i| {
                let r = 0.5 * (radius_mm(i) + radius_mm(i + 1));
                Self::rod(path[i], path[i + 1], (tangent(i), tangent(i + 1)), r, mu_per_cm)
            })
            .collect()
    }

    /// A tube: its wall, with the bore's attenuation restored inside.
    pub fn tube(path: &[Vec3], outer_mm: f64, bore_mm: f64, mu_wall: f64, mu_bore: f64) -> Vec<Self> {
        let mut out = Self::chain(path, |_| outer_mm, mu_wall);
        out.extend(Self::chain(path, |_| bore_mm, mu_bore - mu_wall));
        out
    }

    /// The parts of a device at the given beam.
    pub fn of_device(device: &Shape, beam: &super::Beam) -> Vec<Self> {
        let s = device.substance;
        let blood = if s.material == super::Material::Iodine { 0.0 } else { beam.mu(super::Material::Blood) };
        let mu = s.fraction * (beam.mu(s.material) - blood);
        let mut out = Self::chain(&device.path, |i| device.radius_mm(i), mu);
        if device.bore_mm > 0.0 {
            out.extend(Self::chain(&device.path, |_| device.bore_mm, -mu));
        }
        out
    }

    /// A thin rod as a scanner with this much blur sees it: wider and fainter, its mass kept. Other solids stay as they are.
    pub fn blurred(mut self, blur_mm: f64) -> Self {
        if let Some(r) = self.rod_mm {
            let wide_mm = (r * r + blur_mm * blur_mm).sqrt();
            let kept = (r / wide_mm) * (r / wide_mm);
            self.shape = self.shape.map(|column| column * kept);
            self.reach_mm *= wide_mm / r;
            self.mu_per_cm *= kept;
            self.rod_mm = Some(wide_mm);
        }
        self
    }

    /// Moved by a displacement.
    pub fn moved(&self, by: Vec3) -> Self {
        let mut out = self.clone();
        out.centre = self.centre + by;
        out.ends = (self.ends.0 + by, self.ends.1 + by);
        for c in out.cuts.iter_mut().flatten() {
            c.1 += by;
        }
        out
    }

    /// Middle between its ends.
    pub fn middle(&self) -> Vec3 {
        (self.ends.0 + self.ends.1) * 0.5
    }

    /// From where to where the line `p + t step` lies inside, in `t`.
    pub fn span(&self, p: Vec3, step: Vec3) -> Option<(f64, f64)> {
        let q = p - self.centre;
        let (mq, ms) = (self.apply(q), self.apply(step));
        let (a, b, c) = (step.dot(ms), step.dot(mq), q.dot(mq) - 1.0);
        let (mut from, mut to) = (f64::NEG_INFINITY, f64::INFINITY);
        if a > 1e-12 {
            let root = b * b - a * c;
            if root < 0.0 {
                return None;
            }
            let root = root.sqrt();
            (from, to) = ((-b - root) / a, (-b + root) / a);
        } else if c > 0.0 {
            return None;
        }
        for (n, at) in self.cuts.iter().flatten() {
            let (slope, height) = (n.dot(step), n.dot(p - *at));
            if slope > 0.0 {
                from = from.max(-height / slope);
            } else if slope < 0.0 {
                to = to.min(-height / slope);
            } else if height < 0.0 {
                return None;
            }
        }
        (from <= to).then_some((from, to))
    }
    /// Whether a place lies inside.
    pub fn holds(&self, p: Vec3) -> bool {
        self.span(p, Vec3::new(1.0, 0.0, 0.0)).is_some_and(|(from, to)| from <= 0.0 && to >= 0.0)
    }

    /// Corners of a box that holds it.
    pub fn bounds(&self) -> (Vec3, Vec3) {
        let (a, b, r) = (self.ends.0, self.ends.1, self.reach_mm * 1.2);
        let low = Vec3::new(a.x.min(b.x) - r, a.y.min(b.y) - r, a.z.min(b.z) - r);
        (low, Vec3::new(a.x.max(b.x) + r, a.y.max(b.y) + r, a.z.max(b.z) + r))
    }

    /// Middle and radius of a ball that holds it, mm.
    pub fn ball(&self) -> (Vec3, f64) {
        let (low, high) = self.bounds();
        ((low + high) * 0.5, 0.5 * low.distance(high))
    }

    fn apply(&self, v: Vec3) -> Vec3 {
        self.shape[0] * v.x + self.shape[1] * v.y + self.shape[2] * v.z
    }

    /// Adds the solid's line integrals, in nats, to a picture.
    pub fn paint(&self, view: &View, out: &mut [f32]) {
        let n = view.pixels;
        let (mut shrink, mut mu) = (1.0, self.mu_per_cm * 0.1);
        let mut reach = self.reach_mm;
        if let Some(r) = self.rod_mm {
            let least = THIN_PX * view.pixel_at_isocentre_mm();
            if r < least {
                // Wider and thinner by the same factor: the mass stays, and no strut is lost between pixels.
                shrink = r * r / (r * r + least * least);
                mu *= shrink;
                reach = (r * r + least * least).sqrt() * 1.25;
            }
        }
        let Some(window) = self.window(view, reach) else { return };
        let chords = Chords::new(self, view, shrink);
        for y in window.y0..=window.y1 {
            let yf = y as f64;
            let Some((row, x0, x1)) = chords.row(yf, window.row(yf)) else { continue };
            let [nats, slope, bend] = row.nats(view, yf, mu);
            let pixels = &mut out[y * n + x0..=y * n + x1];
            let start = (x0 as f64 - row.mid) as f32;
            // Columns count in small whole numbers, which a processor turns to floats four at a time.
            let columns = pixels.iter_mut().enumerate().map(|(i, o)| (start + i as i32 as f32, o));
            if self.mottle > 0.0 {
                let strength = self.mottle as f32;
                for (x, o) in columns {
                    let chord = row.chord(x);
                    if chord.length > 0.0 {
                        let ray = view.ray(row.mid + f64::from(x), yf);
                        let at = view.source + ray * (row.depth + f64::from(chord.middle));
                        let m = 0.6 * value_noise(at * 0.55) + 0.4 * value_noise(at * 1.1);
                        *o += (nats + x * (slope + bend * x)) * chord.length * (1.0 + strength * m);
                    }
                }
            } else {
                columns.for_each(|(x, o)| *o += (nats + x * (slope + bend * x)) * row.chord(x).length);
            }
        }
    }

    /// Where on the picture the bounding capsule can fall.
    fn window(&self, view: &View, reach: f64) -> Option<Window> {
        let (a, b) = (view.project(self.ends.0), view.project(self.ends.1));
        let near = a.2.min(b.2) - reach;
        if near <= 1.0 {
            return None;
        }
        let r = reach * view.sid_mm / (near * view.pitch_mm) * 1.02 + 1.0;
        let last = view.pixels as f64 - 1.0;
        let (y0, y1) = ((a.1.min(b.1) - r).max(0.0), (a.1.max(b.1) + r).min(last));
        let (x0, x1) = ((a.0.min(b.0) - r).max(0.0), (a.0.max(b.0) + r).min(last));
        if y0 > y1 || x0 > x1 {
            return None;
        }
        let rows = b.1 - a.1;
        Some(Window {
            a: (a.0, a.1),
            b: (b.0, b.1),
            per_row: if rows.abs() < 1e-6 { 0.0 } else { 1.0 / rows },
            r,
            x0,
            x1,
            y0: y0.ceil() as usize,
            y1: y1 as usize,
        })
    }
}

/// Where a ray is inside a solid, as parts of the way from source to detector: how long, and its middle beyond the solid's
/// depth.
#[derive(Clone, Copy, Debug, Default)]
struct Chord {
    length: f32,
    middle: f32,
}

/// The quadratic whose roots are where the ray of pixel (x, y) meets a solid, as polynomials in x and y.
struct Chords {
    c: f64,
    b: [f64; 3],
    q: [f64; 6],
    cuts: [Option<[f64; 4]>; 2],
    /// Of the solid's middle, as a part of the way from source to detector.
    depth: f64,
}

impl Chords {
    fn new(solid: &Solid, view: &View, shrink: f64) -> Self {
        let m = |v: Vec3| solid.apply(v) * shrink;
        let r0 = view.ray(0.0, 0.0);
        let (u, w) = (view.right * view.pitch_mm, -view.up * view.pitch_mm);
        let o = view.source - solid.centre;
        let (mo, mu, mw, mr) = (m(o), m(u), m(w), m(r0));
        let cut = |(n, at): (Vec3, Vec3)| [n.dot(at - view.source), n.dot(r0), n.dot(u), n.dot(w)];
        Self {
            c: o.dot(mo) - 1.0,
            b: [r0.dot(mo), u.dot(mo), w.dot(mo)],
            q: [r0.dot(mr), u.dot(mr), w.dot(mr), u.dot(mu), w.dot(mw), u.dot(mw)],
            cuts: solid.cuts.map(|c| c.map(cut)),
            depth: (solid.middle() - view.source).dot(view.axis) / view.sid_mm,
        }
    }

    /// One row of pixels and the columns of it that can be met, within the given ones.
    fn row(&self, y: f64, (mut x0, mut x1): (f64, f64)) -> Option<(Row, usize, usize)> {
        let [q0, qx, qy, qxx, qyy, qxy] = self.q;
        let [b0, bx, by] = self.b;
        let p = b0 + by * y;
        let (a0, a1, a2) = (q0 + 2.0 * qy * y + qyy * y * y, 2.0 * (qx + qxy * y), qxx);
        // A quarter of the discriminant: d2 x^2 + d1 x + d0.
        let (d2, d1, d0) = (bx * bx - self.c * a2, 2.0 * p * bx - self.c * a1, p * p - self.c * a0);
        if d2 < 0.0 {
            let root = d1 * d1 - 4.0 * d2 * d0;
            if root <= 0.0 {
                return None;
            }
            let (root, k) = (root.sqrt(), 0.5 / d2);
            x0 = x0.max((-d1 + root) * k);
            x1 = x1.min((-d1 - root) * k);
        }
        // Whole columns; the window holds both ends inside the picture.
        let first = x0 as i64 + i64::from(x0 > (x0 as i64) as f64);
        let last = x1 as i64;
        if first > last || x1 < 0.0 {
            return None;
        }
        // About the middle of the row's span, in single precision: what is large there is constant.
        let mid = (first + last) as f64 * 0.5;
        let (a, a_slope) = (a0 + mid * (a1 + mid * a2), a1 + 2.0 * mid * a2);
        let depth = self.depth;
        let cuts = self.cuts.map(|c| {
            let Some([k, n0, nx, ny]) = c else { return NEVER };
            let along = n0 + nx * mid + ny * y;
            Cut { k: (k - depth * along) as f32, k1: (-depth * nx) as f32, n: along as f32, n1: nx as f32 }
        });
        let row = Row {
            mid,
            depth,
            a: [a as f32, a_slope as f32, a2 as f32],
            d: [(d0 + mid * (d1 + mid * d2)) as f32, (d1 + 2.0 * mid * d2) as f32, d2 as f32],
            b: [(-p - bx * mid - depth * a) as f32, (-bx - depth * a_slope) as f32, (-depth * a2) as f32],
            cuts,
        };
        Some((row, first as usize, last as usize))
    }
}

/// A cutting plane along a row: the ray reaches it at `(k + k1 x) / (n + n1 x)` beyond the solid's depth.
#[derive(Clone, Copy)]
struct Cut {
    k: f32,
    k1: f32,
    n: f32,
    n1: f32,
}

/// A cut that no ray reaches.
const NEVER: Cut = Cut { k: -1e9, k1: 0.0, n: 1.0, n1: 0.0 };

/// The quadratic along one row, in columns from its middle and depths from the solid's.
struct Row {
    mid: f64,
    depth: f64,
    a: [f32; 3],
    d: [f32; 3],
    b: [f32; 3],
    cuts: [Cut; 2],
}

impl Row {
    /// Attenuation per millimetre times the way from source to detector, as the first three terms of its series in columns
    /// from the middle (the fourth is below 1e-6 of it over 100 pixels).
    fn nats(&self, view: &View, y: f64, mu: f64) -> [f32; 3] {
        let half = (view.pixels as f64 - 1.0) / 2.0;
        let (dx, dy) = ((self.mid - half) * view.pitch_mm, (y - half) * view.pitch_mm);
        let way = (view.sid_mm * view.sid_mm + dx * dx + dy * dy).sqrt();
        let (step, slope) = (view.pitch_mm, dx / way);
        [mu * way, mu * slope * step, 0.5 * mu * step * step * (1.0 - slope * slope) / way].map(|v| v as f32)
    }

    /// The chord of a column, counted from the row's middle.
    #[inline(always)]
    fn chord(&self, x: f32) -> Chord {
        let ([a0, a1, a2], [d0, d1, d2], [b0, b1, b2]) = (self.a, self.d, self.b);
        let inv = 1.0 / (a0 + x * (a1 + x * a2));
        let disc = d0 + x * (d1 + x * d2);
        let half = (if disc > 0.0 { disc } else { 0.0 }).sqrt() * inv;
        let middle = (b0 + x * (b1 + x * b2)) * inv;
        let (mut near, mut far) = (middle - half, middle + half);
        for c in self.cuts {
            let along = c.n + c.n1 * x;
            let at = (c.k + c.k1 * x) / along;
            let (from, to) = if along > 0.0 { (at, f32::MAX) } else { (f32::MIN, at) };
            near = if from > near { from } else { near };
            far = if to < far { to } else { far };
        }
        let length = far - near;
        Chord { length: if length > 0.0 { length } else { 0.0 }, middle: 0.5 * (near + far) }
    }
}

/// A rod thinner than this many pixels at the isocentre is drawn this wide, with its mass kept.
const THIN_PX: f64 = 0.55;

struct Window {
    a: (f64, f64),
    b: (f64, f64),
    /// One over the axis' rows; 0 when it lies along a row.
    per_row: f64,
    r: f64,
    x0: f64,
    x1: f64,
    y0: usize,
    y1: usize,
}

impl Window {
    /// Columns of one row that the capsule can reach.
    fn row(&self, y: f64) -> (f64, f64) {
        if self.per_row == 0.0 {
            return (self.x0, self.x1);
        }
        let dx = self.b.0 - self.a.0;
        // The axis point on this row, and how far sideways the capsule's edge lies from it.
        let at = |t: f64| self.a.0 + dx * t.clamp(0.0, 1.0);
        let (ta, tb) = ((y - self.r - self.a.1) * self.per_row, (y + self.r - self.a.1) * self.per_row);
        let (p, q) = (at(ta), at(tb));
        (self.x0.max(p.min(q) - self.r), self.x1.min(p.max(q) + self.r))
    }
}

fn quadric(axes: &[(Vec3, f64)]) -> [Vec3; 3] {
    let mut m = [Vec3::ZERO; 3];
    for &(e, half) in axes {
        let k = 1.0 / (half * half);
        m[0] += e * (e.x * k);
        m[1] += e * (e.y * k);
        m[2] += e * (e.z * k);
    }
    m
}

/// Adds all solids to a picture.
pub fn paint(solids: &[Solid], view: &View, out: &mut [f32]) {
    for s in solids {
        s.paint(view, out);
    }
}
