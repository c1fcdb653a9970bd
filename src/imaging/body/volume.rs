//! Soft tissue as voxels, and its line integrals by planes.
//!
//! Joseph's method (IEEE Trans. Med. Imaging 1:192, 1982): step through the voxel planes across the ray's main axis and
//! interpolate within each plane.

use super::soft::Anatomy;
use crate::imaging::pose::View;
use crate::math::Vec3;

/// Voxel edge, mm, and the box, in trunk coordinates.
const EDGE_MM: f64 = 3.0;
const LOW: Vec3 = Vec3::new(-207.0, -123.0, -420.0);
const COUNT: [usize; 3] = [139, 84, 184];

/// Attenuation on a grid, 1/cm.
#[derive(Clone, Debug)]
pub struct Volume {
    mu: Vec<f32>,
}

impl Volume {
    /// Samples the trunk.
    pub fn build(anatomy: &Anatomy) -> Self {
        let mut mu = Vec::with_capacity(COUNT[0] * COUNT[1] * COUNT[2]);
        for k in 0..COUNT[2] {
            for j in 0..COUNT[1] {
                for i in 0..COUNT[0] {
                    let p = LOW + Vec3::new(i as f64, j as f64, k as f64) * EDGE_MM;
                    mu.push(anatomy.at(p).mu as f32);
                }
            }
        }
        Self { mu }
    }

    /// Line integrals, nats, of the volume moved by `shift`.
    pub fn project(&self, view: &View, shift: Vec3) -> Vec<f32> {
        let n = view.pixels;
        let mut out = Vec::with_capacity(n * n);
        let source = (view.source - shift - LOW) * (1.0 / EDGE_MM);
        for y in 0..n {
            for x in 0..n {
                let r = view.ray(x as f64, y as f64) * (1.0 / EDGE_MM);
                out.push(self.ray(source, r) * (EDGE_MM * 0.1) as f32);
            }
        }
        out
    }

    /// Sum along a ray in voxel units, times the step's length in voxels.
    fn ray(&self, o: Vec3, r: Vec3) -> f32 {
        let (o, r) = ([o.x, o.y, o.z], [r.x, r.y, r.z]);
        let major = (0..3).fold(0, |b, k| if r[k].abs() > r[b].abs() { k } else { b });
        let (p, q) = ((major + 1) % 3, (major + 2) % 3);
        let stride = [1usize, COUNT[0], COUNT[0] * COUNT[1]];
        let (sp, sq) = (r[p] / r[major], r[q] / r[major]);
        // Position in the cross plane at plane k: a + s * k, kept where all four neighbours exist.
        let (ap, aq) = (o[p] - sp * o[major], o[q] - sq * o[major]);
        let (mut lo, mut hi) = (0.0f64, COUNT[major] as f64 - 1.0);
        for (a, s, count) in [(ap, sp, COUNT[p]), (aq, sq, COUNT[q])] {
            let most = count as f64 - 1.001;
            if s.abs() < 1e-12 {
                if a < 0.0 || a > most {
                    return 0.0;
                }
            } else {
                let (t0, t1) = ((0.0 - a) / s, (most - a) / s);
                lo = lo.max(t0.min(t1));
                hi = hi.min(t0.max(t1));
            }
        }
        if lo > hi {
            return 0.0;
        }
        let (first, last) = (lo.ceil() as usize, hi.floor() as usize);
        let (mut u, mut v) = ((ap + sp * first as f64) as f32, (aq + sq * first as f64) as f32);
        let (du, dv) = (sp as f32, sq as f32);
        let (sp, sq, sm) = (stride[p], stride[q], stride[major]);
        let mut sum = 0.0f32;
        let most = self.mu.len() - sp - sq - 1;
        for k in first..=last {
            let (i, j) = (u as usize, v as usize);
            let (a, b) = (u - i as f32, v - j as f32);
            let at = (k * sm + i * sp + j * sq).min(most);
            let near = self.mu[at] + (self.mu[at + sp] - self.mu[at]) * a;
            let far = self.mu[at + sq] + (self.mu[at + sq + sp] - self.mu[at + sq]) * a;
            sum += near + (far - near) * b;
            u += du;
            v += dv;
        }
        sum * (1.0 + sp_sq(r, major, p, q)).sqrt() as f32
    }
}

fn sp_sq(r: [f64; 3], major: usize, p: usize, q: usize) -> f64 {
    (r[p] * r[p] + r[q] * r[q]) / (r[major] * r[major])
}
