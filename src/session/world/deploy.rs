//! Opening a graft, balloons and embolics: what flow, friction and pressure make of them.

use super::earlier::route_to;
use super::lines::ItemState;
use super::risk::Spot;
use super::{Narrows, World};
use crate::anatomy::{Site, VesselName};
use crate::kit::{Balloon, Device, Graft};
use crate::mechanics::{Around, Deployment, Disease, HazardKind, Moulding, PressureState, inflate};
use crate::scenario::Order;
use crate::session::event::{EventKind, PlacedFacts};
use std::sync::Arc;

/// Length of the upper end that counts as its landing, mm (the usual landing of the guidelines).
const LANDING_MM: f64 = 20.0;

impl World {
    /// Hands begin: while a graft is half open it blocks the stream, and the circulation must feel it.
    pub fn begin(&mut self, order: &Order) {
        self.begin_seek(order);
        if let Order::Unsheathe { site, by_mm } = order {
            let Ok((_, graft, edge_mm, ..)) = self.loaded(*site) else { return };
            let Ok(loaded) = self.deployment(*site, &graft, edge_mm) else { return };
            let mut ahead = loaded.clone();
            // How far the stream will be blocked half way through this pull, before it moves anything.
            let calm = PressureState { above_mmhg: 0.0, below_mmhg: 0.0 };
            ahead.unsheathe(0.5 * by_mm.unwrap_or(graft.length_mm), &calm);
            self.patient.set_occlusion(edge_mm, ahead.obstruction());
            self.deployments.insert(*site, loaded);
        }
    }

    fn loaded(&self, site: Site) -> Result<(String, Graft, f64, f64, bool), String> {
        let line = self.line_refusal(site)?;
        let (item, graft) = line.loaded_graft(&self.case.shelf).ok_or("no loaded graft lies on this line")?;
        let ItemState::Graft { bared_mm, tip_held, .. } = item.state else {
            return Err("it is no graft".into());
        };
        Ok((item.device.clone(), graft.clone(), item.tip_mm, bared_mm, tip_held))
    }

    /// The unsheathing under way on a line, or one that begins with the system as it lies.
    fn deployment(&self, site: Site, graft: &Graft, edge_mm: f64) -> Result<Deployment, String> {
        if let Some(under_way) = self.deployments.get(&site) {
            return Ok(under_way.clone());
        }
        let tree = self.tree_now();
        let rail = self.rail(site).ok_or("there is no way in from there")?;
        let lumen_mm = (0..=(graft.length_mm / 5.0) as usize)
            .map(|i| 5.0 * i as f64)
            .map(|d| (d, rail.diameter_mm(&tree, edge_mm + d)));
        let lumen_mm = lumen_mm.collect();
        let lie = self.settle_line(site).ok_or("nothing lies on this line")?;
        let (corridor, shape) = &*lie;
        let tilts = shape.tilts(corridor, edge_mm, edge_mm + graft.length_mm);
        let route = route_to(&self.tree, site, edge_mm + graft.length_mm);
        Ok(Deployment::begin(graft, &route, edge_mm, shape, tilts, lumen_mm))
    }

    /// Draws the cover back; the blood pushes on what is open; the last of it lets the graft go unless the tip is held.
    pub(super) fn unsheathe(&mut self, site: Site, by_mm: Option<f64>) -> Result<String, String> {
        let (device, graft, edge_mm, _, tip_held) = self.loaded(site)?;
        let mut deployment = self.deployment(site, &graft, edge_mm)?;
        let pressures = self.pressures_about(edge_mm, graft.length_mm);
        let pull = deployment.unsheathe(by_mm.unwrap_or(f64::INFINITY), &pressures);
        self.patient.set_occlusion(edge_mm, 0.0);
        self.patient.set_occlusion(deployment.edge_s_mm(), deployment.obstruction());
        let state = ItemState::Graft { bared_mm: deployment.unsheathed_mm(), tip_held, spent: false };
        if let Some(item) = self.lines.get_mut(&site).and_then(|l| l.item_mut(&device)) {
            item.tip_mm = edge_mm + pull.shift_mm;
            item.state = state;
        }
        let done = deployment.done();
        self.deployments.insert(site, deployment);
        if done {
            self.let_go(site)?;
        }
        Ok(device)
    }

