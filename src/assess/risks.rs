//! Risks: every chance that was drawn, beside its computed probability and what that was made of.

use crate::session::Session;
use crate::session::event::{EventKind, Tick};

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
pub fn risks(session: &Session) -> Vec<RiskLine> {
    session
        .events()
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
