//! The engine: compliances joined by pipes, links and orifices around a heart, stepped together in `W` lanes.
//!
//! A *node* holds a volume behind a compliance. A *pipe* carries a flow with inertance (arteries). A *link* carries
//! `q = g (p_from - p_to)` (beds, veins). An *orifice* carries `R q + K q|q| = p_from - p_to` (bleeds, leaks, holes).
//! The heart is four chambers and four valves on the first four nodes.
//!
//! One step (`step`) is a staggered rule of second order: flows in pipes live half a step beside the volumes (Störmer-Verlet,
//! stable while a pulse crosses no segment in less than half a step), links are carried on from two starts, valves and holes take
//! an explicit midpoint. Every flow leaves one node and enters another, so the sum of volumes changes only by `source`.
//!
//! Lanes never meet: lane `k` of a `Network<4>` does the same operations in the same order as a `Network<1>`.

mod lanes;
mod step;

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
    /// Pressures at the start of the last step, mmHg.
    pub p_mmhg: [[f64; W]; NODES],
    /// Unstressed volumes, ml.
    pub v_u_ml: [[f64; W]; NODES],
    inv_c: [[f64; W]; NODES],
    /// Wall viscosity, mmHg s/ml: what a pipe feels of a node that swells.
    viscosity: [[f64; W]; NODES],
    /// How fast each volume grew in the last step, ml/s.
    growth_ml_s: [[f64; W]; NODES],
    /// What links brought to each node at the start of the last step, ml/s, once there was one.
    through_links: [[f64; W]; NODES],
    primed: bool,
    /// Scratch of a step: pressures as pipes feel them; volumes and pressures in its middle of the nodes in `joined`.
    felt_mmhg: [[f64; W]; NODES],
    mid_ml: [[f64; W]; NODES],
    mid_mmhg: [[f64; W]; NODES],
    /// What links bring to each node at the step's start, ml/s.
    links_now: [[f64; W]; NODES],
    /// The exponentials of both ventricles' walls at the step's start, right and left.
    wall_exp: [[f64; W]; 2],
    /// Nodes that a valve or an open orifice joins.
    joined: Vec<u8>,
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
            through_links: [[0.0; W]; NODES],
            primed: false,
            felt_mmhg: [[0.0; W]; NODES],
            mid_ml: [[0.0; W]; NODES],
            mid_mmhg: [[0.0; W]; NODES],
            links_now: [[0.0; W]; NODES],
            wall_exp: [[1.0; W]; 2],
            joined: Vec::with_capacity(NODES),
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

    /// Takes longer steps from here on. Walls keep what viscosity the lightest pipes at them can bear in such a step.
    pub fn lengthen_step(&mut self, dt_s: f64) {
        self.dt_s = dt_s;
        for k in 0..W {
            for e in 0..self.pipes {
                self.pipe_coefficients(e, k);
            }
            for i in 0..self.nodes {
                self.viscosity[i][k] = self.viscosity[i][k].min(self.bearable(i, k));
            }
        }
    }

    /// Adds a heart on nodes 0 to 3, ejecting into the nodes `pulmonary` and `aortic`. Call before adding nodes.
    pub fn add_heart(&mut self, pulmonary: usize, aortic: usize) {
        self.heart = true;
        self.nodes = self.nodes.max(4);
        self.outlets = (pulmonary as u8, aortic as u8);
        self.list_joined();
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
            self.viscosity[i][k] = (time_s * self.inv_c[i][k]).min(self.bearable(i, k));
        }
    }
    /// The most viscosity of a node's wall that its lightest pipe bears in a step, mmHg s/ml.
    fn bearable(&self, i: usize, lane: usize) -> f64 {
        let at = |e: &usize| ends(self.pipe_ends[*e]).0 == i || ends(self.pipe_ends[*e]).1 == i;
        let light =
            (0..self.pipes).filter(at).map(|e| 1.0 / self.pipe_inv_l[e][lane]).fold(f64::INFINITY, f64::min);
        if light.is_finite() { 0.2 * light / self.dt_s } else { 0.0 }
    }
    /// Volume of a node that presses on nothing yet, ml.
    pub fn slack_ml(&self, i: usize, lane: usize) -> f64 {
        self.v_u_ml[i][lane]
    }
    /// Lets a pipe leave another node from now on, in every lane.
    pub fn lead_from(&mut self, e: usize, from: usize) {
        self.pipe_ends[e].0 = from as u8;
    }
    /// Compliance of a node, ml/mmHg.
    pub fn compliance(&self, i: usize, lane: usize) -> f64 {
        1.0 / self.inv_c[i][lane]
    }
    /// Pressure of a node at its present volume, mmHg, without a step.
    pub fn resting_mmhg(&self, i: usize, lane: usize) -> f64 {
        let (v, v_u, inv_c) = (self.v_ml[i][lane], self.v_u_ml[i][lane], self.inv_c[i][lane]);
        step::vessel_mmhg(v, v_u, inv_c, self.p_ext_mmhg[i][lane], self.floor_mmhg[i][lane])
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
        let was = self.open.iter().any(|&x| usize::from(x) == e);
        let is = self.orifice_r[e].iter().any(|&r| r < SHUT);
        match (was, is) {
            (false, true) => {
                self.open.push(e as u8);
                self.open.sort_unstable();
            }
            (true, false) => self.open.retain(|&x| usize::from(x) != e),
            _ => {}
        }
        self.list_joined();
    }
    fn list_joined(&mut self) {
        self.joined.clear();
        if self.heart {
            self.joined.extend([RA as u8, RV as u8, LA as u8, LV as u8, self.outlets.0, self.outlets.1]);
        }
        for &e in &self.open {
            self.joined.extend(self.orifice_ends[usize::from(e)].iter().flat_map(|&(a, b)| [a, b]));
        }
        self.joined.sort_unstable();
        self.joined.dedup();
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

    /// Flow in a link at the pressures `p`, ml/s, in one lane.
    pub fn link_flow_ml_s(&self, e: usize, lane: usize, p: &[f64; NODES]) -> f64 {
        let to = self.runs.iter().find(|r| (r.1..r.2).contains(&(e as u8))).map_or(0, |r| usize::from(r.0));
        self.link_g[e][lane] * (p[usize::from(self.link_from[e])] - p[to])
    }
}

#[inline(always)]
fn ends((a, b): (u8, u8)) -> (usize, usize) {
    (usize::from(a) & (NODES - 1), usize::from(b) & (NODES - 1))
}