    fn pressures_about(&self, edge_mm: f64, length_mm: f64) -> PressureState {
        PressureState {
            above_mmhg: self.patient.pressure_mmhg((edge_mm - 10.0).max(0.0)),
            below_mmhg: self.patient.pressure_mmhg(edge_mm + length_mm),
        }
    }

    pub(super) fn release_tip(&mut self, site: Site) -> Result<String, String> {
        let (device, graft, edge_mm, ..) = self.loaded(site)?;
        let mut deployment = self.deployment(site, &graft, edge_mm)?;
        let pull = deployment.release_tip(&self.pressures_about(edge_mm, graft.length_mm));
        if let Some(item) = self.lines.get_mut(&site).and_then(|l| l.item_mut(&device)) {
            item.tip_mm = edge_mm + pull.shift_mm;
            item.state =
                ItemState::Graft { bared_mm: deployment.unsheathed_mm(), tip_held: false, spent: false };
        }
        let done = deployment.done();
        self.deployments.insert(site, deployment);
        if done {
            self.let_go(site)?;
        }
        Ok(device)
    }

    fn let_go(&mut self, site: Site) -> Result<(), String> {
        let (device, graft, edge_mm, ..) = self.loaded(site)?;
        let Some(deployment) = self.deployments.remove(&site) else {
            return Err("nothing is being opened".into());
        };
        self.patient.set_occlusion(edge_mm, 0.0);
        if let Some(item) = self.lines.get_mut(&site).and_then(|l| l.item_mut(&device)) {
            item.state = ItemState::Graft { bared_mm: graft.length_mm, tip_held: false, spent: true };
        }
        let meant = self.picture.meant_edge_mm(edge_mm - deployment.shift_mm());
        if self.opens_false(site, &graft, edge_mm) {
            self.false_grafts += 1;
            self.report(EventKind::Placed(PlacedFacts {
                device,
                site: Some(site),
                meant_mm: meant,
                edges_mm: [edge_mm, edge_mm + graft.length_mm],
                shift_mm: deployment.shift_mm(),
                in_false_lumen: true,
                ..PlacedFacts::default()
            }));
            return Ok(());
        }
        self.place(site, &device, &graft, meant, deployment.shift_mm(), &deployment.place_at());
        self.note_gate(site);
        self.face_coverage();
        self.face_migration();
        Ok(())
    }

