//! What lies in the patient when the case begins: grafts of an earlier operation, open accesses, the ward's targets.

use super::World;
use super::lines::Line;
use super::seal::{Piece, Seal, facts};
use super::torn::Torn;
use crate::anatomy::{Place, Site, Tree, VesselName};
use crate::kit::Device;
use crate::mechanics::{self, PlaceAt, Placed};
use crate::scenario::Loaded;
use crate::scenario::case::{EarlierGraft, OpenLine};
use crate::session::dice::Dice;
use std::sync::Arc;

/// The vessels that a graft brought up from a groin lies in, as far down as it reaches; an arm's leads through the aorta too.
pub(super) fn route(site: Site) -> Vec<VesselName> {
    match site {
        Site::RightFemoral => {
            vec![VesselName::Aorta, VesselName::RightCommonIliac, VesselName::RightExternalIliac]
        }
        Site::LeftFemoral => {
            vec![VesselName::Aorta, VesselName::LeftCommonIliac, VesselName::LeftExternalIliac]
        }
        Site::RightBrachial | Site::LeftBrachial => vec![VesselName::Aorta],
    }
}

/// The same, but only the aorta for what ends in it: its ruler has no joint to be smoothed.
pub(super) fn route_to(tree: &Tree, site: Site, lower_end_mm: f64) -> Vec<VesselName> {
    if lower_end_mm < tree.aorta().curve.length_mm() - SPARE_MM {
        vec![VesselName::Aorta]
    } else {
        route(site)
    }
}

/// A graft that ends nearer than this to the bifurcation may reach into an iliac artery, mm: its release may push it down a
/// little.
pub(super) const SPARE_MM: f64 = 30.0;

impl Seal {
    /// Lays the grafts of an earlier operation at the calibre of `tree`. Their films clotted long ago.
    pub(super) fn lay_earlier(&mut self, dice: &mut Dice, case: &Loaded, tree: &Tree) {
        for earlier in &case.case.in_place.grafts {
            let Some(Device::Graft(graft)) = case.shelf.get(&earlier.device).map(|s| &s.device) else {
                continue;
            };
            let Some(edge_mm) = place_mm(tree, earlier) else { continue };
            let site = earlier.side.unwrap_or(Site::RightFemoral);
            let at = PlaceAt {
                route: route_to(tree, site, edge_mm + graft.length_mm),
                proximal_s_mm: edge_mm,
                released: Vec::new(),
            };
            let before: Vec<Placed> = self.pieces.iter().map(|p| (*p.placed).clone()).collect();
            self.meet_wall(dice);
            let mut placed = mechanics::place(tree, graft, &at, &before, self.draw());
            placed.clotted = 1.0;
            let facts = facts(&earlier.device, site, [edge_mm, 0.0], &placed);
            let placed = Arc::new(placed);
            self.pieces.push(Piece { device: earlier.device.clone(), placed, facts });
        }
    }
}

fn place_mm(tree: &Tree, earlier: &EarlierGraft) -> Option<f64> {
    match earlier.edge {
        Place::Mm(s) => Some(s),
        Place::Past(vessel, beyond) => tree.aortic_s_mm(vessel).map(|s| s + beyond),
    }
}

impl World {
    /// Takes up what the case finds in place, once there is a patient with a pressure.
    pub(super) fn take_up(&mut self) {
        let case = Arc::clone(&self.case);
        let found = &case.case.in_place;
        if !self.seal.pieces.is_empty() {
            self.lay_again();
        }
        for line in &found.lines {
            self.open_line(&case, line);
        }
        self.ct = found.ct;
        if let Some(level) = found.csf_drain_mmhg {
            self.patient.set_csf_drain(Some(level), None);
            self.spinal_drain_in = true;
        }
        if let Some(targets) = found.ward {
            self.lay_on_ward(targets.map_low_mmhg, targets.sbp_high_mmhg);
        }
    }

    fn open_line(&mut self, case: &Loaded, found: &OpenLine) {
        let Some(entry_mm) = self.rail(found.site).map(|r| r.length_mm()) else { return };
        let mut line = Line::new(entry_mm, found.guide);
        for lying in &found.items {
            line.put(&case.shelf, &lying.device, lying.tip_mm);
        }
        // What has come in has been through the artery already.
        line.passed_mm = line.widest_mm;
        self.lines.insert(found.site, line);
        if found.torn_mm2 > 0.0 {
            self.torn.push(Torn::in_access(self, found.site, found.torn_mm2));
        }
        self.refresh_torn();
    }
}
