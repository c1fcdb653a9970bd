//! Wires, catheters and delivery systems as elastic rods in a yielding vessel.
//!
//! A chain of nodes with bending and stretching energy lies between the puncture, where it is held, and a free tip;
//! the wall pushes back where a node leaves the lumen. The shape of least energy gives where the rod runs, how hard
//! it presses, what the tip bears and how far it moves the vessel (Bergou et al., ACM Trans. Graphics 27:3, 2008, for
//! the discrete rod; untwisted here, since a round rod that is free to turn stores no twist).

use super::chain::Chain;
use super::tube::{Route, Tube};
use crate::anatomy::{Rail, Tree};
use crate::math::{Vec3, interp, ops};

/// Distance between nodes, mm.
const NODE_MM: f64 = 6.0;
/// Axial stiffness, N: soft enough to solve, stiff enough that 10 N stretch it by 0.05 %.
const AXIAL_N: f64 = 2.0e4;
/// How firmly tissue holds a vessel in place, N for each mm of shift and mm of length: 5 to 20 kN/m² in use (assumed).
const SUPPORT_N_MM2: f64 = 0.012;
/// Friction between a wet rod and the wall (0.05 to 0.2 in bench work; hydrophilic at the low end; from memory).
pub const FRICTION: f64 = 0.1;
/// Newton rounds at most; a rod that is still sliding goes on from there at the next call.
const ROUNDS: usize = 20;

/// What a rod is made of, by distance from its tip.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rod {
    /// (from the tip mm, bending stiffness N mm²), rising distances; constant beyond the ends.
    pub ei: Vec<(f64, f64)>,
    /// (from the tip mm, outer radius mm), as above.
    pub radius: Vec<(f64, f64)>,
    /// Length inside the patient, mm.
    pub inserted_mm: f64,
}

impl Rod {
    /// Of one stiffness and radius.
    pub fn even(ei_n_mm2: f64, radius_mm: f64, inserted_mm: f64) -> Self {
        Self { ei: vec![(0.0, ei_n_mm2)], radius: vec![(0.0, radius_mm)], inserted_mm }
    }
    /// With another one round it that reaches to `tip_mm` behind this one's tip: stiffness adds where they overlap.
    #[must_use]
    pub fn with(mut self, tip_mm: f64, ei_n_mm2: f64, radius_mm: f64) -> Self {
        if tip_mm <= -0.5 {
            // The outer one is ahead: the pair's tip is now its tip.
            let ahead = -tip_mm;
            self.ei.iter_mut().for_each(|p| p.0 += ahead);
            self.radius.iter_mut().for_each(|p| p.0 += ahead);
            self.ei.iter_mut().for_each(|p| p.1 += ei_n_mm2);
            self.radius.iter_mut().for_each(|p| p.1 = p.1.max(radius_mm));
            self.ei.splice(0..0, [(0.0, ei_n_mm2), (ahead - 0.1, ei_n_mm2)]);
            self.radius.splice(0..0, [(0.0, radius_mm), (ahead - 0.1, radius_mm)]);
            self.inserted_mm += ahead;
            return self;
        }
        let add = |table: &mut Vec<(f64, f64)>, join: &dyn Fn(f64) -> f64| {
            let ahead = interp::linear(table, tip_mm);
            let mut out: Vec<(f64, f64)> = table.iter().copied().filter(|p| p.0 < tip_mm).collect();
            out.push((tip_mm, ahead));
            out.push((tip_mm + 2.0, join(interp::linear(table, tip_mm + 2.0))));
            out.extend(table.iter().filter(|p| p.0 > tip_mm + 2.0).map(|p| (p.0, join(p.1))));
            *table = out;
        };
        add(&mut self.ei, &|ei| ei + ei_n_mm2);
        add(&mut self.radius, &|r| r.max(radius_mm));
        self
    }
}

/// The vessels along a route, made ready for rods; make it once for a calibre of the tree.
#[derive(Clone, Debug)]
pub struct Corridor {
    tube: Tube,
    /// Where the rod enters, on the ruler, mm.
    puncture_s_mm: f64,
    /// -1 when it is pushed towards the valve, +1 away from it.
    way: f64,
}

