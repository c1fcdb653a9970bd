//! Risks: each computed where something was done, drawn once from a stream of its own, and kept with what it was made of.

use super::torn::Torn;
use super::{Narrows, World};
use crate::anatomy::{Site, VesselName};
use crate::circulation::{Organ, Space};
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
        self.face_at(hazard, &Spot::default())
    }

    /// The same, with the place where it would act.
    pub(super) fn face_at(&mut self, hazard: &Hazard, spot: &Spot) -> bool {
        let id = hazard.kind.id();
        let p = hazard.probability.clamp(0.0, 1.0);
        if p < NEGLIGIBLE {
            return false;
        }
        let n = self.risks.drawn.entry(id).or_insert(0);
        // The n-th exposure has a die of its own: an exposure that a fork adds moves no other risk's dice.
        let struck = self.dice.chance(format!("risk/{id}/{n}"), p);
        *n += 1;
        self.accrue(hazard, struck);
        if struck {
            self.risks.struck.push(id);
            self.suffer(hazard.kind, spot);
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

    /// What a risk that struck does to the patient, by the place and the size of what did it.
    pub(super) fn suffer(&mut self, kind: HazardKind, spot: &Spot) {
        match kind {
            HazardKind::Stroke(territory) => {
                let share = self.drawn(kind, "share", 0.1, 0.5);
                let organ = match territory {
                    Territory::Right => Organ::RightBrain,
                    Territory::Left => Organ::LeftBrain,
                    Territory::Posterior => Organ::PosteriorBrain,
                };
                self.patient.injure(organ, share);
            }
            HazardKind::Perforation => {
                let tear = self.torn_at(kind.id(), spot);
                self.tear(tear);
            }
            // The ventricle bleeds in systole only: about 40 % of the time (textbook), so that part of the hole.
            HazardKind::VentriclePerforation => {
                self.tear(Torn::in_aorta(self, kind.id(), 5.0, 0.4 * spot.area_mm2.max(2.0)));
            }
            // A torn leaflet lets blood back through a mild to severe orifice (ESC/EACTS 2021 bands, as in `circulation`).
            HazardKind::ValveInjury => {
                let orifice_cm2 = self.drawn(kind, "orifice", 0.07, 0.38);
                self.patient.set_aortic_regurgitation(orifice_cm2);
            }
            HazardKind::RetrogradeDissection => {
                self.tear(Torn::in_aorta(self, kind.id(), 30.0, 4.0));
            }
            HazardKind::AorticTear => {
                let (from, to) = self.seal.lesion_mm();
                if (from..to).contains(&spot.rail_mm) && self.seal.ruptured() {
                    self.seal.widen_rupture(spot.area_mm2);
                    self.seal.declare(&mut self.patient);
                } else {
                    let tear = self.torn_at(kind.id(), spot);
                    self.tear(tear);
                }
            }
            // What made the tear plugs it; it bleeds when that comes out (see `torn`).
            HazardKind::AccessRupture => {
                let site = spot.site.unwrap_or(Site::RightFemoral);
                let tear = Torn::in_access(self, site, spot.area_mm2);
                self.tear(tear);
            }
            HazardKind::AccessDissection => {
                let vessel = Torn::in_access(self, spot.site.unwrap_or(Site::RightFemoral), 0.0).vessel;
                self.narrow(vessel, Narrows::Flap, FLAP_LEAVES);
            }
            HazardKind::ClosureFailure => {
                let site = spot.site.unwrap_or(Site::RightFemoral);
                self.tear(Torn::in_groin(self, site, spot.area_mm2));
            }
            // It presses on the half of the brain that it lies over; how wide it is, is drawn (assumed).
            HazardKind::Subdural => {
                let right = self.drawn(kind, "side", 0.0, 1.0) < 0.5;
                let side = if right { Organ::RightBrain } else { Organ::LeftBrain };
                let share = self.drawn(kind, "share", 0.06, 0.3);
                self.patient.injure(side, share);
            }
            // Clot in the canal presses on the cord; how much of it, is drawn (assumed: few are found in time).
            HazardKind::CanalBleed => {
                let share = self.drawn(kind, "share", 0.3, 0.9);
                self.patient.injure(Organ::Cord, share);
            }
            // Each of these acts where it is faced, for only there is known what it acts on: `deploy`, `embolise`, `slip`, `septum`.
            HazardKind::BalloonBurst
            | HazardKind::NonTargetEmbolus
            | HazardKind::Migration
            | HazardKind::DistalNewEntry => {}
            // The cord lives or dies by its computed flow.
            HazardKind::CordIschaemia => {}
        }
    }

    /// How large something is that a risk does once it has struck.
    pub(super) fn drawn(&mut self, kind: HazardKind, what: &str, low: f64, high: f64) -> f64 {
        let id = kind.id();
        let n = self.risks.struck.iter().filter(|s| **s == id).count();
        self.dice.range(format!("suffer/{id}/{n}/{what}"), low, high)
    }

    /// A tear at a spot: of the aorta, or of the vessel of that line.
    fn torn_at(&self, id: &str, spot: &Spot) -> Torn {
        if let Some(vessel) = spot.vessel {
            let (id, s_mm, area_mm2) = (id.into(), spot.rail_mm, spot.area_mm2);
            return Torn { id, vessel, s_mm, area_mm2, into: Space::Retroperitoneum, left: 1.0 };
        }
        let place = spot.site.and_then(|s| self.rail(s)).map(|r| r.place(spot.rail_mm));
        match place {
            Some((index, s_mm)) if index > 0 => {
                let vessel = self.tree.vessels[index].name;
                Torn {
                    id: id.into(),
                    vessel,
                    s_mm,
                    area_mm2: spot.area_mm2,
                    into: Space::Retroperitoneum,
                    left: 1.0,
                }
            }
            _ => Torn::in_aorta(self, id, spot.rail_mm, spot.area_mm2),
        }
    }
}

/// Where and how large a risk would act.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spot {
    /// The line that did it.
    pub site: Option<Site>,
    /// Place on its rail, mm.
    pub rail_mm: f64,
    /// Hole that it would leave, mm².
    pub area_mm2: f64,
    /// A branch of the aorta, where it acts in one: the place is then an arc length on that.
    pub vessel: Option<VesselName>,
}

impl Spot {
    /// On the rail of a line.
    pub fn on(site: Site, rail_mm: f64, area_mm2: f64) -> Self {
        Self { site: Some(site), rail_mm, area_mm2, vessel: None }
    }
}

/// Part of an access artery's opening that a lifted intima leaves (assumed).
const FLAP_LEAVES: f64 = 0.35;
