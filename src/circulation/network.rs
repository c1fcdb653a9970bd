//! The engine: compliances joined by pipes, links and orifices around a heart, stepped together in `W` lanes.
//!
//! A *node* holds a volume behind a compliance. A *pipe* carries a flow with inertance (arteries). A *link* carries
//! `q = g (p_from - p_to)` (beds, veins). An *orifice* carries `R q + K q|q| = p_from - p_to` (bleeds, leaks, holes).
//! The heart is four chambers and four valves on the first four nodes.
//!
//! One step is a staggered midpoint rule of second order: flows in pipes live half a step beside the volumes
//! (Störmer-Verlet, stable while a pulse crosses no segment in less than half a step), everything dissipative takes an
//! explicit midpoint. Every flow leaves one node and enters another, so the sum of volumes changes only by `source`.
//!
//! Lanes never meet: lane `k` of a `Network<4>` does the same operations in the same order as a `Network<1>`.

/// Room for nodes. A power of two, so that an index needs a mask and no check.
pub const NODES: usize = 64;
/// Room for pipes.
pub const PIPES: usize = 64;
/// Room for links.
pub const LINKS: usize = 64;
/// Room for orifices.
pub const ORIFICES: usize = 32;

/// The right atrium's node.
pub const RA: usize = 0;
/// The right ventricle's node.
pub const RV: usize = 1;
/// The left atrium's node.
pub const LA: usize = 2;
/// The left ventricle's node.
pub const LV: usize = 3;

/// A chamber's last millilitres, in which its pressure fades, ml. Assumed.
const LAST_ML: f64 = 8.0;

/// A node with a negative stressed volume is this much stiffer: a collapsed vessel gives little more. Assumed.
const COLLAPSED: f64 = 6.0;

/// Parameters of a contracting chamber, one value for each lane.
#[derive(Clone, Copy, Debug)]
pub struct Chamber<const W: usize> {
    /// Elastance at full activation, mmHg/ml.
    pub e_max: [f64; W],
    /// Elastance at rest, mmHg/ml (linear part; ventricles of the exponential kind use 0).
    pub e_min: [f64; W],
    /// Scale of the exponential passive pressure, mmHg.
    pub p0: [f64; W],
    /// Rate of the exponential passive pressure, 1/ml.
    pub k_e: [f64; W],
    /// Unstressed volume, ml.
    pub v_u: [f64; W],
}

/// One valve of the heart.
#[derive(Clone, Copy, Debug)]
pub struct Valve<const W: usize> {
    /// Resistance when open, mmHg s/ml; the least where `r_per_mmhg` rules.
    pub r: [f64; W],
    /// Resistance when open per mmHg of the chamber's isovolumic pressure, s/ml (Ursino 1998, outflow valves).
    pub r_per_mmhg: [f64; W],
    /// Orifice term when open (stenosis), mmHg s²/ml².
    pub k: [f64; W],
    /// Orifice term when shut (regurgitation), mmHg s²/ml²; infinite when competent.
    pub k_back: [f64; W],
    /// Flow at the last midpoint, ml/s.
    pub q: [f64; W],
}

/// Activation of the chambers, 0 to 1.
#[derive(Clone, Copy, Debug)]
pub struct Activation<const W: usize> {
    /// Both ventricles.
    pub ventricles: [f64; W],
    /// Both atria.
    pub atria: [f64; W],
}

