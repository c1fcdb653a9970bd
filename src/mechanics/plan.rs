//! Which rings a graft has, where each one goes, and how it was held when it was let go.

use super::contact::{DOF, Ring, RingSpec, STRUT_KPA_PER_MM, ring_points, waves};
use super::place::{Moulding, PlaceAt, turn_between};
use super::shape;
use super::tube::{Tube, WALL_KPA_PER_MM};
use crate::kit::{Graft, GraftKind};
use crate::math::{Vec3, interp};

/// The rings of a graft along its route.
pub(super) struct Plan {
    pub rings: Vec<RingSpec>,
    /// Whether the ring carries fabric.
    pub covered: Vec<bool>,
    /// Whether a balloon has pressed the ring, and to what diameter.
    pub pressed: Vec<Option<f64>>,
}

/// Friction that keeps a ring in the direction it was released in, N mm/rad (assumed).
const MEMORY_N_MM: f64 = 60.0;

impl Plan {
    pub(super) fn of(
        tube: &Tube,
        graft: &Graft,
        at: &PlaceAt,
        shift_mm: f64,
        mouldings: &[Moulding],
    ) -> Self {
        let length = graft.open_length_mm();
        let height = graft.ring_height_mm.min(length);
        let count = (((length - height) / graft.pitch_mm).round().max(0.0)) as usize + 1;
        let pitch = if count > 1 { (length - height) / (count - 1) as f64 } else { length };
        // Offsets of ring centres along the fabric, with bare stents before and behind it.
        let mut along: Vec<(f64, f64, bool)> = Vec::new();
        if graft.bare_proximal_mm > 0.0 {
            along.push((-0.5 * graft.bare_proximal_mm, graft.bare_proximal_mm, false));
        }
        along.extend((0..count).map(|i| (0.5 * height + pitch * i as f64, height, true)));
        if graft.bare_distal_mm > 0.0 {
            along.push((length + 0.5 * graft.bare_distal_mm, graft.bare_distal_mm, false));
        }
        let mut rings = Vec::with_capacity(along.len());
        for (i, &(offset, height_mm, _)) in along.iter().enumerate() {
            let s_mm = station(tube, at.proximal_s_mm + shift_mm, offset);
            let free_mm = 0.5 * free_diameter_mm(graft, offset.clamp(0.0, length));
            let strut = 1.0 / (1.0 / WALL_KPA_PER_MM + 1.0 / STRUT_KPA_PER_MM);
            // Hoop spring in series with the local one gives the stated pressure at 15 % oversize.
            let at15 = free_mm * (1.0 - 1.0 / 1.15);
            let hoop_kpa_mm = graft.outward_kpa / (at15 - graft.outward_kpa / strut).max(0.2 * at15);
            let pitch_mm = along.get(i + 1).map_or(pitch, |next| next.0 - offset);
            rings.push(RingSpec {
                s_mm,
                free_mm,
                height_mm,
                pitch_mm,
                hoop_kpa_mm,
                released: tilt_at(&at.released, s_mm),
                memory: if at.released.is_empty() { 0.0 } else { MEMORY_N_MM },
                rounder: 1.0,
            });
        }
        let pressed: Vec<Option<f64>> = rings
            .iter()
            .map(|r| {
                mouldings
                    .iter()
                    .filter(|m| m.from_mm < r.s_mm && r.s_mm < m.to_mm)
                    .map(|m| m.diameter_mm)
                    .fold(None, |a: Option<f64>, d| Some(a.map_or(d, |a| a.max(d))))
            })
            .collect();
        for (ring, pressed) in rings.iter_mut().zip(&pressed) {
            if pressed.is_some() {
                ring.memory = 0.0;
                ring.rounder = 0.25;
            }
        }
        Self { rings, covered: along.iter().map(|a| a.2).collect(), pressed }
    }

