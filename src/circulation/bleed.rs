//! Holes: bleeding from an artery or a vein into a space that fills, presses back, and may break open.

use super::clot::Clot;
use super::network::{NODES, Network};
use super::plumbing::{DISCHARGE, Map, RHO_CGS, node};
use crate::anatomy::VesselName;
use crate::math::{ops, through};
use serde::{Deserialize, Serialize};

/// Where lost blood lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the anatomical space")]
pub enum Space {
    PericardialSac,
    Mediastinum,
    LeftPleura,
    RightPleura,
    Retroperitoneum,
    Peritoneum,
    SoftTissue,
    /// On the floor, in the drapes, in the suction.
    Outside,
}

impl Space {
    /// All spaces.
    pub const ALL: [Self; 8] = [
        Self::PericardialSac,
        Self::Mediastinum,
        Self::LeftPleura,
        Self::RightPleura,
        Self::Retroperitoneum,
        Self::Peritoneum,
        Self::SoftTissue,
        Self::Outside,
    ];
    /// As said aloud.
    pub fn label(self) -> &'static str {
        match self {
            Self::PericardialSac => "pericardial sac",
            Self::Mediastinum => "mediastinum",
            Self::LeftPleura => "left pleural space",
            Self::RightPleura => "right pleural space",
            Self::Retroperitoneum => "retroperitoneum",
            Self::Peritoneum => "peritoneal cavity",
            Self::SoftTissue => "soft tissue",
            Self::Outside => "outside",
        }
    }
    /// (slack ml, compliance ml/mmHg, pressure at which it breaks mmHg, where it breaks into). All assumed: no published
    /// value was found. Chosen so that a mediastinum tamponades a small tear, 2 l in one pleura press by about 8 mmHg,
    /// a retroperitoneum holds about 1.5 l against 70 mmHg, and 5 l in the belly make a compartment syndrome.
    fn kind(self) -> (f64, f64, f64, Option<Self>) {
        match self {
            Self::PericardialSac => (0.0, 1.0, 60.0, Some(Self::LeftPleura)),
            Self::Mediastinum => (30.0, 6.0, 55.0, Some(Self::LeftPleura)),
            Self::LeftPleura | Self::RightPleura => (200.0, 220.0, f64::INFINITY, None),
            Self::Retroperitoneum => (100.0, 20.0, 75.0, Some(Self::Peritoneum)),
            Self::Peritoneum => (500.0, 200.0, f64::INFINITY, None),
            Self::SoftTissue => (50.0, 25.0, f64::INFINITY, None),
            Self::Outside => (0.0, 1e9, f64::INFINITY, None),
        }
    }
}

/// A place in the circulation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Site {
    /// The aorta at this distance from the valve, mm.
    AortaMm(f64),
    /// A named branch.
    Vessel(VesselName),
    /// The great veins.
    Veins,
}

impl Site {
    pub(super) fn node(self, map: &Map) -> usize {
        match self {
            Self::AortaMm(s_mm) => map.aorta_node(s_mm),
            Self::Vessel(name) => map.node_of(name),
            Self::Veins => node::SYSTEMIC,
        }
    }
}

/// A hole.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bleed {
    /// From where.
    pub from: Site,
    /// Into where.
    pub into: Space,
    /// Open area, mm².
    pub area_mm2: f64,
    /// Whether clot can form on it (a torn vessel, not a running line).
    pub clots: bool,
}

/// A way into or out of an aneurysm sac: `R q + K q|q| = dp`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Feed {
    /// The vessel at its other end.
    pub from: Site,
    /// Resistance, mmHg s/ml.
    pub r: f64,
    /// Orifice term, mmHg s²/ml².
    pub k: f64,
}

/// An aneurysm sac: fed wide open by the aorta before a graft, by leaks after it, and leaking itself if torn.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Sac {
    /// Ways in.
    pub feeds: Vec<Feed>,
    /// Compliance, ml/mmHg.
    pub compliance_ml_mmhg: f64,
    /// The tear, mm², and where it leads.
    pub rupture: Option<(f64, Space)>,
    /// Whether clot can hold the tear.
    pub clots: bool,
}

/// A hole's own state.
#[derive(Clone, Debug)]
pub(super) struct Hole {
    pub id: String,
    pub ends: (usize, usize),
    pub into: Space,
    pub area_mm2: f64,
    pub clots: bool,
    pub clot: Clot,
    pub slot: usize,
    /// Mean flow over the last second, ml/s.
    pub flow_ml_s: f64,
    /// The steady pressure that would drive the flow that was last seen, and the space's own pressure then, mmHg. Where the space
    /// presses back harder than the mean, only the peaks of the pulse get through.
    head_mmhg: (f64, f64),
}

