//! Hazards of what is done: loads from the rods in the vessel, chances from `mechanics::hazard`, effects from `risk`.

use super::World;
use super::lines::Line;
use crate::anatomy::{Site, VesselName};
use crate::kit::{Device, WireGrade};
use crate::mechanics::hazard::{
    AccessLoad, ArchWork, CordSupply, ProximalLanding, TipLoad, access, cord, perforation,
    retrograde_dissection, stroke, valve,
};
use crate::mechanics::{Corridor, Disease, Laid, RodShape, Stack, TipRest, reach};
use crate::scenario::order::Guide;

/// Beyond this diameter what passes an artery can hurt it, mm (6 Fr sheaths do not; common practice).
const LARGE_MM: f64 = 3.5;

impl World {
    /// What lies on a line, as rods.
    fn stack<'a>(&'a self, line: &Line) -> Stack<'a> {
        let shelf = &self.case.shelf;
        let items = line.items.iter().filter_map(|item| {
            let stocked = shelf.get(&item.device)?;
            let inserted_mm = (line.entry_mm - item.tip_mm).max(0.0);
            Some(Laid { label: &stocked.label, device: &stocked.device, inserted_mm })
        });
        Stack { items: items.collect() }
    }

    /// How everything on a line lies together, pushed until its foremost tip is where it was asked to be.
    pub(super) fn settle_line(&self, site: Site) -> Option<(Corridor, RodShape)> {
        let line = self.lines.get(&site)?;
        let rod = self.stack(line).rod()?;
        let tip = line.items.iter().map(|i| i.tip_mm).fold(f64::INFINITY, f64::min);
        let corridor = Corridor::for_access(&self.tree, &self.rail(site)?);
        let shape = reach(&corridor, &rod, tip, None);
        Some((corridor, shape))
    }

    /// A tip has been moved from one place to another.
    pub(super) fn face_advance(&mut self, site: Site, device: &str, from_mm: f64, to_mm: f64) {
        let subclavian = self.tree.ostium_s_mm(VesselName::LeftSubclavian).unwrap_or(120.0) + 15.0;
        let in_arch = |x: f64| x.clamp(0.0, subclavian);
        let travel = (in_arch(from_mm) - in_arch(to_mm)).abs();
        let Some((_, shape)) = self.settle_line(site) else { return };
        self.arch.travel_mm += travel;
        self.arch.scrape_n_mm += travel * shape.wall_n;
        if to_mm >= from_mm {
            return;
        }
        let Some((blunt_mm, soft_lead_stiff)) =
            self.lines.get(&site).and_then(|l| self.stack(l).leading_tip())
        else {
            return;
        };
        let (from_lesion, to_lesion) = self.seal.lesion_mm();
        let tip = shape.tip_s_mm();
        let bare = self.bare_stiff_mm(site, device);
        let load = TipLoad {
            force_n: shape.tip.1,
            blunt_mm,
            diseased: (from_lesion..to_lesion).contains(&tip),
            stiff: soft_lead_stiff,
        };
        let unseen = !self.picture.screening;
        let hazard = match shape.tip.0 {
            TipRest::Valve => valve(&load, tip < 3.0),
            TipRest::Wall | TipRest::Free => perforation(&load),
        };
        let hazard = hazard
            .times_if(unseen, 3.0, "tip not watched (assumed)")
            .times_if(bare > super::signals::BARE_MM, 20.0, "stiff wire without a catheter over it (assumed)")
            .capped(0.7);
        let place = tip.min(to_mm);
        self.face_at(&hazard, place);
    }

    /// Length of a stiff wire that is ahead of everything over it, if this device is one, mm.
    fn bare_stiff_mm(&self, site: Site, device: &str) -> f64 {
        let Some(line) = self.lines.get(&site) else { return 0.0 };
        match self.case.shelf.get(device).map(|s| &s.device) {
            Some(Device::Wire(w)) if w.grade >= WireGrade::Stiff => {
                line.item(device).map_or(0.0, |i| self.bare_mm(line, i.tip_mm))
            }
            _ => 0.0,
        }
    }

    /// Something has gone in through the artery of an access.
    pub(super) fn face_access(&mut self, site: Site, outer_mm: f64) {
        let Some(line) = self.lines.get(&site) else { return };
        let before = line.passed_mm;
        if outer_mm < LARGE_MM || outer_mm <= before {
            return;
        }
        let on_stiff_wire = line.wire(&self.case.shelf).is_some_and(|(_, w)| w.grade >= WireGrade::Stiff);
        let spec = if site == Site::LeftFemoral {
            &self.case.case.anatomy.left_access
        } else {
            &self.case.case.anatomy.right_access
        };
        let load = AccessLoad {
            outer_mm,
            narrowest_mm: self.least_access_mm(site),
            calcium: spec.calcium,
            tortuosity: spec.tortuosity.unwrap_or(1.16),
            on_stiff_wire,
        };
        if let Some(line) = self.lines.get_mut(&site) {
            line.passed_mm = outer_mm;
        }
        for hazard in access(&load) {
            // A vessel exposed to the eye is not entered blindly (assumed: half the odds).
            let open = self.lines.get(&site).is_some_and(|l| l.guide == Guide::CutDown);
            self.face(&hazard.times_if(open, 0.5, "open exposure (assumed)"));
        }
    }

    /// A graft has been let go: what its landing and its cover may do.
    pub(super) fn face_coverage(&mut self) {
        let Some(piece) = self.seal.pieces.last().cloned() else { return };
        let facts = &piece.facts;
        let zone = self.tree.zone_at(facts.edges_mm[0]).0;
        let disease = Disease::Aneurysm;
        let landing = ProximalLanding {
            disease,
            oversize_percent: facts.oversize_percent[0],
            ballooned: false,
            bare_stent: piece.placed.graft.bare_proximal_mm > 0.0,
            zone_0: zone == 0,
        };
        let back = retrograde_dissection(&landing);
        self.face(&back);
        let lost = |v: VesselName| {
            facts.covered.iter().any(|c| c.0 == v && c.1 < 0.5) && !self.bypassed.contains(&v)
        };
        let subclavian_lost = lost(VesselName::LeftSubclavian);
        let work = ArchWork {
            zone,
            left_subclavian_lost: subclavian_lost,
            left_vertebral_dominant: self.case.case.patient.left_vertebral_share > 0.6,
            ..self.arch
        };
        for hazard in stroke(&work) {
            self.face(&hazard);
        }
        let coeliac = self.tree.ostium_s_mm(VesselName::Coeliac).unwrap_or(1e3);
        let v = self.patient.vitals();
        let supply = CordSupply {
            covered_mm: self.covered_length_mm(),
            open_above_coeliac_mm: (coeliac - facts.edges_mm[1]).max(0.0),
            subclavian_lost,
            lumbar_lost: false,
            hypogastrics_lost: 0,
            map_mmhg: v.right_radial.mean_mmhg,
            csf_mmhg: self.patient.organs().csf_mmhg,
            hb_g_l: self.patient.blood().haemoglobin_g_l(),
        };
        // The cord itself lives or dies by its computed flow; the published odds stand beside it.
        self.weigh(&cord(&supply));
    }
}
