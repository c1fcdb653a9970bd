//! A branch's own mouth: what a stent from the aorta makes of one that is torn or clotted.

use super::closed::Held;
use super::risk::Spot;
use super::{Narrows, World};
use crate::anatomy::{Site, VesselName};
use crate::kit::{Device, Stent, StentDrive};
use crate::mechanics::hazard::overstretch;
use crate::mechanics::{Hazard, HazardKind};
use crate::session::event::EventKind;

/// Where along a branch its mouth's stent ends the wall's stretch, mm (assumed: half a short stent).
const INTO_MM: f64 = 15.0;

impl World {
    fn branch_stent(&self, device: &str) -> Option<Stent> {
        match &self.case.shelf.get(device)?.device {
            Device::Stent(stent) => Some(stent.clone()),
            _ => None,
        }
    }

    /// Why a branch cannot be stented from this line.
    pub(super) fn mouth_refusal(&self, site: Site, device: &str, vessel: VesselName) -> Option<String> {
        let line = match self.line_refusal(site) {
            Ok(line) => line,
            Err(why) => return Some(why),
        };
        if line.catheter(&self.case.shelf).is_none() {
            return Some("a branch is entered with a catheter: put one on the line".into());
        }
        if self.branch_stent(device).is_none() {
            return Some(format!("{device} is no stent"));
        }
        if self.left(device) == 0 {
            return Some(format!("there is no {device} left"));
        }
        let Some(s_mm) = self.tree.aortic_s_mm(vessel).filter(|s| *s < self.aorta_mm() - 1.0) else {
            return Some(format!("the {} does not leave the aorta above its end", vessel.label()));
        };
        let split = self.false_place(s_mm).is_some();
        if split && self.in_false_lumen(site) != self.of_false_lumen(vessel) {
            return Some(format!(
                "from here its mouth is not found: the {} leaves the other lumen",
                vessel.label()
            ));
        }
        self.seal.under_fabric(s_mm).then(|| "fabric lies over its mouth".into())
    }

    /// A stent opens in a branch's mouth and holds it, against clot, flap and septum.
    pub(super) fn stent_branch(&mut self, device: &str, vessel: VesselName) -> Result<(), String> {
        let stent = self.branch_stent(device).ok_or("it is no stent")?;
        let s_mm = self.tree.aortic_s_mm(vessel).ok_or("this patient has no such branch")?;
        let branch = self.tree.get(vessel).ok_or("this patient has no such branch")?;
        let artery_mm = branch.lumen.diameter_mm(INTO_MM.min(branch.curve.length_mm()));
        if let Some(n) = self.stock.get_mut(device) {
            *n = n.saturating_sub(1);
        }
        let ratio = stent.diameter_mm / artery_mm.max(0.1);
        self.report_with(
            EventKind::Stented {
                device: device.into(),
                span_mm: [s_mm, s_mm],
                oversize_percent: 100.0 * (ratio - 1.0),
            },
            vec![("vessel".into(), artery_mm)],
        );
        self.held_mouths.push(vessel);
        self.held.push(Held { vessel, device: device.into() });
        self.narrow(vessel, Narrows::Septum, 1.0);
        // It holds no more than its own width open.
        self.narrow(vessel, Narrows::Mouth, (ratio * ratio).min(1.0));
        let stretched = overstretch(stent.diameter_mm, artery_mm, 0.0, stent.drive == StentDrive::Balloon);
        let stretched = Hazard { kind: HazardKind::Perforation, ..stretched };
        let area_mm2 = 2.0 + 5.0 * (stent.diameter_mm - artery_mm).max(0.0);
        let spot = Spot { site: None, rail_mm: INTO_MM, area_mm2, vessel: Some(vessel) };
        self.face_at(&stretched, &spot);
        Ok(())
    }
}
