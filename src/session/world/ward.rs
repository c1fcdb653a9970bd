//! The ward: written targets are kept, and time passes in long steps.

use super::World;
use crate::scenario::Order;

impl World {
    pub(super) fn hand_over(&mut self, order: &Order) {
        let Order::HandOver { map_low_mmhg, sbp_high_mmhg, .. } = order else { return };
        self.on_ward = true;
        self.pacing = None;
        self.breath_held = false;
        self.patient.set_pacing(None);
        self.patient.set_breath_hold(false);
        self.picture.screening = false;
        // A systolic floor follows from the mean that was asked for; the ward's ceiling wins where they cross.
        let low = (map_low_mmhg + 15.0).min(sbp_high_mmhg - 10.0);
        self.keep(Some((low, *sbp_high_mmhg)), Some(*map_low_mmhg));
    }
}
