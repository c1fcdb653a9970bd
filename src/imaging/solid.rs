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

    /// Whether a point lies inside.
    pub fn contains(&self, p: Vec3) -> bool {
        let q = p - self.centre;
        q.dot(self.apply(q)) <= 1.0 && self.cuts.iter().flatten().all(|(n, at)| n.dot(p - *at) >= 0.0)
    }
    /// Corners of a box that holds it.
    pub fn bounds(&self) -> (Vec3, Vec3) {
        let (a, b, r) = (self.ends.0, self.ends.1, self.reach_mm * 1.2);
        let low = Vec3::new(a.x.min(b.x) - r, a.y.min(b.y) - r, a.z.min(b.z) - r);
        (low, Vec3::new(a.x.max(b.x) + r, a.y.max(b.y) + r, a.z.max(b.z) + r))
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
        let m = |v: Vec3| self.apply(v) * shrink;
        let r0 = view.ray(0.0, 0.0);
        let (u, w) = (view.right * view.pitch_mm, -view.up * view.pitch_mm);
        let o = view.source - self.centre;
        let (mo, mu_, mw, mr) = (m(o), m(u), m(w), m(r0));
        let c = o.dot(mo) - 1.0;
        let (bx, by, b0) = (u.dot(mo), w.dot(mo), r0.dot(mo));
        let (qxx, qyy, qxy) = (u.dot(mu_), w.dot(mw), u.dot(mw));
        let (qx, qy, q0) = (u.dot(mr), w.dot(mr), r0.dot(mr));
        let cut =
            self.cuts.map(|c| c.map(|(n, at)| (n.dot(at - view.source), n.dot(r0), n.dot(u), n.dot(w))));
        let half = (n as f64 - 1.0) / 2.0;
        for y in window.y0..=window.y1 {
            let yf = y as f64;
            let p = b0 + by * yf;
            let (a0, a1, a2) = (q0 + 2.0 * qy * yf + qyy * yf * yf, 2.0 * (qx + qxy * yf), qxx);
            // disc(x) = d2 x^2 + d1 x + d0
            let (d2, d1, d0) = (bx * bx - c * a2, 2.0 * p * bx - c * a1, p * p - c * a0);
            let (mut x0, mut x1) = window.row(yf);
            if d2 < 0.0 {
                let root = d1 * d1 - 4.0 * d2 * d0;
                if root <= 0.0 {
                    continue;
                }
                let root = root.sqrt();
                let (lo, hi) = ((-d1 + root) / (2.0 * d2), (-d1 - root) / (2.0 * d2));
                x0 = x0.max(lo);
                x1 = x1.min(hi);
            }
            if x0 > x1 {
                continue;
            }
            let (x0, x1) = (x0.ceil().max(0.0) as usize, x1.floor().min(n as f64 - 1.0) as usize);
            let dy = (yf - half) * view.pitch_mm;
            let k0 = view.sid_mm * view.sid_mm + dy * dy;
            for x in x0..=x1 {
                let xf = x as f64;
                let disc = d0 + xf * (d1 + xf * d2);
                if disc <= 0.0 {
                    continue;
                }
                let inv = 1.0 / (a0 + xf * (a1 + xf * a2));
                let (b, s) = (-(p + bx * xf) * inv, disc.sqrt() * inv);
                let (mut t0, mut t1) = (b - s, b + s);
                for &(k, n0, nu, nw) in cut.iter().flatten() {
                    let along = n0 + nu * xf + nw * yf;
                    if along > 1e-9 {
                        t0 = t0.max(k / along);
                    } else if along < -1e-9 {
                        t1 = t1.min(k / along);
                    } else if k > 0.0 {
                        t1 = t0;
                    }
                }
                if t1 > t0 {
                    let dx = (xf - half) * view.pitch_mm;
                    let stretch = (k0 + dx * dx).sqrt();
                    let mut nats = mu * (t1 - t0) * stretch;
                    if self.mottle > 0.0 {
                        let at = view.source + view.ray(xf, yf) * (0.5 * (t0 + t1));
                        let m = 0.6 * value_noise(at * 0.55) + 0.4 * value_noise(at * 1.1);
                        nats *= 1.0 + self.mottle * f64::from(m);
                    }
                    out[y * n + x] += nats as f32;
                }
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
        Some(Window {
            a: (a.0, a.1),
            b: (b.0, b.1),
            r,
            x0,
            x1,
            y0: y0.ceil() as usize,
            y1: y1.floor() as usize,
        })
    }
}

/// A rod thinner than this many pixels at the isocentre is drawn this wide, with its mass kept.
const THIN_PX: f64 = 0.55;

struct Window {
    a: (f64, f64),
    b: (f64, f64),
    r: f64,
    x0: f64,
    x1: f64,
    y0: usize,
    y1: usize,
}

impl Window {
    /// Columns of one row that the capsule can reach.
    fn row(&self, y: f64) -> (f64, f64) {
        let (dx, dy) = (self.b.0 - self.a.0, self.b.1 - self.a.1);
        if dy.abs() < 1e-6 {
            return (self.x0, self.x1);
        }
        // The axis point on this row, and how far sideways the capsule's edge lies from it.
        let at = |t: f64| self.a.0 + dx * t.clamp(0.0, 1.0);
        let (ta, tb) = ((y - self.r - self.a.1) / dy, (y + self.r - self.a.1) / dy);
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
