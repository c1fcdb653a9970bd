//! One step of the network.
//!
//! Pressures are found once, at the step's start. Pipes take a half step beside them (Störmer-Verlet); links carry the flow that
//! the last two starts foretell for the middle (Adams-Bashforth); valves and holes, whose law is a root, take a true midpoint of
//! the few nodes that they join.

use super::{Activation, Chamber, LA, LINKS, LV, NODES, Network, ORIFICES, PIPES, RA, RV, SHUT, Valve, ends};
use crate::math::through;

/// A chamber's last millilitres, in which its pressure fades, ml. Assumed.
const LAST_ML: f64 = 8.0;

/// Suction of a chamber's last quarter of those, mmHg/ml. Assumed.
const SUCKS: f64 = 8.0;

/// A node with a negative stressed volume is this much stiffer: a collapsed vessel gives little more. Assumed.
pub(super) const COLLAPSED: f64 = 6.0;

/// One number for each node and lane.
type PerNode<const W: usize> = [[f64; W]; NODES];

/// A step as the compiler is to make it for each sort of registers.
struct Pass<'a, const W: usize> {
    net: &'a mut Network<W>,
    now: &'a Activation<W>,
    mid: &'a Activation<W>,
}

impl<const W: usize> pulp::WithSimd for Pass<'_, W> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) {
        self.net.pass(self.now, self.mid);
    }
}

impl<const W: usize> Network<W> {
    /// One step. `now` is the activation at the step's start, `mid` at its middle.
    ///
    /// Compiled twice, for the registers that every processor has and for wider ones where they are found. Neither fuses a product
    /// with a sum, so both give the same bits.
    pub fn step(&mut self, now: &Activation<W>, mid: &Activation<W>) {
        pulp::Arch::new().dispatch(Pass { net: self, now, mid });
    }

    #[inline(always)]
    fn pass(&mut self, now: &Activation<W>, mid: &Activation<W>) {
        self.bend();
        self.vessels();
        if self.heart {
            self.chambers(now);
        }
        let base = &mut self.growth_ml_s;
        base[..self.nodes].copy_from_slice(&self.source_ml_s[..self.nodes]);
        self.pipes();
        self.links();
        self.valves_and_holes(mid);
        self.fill();
    }

    /// Coefficients of the pipes whose friction follows the flow.
    #[inline(always)]
    fn bend(&mut self) {
        for j in 0..self.bent.len() {
            let e = usize::from(self.bent[j]);
            for k in 0..W {
                self.pipe_coefficients(e, k);
            }
        }
    }

    /// Pressures of every node but the chambers, as links and as pipes feel them.
    #[inline(always)]
    fn vessels(&mut self) {
        let from = if self.heart { 4 * W } else { 0 };
        let n = (self.nodes * W).min(NODES * W);
        let (v, v_u) = (&self.v_ml.as_flattened()[..n], &self.v_u_ml.as_flattened()[..n]);
        let (inv_c, p_ext) = (&self.inv_c.as_flattened()[..n], &self.p_ext_mmhg.as_flattened()[..n]);
        let floor = &self.floor_mmhg.as_flattened()[..n];
        let (viscosity, growth) =
            (&self.viscosity.as_flattened()[..n], &self.growth_ml_s.as_flattened()[..n]);
        let p = &mut self.p_mmhg.as_flattened_mut()[..n];
        let felt = &mut self.felt_mmhg.as_flattened_mut()[..n];
        let sum = &mut self.sums.p.as_flattened_mut()[..n];
        for i in from..n {
            let q = vessel_mmhg(v[i], v_u[i], inv_c[i], p_ext[i], floor[i]);
            p[i] = q;
            felt[i] = q + viscosity[i] * growth[i];
            sum[i] += q;
        }
    }

    /// Pressures of the chambers and of what the left ventricle squeezes, at the step's start.
    #[inline(always)]
    fn chambers(&mut self, now: &Activation<W>) {
        for (side, c) in [RV, LV].into_iter().enumerate() {
            for k in 0..W {
                self.wall_exp[side][k] = small_exp(self.chambers[c].k_e[k] * self.v_ml[c][k]);
            }
        }
        let inside = self.isovolumic(&self.v_ml, &self.wall_exp, now);
        self.p_mmhg[..4].copy_from_slice(&inside);
        self.felt_mmhg[..4].copy_from_slice(&inside);
        for (sum, p) in self.sums.p[..4].iter_mut().zip(&inside) {
            for k in 0..W {
                sum[k] += p[k];
            }
        }
        let [rv, lv] = valve_flows(&mut self.valves, &self.p_mmhg, &self.p_ext_mmhg, self.outlets);
        (self.p_rv_mmhg, self.p_lv_mmhg) = (rv, lv);
        let (squeezed, part) = (usize::from(self.squeezed.0) & (NODES - 1), self.squeezed.1);
        for k in 0..W {
            let extra = part * lv[k];
            self.p_mmhg[squeezed][k] += extra;
            self.sums.p[squeezed][k] += extra;
        }
    }

