//! A dissected aorta: the false lumen as a sac that its tears feed, and a septum that gives way to whichever side presses.
//!
//! Where the false lumen stands at a higher pressure than the true one, the septum bulges into it: the true lumen narrows, the jet
//! through it costs pressure further down, and that makes it narrower still. So a wide entry without a way out starves what
//! the true lumen feeds, more so the more the heart ejects; a graft over the entry leaves the false lumen only the lower pressure of
//! its re-entries, and the true lumen opens again. This is dynamic obstruction (Williams, J Vasc Interv Radiol 1997; shape of the
//! septum's law assumed). A branch whose own mouth is torn or clotted is static: write it as a stenosis.

use super::{Narrows, World};
use crate::anatomy::{Root, Septum, VesselName};
use crate::circulation::{Feed, Site as Node, bleed::orifice_k};
use crate::math::ops;

/// Pressure across the septum that narrows the true lumen to a third, mmHg (assumed: it is thin and slack).
const GIVES_MMHG: f64 = 8.0;
/// Least part of the true lumen that is left (assumed: blood always finds a slit).
const SLIT: f64 = 0.12;
/// Time in which the septum moves over many beats, s (assumed).
const MOVES_S: f64 = 6.0;
/// Growth of a false lumen's volume, for each mmHg (distensibility of an adult aorta, 1 to 4e-3 per mmHg; textbook).
const STRETCH_PER_MMHG: f64 = 3e-3;
/// A tear that a graft's lower end makes is about as wide as this, mm (assumed).
const NEW_ENTRY_MM: f64 = 8.0;

/// Compliance of the false lumen, mL/mmHg.
pub(super) fn compliance_ml_mmhg(tree: &crate::anatomy::Tree) -> f64 {
    let Some(channel) = tree.get(VesselName::FalseLumen) else { return 0.3 };
    let length = channel.curve.length_mm();
    let area = (0..5).map(|i| channel.lumen.area_mm2(length * (f64::from(i) + 0.5) / 5.0)).sum::<f64>() / 5.0;
    (area * length * 1e-3 * STRETCH_PER_MMHG).clamp(0.05, 5.0)
}

/// A hole in the septum as a way into the false lumen.
pub(super) fn tear_feed(s_mm: f64, diameter_mm: f64) -> Feed {
    Feed { from: Node::AortaMm(s_mm), r: 0.01, k: orifice_k(area_mm2(diameter_mm)) }
}

/// Small branches that tore off as the wall split are holes in the septum too, the lowest of them near its end: they even the false
/// lumen out slowly when nothing else does (natural fenestrations; size assumed).
pub(super) fn torn_branches(septum: &Septum) -> Feed {
    Feed { from: Node::AortaMm(septum.to_mm - 5.0), r: 20.0, k: 0.0 }
}

fn area_mm2(diameter_mm: f64) -> f64 {
    0.25 * std::f64::consts::PI * diameter_mm * diameter_mm
}

impl World {
    /// Once a second: the septum follows the pressures on its sides.
    pub(super) fn follow_septum(&mut self, seconds: f64) {
        let tree = std::sync::Arc::clone(&self.tree);
        let Some(septum) = &tree.aorta().wall.septum else { return };
        let at = self.narrowest_true_mm(septum);
        let false_mmhg = self.patient.sac(super::seal::SAC).map_or(0.0, |s| s.0);
        let below = (at + 30.0).min(septum.to_mm);
        let across = false_mmhg - self.patient.pressure_mmhg(below);
        let goal = ops::exp(-across.max(0.0) / GIVES_MMHG).max(SLIT);
        let step = 1.0 - ops::exp(-seconds.min(60.0) / MOVES_S);
        self.true_open += (goal - self.true_open) * step;
        // Fabric holds the true lumen open where it lies.
        let open = if self.seal.under_fabric(at) { 1.0 } else { self.true_open };
        self.patient.set_occlusion(at, 1.0 - open);
        self.follow_branches(septum, open);
    }

    /// Where the true lumen gives way: a little above the coeliac artery, or in the middle of a dissection that ends above it.
    fn narrowest_true_mm(&self, septum: &Septum) -> f64 {
        let coeliac = self.tree.aortic_s_mm(VesselName::Coeliac).unwrap_or(septum.to_mm);
        (coeliac - 40.0).clamp(septum.from_mm + 20.0, (septum.to_mm - 20.0).max(septum.from_mm + 20.0))
    }

    /// What the septum does to the mouths of branches: it lies over those of the true lumen as far as that has collapsed; those of
    /// the false lumen get what its tears let in.
    fn follow_branches(&mut self, septum: &Septum, open: f64) {
        let tears = self.open_tears_mm2(septum);
        let tree = std::sync::Arc::clone(&self.tree);
        for vessel in tree.vessels.iter().filter(|v| v.name != VesselName::FalseLumen) {
            let Some(root) = vessel.root else { continue };
            let from_false = tree.vessels[root.parent].name == VesselName::FalseLumen;
            let from_true = root.parent == 0 && (septum.from_mm..septum.to_mm).contains(&root.s_mm);
            let part = match (from_false, from_true) {
                (true, _) => in_series(tears, &root),
                // A mouth is covered later than the lumen narrows (assumed: by its square).
                (_, true) => 1.0 - (1.0 - open) * (1.0 - open),
                _ => continue,
            };
            let was = self.narrowed.get(&(vessel.name, Narrows::Septum)).copied().unwrap_or(1.0);
            if (was - part).abs() > 0.01 {
                self.narrow(vessel.name, Narrows::Septum, part);
            }
        }
    }

    /// Area of all tears that no graft lies over, mm².
    fn open_tears_mm2(&self, septum: &Septum) -> f64 {
        septum.tears.iter().map(|t| area_mm2(t.diameter_mm).min(self.seal.under_mm2(t.true_s_mm))).sum()
    }

    /// The lower end of a graft has torn the septum.
    pub(super) fn new_entry_at(&mut self, s_mm: f64) {
        self.seal.reentries.push(tear_feed(s_mm, NEW_ENTRY_MM));
        self.seal.declare(&mut self.patient);
    }
}

/// What is left of a mouth when all that feeds it comes through holes of a given area: orifices one behind the other.
fn in_series(holes_mm2: f64, root: &Root) -> f64 {
    let mouth = std::f64::consts::PI * root.radius_mm * root.radius_mm;
    let ratio = mouth / holes_mm2.max(0.01);
    1.0 / (1.0 + ratio * ratio).sqrt()
}
