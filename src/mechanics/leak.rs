//! Leaks past grafts, as a network of thin films.
//!
//! Every cell between fabric and wall is a slot: Poiseuille's law between parallel plates (12 mu L / (w g³)) plus the
//! losses of a free jet and of turbulence for wide gaps. Lumen, sac and covered branches hold the network's ends at
//! their pressures; Newton's method finds the film's. Flow is then traced upwind from where it came: what reaches the
//! sac from the proximal edge *is* type Ia, from the distal edge Ib, out of a covered branch II, past an overlap III.
//!
//! The network itself never decides the sac's pressure. Its answer is a resistance and a jet loss for each path,
//! `dP = R Q + K Q |Q|`, fitted at two pressures, for the circulation to solve with.

use super::KPA_PER_MMHG;
use super::contact::ANGLES;
use super::linear::Skyline;
use super::place::{Placed, turn_between};
use crate::anatomy::VesselName;
use crate::kit::GraftKind;
use crate::math::{interp, ops};

/// Viscosity of blood, kPa s (3.5 mPa s, textbook; no shear thinning).
const MU: f64 = 3.5e-6;
/// Density of blood, kPa s²/mm² (1060 kg/m³).
const RHO: f64 = 1.06e-6;
/// Film under fabric that just touches, and under fabric that presses hard, mm; and the pressure that thins it, kPa.
/// Set so that under 5 % oversizing leaks and 10 to 20 % seals, which is what is reported of patients: not measured.
const FILM_LOOSE_MM: f64 = 0.15;
const FILM_TIGHT_MM: f64 = 0.020;
const FILM_KPA: f64 = 1.5;
/// Discharge coefficient of an edge, and Darcy's factor of a rough slot (textbook order).
const DISCHARGE: f64 = 0.6;
const DARCY: f64 = 0.04;
/// Width of a fold's mouth, mm.
const FOLD_MOUTH_MM: f64 = 6.0;
/// Flow through heparinised fabric, mL/s for each mm² and kPa: 0.1 mL/min/cm² at 80 mmHg (assumed).
const POROSITY: f64 = 1.5e-6;
/// Films thinner than the first number clot whole, thicker than the second not at all, mm (assumed).
const CLOT_MM: (f64, f64) = (0.06, 0.15);
/// What is left of a clotted film, mm.
const CLOTTED_MM: f64 = 0.003;
/// Pressure differences at which the paths are fitted, mmHg.
const FIT_MMHG: [f64; 2] = [40.0, 10.0];
/// Newton rounds at most.
const ROUNDS: usize = 40;

/// A flow into the sac below this is called sealed, mL/min (assumed): ten seconds of it are under 2 mL, less than a
/// sac's film of old contrast, and a film that thin clots.
pub const SEALED_ML_MIN: f64 = 10.0;

/// The classes of leak.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LeakKind {
    /// Past the proximal edge.
    Ia,
    /// Past the distal edge.
    Ib,
    /// Out of a branch, against its usual direction.
    II(VesselName),
    /// Between pieces, or through an open gate.
    III,
    /// Through the fabric.
    IV,
}

/// Pressures at the ends of the network, mmHg.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pressures {
    /// In the lumen at the proximal edge.
    pub proximal_mmhg: f64,
    /// In the lumen at the distal edge.
    pub distal_mmhg: f64,
    /// In the sac.
    pub sac_mmhg: f64,
}

/// A covered branch, or one that opens into the sac.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BranchSource {
    /// Which.
    pub vessel: VesselName,
    /// Pressure of what feeds it from behind, mmHg.
    pub pressure_mmhg: f64,
    /// Resistance of those collaterals, mmHg s/mL.
    pub resistance_mmhg_s_ml: f64,
    /// Area of its mouth, mm².
    pub mouth_mm2: f64,
    /// Its place when it opens into the sac: ruler position and angle.
    pub at: (f64, f64),
    /// Time for contrast to come round through the collaterals, s.
    pub transit_s: f64,
}