    /// Pressures of the four chambers before any ejection, at the volumes `v` and their walls' exponentials.
    #[inline(always)]
    fn isovolumic(&self, v: &PerNode<W>, wall: &[[f64; W]; 2], phi: &Activation<W>) -> [[f64; W]; 4] {
        let mut out = [[0.0; W]; 4];
        for (c, out) in out.iter_mut().enumerate() {
            let (phi, wall) = match c {
                RV => (&phi.ventricles, Some(&wall[0])),
                LV => (&phi.ventricles, Some(&wall[1])),
                _ => (&phi.atria, None),
            };
            *out = chamber_mmhg(&self.chambers[c], wall, &v[c], &self.p_ext_mmhg[c], phi);
        }
        out
    }

    /// The walls' exponentials in the step's middle, carried there from its start.
    #[inline(always)]
    fn wall_mid(&self) -> [[f64; W]; 2] {
        let mut out = [[0.0; W]; 2];
        for (side, c) in [RV, LV].into_iter().enumerate() {
            for k in 0..W {
                let k_e = self.chambers[c].k_e[k];
                let by = k_e * (self.mid_ml[c][k] - self.v_ml[c][k]);
                out[side][k] = self.wall_exp[side][k] * tiny_exp(by);
                if by.abs() > TINY {
                    out[side][k] = small_exp(k_e * self.mid_ml[c][k]);
                }
            }
        }
        out
    }

    #[inline(always)]
    fn pipes(&mut self) {
        let (felt, dv) = (&self.felt_mmhg, &mut self.growth_ml_s);
        for e in 0..self.pipes.min(PIPES) {
            let (a, b) = ends(self.pipe_ends[e]);
            for k in 0..W {
                let q = self.pipe_keep[e][k] * self.pipe_q_ml_s[e][k]
                    + self.pipe_gain[e][k] * (felt[a][k] - felt[b][k]);
                self.pipe_q_ml_s[e][k] = q;
                self.sums.pipe[e][k] += q;
                dv[a][k] -= q;
                dv[b][k] += q;
            }
        }
    }

    #[inline(always)]
    fn links(&mut self) {
        let n = (self.nodes * W).min(NODES * W);
        let p = &self.p_mmhg;
        // Only as far as there are nodes: a small network need not clear a large one's room.
        let now = &mut self.links_now;
        now.as_flattened_mut()[..n].fill(0.0);
        for &(to, first, last) in &self.runs {
            let b = usize::from(to) & (NODES - 1);
            let p_b = p[b];
            let mut sum = [0.0; W];
            for e in usize::from(first)..usize::from(last).min(LINKS) {
                let a = usize::from(self.link_from[e]) & (NODES - 1);
                for k in 0..W {
                    let q = self.link_g[e][k] * (p[a][k] - p_b[k]);
                    now[a][k] -= q;
                    sum[k] += q;
                }
            }
            for k in 0..W {
                now[b][k] += sum[k];
            }
        }
        if !self.primed {
            (self.through_links, self.primed) = (*now, true);
        }
        let dv = &mut self.growth_ml_s.as_flattened_mut()[..n];
        let (before, now) = (&mut self.through_links.as_flattened_mut()[..n], &now.as_flattened()[..n]);
        for i in 0..n {
            dv[i] += 1.5 * now[i] - 0.5 * before[i];
        }
        before.copy_from_slice(now);
    }

