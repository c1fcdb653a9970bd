//! Grafts that do not stay where they were let go: the stream's drag or a balloon's pull against what holds them.

use super::World;
use super::seal::Piece;
use crate::kit::GraftKind;
use crate::mechanics::forces::{bend_drag_n, bifurcation_drag_n, fixation_n};
use crate::mechanics::hazard::migration;
use crate::mechanics::{Hazard, HazardKind};
use crate::session::event::EventKind;
use std::sync::Arc;

/// Steps in which a slipping graft is followed, mm, and how far it may go at once.
const STEP_MM: f64 = 5.0;
const MOST_MM: f64 = 30.0;

impl World {
    /// Drag of the stream along the upper landing and the grip that holds it, N. The pressure that drags is that in the graft above
    /// that in the sac round it.
    fn drag_and_grip(&self, piece: &Piece) -> (f64, f64) {
        let [up, down] = piece.facts.edges_mm;
        let curve = &self.tree.aorta().curve;
        let end = curve.length_mm();
        let (a, b) = (curve.tangent(up.clamp(0.0, end)), curve.tangent(down.clamp(0.0, end)));
        let angle = crate::math::ops::acos(a.dot(b).clamp(-1.0, 1.0));
        let sac = self.patient.sac(super::seal::SAC).map_or(0.0, |s| s.0);
        let gauge = (self.patient.pressure_mmhg(up) - if self.seal.spanned() { sac } else { 0.0 }).max(0.0);
        let flow = self.patient.aortic_flow_ml_s(up).abs();
        let width = piece.placed.ends[0].vessel_mm;
        if let GraftKind::BifurcatedBody { .. } = piece.placed.graft.kind {
            // Legs part by about forty degrees in all (common practice).
            let drag = bifurcation_drag_n(width, piece.placed.graft.distal_mm, gauge, flow, 0.35);
            return (drag, fixation_n(&piece.placed));
        }
        let pull = bend_drag_n(width, gauge, flow, angle);
        // The part of a bend's force that draws its upper end down: sin of half the angle (the force halves the bend).
        (pull * crate::math::ops::sin(0.5 * angle), fixation_n(&piece.placed))
    }

    /// A graft has been let go: may it slip within days? What slips goes until it holds again.
    pub(super) fn face_migration(&mut self) {
        let Some(index) = self.seal.pieces.len().checked_sub(1) else { return };
        let piece = self.seal.pieces[index].clone();
        if piece.placed.ends[0].in_graft {
            return;
        }
        let (drag, grip) = self.drag_and_grip(&piece);
        let hazard: Hazard = migration(drag, grip, piece.facts.beak_mm)
            .times(0.1, "within days, of the chance within a year (assumed)");
        if self.face(&hazard) {
            // Pulsation has loosened it: what is left of its grip is drawn.
            let left = self.drawn(HazardKind::Migration, "grip", 0.2, 0.7);
            self.slip_until(index, |drag, grip| drag <= left * grip);
        }
    }

    /// A balloon that the stream drives pulls at the fabric that it grips.
    pub(super) fn pull_at(&mut self, at_mm: f64, pull_n: f64) {
        let over = |p: &Piece| p.facts.edges_mm[0] < at_mm && at_mm < p.facts.edges_mm[1];
        let Some(index) = self.seal.pieces.iter().rposition(over) else { return };
        let held = self.drag_and_grip(&self.seal.pieces[index].clone()).1;
        if pull_n > held {
            self.slip_until(index, |_, grip| pull_n <= grip);
        }
    }

    /// Moves a piece down the stream, step by step, until it holds.
    fn slip_until(&mut self, index: usize, holds: impl Fn(f64, f64) -> bool) {
        let mut moved = 0.0;
        while moved < MOST_MM {
            moved += STEP_MM;
            let piece = &mut self.seal.pieces[index];
            Arc::make_mut(&mut piece.placed).at.proximal_s_mm += STEP_MM;
            self.lay_again();
            let (drag, grip) = self.drag_and_grip(&self.seal.pieces[index].clone());
            if holds(drag, grip) {
                break;
            }
        }
        let device = self.seal.pieces[index].device.clone();
        self.report_with(
            EventKind::Slipped { device, by_mm: moved },
            vec![("edge".into(), self.seal.pieces[index].facts.edges_mm[0])],
        );
    }
}
