//! A dissected aorta: the false lumen as a sac that its tears feed, and a septum that gives way to whichever side presses.
//!
//! Where the false lumen stands at a higher pressure than the true one, the septum bulges into it: the true lumen narrows, the jet
//! through it costs pressure further down, and that makes it narrower still. So a wide entry without a way out starves what
//! the true lumen feeds, more so the more the heart ejects; a graft over the entry leaves the false lumen only the lower pressure of
//! its re-entries, and the true lumen opens again. This is dynamic obstruction (Williams, J Vasc Interv Radiol 1997; shape of the
//! septum's law assumed). A branch whose own mouth is torn or clotted (`blocked`) is static: a stent opens it. What leaves the
//! false lumen is fed by it; a groin whose artery does leads what is brought up from it into the false lumen.

use super::{Narrows, World};
use crate::anatomy::{Septum, Site, Tree, VesselName};
use crate::circulation::{Feed, Site as Node, bleed::orifice_k};
use crate::kit::Graft;
use crate::math::ops;
use crate::scenario::Loaded;
use std::sync::Arc;

/// Pressure across the septum that narrows the true lumen to a third, mmHg (assumed: it is thin and slack).
const GIVES_MMHG: f64 = 8.0;
/// Least part of the true lumen that is left (assumed: blood always finds a slit).
const SLIT: f64 = 0.12;
/// Time in which the septum moves over many beats, s (assumed).
const MOVES_S: f64 = 6.0;
/// What the septum's own give adds to the compliance of the whole aorta, mL/mmHg (assumed).
pub(super) const COMPLIANCE_ML_MMHG: f64 = 0.3;
/// Most of the section that the true lumen takes once the false one has lost its pressure (assumed: the rest is the clotting channel).
const WIDEST: f64 = 0.8;
/// Up to this age the septum is thin and moves (the guidelines' acute dissection).
const ACUTE_DAYS: f64 = 14.0;
/// Fabric over the true lumen that has given way to it.
const LIES_ON: f64 = 1.1;
/// A tear that a graft's lower end makes is about as wide as this, mm (assumed).
const NEW_ENTRY_MM: f64 = 8.0;

