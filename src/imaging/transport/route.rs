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

impl Route {
    pub fn new(
        scene: &Scene,
        cells: &Cells,
        flows: &Flows,
        injection: Option<&Injection>,
        mixing: &Mixing,
    ) -> Result<Self, ImagingError> {
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
            if let Some(p) = b.pool {
                named("a bleed's pool", p, scene.pools.len())?;
            }
        }
        for c in &flows.collaterals {
            named("a collateral", c.feeds, vessels)?;
            named("a collateral", c.from, vessels)?;
        }
        let mut out = Self {
            beat: flows.beat.clone(),
            output_ml_s: flows.root_ml_s.first().copied().unwrap_or(0.0).max(1.0),
            tubes: Vec::new(),
            holes: Vec::new(),
            leaks: Vec::new(),
            bleeds: Vec::new(),
        };
        let n = cells.tubes.len();
        let roots = roots(scene, cells, flows);
        let pools = cells.twigs.end;
        let mut take: Vec<Vec<TakeOff>> = vec![Vec::new(); n];
        for l in &flows.leaks {
            let station = stream_station(cells, l.vessel, l.entry, l.s_mm);
            let tube = &cells.tubes[l.vessel];
            let swing_rate = l.swing_ml / stroke_s(&flows.beat);
            let pulse = PULSE_LEAK * l.ml_s + swing_rate;
            take[l.vessel].push(TakeOff {
                station,
                mean: l.ml_s,
                leak_mean: l.ml_s,
                leak_pulse: pulse,
                extra: 0.0,
            });
            out.leaks.push(Crossing {
                stream_cell: tube.lane(station, tube.sector(l.theta_rad)),
                tube: l.vessel,
                station: tube.station(l.s_mm),
                theta_rad: l.theta_rad,
                mean: l.ml_s,
                pulse,
            });
        }
        let mut pool_feed: Vec<Option<(Crossing, bool)>> = vec![None; n];
        for b in &flows.bleeds {
            let tube = &cells.tubes[b.vessel];
            let station = tube.station(b.s_mm);
            let behind_fabric = tube.lined[station];
            let crossing = Crossing {
                stream_cell: tube.lane(station, tube.sector(b.theta_rad)),
                tube: b.vessel,
                station,
                theta_rad: b.theta_rad,
                mean: b.ml_s,
                pulse: PULSE_LEAK * b.ml_s,
            };
            if !behind_fabric {
                let (mean, leak_pulse) = (b.ml_s, crossing.pulse);
                take[b.vessel].push(TakeOff { station, mean, leak_mean: mean, leak_pulse, extra: 0.0 });
            }
            match b.pool {
                Some(p) if pool_feed[pools + p].is_none() => {
                    pool_feed[pools + p] = Some((crossing, behind_fabric));
                }
                _ => out.bleeds.push(crossing),
            }
        }
        let gates: Vec<(Vec<(usize, f64)>, bool)> =
            (0..n).map(|k| gate(cells, k, mixing, pool_feed[k].as_ref().map(|p| &p.0))).collect();
        // What every outlet takes of the injected volume: by its mean flow, unless fabric shuts it off.
        let end_mean = |k: usize| {
            let root = roots[k];
            let branches: f64 = (k + 1..n)
                .filter(|&c| cells.tubes[c].parent.is_some_and(|p| p.0 == k) && !gates[c].1)
                .map(|c| roots[c])
                .sum();
            root - branches - take[k].iter().map(|t| t.mean).sum::<f64>()
        };
        let mut shut = vec![false; n];
        for k in 0..n {
            shut[k] = k >= pools || gates[k].1 || cells.tubes[k].parent.is_some_and(|p| shut[p.0]);
        }
        let weight: Vec<f64> = (0..n).map(|k| if shut[k] { 0.0 } else { end_mean(k).max(0.0) }).collect();
        let total: f64 = weight.iter().sum();
        let mut root_extra: Vec<f64> = weight
            .iter()
            .enumerate()
            .map(|(k, w)| if total > 0.0 { w / total } else { f64::from(k == 0) })
            .collect();
        let mut injected_at: Vec<(usize, f64)> = Vec::new();
        if let Some(i) = injection {
            named("the injection", i.vessel, vessels)?;
            injected_at = out.open_holes(cells, i, mixing);
            root_extra[i.vessel] -= 1.0;
        }
        for k in (1..n).rev() {
            if let Some((parent, station, _)) = cells.tubes[k].parent {
                if !gates[k].1 {
                    let leak_mean: f64 = take[k].iter().map(|t| t.leak_mean).sum();
                    let leak_pulse: f64 = take[k].iter().map(|t| t.leak_pulse).sum();
                    let mean = roots[k];
                    let extra = if injection.is_some() { root_extra[k] } else { 0.0 };
                    take[parent].push(TakeOff { station, mean, leak_mean, leak_pulse, extra });
                    root_extra[parent] += root_extra[k];
                }
            }
        }
        let mut fade_at_root = vec![1.0; n];
        for k in 0..n {
            let tube = &cells.tubes[k];
            let faces = tube.stations + 1;
            let root = pool_feed[k].map_or(roots[k], |p| p.0.mean);
            let start = fade_at_root[k];
            let fade = |i: usize| {
                let far = ops::exp(-(i as f64) * tube.step_mm / PULSE_FADES_MM);
                PULSE_FAR + (start - PULSE_FAR) * far
            };
            let mut way = Way {
                mean: vec![root; faces],
                pulse: vec![0.0; faces],
                extra: vec![if injection.is_some() && k != 0 { root_extra[k] } else { 0.0 }; faces],
                area_mm2: (0..faces)
                    .map(|i| {
                        0.5 * (tube.area_mm2[i.saturating_sub(1)] + tube.area_mm2[i.min(tube.stations - 1)])
                    })
                    .collect(),
                sectors: tube.sectors,
                gate: gates[k].0.clone(),
                channel: flows
                    .collaterals
                    .iter()
                    .position(|c| c.feeds == k)
                    .map(|id| (id, flows.collaterals[id].volume_ml.max(0.5))),
                drawn: Vec::new(),
                lost: k >= pools,
            };
            let (mut leak_mean, mut leak_pulse) = (vec![0.0; faces], vec![0.0; faces]);
            for t in &take[k] {
                for i in 0..faces {
                    if i > t.station {
                        way.mean[i] -= t.mean;
                        way.extra[i] -= t.extra;
                    } else {
                        leak_mean[i] += t.leak_mean;
                        leak_pulse[i] += t.leak_pulse;
                    }
                }
            }
            if injection.is_some_and(|i| i.vessel == k) {
                for &(station, share) in &injected_at {
                    way.extra[station + 1..].iter_mut().for_each(|e| *e += share);
                }
            }
            for i in 0..faces {
                way.pulse[i] = fade(i) * (way.mean[i] - leak_mean[i]) + leak_pulse[i];
            }
            if k >= pools {
                // A pool only passes on what bleeds into it.
                way.pulse.fill(pool_feed[k].map_or(0.0, |p| p.0.pulse));
            }
            for (c, child) in cells.tubes.iter().enumerate().skip(k + 1) {
                if let Some((_, station, _)) = child.parent.filter(|p| p.0 == k) {
                    fade_at_root[c] = fade(station);
                }
            }
            out.tubes.push(way);
        }
        for (id, c) in flows.collaterals.iter().enumerate() {
            let ml_s = -out.tubes[c.feeds].mean[cells.tubes[c.feeds].stations];
            if ml_s > 0.0 {
                out.tubes[c.from].drawn.push((id, ml_s));
            }
        }
        for k in 0..pools {
            // Blood that leaves or enters a covered root crosses the wall of the space behind fabric.
            if let (true, Some((tube, station, theta_rad))) = (gates[k].1, cells.tubes[k].parent) {
                let way = &out.tubes[k];
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
        for k in 0..tube.sectors {
            let u = if tube.sectors == 4 { uneven[k] / 4.0 } else { 1.0 / tube.sectors as f64 };
            lanes.push(rest * u);
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

/// What a tube's first face opens to.
fn gate(cells: &Cells, k: usize, mixing: &Mixing, feed: Option<&Crossing>) -> (Vec<(usize, f64)>, bool) {
    let (parent, station, theta) = match (cells.tubes[k].parent, feed) {
        (Some(p), _) => p,
        (None, Some(f)) => (f.tube, f.station, f.theta_rad),
        (None, None) => return (Vec::new(), false),
    };
    let tube = &cells.tubes[parent];
    if let Some(cell) = super::behind::nearest_recess(tube, station, theta, feed.is_some()) {
        return (vec![(cell, 1.0)], tube.lined[station]);
    }
    if feed.is_some() {
        return (vec![(tube.lane(station, tube.sector(theta)), 1.0)], false);
    }
    let side = (1.0 - mixing.core_share) / tube.sectors as f64;
    let lanes =
        (0..tube.lanes()).map(|l| (tube.lane(station, l), if l == 0 { mixing.core_share } else { side }));
    (lanes.collect(), false)
}
