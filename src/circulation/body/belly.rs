//! The pressure in the belly, from the blood in it and behind it. The water of a swollen bowel, which does the rest in life, is left out:
//! the model's tissues keep no account of it by organ.

use super::Body;
use crate::circulation::bleed::Space;
use crate::circulation::network::Network;
use crate::circulation::plumbing::Map;

/// What a probe in the bladder reads in a critically ill adult whose belly is soft, mmHg (5 to 7: WSACS consensus, Kirkpatrick,
/// Intensive Care Med 2013). What presses on the organs is what lies above it: at rest they are used to it.
const SOFT_MMHG: f64 = 5.0;

impl Body {
    /// Pressure on kidneys, liver and bowel above that of a soft belly, mmHg. The compliance is that of the peritoneal space: blood
    /// before and behind the peritoneum takes the same room.
    pub(super) fn belly_mmhg<const W: usize>(&self, net: &Network<W>, lane: usize) -> f64 {
        if self.belly_open {
            return 0.0;
        }
        let held = |space: Space| net.v_ml[Map::space_node(space)][lane];
        let ml = held(Space::Peritoneum) + held(Space::Retroperitoneum);
        let i = Map::space_node(Space::Peritoneum);
        ((ml - net.slack_ml(i, lane)) / net.compliance(i, lane)).max(0.0)
    }

    /// What a probe in the bladder reads, mmHg.
    pub(in crate::circulation) fn bladder_mmhg<const W: usize>(&self, net: &Network<W>, lane: usize) -> f64 {
        SOFT_MMHG + self.belly_mmhg(net, lane)
    }
}
