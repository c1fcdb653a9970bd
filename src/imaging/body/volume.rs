//! Soft tissue as voxels, and its line integrals by planes.
//!
//! Joseph's method (IEEE Trans. Med. Imaging 1:192, 1982): step through the voxel planes across the beam's main axis and
//! interpolate within each plane. All rays leave one point, so each plane is the same grid of rays, moved and stretched
//! (the shear-warp of Lacroute and Levoy, SIGGRAPH 1994): columns and rows are interpolated apart, into one plane through
//! the middle of the field, which is then turned to the picture.

use super::soft::Anatomy;
use crate::imaging::pose::View;
use crate::math::Vec3;

/// Voxel edge, mm, and the box, in trunk coordinates.
const EDGE_MM: f64 = 3.0;
const LOW: Vec3 = Vec3::new(-207.0, -123.0, -672.0);
const COUNT: [usize; 3] = [139, 86, 268];

/// Places of the box, so far apart.
pub(super) fn grid(step_mm: f64) -> impl Iterator<Item = Vec3> {
    let n = COUNT.map(|c| ((c as f64 - 1.0) * EDGE_MM / step_mm) as usize + 1);
    (0..n[0] * n[1] * n[2]).map(move |i| {
        let (x, y, z) = (i % n[0], i / n[0] % n[1], i / (n[0] * n[1]));
        LOW + Vec3::new(x as f64, y as f64, z as f64) * step_mm
    })
}

/// Attenuation on a grid, 1/cm.
#[derive(Clone, Debug)]
pub struct Volume {
    /// The first index left to right, then front to back, then foot to head.
    mu: Vec<f32>,
    /// The same with the first two exchanged: planes across a side view's beam lie in one piece.
    side: Vec<f32>,
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
        let side = vec![0.0; mu.len()];
        let mut out = Self { mu, side };
        out.turn(0..COUNT[2]);
        out
    }

    /// Copies layers to the side view's order.
    fn turn(&mut self, layers: std::ops::Range<usize>) {
        let [nx, ny, _] = COUNT;
        for k in layers {
            let at = k * nx * ny;
            for (j, row) in self.mu[at..at + nx * ny].chunks(nx).enumerate() {
                row.iter().enumerate().for_each(|(i, v)| self.side[at + i * ny + j] = *v);
            }
        }
    }

    /// The same volume, sampled again within a box.
    pub fn again(&mut self, anatomy: &Anatomy, (low, high): (Vec3, Vec3)) {
        let span = |a: f64, b: f64, from: f64, count: usize| {
            let at = |v: f64| ((v - from) / EDGE_MM).clamp(0.0, count as f64);
            at(a).floor() as usize..(at(b).ceil() as usize).min(count)
        };
        let layers = span(low.z, high.z, LOW.z, COUNT[2]);
        for k in layers.clone() {
            for j in span(low.y, high.y, LOW.y, COUNT[1]) {
                for i in span(low.x, high.x, LOW.x, COUNT[0]) {
                    let p = LOW + Vec3::new(i as f64, j as f64, k as f64) * EDGE_MM;
                    self.mu[(k * COUNT[1] + j) * COUNT[0] + i] = anatomy.at(p).mu as f32;
                }
            }
        }
        self.turn(layers);
    }

    /// Line integrals, nats, of the volume moved by `shift`.
    pub fn project(&self, view: &View, shift: Vec3) -> Vec<f32> {
        let source = axes((view.source - shift - LOW) * (1.0 / EDGE_MM));
        let middle = axes((view.source + view.axis * view.sod_mm - shift - LOW) * (1.0 / EDGE_MM));
        let axis = axes(view.axis);
        // The voxel axis that the beam runs along most, the one across it whose rows lie in one piece, and the third; with the
        // steps of the data from plane to plane and from row to row.
        let main = (0..3).fold(0, |b, k| if axis[k].abs() > axis[b].abs() { k } else { b });
        let [nx, ny, _] = COUNT;
        let (along, data, steps) = match main {
            0 => ([0, 1, 2], &self.side, (ny, nx * ny)),
            1 => ([1, 0, 2], &self.mu, (nx, nx * ny)),
            _ => ([2, 0, 1], &self.mu, (nx * ny, nx)),
        };
        let flat = Flat::around(view, source, middle, along);
        let plane = flat.sum(data, steps);
        let n = view.pixels;
        let mut out = Vec::with_capacity(n * n);
        let (r0, dx, dy) =
            (axes(view.ray(0.0, 0.0)), axes(view.right * view.pitch_mm), axes(view.up * -view.pitch_mm));
        for y in 0..n {
            for x in 0..n {
                let r: [f32; 3] =
                    std::array::from_fn(|k| (r0[k] + dx[k] * x as f64 + dy[k] * y as f64) as f32);
                out.push(flat.look(&plane, r));
            }
        }
        out
    }
}