#[derive(Clone, Debug)]
struct SacState {
    id: String,
    slots: Vec<usize>,
}

/// Flow in one of a sac's feeds over the last second, ml/s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FeedFlow {
    /// Into the sac less out of it.
    pub net_ml_s: f64,
    /// Into the sac alone: a wide gap lets blood in with each systole and out again with each diastole.
    pub in_ml_s: f64,
}

/// Flow in every orifice: sums of the running second, and the means of the last.
#[derive(Clone, Debug, Default)]
struct Watch {
    sums: [FeedFlow; SLOTS],
    seen: [FeedFlow; SLOTS],
    looks: [f64; SLOTS],
}

/// Orifices that one patient may have.
const SLOTS: usize = 24;

/// Every hole, sac and breach of one patient.
#[derive(Clone, Debug, Default)]
pub(super) struct Holes {
    pub holes: Vec<Hole>,
    sacs: Vec<SacState>,
    /// Spaces that have broken into another.
    broken: Vec<(Space, Space, usize)>,
    taken: [bool; SLOTS],
    watch: Watch,
    /// Blood that already stood in a sac when it was declared, ml (a ledger entry).
    pub found_ml: f64,
}

impl Holes {
    fn take(&mut self) -> Option<usize> {
        let i = self.taken.iter().position(|t| !t)?;
        self.taken[i] = true;
        Some(i)
    }
    fn release<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, slot: usize) {
        net.close_orifice(slot, lane);
        self.taken[slot] = false;
        (self.watch.sums[slot], self.watch.seen[slot]) = Default::default();
        self.watch.looks[slot] = 0.0;
    }

    /// Adds the flows of now to the running second's.
    pub fn look<const W: usize>(&mut self, net: &Network<W>, lane: usize) {
        for slot in (0..SLOTS).filter(|&i| self.taken[i]) {
            let q = net.orifice_q_ml_s[slot][lane];
            let sum = &mut self.watch.sums[slot];
            sum.net_ml_s += q;
            sum.in_ml_s += q.max(0.0);
            self.watch.looks[slot] += 1.0;
        }
    }

    /// Ends the running second: whether anything was looked at. A leap has no looks and leaves the means as they were.
    fn close_watch(&mut self) -> bool {
        let Watch { sums, seen, looks } = &mut self.watch;
        let looked = looks.iter().any(|n| *n > 0.0);
        for slot in 0..SLOTS {
            let (sum, n) = (sums[slot], looks[slot]);
            if n == 0.0 {
                continue;
            }
            seen[slot] = FeedFlow { net_ml_s: sum.net_ml_s / n, in_ml_s: sum.in_ml_s / n };
            (sums[slot], looks[slot]) = Default::default();
        }
        looked
    }

    /// Opens or changes a bleed. False when there is no room for another.
    pub fn set<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        map: &Map,
        id: &str,
        b: Bleed,
    ) -> bool {
        let ends = (b.from.node(map), Map::space_node(b.into));
        self.set_between(net, lane, id, ends, b.into, b.area_mm2, b.clots)
    }

    #[expect(clippy::too_many_arguments, reason = "one private door for bleeds, ruptures and breaches")]
    fn set_between<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        id: &str,
        ends: (usize, usize),
        into: Space,
        area_mm2: f64,
        clots: bool,
    ) -> bool {
        let area_mm2 = if area_mm2.is_finite() { area_mm2.clamp(0.0, 2000.0) } else { 0.0 };
        let i = match self.holes.iter().position(|h| h.id == id) {
            Some(i) => i,
            None => {
                let Some(slot) = self.take() else { return false };
                let hole = Hole {
                    id: id.to_owned(),
                    ends,
                    into,
                    area_mm2,
                    clots,
                    clot: Clot::default(),
                    slot,
                    flow_ml_s: 0.0,
                    head_mmhg: (0.0, 0.0),
                };
                self.holes.push(hole);
                self.holes.len() - 1
            }
        };
        let h = &mut self.holes[i];
        // A hole that grows has torn the clot that held it.
        h.clot.tear((h.area_mm2 / area_mm2.max(1e-9)).min(1.0));
        (h.ends, h.into, h.area_mm2, h.clots) = (ends, into, area_mm2, clots);
        h.open(net, lane);
        true
    }

    /// Closes a bleed for good.
    pub fn remove<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, id: &str) {
        if let Some(i) = self.holes.iter().position(|h| h.id == id) {
            let h = self.holes.remove(i);
            self.release(net, lane, h.slot);
        }
    }

    /// Declares or changes a sac. False when there is no room.
    pub fn set_sac<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        map: &Map,
        id: &str,
        sac: &Sac,
    ) -> bool {
        let at = match self.sacs.iter().position(|s| s.id == id) {
            Some(i) => i,
            None if self.sacs.len() < 2 => {
                self.sacs.push(SacState { id: id.to_owned(), slots: Vec::new() });
                let i = self.sacs.len() - 1;
                let c = sac.compliance_ml_mmhg.clamp(0.05, 50.0);
                let p = sac.feeds.first().map_or(60.0, |f| net.p_mmhg[f.from.node(map)][lane]);
                net.set_node(node::SAC + i, lane, c, 0.0);
                net.v_ml[node::SAC + i][lane] = c * p.max(0.0);
                self.found_ml += c * p.max(0.0);
                i
            }
            None => return false,
        };
        let sac_node = node::SAC + at;
        net.set_node(sac_node, lane, sac.compliance_ml_mmhg.clamp(0.05, 50.0), 0.0);
        for slot in std::mem::take(&mut self.sacs[at].slots) {
            self.release(net, lane, slot);
        }
        // The sac's and the segment's compliances bound how open a feed may be within a step.
        let stiffest = |n: usize| net.compliance(n, lane).min(sac.compliance_ml_mmhg.max(0.05));
        let floors: Vec<f64> = sac
            .feeds
            .iter()
            .map(|f| 1.5 * net.dt_s / stiffest(f.from.node(map)) * sac.feeds.len() as f64)
            .collect();
        for (f, floor) in sac.feeds.iter().zip(floors) {
            let Some(slot) = self.take() else { return false };
            let r = if f.r.is_finite() { f.r.max(floor) } else { super::network::SHUT };
            net.set_orifice(slot, lane, (f.from.node(map), sac_node), r, f.k.max(0.0), true);
            self.sacs[at].slots.push(slot);
        }
        match sac.rupture {
            Some((area_mm2, into)) => {
                let ends = (sac_node, Map::space_node(into));
                self.set_between(net, lane, id, ends, into, area_mm2, sac.clots)
            }
            None => {
                self.remove(net, lane, id);
                true
            }
        }
    }

    /// The sac's node and the flow in each of its feeds over the last second.
    pub fn sac_flows(&self, id: &str) -> Option<(usize, Vec<FeedFlow>)> {
        let i = self.sacs.iter().position(|s| s.id == id)?;
        Some((node::SAC + i, self.sacs[i].slots.iter().map(|&s| self.watch.seen[s]).collect()))
    }

    /// Some seconds at the mean pressures `p` of every node: clot grows, holds or is lifted; spaces break. `clotting` is 1
    /// when normal.
    pub fn second<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        p: &[f64; NODES],
        clotting: f64,
        lysis: f64,
        dt_s: f64,
    ) {
        let looked = self.close_watch();
        for h in &mut self.holes {
            let against = p[h.ends.1];
            let d = (p[h.ends.0] - against).max(0.0);
            if looked {
                h.see(self.watch.seen[h.slot].net_ml_s, d, against);
            }
            h.run_on(against);
            if h.clots {
                let power = h.flow_ml_s * h.driven_mmhg(against);
                h.clot.age(h.area_mm2, d, power, clotting, lysis, dt_s);
                h.open(net, lane);
            }
        }
        for space in Space::ALL {
            let (_, _, breaks_at, into) = space.kind();
            let Some(into) = into else { continue };
            if p[Map::space_node(space)] > breaks_at && !self.broken.iter().any(|b| b.0 == space) {
                let Some(slot) = self.take() else { continue };
                let ends = (Map::space_node(space), Map::space_node(into));
                net.set_orifice(slot, lane, ends, HOLE_R, orifice_k(60.0), false);
                self.broken.push((space, into, slot));
            }
        }
    }

    /// A leap of `dt_s` at the mean pressures `p`: every hole runs on at its mean flow, out of the great veins, for the pulse
    /// is not followed and veins are where a loss is felt; what has broken evens out. Leaves the spaces' pressures in `p`.
    /// Returns the blood that moved, ml.
    pub fn leap<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        p: &mut [f64; NODES],
        dt_s: f64,
    ) -> f64 {
        let mut moved = 0.0;
        for h in &self.holes {
            let ml = (h.flow_ml_s * dt_s).min(0.01 * net.v_ml[node::SYSTEMIC][lane]);
            net.v_ml[node::SYSTEMIC][lane] -= ml;
            net.v_ml[h.ends.1][lane] += ml;
            moved += ml * if h.into == Space::PericardialSac { 6.0 } else { 1.0 };
        }
        for &(from, into, _) in &self.broken {
            let (a, b) = (Map::space_node(from), Map::space_node(into));
            let (c_a, c_b) = (net.compliance(a, lane), net.compliance(b, lane));
            let d = (net.resting_mmhg(a, lane) - net.resting_mmhg(b, lane)).max(0.0);
            let most = net.v_ml[a][lane].max(0.0);
            let ml = (d / (1.0 / c_a + 1.0 / c_b)).min(through(d, HOLE_R, orifice_k(60.0)) * dt_s).min(most);
            net.v_ml[a][lane] -= ml;
            net.v_ml[b][lane] += ml;
        }
        for space in Space::ALL {
            let i = Map::space_node(space);
            p[i] = net.resting_mmhg(i, lane);
        }
        moved
    }

    /// Flow through all holes, ml/s.
    pub fn flow_ml_s(&self) -> f64 {
        self.holes.iter().map(|h| h.flow_ml_s).sum()
    }

    /// Whether a space has broken into another, and into which.
    pub fn broken_into(&self, space: Space) -> Option<Space> {
        self.broken.iter().find(|b| b.0 == space).map(|b| b.1)
    }
}

