//! Hazards of what is done: loads from the rods in the vessel, chances from `mechanics::hazard`, effects from `risk`.

use super::World;
use super::lines::Lie;
use super::risk::Spot;
use super::seal::Piece;
use crate::anatomy::{AccessSpec, Site, Tree, VesselName};
use crate::circulation::{Drug, LOW_MOLECULAR_PART};
use crate::kit::{Device, WireGrade};
use crate::math::ops;
use crate::mechanics::hazard::{
    AccessLoad, ArchWork, CordSupply, Drained, ProximalLanding, TipLoad, access, canal_bleed, cord,
    distal_new_entry, perforation, retrograde_dissection, stroke, subdural, valve,
};
use crate::mechanics::lines::outer_mm;
use crate::mechanics::{Corridor, Disease, Hazard, TipRest, reach};
use crate::scenario::order::Guide;
use crate::session::event::Tick;
use std::sync::Arc;

/// Beyond this diameter what passes an artery can hurt it, mm (6 Fr sheaths do not; common practice).
const LARGE_MM: f64 = 3.5;

/// Below this age an arch is taken for one without plaque, years (assumed).
const YOUNG_YEARS: f64 = 45.0;

impl World {
    /// How everything on a line lies together, pushed until its foremost tip is where it was asked to be.
    pub(super) fn settle_line(&self, site: Site) -> Lie {
        let line = self.lines.get(&site)?;
        let solve = || {
            let rod = line.stack(&self.case.shelf).rod()?;
            let tip = line.items().iter().map(|i| i.tip_mm).fold(f64::INFINITY, f64::min);
            let cut = || Some(Corridor::for_access(&self.tree, &self.rail(site)?));
            let corridor = self.corridors.get(site, cut)?;
            let shape = reach(&corridor, &rod, tip, None);
            Some(Arc::new((corridor, shape)))
        };
        line.lie(solve).clone()
    }

