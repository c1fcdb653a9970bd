//! The ward: written targets are kept, and time passes in long steps.

use super::World;
use crate::scenario::Order;

/// What was handed over.
#[derive(Clone, Debug, Default)]
pub struct Ward {
    /// Legs examined every hour?
    pub hourly_neuro: bool,
    /// Image the repair after so many hours.
    pub ct_hours: Option<f64>,
}

impl World {
    pub(super) fn hand_over(&mut self, order: &Order) {
        let Order::HandOver { map_low_mmhg, sbp_high_mmhg, hourly_neuro, ct_hours } = order else { return };
        self.ward = Ward { hourly_neuro: *hourly_neuro, ct_hours: *ct_hours };
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

    /// Are the legs examined every hour?
    pub fn hourly_neuro(&self) -> bool {
        self.ward.hourly_neuro
    }
}