/// State of the blood that the films are bathed in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Film {
    /// How far thin films have clotted, 0 to 1.
    pub clotted: f64,
    /// Multiplies the flow through fabric; 1 under full heparin, 0 once sealed.
    pub porous: f64,
}

impl Default for Film {
    fn default() -> Self {
        Self { clotted: 0.0, porous: 1.0 }
    }
}

/// One way into the sac.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeakPath {
    /// Class.
    pub kind: LeakKind,
    /// Linear resistance, mmHg s/mL.
    pub r_mmhg_s_ml: f64,
    /// Jet loss, mmHg s²/mL².
    pub k_mmhg_s2_ml2: f64,
    /// Where it leaves the lumen or the branch: ruler position mm, angle rad.
    pub from: (f64, f64),
    /// Where it enters the sac.
    pub into: (f64, f64),
    /// Volume that it fills on the way, mL.
    pub volume_ml: f64,
    /// Further time on the way, s.
    pub transit_s: f64,
}

impl LeakPath {
    /// Flow into the sac for a pressure difference, mL/s.
    pub fn flow_ml_s(&self, dp_mmhg: f64) -> f64 {
        let d = dp_mmhg.abs();
        let q = 2.0 * d / (self.r_mmhg_s_ml + (self.r_mmhg_s_ml * self.r_mmhg_s_ml + 4.0 * self.k_mmhg_s2_ml2 * d).sqrt());
        if dp_mmhg < 0.0 { -q } else { q }
    }
    /// Time from its source to the sac at a flow, s.
    pub fn delay_s(&self, q_ml_s: f64) -> f64 {
        self.transit_s + if q_ml_s > 1e-6 { (self.volume_ml / q_ml_s).min(60.0) } else { 0.0 }
    }
}

/// What leaks, by class. Flows into the sac are positive, mL/min.
#[derive(Clone, Debug, PartialEq)]
pub struct LeakReport {
    /// All ways into the sac.
    pub paths: Vec<LeakPath>,
    /// Flows at the pressures that were asked for.
    pub ia_ml_min: f64,
    /// Past the distal edge.
    pub ib_ml_min: f64,
    /// Out of branches.
    pub ii_ml_min: f64,
    /// Between pieces.
    pub iii_ml_min: f64,
    /// Through fabric.
    pub iv_ml_min: f64,
    /// Widest gap between fabric and wall outside the sac, mm.
    pub gap_max_mm: f64,
    /// Largest net flow into any node of the film, mL/s: a measure of how well the equations are solved.
    pub imbalance_ml_s: f64,
    /// Newton rounds of the harder fit.
    pub rounds: usize,
    sources: Vec<BranchSource>,
}