/// The network. Public fields are read freely; write through the methods, which keep derived coefficients in step.
#[derive(Clone, Debug)]
pub struct Network<const W: usize> {
    /// Step, s.
    pub dt_s: f64,
    nodes: usize,
    pipes: usize,
    links: usize,
    orifices: usize,
    /// Orifices that are open in any lane.
    open: Vec<u8>,
    heart: bool,
    /// Volumes, ml.
    pub v_ml: [[f64; W]; NODES],
    /// Pressures at the last midpoint, mmHg.
    pub p_mmhg: [[f64; W]; NODES],
    /// Unstressed volumes, ml.
    pub v_u_ml: [[f64; W]; NODES],
    inv_c: [[f64; W]; NODES],
    /// Wall viscosity, mmHg s/ml: what a pipe feels of a node that swells.
    viscosity: [[f64; W]; NODES],
    /// How fast each volume grew in the last step, ml/s.
    growth_ml_s: [[f64; W]; NODES],
    /// Pressure outside each node, mmHg.
    pub p_ext_mmhg: [[f64; W]; NODES],
    floor_mmhg: [[f64; W]; NODES],
    /// Flow from outside into each node, ml/s.
    pub source_ml_s: [[f64; W]; NODES],
    pipe_ends: [(u8, u8); PIPES],
    /// Flow in each pipe, ml/s.
    pub pipe_q_ml_s: [[f64; W]; PIPES],
    pipe_r: [[f64; W]; PIPES],
    pipe_k: [[f64; W]; PIPES],
    pipe_inv_l: [[f64; W]; PIPES],
    pipe_keep: [[f64; W]; PIPES],
    pipe_gain: [[f64; W]; PIPES],
    /// Pipes with an orifice term in any lane: their coefficients follow the flow.
    bent: Vec<u8>,
    link_from: [u8; LINKS],
    /// Runs of links that end at the same node: (node, first, one past the last).
    runs: Vec<(u8, u8, u8)>,
    /// Conductance of each link, ml/(s mmHg).
    pub link_g: [[f64; W]; LINKS],
    orifice_ends: [[(u8, u8); W]; ORIFICES],
    orifice_r: [[f64; W]; ORIFICES],
    orifice_k: [[f64; W]; ORIFICES],
    orifice_back: [[f64; W]; ORIFICES],
    /// Flow in each orifice at the last midpoint, ml/s.
    pub orifice_q_ml_s: [[f64; W]; ORIFICES],
    /// Chambers: right atrium, right ventricle, left atrium, left ventricle.
    pub chambers: [Chamber<W>; 4],
    /// Valves: tricuspid, pulmonary, mitral, aortic.
    pub valves: [Valve<W>; 4],
    /// Where the right and the left ventricle eject.
    outlets: (u8, u8),
    /// A node squeezed by the left ventricle, and by what part of its pressure.
    squeezed: (u8, f64),
    /// Pressure inside the left ventricle at the last midpoint, mmHg.
    pub p_lv_mmhg: [f64; W],
    /// Pressure inside the right ventricle at the last midpoint, mmHg.
    pub p_rv_mmhg: [f64; W],
    /// Sums over steps since the lane's last `clear_sums`.
    pub sums: Sums<W>,
}

/// Running sums, for means over a beat. Divide by the number of steps that the caller counted.
#[derive(Clone, Debug)]
pub struct Sums<const W: usize> {
    /// Of `p_mmhg`.
    pub p: [[f64; W]; NODES],
    /// Of `pipe_q_ml_s`.
    pub pipe: [[f64; W]; PIPES],
    /// Of the valves' flow.
    pub valve: [[f64; W]; 4],
}

/// Resistance of a shut valve or a closed orifice, mmHg s/ml: nothing passes within a lifetime.
pub const SHUT: f64 = 1e12;

