//! Opening a graft, and balloons: what flow, friction and pressure make of them.

use super::World;
use super::lines::ItemState;
use crate::anatomy::{Site, VesselName};
use crate::kit::{Balloon, Device, Graft};
use crate::mechanics::{self, Moulding};
use crate::session::event::EventKind;
use std::sync::Arc;

impl World {
    //PEND
    fn windsock_shift_mm(&self, _g: &Graft, _tip: f64, _a: f64, _b: f64, _s: Site) -> f64 {
        0.0
    }
    //PEND
    fn released_along(&self, _s: Site, _g: &Graft, _t: f64) -> Vec<(f64, [f64; 2])> {
        Vec::new()
    }

    fn loaded(&self, site: Site) -> Result<(String, Graft, f64, f64, bool), String> {
        let line = self.line_refusal(site)?;
        let (item, graft) = line.loaded_graft(&self.case.shelf).ok_or("no loaded graft lies on this line")?;
        let ItemState::Graft { bared_mm, tip_held, .. } = item.state else {
            return Err("it is no graft".into());
        };
        Ok((item.device.clone(), graft.clone(), item.tip_mm, bared_mm, tip_held))
    }

    /// Draws the cover back; the blood pushes on what is open; the last of it lets the graft go unless the tip is held.
    pub(super) fn unsheathe(&mut self, site: Site, by_mm: Option<f64>) -> Result<String, String> {
        let (device, graft, tip_mm, bared_mm, tip_held) = self.loaded(site)?;
        let whole = graft.length_mm;
        let bared_after = (bared_mm + by_mm.unwrap_or(whole)).min(whole);
        let shift = self.windsock_shift_mm(&graft, tip_mm, bared_mm, bared_after, site);
        let done = bared_after >= whole - 0.5;
        if let Some(item) = self.lines.get_mut(&site).and_then(|l| l.item_mut(&device)) {
            item.tip_mm = tip_mm + shift;
            item.state = ItemState::Graft { bared_mm: bared_after, tip_held, spent: false };
        }
        self.patient.set_occlusion(tip_mm, 0.0);
        if done && !tip_held {
            self.let_go(site)?;
        }
        Ok(device)
    }

    pub(super) fn release_tip(&mut self, site: Site) -> Result<String, String> {
        let (device, graft, _, bared_mm, _) = self.loaded(site)?;
        if let Some(ItemState::Graft { tip_held, .. }) =
            self.lines.get_mut(&site).and_then(|l| l.item_mut(&device)).map(|i| &mut i.state)
        {
            *tip_held = false;
        }
        if bared_mm >= graft.length_mm - 0.5 {
            self.let_go(site)?;
        }
        Ok(device)
    }

    fn let_go(&mut self, site: Site) -> Result<(), String> {
        let (device, graft, tip_mm, ..) = self.loaded(site)?;
        let meant = self.picture.meant_edge_mm(tip_mm);
        let released = self.released_along(site, &graft, tip_mm);
        if let Some(item) = self.lines.get_mut(&site).and_then(|l| l.item_mut(&device)) {
            item.state = ItemState::Graft { bared_mm: graft.length_mm, tip_held: false, spent: true };
        }
        self.place(site, &device, &graft, meant, tip_mm, released);
        //PEND self.face_coverage();
        Ok(())
    }

    /// Fills a balloon: its size from its volume and the wall, then what that does to graft, wall and flow.
    pub(super) fn inflate(&mut self, site: Site, device: &str, ml: f64) -> Result<(), String> {
        let case = Arc::clone(&self.case);
        let Some(Device::Balloon(balloon)) = case.shelf.get(device).map(|s| &s.device) else {
            return Err(format!("{device} is no balloon"));
        };
        let tip = self.on_line(site, device)?.tip_mm;
        let centre = tip + 0.5 * balloon.length_mm;
        let tree = self.tree_now();
        let vessel_mm = tree.aorta().lumen.diameter_mm(centre);
        let inside = self.seal.pieces.iter().any(|p| {
            p.facts.edges_mm[0] <= centre - 0.4 * balloon.length_mm
                && centre + 0.4 * balloon.length_mm <= p.facts.edges_mm[1]
        });
        let fill =
            Fill { diameter_mm: (ml * 1000.0 / (0.785 * balloon.length_mm)).sqrt(), pressure_mmhg: 0.0 }; //PEND
        if let Some(ItemState::Balloon { ml: was }) =
            self.lines.get_mut(&site).and_then(|l| l.item_mut(device)).map(|i| &mut i.state)
        {
            *was = ml;
        }
        let blocked = (fill.diameter_mm / vessel_mm).min(1.0);
        self.patient.set_occlusion(centre, blocked * blocked);
        self.report_with(
            EventKind::Ballooned { device: device.into(), diameter_mm: fill.diameter_mm },
            vec![
                ("vessel".into(), vessel_mm),
                ("pressure".into(), fill.pressure_mmhg),
                ("inside_fabric".into(), f64::from(u8::from(inside))),
            ],
        );
        //PEND self.face_balloon(&fill, inside);
        if inside && fill.diameter_mm > 0.8 * vessel_mm {
            self.mould(balloon, centre, fill.diameter_mm);
        }
        Ok(())
    }

    fn mould(&mut self, balloon: &Balloon, centre_mm: f64, diameter_mm: f64) {
        let half = 0.5 * balloon.length_mm;
        for piece in &mut self.seal.pieces {
            if piece.facts.edges_mm[0] < centre_mm && centre_mm < piece.facts.edges_mm[1] {
                let placed = Arc::make_mut(&mut piece.placed);
                placed.mouldings.push(Moulding {
                    from_mm: centre_mm - half,
                    to_mm: centre_mm + half,
                    diameter_mm,
                });
            }
        }
        self.lay_again();
    }

    pub(super) fn deflate(&mut self, site: Site, device: &str) {
        if let Some(ItemState::Balloon { ml }) =
            self.lines.get_mut(&site).and_then(|l| l.item_mut(device)).map(|i| &mut i.state)
        {
            *ml = 0.0;
        }
        if let (Ok(item), Some(Device::Balloon(b))) =
            (self.on_line(site, device), self.case.shelf.get(device).map(|s| &s.device))
        {
            let centre = item.tip_mm + 0.5 * b.length_mm;
            self.patient.set_occlusion(centre, 0.0);
        }
    }

    /// Embolics into a vessel: how far they close it, and where else they go.
    pub(super) fn embolise(
        &mut self,
        site: Site,
        device: &str,
        vessel: VesselName,
        amount: f64,
    ) -> Result<(), String> {
        let case = Arc::clone(&self.case);
        let stocked = case.shelf.get(device).ok_or("it is not on the shelf")?;
        let target = self.tree.get(vessel).ok_or("this patient has no such vessel")?;
        let _ = (stocked, target, amount); //PEND
        let _ = site;
        Ok(())
    }
}

//PEND
struct Fill {
    diameter_mm: f64,
    pressure_mmhg: f64,
}
