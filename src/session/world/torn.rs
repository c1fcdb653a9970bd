//! Tears that the work itself made, and what lies over each of them: a sheath that plugs it, a balloon, fabric, a stent.
//!
//! A tear is where it is for good. How much of it lets blood through follows from what lies there now, and is told to the
//! circulation after every order.

use super::World;
use super::lines::{ItemState, Line};
use crate::anatomy::{Rail, Site, VesselName};
use crate::circulation::{Bleed, Site as Node, Space};
use crate::kit::Device;
use crate::math::interp;
use crate::mechanics::balloon;
use crate::mechanics::lines::outer_mm;

/// A hole in a wall.
#[derive(Clone, Debug, PartialEq)]
pub struct Torn {
    /// Name of its bleed in the circulation.
    pub id: String,
    /// Whose wall.
    pub vessel: VesselName,
    /// Arc length on that vessel, mm.
    pub s_mm: f64,
    /// Area, mm².
    pub area_mm2: f64,
    /// Where it bleeds to.
    pub into: Space,
    /// Part of it that a hand, a suture or clot pressed into it has left open, 0 to 1.
    pub left: f64,
}

impl Torn {
    /// In the narrowest place of an access artery.
    pub(super) fn in_access(world: &World, site: Site, area_mm2: f64) -> Self {
        let at = world.rail(site).map(|rail| {
            let from = rail.legs.get(1).map_or(0.0, |l| l.from_mm) + 5.0;
            let (_, at) = rail.narrowest_mm(&world.tree, from, rail.length_mm());
            (rail.place(at), at)
        });
        let ((index, s_mm), _) = at.unwrap_or(((0, 0.0), 0.0));
        let into = if site.femoral() { Space::Retroperitoneum } else { Space::SoftTissue };
        let vessel = world.tree.vessels[index].name;
        Self { id: format!("access_{}", side(site)), vessel, s_mm, area_mm2, into, left: 1.0 }
    }

    /// At a puncture, where sutures did not hold.
    pub(super) fn in_groin(world: &World, site: Site, area_mm2: f64) -> Self {
        let (index, s_mm) = world.rail(site).map_or((0, 0.0), |r| r.place(r.length_mm() - 1.0));
        let vessel = world.tree.vessels[index].name;
        Self {
            id: format!("puncture_{}", side(site)),
            vessel,
            s_mm,
            area_mm2,
            into: Space::Outside,
            left: 1.0,
        }
    }

    /// In the aorta, with the space that lies round it there.
    pub(super) fn in_aorta(world: &World, id: &str, s_mm: f64, area_mm2: f64) -> Self {
        let into = world.around_aorta(s_mm);
        Self { id: id.into(), vessel: VesselName::Aorta, s_mm, area_mm2, into, left: 1.0 }
    }

    fn node(&self) -> Node {
        match self.vessel {
            VesselName::Aorta => Node::AortaMm(self.s_mm),
            other => Node::Vessel(other),
        }
    }
}

/// A site in an id.
pub(super) fn side(site: Site) -> &'static str {
    match site {
        Site::RightFemoral => "right_groin",
        Site::LeftFemoral => "left_groin",
        Site::RightBrachial => "right_arm",
        Site::LeftBrachial => "left_arm",
    }
}

/// What fills less than the first part of an artery's width lets a tear beside it bleed; beyond the second it is tight (assumed:
/// an artery grips what is nearly as wide as itself).
const PLUGS: (f64, f64) = (0.55, 0.9);

/// Part of a puncture that bleeds past a hand on it (assumed: fingers stop a groin nearly, for as long as they lie there).
const PAST_A_HAND: f64 = 0.05;

impl World {
    /// Somebody presses on these punctures from the word until each is pressed shut or sewn.
    pub(in crate::session) fn lay_hands(&mut self, on: impl Iterator<Item = Site>) {
        if self.torn.is_empty() {
            return;
        }
        let on: Vec<Site> = on.collect();
        if self.under_hand != on {
            self.under_hand = on;
            self.refresh_torn();
        }
    }