impl<const W: usize> Network<W> {
    /// An empty network with a step of `dt_s`.
    pub fn new(dt_s: f64) -> Self {
        let chamber =
            Chamber { e_max: [0.0; W], e_min: [0.0; W], p0: [0.0; W], k_e: [0.0; W], v_u: [0.0; W] };
        let valve =
            Valve { r: [0.0; W], r_per_mmhg: [0.0; W], k: [0.0; W], k_back: [f64::INFINITY; W], q: [0.0; W] };
        Self {
            dt_s,
            nodes: 0,
            pipes: 0,
            links: 0,
            orifices: 0,
            open: Vec::with_capacity(ORIFICES),
            heart: false,
            v_ml: [[0.0; W]; NODES],
            p_mmhg: [[0.0; W]; NODES],
            v_u_ml: [[0.0; W]; NODES],
            inv_c: [[0.0; W]; NODES],
            viscosity: [[0.0; W]; NODES],
            growth_ml_s: [[0.0; W]; NODES],
            p_ext_mmhg: [[0.0; W]; NODES],
            floor_mmhg: [[f64::NEG_INFINITY; W]; NODES],
            source_ml_s: [[0.0; W]; NODES],
            pipe_ends: [(0, 0); PIPES],
            pipe_q_ml_s: [[0.0; W]; PIPES],
            pipe_r: [[0.0; W]; PIPES],
            pipe_k: [[0.0; W]; PIPES],
            pipe_inv_l: [[0.0; W]; PIPES],
            pipe_keep: [[0.0; W]; PIPES],
            pipe_gain: [[0.0; W]; PIPES],
            bent: Vec::with_capacity(PIPES),
            link_from: [0; LINKS],
            runs: Vec::with_capacity(LINKS),
            link_g: [[0.0; W]; LINKS],
            orifice_ends: [[(0, 0); W]; ORIFICES],
            orifice_r: [[SHUT; W]; ORIFICES],
            orifice_k: [[0.0; W]; ORIFICES],
            orifice_back: [[1.0; W]; ORIFICES],
            orifice_q_ml_s: [[0.0; W]; ORIFICES],
            chambers: [chamber; 4],
            valves: [valve; 4],
            outlets: (0, 0),
            squeezed: (0, 0.0),
            p_lv_mmhg: [0.0; W],
            p_rv_mmhg: [0.0; W],
            sums: Sums { p: [[0.0; W]; NODES], pipe: [[0.0; W]; PIPES], valve: [[0.0; W]; 4] },
        }
    }