    /// A tip has been moved from one place to another.
    pub(super) fn face_advance(&mut self, site: Site, device: &str, from_mm: f64, to_mm: f64) {
        let subclavian = self.tree.ostium_s_mm(VesselName::LeftSubclavian).unwrap_or(120.0) + 15.0;
        let in_arch = |x: f64| x.clamp(0.0, subclavian);
        let travel = (in_arch(from_mm) - in_arch(to_mm)).abs();
        let Some(lie) = self.settle_line(site) else { return };
        let shape = &lie.1;
        self.arch.travel_mm += travel;
        self.arch.scrape_n_mm += travel * shape.wall_n;
        if to_mm >= from_mm {
            return;
        }
        let Some((blunt_mm, soft_lead_stiff)) =
            self.lines.get(&site).and_then(|l| l.stack(&self.case.shelf).leading_tip())
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
        // What goes through leaves a hole as wide as itself.
        let through_mm = self.case.shelf.get(device).map_or(0.9, |s| outer_mm(&s.device));
        let area_mm2 = 0.25 * std::f64::consts::PI * through_mm * through_mm;
        self.face_at(&hazard, &Spot::on(site, tip.min(to_mm), area_mm2));
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

    /// What the sizing sheet says of a side's access.
    pub(super) fn access_spec(&self, site: Site) -> &AccessSpec {
        let anatomy = &self.case.case.anatomy;
        if site == Site::LeftFemoral { &anatomy.left_access } else { &anatomy.right_access }
    }

    /// Something has gone in through the artery of an access.
    pub(super) fn face_access(&mut self, site: Site, outer_mm: f64) {
        let Some(line) = self.lines.get(&site) else { return };
        let before = line.passed_mm;
        if outer_mm < LARGE_MM || outer_mm <= before {
            return;
        }
        let on_stiff_wire = line.wire(&self.case.shelf).is_some_and(|(_, w)| w.grade >= WireGrade::Stiff);
        let spec = self.access_spec(site).clone();
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
        // A slit a centimetre long that gapes by what the artery is too narrow, and never less than a rent of 6 mm² (assumed).
        let area_mm2 = 6.0 + 10.0 * (outer_mm - load.narrowest_mm).max(0.0);
        for hazard in access(&load) {
            // A vessel exposed to the eye is not entered blindly (assumed: half the odds).
            let open = self.lines.get(&site).is_some_and(|l| l.guide == Guide::CutDown);
            let hazard = hazard.times_if(open, 0.5, "open exposure (assumed)");
            self.face_at(&hazard, &Spot::on(site, 0.0, area_mm2));
        }
    }

    /// How a piece's upper end lies on the wall. Published odds go by the width on a scan, not by that of the moment of release, when
    /// pacing has emptied the aorta: what counts is the width at the patient's own mean pressure.
    fn landing(&self, piece: &Piece, ballooned: bool) -> ProximalLanding {
        let [edge_mm, _] = piece.facts.edges_mm;
        let own = self.tree.at_pressure(self.case.case.patient.map_rest_mmhg);
        let width_mm = |tree: &Tree| tree.aorta().lumen.diameter_mm(edge_mm).max(1.0);
        let grows = width_mm(&own) / width_mm(&self.tree_now());
        ProximalLanding {
            disease: Disease::of(&self.tree),
            oversize_percent: 100.0 * ((1.0 + 0.01 * piece.facts.oversize_percent[0]) / grows - 1.0),
            ballooned,
            bare_stent: piece.placed.graft.bare_proximal_mm > 0.0,
            zone_0: self.tree.zone_at(piece.facts.edges_mm[0]).0 == 0,
        }
    }

    /// A balloon has pressed a piece for the first time where it lies on the wall above.
    pub(super) fn face_pressed_landing(&mut self, piece: &Piece) {
        let before = retrograde_dissection(&self.landing(piece, false));
        let after = retrograde_dissection(&self.landing(piece, true));
        if after.probability > before.probability {
            self.face(&after.beyond(&before));
        }
    }

    /// A new tear where a piece ends in a dissected aorta.
    fn new_entry(&self, piece: &Piece) -> Option<Hazard> {
        let septum = self.tree.aorta().wall.septum.as_ref()?;
        let facts = &piece.facts;
        let inside = (septum.from_mm..septum.to_mm).contains(&facts.edges_mm[1]);
        let [up, down] = [&piece.placed.ends[0], &piece.placed.ends[1]];
        // As for the upper end: published odds go by the true lumen on a scan, not by that of a paced moment.
        let own = self.tree.at_pressure(self.case.case.patient.map_rest_mmhg);
        let width_mm = |tree: &Tree, s_mm: f64| tree.aorta().lumen.diameter_mm(s_mm).max(1.0);
        let grows = |s_mm: f64| width_mm(&own, s_mm) / width_mm(&self.tree_now(), s_mm);
        let true_mm =
            down.graft_mm / (1.0 + 0.01 * facts.oversize_percent[1]).max(0.1) * grows(facts.edges_mm[1]);
        let oversize_percent = 100.0 * (down.graft_mm / true_mm - 1.0);
        let taper = 100.0 * (1.0 - true_mm / (up.vessel_mm * grows(facts.edges_mm[0])).max(1.0));
        inside.then(|| {
            distal_new_entry(oversize_percent, taper)
                .times(0.1, "within days, of the chance within a year (assumed)")
        })
    }

    /// A high pressure on the fresh upper edge of a graft in an acute dissection: may it run back to the heart? Each quarter of an hour of
    /// the first hour above 140 mmHg counts (assumed; the odds are those of the landing itself).
    pub(super) fn follow_edge(&mut self, seconds: f64) {
        const HIGH_MMHG: f64 = 140.0;
        const EACH_S: f64 = 900.0;
        const TIMES: u8 = 4;
        let (strained_s, times) = &mut self.edge_strained;
        if *times >= TIMES || self.patient.vitals().right_radial.systolic_mmhg <= HIGH_MMHG {
            return;
        }
        let Some(piece) = self.seal.pieces.first().filter(|p| !p.placed.ends[0].in_graft) else { return };
        *strained_s += seconds;
        if *strained_s < EACH_S {
            return;
        }
        (*strained_s, *times) = (0.0, *times + 1);
        let at = self.landing(&piece.clone(), false);
        if at.disease == Disease::AcuteDissection {
            let hazard = retrograde_dissection(&at);
            self.face(&hazard.times(0.3, "a quarter of an hour above 140 mmHg on a fresh edge (assumed)"));
        }
    }

    /// The mean pressure of the last ten minutes or so.
    pub(super) fn follow_pressure(&mut self, seconds: f64) {
        const LATE_S: f64 = 600.0;
        let now = self.patient.vitals().right_radial.mean_mmhg;
        self.late_map_mmhg += (now - self.late_map_mmhg) * (1.0 - ops::exp(-seconds / LATE_S));
    }

    /// Every so many millilitres of drained spinal fluid: may the brain have sunk too far?
    pub(super) fn follow_spinal_drain(&mut self) {
        const EACH_ML: f64 = 50.0;
        let by_now_ml = self.patient.csf_drained_ml();
        let (since, before_ml) = self.spinal_asked;
        if before_ml == by_now_ml {
            return;
        }
        if by_now_ml < before_ml + EACH_ML {
            // An hour in which nothing was due would only thin the rate of the next.
            if before_ml == 0.0 && since == Tick(0) {
                self.spinal_asked.0 = self.now;
            }
            return;
        }
        let hours = ((self.now.0 - since.0) as f64 / (3600.0 * Tick::PER_SECOND as f64)).max(1e-3);
        self.spinal_asked = (self.now, by_now_ml);
        let csf_mmhg = self.patient.organs().csf_mmhg;
        let rate_ml_h = (by_now_ml - before_ml) / hours;
        self.face(&subdural(&Drained { before_ml, by_now_ml, rate_ml_h, csf_mmhg }));
    }

    /// An anticoagulant has been given: may a back that was punctured bleed?
    pub(super) fn face_canal(&mut self, drug: Drug, amount_iu: f64) {
        // Half the effect at 100 IU for each kilogram (`circulation`).
        let part = match drug {
            Drug::Heparin => 1.0,
            Drug::LowMolecularHeparin => LOW_MOLECULAR_PART,
            _ => return,
        };
        if !self.case.case.in_place.bloody_puncture {
            return;
        }
        let doses = amount_iu / (100.0 * self.case.case.patient.mass_kg);
        self.face(&canal_bleed(part * doses / (1.0 + doses)));
    }

    /// A graft has been let go: what its landing and its cover may do.
    pub(super) fn face_coverage(&mut self) {
        let Some(piece) = self.seal.pieces.last().cloned() else { return };
        let facts = &piece.facts;
        let zone = self.tree.zone_at(facts.edges_mm[0]).0;
        // An edge inside an earlier piece touches no wall.
        let thoracic = zone < 6;
        if thoracic && !piece.placed.ends[0].in_graft {
            self.face(&retrograde_dissection(&self.landing(&piece, false)));
        }
        if let Some(hazard) = self.new_entry(&piece)
            && self.face(&hazard)
        {
            self.new_entry_at(facts.edges_mm[1]);
        }
        let lost = |v: VesselName| {
            facts.covered.iter().any(|c| c.0 == v && c.1 < 0.5) && !self.bypassed.contains(&v)
        };
        let subclavian_lost = lost(VesselName::LeftSubclavian);
        // An edge on the rim of a mouth that stays open has landed beyond it: published odds of zone 2 are of covered subclavians.
        let rim = zone == 2 && !facts.covered.iter().any(|c| c.0 == VesselName::LeftSubclavian && c.1 < 0.5);
        let work = ArchWork {
            zone: if rim { 3 } else { zone },
            left_subclavian_lost: subclavian_lost,
            left_subclavian_fed: !rim && zone <= 2 && self.bypassed.contains(&VesselName::LeftSubclavian),
            left_vertebral_dominant: self.case.case.patient.left_vertebral_share > 0.6,
            young: self.case.case.patient.age_years < YOUNG_YEARS,
            ..self.arch
        };
        for hazard in stroke(&work) {
            self.face(&hazard);
        }
        // The published odds of cord ischaemia are of thoracic grafts.
        if !thoracic {
            return;
        }
        let coeliac = self.tree.ostium_s_mm(VesselName::Coeliac).unwrap_or(1e3);
        let closed =
            |v: VesselName| self.narrowed.iter().filter(|n| n.0.0 == v).map(|n| *n.1).product::<f64>() < 0.5;
        let pelvic = [VesselName::RightInternalIliac, VesselName::LeftInternalIliac];
        let lumbar = (0.80 * self.aorta_mm(), 0.98 * self.aorta_mm());
        let hidden: f64 = self.seal.spans().map(|(a, b)| (b.min(lumbar.1) - a.max(lumbar.0)).max(0.0)).sum();
        let supply = CordSupply {
            covered_mm: self.covered_length_mm(),
            open_above_coeliac_mm: (coeliac - facts.edges_mm[1]).max(0.0),
            subclavian_lost,
            lumbar_lost: hidden > 0.5 * (lumbar.1 - lumbar.0),
            hypogastrics_lost: pelvic.into_iter().filter(|v| closed(*v)).count() as u8,
            // Published odds are of pressures that last, not of the minute of pacing in which the graft is let go.
            map_mmhg: self.late_map_mmhg,
            csf_mmhg: self.patient.organs().csf_mmhg,
            hb_g_l: self.patient.blood().haemoglobin_g_l(),
        };
        // The cord itself lives or dies by its computed flow; the published odds stand beside it.
        self.weigh(&cord(&supply));
    }
}
