//! Flow through every section of every vessel, from what the patient's rooms say about roots, leaks and bleeds.
//!
//! At each face the flow is `mean + pulse * (beat - 1) + extra * injected`: three numbers that are summed from the ends
//! of the tree upward, so that what enters a station leaves it.

use super::Mixing;
use crate::anatomy::VesselName;
use crate::imaging::cells::Cells;
use crate::imaging::flows::{Beat, Entry, Flows, Injection};
use crate::imaging::scene::{ImagingError, Scene};
use crate::math::ops;

/// How much of the valve's pulse is left far out, and over what length it fades, mm (assumed: half the stroke is stored
/// in the wall on the way).
const PULSE_FAR: f64 = 0.35;
const PULSE_FADES_MM: f64 = 180.0;
/// Pulse of flows past fabric: they follow the pressure.
const PULSE_LEAK: f64 = 0.8;
/// Spread of a flush catheter's side holes and of an end hole's jet along the vessel, mm (assumed).
const FLUSH_MM: f64 = 11.0;
const JET_MM: f64 = 4.0;

/// Flows of all tubes.
#[derive(Clone, Debug)]
pub(super) struct Route {
    pub beat: Beat,
    pub output_ml_s: f64,
    pub tubes: Vec<Way>,
    /// Cells that the catheter's holes open into, with their parts of the injection.
    pub holes: Vec<(usize, f64)>,
    /// Flows between a stream and the space behind fabric: stream cell, tube, station, angle, mean, pulse.
    pub leaks: Vec<Crossing>,
    /// Flows from a wall to the outside.
    pub bleeds: Vec<Crossing>,
}

/// A flow through a wall or fabric at one place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Crossing {
    pub stream_cell: usize,
    pub tube: usize,
    pub station: usize,
    pub theta_rad: f64,
    pub mean: f64,
    pub pulse: f64,
}

/// Flows of one tube.
#[derive(Clone, Debug)]
pub(super) struct Way {
    mean: Vec<f64>,
    pulse: Vec<f64>,
    extra: Vec<f64>,
    area_mm2: Vec<f64>,
    sectors: usize,
    /// Cells of the parent that its first face opens to, with parts that sum to one.
    pub gate: Vec<(usize, f64)>,
    /// The collateral that feeds its end, and the channel's volume.
    pub channel: Option<(usize, f64)>,
    /// Collaterals that draw on its end, ml/s.
    pub drawn: Vec<(usize, f64)>,
    /// Whether what leaves by its end is lost to the body (a pool).
    pub lost: bool,
}

impl Way {
    pub fn flow(&self, face: usize, beat: f64, injected: f64) -> f64 {
        self.mean[face] + self.pulse[face] * (beat - 1.0) + self.extra[face] * injected
    }
    /// Upper bound of the flow's size.
    pub fn peak(&self, face: usize, beat: f64, injected: f64) -> f64 {
        self.mean[face].abs() + (self.pulse[face] * (beat - 1.0)).abs() + self.extra[face].abs() * injected
    }
    pub fn area_mm2(&self, face: usize) -> f64 {
        self.area_mm2[face]
    }
    /// Mean flow at a face, ml/s.
    pub fn mean(&self, face: usize) -> f64 {
        self.mean[face]
    }
    pub fn pulse(&self, face: usize) -> f64 {
        self.pulse[face]
    }
    /// Parts of the flow by lane.
    pub fn shares(&self, core: f64) -> Vec<f64> {
        let mut out = vec![(1.0 - core) / self.sectors as f64; 1 + self.sectors];
        out[0] = core;
        out
    }
}

/// What leaves a stream at one station.
#[derive(Clone, Copy, Default)]
struct TakeOff {
    station: usize,
    mean: f64,
    /// Part of `mean` that pulses as a leak, and the leak's own pulse.
    leak_mean: f64,
    leak_pulse: f64,
    extra: f64,
}

impl TakeOff {
    fn leak(station: usize, mean: f64, pulse: f64) -> Self {
        Self { station, mean, leak_mean: mean, leak_pulse: pulse, extra: 0.0 }
    }
}