    /// Adds a heart on nodes 0 to 3, ejecting into the nodes `pulmonary` and `aortic`. Call before adding nodes.
    pub fn add_heart(&mut self, pulmonary: usize, aortic: usize) {
        self.heart = true;
        self.nodes = self.nodes.max(4);
        self.outlets = (pulmonary as u8, aortic as u8);
    }
    /// Squeezes `node` (intramyocardial vessels) by `fraction` of the left ventricle's pressure.
    pub fn squeeze(&mut self, node: usize, fraction: f64) {
        self.squeezed = (node as u8, fraction);
    }
    /// Adds a compliance of `c` ml/mmHg with an unstressed volume; starts at pressure `p_mmhg` in every lane.
    pub fn add_node(&mut self, c: f64, v_u_ml: f64, p_mmhg: f64) -> usize {
        let i = self.nodes;
        self.nodes += 1;
        for k in 0..W {
            self.set_node(i, k, c, v_u_ml);
            self.v_ml[i][k] = v_u_ml + c * p_mmhg;
            self.p_mmhg[i][k] = p_mmhg;
        }
        i
    }
    /// Compliance (ml/mmHg) and unstressed volume (ml) of a node in one lane.
    pub fn set_node(&mut self, i: usize, lane: usize, c: f64, v_u_ml: f64) {
        self.inv_c[i][lane] = 1.0 / c;
        self.v_u_ml[i][lane] = v_u_ml;
    }
    /// Gives a node's wall a viscosity, as a retardation time in s (Kelvin and Voigt). Only pipes feel it, from the growth
    /// of the step before; so it is held below what the lightest pipe at the node can bear in a step.
    pub fn set_viscosity(&mut self, i: usize, time_s: f64) {
        for k in 0..W {
            let at = |e: &usize| ends(self.pipe_ends[*e]).0 == i || ends(self.pipe_ends[*e]).1 == i;
            let light =
                (0..self.pipes).filter(at).map(|e| 1.0 / self.pipe_inv_l[e][k]).fold(f64::INFINITY, f64::min);
            let most = if light.is_finite() { 0.2 * light / self.dt_s } else { 0.0 };
            self.viscosity[i][k] = (time_s * self.inv_c[i][k]).min(most);
        }
    }
    /// Compliance of a node, ml/mmHg.
    pub fn compliance(&self, i: usize, lane: usize) -> f64 {
        1.0 / self.inv_c[i][lane]
    }
    /// Pressure of a node at its present volume, mmHg, without a step.
    pub fn resting_mmhg(&self, i: usize, lane: usize) -> f64 {
        let x = (self.v_ml[i][lane] - self.v_u_ml[i][lane]) * self.inv_c[i][lane];
        let x = if x < 0.0 { COLLAPSED * x } else { x };
        (self.p_ext_mmhg[i][lane] + x).max(self.floor_mmhg[i][lane])
    }
    /// Pressure that the node never falls below, mmHg (a space that may be empty).
    pub fn set_floor(&mut self, i: usize, lane: usize, p_mmhg: f64) {
        self.floor_mmhg[i][lane] = p_mmhg;
    }
    /// Adds a pipe of inertance `l` (mmHg s²/ml) and resistance `r` (mmHg s/ml).
    pub fn add_pipe(&mut self, from: usize, to: usize, l: f64, r: f64) -> usize {
        let e = self.pipes;
        self.pipes += 1;
        self.pipe_ends[e] = (from as u8, to as u8);
        for k in 0..W {
            self.set_pipe(e, k, l, r, 0.0);
        }
        e
    }
    /// Sets a pipe's inertance, resistance and orifice term `k_q` (mmHg s²/ml²) in one lane.
    pub fn set_pipe(&mut self, e: usize, lane: usize, l: f64, r: f64, k_q: f64) {
        self.pipe_inv_l[e][lane] = 1.0 / l;
        self.pipe_r[e][lane] = r;
        self.pipe_k[e][lane] = k_q;
        self.pipe_coefficients(e, lane);
        let bent = (0..W).any(|k| self.pipe_k[e][k] != 0.0);
        self.bent.retain(|&x| usize::from(x) != e);
        if bent {
            self.bent.push(e as u8);
        }
    }
    /// Crank-Nicolson while friction is mild, backward Euler when it rules the pipe (a shut ostium must not ring).
    fn pipe_coefficients(&mut self, e: usize, lane: usize) {
        let r = self.pipe_r[e][lane] + self.pipe_k[e][lane] * self.pipe_q_ml_s[e][lane].abs();
        let gain = self.dt_s * self.pipe_inv_l[e][lane];
        let a = 0.5 * gain * r;
        let (keep, whole) = if a < 0.5 { (1.0 - a, 1.0 + a) } else { (1.0, 1.0 + 2.0 * a) };
        self.pipe_keep[e][lane] = keep / whole;
        self.pipe_gain[e][lane] = gain / whole;
    }
    /// Adds a link of conductance `g`, ml/(s mmHg).
    pub fn add_link(&mut self, from: usize, to: usize, g: f64) -> usize {
        let e = self.links;
        self.links += 1;
        self.link_from[e] = from as u8;
        self.link_g[e] = [g; W];
        match self.runs.last_mut() {
            Some(run) if usize::from(run.0) == to => run.2 += 1,
            _ => self.runs.push((to as u8, e as u8, e as u8 + 1)),
        }
        e
    }
    /// Adds a closed orifice; open it with [`Self::set_orifice`].
    pub fn add_orifice(&mut self) -> usize {
        self.orifices += 1;
        self.orifices - 1
    }
    /// Ends and law of an orifice in one lane; `both_ways` lets it flow back.
    pub fn set_orifice(
        &mut self,
        e: usize,
        lane: usize,
        ends: (usize, usize),
        r: f64,
        k_q: f64,
        both_ways: bool,
    ) {
        self.orifice_ends[e][lane] = (ends.0 as u8, ends.1 as u8);
        self.orifice_r[e][lane] = r.clamp(1e-6, SHUT);
        self.orifice_k[e][lane] = k_q.max(0.0);
        self.orifice_back[e][lane] = if both_ways { 1.0 } else { 0.0 };
        self.list_open(e);
    }
    /// Closes an orifice in one lane.
    pub fn close_orifice(&mut self, e: usize, lane: usize) {
        self.orifice_r[e][lane] = SHUT;
        self.orifice_k[e][lane] = 0.0;
        self.orifice_q_ml_s[e][lane] = 0.0;
        self.list_open(e);
    }
    fn list_open(&mut self, e: usize) {
        self.open.retain(|&x| usize::from(x) != e);
        if self.orifice_r[e].iter().any(|&r| r < SHUT) {
            self.open.push(e as u8);
            self.open.sort_unstable();
        }
    }
    /// All blood in one lane, ml.
    pub fn total_ml(&self, lane: usize) -> f64 {
        self.v_ml[..self.nodes].iter().map(|v| v[lane]).sum()
    }
    /// Number of nodes.
    pub fn nodes(&self) -> usize {
        self.nodes
    }
    /// Starts the sums of one lane again.
    pub fn clear_sums(&mut self, lane: usize) {
        let s = &mut self.sums;
        for x in s.p.iter_mut().chain(&mut s.pipe).chain(&mut s.valve) {
            x[lane] = 0.0;
        }
    }

