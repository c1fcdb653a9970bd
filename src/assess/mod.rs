//! Judgement of a finished session: by rules with a margin and by computed risk, never by luck.
//!
//! Three ledgers are kept apart: steps done, errors made, and outcomes. A decision's tier was frozen when the trainee
//! committed; the dice that fell later move nothing here. Fluoroscopy time, contrast and dose are reported and not scored.

mod attention;
mod decisions;
mod marks;
mod near;
mod risks;
mod second;
mod sizing;

pub use attention::looked;
pub use decisions::{Alternative, Brier, Decision, decisions};
pub use marks::{Course, MarkResult, marks};
pub use near::{NARROW_PERCENT, Near, nears};
pub use risks::{RiskLine, RiskSum, risks, sums};
pub use sizing::{Against, Readers, Sizing, sizing};

use crate::scenario::case::{Ledger, Tier};
use crate::session::Session;
use crate::session::record::Record;

/// Everything that is judged.
#[derive(Clone, Debug)]
pub struct Judgement {
    /// Decisions in order.
    pub decisions: Vec<Decision>,
    /// Marks in the order of the case.
    pub marks: Vec<MarkResult>,
    /// Risks that were faced, with what was drawn.
    pub risks: Vec<RiskLine>,
    /// Calibration of confidence, where it was asked.
    pub brier: Option<Brier>,
    /// Measurements against the anatomy; told and not scored.
    pub sizing: Vec<Sizing>,
}

impl Judgement {
    /// Judges a session as it stands.
    pub fn of(session: &Session) -> Self {
        Self::of_record(&Record::of(session))
    }

    /// Judges what a session left behind.
    pub fn of_record(record: &Record) -> Self {
        let decisions = decisions(record);
        let brier = Brier::of(&decisions);
        Self { brier, marks: marks(record), risks: risks(record), sizing: sizing(record), decisions }
    }

    /// Of an objective: everything that serves it, held and all. None when nothing in the session did.
    pub fn objective(&self, id: &str) -> Option<(usize, usize)> {
        let decided = self.decisions.iter().filter(|d| d.objective == id).map(|d| d.tier >= Tier::Defensible);
        let marked = self.marks.iter().filter(|m| m.objective == id).map(|m| m.met);
        let held: Vec<bool> = decided.chain(marked).collect();
        (!held.is_empty()).then(|| (held.iter().filter(|h| **h).count(), held.len()))
    }

    /// Mean credit of the decisions, 0 to 1: a defensible choice costs nothing. None when nothing was decided.
    pub fn decision_score(&self) -> Option<f64> {
        let n = self.decisions.len();
        (n > 0).then(|| self.decisions.iter().map(|d| credit(d.tier)).sum::<f64>() / n as f64)
    }

    /// Weighted share of the steps that were done, 0 to 1.
    pub fn step_score(&self) -> Option<f64> {
        share(self.marks.iter().filter(|m| m.ledger == Ledger::Step))
    }

    /// Decisions and errors that endangered the patient: reported apart, never averaged away.
    pub fn dangers(&self) -> Vec<String> {
        let unsafe_choices = self.decisions.iter().filter(|d| d.tier == Tier::Unsafe).map(|d| {
            let silent = if d.by_clock { " (nobody answered)" } else { "" };
            format!("{}, {} \u{201c}{}\u{201d}{silent}", d.at, d.question, d.said)
        });
        let errors = self
            .marks
            .iter()
            .filter(|m| matches!(m.ledger, Ledger::Error { danger: 3, .. }) && !m.met)
            .map(|m| format!("Not kept: {}", m.text));
        unsafe_choices.chain(errors).collect()
    }
}

/// Credit of a tier, 0 to 1.
pub fn credit(tier: Tier) -> f64 {
    match tier {
        Tier::Preferred | Tier::Defensible => 1.0,
        Tier::Suboptimal => 0.5,
        Tier::Unsafe => 0.0,
    }
}

fn share<'a>(marks: impl Iterator<Item = &'a MarkResult>) -> Option<f64> {
    let (mut got, mut all) = (0.0, 0.0);
    for mark in marks {
        all += mark.weight;
        got += if mark.met { mark.weight } else { 0.0 };
    }
    (all > 0.0).then(|| got / all)
}