impl Hole {
    /// Area that lets blood through, mm².
    fn open_mm2(&self) -> f64 {
        self.area_mm2 * self.clot.open()
    }

    /// A second was walked: takes the flow that was seen in it. A hole under clot is driven by the mean, `d_mmhg`.
    fn see(&mut self, flow_ml_s: f64, d_mmhg: f64, against_mmhg: f64) {
        let q = flow_ml_s.max(0.0);
        let open = self.open_mm2();
        let head = if open < SHUT_MM2 { d_mmhg } else { (HOLE_R + orifice_k(open) * q) * q };
        self.head_mmhg = (head, against_mmhg);
    }

    /// The pressure that drives its flow now: as was last seen, less what the space has gained since.
    fn driven_mmhg(&self, against_mmhg: f64) -> f64 {
        let (head, then) = self.head_mmhg;
        (head + then - against_mmhg).max(0.0)
    }

    /// The flow of now.
    fn run_on(&mut self, against_mmhg: f64) {
        let (head, open) = (self.driven_mmhg(against_mmhg), self.open_mm2());
        self.flow_ml_s = if open < SHUT_MM2 { 0.0 } else { through(head, HOLE_R, orifice_k(open)) };
    }

    fn open<const W: usize>(&self, net: &mut Network<W>, lane: usize) {
        let area = self.open_mm2();
        if area < SHUT_MM2 {
            net.close_orifice(self.slot, lane);
        } else {
            net.set_orifice(self.slot, lane, self.ends, HOLE_R, orifice_k(area), false);
        }
    }
}

