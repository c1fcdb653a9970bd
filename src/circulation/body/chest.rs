//! What squeezes the heart from outside: the chest, the fluid around it, hands.

use super::Body;
use crate::circulation::bleed::{self, Space};
use crate::circulation::network::{LA, LV, Network, RA, RV};
use crate::circulation::plumbing::Map;
use crate::math::ops;

impl Body {
    /// Squeezes the heart by the pericardium, and by hands on the chest.
    pub(super) fn pericardium<const W: usize>(&mut self, net: &mut Network<W>, lane: usize) {
        let chest = self.vitals.chest_mmhg;
        let fluid_node = Map::space_node(Space::PericardialSac);
        let fluid = net.v_ml[fluid_node][lane];
        let heart: f64 = [RA, RV, LA, LV].iter().map(|&i| net.v_ml[i][lane]).sum();
        if !self.reflex.closed {
            self.heart_rest_ml += (heart - self.heart_rest_ml) * (0.004 / 5.0);
        }
        let p = bleed::pericardial_mmhg(heart, self.heart_rest_ml, fluid);
        // Chest compressions: 100 a minute, 60 mmHg at the bottom. Assumed.
        self.squeeze_mmhg += (p - self.squeeze_mmhg) * (0.004 / 0.5);
        let hands = if self.compressions {
            let t = (self.ms % 600) as f64 / 600.0;
            if t < 0.5 { 60.0 * ops::sin(std::f64::consts::TAU * t) } else { 0.0 }
        } else {
            0.0
        };
        for i in [RA, RV, LA, LV] {
            net.p_ext_mmhg[i][lane] = chest + p + hands;
        }
        // The fluid has no compliance of its own: it is squeezed by what squeezes the heart, as long as there is any.
        net.set_node(fluid_node, lane, 1e6, 0.0);
        net.p_ext_mmhg[fluid_node][lane] = (p + chest + hands) * (fluid / 20.0).clamp(0.0, 1.0);
    }
}