    /// The space round the aorta at a level. The pericardium reaches about 70 mm up the ascending aorta, the diaphragm lies at the
    /// coeliac artery (anatomy texts; common practice).
    pub(super) fn around_aorta(&self, s_mm: f64) -> Space {
        const PERICARDIUM_MM: f64 = 70.0;
        let diaphragm = self.tree.aortic_s_mm(VesselName::Coeliac).unwrap_or(0.7 * self.aorta_mm());
        match s_mm {
            s if s < PERICARDIUM_MM => Space::PericardialSac,
            s if s < diaphragm => Space::Mediastinum,
            _ => Space::Retroperitoneum,
        }
    }

    /// Length of the aorta, mm.
    pub(super) fn aorta_mm(&self) -> f64 {
        self.tree.aorta().curve.length_mm()
    }

    /// Opens a tear, or widens it where there is one of that name.
    pub(super) fn tear(&mut self, new: Torn) {
        match self.torn.iter_mut().find(|t| t.id == new.id) {
            Some(old) => {
                old.area_mm2 += new.area_mm2;
                old.left = 1.0;
            }
            None => self.torn.push(new),
        }
        self.refresh_torn();
    }

    /// Does the puncture of an access bleed?
    pub fn bleeds_at(&self, site: Site) -> bool {
        let id = format!("puncture_{}", side(site));
        self.torn.iter().any(|t| t.id == id && t.left > 0.0)
    }

    /// Tells the circulation how much of each tear is open.
    pub(super) fn refresh_torn(&mut self) {
        for i in 0..self.torn.len() {
            let tear = self.torn[i].clone();
            let area_mm2 = self.open_mm2(&tear);
            let bleed = Bleed { from: tear.node(), into: tear.into, area_mm2, clots: true };
            if self.holes.get(&tear.id) != Some(&bleed) {
                self.set_hole(&tear.id, bleed);
            }
        }
    }

    fn open_mm2(&self, tear: &Torn) -> f64 {
        let mut open = tear.area_mm2 * tear.left;
        for (site, line) in self.lines.iter().filter(|(_, l)| !l.closed) {
            if let Some(rail) = self.rail(*site) {
                open *= self.past_line(tear, line, &rail);
            }
        }
        if self.under_hand.iter().any(|&site| tear.id == format!("puncture_{}", side(site))) {
            open *= PAST_A_HAND;
        }
        open = open.min(self.under_stents_mm2(tear.vessel, tear.s_mm));
        if tear.vessel == VesselName::Aorta {
            open = open.min(self.seal.under_mm2(tear.s_mm));
        }
        open
    }

    /// Part of a tear that what lies on a line leaves open.
    fn past_line(&self, tear: &Torn, line: &Line, rail: &Rail) -> f64 {
        let Some(at) = self.tree.index(tear.vessel).and_then(|v| rail.rail_mm(v, tear.s_mm)) else {
            return 1.0;
        };
        let bore = rail.diameter_mm(&self.tree, at).max(0.5);
        let widest = line
            .items()
            .iter()
            .filter(|i| i.tip_mm < at)
            .filter_map(|i| self.case.shelf.get(&i.device))
            .map(|s| outer_mm(&s.device))
            .fold(0.0, f64::max);
        let plugged = interp::smooth_step(PLUGS.0, PLUGS.1, widest / bore);
        let pressed =
            line.items().iter().any(|i| match (self.case.shelf.get(&i.device).map(|s| &s.device), i.state) {
                (Some(Device::Balloon(b)), ItemState::Balloon { ml }) if ml > 0.0 => {
                    let wide = balloon::free_diameter_mm(b, ml);
                    (i.tip_mm..i.tip_mm + b.length_mm.max(wide)).contains(&at) && wide >= bore
                }
                _ => false,
            });
        if pressed { 0.0 } else { 1.0 - plugged }
    }
}