impl Route {
    pub fn new(
        scene: &Scene,
        cells: &Cells,
        flows: &Flows,
        injection: Option<&Injection>,
        mixing: &Mixing,
    ) -> Result<Self, ImagingError> {
        check(scene, flows, injection)?;
        let mut out = Self {
            beat: flows.beat.clone(),
            output_ml_s: flows.root_ml_s.first().copied().unwrap_or(0.0).max(1.0),
            tubes: Vec::new(),
            holes: Vec::new(),
            leaks: Vec::new(),
            bleeds: Vec::new(),
        };
        let holes = injection.map_or(Vec::new(), |i| out.open_holes(cells, i, mixing));
        let mut plan = Plan::new(scene, cells, flows);
        plan.leaks(flows, &mut out);
        plan.bleeds(flows, &mut out);
        plan.gates(mixing);
        let extra = plan.share_injection(injection);
        plan.join(&extra);
        out.tubes = plan.ways(flows, injection.map(|i| (i.vessel, holes.as_slice())), &extra);
        for (id, c) in flows.collaterals.iter().enumerate() {
            let ml_s = -out.tubes[c.feeds].mean[cells.tubes[c.feeds].stations];
            if ml_s > 0.0 {
                out.tubes[c.from].drawn.push((id, ml_s));
            }
        }
        for ((tube, way), gate) in cells.tubes.iter().zip(&out.tubes).zip(&plan.gates) {
            // Blood that leaves or enters a covered root crosses the wall of the space behind fabric.
            if let (true, Some((tube, station, theta_rad))) = (gate.covered, tube.parent) {
                let (mean, pulse) = (way.mean[0], way.pulse[0]);
                out.bleeds.push(Crossing { stream_cell: usize::MAX, tube, station, theta_rad, mean, pulse });
            }
        }
        Ok(out)
    }

    /// Cells and stations that the injection opens into.
    fn open_holes(&mut self, cells: &Cells, i: &Injection, mixing: &Mixing) -> Vec<(usize, f64)> {
        let tube = &cells.tubes[i.vessel];
        let spread = if i.end_hole { JET_MM } else { FLUSH_MM };
        // An end hole's jet keeps to the core; side holes fill the section, not quite evenly.
        let mut lanes = vec![if i.end_hole { 0.8 } else { mixing.core_share.min(0.5) }];
        let uneven = [1.25, 0.9, 0.65, 1.2];
        let rest = 1.0 - lanes[0];
        if tube.sectors == uneven.len() {
            lanes.extend(uneven.map(|u| rest * u / 4.0));
        } else {
            lanes.resize(tube.lanes(), rest / tube.sectors as f64);
        }
        let weights: Vec<f64> = (0..tube.stations)
            .map(|k| {
                let d = (tube.middle_mm(k) - i.s_mm) / spread;
                if d.abs() < 3.0 { ops::exp(-0.5 * d * d) } else { 0.0 }
            })
            .collect();
        let sum: f64 = weights.iter().sum();
        let mut stations = Vec::new();
        if sum <= 0.0 {
            return stations;
        }
        for (k, w) in weights.iter().enumerate().filter(|(_, w)| **w > 0.0) {
            stations.push((k, w / sum));
            for (lane, part) in lanes.iter().enumerate() {
                self.holes.push((tube.lane(k, lane), w / sum * part));
            }
        }
        stations
    }
}

/// Every index names something.
fn check(scene: &Scene, flows: &Flows, injection: Option<&Injection>) -> Result<(), ImagingError> {
    let vessels = scene.tree.vessels.len();
    let named = |what, index: usize, count: usize| {
        if index < count { Ok(()) } else { Err(ImagingError::NoSuchVessel { what, index, count }) }
    };
    if flows.root_ml_s.len() != vessels {
        let (what, index, count) = ("the list of root flows", flows.root_ml_s.len(), vessels);
        return Err(ImagingError::NoSuchVessel { what, index, count });
    }
    for l in &flows.leaks {
        named("a leak", l.vessel, vessels)?;
    }
    for b in &flows.bleeds {
        named("a bleed", b.vessel, vessels)?;
        named("a bleed's pool", b.pool.unwrap_or(0), scene.pools.len().max(1))?;
    }
    for c in &flows.collaterals {
        named("a collateral", c.feeds, vessels)?;
        named("a collateral", c.from, vessels)?;
    }
    injection.map_or(Ok(()), |i| named("the injection", i.vessel, vessels))
}

