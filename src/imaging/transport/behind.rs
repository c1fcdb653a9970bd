//! Blood beside the stream: behind fabric, in an aneurysm beyond the jet, in a rupture's pocket.
//!
//! Behind fabric, flow finds its way from where it enters to where it leaves through the gaps: a network of thin films,
//! each contact as wide as its gap cubed, solved for pressure. A pocket open to the stream is stirred by it instead.

use super::route::{Crossing, Route};
use super::{Book, Mixing};
use crate::imaging::cells::{Cells, Tube};
use std::collections::BTreeMap;

/// Gaps are taken between these when contacts are weighed, mm.
const GAP_MM: (f64, f64) = (0.1, 3.0);
/// A cell behind fabric turns over at most so much of itself per second by stirring.
const STIR_PER_S: f64 = 1.0;

/// The recess cells of one tube.
#[derive(Clone, Debug, Default)]
pub(super) struct Behind {
    cells: Vec<usize>,
    links: Vec<Link>,
    /// Exits to the outside.
    exits: Vec<(usize, f64, f64)>,
    /// What leaves by no known way, spread over the space (ml/s by cell).
    seep: Vec<(usize, f64)>,
    /// Outflow of each cell: (cell, mean, pulse), ml/s.
    turnover: Vec<(usize, f64, f64)>,
}

/// A contact between two cells.
#[derive(Clone, Copy, Debug)]
struct Link {
    a: usize,
    b: usize,
    mean: f64,
    pulse: f64,
    /// Equal flows both ways, ml/s.
    stir: f64,
}

impl Behind {
    pub fn all(cells: &Cells, route: &Route, mixing: &Mixing) -> Vec<Self> {
        (0..cells.tubes.len())
            .map(|k| Self::new(cells, k, route, mixing))
            .filter(|b| !b.links.is_empty() || !b.exits.is_empty())
            .collect()
    }

    fn new(cells: &Cells, k: usize, route: &Route, mixing: &Mixing) -> Self {
        let tube = &cells.tubes[k];
        let list: Vec<(usize, usize, usize)> = tube.recess_cells().collect();
        let mut out = Self { cells: list.iter().map(|c| c.2).collect(), ..Self::default() };
        let gap = |c: usize, i: usize| cells.volume_ml[c].max(0.0) * 1e3 / (tube.step_mm * arc_mm(tube, i));
        let mut films: Vec<(usize, f64)> = Vec::new();
        for &(i, r, c) in &list {
            let speed = if tube.lined[i] {
                mixing.stir_mm_s
            } else {
                mixing.entrainment * speed_mm_s(route, k, tube, i)
            };
            let around = tube.recess_at(i, r + 1).map(|d| (d, i, tube.step_mm, arc_mm(tube, i)));
            let along = (i + 1 < tube.stations)
                .then(|| tube.recess_at(i + 1, r))
                .flatten()
                .map(|d| (d, i + 1, arc_mm(tube, i), tube.step_mm));
            for (d, j, width, length) in [around, along].into_iter().flatten() {
                if d == c {
                    continue;
                }
                let g = 0.5 * (gap(c, i) + gap(d, j));
                let least = cells.volume_ml[c].min(cells.volume_ml[d]).max(0.0);
                let stir = (speed * g * width * 1e-3).min(STIR_PER_S * least);
                if tube.lined[i] && tube.lined[j] {
                    let g = g.clamp(GAP_MM.0, GAP_MM.1);
                    films.push((out.links.len(), width * g * g * g / length));
                }
                out.links.push(Link { a: c, b: d, mean: 0.0, pulse: 0.0, stir });
            }
            if !tube.lined[i] {
                let mouth = tube.step_mm * arc_mm(tube, i);
                let stir = (speed * mouth * 1e-3).min(4.0 * cells.volume_ml[c].max(0.0));
                let sector = tube.lane(i, 1 + r * tube.sectors / tube.recesses);
                out.links.push(Link { a: sector, b: c, mean: 0.0, pulse: 0.0, stir });
            }
        }
        out.drive(cells, k, route, &films);
        out.count_turnover();
        out
    }

