//! Leaks past grafts, as a network of thin films.
//!
//! Every cell between fabric and wall is a slot: Poiseuille's law between parallel plates (12 mu L / (w g³)) plus the
//! losses of a free jet and of turbulence for wide gaps. Lumen, sac and covered branches hold the network's ends at
//! their pressures; Newton's method finds the film's. Flow is then traced upwind from where it came: what reaches the
//! sac from the proximal edge *is* type Ia, from the distal edge Ib, out of a covered branch II, past an overlap III.
//!
//! Not to be trusted: the flow past a graft in a tight arch. A wedge of many millimetres under the inner edge hardly changes it here,
//! because fabric and wall still meet on a slanting line all round, while published series tie such wedges to leaks and
//! slipping. No mechanism that we tried gives that honestly, so an arch is judged by its inner contact and its beak (signals
//! `seal.inner` and `beak`, and the hazard of migration), never by a small flow.
//!
//! The network itself never decides the sac's pressure. Its answer is a resistance and a jet loss for each path,
//! `dP = R Q + K Q |Q|`, fitted at two pressures, for the circulation to solve with.

mod net;

use super::KPA_PER_MMHG;
use super::place::Placed;
use crate::anatomy::VesselName;
use crate::kit::GraftKind;
use crate::math::through;
use net::{BRANCHES, DISTAL, DISTAL_LEFT, JUNCTION, Net, PROXIMAL, SAC, distal, jet};

/// Flow through heparinised fabric, mL/s for each mm² and kPa: 0.1 mL/min/cm² at 80 mmHg (assumed).
const POROSITY: f64 = 1.5e-6;
/// Pressure differences at which the paths are fitted, mmHg.
const FIT_MMHG: [f64; 2] = [40.0, 10.0];

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

impl Film {
    /// Round one piece: its own age counts where it is more.
    fn of(&self, piece: &Placed) -> Self {
        Self { clotted: self.clotted.max(piece.clotted), ..*self }
    }
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
    /// The vessel whose lumen it leaves.
    pub vessel: VesselName,
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
        through(dp_mmhg, self.r_mmhg_s_ml, self.k_mmhg_s2_ml2)
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
        self.paths
            .iter()
            .map(|path| (path.kind, path.flow_ml_s(self.source_mmhg(path, p) - p.sac_mmhg)))
            .collect()
    }
    /// All that enters the sac less all that leaves it into vessels, mL/min.
    pub fn net_ml_min(&self) -> f64 {
        self.ia_ml_min + self.ib_ml_min + self.ii_ml_min + self.iii_ml_min + self.iv_ml_min
    }
    /// Steady pressure of a sac that can only bleed out through a hole, mmHg, by bisection.
    pub fn steady_sac_mmhg(&self, p: &Pressures, hole_mm2: f64, outside_mmhg: f64) -> f64 {
        let k = jet(hole_mm2.max(1e-4)) / KPA_PER_MMHG;
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

/// Thickness of a fresh film for a gap and a pressure of contact, mm.
pub fn film_mm(gap_mm: f64, contact_kpa: f64) -> f64 {
    net::thickness(gap_mm, contact_kpa, &Film::default())
}

/// Solves the films of all pieces together. `pieces` in the order in which they were placed.
pub fn network(
    pieces: &[Placed],
    pressures: &Pressures,
    sources: &[BranchSource],
    film: &Film,
) -> LeakReport {
    let net = Net::build(pieces, sources, film);
    let hard = net.solve(FIT_MMHG[0] * KPA_PER_MMHG, None);
    let soft = net.solve(FIT_MMHG[1] * KPA_PER_MMHG, Some(&hard));
    let mut paths = Vec::new();
    for t in 0..net.terminals {
        if t == SAC {
            continue;
        }
        let (qa, qb) = (hard.into_sac[t].0, soft.into_sac[t].0);
        if let Some((r, k)) = fit(qa, qb) {
            let kind = match t {
                PROXIMAL => LeakKind::Ia,
                DISTAL | DISTAL_LEFT => LeakKind::Ib,
                JUNCTION => LeakKind::III,
                b => LeakKind::II(sources[b - BRANCHES].vessel),
            };
            let transit_s = if t >= BRANCHES { sources[t - BRANCHES].transit_s } else { 0.0 };
            let r = r + if t >= BRANCHES { sources[t - BRANCHES].resistance_mmhg_s_ml } else { 0.0 };
            let [_, from, into] = [(0.0, 0.0), hard.from[t], hard.into_sac[t].1];
            let volume_ml = qa * hard.into_sac[t].2;
            let vessel = match (kind, t) {
                (LeakKind::II(branch), _) => branch,
                (LeakKind::Ib, _) => outlet(pieces, t),
                _ => VesselName::Aorta,
            };
            paths.push(LeakPath {
                kind,
                vessel,
                r_mmhg_s_ml: r,
                k_mmhg_s2_ml2: k,
                from,
                into,
                volume_ml,
                transit_s,
            });
        }
    }
    for piece in pieces {
        paths.extend(open_gate(piece, pieces));
    }
    let facing: f64 =
        pieces.iter().flat_map(|p| &p.cells).filter(|c| c.sac).map(|c| c.size_mm[0] * c.size_mm[1]).sum();
    if facing > 0.0 && film.porous > 0.0 {
        let mid = pieces
            .iter()
            .flat_map(|p| &p.cells)
            .find(|c| c.sac)
            .map_or((0.0, 0.0), |c| (c.s_mm, c.theta_rad));
        paths.push(LeakPath {
            kind: LeakKind::IV,
            vessel: VesselName::Aorta,
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

/// The vessel in which the lowest piece that ends at this terminal ends.
fn outlet(pieces: &[Placed], terminal: usize) -> VesselName {
    let ends = pieces.iter().filter(|p| distal(p) == terminal);
    ends.max_by(|a, b| a.ends[1].edge_s_mm.total_cmp(&b.ends[1].edge_s_mm))
        .map_or(VesselName::Aorta, |p| p.vessel_at(p.ends[1].edge_s_mm))
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
    let filled = pieces.iter().any(|p| {
        p.at.route != piece.at.route
            && p.ends[0].in_graft
            && p.ends[0].edge_s_mm < s
            && p.ends[1].edge_s_mm > s
    });
    if filled || !piece.cells.iter().any(|c| c.sac) {
        return None;
    }
    let area = std::f64::consts::PI * gate_mm * gate_mm / 4.0;
    Some(LeakPath {
        kind: LeakKind::III,
        vessel: VesselName::Aorta,
        r_mmhg_s_ml: 0.0,
        k_mmhg_s2_ml2: jet(area) / KPA_PER_MMHG,
        from: (s, 0.0),
        into: (s, 0.0),
        volume_ml: 0.0,
        transit_s: 0.0,
    })
}
