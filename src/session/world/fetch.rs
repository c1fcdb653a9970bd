//! What nobody named before the start has to be asked for, found and read out when it is needed.

use super::World;
use crate::kit::{Balloon, BalloonKind, Device};
use crate::scenario::Order;
use crate::scenario::order::BriefItem;

/// Something for the wire: from a drawer in the room, s. Like the others here: common practice, no source.
const DRAWER_S: f64 = 60.0;
/// An implant, or a balloon for the aorta: from the store, its size and date read out twice, s.
const STORE_S: f64 = 90.0;
/// A view that is found by trying, s.
const VIEW_S: f64 = 30.0;
/// A pacing wire and its box, s.
const PACER_S: f64 = 90.0;

impl World {
    /// How long an order waits for what was not spoken of in the briefing, s. What was opened once lies on the table; where something lies
    /// in a vessel when the case begins, wires and catheters do too.
    ///
    /// A rehearsal before the endovascular part cut errors from 7.6 to 2.5 an hour (Patel et al. 2012): five an hour, of a minute or so.
    pub(crate) fn fetching_s(&self, order: &Order) -> f64 {
        let under_way = !self.case.case.in_place.lines.is_empty();
        match self.needs(order) {
            Some((BriefItem::WiresAndCatheters | BriefItem::Views, _)) if under_way => 0.0,
            Some((item, seconds)) if !self.briefed.contains(&item) => seconds,
            _ => 0.0,
        }
    }

    /// What of a briefing would have put it at hand, and what its lack costs, s.
    fn needs(&self, order: &Order) -> Option<(BriefItem, f64)> {
        match order {
            Order::Insert { device, .. } | Order::Exchange { put: device, .. } => self.device(device),
            Order::Embolise { device, .. } | Order::StentBranch { device, .. } => self.device(device),
            Order::Aim { .. } => Some((BriefItem::Views, VIEW_S)),
            Order::Pace { bpm: Some(_) } => Some((BriefItem::PressurePlan, PACER_S)),
            _ => None,
        }
    }

    fn device(&self, id: &str) -> Option<(BriefItem, f64)> {
        let stocked = self.case.shelf.get(id)?;
        if self.left(id) < stocked.count {
            return None;
        }
        Some(match stocked.device {
            Device::Wire(_) | Device::Catheter(_) | Device::Sheath(_) => {
                (BriefItem::WiresAndCatheters, DRAWER_S)
            }
            Device::Balloon(Balloon { kind: BalloonKind::Occlusion, .. }) => {
                (BriefItem::OcclusionBalloon, STORE_S)
            }
            _ => (BriefItem::DeviceAndSize, STORE_S),
        })
    }
}
