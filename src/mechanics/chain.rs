//! The chain behind a rod: nodes with bending, stretching, walls and an end load, and the search for its rest.

use super::linear::Skyline;
use super::tube::{Tube, WALL_KPA_PER_MM};
use crate::math::Vec3;

/// The valve's leaflets and the ventricle behind them, N/mm (assumed).
const VALVE_N_MM: f64 = 0.15;

/// What one node bears against.
pub(super) struct Touch {
    pub wall_n: f64,
    pub shift_mm: f64,
    pub valve_n: f64,
}

/// Nodes with bending, stretching, walls and an end load.
pub(super) struct Chain<'a> {
    pub ei: Vec<f64>,
    pub radius: Vec<f64>,
    pub rest: f64,
    pub axial_n: f64,
    pub held: [Vec3; 2],
    /// Dead load on the tip, N.
    pub pull: Vec3,
    pub wall: Option<&'a Tube>,
    pub support_n_mm2: f64,
    pub x: Vec<Vec3>,
    /// Ruler position last found for each node.
    pub s: Vec<f64>,
}

/// Stiffness that holds the first two nodes, N/mm.
const HELD_N_MM: f64 = 1e6;

impl Chain<'_> {
    pub(super) fn bending(&self) -> f64 {
        let w = 1.0 / (self.rest * self.rest * self.rest);
        (1..self.x.len() - 1)
            .map(|i| {
                let d = self.x[i + 1] - self.x[i] * 2.0 + self.x[i - 1];
                0.5 * self.ei[i] * w * d.dot(d)
            })
            .sum()
    }

    pub(super) fn touch(&self, i: usize) -> Touch {
        let Some(tube) = self.wall else { return Touch { wall_n: 0.0, shift_mm: 0.0, valve_n: 0.0 } };
        let d = tube.depth(self.x[i], self.s[i]);
        let shift_mm = (d.mm + self.radius[i]).max(0.0);
        let beyond = self.beyond_valve(tube, self.x[i]);
        Touch { wall_n: self.support(d.wall_kpa_mm) * shift_mm, shift_mm, valve_n: VALVE_N_MM * beyond }
    }

    /// Springs of the wall for one node: soft tissue behind it, stiffer where the wall is calcified.
    fn support(&self, wall_kpa_mm: f64) -> f64 {
        self.support_n_mm2 * self.rest * (wall_kpa_mm / WALL_KPA_PER_MM)
    }

    fn beyond_valve(&self, tube: &Tube, x: Vec3) -> f64 {
        if tube.from_mm > 0.0 {
            return 0.0;
        }
        let [at, t, ..] = tube.frames[0];
        // Only nodes near the valve: the aorta's arch also lies "before" that plane.
        if x.distance(at) > 30.0 { 0.0 } else { (-(x - at).dot(t)).max(0.0) }
    }

    fn energy(&self) -> f64 {
        let n = self.x.len();
        let mut e = self.bending() - self.pull.dot(self.x[n - 1]);
        for w in self.x.windows(2) {
            let d = w[0].distance(w[1]) - self.rest;
            e += 0.5 * self.axial_n / self.rest * d * d;
        }
        for i in 0..2 {
            let d = self.x[i] - self.held[i];
            e += 0.5 * HELD_N_MM * d.dot(d);
        }
        if let Some(tube) = self.wall {
            for i in 2..n {
                let d = tube.depth(self.x[i], self.s[i]);
                let shift = (d.mm + self.radius[i]).max(0.0);
                let beyond = self.beyond_valve(tube, self.x[i]);
                e += 0.5 * self.support(d.wall_kpa_mm) * shift * shift + 0.5 * VALVE_N_MM * beyond * beyond;
            }
        }
        e
    }

    /// Gauss-Newton with halving until a round gains less than this part of the energy; returns the rounds used.
    pub(super) fn relax(&mut self, most: usize, tolerance: f64) -> usize {
        let n = self.x.len();
        let mut h = Skyline::banded(3 * n, 8);
        let mut energy = self.energy();
        for round in 1..=most {
            h.clear();
            let mut g = vec![Vec3::ZERO; n];
            self.assemble(&mut g, &mut h);
            let mut step: Vec<f64> = g.iter().flat_map(|v| [-v.x, -v.y, -v.z]).collect();
            h.factor(1e-12);
            h.solve(&mut step);
            // A node may not leap past the wall that it should meet.
            let longest = step.iter().fold(0.0f64, |m, v| m.max(v.abs()));
            let mut a = (12.0 / longest.max(1e-12)).min(1.0);
            let from = self.x.clone();
            let mut lower = energy;
            for _ in 0..8 {
                for i in 0..n {
                    let d = Vec3::new(step[3 * i], step[3 * i + 1], step[3 * i + 2]);
                    self.x[i] = from[i] + d * a;
                }
                lower = self.energy();
                if lower <= energy {
                    break;
                }
                a *= 0.5;
            }
            if lower > energy {
                self.x = from;
                return round;
            }
            if let Some(tube) = self.wall {
                for i in 0..n {
                    self.s[i] = tube.depth(self.x[i], self.s[i]).s_mm;
                }
            }
            let gain = energy - lower;
            energy = lower;
            if a * longest < 1e3 * tolerance || gain < tolerance * energy.abs().max(1e-6) {
                return round;
            }
        }
        most
    }

    fn assemble(&self, g: &mut [Vec3], h: &mut Skyline) {
        let n = self.x.len();
        let diagonal = |h: &mut Skyline, i: usize, j: usize, k: f64| {
            for c in 0..3 {
                h.add(3 * i + c, 3 * j + c, k);
            }
        };
        let w = 1.0 / (self.rest * self.rest * self.rest);
        for i in 1..n - 1 {
            let k = self.ei[i] * w;
            let d = self.x[i + 1] - self.x[i] * 2.0 + self.x[i - 1];
            let terms = [(i - 1, 1.0), (i, -2.0), (i + 1, 1.0)];
            for (a, &(p, cp)) in terms.iter().enumerate() {
                g[p] += d * (k * cp);
                for &(q, cq) in &terms[..=a] {
                    diagonal(h, p, q, k * cp * cq);
                }
            }
        }
        for i in 0..n - 1 {
            let e = self.x[i + 1] - self.x[i];
            let length = e.norm().max(1e-9);
            let t = e * (1.0 / length);
            let k = self.axial_n / self.rest;
            let tension = k * (length - self.rest);
            g[i] += t * -tension;
            g[i + 1] += t * tension;
            let across = tension.max(0.0) / length;
            let tt = [t.x, t.y, t.z];
            for a in 0..3 {
                for b in 0..3 {
                    let v = (k - across) * tt[a] * tt[b] + if a == b { across } else { 0.0 };
                    if b <= a {
                        h.add(3 * i + a, 3 * i + b, v);
                        h.add(3 * i + 3 + a, 3 * i + 3 + b, v);
                    }
                    h.add(3 * i + 3 + a, 3 * i + b, -v);
                }
            }
        }
        for (i, held) in self.held.iter().enumerate() {
            g[i] += (self.x[i] - *held) * HELD_N_MM;
            diagonal(h, i, i, HELD_N_MM);
        }
        g[n - 1] += -self.pull;
        let Some(tube) = self.wall else { return };
        let mut rank_one = |i: usize, k: f64, d: Vec3| {
            let v = [d.x, d.y, d.z];
            for a in 0..3 {
                for b in 0..=a {
                    h.add(3 * i + a, 3 * i + b, k * v[a] * v[b]);
                }
            }
        };
        for (i, g) in g.iter_mut().enumerate().skip(2) {
            let d = tube.depth(self.x[i], self.s[i]);
            let shift = (d.mm + self.radius[i]).max(0.0);
            if shift > 0.0 {
                let k = self.support(d.wall_kpa_mm);
                *g += d.slope * (k * shift);
                rank_one(i, k, d.slope);
            }
            let beyond = self.beyond_valve(tube, self.x[i]);
            if beyond > 0.0 {
                let t = tube.frames[0][1];
                *g += t * (-VALVE_N_MM * beyond);
                rank_one(i, VALVE_N_MM, t);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::ops;
    use crate::mechanics::tube::Route;

    fn cantilever(n: usize, length: f64, ei: f64, load: f64) -> Chain<'static> {
        let rest = length / (n - 1) as f64;
        // The clamp holds the first half element, so that the clamped end lies between the first two nodes.
        let x: Vec<Vec3> = (0..n).map(|i| Vec3::new(rest * i as f64, 0.0, 0.0)).collect();
        Chain {
            ei: vec![ei; n],
            radius: vec![0.0; n],
            rest,
            axial_n: 1e5,
            held: [x[0], x[1]],
            pull: Vec3::new(0.0, load, 0.0),
            wall: None,
            support_n_mm2: 0.0,
            s: vec![0.0; n],
            x,
        }
    }

    /// Euler-Bernoulli: 0.035 inch steel wire (E 200 GPa, EI 6132 N mm²), 100 mm, 0.1 N: tip falls P L³ / 3 EI = 5.4359 mm.
    #[test]
    fn small_deflection_cantilever() {
        let n = 201;
        let length = 100.0 * 200.0 / 199.5;
        let mut c = cantilever(n, length, 6132.068, 0.1);
        c.relax(400, 1e-9);
        let y = c.x[n - 1].y;
        assert!((y / 5.4359 - 1.0).abs() < 5e-3, "{y}");
    }

    /// Large deflection of a clamped elastica under a dead end load (Bisshopp and Drucker, Q. Appl. Math. 3:272, 1945):
    /// deflection / length for P L² / EI = 1, 2, 5, 10.
    #[test]
    fn elastica() {
        for (alpha, exact) in [(1.0, 0.301_721), (2.0, 0.493_457), (5.0, 0.713_792), (10.0, 0.810_609)] {
            let n = 101;
            let free = 100.0;
            let length = free * (n - 1) as f64 / ((n - 1) as f64 - 0.5);
            let ei = 1000.0;
            let load = alpha * ei / (free * free);
            let mut c = cantilever(n, length, ei, load);
            for _ in 0..20 {
                c.relax(400, 1e-9);
            }
            let y = c.x[n - 1].y / free;
            assert!((y - exact).abs() < 5e-3, "{alpha}: {y} {exact}");
        }
    }

    /// A clamped column in a tube under an end load P: below Euler's pi² EI / 4 L² it stays straight; above, its end
    /// rests on the wall, which holds it back with P k c / (k L - tan k L), k² = P / EI (beam-column theory, Timoshenko
    /// and Gere, Theory of Elastic Stability, 1961), c the clearance.
    #[test]
    fn euler_buckling_in_a_tube() {
        use crate::anatomy::{Lumen, Tree, Vessel, VesselName, Wall};
        let points: Vec<Vec3> = (0..=60).map(|i| Vec3::new(0.0, 0.0, 5.0 * f64::from(i))).collect();
        let curve = crate::math::Curve::through(&points).unwrap();
        let lumen = Lumen::sample(curve.length_mm(), 1.0, 48, |_, _| 4.0);
        let vessel = Vessel { name: VesselName::Aorta, curve, lumen, wall: Wall::default(), root: None };
        let tree = Tree { vessels: vec![vessel], reference_map_mmhg: 90.0 };
        let tube = Tube::cut(&tree, &Route::aorta(&tree), 0.0, 300.0, 0.0, 0);
        let (n, length, ei, clearance) = (51, 200.0, 1e5, 3.0);
        let rest = length / (n as f64 - 1.5);
        let euler = std::f64::consts::PI * std::f64::consts::PI * ei / (4.0 * length * length);
        for over in [0.7, 1.5, 2.0, 3.0] {
            let x: Vec<Vec3> = (0..n)
                .map(|i| {
                    Vec3::new(if i < 2 { 0.0 } else { 1.1e-3 * (i * i) as f64 }, 0.0, 280.0 - rest * i as f64)
                })
                .collect();
            let s = x.iter().map(|p| p.z).collect();
            let load = over * euler;
            let mut c = Chain {
                ei: vec![ei; n],
                radius: vec![1.0; n],
                rest,
                axial_n: 1e5,
                held: [x[0], x[1]],
                pull: Vec3::new(0.0, 0.0, load),
                wall: Some(&tube),
                support_n_mm2: 2.0,
                x,
                s,
            };
            for _ in 0..40 {
                c.relax(400, 1e-12);
            }
            let wall: f64 = (0..n).map(|i| c.touch(i).wall_n).sum();
            if over < 1.0 {
                assert!(wall < 1e-4 && c.x[n - 1].x.abs() < 0.1, "{over}: {wall} {}", c.x[n - 1].x);
            } else {
                let k = (load / ei).sqrt();
                let exact = load * k * clearance / (k * length - ops::tan(k * length));
                assert!((wall / exact - 1.0).abs() < 0.03, "{over}: {wall} {exact}");
            }
        }
    }
}