    /// Valves and holes at a true midpoint of the nodes that they join. Flows at the start come first: they find the middle.
    #[inline(always)]
    fn valves_and_holes(&mut self, mid: &Activation<W>) {
        let half = 0.5 * self.dt_s;
        let joined = self.joined.len();
        for j in 0..joined {
            let i = usize::from(self.joined[j]) & (NODES - 1);
            self.mid_ml[i] = self.growth_ml_s[i];
        }
        if self.heart {
            carry(&self.valves, self.outlets, &mut self.mid_ml);
        }
        for j in 0..self.open.len() {
            let e = usize::from(self.open[j]) & (ORIFICES - 1);
            let q = self.hole_flow(e, &self.p_mmhg);
            carry_hole(&self.orifice_ends[e], &q, &mut self.mid_ml);
        }
        for j in 0..joined {
            let i = usize::from(self.joined[j]) & (NODES - 1);
            for k in 0..W {
                let v = self.v_ml[i][k] + half * self.mid_ml[i][k];
                self.mid_ml[i][k] = v;
                let (v_u, inv_c) = (self.v_u_ml[i][k], self.inv_c[i][k]);
                self.mid_mmhg[i][k] =
                    vessel_mmhg(v, v_u, inv_c, self.p_ext_mmhg[i][k], self.floor_mmhg[i][k]);
            }
        }
        if self.heart {
            let inside = self.isovolumic(&self.mid_ml, &self.wall_mid(), mid);
            self.mid_mmhg[..4].copy_from_slice(&inside);
            valve_flows(&mut self.valves, &self.mid_mmhg, &self.p_ext_mmhg, self.outlets);
            carry(&self.valves, self.outlets, &mut self.growth_ml_s);
            for (sum, w) in self.sums.valve.iter_mut().zip(&self.valves) {
                for k in 0..W {
                    sum[k] += w.q[k];
                }
            }
        }
        for j in 0..self.open.len() {
            let e = usize::from(self.open[j]) & (ORIFICES - 1);
            let q = self.hole_flow(e, &self.mid_mmhg);
            carry_hole(&self.orifice_ends[e], &q, &mut self.growth_ml_s);
            self.orifice_q_ml_s[e] = q;
        }
    }

    /// Flow of one orifice at the pressures `p`, ml/s.
    #[inline(always)]
    fn hole_flow(&self, e: usize, p: &PerNode<W>) -> [f64; W] {
        let mut flow = [0.0; W];
        for k in 0..W {
            let (a, b) = ends(self.orifice_ends[e][k]);
            let q = through(p[a][k] - p[b][k], self.orifice_r[e][k], self.orifice_k[e][k]);
            let q = if q < 0.0 { q * self.orifice_back[e][k] } else { q };
            // Shut here, open in another lane: exactly nothing, so that a lane keeps the bits it has alone.
            flow[k] = if self.orifice_r[e][k] < SHUT { q } else { 0.0 };
        }
        flow
    }

    /// Takes every volume to the end of the step.
    #[inline(always)]
    fn fill(&mut self) {
        let n = (self.nodes * W).min(NODES * W);
        let v = &mut self.v_ml.as_flattened_mut()[..n];
        let dv = &self.growth_ml_s.as_flattened()[..n];
        // The signs are gathered as bits, so that the loop runs in vectors.
        let mut signs = 0;
        for i in 0..n {
            let x = v[i] + self.dt_s * dv[i];
            v[i] = x;
            signs |= x.to_bits();
        }
        if signs >> 63 != 0 {
            self.lend();
        }
    }

    /// No vessel holds less than nothing: what an emptied one gave too much within the step, its fullest neighbour gives back.
    #[cold]
    fn lend(&mut self) {
        for k in 0..W {
            for i in 0..self.nodes {
                let short = -self.v_ml[i][k];
                if short <= 0.0 {
                    continue;
                }
                let fullest = |of: &mut dyn Iterator<Item = usize>| {
                    of.filter(|&j| j != i).max_by(|&a, &b| self.v_ml[a][k].total_cmp(&self.v_ml[b][k]))
                };
                let near = fullest(&mut (0..self.nodes).filter(|&j| self.neighbours(i, j, k)));
                let far = fullest(&mut (0..self.nodes));
                let from = near.filter(|&j| self.v_ml[j][k] >= short).or(far);
                if let Some(j) = from {
                    self.v_ml[j][k] -= short;
                    self.v_ml[i][k] = 0.0;
                }
            }
        }
    }

    /// Whether blood can pass between two nodes in one lane.
    fn neighbours(&self, i: usize, j: usize, lane: usize) -> bool {
        let pair = |(a, b): (usize, usize)| (a, b) == (i, j) || (b, a) == (i, j);
        let pipe = self.pipe_ends[..self.pipes].iter().any(|&e| pair(ends(e)));
        let link = self.runs.iter().any(|&(to, first, last)| {
            (first..last).any(|e| pair((usize::from(self.link_from[usize::from(e)]), usize::from(to))))
        });
        let hole = self.open.iter().any(|&e| pair(ends(self.orifice_ends[usize::from(e)][lane])));
        pipe || link || hole || (self.heart && valve_ends(self.outlets).into_iter().any(pair))
    }
}