/// A hole with less open than this is shut, mm².
const SHUT_MM2: f64 = 1e-6;
/// Viscous part of a hole's resistance, mmHg s/ml: small beside its orifice term.
const HOLE_R: f64 = 1e-4;

/// Orifice term of a hole, mmHg s²/ml²: `rho / (2 (Cd A)²)`.
pub fn orifice_k(area_mm2: f64) -> f64 {
    let a = DISCHARGE * area_mm2 * 1e-2;
    RHO_CGS / (2.0 * a * a)
}

/// Gives each space its compliance, and the volume that it holds at the start (ml).
pub(super) fn fill_spaces<const W: usize>(net: &mut Network<W>, lane: usize) {
    for space in Space::ALL {
        let (slack, c, _, _) = space.kind();
        net.set_node(Map::space_node(space), lane, c, slack);
        net.v_ml[Map::space_node(space)][lane] = 0.0;
    }
}

/// Pericardial pressure from the heart's and the fluid's volume, mmHg: flat, then steep
/// (shape of Freeman and Little, Circ Res 1986; constants assumed so that 150-250 ml taken up in minutes are a tamponade).
pub(super) fn pericardial_mmhg(heart_ml: f64, heart_rest_ml: f64, fluid_ml: f64) -> f64 {
    let over = heart_ml + fluid_ml - (heart_rest_ml + 30.0);
    2.0 * ops::exp((over / 31.0).clamp(-20.0, 4.6))
}