    /// Gives the contacts behind fabric the flows that the leaks, branches and holes ask for.
    fn drive(&mut self, cells: &Cells, k: usize, route: &Route, films: &[(usize, f64)]) {
        let tube = &cells.tubes[k];
        let space = largest_space(cells, tube, &self.links, films);
        let mut source: Vec<(usize, f64, f64)> = Vec::new();
        for l in route.leaks.iter().filter(|l| l.tube == k) {
            let Some(cell) = nearest_in(tube, &space, l.station, l.theta_rad) else {
                // No space behind the fabric: what leaks is lost to the eye.
                self.exits.push((l.stream_cell, l.mean, l.pulse));
                continue;
            };
            self.links.push(Link { a: l.stream_cell, b: cell, mean: l.mean, pulse: l.pulse, stir: 0.0 });
            source.push((cell, l.mean, l.pulse));
        }
        for b in route.bleeds.iter().filter(|b| b.tube == k) {
            let through_fabric = tube.lined[b.station];
            let covered_branch = b.stream_cell == usize::MAX;
            if through_fabric {
                let gate = nearest_recess(tube, b.station, b.theta_rad, false);
                let Some(cell) = gate
                    .filter(|_| covered_branch)
                    .or_else(|| nearest_in(tube, &space, b.station, b.theta_rad))
                else {
                    continue;
                };
                if !covered_branch {
                    self.exits.push((cell, b.mean, b.pulse));
                }
                source.push((cell, -b.mean, -b.pulse));
            } else {
                self.through_pocket(tube, b);
            }
        }
        // A pool that is fed from behind fabric draws through its own gate.
        for way in route.tubes.iter().filter(|w| w.lost) {
            let Some(&(cell, _)) = way.gate.first() else { continue };
            if tube.recess_cells().any(|(i, _, c)| c == cell && tube.lined[i]) {
                source.push((cell, -way.mean(0), -way.pulse(0)));
            } else if let Some(l) =
                self.links.iter_mut().find(|l| l.b == cell && l.stir > 0.0 && !is_recess(tube, l.a))
            {
                l.mean += way.mean(0);
                l.pulse += way.pulse(0);
            }
        }
        if source.is_empty() {
            return;
        }
        let index = |c: usize| space.binary_search(&c).ok();
        let volume: f64 = space.iter().map(|&c| cells.volume_ml[c].max(0.0)).sum();
        let part = |c: usize| cells.volume_ml[c].max(0.0) / volume.max(1e-9);
        let (mut mean, mut pulse) = (vec![0.0; space.len()], vec![0.0; space.len()]);
        for &(c, m, p) in &source {
            match index(c) {
                Some(i) => {
                    mean[i] += m;
                    pulse[i] += p;
                }
                // A pocket apart: what enters it leaves it unseen.
                None => self.exits.push((c, m, p)),
            }
        }
        let (left, stored) = (mean.iter().sum::<f64>(), pulse.iter().sum::<f64>());
        for (i, &c) in space.iter().enumerate() {
            mean[i] -= left * part(c);
            pulse[i] -= stored * part(c);
            if left.abs() > 1e-12 {
                self.seep.push((c, left * part(c)));
            }
        }
        let graph: Vec<(usize, usize, f64, usize)> = films
            .iter()
            .filter_map(|&(l, g)| Some((index(self.links[l].a)?, index(self.links[l].b)?, g, l)))
            .collect();
        let (p_mean, p_pulse) = (pressures(&graph, &mean), pressures(&graph, &pulse));
        for &(a, b, g, l) in &graph {
            self.links[l].mean = g * (p_mean[a] - p_mean[b]);
            self.links[l].pulse = g * (p_pulse[a] - p_pulse[b]);
        }
    }

