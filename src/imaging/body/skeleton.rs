//! Spine, ribs, breastbone and collarbones as solids, in trunk coordinates.
//!
//! Each is drawn as what it has beyond the soft tissue around it: a thin dense shell and a spongy middle.

use super::Tissues;
use super::stature::Stature;
use crate::imaging::noise::{quirk, value_noise};
use crate::imaging::solid::Solid;
use crate::math::{Curve, Vec3, ops};

/// A vertebra from the first thoracic (0) to the fifth lumbar (16).
struct Vertebra {
    centre: Vec3,
    half_height: f64,
    disc: f64,
    axis: Vec3,
}

/// Heights with disc below, mm, T1 to L5.
const PITCH_MM: [f64; 17] =
    [20.0, 21.0, 21.0, 22.0, 22.5, 23.5, 24.5, 25.5, 26.5, 28.0, 29.5, 31.0, 33.5, 35.0, 36.0, 37.0, 36.0];
const FIRST_LUMBAR: usize = 12;

/// Depth of the column's middle by height: the thoracic curve backward, the lumbar forward.
fn column_y(z: f64) -> f64 {
    const ROWS: [(f64, f64); 10] = [
        (-400.0, 50.0),
        (-350.0, 40.0),
        (-300.0, 37.0),
        (-240.0, 43.0),
        (-180.0, 54.0),
        (-120.0, 63.0),
        (-60.0, 66.0),
        (0.0, 62.0),
        (60.0, 50.0),
        (100.0, 40.0),
    ];
    let k = ROWS.partition_point(|r| r.0 <= z).clamp(1, ROWS.len() - 1);
    let (a, b) = (ROWS[k - 1], ROWS[k]);
    let t = ((z - a.0) / (b.0 - a.0)).clamp(0.0, 1.0);
    a.1 + (b.1 - a.1) * (0.6 * t + 0.4 * t * t * (3.0 - 2.0 * t))
}

fn column(stature: &Stature) -> Vec<Vertebra> {
    let mut z = PITCH_MM[..4].iter().sum::<f64>();
    let mut out = Vec::new();
    for (k, h) in PITCH_MM.iter().enumerate() {
        let disc =
            if k < FIRST_LUMBAR { 3.5 + 0.12 * k as f64 } else { 8.5 + 0.6 * (k - FIRST_LUMBAR) as f64 };
        let zc = z - h * 0.5;
        let sway = 1.5 * ops::sin((zc + 60.0) / 110.0);
        let stretch = stature.stretch(zc);
        let lean = stature.lean();
        let y = |z: f64| column_y(z) + lean.back_mm(z);
        let slope = |f: &dyn Fn(f64) -> f64| f(zc + 8.0) - f(zc - 8.0);
        let axis = Vec3::new(-slope(&|z| lean.aside_mm(z)), slope(&y), 16.0 * stretch).unit();
        out.push(Vertebra {
            centre: Vec3::new(sway - lean.aside_mm(zc), y(zc), stature.z(zc)),
            half_height: (h - disc) * 0.5 * stretch,
            disc: disc * stretch,
            axis,
        });
        z -= h;
    }
    out
}

/// Where the bodies and discs of the spine have their front.
pub(super) struct Front(Vec<Vertebra>);

impl Front {
    /// Of a patient's spine.
    pub fn of(stature: &Stature) -> Self {
        Self(column(stature))
    }

    /// Its depth before a place, mm; none beside the spine.
    pub fn at(&self, x_mm: f64, z_mm: f64) -> Option<f64> {
        let far = |v: &Vertebra| (v.centre.z - z_mm).abs();
        let (k, v) = self.0.iter().enumerate().min_by(|a, b| far(a.1).total_cmp(&far(b.1)))?;
        // The lips are the widest; a body may be drawn somewhat larger than its like, and turned.
        let (hw, hd) = (LIP * 1.06 * half_width(k), LIP * 1.05 * half_depth(k));
        let part = (x_mm - v.centre.x) / hw;
        let tilt = v.axis.y / v.axis.z * (z_mm - v.centre.z);
        (part.abs() < 1.0).then(|| v.centre.y + tilt - hd * (1.0 - part * part).sqrt())
    }
}