/// What a tube's first face opens to.
#[derive(Clone, Debug, Default)]
struct Gate {
    /// Cells of the parent, with parts that sum to one.
    cells: Vec<(usize, f64)>,
    /// Whether they lie behind fabric.
    covered: bool,
}

/// Flows being summed from the ends upward, by tube.
struct Plan<'a> {
    cells: &'a Cells,
    /// Mean flow into each tube.
    roots: Vec<f64>,
    /// First pool.
    pools: usize,
    take: Vec<Vec<TakeOff>>,
    feeds: Vec<Option<Crossing>>,
    gates: Vec<Gate>,
}

impl<'a> Plan<'a> {
    fn new(scene: &Scene, cells: &'a Cells, flows: &Flows) -> Self {
        let n = cells.tubes.len();
        Self {
            cells,
            roots: roots(scene, cells, flows),
            pools: cells.twigs.end,
            take: vec![Vec::new(); n],
            feeds: vec![None; n],
            gates: Vec::new(),
        }
    }

    fn leaks(&mut self, flows: &Flows, out: &mut Route) {
        for l in &flows.leaks {
            let tube = &self.cells.tubes[l.vessel];
            let station = stream_station(self.cells, l.vessel, l.entry, l.s_mm);
            let pulse = PULSE_LEAK * l.ml_s + l.swing_ml / stroke_s(&flows.beat);
            self.take[l.vessel].push(TakeOff::leak(station, l.ml_s, pulse));
            out.leaks.push(Crossing {
                stream_cell: tube.lane(station, tube.sector(l.theta_rad)),
                tube: l.vessel,
                station: tube.station(l.s_mm),
                theta_rad: l.theta_rad,
                mean: l.ml_s,
                pulse,
            });
        }
    }

    fn bleeds(&mut self, flows: &Flows, out: &mut Route) {
        for b in &flows.bleeds {
            let tube = &self.cells.tubes[b.vessel];
            let station = tube.station(b.s_mm);
            let crossing = Crossing {
                stream_cell: tube.lane(station, tube.sector(b.theta_rad)),
                tube: b.vessel,
                station,
                theta_rad: b.theta_rad,
                mean: b.ml_s,
                pulse: PULSE_LEAK * b.ml_s,
            };
            if !tube.lined[station] {
                self.take[b.vessel].push(TakeOff::leak(station, b.ml_s, crossing.pulse));
            }
            match b.pool {
                Some(p) if self.feeds[self.pools + p].is_none() => {
                    self.feeds[self.pools + p] = Some(crossing)
                }
                _ => out.bleeds.push(crossing),
            }
        }
    }

    fn gates(&mut self, mixing: &Mixing) {
        self.gates = (0..self.cells.tubes.len())
            .map(|k| gate(self.cells, k, mixing, self.feeds[k].as_ref()))
            .collect();
    }

    /// What each tube's root carries of the injected volume. An outlet takes of it by its mean flow, unless fabric shuts
    /// it off; where the catheter lies it is given.
    fn share_injection(&self, injection: Option<&Injection>) -> Vec<f64> {
        let tubes = &self.cells.tubes;
        let n = tubes.len();
        let Some(injection) = injection else { return vec![0.0; n] };
        let mut end: Vec<f64> =
            (0..n).map(|k| self.roots[k] - self.take[k].iter().map(|t| t.mean).sum::<f64>()).collect();
        let mut shut = vec![false; n];
        for k in 0..n {
            let parent = tubes[k].parent.map(|p| p.0);
            shut[k] = k >= self.pools || self.gates[k].covered || parent.is_some_and(|p| shut[p]);
            if let (Some(p), false) = (parent, self.gates[k].covered) {
                end[p] -= self.roots[k];
            }
        }
        let weight: Vec<f64> =
            end.iter().zip(&shut).map(|(e, s)| if *s { 0.0 } else { e.max(0.0) }).collect();
        let total: f64 = weight.iter().sum();
        let mut extra: Vec<f64> = weight.iter().map(|w| if total > 0.0 { w / total } else { 0.0 }).collect();
        if total <= 0.0 {
            extra[0] = 1.0;
        }
        extra[injection.vessel] -= 1.0;
        for k in (1..n).rev() {
            if let (Some((parent, _, _)), false) = (tubes[k].parent, self.gates[k].covered) {
                extra[parent] += extra[k];
            }
        }
        // What the heart would have to give is nothing: the sums cancel there.
        extra[0] = 0.0;
        extra
    }

