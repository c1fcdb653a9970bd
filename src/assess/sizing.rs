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
    /// The run that it was taken on: its number and when that was taken.
    pub run: Option<(u32, Tick)>,
    /// As committed, mm.
    pub said_mm: f64,
    /// As the anatomy has it at the pressure of the CT, mm, and (said - true) over what two good readers differ by; none for a
    /// plan, such as how much to cover.
    pub against: Option<Against>,
    /// Against the case's own readers, where it has some.
    pub readers: Option<Readers>,
}

/// A measurement beside the anatomy's own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Against {
    /// The anatomy's, mm.
    pub true_mm: f64,
    /// The error in readers' spreads.
    pub z: f64,
}

/// The same measurement by the case's readers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Readers {
    /// How many.
    pub count: usize,
    /// Their mean, mm.
    pub mean_mm: f64,
    /// Their standard deviation (of the sample, n - 1), mm; no less than a reading's last digit can tell.
    pub sd_mm: f64,
    /// (said - mean) over it.
    pub z: f64,
}

/// Readings are written down to a tenth of a millimetre and rarely better than half of one; readers who agree to the digit do not
/// make every other reading an outlier (assumed).
const FINEST_MM: f64 = 0.5;

impl Readers {
    /// A measurement beside those of a panel; none where there are fewer than two.
    fn beside(said_mm: f64, panel_mm: &[f64]) -> Option<Self> {
        let count = panel_mm.len();
        if count < 2 {
            return None;
        }
        let mean_mm = panel_mm.iter().sum::<f64>() / count as f64;
        let squares: f64 = panel_mm.iter().map(|x| (x - mean_mm) * (x - mean_mm)).sum();
        let sd_mm = (squares / (count - 1) as f64).sqrt().max(FINEST_MM);
        Some(Self { count, mean_mm, sd_mm, z: (said_mm - mean_mm) / sd_mm })
    }
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
        let EventKind::Ordered { order: Order::Measure { what, mm, plane, run }, .. } = &event.kind else {
            continue;
        };
        out.retain(|s| s.what != *what);
        let against =
            truth(&sheet, *what).map(|true_mm| Against { true_mm, z: (mm - true_mm) / spread_mm(*what) });
        let run = taken_on(record, event.seq, *run).filter(|_| *plane == Plane::Run);
        let panel = record.case.case.readings.iter().find(|r| r.what == *what);
        let readers = panel.and_then(|r| Readers::beside(*mm, &r.mm));
        out.push(Sizing { at: event.at, what: *what, plane: *plane, run, said_mm: *mm, against, readers });
    }
    out
}

/// The run of this number, else the newest before an event: its number, and when it was taken.
fn taken_on(record: &Record, before: u32, number: Option<u32>) -> Option<(u32, Tick)> {
    let runs = record.events.iter().take_while(|e| e.seq < before).filter_map(|e| match &e.kind {
        EventKind::Ran(facts) => Some((facts.number, e.at)),
        _ => None,
    });
    runs.filter(|r| number.is_none_or(|n| n == r.0)).last()
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

#[cfg(test)]
mod tests {
    use super::Readers;

    /// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.6: the standard deviation divides by n - 1. Here 30, 31, 32, 33, 34
    /// have mean 32 and standard deviation sqrt(2.5).
    #[test]
    fn a_reading_beside_a_panel() {
        let r = Readers::beside(35.0, &[30.0, 31.0, 32.0, 33.0, 34.0]).expect("five readers");
        assert_eq!((r.count, r.mean_mm), (5, 32.0));
        assert!((r.sd_mm - 2.5_f64.sqrt()).abs() < 1e-12 && (r.z - 3.0 / 2.5_f64.sqrt()).abs() < 1e-12);
        assert!(Readers::beside(35.0, &[30.0]).is_none());
        let alike = Readers::beside(33.0, &[32.0; 4]).expect("four readers");
        assert_eq!(alike.z, 2.0, "readers who agree to the digit leave half a millimetre");
    }
}