    /// Fills a balloon: its size from its volume and the wall, then what that does to graft, wall and flow.
    pub(super) fn inflate(&mut self, site: Site, device: &str, ml: f64) -> Result<(), String> {
        let case = Arc::clone(&self.case);
        let Some(Device::Balloon(balloon)) = case.shelf.get(device).map(|s| &s.device) else {
            return Err(format!("{device} is no balloon"));
        };
        let half = 0.5 * balloon.length_mm;
        let centre = self.on_line(site, device)?.tip_mm + half;
        let tree = self.tree_now();
        let rail = self.rail(site).ok_or("there is no way in from there")?;
        let lumen_mm = rail.diameter_mm(&tree, centre);
        let vessel = tree.vessels[rail.place(centre).0].name;
        let in_aorta = vessel == VesselName::Aorta;
        let covered =
            |s: f64| self.seal.pieces.iter().any(|p| p.facts.edges_mm[0] <= s && s <= p.facts.edges_mm[1]);
        let bare =
            (0..=20).filter(|i| !covered(centre - half + balloon.length_mm * f64::from(*i) / 20.0)).count();
        let around = Around {
            s_mm: centre,
            lumen_mm,
            disease: if in_aorta { Disease::at(&self.tree, centre) } else { Disease::Sound },
            bare: bare as f64 / 21.0,
            calcium: if in_aorta { 0.0 } else { self.access_spec(site).calcium },
            drop_mmhg: if in_aorta {
                self.patient.pressure_mmhg((centre - half).max(0.0))
            } else {
                self.patient.vessel_pressure_mmhg(vessel)
            },
            supported: self.lines.get(&site).is_some_and(|l| l.sheath(&case.shelf).is_some()),
        };
        let filled = inflate(balloon, ml, &around).map_err(|r| r.0)?;
        if let Some(item) = self.lines.get_mut(&site).and_then(|l| l.item_mut(device)) {
            item.state = ItemState::Balloon { ml };
            item.tip_mm += filled.shift_mm;
        }
        let at = centre + filled.shift_mm;
        self.block(site, at, filled.closes);
        self.report_with(
            EventKind::Ballooned { device: device.into(), diameter_mm: filled.diameter_mm },
            vec![
                ("vessel".into(), lumen_mm),
                ("wall_pressure".into(), filled.wall_mmhg),
                ("wall_stress_kpa".into(), filled.stress_kpa),
                ("bare_part".into(), around.bare),
                ("moved".into(), filled.shift_mm),
            ],
        );
        // A slit half as long as the balloon's contact, gaping by half of what the wall is stretched beyond its round (assumed).
        let gape_mm = 0.5 * std::f64::consts::PI * lumen_mm * (filled.stretch - 1.0);
        let area_mm2 = (0.5 * filled.contact_mm * gape_mm).clamp(2.0, 60.0);
        for hazard in &filled.hazards {
            let struck = self.face_at(hazard, &Spot::on(site, at, area_mm2));
            if struck && hazard.kind == HazardKind::BalloonBurst {
                self.burst(site, device, at);
                return Ok(());
            }
        }
        if let Some(moulding) = filled.moulding(at) {
            self.mould(balloon, at, moulding);
        }
        if in_aorta && filled.pull_n > 0.0 {
            self.pull_at(at, filled.pull_n);
        }
        Ok(())
    }

    /// Blocks part of the lumen at a place on a line's rail; 0 frees it.
    fn block(&mut self, site: Site, rail_mm: f64, closes: f64) {
        let place = self.rail(site).map(|r| r.place(rail_mm));
        match place {
            Some((index, _)) if index > 0 => {
                self.narrow(self.tree.vessels[index].name, Narrows::Balloon, 1.0 - closes);
            }
            _ => self.patient.set_occlusion(rail_mm, closes),
        }
    }

    /// A balloon bursts: it holds nothing any more.
    fn burst(&mut self, site: Site, device: &str, at_mm: f64) {
        if let Some(item) = self.lines.get_mut(&site).and_then(|l| l.item_mut(device)) {
            item.state = ItemState::Plain;
        }
        self.block(site, at_mm, 0.0);
    }

    fn mould(&mut self, balloon: &Balloon, centre_mm: f64, moulding: Moulding) {
        let mut touched = false;
        let mut pressed = Vec::new();
        for piece in &mut self.seal.pieces {
            let [up, down] = piece.facts.edges_mm;
            if up < centre_mm + 0.5 * balloon.length_mm && centre_mm - 0.5 * balloon.length_mm < down {
                let on_landing = |m: &Moulding| m.from_mm < up + LANDING_MM;
                let first = !piece.placed.mouldings.iter().any(on_landing);
                if first && on_landing(&moulding) && !piece.placed.ends[0].in_graft {
                    pressed.push(piece.clone());
                }
                Arc::make_mut(&mut piece.placed).mouldings.push(moulding);
                touched = true;
            }
        }
        for piece in pressed {
            self.face_pressed_landing(&piece);
        }
        if touched {
            self.lay_again();
        }
    }

    pub(super) fn deflate(&mut self, site: Site, device: &str) {
        let Some(Device::Balloon(balloon)) = self.case.shelf.get(device).map(|s| &s.device) else { return };
        let half = 0.5 * balloon.length_mm;
        if let Some(item) = self.lines.get_mut(&site).and_then(|l| l.item_mut(device)) {
            item.state = ItemState::Balloon { ml: 0.0 };
            let centre = item.tip_mm + half;
            self.block(site, centre, 0.0);
        }
    }
}
