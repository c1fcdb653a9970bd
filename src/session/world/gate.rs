//! The short leg of a body with two: where its opening lies, whose wire is in it, and how long that takes.

use super::World;
use super::lines::Line;
use crate::anatomy::Site;
use crate::kit::{CatheterShape, Device, GraftKind};
use crate::mechanics::gate;
use crate::scenario::Order;
use crate::session::dice;

/// An open gate.
#[derive(Clone, Debug, PartialEq)]
pub struct Gate {
    /// The side of the long leg.
    pub side: Site,
    /// Where it opens, mm from the valve.
    pub s_mm: f64,
    /// Its width, mm.
    pub width_mm: f64,
    /// Lines whose wire has gone up through it.
    pub through: Vec<Site>,
}

fn die(site: Site) -> String {
    format!("gate/{}", super::torn::side(site))
}

impl World {
    /// A graft has been let go; a body with two legs has a gate from now on.
    pub(super) fn note_gate(&mut self, side: Site) {
        let Some(piece) = self.seal.pieces.last() else { return };
        if let GraftKind::BifurcatedBody { gate_at_mm, gate_mm } = piece.placed.graft.kind {
            let s_mm = piece.facts.edges_mm[0] + gate_at_mm;
            self.gate = Some(Gate { side, s_mm, width_mm: gate_mm, through: Vec::new() });
        }
    }

    /// Does this move bring a wire up to the gate from outside, so that it must be found?
    fn seeks(&self, order: &Order) -> Option<(&Gate, &Line, Site)> {
        let Order::Move { site, device, to_mm } = order else { return None };
        let gate =
            self.gate.as_ref().filter(|g| g.side != *site && site.femoral() && !g.through.contains(site))?;
        let line = self.lines.get(site)?;
        let wire = matches!(self.case.shelf.get(device)?.device, Device::Wire(_));
        (wire && *to_mm < gate.s_mm && line.item(device)?.tip_mm >= gate.s_mm).then_some((gate, line, *site))
    }

    /// Further time that an order takes by the state of things, s.
    pub fn further_s(&self, order: &Order) -> f64 {
        // The needle, in trained hands (common practice, no source).
        const SPINAL_NEEDLE_S: f64 = 1770.0;
        if matches!(order, Order::CsfDrain { at_mmhg: Some(_), .. }) && !self.spinal_drain_in {
            return SPINAL_NEEDLE_S;
        }
        let Some((gate, line, site)) = self.seeks(order) else { return 0.0 };
        let sac_mm = self.tree.aorta().lumen.diameter_mm(gate.s_mm);
        let steered = line.catheter(&self.case.shelf).is_some_and(|(i, c)| {
            let shaped = !matches!(c.shape, CatheterShape::Straight | CatheterShape::Pigtail);
            shaped && (gate.s_mm..gate.s_mm + 80.0).contains(&i.tip_mm)
        });
        let draw = dice::middle(self.dice.foreseen(&die(site)));
        gate::seconds(gate.width_mm, sac_mm, steered, draw)
    }

    /// The search for the gate begins: how it will go is thrown.
    pub(super) fn begin_seek(&mut self, order: &Order) {
        if let Some((_, _, site)) = self.seeks(order) {
            self.dice.side(die(site));
        }
    }

    /// The line whose wire a move brings through the gate.
    pub(super) fn clone_seek(&self, order: &Order) -> Option<Site> {
        self.seeks(order).map(|(_, _, site)| site)
    }

    /// It has been moved there.
    pub(super) fn note_through(&mut self, found: Option<Site>) {
        if let (Some(gate), Some(site)) = (self.gate.as_mut(), found) {
            gate.through.push(site);
        }
    }

    /// Why a wire that lies beside the body, or a leg that has no way into it, cannot go on.
    pub(super) fn gate_refusal(&self, order: &Order) -> Option<String> {
        let gate = self.gate.as_ref()?;
        let (site, device) = match order {
            Order::Move { site, device, to_mm } => {
                let tip = self.lines.get(site)?.item(device)?.tip_mm;
                let further_up = *to_mm < tip && tip < gate.s_mm;
                (further_up.then_some(*site)?, device)
            }
            Order::Unsheathe { site, .. } => {
                (*site, &self.lines.get(site)?.loaded_graft(&self.case.shelf)?.0.device)
            }
            _ => return None,
        };
        let beside = site.femoral() && site != gate.side && !gate.through.contains(&site);
        let of_it = match &self.case.shelf.get(device)?.device {
            Device::Wire(_) => true,
            Device::Graft(g) => matches!(g.kind, GraftKind::Limb),
            _ => false,
        };
        (beside && of_it).then(|| {
            format!(
                "it lies beside the body, not through its gate: draw the wire back below {:.0} mm and find the gate with it",
                gate.s_mm
            )
        })
    }
}
