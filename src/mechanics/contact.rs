//! Rings of a stent graft against a wall: the shape of least energy.
//!
//! Each stent ring is a short cylinder that may shift, tilt, shrink, cone and go out of round; neighbours are tied by
//! fabric (shear, bending, and the collision of their inner sides in a tight bend). Energy is a sum of squares, so
//! Gauss-Newton steps with a narrow Cholesky factor find the minimum in a handful of rounds.
//! Units: mm, N, kPa (1 kPa = 1e-3 N/mm²).

use super::linear::Skyline;
use super::tube::Tube;
use crate::math::{Vec3, ops};

/// Shift (2), tilt (2), radius, cone, and three pairs of out-of-round waves.
pub(super) const DOF: usize = 12;
/// State of one ring.
pub(super) type Ring = [f64; DOF];

/// Angles round a ring.
pub(super) const ANGLES: usize = 36;
/// Local stiffness of one strut pressed by itself, kPa/mm (assumed).
pub(super) const STRUT_KPA_PER_MM: f64 = 3.0;
/// Fabric does not stretch: hoop stiffness beyond the free radius, as a multiple (assumed).
const TAUT: f64 = 20.0;
/// Stiffness against going oval, as a part of the hoop's (assumed); wave n costs ((n² - 1) / 3)² as much.
const OVAL: f64 = 0.08;
/// Shear between neighbours, N/mm (assumed).
const SHEAR_N_PER_MM: f64 = 0.5;
/// Stiffness of stents pressed together at the inner side of a bend, N/mm (assumed).
const COLLISION_N_PER_MM: f64 = 1.0;
/// Newton rounds at most.
const ROUNDS: usize = 40;

/// What one ring is.
#[derive(Clone, Debug)]
pub(super) struct RingSpec {
    /// Ruler position of its centre, mm.
    pub s_mm: f64,
    /// Free radius, mm.
    pub free_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// Distance to the next ring's centre along free fabric, mm.
    pub pitch_mm: f64,
    /// Hoop stiffness, kPa/mm.
    pub hoop_kpa_mm: f64,
    /// Tilt it was released with, and how strongly friction holds it there, N mm/rad.
    pub released: [f64; 2],
    pub memory: f64,
    /// Multiplies the stiffness against going oval; a balloon rounds a ring.
    pub rounder: f64,
}

/// A row of rings in a tube.
pub(super) struct Assembly<'a> {
    pub tube: &'a Tube,
    pub rings: &'a [RingSpec],
    /// Bending stiffness of the open graft, N mm².
    pub ei_n_mm2: f64,
    /// How far stents can slide into each other before they collide, mm.
    pub nesting_mm: f64,
    /// Distance between rows, mm.
    pub row_mm: f64,
}

/// Sines and cosines of the ring's sample angles: `[cos, sin]` of 1, 2, 3 and 4 times the angle.
pub(super) fn waves() -> Vec<[(f64, f64); 4]> {
    (0..ANGLES)
        .map(|k| {
            let th = std::f64::consts::TAU * (k as f64 + 0.5) / ANGLES as f64;
            [1.0, 2.0, 3.0, 4.0].map(|n| {
                let (s, c) = ops::sin_cos(n * th);
                (c, s)
            })
        })
        .collect()
}

/// Offsets of a ring's rows from its centre, mm.
pub(super) fn row_offsets(height_mm: f64, row_mm: f64) -> Vec<f64> {
    let n = (height_mm / row_mm).round().max(1.0);
    (0..n as usize).map(|i| (i as f64 + 0.5) * height_mm / n - 0.5 * height_mm).collect()
}

/// Points of one ring at an offset along its axis.
pub(super) fn ring_points(
    frame: &[Vec3; 4],
    q: &Ring,
    offset_mm: f64,
    waves: &[[(f64, f64); 4]],
) -> Vec<Vec3> {
    let pose = Pose::of(frame, q);
    waves.iter().map(|w| pose.point(q, offset_mm, w).0).collect()
}

struct Pose {
    centre: Vec3,
    axis: Vec3,
    normal: Vec3,
    binormal: Vec3,
}

