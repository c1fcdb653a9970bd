//! Stent grafts.

use super::MM_PER_FR;
use crate::math::interp;
use serde::{Deserialize, Serialize};

/// A stent graft in its delivery system.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Graft {
    /// What it is for.
    pub kind: GraftKind,
    /// Free diameter at the proximal end, mm.
    pub proximal_mm: f64,
    /// Free diameter at the distal end, mm; of the ipsilateral leg where there are two.
    pub distal_mm: f64,
    /// Length of fabric when free, mm; to the end of the ipsilateral leg where there are two.
    pub length_mm: f64,
    /// Length of bare stent before the fabric, mm; 0 for none.
    #[serde(default)]
    pub bare_proximal_mm: f64,
    /// Length of bare stent beyond the fabric, mm; 0 for none.
    #[serde(default)]
    pub bare_distal_mm: f64,
    /// The proximal end is held closed until it is let go by a separate act.
    #[serde(default)]
    pub tip_capture: bool,
    /// Has barbs or hooks at the proximal end.
    #[serde(default)]
    pub barbs: bool,
    /// Outer size of the delivery system, Fr.
    pub delivery_fr: f64,
    /// Bending stiffness of the loaded delivery system, N mm².
    pub delivery_ei_n_mm2: f64,
    /// From one stent ring to the next, mm.
    pub pitch_mm: f64,
    /// Height of one stent ring, mm.
    pub ring_height_mm: f64,
    /// Bends ("apices") round one ring.
    pub apices: u32,
    /// Outward pressure on a wall that holds it at 15 % oversize, kPa.
    pub outward_kpa: f64,
    /// Bending stiffness of the open graft, N mm².
    pub ei_n_mm2: f64,
    /// Part of its length that is lost when it opens, 0 to 0.2.
    #[serde(default)]
    pub foreshortening: f64,
}

impl Graft {
    /// Outer diameter of the delivery system, mm.
    pub fn delivery_mm(&self) -> f64 {
        self.delivery_fr * MM_PER_FR
    }
    /// Free diameter at a distance from the proximal edge of the fabric, mm. A taper runs evenly from end to
    /// end.
    pub fn diameter_at_mm(&self, from_edge_mm: f64) -> f64 {
        interp::linear(&[(0.0, self.proximal_mm), (self.length_mm, self.distal_mm)], from_edge_mm)
    }
    /// Fabric length once open, mm.
    pub fn open_length_mm(&self) -> f64 {
        self.length_mm * (1.0 - self.foreshortening)
    }
    /// Oversizing of the proximal end in a lumen of the given diameter, percent: (graft - vessel) / vessel.
    pub fn oversize_percent(&self, vessel_mm: f64) -> f64 {
        oversize_percent(self.proximal_mm, vessel_mm)
    }
}

/// (graft - vessel) / vessel, percent.
pub fn oversize_percent(graft_mm: f64, vessel_mm: f64) -> f64 {
    100.0 * (graft_mm - vessel_mm) / vessel_mm
}

/// What a graft is for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum GraftKind {
    /// A straight or tapered tube for the thoracic aorta.
    ThoracicTube,
    /// A short tube that lengthens a seal.
    Cuff,
    /// A body with two legs for the infrarenal aorta.
    BifurcatedBody {
        /// From the proximal edge of the fabric to the opening of the short leg, mm.
        gate_at_mm: f64,
        /// Free diameter of the short leg, mm.
        gate_mm: f64,
    },
    /// From a leg into an iliac artery.
    Limb,
    /// A body with one leg; the other side needs an occluder and a crossover.
    AortoUniIliac,
}

/// The same graft in many sizes: the file's short form, unfolded when a shelf is read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GraftSizes {
    /// Start of the id; the sizes follow, as in `tube_34_150` or, tapered, `tube_34_30_150`.
    pub id: String,
    /// What it is called; the sizes follow.
    pub label: String,
    /// How many of each size.
    pub count: u32,
    /// All that the sizes share; its own diameters, length and delivery size are replaced.
    pub like: Graft,
    /// Proximal diameters, mm.
    pub proximal_mm: Vec<f64>,
    /// Fabric lengths, mm.
    pub length_mm: Vec<f64>,
    /// How much narrower the distal end is, mm; 0 for straight tubes. `None` keeps the distal diameter of
    /// `like`.
    #[serde(default)]
    pub taper_mm: Option<f64>,
    /// Delivery size by proximal diameter: (up to mm, Fr), rising.
    pub delivery_fr: Vec<(f64, f64)>,
}

impl GraftSizes {
    /// One graft for each diameter and length, with the end of its id and label.
    pub(super) fn unfold(&self) -> Vec<(String, Graft)> {
        let mut out = Vec::new();
        for &proximal_mm in &self.proximal_mm {
            let distal_mm = self.taper_mm.map_or(self.like.distal_mm, |t| proximal_mm - t);
            let largest = self.delivery_fr.last().map_or(self.like.delivery_fr, |d| d.1);
            let delivery_fr = self.delivery_fr.iter().find(|d| proximal_mm <= d.0).map_or(largest, |d| d.1);
            for &length_mm in &self.length_mm {
                let graft = Graft { proximal_mm, distal_mm, length_mm, delivery_fr, ..self.like.clone() };
                let size = if distal_mm == proximal_mm {
                    format!("{proximal_mm}_{length_mm}")
                } else {
                    format!("{proximal_mm}_{distal_mm}_{length_mm}")
                };
                out.push((size, graft));
            }
        }
        out
    }
}