impl LeakReport {
    /// Pressure that drives a path from behind, mmHg.
    pub fn source_mmhg(&self, path: &LeakPath, p: &Pressures) -> f64 {
        match path.kind {
            LeakKind::Ia | LeakKind::IV => p.proximal_mmhg,
            LeakKind::Ib => p.distal_mmhg,
            LeakKind::III => 0.5 * (p.proximal_mmhg + p.distal_mmhg),
            LeakKind::II(v) => {
                self.sources.iter().find(|s| s.vessel == v).map_or(p.sac_mmhg, |s| s.pressure_mmhg)
            }
        }
    }
    /// Flow of every path at other pressures, mL/s into the sac.
    pub fn flows_ml_s(&self, p: &Pressures) -> Vec<(LeakKind, f64)> {
        self.paths.iter().map(|path| (path.kind, path.flow_ml_s(self.source_mmhg(path, p) - p.sac_mmhg))).collect()
    }
    /// All that enters the sac less all that leaves it into vessels, mL/min.
    pub fn net_ml_min(&self) -> f64 {
        self.ia_ml_min + self.ib_ml_min + self.ii_ml_min + self.iii_ml_min + self.iv_ml_min
    }
    /// Steady pressure of a sac that can only bleed out through a hole, mmHg, by bisection.
    pub fn steady_sac_mmhg(&self, p: &Pressures, hole_mm2: f64, outside_mmhg: f64) -> f64 {
        let k = RHO / 2.0 / (hole_mm2 * hole_mm2).max(1e-9) * 1e6 / (DISCHARGE * DISCHARGE) / KPA_PER_MMHG;
        let net = |sac: f64| {
            let here = Pressures { sac_mmhg: sac, ..*p };
            let inflow: f64 = self.flows_ml_s(&here).iter().map(|f| f.1).sum();
            let d = sac - outside_mmhg;
            inflow - if hole_mm2 > 0.0 && d > 0.0 { (d / k).sqrt() } else { 0.0 }
        };
        let (mut lo, mut hi) = (-50.0, 400.0);
        for _ in 0..60 {
            let mid = 0.5 * (lo + hi);
            if net(mid) > 0.0 { lo = mid } else { hi = mid }
        }
        0.5 * (lo + hi)
    }
    /// The same report at other pressures.
    #[must_use]
    pub fn at(&self, p: &Pressures) -> Self {
        let mut out = self.clone();
        [out.ia_ml_min, out.ib_ml_min, out.ii_ml_min, out.iii_ml_min, out.iv_ml_min] = [0.0; 5];
        for (kind, q) in self.flows_ml_s(p) {
            let slot = match kind {
                LeakKind::Ia => &mut out.ia_ml_min,
                LeakKind::Ib => &mut out.ib_ml_min,
                LeakKind::II(_) => &mut out.ii_ml_min,
                LeakKind::III => &mut out.iii_ml_min,
                LeakKind::IV => &mut out.iv_ml_min,
            };
            *slot += 60.0 * q;
        }
        out
    }
}

/// Solves the films of all pieces together. `pieces` in the order in which they were placed.
pub fn network(pieces: &[Placed], pressures: &Pressures, sources: &[BranchSource], film: &Film) -> LeakReport {
    let net = Net::build(pieces, sources, film);
    let hard = net.solve(FIT_MMHG[0] * KPA_PER_MMHG);
    let soft = net.solve(FIT_MMHG[1] * KPA_PER_MMHG);
    let mut paths = Vec::new();
    for t in 0..net.terminals.len() {
        if t == SAC {
            continue;
        }
        let (qa, qb) = (hard.into_sac[t].0, soft.into_sac[t].0);
        if let Some((r, k)) = fit(qa, qb) {
            let kind = match t {
                PROXIMAL => LeakKind::Ia,
                DISTAL => LeakKind::Ib,
                JUNCTION => LeakKind::III,
                b => LeakKind::II(sources[b - BRANCHES].vessel),
            };
            let transit_s = if t >= BRANCHES { sources[t - BRANCHES].transit_s } else { 0.0 };
            let r = r + if t >= BRANCHES { sources[t - BRANCHES].resistance_mmhg_s_ml } else { 0.0 };
            let [_, from, into] = [(0.0, 0.0), hard.from[t], hard.into_sac[t].1];
            let volume_ml = qa * hard.into_sac[t].2;
            paths.push(LeakPath { kind, r_mmhg_s_ml: r, k_mmhg_s2_ml2: k, from, into, volume_ml, transit_s });
        }
    }
    for piece in pieces {
        paths.extend(open_gate(piece, pieces));
    }
    let facing: f64 = pieces
        .iter()
        .flat_map(|p| &p.cells)
        .filter(|c| c.sac)
        .map(|c| c.size_mm[0] * c.size_mm[1])
        .sum();
    if facing > 0.0 && film.porous > 0.0 {
        let mid = pieces.iter().flat_map(|p| &p.cells).find(|c| c.sac).map_or((0.0, 0.0), |c| (c.s_mm, c.theta_rad));
        paths.push(LeakPath {
            kind: LeakKind::IV,
            r_mmhg_s_ml: 1.0 / (POROSITY * film.porous * facing * KPA_PER_MMHG),
            k_mmhg_s2_ml2: 0.0,
            from: mid,
            into: mid,
            volume_ml: 0.0,
            transit_s: 0.0,
        });
    }
    let gap_max_mm =
        pieces.iter().flat_map(|p| &p.cells).filter(|c| !c.sac).map(|c| c.gap_mm).fold(0.0, f64::max);
    let report = LeakReport {
        paths,
        ia_ml_min: 0.0,
        ib_ml_min: 0.0,
        ii_ml_min: 0.0,
        iii_ml_min: 0.0,
        iv_ml_min: 0.0,
        gap_max_mm,
        imbalance_ml_s: hard.imbalance.max(soft.imbalance),
        rounds: hard.rounds.max(soft.rounds),
        sources: sources.to_vec(),
    };
    report.at(pressures)
}