impl Corridor {
    /// From a puncture towards the valve (`retrograde`) or away from it.
    pub fn new(tree: &Tree, route: &Route, puncture_s_mm: f64, retrograde: bool) -> Self {
        let tube = Tube::sampled(tree, route, [0.0, route.length_mm(), 2.0], 0.0, 0);
        Self { tube, puncture_s_mm, way: if retrograde { -1.0 } else { 1.0 } }
    }
    /// From a puncture towards the valve.
    pub fn for_access(tree: &Tree, rail: &Rail) -> Self {
        let route = Route::of_rail(tree, rail);
        Self::new(tree, &route, rail.length_mm(), true)
    }
    /// Smallest diameter between two ruler positions, mm, and where.
    pub fn narrowest(&self, from_mm: f64, to_mm: f64) -> (f64, f64) {
        let n = (((to_mm - from_mm).abs() / 2.0).ceil() as usize).max(1);
        let mut least = (f64::INFINITY, from_mm);
        for i in 0..=n {
            let s = from_mm + (to_mm - from_mm) * i as f64 / n as f64;
            let d = 2.0 * self.tube.mean_radius(s);
            if d < least.0 {
                least = (d, s);
            }
        }
        least
    }
}

/// A place on a rod.
#[derive(Clone, Copy, Debug, Default)]
pub struct RodNode {
    /// Where.
    pub at: Vec3,
    /// Ruler position and angle.
    pub s_mm: f64,
    /// Angle round the vessel, rad.
    pub theta_rad: f64,
    /// Distance from the centreline, mm.
    pub offset_mm: f64,
    /// Force on the wall, N.
    pub wall_n: f64,
    /// How far the wall is pushed aside, mm.
    pub shift_mm: f64,
}

/// What the tip bears against.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TipRest {
    /// Nothing.
    Free,
    /// A vessel's wall.
    Wall,
    /// The aortic valve.
    Valve,
}

/// How a rod lies.
#[derive(Clone, Debug)]
pub struct RodShape {
    /// From the puncture to the tip.
    pub nodes: Vec<RodNode>,
    /// What the tip bears against, and the force, N.
    pub tip: (TipRest, f64),
    /// Force at the puncture that holds it there without friction, N.
    pub hold_n: f64,
    /// Force needed to push it on, with friction, N.
    pub push_n: f64,
    /// Part of a push at the puncture that reaches the tip, 0 to 1.
    pub transmission: f64,
    /// Sum of forces on the wall, N.
    pub wall_n: f64,
    /// Greatest force on one centimetre of wall, N, and where on the ruler, mm.
    pub wall_peak_n_cm: (f64, f64),
    /// Greatest shift of the wall, mm.
    pub shift_mm: f64,
    /// Energy stored in its bends, mJ.
    pub stored_mj: f64,
    /// Length inside less the centreline's from puncture to tip, mm: what it will jump forward when freed.
    pub slack_mm: f64,
    /// Rounds of the search.
    pub rounds: usize,
}

impl RodShape {
    /// Ruler position of the tip, mm.
    pub fn tip_s_mm(&self) -> f64 {
        self.nodes.last().map_or(0.0, |n| n.s_mm)
    }
    /// Direction along the ruler as tilts of the section, for releasing a graft: (ruler position, tilt).
    pub fn tilts(&self, corridor: &Corridor, from_mm: f64, to_mm: f64) -> Vec<(f64, [f64; 2])> {
        let mut out: Vec<(f64, [f64; 2])> = self
            .nodes
            .windows(2)
            .filter_map(|w| {
                let s = 0.5 * (w[0].s_mm + w[1].s_mm);
                let [_, t, n, b] = corridor.tube.frame(s);
                let d = (w[1].at - w[0].at) * corridor.way;
                let along = d.dot(t);
                let near = s > from_mm - 10.0 && s < to_mm + 10.0;
                (near && along > 0.0).then(|| (s, [d.dot(n) / along, d.dot(b) / along]))
            })
            .collect();
        out.sort_by(|a, b| a.0.total_cmp(&b.0));
        out
    }
    /// Turn of the rod between two ruler positions, rad: compare with the vessel's to see the arch straighten.
    pub fn turn_rad(&self, from_mm: f64, to_mm: f64) -> f64 {
        let (lo, hi) = (from_mm.min(to_mm), from_mm.max(to_mm));
        let dirs: Vec<Vec3> = self
            .nodes
            .windows(2)
            .filter(|w| w[0].s_mm >= lo && w[0].s_mm <= hi && w[1].s_mm >= lo && w[1].s_mm <= hi)
            .map(|w| (w[1].at - w[0].at).unit())
            .collect();
        dirs.windows(2).map(|d| ops::acos(d[0].dot(d[1]))).sum()
    }
}