    /// A hole in an unlined wall: from the stream through the pocket, where there is one.
    fn through_pocket(&mut self, tube: &Tube, b: &Crossing) {
        match nearest_recess(tube, b.station, b.theta_rad, true) {
            Some(cell) => {
                self.links.push(Link { a: b.stream_cell, b: cell, mean: b.mean, pulse: b.pulse, stir: 0.0 });
                self.exits.push((cell, b.mean, b.pulse));
            }
            None => self.exits.push((b.stream_cell, b.mean, b.pulse)),
        }
    }

    /// Moves blood and iodine; returns mg/s lost to the outside.
    pub fn flow(&self, book: &mut Book, beat: f64) -> f64 {
        for l in &self.links {
            let q = l.mean + l.pulse * (beat - 1.0);
            if q != 0.0 {
                book.flow(l.a, l.b, q);
            }
            if l.stir > 0.0 {
                book.exchange(l.a, l.b, l.stir);
            }
        }
        let mut lost = 0.0;
        for &(c, mean, pulse) in &self.exits {
            lost += book.out(c, mean + pulse * (beat - 1.0));
        }
        for &(c, q) in &self.seep {
            lost += book.out(c, q);
        }
        lost
    }

    /// The step in which no cell gives away more than it holds.
    pub fn longest_step_s(&self, volume_ml: &[f64], beat: f64) -> f64 {
        let swing = (beat - 1.0).abs();
        let steps =
            self.turnover.iter().map(|&(c, mean, pulse)| 0.8 * volume_ml[c] / (mean + pulse * swing + 1e-9));
        steps.fold(f64::INFINITY, f64::min)
    }

    /// Raises volumes that a flow would turn over in less than `least_s`.
    pub fn floor(&self, volume_ml: &mut [f64], beat: f64, least_s: f64) {
        for &(c, mean, pulse) in &self.turnover {
            volume_ml[c] = volume_ml[c].max((mean + pulse * beat) * least_s);
        }
    }

    /// Adds up, once, what each cell's contacts can carry away.
    fn count_turnover(&mut self) {
        let mut out: BTreeMap<usize, (f64, f64)> = self.cells.iter().map(|&c| (c, (0.0, 0.0))).collect();
        for l in &self.links {
            for c in [l.a, l.b] {
                if let Some(o) = out.get_mut(&c) {
                    // What a cell gains by one contact it loses by another: half of all flows leave.
                    o.0 += 0.5 * l.mean.abs() + l.stir;
                    o.1 += 0.5 * l.pulse.abs();
                }
            }
        }
        self.turnover = out.into_iter().map(|(c, (mean, pulse))| (c, mean, pulse)).collect();
    }
}

fn is_recess(tube: &Tube, cell: usize) -> bool {
    tube.recess_cells().any(|(_, _, c)| c == cell)
}

/// Width of a recess cell around the stream, mm.
fn arc_mm(tube: &Tube, station: usize) -> f64 {
    let r = (tube.area_mm2[station] / std::f64::consts::PI).sqrt();
    std::f64::consts::TAU * r / tube.recesses.max(1) as f64
}

fn speed_mm_s(route: &Route, k: usize, tube: &Tube, station: usize) -> f64 {
    route.tubes[k].mean(station).abs() * 1e3 / tube.area_mm2[station]
}

/// The recess cell at a place; with `reach`, the nearest one within a few stations.
pub(super) fn nearest_recess(tube: &Tube, station: usize, theta_rad: f64, reach: bool) -> Option<usize> {
    if tube.recesses == 0 {
        return None;
    }
    let turns = theta_rad / std::f64::consts::TAU;
    let k = ((turns - turns.floor()) * tube.recesses as f64) as usize;
    let n = tube.recesses;
    let far = if reach { 4 } else { 1 };
    for d in 0..=far {
        for i in [station.saturating_sub(d), (station + d).min(tube.stations - 1)] {
            for e in 0..=far.min(n / 2) {
                let hit = tube.recess_at(i, k + e).or_else(|| tube.recess_at(i, k + n - e));
                if hit.is_some() && tube.lined[i] == tube.lined[station] {
                    return hit;
                }
            }
        }
    }
    None
}

