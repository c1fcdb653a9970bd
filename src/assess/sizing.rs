//! Sizing: each measurement that the trainee committed against the anatomy's own, by z-score.

use crate::anatomy::Site;
use crate::anatomy::sheet::SizingSheet;
use crate::scenario::Order;
use crate::scenario::order::{Measured, Plane};
use crate::session::event::{EventKind, Tick};
use crate::session::record::Record;

/// One measurement.
#[derive(Clone, Debug, PartialEq)]
pub struct Sizing {
    /// When it was committed.
    pub at: Tick,
    /// What.
    pub what: Measured,
    /// In which plane.
    pub plane: Plane,
    /// As committed, mm.
    pub said_mm: f64,
    /// As the anatomy has it at the pressure of the CT, mm.
    pub true_mm: f64,
    /// (said - true) over what two good readers differ by.
    pub z: f64,
}

/// What two trained readers differ by (one standard deviation), mm: about 1.5 for a diameter and 4 for a length along a curved
/// centreline (assumed, of the size that reader studies of CT angiography report; from memory).
fn spread_mm(what: Measured) -> f64 {
    match what {
        Measured::ProximalDiameter | Measured::DistalDiameter => 1.5,
        Measured::ProximalLength | Measured::DistalLength | Measured::TreatedLength => 4.0,
        Measured::RightAccess | Measured::LeftAccess => 0.7,
    }
}

/// The last word on each measurement, in the order in which they were made.
pub fn sizing(record: &Record) -> Vec<Sizing> {
    let rest = record.case.case.patient.map_rest_mmhg;
    let Some(sheet) = SizingSheet::measure(&record.case.tree, 0, rest) else { return Vec::new() };
    let mut out: Vec<Sizing> = Vec::new();
    for event in &record.events {
        let EventKind::Ordered { order: Order::Measure { what, mm, plane }, .. } = &event.kind else {
            continue;
        };
        let Some(true_mm) = truth(&sheet, *what) else { continue };
        out.retain(|s| s.what != *what);
        let z = (mm - true_mm) / spread_mm(*what);
        out.push(Sizing { at: event.at, what: *what, plane: *plane, said_mm: *mm, true_mm, z });
    }
    out
}

fn truth(sheet: &SizingSheet, what: Measured) -> Option<f64> {
    let access = |site| sheet.access.iter().find(|a| a.site == site).map(|a| a.min_mm());
    Some(match what {
        Measured::ProximalDiameter => sheet.proximal.diameter_mm(),
        Measured::DistalDiameter => sheet.distal.diameter_mm(),
        Measured::ProximalLength => sheet.proximal.lengths.centre_mm,
        Measured::DistalLength => sheet.distal.lengths.centre_mm,
        // How much to cover is a plan and has no true value.
        Measured::TreatedLength => return None,
        Measured::RightAccess => access(Site::RightFemoral)?,
        Measured::LeftAccess => access(Site::LeftFemoral)?,
    })
}