    /// One step. `now` is the activation at the step's start, `mid` at its middle.
    pub fn step(&mut self, now: &Activation<W>, mid: &Activation<W>) {
        self.bend();
        self.pressures(now);
        let mut base = self.source_ml_s;
        let mut felt = self.p_mmhg;
        for i in 0..self.nodes.min(NODES) {
            for k in 0..W {
                felt[i][k] += self.viscosity[i][k] * self.growth_ml_s[i][k];
            }
        }
        for e in 0..self.pipes.min(PIPES) {
            let (a, b) = ends(self.pipe_ends[e]);
            for k in 0..W {
                let q = self.pipe_keep[e][k] * self.pipe_q_ml_s[e][k]
                    + self.pipe_gain[e][k] * (felt[a][k] - felt[b][k]);
                self.pipe_q_ml_s[e][k] = q;
                base[a][k] -= q;
                base[b][k] += q;
            }
        }
        let mut dv = base;
        self.dissipate(&mut dv);
        let start = self.v_ml;
        self.fill(&start, &dv, 0.5 * self.dt_s);
        self.pressures(mid);
        self.dissipate(&mut base);
        self.fill(&start, &base, self.dt_s);
        let n = (self.nodes * W).min(NODES * W);
        if self.v_ml.as_flattened()[..n].iter().any(|&v| v < 0.0) {
            self.lend();
        }
        self.growth_ml_s = base;
        self.add_up();
    }