/// Lets a rod settle. `before` is how it lay, if it did: it is slid along that shape first.
pub fn settle(corridor: &Corridor, rod: &Rod, before: Option<&RodShape>) -> RodShape {
    let n = ((rod.inserted_mm / NODE_MM).round() as usize).max(4) + 1;
    let rest = rod.inserted_mm / (n - 1) as f64;
    let start = corridor.start(rod.inserted_mm, n, before);
    let behind_tip = |i: usize| rest * (n - 1 - i) as f64;
    let mut chain = Chain {
        ei: (0..n).map(|i| interp::linear(&rod.ei, behind_tip(i))).collect(),
        radius: (0..n).map(|i| interp::linear(&rod.radius, behind_tip(i))).collect(),
        rest,
        axial_n: AXIAL_N,
        held: [start.0[0], start.0[1]],
        pull: Vec3::ZERO,
        wall: Some(&corridor.tube),
        support_n_mm2: SUPPORT_N_MM2,
        x: start.0,
        s: start.1,
    };
    let rounds = chain.relax(ROUNDS, 2e-5);
    corridor.read(rod, &chain, rounds)
}

/// Pushes a rod until its tip comes to a ruler position, as the eye on the screen would; it takes more length than the
/// centreline says, since rods lie on the outer side of bends. Stops after 60 mm of spare length: a tip that is held
/// by a wall or the valve does not get there.
pub fn reach(corridor: &Corridor, rod: &Rod, tip_s_mm: f64, before: Option<&RodShape>) -> RodShape {
    let straight = (corridor.puncture_s_mm - tip_s_mm).abs();
    let mut rod = rod.clone();
    let spare = before.map_or(0.0, |b| b.slack_mm.clamp(0.0, 60.0));
    rod.inserted_mm = (straight + spare).max(30.0);
    let mut shape = settle(corridor, &rod, before);
    for _ in 0..3 {
        let short = (shape.tip_s_mm() - tip_s_mm) * -corridor.way;
        if short.abs() < 2.0 {
            break;
        }
        rod.inserted_mm = (rod.inserted_mm + short).clamp(30.0, straight + 60.0);
        shape = settle(corridor, &rod, Some(&shape));
    }
    shape
}

impl Corridor {
    /// A first guess: along the old shape, then along the centreline.
    fn start(&self, length: f64, n: usize, before: Option<&RodShape>) -> (Vec<Vec3>, Vec<f64>) {
        let (lo, hi) = (self.tube.from_mm, self.tube.to_mm());
        let mut line: Vec<(Vec3, f64)> = match before {
            Some(shape) => shape.nodes.iter().map(|n| (n.at, n.s_mm)).collect(),
            None => vec![(self.tube.frame(self.puncture_s_mm)[0], self.puncture_s_mm)],
        };
        let mut run = line.windows(2).map(|w| w[0].0.distance(w[1].0)).sum::<f64>();
        while run < length + 2.0 * NODE_MM {
            let (at, s) = line[line.len() - 1];
            let next = s + 2.0 * self.way;
            let old = self.tube.frame(s);
            let new = self.tube.frame(next);
            let mut d = at - old[0];
            // Keep the tip's place in the section while the section moves on.
            d = new[2] * d.dot(old[2]) + new[3] * d.dot(old[3]);
            let to = if next < lo || next > hi { at + old[1] * (2.0 * self.way) } else { new[0] + d };
            run += at.distance(to).max(0.5);
            line.push((to, next.clamp(lo, hi)));
        }
        let (mut x, mut s) = (Vec::with_capacity(n), Vec::with_capacity(n));
        let (mut seg, mut gone) = (0, 0.0);
        for i in 0..n {
            let want = length * i as f64 / (n - 1) as f64;
            let mut here = line[seg].0.distance(line[seg + 1].0);
            while gone + here < want && seg + 2 < line.len() {
                gone += here;
                seg += 1;
                here = line[seg].0.distance(line[seg + 1].0);
            }
            let f = if here > 0.0 { ((want - gone) / here).min(1.0) } else { 0.0 };
            x.push(line[seg].0.lerp(line[seg + 1].0, f));
            s.push(line[seg].1 + f * (line[seg + 1].1 - line[seg].1));
        }
        (x, s)
    }