/// Pressure of a vessel or a space, mmHg. Plain comparisons instead of `min` and `max`: one instruction each, and loops run in
/// vectors.
#[inline(always)]
pub(super) fn vessel_mmhg(v: f64, v_u: f64, inv_c: f64, p_ext: f64, floor: f64) -> f64 {
    let x = (v - v_u) * inv_c;
    let below = if x < 0.0 { x } else { 0.0 };
    let p = p_ext + x + (COLLAPSED - 1.0) * below;
    if p > floor { p } else { floor }
}

/// Pressure of a chamber at activation `phi` before any ejection, mmHg; a ventricle's wall stiffens with the exponential given.
#[inline(always)]
fn chamber_mmhg<const W: usize>(
    ch: &Chamber<W>,
    wall: Option<&[f64; W]>,
    v: &[f64; W],
    p_ext: &[f64; W],
    phi: &[f64; W],
) -> [f64; W] {
    let mut out = [0.0; W];
    for k in 0..W {
        let x = v[k] - ch.v_u[k];
        let mut passive = ch.e_min[k] * x;
        if let Some(wall) = wall {
            passive += ch.p0[k] * (wall[k] - 1.0);
        }
        let full = if x > 0.0 { x } else { 0.0 };
        let p = p_ext[k] + phi[k] * ch.e_max[k] * full + (1.0 - phi[k]) * passive;
        // A chamber squeezed empty presses on nothing: its pressure fades with the last millilitres, and what is not there
        // cannot leave.
        let left = v[k] * (1.0 / LAST_ML);
        let left = if left < 1.0 { left } else { 1.0 };
        let left = if left > 0.0 { left } else { 0.0 };
        let faded = p * left;
        let p = if p > 0.0 { faded } else { p };
        let suck = v[k] - 0.25 * LAST_ML;
        let suck = if suck < 0.0 { suck } else { 0.0 };
        out[k] = p + SUCKS * suck;
    }
    out
}

/// Ends of the four valves in their order: tricuspid, pulmonary, mitral, aortic.
fn valve_ends(outlets: (u8, u8)) -> [(usize, usize); 4] {
    let (po, ao) = ends(outlets);
    [(RA, RV), (RV, po), (LA, LV), (LV, ao)]
}

/// Leaves each valve's flow at the pressures `p` in it; the pressures inside the right and the left ventricle, mmHg, which
/// ejection takes down from the isovolumic ones.
#[inline(always)]
fn valve_flows<const W: usize>(
    valves: &mut [Valve<W>; 4],
    p: &PerNode<W>,
    p_ext: &PerNode<W>,
    outlets: (u8, u8),
) -> [[f64; W]; 2] {
    let (po, ao) = ends(outlets);
    let mut inside = [[0.0; W]; 2];
    for (side, (atrium, ventricle, out)) in [(RA, RV, po), (LA, LV, ao)].into_iter().enumerate() {
        let (inflow, outflow) = (2 * side, 2 * side + 1);
        let w = &mut valves[outflow];
        let (mut d, mut r) = ([0.0; W], [0.0; W]);
        for k in 0..W {
            d[k] = p[ventricle][k] - p[out][k];
            let by_load = w.r_per_mmhg[k] * (p[ventricle][k] - p_ext[ventricle][k]);
            r[k] = if by_load > w.r[k] { by_load } else { w.r[k] };
        }
        w.q = valve_flow(&d, &r, &w.k, &w.k_back);
        for k in 0..W {
            let ejected = if w.q[k] > 0.0 { w.q[k] } else { 0.0 };
            inside[side][k] = p[ventricle][k] - r[k] * ejected;
            d[k] = p[atrium][k] - inside[side][k];
        }
        let w = &mut valves[inflow];
        w.q = valve_flow(&d, &w.r, &w.k, &w.k_back);
    }
    inside
}

/// Flow of a valve in every lane, ml/s.
#[inline(always)]
fn valve_flow<const W: usize>(d: &[f64; W], r: &[f64; W], k_open: &[f64; W], k_back: &[f64; W]) -> [f64; W] {
    let mut q = [0.0; W];
    // Alone, most valves are shut at most times, most have no orifice term, and a branch is cheapest; side by side, lanes go in
    // step without one. `through` without an orifice term is d / r to the last bit.
    if W == 1 && k_open[0] == 0.0 {
        if d[0] > 0.0 {
            q[0] = d[0] / r[0];
        }
    } else if W > 1 || d[0] > 0.0 {
        for k in 0..W {
            let open = if d[k] > 0.0 { d[k] } else { 0.0 };
            q[k] = through(open, r[k], k_open[k]);
        }
    }
    if k_back.iter().any(|k| *k < f64::INFINITY) {
        flow_back(&mut q, d, k_back);
    }
    q
}

