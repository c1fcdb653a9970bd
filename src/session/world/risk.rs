//! Risks: each computed where something was done, drawn once from a stream of its own, and kept with what it was made of.

use super::World;
use crate::anatomy::VesselName;
use crate::circulation::{Bleed, Organ, Site as Node, Space};
use crate::mechanics::{Hazard, HazardKind, Territory};
use crate::session::event::EventKind;
use std::collections::BTreeMap;

/// Probabilities as accrued: by name, that it has happened at least once by now if nothing else had intervened.
#[derive(Clone, Debug, Default)]
pub struct Risks {
    accrued: BTreeMap<&'static str, f64>,
    drawn: BTreeMap<&'static str, u32>,
    /// What struck.
    pub struck: Vec<&'static str>,
}

impl Risks {
    /// Probability of a risk so far, 0 to 1.
    pub fn accrued(&self, id: &str) -> f64 {
        self.accrued.get(id).copied().unwrap_or(0.0)
    }
}

/// Below this a hazard is neither drawn nor told: one in a hundred thousand.
const NEGLIGIBLE: f64 = 1e-5;

impl World {
    /// Draws a hazard and lets it act. True when it struck.
    pub(super) fn face(&mut self, hazard: &Hazard) -> bool {
        self.face_at(hazard, 0.0)
    }

    /// The same, with the place on the rail where it would act.
    pub(super) fn face_at(&mut self, hazard: &Hazard, at_mm: f64) -> bool {
        let id = hazard.kind.id();
        let p = hazard.probability.clamp(0.0, 1.0);
        if p < NEGLIGIBLE {
            return false;
        }
        let n = self.risks.drawn.entry(id).or_insert(0);
        // The n-th exposure has a stream of its own: an exposure that a fork adds moves no other risk's dice.
        let struck = self.streams.named(&format!("risk/{id}/{n}")).chance(p);
        *n += 1;
        self.accrue(hazard, struck);
        if struck {
            self.risks.struck.push(id);
            self.suffer(hazard.kind, at_mm);
        }
        struck
    }

    /// Notes a published chance without drawing it: the model itself decides what it stands for.
    pub(super) fn weigh(&mut self, hazard: &Hazard) {
        self.accrue(hazard, false);
    }

    fn accrue(&mut self, hazard: &Hazard, struck: bool) {
        let id = hazard.kind.id();
        let p = hazard.probability.clamp(0.0, 1.0);
        let so_far = self.risks.accrued.entry(id).or_insert(0.0);
        *so_far = 1.0 - (1.0 - *so_far) * (1.0 - p);
        self.report(EventKind::Risk {
            id: id.into(),
            probability: p,
            because: hazard.because.clone(),
            struck,
        });
    }

    /// What a risk that struck does to the patient. Sizes of holes and injuries are assumed.
    fn suffer(&mut self, kind: HazardKind, at_mm: f64) {
        match kind {
            HazardKind::Stroke(territory) => {
                let share = self.streams.named(&format!("suffer/{}", kind.id())).range(0.1, 0.5);
                let organ = match territory {
                    Territory::Right => Organ::RightBrain,
                    Territory::Left => Organ::LeftBrain,
                    Territory::Posterior => Organ::PosteriorBrain,
                };
                self.patient.injure(organ, share);
            }
            HazardKind::Perforation => {
                let end = self.tree.aorta().curve.length_mm();
                let (from, into) = match at_mm {
                    s if s < PERICARDIUM_MM => (Node::AortaMm(s), Space::PericardialSac),
                    s if s < 0.45 * end => (Node::AortaMm(s), Space::Mediastinum),
                    s if s < end => (Node::AortaMm(s), Space::Retroperitoneum),
                    _ => (Node::Vessel(VesselName::RightExternalIliac), Space::Retroperitoneum),
                };
                self.tear(kind.id(), from, 1.5, into);
            }
            HazardKind::VentriclePerforation => {
                self.tear(kind.id(), Node::AortaMm(5.0), 2.0, Space::PericardialSac)
            }
            HazardKind::RetrogradeDissection => {
                self.tear(kind.id(), Node::AortaMm(30.0), 4.0, Space::PericardialSac)
            }
            HazardKind::AorticTear => {
                self.seal.scale_rupture(4.0);
                self.seal.declare(&mut self.patient);
            }
            // The sheath plugs the tear; it bleeds when the sheath comes out (see `access`).
            HazardKind::AccessRupture => self.access_torn = true,
            HazardKind::AccessDissection => self.patient.set_patency(VesselName::RightExternalIliac, 0.35),
            // Known by what is seen: no state of the patient stands for these yet.
            HazardKind::ValveInjury
            | HazardKind::BalloonBurst
            | HazardKind::NonTargetEmbolus
            | HazardKind::Migration
            | HazardKind::DistalNewEntry
            | HazardKind::CordIschaemia => {}
        }
    }

    /// Opens the tear of an access vessel once nothing plugs it any more.
    pub(super) fn unplug_access(&mut self, vessel: VesselName) {
        self.tear("access", Node::Vessel(vessel), 8.0, Space::Retroperitoneum);
    }

    fn tear(&mut self, id: &str, from: Node, area_mm2: f64, into: Space) {
        self.set_hole(id, Bleed { from, into, area_mm2, clots: true });
    }
}

/// The pericardium reaches about so far up the ascending aorta, mm (anatomy texts; common practice).
const PERICARDIUM_MM: f64 = 70.0;