    /// Ruler position of the proximal edge on the outer side of the bend; of its middle where there is no bend.
    pub(super) fn outer_edge_mm(&self, tube: &Tube, rings: &[Ring]) -> f64 {
        let first = self.covered.iter().position(|c| *c).unwrap_or(0);
        let spec = &self.rings[first];
        let guess = spec.s_mm - 0.5 * spec.height_mm;
        let edge = ring_points(&tube.frame(spec.s_mm), &rings[first], -0.5 * spec.height_mm, &waves());
        match shape::inner_theta(tube, guess) {
            Some(inner) => {
                let outer: Vec<f64> = edge
                    .iter()
                    .map(|&p| tube.depth(p, guess))
                    .filter(|d| turn_between(d.theta_rad, inner).abs() > 2.6)
                    .map(|d| d.s_mm)
                    .collect();
                if outer.is_empty() { guess } else { outer.iter().sum::<f64>() / outer.len() as f64 }
            }
            None => middle_mm(tube, &edge, guess),
        }
    }

    pub(super) fn start(&self, tube: &Tube) -> Vec<Ring> {
        self.rings
            .iter()
            .map(|r| {
                let mut q = [0.0; DOF];
                q[2] = r.released[0];
                q[3] = r.released[1];
                q[4] = r.free_mm.min(tube.mean_radius(r.s_mm) + 0.3);
                q
            })
            .collect()
    }
}

/// Ruler position of the middle of a ring of points.
pub(super) fn middle_mm(tube: &Tube, points: &[Vec3], guess_mm: f64) -> f64 {
    let sum = points.iter().fold(Vec3::ZERO, |a, p| a + *p);
    tube.depth(sum * (1.0 / points.len() as f64), guess_mm).s_mm
}

/// Ruler position at a distance along the fabric: the outer side of a bend keeps the fabric's length, so the
/// centreline and the inner side get less of it.
fn station(tube: &Tube, edge_s_mm: f64, offset_mm: f64) -> f64 {
    let n = (offset_mm.abs() / 2.0).ceil().max(1.0);
    let h = offset_mm / n;
    let mut s = edge_s_mm;
    for _ in 0..n as usize {
        let k = tube.mean_curvature(s - 5.0, s + 5.0);
        let bend = (k[0] * k[0] + k[1] * k[1]).sqrt() * tube.mean_radius(s).min(25.0);
        s += h / (1.0 + bend);
    }
    s
}

/// Free diameter along the fabric. A body keeps its trunk, then narrows to the leg over the length of a gate: before the gate, or where
/// one would be.
pub(super) fn free_diameter_mm(graft: &Graft, from_edge_mm: f64) -> f64 {
    let body = |leg_at_mm: f64| {
        let trunk_mm = (leg_at_mm - GATE_LENGTH_MM).max(10.0);
        interp::linear(
            &[(0.0, graft.proximal_mm), (trunk_mm, graft.proximal_mm), (leg_at_mm, graft.distal_mm)],
            from_edge_mm,
        )
    };
    match graft.kind {
        GraftKind::BifurcatedBody { gate_at_mm, .. } => body(gate_at_mm.max(30.0)),
        GraftKind::AortoUniIliac => body(LEG_AT_MM),
        _ => graft.diameter_at_mm(from_edge_mm / (1.0 - graft.foreshortening)),
    }
}

/// Where the only leg of a body begins, mm below its edge (as a usual body with two; assumed).
const LEG_AT_MM: f64 = 70.0;
/// Length of the short leg of a body with two legs, mm (common practice, no source).
pub const GATE_LENGTH_MM: f64 = 30.0;

fn tilt_at(released: &[(f64, [f64; 2])], s_mm: f64) -> [f64; 2] {
    let axis = |a: usize| {
        let table: Vec<(f64, f64)> = released.iter().map(|r| (r.0, r.1[a])).collect();
        interp::linear(&table, s_mm)
    };
    [axis(0), axis(1)]
}