impl Pose {
    fn of(frame: &[Vec3; 4], q: &Ring) -> Self {
        let [at, t, n, b] = *frame;
        Self {
            centre: at + n * q[0] + b * q[1],
            axis: t + n * q[2] + b * q[3],
            normal: n - t * q[2],
            binormal: b - t * q[3],
        }
    }
    /// The point, the outward direction and the radius there.
    fn point(&self, q: &Ring, offset: f64, w: &[(f64, f64); 4]) -> (Vec3, Vec3, f64) {
        let mut rho = q[4] + q[5] * offset;
        for m in 0..3 {
            rho += q[6 + 2 * m] * w[m + 1].0 + q[7 + 2 * m] * w[m + 1].1;
        }
        let out = self.normal * w[0].0 + self.binormal * w[0].1;
        (self.centre + self.axis * offset + out * rho, out, rho)
    }
}

/// Result of the search.
pub(super) struct Equilibrium {
    pub rings: Vec<Ring>,
    pub rounds: usize,
}

impl Assembly<'_> {
    /// The shape of least energy, from a start.
    pub(super) fn solve(&self, start: Vec<Ring>) -> Equilibrium {
        let n = self.rings.len();
        let waves = waves();
        let mut q = start;
        let mut h = Skyline::banded(n * DOF, 2 * DOF - 1);
        let mut g = vec![0.0; n * DOF];
        let look = |q: &[Ring], g: &mut [f64], h: &mut Skyline| {
            h.clear();
            g.fill(0.0);
            self.internal(q, g, h) + self.contact(q, &waves, g, h)
        };
        let mut energy = look(&q, &mut g, &mut h);
        let mut rounds = 0;
        for round in 1..=ROUNDS {
            rounds = round;
            for i in 0..n * DOF {
                h.add(i, i, 1e-6);
            }
            h.factor(1e-9);
            let mut step: Vec<f64> = g.iter().map(|x| -x).collect();
            h.solve(&mut step);
            let slope: f64 = step.iter().zip(&g).map(|(a, b)| a * b).sum();
            let mut a = 1.0;
            let mut moved = advanced(&q, &step, a);
            // Most steps are taken whole, and the next begins where they end.
            let mut ahead = look(&moved, &mut g, &mut h);
            while a > 1e-2 && ahead > energy + 1e-4 * a * slope {
                a *= 0.5;
                moved = advanced(&q, &step, a);
                ahead = look(&moved, &mut g, &mut h);
            }
            let travel = (0..n)
                .flat_map(|i| [0, 1, 4].map(|d| a * step[i * DOF + d]))
                .fold(0.0f64, |m, x| m.max(x.abs()));
            q = moved;
            let was = std::mem::replace(&mut energy, ahead);
            if slope.abs() < 1e-5 * was.abs().max(1e-3) || travel < 2e-3 {
                break;
            }
        }
        Equilibrium { rings: q, rounds }
    }

    /// Energy of the graft itself; adds its gradient and Hessian.
    fn internal(&self, q: &[Ring], g: &mut [f64], h: &mut Skyline) -> f64 {
        let mut energy = 0.0;
        let mut add = |terms: &[(usize, f64)], r: f64, k: f64| {
            energy += 0.5 * k * r * r;
            for (a, &(i, ji)) in terms.iter().enumerate() {
                g[i] += k * r * ji;
                for &(j, jj) in &terms[..=a] {
                    h.add(i, j, k * ji * jj);
                }
            }
        };
        for (i, ring) in self.rings.iter().enumerate() {
            let o = i * DOF;
            let x = &q[i];
            let wall = self.tube.mean_radius(ring.s_mm);
            let area = std::f64::consts::TAU * ring.free_mm.min(wall) * ring.height_mm * 1e-3;
            let hoop = ring.hoop_kpa_mm * area;
            let taut = if x[4] > ring.free_mm { TAUT } else { 1.0 };
            add(&[(o + 4, 1.0)], x[4] - ring.free_mm, hoop * taut);
            add(&[(o + 5, 1.0)], x[5], hoop * ring.height_mm * ring.height_mm / 12.0);
            for m in 0..6 {
                let wave = (m / 2 + 2) as f64;
                let stiff = (wave * wave - 1.0) / 3.0;
                add(&[(o + 6 + m, 1.0)], x[6 + m], 0.5 * hoop * OVAL * ring.rounder * stiff * stiff);
            }
            for a in 0..2 {
                add(&[(o + 2 + a, 1.0)], x[2 + a] - ring.released[a], ring.memory + 1e-3);
                add(&[(o + a, 1.0)], x[a], 1e-4);
            }
            let Some(next) = self.rings.get(i + 1) else { continue };
            let (p, y) = (o + DOF, &q[i + 1]);
            let apart = next.s_mm - ring.s_mm;
            let turned = self.tube.turned(ring.s_mm, next.s_mm);
            // Bend of the graft between the two rings: the vessel's turn plus the change of tilt.
            let bend = [turned[0] + y[2] - x[2], turned[1] + y[3] - x[3]];
            for a in 0..2 {
                add(&[(o + 2 + a, -1.0), (p + 2 + a, 1.0)], bend[a], self.ei_n_mm2 / ring.pitch_mm);
                let shear = y[a] - x[a] - 0.5 * apart * (x[2 + a] + y[2 + a]);
                add(
                    &[(o + a, -1.0), (p + a, 1.0), (o + 2 + a, -0.5 * apart), (p + 2 + a, -0.5 * apart)],
                    shear,
                    SHEAR_N_PER_MM,
                );
            }
            let angle = (bend[0] * bend[0] + bend[1] * bend[1]).sqrt();
            // The outer side keeps the fabric's length, so the inner one is shorter by the angle times the diameter.
            let room = ring.pitch_mm - 0.5 * (ring.height_mm + next.height_mm) + self.nesting_mm;
            let across = x[4] + y[4];
            if angle * across > room && angle > 0.0 {
                let u = [bend[0] / angle * across, bend[1] / angle * across];
                add(
                    &[(o + 2, -u[0]), (o + 3, -u[1]), (p + 2, u[0]), (p + 3, u[1])],
                    angle * across - room,
                    COLLISION_N_PER_MM,
                );
            }
        }
        energy
    }

    /// Energy of contact with the wall; adds its gradient and Hessian.
    fn contact(
        &self,
        q: &[Ring],
        waves: &[[(f64, f64); 4]],
        gradient: &mut [f64],
        hessian: &mut Skyline,
    ) -> f64 {
        let mut energy = 0.0;
        for (i, ring) in self.rings.iter().enumerate() {
            let x = &q[i];
            let frame = self.tube.frame(ring.s_mm);
            let [_, t, n, b] = frame;
            let pose = Pose::of(&frame, x);
            let offsets = row_offsets(ring.height_mm, self.row_mm);
            let cell = 1e-3 * std::f64::consts::TAU * ring.free_mm / ANGLES as f64 * ring.height_mm
                / offsets.len() as f64;
            let mut g = [0.0; DOF];
            let mut h = [[0.0; DOF]; DOF];
            for &offset in &offsets {
                for w in waves {
                    let (p, dir, rho) = pose.point(x, offset, w);
                    let depth = self.tube.depth(p, ring.s_mm + offset);
                    if depth.mm <= 0.0 {
                        continue;
                    }
                    let k = cell / (1.0 / depth.wall_kpa_mm + 1.0 / STRUT_KPA_PER_MM);
                    energy += 0.5 * k * depth.mm * depth.mm;
                    let s = depth.slope;
                    let (sn, sb, st, sd) = (s.dot(n), s.dot(b), s.dot(t), s.dot(dir));
                    let mut j = [0.0; DOF];
                    j[0] = sn;
                    j[1] = sb;
                    j[2] = offset * sn - rho * w[0].0 * st;
                    j[3] = offset * sb - rho * w[0].1 * st;
                    j[4] = sd;
                    j[5] = offset * sd;
                    for m in 0..3 {
                        j[6 + 2 * m] = w[m + 1].0 * sd;
                        j[7 + 2 * m] = w[m + 1].1 * sd;
                    }
                    let force = k * depth.mm;
                    for a in 0..DOF {
                        g[a] += force * j[a];
                        let kj = k * j[a];
                        for (h, j) in h[a].iter_mut().zip(&j[..=a]) {
                            *h += kj * j;
                        }
                    }
                }
            }
            let o = i * DOF;
            for a in 0..DOF {
                gradient[o + a] += g[a];
                for (c, v) in h[a][..=a].iter().enumerate() {
                    hessian.add(o + a, o + c, *v);
                }
            }
        }
        energy
    }
}

fn advanced(q: &[Ring], step: &[f64], a: f64) -> Vec<Ring> {
    q.iter()
        .enumerate()
        .map(|(i, x)| {
            let mut y = *x;
            for (d, v) in y.iter_mut().enumerate() {
                *v += a * step[i * DOF + d];
            }
            y
        })
        .collect()
}
