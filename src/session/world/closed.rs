//! Coils, plugs and the stents of branch mouths as the picture shows them: where the orders laid them, as wide as the vessel
//! lets them be, and as long as the model of packing has made their nest.
//!
//! Sponge and particles hold no metal: they are seen by what no longer fills.

use super::World;
use super::fabric::{mark, zigzag};
use crate::anatomy::{Tree, Vessel, VesselName};
use crate::imaging::{Material, Shape, Substance};
use crate::kit::{Coil, Device, Plug, Stent};
use crate::math::{Streams, Vec3, ops};
use std::f64::consts::{PI, TAU};

/// A device that holds in a vessel.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Held {
    pub vessel: VesselName,
    /// Shelf id.
    pub device: String,
}

/// Of a coil's thickness so much is metal: it is wound from a finer wire (assumed).
const WOUND: f64 = 0.35;
/// Threads of a plug's braid in either direction, and their radius, mm (usual, no source).
const THREADS: usize = 10;
const THREAD_MM: f64 = 0.1;
/// Part of a plug's length in which its braid is gathered into a mark, at either end; length and radius of that, mm (usual).
const GATHERED: f64 = 0.18;
const END_MM: (f64, f64) = (1.4, 0.45);
/// How far a stent of a branch's mouth stands out into the aorta, mm (common practice, no source).
const STANDS_OUT_MM: f64 = 4.0;
/// From one ring of such a stent to the next, mm, and its bends (usual, no source).
const RING_MM: f64 = 5.0;
const BENDS: usize = 6;

impl World {
    /// All that was laid to close a vessel or to hold a mouth open.
    pub(super) fn closures(&self, tree: &Tree) -> Vec<Shape> {
        let mut out = Vec::new();
        // Each plug lies above the one before it; a coil's number in its vessel gives it its own tangle.
        let mut plugged_mm: Vec<(VesselName, f64)> = Vec::new();
        let mut coils: Vec<VesselName> = Vec::new();
        for held in &self.held {
            let (Some(vessel), Some(stocked)) = (tree.get(held.vessel), self.case.shelf.get(&held.device))
            else {
                continue;
            };
            let middle_mm = 0.5 * vessel.curve.length_mm();
            match &stocked.device {
                Device::Coil(c) => {
                    let number = coils.iter().filter(|v| **v == held.vessel).count();
                    coils.push(held.vessel);
                    let nest_mm = self.packings.get(&held.vessel).map_or(c.diameter_mm, |p| p.length_mm);
                    out.push(tangle(vessel, middle_mm, nest_mm, c, number));
                }
                Device::Plug(p) => {
                    let above: f64 =
                        plugged_mm.iter().filter(|(v, _)| *v == held.vessel).map(|(_, mm)| mm).sum();
                    plugged_mm.push((held.vessel, p.length_mm + 1.0));
                    woven(vessel, middle_mm - above, p, &mut out);
                }
                Device::Stent(s) => mouth(vessel, s, &mut out),
                _ => {}
            }
        }
        out
    }
}

/// A coil in its nest: loops as wide as the vessel, each tilted its own way.
fn tangle(vessel: &Vessel, middle_mm: f64, nest_mm: f64, coil: &Coil, number: usize) -> Shape {
    /// Steps to a loop.
    const TURN: usize = 16;
    let length_mm = 10.0 * coil.length_cm;
    let free = 0.5 * coil.diameter_mm;
    let room = |s: f64| 0.5 * vessel.lumen.diameter_mm(s) - 0.5 * coil.thickness_mm;
    let loop_mm = free.min(room(middle_mm)).max(0.6);
    let mut stream = Streams::new(number as u64).named("look/coil");
    // Along the nest, tilt against the vessel, which way it is tilted, and width: of the end of one loop and of the next.
    let mut draw = || {
        let along = stream.range(-0.5, 0.5) * (nest_mm - loop_mm).max(0.0);
        [along, stream.range(-0.9, 0.9), stream.range(0.0, TAU), stream.range(0.72, 1.0)]
    };
    let (mut from, mut to) = (draw(), draw());
    let mut path: Vec<Vec3> = Vec::new();
    let mut laid_mm = 0.0;
    // As long as there is wire.
    for i in 0.. {
        if i > 0 && i % TURN == 0 {
            from = std::mem::replace(&mut to, draw());
        }
        let u = (i % TURN) as f64 / TURN as f64;
        let [along, tilt, way, wide]: [f64; 4] = std::array::from_fn(|k| from[k] + (to[k] - from[k]) * u);
        let turn = TAU * i as f64 / TURN as f64;
        let r = loop_mm * wide;
        let s = middle_mm + along + tilt * r * ops::sin_cos(turn - way).1;
        let s = s.clamp(0.0, vessel.curve.length_mm());
        let frame = vessel.curve.frame(s);
        let next = frame.at + frame.radial(turn) * r.min(room(s).max(0.3));
        laid_mm += path.last().map_or(0.0, |p| p.distance(next));
        path.push(next);
        if laid_mm >= length_mm {
            break;
        }
    }
    let metal = Substance { material: Material::Platinum, fraction: WOUND };
    Shape::rod(path, 0.5 * coil.thickness_mm, metal)
}