    /// Each branch is something that its parent's stream gives off.
    fn join(&mut self, extra: &[f64]) {
        for k in (1..self.cells.tubes.len()).rev() {
            let (Some((parent, station, _)), false) = (self.cells.tubes[k].parent, self.gates[k].covered)
            else {
                continue;
            };
            let leak_mean = self.take[k].iter().map(|t| t.leak_mean).sum();
            let leak_pulse = self.take[k].iter().map(|t| t.leak_pulse).sum();
            let (mean, extra) = (self.roots[k], extra[k]);
            self.take[parent].push(TakeOff { station, mean, leak_mean, leak_pulse, extra });
        }
    }

    /// Flow at every face, parents before children, since the pulse fades along the way.
    fn ways(&self, flows: &Flows, holes: Option<(usize, &[(usize, f64)])>, extra: &[f64]) -> Vec<Way> {
        let tubes = &self.cells.tubes;
        let mut start = vec![1.0; tubes.len()];
        let mut out = Vec::with_capacity(tubes.len());
        for (k, tube) in tubes.iter().enumerate() {
            let fade = |i: usize, start: f64| {
                let far = ops::exp(-(i as f64) * tube.step_mm / PULSE_FADES_MM);
                PULSE_FAR + (start - PULSE_FAR) * far
            };
            let mut way = self.steady(k, flows, extra[k]);
            let (mut leak_mean, mut leak_pulse) = (vec![0.0; way.mean.len()], vec![0.0; way.mean.len()]);
            for t in &self.take[k] {
                way.mean[t.station + 1..].iter_mut().for_each(|m| *m -= t.mean);
                way.extra[t.station + 1..].iter_mut().for_each(|e| *e -= t.extra);
                leak_mean[..=t.station].iter_mut().for_each(|m| *m += t.leak_mean);
                leak_pulse[..=t.station].iter_mut().for_each(|p| *p += t.leak_pulse);
            }
            for (_, list) in holes.iter().filter(|h| h.0 == k) {
                for &(station, share) in *list {
                    way.extra[station + 1..].iter_mut().for_each(|e| *e += share);
                }
            }
            for (i, pulse) in way.pulse.iter_mut().enumerate() {
                *pulse = fade(i, start[k]) * (way.mean[i] - leak_mean[i]) + leak_pulse[i];
            }
            if let Some(feed) = self.feeds[k] {
                // A pool only passes on what bleeds into it.
                way.pulse.fill(feed.pulse);
            }
            for (c, child) in tubes.iter().enumerate().skip(k + 1) {
                if let Some((_, station, _)) = child.parent.filter(|p| p.0 == k) {
                    start[c] = fade(station, start[k]);
                }
            }
            out.push(way);
        }
        out
    }

    /// A tube through which its root's flow runs unchanged.
    fn steady(&self, k: usize, flows: &Flows, extra: f64) -> Way {
        let tube = &self.cells.tubes[k];
        let faces = tube.stations + 1;
        let area =
            |i: usize| 0.5 * (tube.area_mm2[i.saturating_sub(1)] + tube.area_mm2[i.min(tube.stations - 1)]);
        let fed_by = flows.collaterals.iter().position(|c| c.feeds == k);
        Way {
            mean: vec![self.feeds[k].map_or(self.roots[k], |f| f.mean); faces],
            pulse: vec![0.0; faces],
            extra: vec![extra; faces],
            area_mm2: (0..faces).map(area).collect(),
            sectors: tube.sectors,
            gate: self.gates[k].cells.clone(),
            channel: fed_by.map(|id| (id, flows.collaterals[id].volume_ml.max(0.5))),
            drawn: Vec::new(),
            lost: k >= self.pools,
        }
    }
}