fn axes(v: Vec3) -> [f64; 3] {
    [v.x, v.y, v.z]
}

/// Samples of the middle plane for each voxel edge.
const FINE: f64 = 2.0;

/// A grid of rays through one voxel plane in the middle of the field.
struct Flat {
    /// Axes: the beam's, the columns', the rows'.
    along: [usize; 3],
    source: [f64; 3],
    /// Voxel plane that the grid lies in.
    at: f64,
    /// First column and row of the grid, in voxels, and how many there are.
    from: [f64; 2],
    count: [usize; 2],
}

impl Flat {
    /// The grid that holds every ray of a view.
    fn around(view: &View, source: [f64; 3], middle: [f64; 3], along: [usize; 3]) -> Self {
        let [major, columns, rows] = along;
        let at = middle[major];
        let last = view.pixels as f64 - 1.0;
        let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
        for (x, y) in [(0.0, 0.0), (last, 0.0), (0.0, last), (last, last)] {
            let r = axes(view.ray(x, y));
            let t = (at - source[major]) / r[major];
            for (k, axis) in [columns, rows].into_iter().enumerate() {
                let p = source[axis] + t * r[axis];
                (low[k], high[k]) = (low[k].min(p), high[k].max(p));
            }
        }
        // No ray that stays outside the box by more than its size is of use.
        let most = 2.0 * COUNT[2] as f64;
        let from = [low[0].max(-most) - 1.0, low[1].max(-most) - 1.0];
        let count = [0, 1].map(|k| ((high[k].min(most + most) - from[k]).max(0.0) * FINE) as usize + 3);
        Self { along, source, at, from, count }
    }

    /// Sums of the voxels along each ray of the grid, a plane after another; `steps` from plane to plane and row to row.
    fn sum(&self, data: &[f32], steps: (usize, usize)) -> Vec<f32> {
        let [nu, nv] = self.count;
        let [major, columns, rows] = self.along;
        let width = COUNT[columns];
        let mut sums = vec![0.0f32; nu * nv];
        let mut row = vec![0.0f32; width];
        let mut places: Vec<(u32, f32)> = Vec::with_capacity(nu);
        for k in 0..COUNT[major] {
            // Rays of the grid cross this plane on the same grid, stretched about the source.
            let stretch = (k as f64 - self.source[major]) / (self.at - self.source[major]);
            if stretch <= 0.0 {
                continue;
            }
            let place = |i: usize, axis: usize, from: f64| {
                self.source[axis] + (from + i as f64 / FINE - self.source[axis]) * stretch
            };
            let split = |p: f64| (p as u32, (p - f64::from(p as u32)) as f32);
            // Only where the neighbours on both sides exist.
            let across = |i: usize| place(i, columns, self.from[0]);
            let first = (0..nu).position(|i| across(i) >= 0.0).unwrap_or(nu);
            places.clear();
            places.extend((first..nu).map(across).take_while(|p| *p <= width as f64 - 1.001).map(split));
            for v in 0..nv {
                let up = place(v, rows, self.from[1]);
                if up < 0.0 || up > COUNT[rows] as f64 - 1.001 {
                    continue;
                }
                let (j, w) = split(up);
                let at = |j: usize| &data[j * steps.1 + k * steps.0..][..width];
                for (r, (low, high)) in row.iter_mut().zip(at(j as usize).iter().zip(at(j as usize + 1))) {
                    *r = low + (high - low) * w;
                }
                let line = &mut sums[v * nu + first..];
                for (s, (i, u)) in line.iter_mut().zip(&places) {
                    let two = &row[*i as usize..*i as usize + 2];
                    *s += two[0] + (two[1] - two[0]) * u;
                }
            }
        }
        sums
    }

    /// The line integral along a ray, nats.
    fn look(&self, plane: &[f32], r: [f32; 3]) -> f32 {
        let [nu, nv] = self.count;
        let [major, columns, rows] = self.along;
        let t = (self.at - self.source[major]) as f32 / r[major];
        let place = |axis: usize, from: f64| ((self.source[axis] - from) as f32 + t * r[axis]) * FINE as f32;
        let (u, v) = (place(columns, self.from[0]), place(rows, self.from[1]));
        if !(u >= 0.0 && v >= 0.0 && u < (nu - 1) as f32 && v < (nv - 1) as f32) {
            return 0.0;
        }
        let (i, j) = (u as usize, v as usize);
        let (a, b) = (u - i as f32, v - j as f32);
        let (low, high) = (&plane[j * nu + i..][..2], &plane[(j + 1) * nu + i..][..2]);
        let near = low[0] + (low[1] - low[0]) * a;
        let far = high[0] + (high[1] - high[0]) * a;
        let slant = (r[0] * r[0] + r[1] * r[1] + r[2] * r[2]).sqrt() / r[major].abs();
        (near + (far - near) * b) * slant * (EDGE_MM * 0.1) as f32
    }
}