/// A plug: a woven cylinder that is gathered at both ends into a mark.
fn woven(vessel: &Vessel, middle_mm: f64, plug: &Plug, out: &mut Vec<Shape>) {
    const STEPS: usize = 14;
    let end_mm = vessel.curve.length_mm();
    let frame = |s: f64| vessel.curve.frame(s.clamp(0.0, end_mm));
    let from_mm = middle_mm - 0.5 * plug.length_mm;
    let radius = |s: f64| 0.5 * plug.diameter_mm.min(vessel.lumen.diameter_mm(s.clamp(0.0, end_mm)));
    let widest = radius(middle_mm).max(0.5);
    for k in 0..2 * THREADS {
        let hand = if k % 2 == 0 { 1.0 } else { -1.0 };
        let begins = TAU * (k / 2) as f64 / THREADS as f64;
        let path: Vec<Vec3> = (0..=STEPS)
            .map(|i| {
                let u = i as f64 / STEPS as f64;
                let s = from_mm + plug.length_mm * u;
                let (sin, _) = ops::sin_cos(0.5 * PI * (u.min(1.0 - u) / GATHERED).min(1.0));
                let at = frame(s);
                at.at + at.radial(begins + hand * plug.length_mm * u / widest) * (radius(s) * sin).max(0.3)
            })
            .collect();
        out.push(Shape::rod(path, THREAD_MM, Substance::solid(Material::Nitinol)));
    }
    for (s, outward) in [(from_mm, -1.0), (from_mm + plug.length_mm, 1.0)] {
        let at = frame(s);
        let path = vec![at.at, at.at + at.tangent * (outward * END_MM.0)];
        out.push(Shape::rod(path, END_MM.1, Substance::solid(Material::Platinum)));
    }
}

/// A stent from a little way out in the aorta into a branch: rings, and three marks at either end where it is covered.
fn mouth(vessel: &Vessel, stent: &Stent, out: &mut Vec<Shape>) {
    let end_mm = vessel.curve.length_mm();
    let (from_mm, to_mm) = (-STANDS_OUT_MM, (stent.length_mm - STANDS_OUT_MM).min(end_mm));
    let point = |s_mm: f64, turn: f64| {
        let s = s_mm.max(0.0);
        let frame = vessel.curve.frame(s);
        // In the aorta nothing narrows it; in the branch it is pressed to the wall.
        let wall = if s_mm < 0.0 { stent.diameter_mm } else { vessel.lumen.diameter_mm(s) };
        let r = 0.5 * stent.diameter_mm.min(wall);
        frame.at + frame.tangent * (s_mm - s) + frame.radial(turn * TAU) * r
    };
    let count = ((to_mm - from_mm) / RING_MM).max(1.0) as usize;
    out.extend((0..count).map(|i| {
        let top = from_mm + RING_MM * i as f64;
        zigzag(BENDS, |up, turn| point(if up { top } else { (top + 0.9 * RING_MM).min(to_mm) }, turn))
    }));
    if stent.covered {
        let ends = [(from_mm, from_mm + 3.0), (to_mm, to_mm - 3.0)];
        let turns = [0.0, 1.0 / 3.0, 2.0 / 3.0];
        out.extend(ends.iter().flat_map(|&(s, inward)| turns.map(|t| mark(point(s, t), point(inward, t)))));
    }
}