/// Mean flow into each tube. The twigs and the one vessel that stands for all segmental arteries share its flow; a twig
/// under fabric carries nothing.
fn roots(scene: &Scene, cells: &Cells, flows: &Flows) -> Vec<f64> {
    let mut out = flows.root_ml_s.clone();
    out.resize(cells.tubes.len(), 0.0);
    let group = scene.tree.index(VesselName::Intercostals);
    let Some(group) = group.filter(|&g| out[g] > 0.0 && !cells.twigs.is_empty()) else { return out };
    let open =
        |k: &usize| cells.tubes[*k].parent.is_some_and(|(p, station, _)| !cells.tubes[p].lined[station]);
    let carry: Vec<usize> = cells.twigs.clone().filter(open).collect();
    let each = out[group] / (carry.len() + 1) as f64;
    carry.iter().for_each(|&k| out[k] = each);
    out[group] = each;
    out
}

/// Seconds that turn a pulse coefficient into the volume moved by one systole.
fn stroke_s(beat: &Beat) -> f64 {
    let n = 200;
    let above: f64 =
        (0..n).map(|k| (beat.at(beat.period_s * f64::from(k) / f64::from(n)) - 1.0).max(0.0)).sum();
    (above / f64::from(n) * beat.period_s).max(0.05)
}

/// The station of the stream that a leak draws on: through fabric where it is, past an edge from beyond that edge.
fn stream_station(cells: &Cells, vessel: usize, entry: Entry, s_mm: f64) -> usize {
    let tube = &cells.tubes[vessel];
    let here = tube.station(s_mm);
    if entry == Entry::Fabric {
        return here;
    }
    let (mut first, mut last) = (here, here);
    while !tube.lined[first] && first + 1 < tube.stations && !tube.lined[last] && last > 0 {
        first += 1;
        last -= 1;
    }
    let inside = if tube.lined[first] { first } else { last };
    if !tube.lined[inside] {
        return here;
    }
    let (mut a, mut b) = (inside, inside);
    while a > 0 && tube.lined[a - 1] {
        a -= 1;
    }
    while b + 1 < tube.stations && tube.lined[b + 1] {
        b += 1;
    }
    let near_start = (s_mm - a as f64 * tube.step_mm).abs() <= ((b + 1) as f64 * tube.step_mm - s_mm).abs();
    if near_start { a.saturating_sub(1) } else { (b + 1).min(tube.stations - 1) }
}

/// Finds what a tube's first face opens to.
fn gate(cells: &Cells, k: usize, mixing: &Mixing, feed: Option<&Crossing>) -> Gate {
    let (parent, station, theta) = match (cells.tubes[k].parent, feed) {
        (Some(p), _) => p,
        (None, Some(f)) => (f.tube, f.station, f.theta_rad),
        (None, None) => return Gate::default(),
    };
    let tube = &cells.tubes[parent];
    // A branch of an unlined aneurysm draws on the stream beside it; only what fabric covers, or what bleeds out of a
    // pocket, opens to the recess itself.
    let recess = super::behind::nearest_recess(tube, station, theta, feed.is_some());
    if let Some(cell) = recess.filter(|_| feed.is_some() || tube.lined[station]) {
        return Gate { cells: vec![(cell, 1.0)], covered: tube.lined[station] };
    }
    if feed.is_some() {
        return Gate { cells: vec![(tube.lane(station, tube.sector(theta)), 1.0)], covered: false };
    }
    let side = (1.0 - mixing.core_share) / tube.sectors as f64;
    let lanes =
        (0..tube.lanes()).map(|l| (tube.lane(station, l), if l == 0 { mixing.core_share } else { side }));
    Gate { cells: lanes.collect(), covered: false }
}