/// How much larger than usual a vertebra may be.
const LIP: f64 = 1.04;

/// The vertebral column: the middle of each vertebra, and what it and the disc below it are drawn of.
pub fn vertebrae(t: &Tissues, stature: &Stature) -> Vec<(Vec3, Vec<Solid>)> {
    let drawn = |(k, v): (usize, &Vertebra)| {
        let mut out = Vec::new();
        body(&mut out, k, v, t);
        arch(&mut out, k, v, t);
        (v.centre, out)
    };
    column(stature).iter().enumerate().map(drawn).collect()
}

fn half_width(k: usize) -> f64 {
    if k >= FIRST_LUMBAR { 20.5 + 0.9 * (k - FIRST_LUMBAR) as f64 } else { 13.0 + 0.48 * k as f64 }
}
fn half_depth(k: usize) -> f64 {
    if k >= FIRST_LUMBAR { 16.5 } else { 10.5 + 0.5 * k as f64 }
}

/// Vertebral body: five slabs that make a waist, domed dense endplates with a soft lip, and the disc below.
fn body(out: &mut Vec<Solid>, k: usize, v: &Vertebra, t: &Tissues) {
    const SHELL_MM: f64 = 0.55;
    let q = |part| quirk(k as u32 + 7, part);
    let (hw, hd) = (half_width(k) * (1.0 + 0.04 * q(1)), half_depth(k) * (1.0 + 0.03 * q(2)));
    let spongy = t.spongy * (1.0 + 0.05 * q(3));
    let x = Vec3::new(1.0, 0.0, 0.0);
    let axis = (v.axis + x * (0.03 * q(4))).unit();
    let x = x.reject(axis).unit();
    let axes = [x, axis.cross(x), axis];
    let h = v.half_height;
    for (j, w) in [1.04, 0.955, 0.925, 0.955, 1.04].into_iter().enumerate() {
        let at = v.centre + axis * (h * 0.4 * (j as f64 - 2.0));
        out.push(Solid::disc(at, axes, [hw * w, hd * w, h * 0.2], t.cortical - t.soft));
        let inner = [hw * w - SHELL_MM, hd * w - SHELL_MM, h * 0.2];
        let mut middle = Solid::disc(at, axes, inner, spongy - t.cortical);
        middle.mottle = 0.16;
        out.push(middle);
    }
    for side in [-1.0, 1.0] {
        // The larger an endplate, the longer the way through it: denser ones are black lines, and pale ones in a run.
        let dense = if k < FIRST_LUMBAR { 0.11 } else { 0.08 };
        for (wide, deep, thin) in [(1.03, 0.45, 0.45), (0.80, 1.2, 0.35), (0.52, 1.8, 0.3)] {
            let at = v.centre + axis * (side * (h - deep));
            out.push(Solid::disc(at, axes, [hw * wide, hd * wide, thin], dense));
        }
        let lip = v.centre + axis * (side * (h + 0.5)) + x * (0.8 * q(5));
        out.push(Solid::disc(lip, axes, [hw * 1.06, hd * 1.05, 0.9], 0.045));
    }
    let below = v.centre - axis * (h + v.disc * 0.5);
    out.push(Solid::disc(below, axes, [hw * 0.98, hd * 0.98, v.disc * 0.5], 0.014));
}

