//! What the shelf offers for a measured lesion.

use super::graft::{Graft, GraftKind, oversize_percent};
use super::shelf::Shelf;
use crate::anatomy::{LesionShape, Site, SizingSheet};
use serde::Serialize;
use std::fmt;

/// A graft from the shelf against a sizing sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Offer {
    /// Id on the shelf.
    pub id: String,
    /// As said aloud.
    pub label: String,
    /// How many there are.
    pub count: u32,
    /// Oversizing at the proximal landing, percent.
    pub proximal: Oversize,
    /// Oversizing at the distal landing, percent; `None` where limbs carry on into the iliac arteries.
    pub distal: Option<Oversize>,
    /// Fabric left for landing at both ends together, mm.
    pub landing_mm: f64,
    /// Outer diameter of the delivery system over each groin's narrowest artery.
    pub access: Vec<(Site, f64)>,
    /// What speaks against it; empty when nothing measured does.
    pub against: Vec<String>,
}

/// Oversizing at two pressures, percent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Oversize {
    /// Against the diameter of the CT.
    pub at_ct: f64,
    /// Against the diameter at the recovered pressure.
    pub recovered: f64,
}

impl Oversize {
    fn new(graft_mm: f64, vessel_mm: f64, ratio: f64) -> Self {
        Self {
            at_ct: oversize_percent(graft_mm, vessel_mm),
            recovered: oversize_percent(graft_mm, vessel_mm * ratio),
        }
    }
}

/// Oversizing that is usually aimed at, percent of the recovered diameter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OversizeRange {
    /// Least.
    pub lo: f64,
    /// Most.
    pub hi: f64,
}

impl OversizeRange {
    /// For the pathology of a sheet. Degenerative thoracic aneurysm and ulcer 10 to 25 (expert panel,
    /// Endovascular Today, 2018); infrarenal 10 to 20 (Sher and Tadros, 2017); blunt injury and dissection 0
    /// to 10 (the same panel; Canaud et al., Ann Surg 2014, odds of retrograde dissection rise above 9).
    pub fn for_sheet(sheet: &SizingSheet) -> Self {
        match sheet.shape {
            None | Some(LesionShape::Transection { .. }) => Self { lo: 0.0, hi: 10.0 },
            _ if infrarenal(sheet) => Self { lo: 10.0, hi: 20.0 },
            _ => Self { lo: 10.0, hi: 25.0 },
        }
    }
    fn holds(self, percent: f64) -> bool {
        (self.lo - 1e-9..=self.hi + 1e-9).contains(&percent)
    }
}

/// Landing that each end should have, mm: 20 in the thorax (15 to 25 by instructions for use), 10 below the
/// renals.
fn least_landing_mm(sheet: &SizingSheet) -> f64 {
    if infrarenal(sheet) { 10.0 } else { 20.0 }
}

/// Sheath to artery ratio above which complications rise (common practice; published evidence conflicts).
const MOST_ACCESS_RATIO: f64 = 1.05;

fn infrarenal(sheet: &SizingSheet) -> bool {
    sheet.neck_angle_deg.is_some()
}

impl Shelf {
    /// The grafts made for this part of the aorta whose proximal end is -10 to +45 % of the measured landing,
    /// those with least against them first.
    pub fn offers(&self, sheet: &SizingSheet) -> Vec<Offer> {
        let range = OversizeRange::for_sheet(sheet);
        let mut offers: Vec<Offer> = self
            .grafts()
            .filter(|(_, g)| fits_place(g, infrarenal(sheet)))
            .filter(|(_, g)| (-10.0..=45.0).contains(&g.oversize_percent(sheet.proximal.diameter_mm())))
            .map(|(item, g)| {
                let mut offer = offer(sheet, g, range);
                (offer.id, offer.label, offer.count) = (item.id.clone(), item.label.clone(), item.count);
                if item.count == 0 {
                    offer.against.push("none left".to_owned());
                }
                offer
            })
            .collect();
        let off_middle = |o: &Offer| (o.proximal.recovered - 0.5 * (range.lo + range.hi)).abs();
        offers.sort_by(|a, b| {
            a.against
                .len()
                .cmp(&b.against.len())
                .then(off_middle(a).total_cmp(&off_middle(b)))
                .then(a.id.cmp(&b.id))
        });
        offers
    }
}

fn fits_place(graft: &Graft, infrarenal: bool) -> bool {
    match graft.kind {
        GraftKind::ThoracicTube => !infrarenal,
        GraftKind::BifurcatedBody { .. } | GraftKind::AortoUniIliac => infrarenal,
        // A cuff lengthens a seal; it does not treat a lesion on its own.
        GraftKind::Cuff | GraftKind::Limb => false,
    }
}

fn offer(sheet: &SizingSheet, graft: &Graft, range: OversizeRange) -> Offer {
    let tube = graft.kind == GraftKind::ThoracicTube;
    let proximal = Oversize::new(graft.proximal_mm, sheet.proximal.diameter_mm(), sheet.recovered_ratio);
    let distal =
        tube.then(|| Oversize::new(graft.distal_mm, sheet.distal.diameter_mm(), sheet.recovered_ratio));
    let landing_mm = graft.open_length_mm() - sheet.lengths.centre_mm;
    let access: Vec<(Site, f64)> =
        sheet.access.iter().map(|a| (a.site, a.ratio(graft.delivery_mm()))).collect();
    let mut against = Vec::new();
    if !range.holds(proximal.recovered) {
        against.push(format!(
            "proximal {:+.0} % is outside {:.0} to {:.0}",
            proximal.recovered, range.lo, range.hi
        ));
    }
    if let Some(d) = distal.filter(|d| !range.holds(d.recovered)) {
        against.push(format!("distal {:+.0} % is outside {:.0} to {:.0}", d.recovered, range.lo, range.hi));
    }
    let least = least_landing_mm(sheet) * if tube { 2.0 } else { 1.0 };
    if tube && landing_mm < least {
        against.push(format!("leaves {landing_mm:.0} mm to land, less than {least:.0}"));
    }
    if access.iter().all(|a| a.1 > MOST_ACCESS_RATIO) {
        against.push("wider than both iliac arteries take".to_owned());
    }
    Offer { id: String::new(), label: String::new(), count: 0, proximal, distal, landing_mm, access, against }
}

impl fmt::Display for Offer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} ({} left): proximal {:+.1} % on CT, {:+.1} % recovered",
            self.label, self.count, self.proximal.at_ct, self.proximal.recovered
        )?;
        if let Some(d) = self.distal {
            write!(f, "; distal {:+.1} %, {:+.1} %", d.at_ct, d.recovered)?;
        }
        for (site, ratio) in &self.access {
            write!(f, "; {} {ratio:.2}", site.label())?;
        }
        if !self.against.is_empty() {
            write!(f, "; but {}", self.against.join(", "))?;
        }
        Ok(())
    }
}
