//! The pressure in the belly: blood in it and behind it, and the water that a shocked patient's bowel takes up.

use super::Body;
use crate::circulation::bleed::Space;
use crate::circulation::network::Network;
use crate::circulation::plumbing::Map;

/// What a probe in the bladder reads in a critically ill adult whose belly is soft, mmHg (5 to 7: WSACS consensus, Kirkpatrick,
/// Intensive Care Med 2013). What presses on the organs is what lies above it: at rest they are used to it.
const SOFT_MMHG: f64 = 5.0;
/// Part of the water beyond the tissues' own that lies in bowel, mesentery and behind them (assumed: the gut swells most).
const WET_PART: f64 = 0.2;

impl Body {
    /// Pressure on kidneys, liver and bowel above that of a soft belly, mmHg. The compliance is that of the peritoneal space: blood
    /// before or behind the peritoneum and swollen bowel take the same room.
    pub(super) fn belly_mmhg<const W: usize>(&self, net: &Network<W>, lane: usize) -> f64 {
        if self.belly_open {
            return 0.0;
        }
        let held = |space: Space| net.v_ml[Map::space_node(space)][lane];
        let wet_ml = WET_PART * self.blood.beyond_rest_ml();
        let ml = held(Space::Peritoneum) + held(Space::Retroperitoneum) + wet_ml;
        let i = Map::space_node(Space::Peritoneum);
        ((ml - net.slack_ml(i, lane)) / net.compliance(i, lane)).max(0.0)
    }

    /// What a probe in the bladder reads, mmHg.
    pub(in crate::circulation) fn bladder_mmhg<const W: usize>(&self, net: &Network<W>, lane: usize) -> f64 {
        SOFT_MMHG + self.belly_mmhg(net, lane)
    }
}