/// Flow of a shut valve that leaks. Apart, so that the root of it is not taken where every valve is competent.
#[cold]
#[inline(never)]
fn flow_back<const W: usize>(q: &mut [f64; W], d: &[f64; W], k_back: &[f64; W]) {
    for k in 0..W {
        if k_back[k] < f64::INFINITY && d[k] < 0.0 {
            q[k] = through(d[k], 1e-3, k_back[k]);
        }
    }
}

/// Adds the valves' flows to `dv`.
#[inline(always)]
fn carry<const W: usize>(valves: &[Valve<W>; 4], outlets: (u8, u8), dv: &mut PerNode<W>) {
    for (w, (a, b)) in valves.iter().zip(valve_ends(outlets)) {
        for k in 0..W {
            dv[a][k] -= w.q[k];
            dv[b][k] += w.q[k];
        }
    }
}

/// Adds an orifice's flow to `dv`; its ends differ by lane.
#[inline(always)]
fn carry_hole<const W: usize>(at: &[(u8, u8); W], q: &[f64; W], dv: &mut PerNode<W>) {
    for k in 0..W {
        let (a, b) = ends(at[k]);
        dv[a][k] -= q[k];
        dv[b][k] += q[k];
    }
}

/// e to the power `x` for the modest `x` of a ventricle's wall (clamped to [-4, 8]): `(exp(x / 16))^16` by Taylor's
/// series, within 1e-12 of the true value in the working range up to 4. No branch, so lanes run side by side.
#[inline(always)]
fn small_exp(x: f64) -> f64 {
    let x = if x < 8.0 { x } else { 8.0 };
    let x = if x > -4.0 { x } else { -4.0 };
    let y = x * (1.0 / 16.0);
    let y2 = y * y;
    let y4 = y2 * y2;
    let low = (1.0 + y) + y2 * (0.5 + y * (1.0 / 6.0));
    let mid = (1.0 / 24.0 + y * (1.0 / 120.0)) + y2 * (1.0 / 720.0 + y * (1.0 / 5040.0));
    let high = (1.0 / 40320.0 + y * (1.0 / 362_880.0)) + y2 * (1.0 / 3_628_800.0 + y * (1.0 / 39_916_800.0));
    let e = low + y4 * (mid + y4 * high);
    let e = e * e;
    let e = e * e;
    let e = e * e;
    e * e
}

/// The largest exponent that [`tiny_exp`] is for: what a ventricle's wall changes by in half a step, with room.
const TINY: f64 = 0.0625;

/// e to the power `x` for `x` within [`TINY`] of nothing, by Taylor's series: within 1e-12.
#[inline(always)]
fn tiny_exp(x: f64) -> f64 {
    let x2 = x * x;
    let low = (1.0 + x) + x2 * (0.5 + x * (1.0 / 6.0));
    let high = (1.0 / 24.0 + x * (1.0 / 120.0)) + x2 * (1.0 / 720.0);
    low + (x2 * x2) * high
}

#[cfg(test)]
mod tests {
    use super::{TINY, small_exp, tiny_exp};
    use crate::math::through;
    use proptest::prelude::*;

    /// Against the pinned libm.
    #[test]
    fn the_tiny_exponential_is_close() {
        for i in -100..=100 {
            let x = f64::from(i) * 0.01 * TINY;
            assert!((tiny_exp(x) / crate::math::ops::exp(x) - 1.0).abs() < 1e-12, "{x}");
        }
    }

    proptest! {
        /// A valve alone divides, side by side it goes through the root: the square root of a square is the number again
        /// (IEEE 754, radix 2), so both are the same bits.
        #[test]
        fn without_an_orifice_term_the_root_is_a_division(d in 0.0..400.0_f64, r in 1e-4..1e12_f64) {
            prop_assert_eq!(through(d, r, 0.0).to_bits(), (d / r).to_bits());
        }
    }

    /// Against the pinned libm.
    #[test]
    fn the_small_exponential_is_close() {
        for i in -400..=400 {
            let x = f64::from(i) * 0.01;
            let want = crate::math::ops::exp(x);
            assert!((small_exp(x) / want - 1.0).abs() < 1e-12, "{x}");
        }
    }
}