/// R and K from the flows at the two fitted pressures.
fn fit(qa: f64, qb: f64) -> Option<(f64, f64)> {
    if qa < 1e-7 || qb < 1e-8 {
        return None;
    }
    let (za, zb) = (FIT_MMHG[0] / qa, FIT_MMHG[1] / qb);
    let k = if qa - qb > 1e-9 { ((za - zb) / (qa - qb)).max(0.0) } else { 0.0 };
    Some(((za - k * qa).max(0.0), k))
}

/// The short leg of a body with two legs, as long as nothing closes it.
fn open_gate(piece: &Placed, pieces: &[Placed]) -> Option<LeakPath> {
    let GraftKind::BifurcatedBody { gate_at_mm, gate_mm } = piece.graft.kind else { return None };
    let s = piece.ends[0].edge_s_mm + gate_at_mm;
    let filled = pieces
        .iter()
        .any(|p| p.at.route != piece.at.route && p.ends[0].in_graft && p.ends[0].edge_s_mm < s && p.ends[1].edge_s_mm > s);
    if filled || !piece.cells.iter().any(|c| c.sac) {
        return None;
    }
    let area = std::f64::consts::PI * gate_mm * gate_mm / 4.0;
    Some(LeakPath {
        kind: LeakKind::III,
        r_mmhg_s_ml: 0.0,
        k_mmhg_s2_ml2: RHO / 2.0 / (area * area) * 1e6 / (DISCHARGE * DISCHARGE) / KPA_PER_MMHG,
        from: (s, 0.0),
        into: (s, 0.0),
        volume_ml: 0.0,
        transit_s: 0.0,
    })
}

const PROXIMAL: usize = 0;
const DISTAL: usize = 1;
const SAC: usize = 2;
const JUNCTION: usize = 3;
const BRANCHES: usize = 4;

#[derive(Clone, Copy, PartialEq)]
enum Joint {
    Node(usize),
    End(usize),
}

struct Edge {
    a: Joint,
    b: Joint,
    r: f64,
    k: f64,
}

struct Net {
    nodes: usize,
    edges: Vec<Edge>,
    /// Place and volume (mL) of each node.
    place: Vec<(f64, f64, f64)>,
    terminals: Vec<()>,
    first: Vec<usize>,
}

struct Solved {
    /// For each terminal: flow into the sac mL/s, where most of it enters, mean age there s.
    into_sac: Vec<(f64, (f64, f64), f64)>,
    /// Where most of each terminal's flow leaves it.
    from: Vec<(f64, f64)>,
    imbalance: f64,
    rounds: usize,
}

/// A slot's resistance kPa s/mL and jet loss kPa s²/mL².
fn slot(gap: f64, width: f64, length: f64, ends: f64) -> (f64, f64) {
    let area = gap * width;
    let r = 12.0 * MU * length / (gap * gap * gap * width) * 1e3;
    let k = RHO / 2.0 / (area * area) * 1e6 * (ends * 0.5 / (DISCHARGE * DISCHARGE) + DARCY * length / (2.0 * gap));
    (r, k)
}

