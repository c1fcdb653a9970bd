//! Risks: every chance that was drawn, beside its computed probability and what that was made of.

use crate::session::event::{EventKind, Tick};
use crate::session::record::Record;

/// One exposure to a risk.
#[derive(Clone, Debug, PartialEq)]
pub struct RiskLine {
    /// Number of its event.
    pub event: u32,
    /// When.
    pub at: Tick,
    /// Which.
    pub id: String,
    /// Probability as computed, 0 to 1.
    pub probability: f64,
    /// What it was made of.
    pub because: Vec<(String, f64)>,
    /// Did it happen in this session?
    pub struck: bool,
}

/// All exposures in order.
pub fn risks(record: &Record) -> Vec<RiskLine> {
    record
        .events
        .iter()
        .filter_map(|e| match &e.kind {
            EventKind::Risk { id, probability, because, struck } => Some(RiskLine {
                event: e.seq,
                at: e.at,
                id: id.clone(),
                probability: *probability,
                because: because.clone(),
                struck: *struck,
            }),
            _ => None,
        })
        .collect()
}

/// One risk over the whole session.
#[derive(Clone, Debug, PartialEq)]
pub struct RiskSum {
    /// Which.
    pub id: String,
    /// How often it was faced.
    pub times: usize,
    /// Probability that it would have happened at least once, 0 to 1.
    pub accrued: f64,
    /// Did it happen in this session?
    pub struck: bool,
}

/// The exposures summed up by risk, the greatest first.
pub fn sums(risks: &[RiskLine]) -> Vec<RiskSum> {
    let mut out: Vec<RiskSum> = Vec::new();
    for risk in risks {
        let at = out.iter().position(|s| s.id == risk.id).unwrap_or_else(|| {
            out.push(RiskSum { id: risk.id.clone(), times: 0, accrued: 0.0, struck: false });
            out.len() - 1
        });
        let sum = &mut out[at];
        sum.times += 1;
        sum.accrued = 1.0 - (1.0 - sum.accrued) * (1.0 - risk.probability);
        sum.struck |= risk.struck;
    }
    out.sort_by(|a, b| b.accrued.total_cmp(&a.accrued));
    out
}
