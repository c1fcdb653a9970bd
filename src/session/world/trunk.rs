//! The patient's trunk as the X-rays meet it: drawn once a case, and again when blood has gathered outside the vessels.

use super::World;
use super::seal::SAC;
use crate::anatomy::{Cavity, Tree};
use crate::circulation::{Site, Space};
use crate::imaging::{Beam, Body, Pool, Spill};
use crate::math::Vec3;
use crate::scenario::Loaded;
use std::sync::{Arc, OnceLock};

/// Blood must gather or leave by this much before the trunk is drawn again, ml.
const STEP_ML: f64 = 25.0;
/// Of the blood that has gathered, how much is still liquid about the tear, where contrast can spread, ml (assumed).
const LIQUID_ML: (f64, f64) = (2.0, 30.0);

/// The trunk, dry and as it is now. Clones of a session share what one of them has drawn.
#[derive(Clone, Debug, Default)]
pub(super) struct Trunk {
    dry: Arc<OnceLock<Body>>,
    now: Arc<OnceLock<Body>>,
    steps: [u32; HOLLOWS.len()],
}

/// Spaces of the circulation that a picture shows, and their names in the anatomy.
const HOLLOWS: [(Space, Cavity); 5] = [
    (Space::PericardialSac, Cavity::PericardialSac),
    (Space::Mediastinum, Cavity::Mediastinum),
    (Space::LeftPleura, Cavity::LeftPleura),
    (Space::RightPleura, Cavity::RightPleura),
    (Space::Retroperitoneum, Cavity::Retroperitoneum),
];

/// The trunk as the planning CT shows it: with the blood that was lost before the call.
pub fn planned_body(case: &Loaded) -> Body {
    let spilled = HOLLOWS.iter().filter_map(|(space, into)| {
        let ml: f64 = case.case.start.lost_ml.iter().filter(|l| l.0 == *space).map(|l| l.1).sum();
        (ml >= STEP_ML).then(|| Spill { into: *into, ml, from: tear(&case.tree).0 })
    });
    Body::new(&case.tree, &Beam::default()).with_spilled(&spilled.collect::<Vec<_>>())
}

/// Where the lesion's wall gives way, and the direction outward.
fn tear(tree: &Tree) -> (Vec3, Vec3) {
    let aorta = tree.aorta();
    let Some(lesion) = aorta.wall.lesions.first() else {
        let end = aorta.curve.frame(aorta.curve.length_mm());
        return (end.at, end.normal);
    };
    let (s_mm, theta_rad) = (lesion.at_mm(), lesion.theta_rad.unwrap_or(0.0));
    let frame = aorta.curve.frame(s_mm);
    let out = frame.radial(theta_rad);
    (frame.at + out * aorta.lumen.radius(s_mm, theta_rad), out)
}

impl World {
    /// The trunk of now.
    pub(super) fn body(&self) -> &Body {
        let dry = || self.trunk.dry.get_or_init(|| Body::new(&self.tree, &Beam::default()));
        self.trunk.now.get_or_init(|| {
            let spill = |(k, steps): (usize, &u32)| {
                let (space, into) = HOLLOWS[k];
                let ml = f64::from(*steps) * STEP_ML;
                (ml > 0.0).then(|| Spill { into, ml, from: self.bled_from(space) })
            };
            let spilled: Vec<Spill> = self.trunk.steps.iter().enumerate().filter_map(spill).collect();
            dry().with_spilled(&spilled)
        })
    }

    /// Forgets the drawn trunk when blood has gathered since.
    pub(super) fn follow_trunk(&mut self) {
        let steps = HOLLOWS.map(|(space, _)| (self.patient.lost_ml(space) / STEP_ML).max(0.0) as u32);
        if steps != self.trunk.steps {
            self.trunk.steps = steps;
            self.trunk.now = Arc::default();
        }
    }

    /// The place whose blood fills a space: a tear of the work that leads there, a torn branch of the case, or the lesion.
    fn bled_from(&self, space: Space) -> Vec3 {
        let at = |i: usize, s_mm: f64| self.tree.vessels[i].curve.point(s_mm);
        let torn = self.torn.iter().find(|t| t.into == space);
        let torn = torn.and_then(|t| Some(at(self.tree.index(t.vessel)?, t.s_mm)));
        let hole = self.holes.values().find(|h| h.into == space).and_then(|h| match h.from {
            Site::Vessel(name) => self.tree.index(name),
            Site::AortaMm(_) | Site::Veins => None,
        });
        let half = |i: usize| at(i, 0.5 * self.tree.vessels[i].curve.length_mm());
        torn.or(hole.map(half)).unwrap_or_else(|| tear(&self.tree).0)
    }

    /// The liquid blood beside the open tear: what contrast runs into.
    pub(super) fn pool(&self) -> Option<Pool> {
        let into = self.seal.bleeds_into()?;
        if self.patient.bleed_ml_s(SAC)?.0 <= 0.0 {
            return None;
        }
        let (at, out) = tear(&self.tree);
        Pool::beside(at + out, out, self.patient.lost_ml(into).clamp(LIQUID_ML.0, LIQUID_ML.1))
    }
}