/// Pedicles, facets, transverse and spinous processes.
fn arch(out: &mut Vec<Solid>, k: usize, v: &Vertebra, t: &Tissues) {
    let lumbar = k >= FIRST_LUMBAR;
    let f = k as f64;
    let (hw, hd, h) = (half_width(k), half_depth(k), v.half_height);
    let x = Vec3::new(1.0, 0.0, 0.0);
    let (c, up) = (v.centre, v.axis);
    let back = up.cross(x).unit();
    for side in [-1.0, 1.0] {
        let near = c + x * (side * hw * 0.66) + back * (hd - 4.0) + up * (h * 0.42);
        let far = c + x * (side * hw * 0.74) + back * (hd + 11.0) + up * (h * 0.36);
        let r = if lumbar { 4.2 } else { 3.0 + 0.06 * f };
        pedicle(out, near, far, [r, if lumbar { 1.75 * r } else { 1.6 * r }], t);
        let (top, foot) = (far + up * (h * 0.75) + back * 2.0, far - up * (h * 1.25) + back * 5.0);
        shell(out, &[top, foot], if lumbar { 5.2 } else { 3.6 }, 0.45, t.spongy * 0.95, t);
        let length = if lumbar { 23.0 } else { 24.0 - 0.9 * f };
        let (behind, rise) = if lumbar { (6.0, -2.0) } else { (12.0, 3.0) };
        let tip = far + x * (side * length) + back * behind + up * rise;
        out.extend(Solid::chain(&[far, tip], |_| 2.9, t.spongy * 1.12 - t.soft));
        let lamina = c + back * (hd + 21.0) - up * (h * 0.35);
        shell(out, &[far - up * 2.0, lamina], 3.0, 0.45, t.spongy * 0.95, t);
    }
    let root = c + back * (hd + 20.0) - up * (h * 0.3);
    let bump = |middle: f64, width: f64| (1.0 - (f - middle) * (f - middle) / (width * width)).max(0.0);
    let tip = if lumbar {
        root + back * 25.0 - up * 8.0
    } else {
        root + back * (16.0 + 4.0 * bump(5.5, 6.0)) - up * (10.0 + 14.0 * bump(6.0, 5.0))
    };
    if lumbar {
        // A plate on edge.
        let (top, low) = (tip - up * 1.0, tip - up * 9.0);
        pedicle(out, root, (top + low) * 0.5, [3.6, 9.0], t);
    } else {
        shell(out, &[root, tip], 2.8, 0.6, t.spongy * 0.97, t);
    }
}

/// A pedicle: taller than wide, so that the frontal view sees an oval ring. Its shell is seen along its whole length there
/// and is drawn half as dense as cortex, or the rings would outshine the body.
fn pedicle(out: &mut Vec<Solid>, near: Vec3, far: Vec3, half_mm: [f64; 2], t: &Tissues) {
    const SHELL_MM: f64 = 0.7;
    let along = far - near;
    let axis = along.unit();
    let wide = Vec3::new(1.0, 0.0, 0.0).reject(axis).unit();
    let axes = [wide, axis.cross(wide), axis];
    let dense = t.soft + 0.5 * (t.cortical - t.soft);
    for (less, mu) in [(0.0, dense - t.soft), (SHELL_MM, t.spongy - dense)] {
        let half = [half_mm[0] - less, half_mm[1] - less, 0.5 * along.norm()];
        out.push(Solid::disc((near + far) * 0.5, axes, half, mu));
    }
}

/// A tube with a dense wall and a spongy middle.
fn shell(out: &mut Vec<Solid>, path: &[Vec3], radius: f64, wall: f64, inside: f64, t: &Tissues) {
    out.extend(Solid::tube(path, radius, (radius - wall).max(0.1), t.cortical - t.soft, inside - t.soft));
}