/// Thickness of the film in a cell, mm.
fn thickness(gap_mm: f64, contact_kpa: f64, film: &Film) -> f64 {
    let g = gap_mm + FILM_TIGHT_MM + (FILM_LOOSE_MM - FILM_TIGHT_MM) * ops::exp(-contact_kpa / FILM_KPA);
    // Films are fed by laminar flow; beyond a few millimetres the cell is open water.
    let g = g.min(8.0);
    let clot = film.clotted.clamp(0.0, 1.0) * (1.0 - interp::smooth_step(CLOT_MM.0, CLOT_MM.1, g));
    g + (CLOTTED_MM - g) * clot
}

impl Net {
    fn build(pieces: &[Placed], sources: &[BranchSource], film: &Film) -> Self {
        // Rows of all pieces in order along the ruler keep the matrix narrow.
        let mut order: Vec<(f64, usize, usize)> = Vec::new();
        for (p, piece) in pieces.iter().enumerate() {
            for r in 0..piece.rows.len() {
                let s = (0..ANGLES).map(|k| piece.cell(r, k).s_mm).sum::<f64>() / ANGLES as f64;
                order.push((s, p, r));
            }
        }
        order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
        let mut id: Vec<Vec<Option<usize>>> = pieces.iter().map(|p| vec![None; p.cells.len()]).collect();
        let mut place = Vec::new();
        let mut branch_id = vec![None; sources.len()];
        let reached: Vec<Vec<(usize, usize)>> = sources.iter().map(|b| cells_at(pieces, b)).collect();
        let last_row: Vec<Option<usize>> = reached
            .iter()
            .map(|cells| {
                order.iter().rposition(|&(_, p, r)| cells.iter().any(|&(cp, c)| cp == p && c / ANGLES == r))
            })
            .collect();
        for (rank, &(_, p, r)) in order.iter().enumerate() {
            for j in 0..ANGLES {
                // Round the ring from both sides at once, so that neighbours stay near in the order.
                let k = if j % 2 == 0 { j / 2 } else { ANGLES - 1 - j / 2 };
                let cell = pieces[p].cell(r, k);
                if cell.sac {
                    continue;
                }
                id[p][r * ANGLES + k] = Some(place.len());
                let g = thickness(cell.gap_mm, cell.contact_kpa, film);
                place.push((cell.s_mm, cell.theta_rad, g * cell.size_mm[0] * cell.size_mm[1] * 1e-3));
            }
            for (b, last) in last_row.iter().enumerate() {
                if *last == Some(rank) {
                    branch_id[b] = Some(place.len());
                    place.push((sources[b].at.0, sources[b].at.1, 0.0));
                }
            }
        }
        let mut net = Self {
            nodes: place.len(),
            edges: Vec::new(),
            place,
            terminals: vec![(); BRANCHES + sources.len()],
            first: Vec::new(),
        };
        for (p, piece) in pieces.iter().enumerate() {
            net.film_of(piece, &id[p], film);
            net.gutter_of(piece, &id[p]);
            net.ends_of(p, pieces, &id, film);
        }
        for (b, source) in sources.iter().enumerate() {
            let k = |share: f64| RHO / 2.0 / (share * share).max(1e-6) * 1e6 / (DISCHARGE * DISCHARGE);
            match branch_id[b] {
                Some(node) => {
                    net.join(Joint::End(BRANCHES + b), Joint::Node(node), 1e-4, 0.0);
                    let share = source.mouth_mm2 / reached[b].len() as f64;
                    for &(p, c) in &reached[b] {
                        let to = id[p][c].map_or(Joint::End(SAC), Joint::Node);
                        net.join(Joint::Node(node), to, 0.01, k(share));
                    }
                }
                None if source.resistance_mmhg_s_ml.is_finite() => {
                    net.join(Joint::End(BRANCHES + b), Joint::End(SAC), 0.01, k(source.mouth_mm2));
                }
                None => {}
            }
        }
        let mut first: Vec<usize> = (0..net.nodes).collect();
        for e in &net.edges {
            if let (Joint::Node(a), Joint::Node(b)) = (e.a, e.b) {
                let (lo, hi) = (a.min(b), a.max(b));
                first[hi] = first[hi].min(lo);
            }
        }
        net.first = first;
        net
    }

