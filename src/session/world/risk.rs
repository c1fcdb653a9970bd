//! Risks: each computed where something was done, drawn once from a stream of its own, and kept with what it was made of.

use super::World;
use crate::anatomy::VesselName;
use crate::circulation::{Bleed, Organ, Site as Node, Space};
use crate::session::event::EventKind;
use std::collections::BTreeMap;

/// PEND
pub struct Hazard {
    pub id: &'static str,
    pub probability: f64,
    pub because: Vec<(String, f64)>,
}

/// Probabilities as accrued: by name, that it has happened at least once by now if nothing else had intervened.
#[derive(Clone, Debug, Default)]
pub struct Risks {
    accrued: BTreeMap<String, f64>,
    drawn: BTreeMap<String, u32>,
    /// What struck.
    pub struck: Vec<String>,
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
        let p = hazard.probability.clamp(0.0, 1.0);
        if p < NEGLIGIBLE {
            return false;
        }
        let n = self.risks.drawn.entry(hazard.id.to_string()).or_insert(0);
        // The n-th exposure has a stream of its own: an exposure that a fork adds moves no other risk's dice.
        let struck = self.streams.named(&format!("risk/{}/{n}", hazard.id)).chance(p);
        *n += 1;
        let so_far = self.risks.accrued.entry(hazard.id.to_string()).or_insert(0.0);
        *so_far = 1.0 - (1.0 - *so_far) * (1.0 - p);
        let because = hazard.because.iter().map(|(k, v)| (k.to_string(), *v)).collect();
        self.report(EventKind::Risk { id: hazard.id.to_string(), probability: p, because, struck });
        if struck {
            self.risks.struck.push(hazard.id.to_string());
            self.suffer(hazard.id);
        }
        struck
    }

    /// What a risk that struck does to the patient. Sizes of holes and injuries are assumed.
    fn suffer(&mut self, id: &str) {
        match id {
            "stroke" | "air" => {
                let mut dice = self.streams.named(&format!("suffer/{id}"));
                let left = dice.chance(0.5);
                let share = dice.range(0.1, 0.5);
                //PEND self.patient.injure(if left { Organ::LeftBrain } else { Organ::RightBrain }, share);
            }
            "perforation" => {
                self.tear("perforation", Node::AortaMm(20.0), 1.5, Space::PericardialSac);
            }
            "retrograde_dissection" => {
                self.tear("retrograde_dissection", Node::AortaMm(30.0), 4.0, Space::PericardialSac);
            }
            "wall_tear" => {
                self.seal.scale_rupture(4.0);
                self.seal.declare(&mut self.patient);
            }
            "access" => {
                // The sheath plugs the tear; it bleeds when the sheath comes out (see `access`).
                self.risks.struck.push("access_torn".into());
            }
            _ => {}
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