    fn read(&self, rod: &Rod, chain: &Chain<'_>, rounds: usize) -> RodShape {
        let n = chain.x.len();
        let mut nodes = Vec::with_capacity(n);
        for i in 0..n {
            let touch = chain.touch(i);
            let d = self.tube.depth(chain.x[i], chain.s[i]);
            let offset_mm = (chain.x[i] - self.tube.frame(d.s_mm)[0]).norm();
            nodes.push(RodNode {
                at: chain.x[i],
                s_mm: d.s_mm,
                theta_rad: d.theta_rad,
                offset_mm,
                wall_n: touch.wall_n,
                shift_mm: touch.shift_mm,
            });
        }
        let wall_n = nodes.iter().map(|n| n.wall_n).sum();
        let reach = (5.0 / chain.rest).round() as usize;
        let mut wall_peak_n_cm = (0.0, 0.0);
        for i in 0..n {
            let (a, b) = (i.saturating_sub(reach), (i + reach).min(n - 1));
            let sum: f64 = nodes[a..=b].iter().map(|n| n.wall_n).sum();
            let per_cm = sum * 10.0 / (chain.rest * (b - a + 1) as f64).max(10.0);
            if per_cm > wall_peak_n_cm.0 {
                wall_peak_n_cm = (per_cm, nodes[i].s_mm);
            }
        }
        let last = n - 1;
        let end = chain.touch(last);
        let tip = if end.valve_n > end.wall_n && end.valve_n > 0.0 {
            (TipRest::Valve, end.valve_n)
        } else if end.wall_n > 0.0 {
            (TipRest::Wall, end.wall_n)
        } else {
            (TipRest::Free, 0.0)
        };
        let turns: Vec<f64> = (1..last)
            .map(|i| {
                let (a, b) = ((chain.x[i] - chain.x[i - 1]).unit(), (chain.x[i + 1] - chain.x[i]).unit());
                ops::acos(a.dot(b))
            })
            .collect();
        let whole: f64 = turns.iter().sum();
        let transmission = capstan(FRICTION, -whole);
        let mut push_n = if end.valve_n > 0.0 { end.valve_n } else { 0.0 };
        for i in (1..n).rev() {
            push_n += FRICTION * nodes[i].wall_n;
            if i <= turns.len() {
                push_n *= capstan(FRICTION, turns[i - 1]);
            }
        }
        let e = chain.x[2] - chain.x[1];
        let hold_n = (chain.axial_n * (1.0 - e.norm() / chain.rest)).max(0.0);
        RodShape {
            tip,
            hold_n,
            push_n: push_n + hold_n,
            transmission,
            wall_n,
            wall_peak_n_cm,
            shift_mm: nodes.iter().map(|n| n.shift_mm).fold(0.0, f64::max),
            stored_mj: chain.bending(),
            slack_mm: rod.inserted_mm - (self.puncture_s_mm - nodes[last].s_mm).abs(),
            rounds,
            nodes,
        }
    }
}

/// Ratio of forces on the two sides of a bend, e^(mu theta).
pub fn capstan(friction: f64, turn_rad: f64) -> f64 {
    ops::exp(friction * turn_rad)
}