    fn join(&mut self, a: Joint, b: Joint, r: f64, k: f64) {
        self.edges.push(Edge { a, b, r, k });
    }

    /// Slots from cell to cell.
    fn film_of(&mut self, piece: &Placed, id: &[Option<usize>], film: &Film) {
        let n = piece.rows.len();
        for i in 0..n {
            for k in 0..ANGLES {
                let here = i * ANGLES + k;
                let ahead = (i + 1 < n).then_some((here + ANGLES, 0));
                let round = Some((i * ANGLES + (k + 1) % ANGLES, 1));
                for (there, way) in [ahead, round].into_iter().flatten() {
                    let (a, b) = (&piece.cells[here], &piece.cells[there]);
                    let width = 0.5 * (a.size_mm[1 - way] + b.size_mm[1 - way]);
                    let g = |c: &super::place::Cell| thickness(c.gap_mm, c.contact_kpa, film);
                    match (id[here], id[there]) {
                        (Some(x), Some(y)) => {
                            let (la, lb) = (a.size_mm[way], b.size_mm[way]);
                            let (ga, gb) = (g(a), g(b));
                            let series = la / (ga * ga * ga) + lb / (gb * gb * gb);
                            let mean = ops::cbrt((la + lb) / series);
                            let r = 6.0 * MU * 1e3 / width * series;
                            let k = slot(mean, width, 0.5 * (la + lb), 0.0).1;
                            self.join(Joint::Node(x), Joint::Node(y), r, k);
                        }
                        (Some(x), None) => {
                            let (r, k) = slot(g(a), a.size_mm[1 - way], 0.5 * a.size_mm[way], 1.0);
                            self.join(Joint::Node(x), Joint::End(SAC), r, k);
                        }
                        (None, Some(y)) => {
                            let (r, k) = slot(g(b), b.size_mm[1 - way], 0.5 * b.size_mm[way], 1.0);
                            self.join(Joint::Node(y), Joint::End(SAC), r, k);
                        }
                        (None, None) => {}
                    }
                }
            }
        }
    }

    /// The channel behind a fold: a duct along one column.
    fn gutter_of(&mut self, piece: &Placed, id: &[Option<usize>]) {
        let n = piece.rows.len();
        let col = piece.fold_column;
        let node = |i: usize| id[i * ANGLES + col].filter(|_| piece.rows[i].fold_mm2 > 0.05);
        for i in 0..n {
            let Some(x) = node(i) else { continue };
            let area = piece.rows[i].fold_mm2;
            let depth = 2.0 * area / FOLD_MOUTH_MM;
            let wet = FOLD_MOUTH_MM + 2.0 * ops::hypot(depth, 0.5 * FOLD_MOUTH_MM);
            let dh = 4.0 * area / wet;
            let length = piece.cell(i, col).size_mm[0];
            let r = 32.0 * MU * length / (area * dh * dh) * 1e3;
            let head = RHO / 2.0 / (area * area) * 1e6;
            let (k, mouth) = (head * DARCY * length / dh, head * 0.5 / (DISCHARGE * DISCHARGE));
            let to_lumen = |net: &mut Self, end: usize| {
                if !piece.cell(i, col).lined {
                    net.join(Joint::End(end), Joint::Node(x), 0.5 * r, 0.5 * k + mouth);
                }
            };
            if i == 0 {
                to_lumen(self, if piece.ends[0].in_graft { JUNCTION } else { PROXIMAL });
            }
            if i + 1 == n {
                to_lumen(self, if piece.ends[1].in_graft { JUNCTION } else { DISTAL });
            }
            if i + 1 < n {
                match (node(i + 1), id[(i + 1) * ANGLES + col]) {
                    (Some(y), _) => self.join(Joint::Node(x), Joint::Node(y), r, k),
                    (None, None) => self.join(Joint::Node(x), Joint::End(SAC), 0.5 * r, 0.5 * k + mouth),
                    _ => {}
                }
            }
            if i > 0 && id[(i - 1) * ANGLES + col].is_none() {
                self.join(Joint::Node(x), Joint::End(SAC), 0.5 * r, 0.5 * k + mouth);
            }
        }
    }