    fn fill(&mut self, start: &[[f64; W]; NODES], dv: &[[f64; W]; NODES], h: f64) {
        let n = (self.nodes * W).min(NODES * W);
        let v = &mut self.v_ml.as_flattened_mut()[..n];
        let (start, dv) = (&start.as_flattened()[..n], &dv.as_flattened()[..n]);
        for i in 0..n {
            v[i] = start[i] + h * dv[i];
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
                let near = fullest(&mut (0..self.nodes).filter(|&j| self.joined(i, j, k)));
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
    fn joined(&self, i: usize, j: usize, lane: usize) -> bool {
        let pair = |(a, b): (usize, usize)| (a, b) == (i, j) || (b, a) == (i, j);
        let pipe = self.pipe_ends[..self.pipes].iter().any(|&e| pair(ends(e)));
        let link = self.runs.iter().any(|&(to, first, last)| {
            (first..last).any(|e| pair((usize::from(self.link_from[usize::from(e)]), usize::from(to))))
        });
        let hole = self.open.iter().any(|&e| pair(ends(self.orifice_ends[usize::from(e)][lane])));
        let (po, ao) = ends(self.outlets);
        let valve = self.heart && [(RA, RV), (RV, po), (LA, LV), (LV, ao)].into_iter().any(pair);
        pipe || link || hole || valve
    }

    fn bend(&mut self) {
        for j in 0..self.bent.len() {
            let e = usize::from(self.bent[j]);
            for k in 0..W {
                self.pipe_coefficients(e, k);
            }
        }
    }

    fn pressures(&mut self, act: &Activation<W>) {
        let n = (self.nodes * W).min(NODES * W);
        let (v, v_u) = (&self.v_ml.as_flattened()[..n], &self.v_u_ml.as_flattened()[..n]);
        let (inv_c, p_ext) = (&self.inv_c.as_flattened()[..n], &self.p_ext_mmhg.as_flattened()[..n]);
        let floor = &self.floor_mmhg.as_flattened()[..n];
        let p = &mut self.p_mmhg.as_flattened_mut()[..n];
        // Plain comparisons instead of `min` and `max`: one instruction each, and the loop runs in vectors.
        for i in 0..n {
            let x = (v[i] - v_u[i]) * inv_c[i];
            let below = if x < 0.0 { x } else { 0.0 };
            let q = p_ext[i] + x + (COLLAPSED - 1.0) * below;
            p[i] = if q > floor[i] { q } else { floor[i] };
        }
        if self.heart {
            for (c, phi) in [(RA, &act.atria), (RV, &act.ventricles), (LA, &act.atria), (LV, &act.ventricles)]
            {
                let ch = &self.chambers[c];
                let stiffening = c == RV || c == LV;
                for k in 0..W {
                    let v = self.v_ml[c][k];
                    let x = v - ch.v_u[k];
                    let mut passive = ch.e_min[k] * x;
                    if stiffening {
                        passive += ch.p0[k] * (small_exp(ch.k_e[k] * v) - 1.0);
                    }
                    let full = if x > 0.0 { x } else { 0.0 };
                    let p = self.p_ext_mmhg[c][k] + phi[k] * ch.e_max[k] * full + (1.0 - phi[k]) * passive;
                    // A chamber squeezed empty presses on nothing: its pressure fades with the last millilitres, and
                    // what is not there cannot leave.
                    let left = if v < LAST_ML { v / LAST_ML } else { 1.0 };
                    let p = if p > 0.0 && left < 1.0 { p * if left > 0.0 { left } else { 0.0 } } else { p };
                    let suck = if v < 0.25 * LAST_ML { v - 0.25 * LAST_ML } else { 0.0 };
                    self.p_mmhg[c][k] = p + 12.0 * suck;
                }
            }
        }
    }

    /// Adds the flows of valves, links and orifices at the present pressures to `dv`.
    fn dissipate(&mut self, dv: &mut [[f64; W]; NODES]) {
        if self.heart {
            self.beat(dv);
        }
        for &(to, first, last) in &self.runs {
            let b = usize::from(to) & (NODES - 1);
            let p_b = self.p_mmhg[b];
            let mut sum = [0.0; W];
            for e in usize::from(first)..usize::from(last).min(LINKS) {
                let a = usize::from(self.link_from[e]) & (NODES - 1);
                for k in 0..W {
                    let q = self.link_g[e][k] * (self.p_mmhg[a][k] - p_b[k]);
                    dv[a][k] -= q;
                    sum[k] += q;
                }
            }
            for k in 0..W {
                dv[b][k] += sum[k];
            }
        }
        for &e in &self.open {
            let e = usize::from(e) & (ORIFICES - 1);
            for k in 0..W {
                let (a, b) = ends(self.orifice_ends[e][k]);
                let d = self.p_mmhg[a][k] - self.p_mmhg[b][k];
                let q = through(d, self.orifice_r[e][k], self.orifice_k[e][k]);
                let q = if q < 0.0 { q * self.orifice_back[e][k] } else { q };
                // Shut here, open in another lane: exactly nothing, so that a lane keeps the bits it has alone.
                let q = if self.orifice_r[e][k] < SHUT { q } else { 0.0 };
                self.orifice_q_ml_s[e][k] = q;
                dv[a][k] -= q;
                dv[b][k] += q;
            }
        }
    }

    /// Flow in a link at the pressures `p`, ml/s, in one lane.
    pub fn link_flow_ml_s(&self, e: usize, lane: usize, p: &[f64; NODES]) -> f64 {
        let to = self.runs.iter().find(|r| (r.1..r.2).contains(&(e as u8))).map_or(0, |r| usize::from(r.0));
        self.link_g[e][lane] * (p[usize::from(self.link_from[e])] - p[to])
    }

    /// Valve flows; leaves the ventricles' true pressures in `p_rv_mmhg` and `p_lv_mmhg`.
    fn beat(&mut self, dv: &mut [[f64; W]; NODES]) {
        let (po, ao) = ends(self.outlets);
        let (sq, fraction) = (usize::from(self.squeezed.0) & (NODES - 1), self.squeezed.1);
        for k in 0..W {
            for (atrium, ventricle, out, inflow, outflow) in [(RA, RV, po, 0, 1), (LA, LV, ao, 2, 3)] {
                let p_iso = self.p_mmhg[ventricle][k];
                let w = &mut self.valves[outflow];
                let r = (w.r_per_mmhg[k] * (p_iso - self.p_ext_mmhg[ventricle][k])).max(w.r[k]);
                let q = valve_flow(p_iso - self.p_mmhg[out][k], r, w.k[k], w.k_back[k]);
                w.q[k] = q;
                dv[ventricle][k] -= q;
                dv[out][k] += q;
                let p = p_iso - r * q.max(0.0);
                let w = &mut self.valves[inflow];
                let q = valve_flow(self.p_mmhg[atrium][k] - p, w.r[k], w.k[k], w.k_back[k]);
                w.q[k] = q;
                dv[atrium][k] -= q;
                dv[ventricle][k] += q;
                let inside = if ventricle == LV { &mut self.p_lv_mmhg } else { &mut self.p_rv_mmhg };
                inside[k] = p;
            }
            self.p_mmhg[sq][k] += fraction * self.p_lv_mmhg[k];
        }
    }

    fn add_up(&mut self) {
        let s = &mut self.sums;
        add(&mut s.p, &self.p_mmhg, self.nodes);
        add(&mut s.pipe, &self.pipe_q_ml_s, self.pipes);
        for (sum, v) in s.valve.iter_mut().zip(&self.valves) {
            for k in 0..W {
                sum[k] += v.q[k];
            }
        }
    }
}

macro_rules! per_lane {
    ($all:expr, $one:expr, $k:expr, $copy:ident: $($field:ident)*) => {
        $( for (all, one) in $all.$field.iter_mut().zip($one.$field.iter_mut()) { $copy!(all, one, $k); } )*
    };
}
macro_rules! gather {
    ($all:expr, $one:expr, $k:expr) => {
        $all[$k] = $one[0]
    };
}
macro_rules! scatter {
    ($all:expr, $one:expr, $k:expr) => {
        $one[0] = $all[$k]
    };
}
macro_rules! every_field {
    ($all:expr, $one:expr, $k:expr, $copy:ident) => {
        per_lane!($all, $one, $k, $copy: v_ml p_mmhg v_u_ml inv_c viscosity growth_ml_s p_ext_mmhg floor_mmhg
            source_ml_s pipe_q_ml_s pipe_r pipe_k pipe_inv_l pipe_keep pipe_gain link_g orifice_ends orifice_r orifice_k
            orifice_back orifice_q_ml_s);
        per_lane!($all.sums, $one.sums, $k, $copy: p pipe valve);
        for (all, one) in $all.chambers.iter_mut().zip($one.chambers.iter_mut()) {
            $copy!(all.e_max, one.e_max, $k);
            $copy!(all.e_min, one.e_min, $k);
            $copy!(all.p0, one.p0, $k);
            $copy!(all.k_e, one.k_e, $k);
            $copy!(all.v_u, one.v_u, $k);
        }
        for (all, one) in $all.valves.iter_mut().zip($one.valves.iter_mut()) {
            $copy!(all.r, one.r, $k);
            $copy!(all.r_per_mmhg, one.r_per_mmhg, $k);
            $copy!(all.k, one.k, $k);
            $copy!(all.k_back, one.k_back, $k);
            $copy!(all.q, one.q, $k);
        }
        $copy!($all.p_lv_mmhg, $one.p_lv_mmhg, $k);
        $copy!($all.p_rv_mmhg, $one.p_rv_mmhg, $k);
    };
}

impl Network<1> {
    /// Whether both are joined alike, so that they can be lanes of one network.
    pub fn alike(&self, other: &Self) -> bool {
        (self.nodes, self.pipes, self.links, self.orifices)
            == (other.nodes, other.pipes, other.links, other.orifices)
            && self.pipe_ends == other.pipe_ends
            && self.link_from == other.link_from
            && self.runs == other.runs
            && self.outlets == other.outlets
            && self.squeezed == other.squeezed
            && self.dt_s == other.dt_s
    }
}

impl<const W: usize> Network<W> {
    /// Takes lane `k` from a network on its own, which must be alike.
    pub fn put(&mut self, k: usize, one: &mut Network<1>) {
        (self.nodes, self.pipes, self.links, self.orifices) = (one.nodes, one.pipes, one.links, one.orifices);
        (self.heart, self.outlets, self.squeezed) = (one.heart, one.outlets, one.squeezed);
        (self.pipe_ends, self.link_from) = (one.pipe_ends, one.link_from);
        self.runs.clone_from(&one.runs);
        every_field!(self, one, k, gather);
        for e in 0..self.pipes {
            if one.bent.contains(&(e as u8)) && !self.bent.contains(&(e as u8)) {
                self.bent.push(e as u8);
            }
        }
        for e in 0..self.orifices {
            self.list_open(e);
        }
    }
    /// Gives lane `k` back to a network on its own.
    pub fn take(&mut self, k: usize, one: &mut Network<1>) {
        every_field!(self, one, k, scatter);
        for e in 0..one.orifices {
            one.list_open(e);
        }
        one.bent.clear();
        for e in 0..one.pipes {
            if one.pipe_k[e][0] != 0.0 {
                one.bent.push(e as u8);
            }
        }
    }
}

fn add<const W: usize, const N: usize>(sum: &mut [[f64; W]; N], x: &[[f64; W]; N], n: usize) {
    let n = (n * W).min(N * W);
    for (s, x) in sum.as_flattened_mut()[..n].iter_mut().zip(&x.as_flattened()[..n]) {
        *s += x;
    }
}

/// e to the power `x` for the modest `x` of a ventricle's wall (clamped to [-4, 8]): `(exp(x / 16))^16` by Taylor's
/// series, within 1e-12 of the true value in the working range up to 4. No branch, so lanes run side by side.
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

#[inline(always)]
fn ends((a, b): (u8, u8)) -> (usize, usize) {
    (usize::from(a) & (NODES - 1), usize::from(b) & (NODES - 1))
}

/// The flow that solves `R q + K q|q| = d`.
pub fn through(d_mmhg: f64, r: f64, k_q: f64) -> f64 {
    2.0 * d_mmhg / (r + (r * r + 4.0 * k_q * d_mmhg.abs()).sqrt())
}

fn valve_flow(d: f64, r: f64, k_open: f64, k_back: f64) -> f64 {
    if d > 0.0 {
        through(d, r, k_open)
    } else if k_back.is_finite() {
        through(d, 1e-3, k_back)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::small_exp;

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
