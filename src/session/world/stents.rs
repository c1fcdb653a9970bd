//! Stents outside the aorta: where one lies, what it covers, what it holds open, and what it may tear.

use super::lines::ItemState;
use super::risk::Spot;
use super::{Narrows, World};
use crate::anatomy::{Rail, Site, VesselName};
use crate::kit::{Device, Stent, StentDrive};
use crate::mechanics::hazard::overstretch;
use crate::mechanics::sleeve::{Sleeve, opened_mm};
use crate::session::event::EventKind;

/// A stent that was let go.
#[derive(Clone, Debug, PartialEq)]
pub struct Stented {
    /// Shelf id.
    pub device: String,
    /// The line that it came on: its rail is the ruler.
    pub site: Site,
    /// Ends on that rail, mm.
    pub span_mm: (f64, f64),
    /// Diameter that it opened to, mm.
    pub diameter_mm: f64,
    /// With fabric.
    pub covered: bool,
}

impl World {
    /// The stent that lies loaded on a line.
    pub fn loaded_stent(&self, site: Site) -> Option<(String, f64, Stent)> {
        let line = self.lines.get(&site).filter(|l| !l.closed)?;
        line.items().iter().find_map(|i| match (&self.case.shelf.get(&i.device)?.device, i.state) {
            (Device::Stent(s), ItemState::Graft { spent: false, .. }) => {
                Some((i.device.clone(), i.tip_mm, s.clone()))
            }
            _ => None,
        })
    }

    /// Why a stent cannot be let go where it lies.
    pub(super) fn stent_refusal(&self, site: Site, stent: &Stent, drive: StentDrive) -> Option<String> {
        if stent.drive != drive {
            return Some(match stent.drive {
                StentDrive::Balloon => "a balloon opens this stent: inflate it".into(),
                StentDrive::SelfExpanding => "this stent opens by itself: unsheathe it".into(),
            });
        }
        let rail = self.rail(site)?;
        let (_, tip_mm, _) = self.loaded_stent(site)?;
        (tip_mm + stent.length_mm > rail.length_mm())
            .then(|| "its lower end still lies outside the artery: advance it first".into())
    }

    /// A stent opens where it lies, by its own spring or by `ml` in its balloon.
    pub(super) fn open_stent(&mut self, site: Site, ml: Option<f64>) -> Result<String, String> {
        let (device, tip_mm, stent) = self.loaded_stent(site).ok_or("no loaded stent lies on this line")?;
        let rail = self.rail(site).ok_or("there is no way in from there")?;
        let tree = self.tree_now();
        let free_mm = match ml {
            Some(ml) => opened_mm(stent.diameter_mm, stent.length_mm, ml),
            None => stent.diameter_mm,
        };
        let span_mm = (tip_mm, tip_mm + stent.length_mm);
        let middle = 0.5 * (span_mm.0 + span_mm.1);
        let artery_mm = rail.diameter_mm(&tree, middle);
        if let Some(item) = self.lines.get_mut(&site).and_then(|l| l.item_mut(&device)) {
            item.state = ItemState::Graft { bared_mm: stent.length_mm, tip_held: false, spent: true };
        }
        self.stents.push(Stented {
            device: device.clone(),
            site,
            span_mm,
            diameter_mm: free_mm,
            covered: stent.covered,
        });
        let sleeve = Sleeve { stent_mm: free_mm, artery_mm, reach_mm: [0.5 * stent.length_mm; 2] };
        self.report_with(
            EventKind::Stented {
                device: device.clone(),
                span_mm: span_mm.into(),
                oversize_percent: sleeve.oversize_percent(),
            },
            vec![("vessel".into(), artery_mm), ("film".into(), sleeve.film_mm())],
        );
        self.settle_stent(&rail, &stent, span_mm, free_mm);
        let stretched = overstretch(
            free_mm,
            artery_mm,
            self.access_spec(site).calcium,
            stent.drive == StentDrive::Balloon,
        );
        let area_mm2 = 2.0 + 5.0 * (free_mm - artery_mm).max(0.0);
        self.face_at(&stretched, &Spot::on(site, middle, area_mm2));
        self.refresh_torn();
        Ok(device)
    }

    /// What a stent that has opened covers and holds open.
    fn settle_stent(&mut self, rail: &Rail, stent: &Stent, span_mm: (f64, f64), diameter_mm: f64) {
        let tree = std::sync::Arc::clone(&self.tree);
        let inside = |at: f64| span_mm.0 < at && at < span_mm.1;
        // A lifted intima under it is pressed back.
        for leg in rail
            .legs
            .iter()
            .skip(1)
            .filter(|l| inside(l.from_mm + 0.5 * l.length_mm) || inside(l.from_mm + l.length_mm - 20.0))
        {
            let lumen = rail.diameter_mm(&tree, 0.5 * (span_mm.0 + span_mm.1));
            if self.narrowed.contains_key(&(leg.name, Narrows::Flap)) {
                let ratio = diameter_mm / lumen;
                self.narrow(leg.name, Narrows::Flap, (ratio * ratio).min(1.0));
            }
        }
        if !stent.covered {
            return;
        }
        let beside: Vec<VesselName> = tree
            .vessels
            .iter()
            .filter(|v| !rail.legs.iter().any(|l| l.name == v.name))
            .filter(|v| rail.ostium_mm(&tree, v.name).is_some_and(inside))
            .map(|v| v.name)
            .collect();
        for vessel in beside {
            self.narrow(vessel, Narrows::Stent, 0.0);
        }
    }

    /// The most that a hole at a place of a rail lets out under the covered stents that lie over it, mm²; none: no limit.
    pub(super) fn under_stents_mm2(&self, vessel: VesselName, s_mm: f64) -> f64 {
        let over = self.stents.iter().filter(|s| s.covered).filter_map(|stent| {
            let rail = self.rail(stent.site)?;
            let at = rail.rail_mm(self.tree.index(vessel)?, s_mm)?;
            let reach_mm = [at - stent.span_mm.0, stent.span_mm.1 - at];
            if reach_mm.iter().any(|r| *r <= 0.0) {
                return None;
            }
            let artery_mm = rail.diameter_mm(&self.tree, at);
            Some(Sleeve { stent_mm: stent.diameter_mm, artery_mm, reach_mm }.seep_mm2())
        });
        over.fold(f64::INFINITY, f64::min)
    }
}
