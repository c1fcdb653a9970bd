//! The pressure in the belly, from the blood in it and behind it and from the water of a swollen bowel.

use super::Body;
use crate::circulation::bleed::Space;
use crate::circulation::network::Network;
use crate::circulation::plumbing::Map;

/// What a probe in the bladder reads in a critically ill adult whose belly is soft, mmHg (5 to 7: WSACS consensus, Kirkpatrick,
/// Intensive Care Med 2013). What presses on the organs is what lies above it: at rest they are used to it.
const SOFT_MMHG: f64 = 5.0;

/// Part of what the tissues hold beyond their rest that lies in bowel, its root and the free belly. At rest liver and bowel give about half
/// of all lymph (Guyton, textbook, from memory), and their share of a flood is taken to be somewhat less (assumed).
const SPLANCHNIC: f64 = 0.4;
/// A flood of so much, ml per kilogram, halves that share: what is tight takes up less than skin and muscle do (assumed).
const HALVES_ML_KG: f64 = 165.0;

/// Compliance of a belly that is not yet full, ml/mmHg: 250 to 450 in the well (Malbrain, Crit Care 2016, from memory).
const YIELDS_ML_MMHG: f64 = 250.0;
/// Half of so much in it halves that compliance: the curve bends upward, and a tight belly gives about 120 to 150 (the same; assumed so that
/// 2.3 litres press by 11 mmHg).
const STIFFENS_ML: f64 = 9000.0;

impl Body {
    /// Pressure on kidneys, liver and bowel above that of a soft belly, mmHg: blood before and behind the peritoneum takes the same room,
    /// and so does the bowel's water.
    pub(super) fn belly_mmhg<const W: usize>(&self, net: &Network<W>, lane: usize) -> f64 {
        if self.belly_open {
            return 0.0;
        }
        let held = |space: Space| net.v_ml[Map::space_node(space)][lane];
        let over = self.blood.tissue_over_rest_ml().max(0.0);
        let swollen = SPLANCHNIC * over / (1.0 + over / (HALVES_ML_KG * self.patient.mass_kg));
        let ml = held(Space::Peritoneum) + held(Space::Retroperitoneum) + swollen;
        let i = Map::space_node(Space::Peritoneum);
        let over = (ml - net.slack_ml(i, lane)).max(0.0);
        over / YIELDS_ML_MMHG * (1.0 + over / STIFFENS_ML)
    }

    /// What a probe in the bladder reads, mmHg.
    pub(in crate::circulation) fn bladder_mmhg<const W: usize>(&self, net: &Network<W>, lane: usize) -> f64 {
        SOFT_MMHG + self.belly_mmhg(net, lane)
    }
}