/// The aorta before it tore; none when it did not.
pub(super) fn before(case: &Loaded) -> Option<Arc<Tree>> {
    let mut spec = case.case.anatomy.clone();
    spec.dissection.take()?;
    spec.build().ok().map(Arc::new)
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

/// How far the true lumen is open, of its width at the CT, where the false one presses by `across_mmhg` more than it: narrower by its
/// pressure, wider by its own.
fn opens(across_mmhg: f64, fraction: f64) -> f64 {
    let share = ops::exp(-across_mmhg.abs() / GIVES_MMHG);
    if across_mmhg > 0.0 { share.max(SLIT) } else { 1.0 + (WIDEST / fraction - 1.0).max(0.0) * (1.0 - share) }
}

impl World {
    /// Once a second: the septum follows the pressures on its sides.
    pub(super) fn follow_septum(&mut self, seconds: f64) {
        let tree = Arc::clone(&self.tree);
        let Some(septum) = &tree.aorta().wall.septum else { return };
        let at = self.narrowest_true_mm(septum);
        let false_mmhg = self.patient.sac(super::seal::SAC).map_or(0.0, |s| s.0);
        let below = (at + 30.0).min(septum.to_mm);
        let across = false_mmhg - self.patient.pressure_mmhg(below);
        // A graft that stands open in the false lumen holds the septum against the far wall.
        let pressed = self.false_grafts > 0;
        let goal = if pressed { SLIT } else { opens(across, septum.true_fraction) };
        let step = 1.0 - ops::exp(-seconds.min(60.0) / MOVES_S);
        self.true_open += (goal - self.true_open) * step;
        // Fabric holds the true lumen open where it lies.
        let fabric = self.seal.under_fabric(at);
        let open = if fabric { 1.0 } else { self.true_open };
        let part = if fabric { 1.0 } else { (septum.true_fraction * self.true_open).min(1.0) };
        self.patient.set_occlusion(at, 1.0 - part);
        self.follow_branches(septum, open.min(1.0));
    }

    /// Where the true lumen gives way: a little above the coeliac artery, or in the middle of a dissection that ends above it.
    fn narrowest_true_mm(&self, septum: &Septum) -> f64 {
        let coeliac = self.tree.aortic_s_mm(VesselName::Coeliac).unwrap_or(septum.to_mm);
        (coeliac - 40.0).clamp(septum.from_mm + 20.0, (septum.to_mm - 20.0).max(septum.from_mm + 20.0))
    }

    /// What the septum does to the mouths of branches: it lies over those of the true lumen as far as that has collapsed, unless a
    /// stent holds them.
    fn follow_branches(&mut self, septum: &Septum, open: f64) {
        let tree = Arc::clone(&self.tree);
        // A mouth is covered later than the lumen narrows (assumed: by its square).
        let part = 1.0 - (1.0 - open) * (1.0 - open);
        for vessel in tree.vessels.iter().filter(|v| v.name != VesselName::FalseLumen) {
            let Some(root) = vessel.root.filter(|r| r.parent == 0) else { continue };
            if !(septum.from_mm..septum.to_mm).contains(&root.s_mm) {
                continue;
            }
            let part = if self.held_mouths.contains(&vessel.name) { 1.0 } else { part };
            let was = self.narrowed.get(&(vessel.name, Narrows::Septum)).copied().unwrap_or(1.0);
            if (was - part).abs() > 0.01 {
                self.narrow(vessel.name, Narrows::Septum, part);
            }
        }
    }

    /// The split aorta as the case begins: what the false lumen feeds hangs on it, and torn mouths are narrow.
    pub(super) fn split(&mut self) {
        let tree = Arc::clone(&self.tree);
        let Some(septum) = &tree.aorta().wall.septum else { return };
        for vessel in &tree.vessels {
            if self.of_false_lumen(vessel.name) {
                self.patient.feed_from_sac(vessel.name);
            }
        }
        for (vessel, open) in &septum.mouths {
            self.narrow(*vessel, Narrows::Mouth, *open);
        }
    }

    /// The vessels as a graft finds them that opens here. A fresh septum gives way to its springs: the aorta is whole again round the
    /// fabric, as far as that reaches, and the septum lies on it as a wall that is a little narrower (assumed). An old one is stiff
    /// and stays. Places are read off the whole aorta's own line, a few millimetres from the true lumen's.
    pub(super) fn given_way(&self, graft: &Graft, edge_mm: f64) -> Tree {
        let septum = self.tree.aorta().wall.septum.as_ref().filter(|s| s.age_days <= ACUTE_DAYS);
        let (Some(septum), Some(whole)) = (septum, &self.whole) else { return self.tree_now() };
        let mut tree = whole.at_pressure(self.patient.vitals().right_radial.mean_mmhg);
        let lumen = &mut tree.vessels[0].lumen;
        for i in 0..lumen.stations() {
            let s_mm = lumen.step_mm() * i as f64;
            if !(septum.from_mm..septum.to_mm).contains(&s_mm) {
                continue;
            }
            let along = (s_mm - edge_mm).clamp(0.0, graft.open_length_mm());
            let lies_mm = 0.5 * graft.diameter_at_mm(along) / LIES_ON;
            lumen.ring_mut(i).iter_mut().for_each(|r| *r = r.min(lies_mm));
        }
        tree
    }

    /// Does this branch leave the false lumen?
    pub(super) fn of_false_lumen(&self, name: VesselName) -> bool {
        let parent = self.tree.get(name).and_then(|v| v.root).and_then(|r| self.tree.vessels.get(r.parent));
        parent.is_some_and(|p| p.name == VesselName::FalseLumen)
    }

    /// Does what is brought up from here come into the false lumen? It is then taken to lie there as it would in the true one, and
    /// to come out of it through the entry tear.
    pub(super) fn in_false_lumen(&self, site: Site) -> bool {
        self.rail(site).and_then(|r| r.legs.get(1).map(|l| l.name)).is_some_and(|v| self.of_false_lumen(v))
    }

    /// The place of a tip in the false lumen, mm along that; none where there is no false lumen.
    pub(super) fn false_place(&self, rail_mm: f64) -> Option<(usize, f64)> {
        let septum = self.tree.aorta().wall.septum.as_ref()?;
        if !(septum.from_mm..septum.to_mm).contains(&rail_mm) {
            return None;
        }
        let index = self.tree.index(VesselName::FalseLumen)?;
        let at = self.tree.aorta().curve.point(rail_mm);
        Some((index, self.tree.vessels[index].curve.nearest(at)))
    }

    /// Would this graft open in the false lumen?
    pub(super) fn opens_false(&self, site: Site, graft: &Graft, edge_mm: f64) -> bool {
        self.in_false_lumen(site) && self.false_place(edge_mm + graft.length_mm).is_some()
    }

    /// The lower end of a graft has torn the septum.
    pub(super) fn new_entry_at(&mut self, s_mm: f64) {
        self.seal.reentries.push(tear_feed(s_mm, NEW_ENTRY_MM));
        self.seal.declare(&mut self.patient);
    }
}