    /// Edges open to the lumen, to an earlier piece's lumen, or under a later piece.
    fn ends_of(&mut self, p: usize, pieces: &[Placed], id: &[Vec<Option<usize>>], film: &Film) {
        let piece = &pieces[p];
        for (side, lumen) in [(0, PROXIMAL), (1, DISTAL)] {
            let row = if side == 0 { 0 } else { piece.rows.len() - 1 };
            for k in 0..ANGLES {
                let Some(x) = id[p][row * ANGLES + k] else { continue };
                let cell = piece.cell(row, k);
                let g = thickness(cell.gap_mm, cell.contact_kpa, film);
                let (r, loss) = slot(g, cell.size_mm[1], 0.5 * cell.size_mm[0], 1.0);
                let (theta, s) = piece.edges[side][k];
                let meets = |q: &Placed| q.same_vessel(piece, s) && q.spans(s, theta);
                let over = (p + 1..pieces.len()).find(|&q| meets(&pieces[q]));
                let to = match over {
                    Some(q) => match pieces[q].nearest_cell(s, theta).and_then(|c| id[q][c]) {
                        Some(y) => Joint::Node(y),
                        None => Joint::End(SAC),
                    },
                    None if pieces[..p].iter().any(meets) => Joint::End(JUNCTION),
                    None => Joint::End(lumen),
                };
                self.join(to, Joint::Node(x), r, loss);
            }
        }
    }

    /// Newton's method with every source `drive_kpa` above the sac.
    fn solve(&self, drive_kpa: f64) -> Solved {
        let fixed = |t: usize| if t == SAC { 0.0 } else { drive_kpa };
        let n = self.nodes;
        let mut p = vec![0.5 * drive_kpa; n];
        let mut q = vec![0.0; self.edges.len()];
        let mut g: Vec<f64> = self.edges.iter().map(|e| 1.0 / e.r.max(1e-9)).collect();
        let mut s = vec![0.0; self.edges.len()];
        let mut m = Skyline::new(self.first.clone());
        let mut rounds = 0;
        for round in 1..=ROUNDS {
            rounds = round;
            m.clear();
            let mut rhs = vec![0.0; n];
            for (e, edge) in self.edges.iter().enumerate() {
                for (one, other, sign) in [(edge.a, edge.b, -1.0), (edge.b, edge.a, 1.0)] {
                    let Joint::Node(i) = one else { continue };
                    m.add(i, i, g[e]);
                    rhs[i] += sign * s[e];
                    match other {
                        Joint::Node(j) if j < i => m.add(i, j, -g[e]),
                        Joint::End(t) => rhs[i] += g[e] * fixed(t),
                        Joint::Node(_) => {}
                    }
                }
            }
            for i in 0..n {
                m.add(i, i, 1e-12);
            }
            m.factor(1e-18);
            m.solve(&mut rhs);
            p = rhs;
            let (mut change, mut most) = (0.0f64, 1e-6f64);
            for (e, edge) in self.edges.iter().enumerate() {
                let at = |j: Joint| match j {
                    Joint::Node(i) => p[i],
                    Joint::End(t) => fixed(t),
                };
                let dp = at(edge.a) - at(edge.b);
                let d = dp.abs();
                let now = (2.0 * d / (edge.r + (edge.r * edge.r + 4.0 * edge.k * d).sqrt())).copysign(dp);
                change = change.max((now - q[e]).abs());
                most = most.max(now.abs());
                q[e] = now;
                g[e] = 1.0 / (edge.r + 2.0 * edge.k * now.abs());
                s[e] = now - g[e] * dp;
            }
            if change < 1e-7 * most {
                break;
            }
        }
        self.trace(&p, &q, rounds)
    }