/// The cell of a space nearest to a place on its vessel.
fn nearest_in(tube: &Tube, space: &[usize], station: usize, theta_rad: f64) -> Option<usize> {
    let turns = theta_rad / std::f64::consts::TAU;
    let n = tube.recesses.max(1);
    let k = ((turns - turns.floor()) * n as f64) as usize % n;
    let mut best: Option<(f64, usize)> = None;
    for (i, r, c) in tube.recess_cells().filter(|(_, _, c)| space.binary_search(c).is_ok()) {
        let around = r.abs_diff(k).min(n - r.abs_diff(k)) as f64 * arc_mm(tube, i);
        let d = (i.abs_diff(station) as f64) * tube.step_mm + around;
        if best.is_none_or(|b| d < b.0) {
            best = Some((d, c));
        }
    }
    best.map(|b| b.1)
}

/// Cells of the largest connected space behind fabric, sorted.
fn largest_space(cells: &Cells, tube: &Tube, links: &[Link], films: &[(usize, f64)]) -> Vec<usize> {
    let list: Vec<usize> = tube.recess_cells().filter(|(i, _, _)| tube.lined[*i]).map(|c| c.2).collect();
    let Some(&first) = list.iter().min() else { return Vec::new() };
    let mut root: Vec<usize> = (0..=list.iter().max().copied().unwrap_or(first) - first).collect();
    fn find(root: &mut [usize], mut c: usize) -> usize {
        while root[c] != c {
            root[c] = root[root[c]];
            c = root[c];
        }
        c
    }
    for &(l, _) in films {
        let (a, b) = (find(&mut root, links[l].a - first), find(&mut root, links[l].b - first));
        root[a.max(b)] = a.min(b);
    }
    let mut volume = BTreeMap::new();
    for &c in &list {
        *volume.entry(find(&mut root, c - first)).or_insert(0.0) += cells.volume_ml[c];
    }
    let best = volume.iter().fold((0, f64::MIN), |b, (&k, &v)| if v > b.1 { (k, v) } else { b }).0;
    let mut out: Vec<usize> = list.into_iter().filter(|&c| find(&mut root, c - first) == best).collect();
    out.sort_unstable();
    out
}

/// Solves the network `sum g (p_a - p_b) = source` by conjugate gradients with a diagonal preconditioner. The sources sum
/// to zero, so the pressures are fixed up to a constant that no flow sees.
fn pressures(graph: &[(usize, usize, f64, usize)], source: &[f64]) -> Vec<f64> {
    let n = source.len();
    let mut diagonal = vec![0.0; n];
    for &(a, b, g, _) in graph {
        diagonal[a] += g;
        diagonal[b] += g;
    }
    let apply = |p: &[f64]| {
        let mut y = vec![0.0; n];
        for &(a, b, g, _) in graph {
            let q = g * (p[a] - p[b]);
            y[a] += q;
            y[b] -= q;
        }
        y
    };
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let soften =
        |r: &[f64]| r.iter().zip(&diagonal).map(|(x, d)| if *d > 0.0 { x / d } else { 0.0 }).collect();
    let mut x = vec![0.0; n];
    let mut r = source.to_vec();
    let mut z: Vec<f64> = soften(&r);
    let mut p = z.clone();
    let mut rz = dot(&r, &z);
    let goal = 1e-20 * dot(source, source);
    for _ in 0..4 * n + 50 {
        if dot(&r, &r) <= goal || rz <= 0.0 {
            break;
        }
        let y = apply(&p);
        let step = rz / dot(&p, &y).max(f64::MIN_POSITIVE);
        for i in 0..n {
            x[i] += step * p[i];
            r[i] -= step * y[i];
        }
        z = soften(&r);
        let next = dot(&r, &z);
        for i in 0..n {
            p[i] = z[i] + next / rz * p[i];
        }
        rz = next;
    }
    x
}