/// Ribs with their cartilage, breastbone, collarbones.
pub fn cage(t: &Tissues, stature: &Stature) -> Vec<Solid> {
    let mut out = Vec::new();
    let column = column(stature);
    for (k, v) in column.iter().enumerate().take(12) {
        for side in [-1.0, 1.0] {
            let path = rib(k, side, v);
            // Two stacked tubes stand for the flat section of some 13 x 6.5 mm.
            for (lift, radius) in [(3.6, 3.3), (-3.6, 3.2)] {
                let raised: Vec<Vec3> = path.iter().map(|p| *p + Vec3::new(0.0, 0.0, lift)).collect();
                shell(&mut out, &raised, radius, 0.48, t.spongy * 0.92, t);
            }
            if let (true, Some(end)) = (k < 10, path.last()) {
                let sternum = Vec3::new(side * 22.0, -100.0, end.z + 6.0 * k as f64);
                for mut c in Solid::chain(&[*end, sternum.lerp(*end, 0.15)], |_| 5.0, 0.02) {
                    c.mottle = 0.9;
                    out.push(c);
                }
            }
        }
    }
    let axes = [Vec3::new(1.0, 0.0, 0.0), Vec3::new(0.0, 0.98, 0.2), Vec3::new(0.0, -0.2, 0.98)];
    for (z, y, hw, hz) in [
        (42.0, -93.0, 26.0, 20.0),
        (2.0, -101.0, 16.0, 24.0),
        (-44.0, -106.0, 18.0, 26.0),
        (-78.0, -108.0, 12.0, 14.0),
    ] {
        let at = Vec3::new(0.0, y, z);
        out.push(Solid::ellipsoid(at, axes, [hw, 6.0, hz], t.spongy + 0.05 - t.soft));
        out.push(Solid::ellipsoid(at, axes, [hw - 1.2, 4.6, hz - 1.2], -0.05));
    }
    for side in [-1.0, 1.0] {
        let knots = [
            (16.0, -92.0, 56.0),
            (55.0, -84.0, 68.0),
            (95.0, -55.0, 80.0),
            (140.0, -30.0, 90.0),
            (185.0, 0.0, 98.0),
        ];
        let path = smooth(&knots.map(|(x, y, z)| Vec3::new(side * x, y, z)), 7.0);
        shell(&mut out, &path, 5.0, 0.8, t.spongy * 0.95, t);
    }
    out
}

/// One rib from the head on the body's upper third around to its end.
fn rib(k: usize, side: f64, v: &Vertebra) -> Vec<Vec3> {
    const WIDTH: [f64; 12] = [50., 76., 97., 110., 119., 125., 129., 131., 130., 126., 119., 106.];
    const DEPTH: [f64; 12] = [46., 62., 76., 86., 92., 97., 100., 100., 98., 95., 89., 82.];
    const MIDDLE: [f64; 12] = [16., 11., 6., 1., -1., -2., -3., -3., -1., 3., 8., 13.];
    const DROP: [f64; 12] = [26., 44., 60., 74., 86., 97., 106., 110., 106., 92., 62., 36.];
    const END: [f64; 12] = [2.55, 2.72, 2.75, 2.74, 2.68, 2.58, 2.46, 2.32, 2.18, 2.02, 1.55, 1.0];
    let (c, f) = (v.centre, k as f64);
    let hd = 10.5 + 0.5 * f;
    let z0 = c.z + v.half_height * 0.75;
    let mut knots = vec![
        Vec3::new(side * (14.0 + 0.4 * f) + c.x, c.y + hd - 1.0, z0),
        Vec3::new(side * (25.0 + 0.3 * f) + 0.8 * c.x, c.y + hd + 9.0, z0 + 1.0),
    ];
    let start = ops::asin((44.0 / WIDTH[k]).min(0.9));
    for i in 0..=14 {
        let u = f64::from(i) / 14.0;
        let a = start + (END[k] - start) * u;
        let (sin, cos) = ops::sin_cos(a);
        let wave = 1.5 * f64::from(value_noise(Vec3::new(u * 3.0, f * 2.3, side)));
        knots.push(Vec3::new(
            side * WIDTH[k] * sin,
            MIDDLE[k] + DEPTH[k] * cos * (1.0 - 0.05 * ops::sin(2.0 * a)),
            z0 - DROP[k] * (0.15 * u + 0.85 * ops::powf(u, 1.25)) - 2.0 + wave,
        ));
    }
    smooth(&knots, 6.0)
}

fn smooth(knots: &[Vec3], step_mm: f64) -> Vec<Vec3> {
    let Some(curve) = Curve::through(knots) else { return knots.to_vec() };
    let n = (curve.length_mm() / step_mm).ceil().max(1.0);
    (0..=n as usize).map(|i| curve.point(curve.length_mm() * i as f64 / n)).collect()
}