    /// Where the flow came from and how old it is, going downhill from the highest pressure.
    fn trace(&self, p: &[f64], q: &[f64], rounds: usize) -> Solved {
        let kinds = self.terminals.len();
        let n = self.nodes;
        let mut around: Vec<Vec<usize>> = vec![Vec::new(); n];
        let mut balance = vec![0.0; n];
        for (e, edge) in self.edges.iter().enumerate() {
            for (j, sign) in [(edge.a, -1.0), (edge.b, 1.0)] {
                if let Joint::Node(i) = j {
                    around[i].push(e);
                    balance[i] += sign * q[e];
                }
            }
        }
        let mut downhill: Vec<usize> = (0..n).collect();
        downhill.sort_by(|&a, &b| p[b].total_cmp(&p[a]).then(a.cmp(&b)));
        let mut share = vec![0.0; n * kinds];
        let mut age = vec![0.0; n];
        let upstream = |e: usize| if q[e] >= 0.0 { self.edges[e].a } else { self.edges[e].b };
        for &i in &downhill {
            let mut total = 0.0;
            let mut mean_age = 0.0;
            let mut mix = vec![0.0; kinds];
            for &e in &around[i] {
                let flow = q[e].abs();
                match upstream(e) {
                    Joint::Node(u) if u == i => continue,
                    Joint::Node(u) => {
                        mix.iter_mut().zip(&share[u * kinds..]).for_each(|(m, s)| *m += flow * s);
                        mean_age += flow * age[u];
                    }
                    Joint::End(t) => mix[t] += flow,
                }
                total += flow;
            }
            if total > 1e-15 {
                for (k, m) in mix.iter().enumerate() {
                    share[i * kinds + k] = m / total;
                }
                age[i] = mean_age / total + self.place[i].2 / total;
            }
        }
        let mut into_sac = vec![(0.0, (0.0, 0.0), 0.0); kinds];
        let mut from = vec![(0.0, 0.0); kinds];
        let mut most_in = vec![0.0; kinds];
        let mut most_from = vec![0.0; kinds];
        for (e, edge) in self.edges.iter().enumerate() {
            let flow = q[e].abs();
            let down = if q[e] >= 0.0 { edge.b } else { edge.a };
            match (upstream(e), down) {
                (Joint::Node(u), Joint::End(SAC)) => {
                    for t in 0..kinds {
                        let part = flow * share[u * kinds + t];
                        into_sac[t].0 += part;
                        into_sac[t].2 += part * age[u];
                        if part > most_in[t] {
                            most_in[t] = part;
                            into_sac[t].1 = (self.place[u].0, self.place[u].1);
                        }
                    }
                }
                (Joint::End(t), Joint::End(SAC)) => into_sac[t].0 += flow,
                (Joint::End(t), Joint::Node(d)) if flow > most_from[t] => {
                    most_from[t] = flow;
                    from[t] = (self.place[d].0, self.place[d].1);
                }
                _ => {}
            }
        }
        for entry in &mut into_sac {
            entry.2 = if entry.0 > 1e-12 { entry.2 / entry.0 } else { 0.0 };
        }
        let imbalance = balance.iter().fold(0.0f64, |m, b| m.max(b.abs()));
        Solved { into_sac, from, imbalance, rounds }
    }
}

/// Cells under the mouth of a branch.
fn cells_at(pieces: &[Placed], source: &BranchSource) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    for (p, piece) in pieces.iter().enumerate() {
        let Some(ostium) = piece.ostia.iter().find(|o| o.vessel == source.vessel) else { continue };
        let before = out.len();
        for (c, cell) in piece.cells.iter().enumerate() {
            if cell.lined {
                continue;
            }
            let dx = cell.s_mm - ostium.s_mm;
            let dy = turn_between(cell.theta_rad, ostium.theta_rad) * 0.5 * piece.ends[0].vessel_mm.max(8.0);
            if dx * dx + dy * dy < ostium.radius_mm * ostium.radius_mm {
                out.push((p, c));
            }
        }
        if out.len() > before {
            break;
        }
    }
    out
}
