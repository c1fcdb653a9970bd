//! Decisions: what was chosen, when, on what was to be seen, and how sure the trainee was.

use super::attention::looked;
use crate::scenario::case::Tier;
use crate::session::event::{EventKind, Tick};
use crate::session::record::Record;

/// One decision.
#[derive(Clone, Debug, PartialEq)]
pub struct Decision {
    /// Number of its event.
    pub event: u32,
    /// When.
    pub at: Tick,
    /// How long the question had been open, s.
    pub took_s: f64,
    /// Question's id.
    pub ask: String,
    /// The question.
    pub question: String,
    /// Option's id.
    pub option: String,
    /// The option as said.
    pub said: String,
    /// Its tier at that moment, frozen.
    pub tier: Tier,
    /// Why it is judged so.
    pub because: String,
    /// Ids of sources.
    pub sources: Vec<String>,
    /// The trainee's own reason.
    pub why: String,
    /// How sure, per cent.
    pub sure_percent: Option<u8>,
    /// The moment passed without an answer.
    pub by_clock: bool,
    /// What the monitor showed.
    pub read: Vec<(String, f64)>,
    /// What the trainee had asked for, was shown or was told since the decision before.
    pub looked: Vec<(Tick, String)>,
    /// What else could have been chosen.
    pub others: Vec<Alternative>,
    /// The objective that it serves.
    pub objective: String,
}

/// An option that was not chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct Alternative {
    /// Option's id.
    pub option: String,
    /// As said.
    pub say: String,
    /// Its tier as the case states it.
    pub tier: Tier,
    /// Why.
    pub because: String,
}

/// All decisions of a session, in order.
pub fn decisions(record: &Record) -> Vec<Decision> {
    let case = &record.case.case;
    let mut opened = std::collections::BTreeMap::new();
    let mut out: Vec<Decision> = Vec::new();
    for event in &record.events {
        match &event.kind {
            EventKind::Asked { ask } => {
                opened.insert(ask.clone(), event.at);
            }
            EventKind::Chosen { ask, option, tier, why, sure_percent, by_clock } => {
                let Some(spec) = case.asks.iter().find(|a| a.id == *ask) else { continue };
                let Some(choice) = spec.options.iter().find(|o| o.id == *option) else { continue };
                let since = opened.get(ask).copied().unwrap_or(event.at);
                let before = out.last().map_or(0, |d| d.event as usize + 1);
                let looked = looked(record, before, event.seq as usize);
                out.push(Decision {
                    event: event.seq,
                    at: event.at,
                    took_s: event.at.seconds() - since.seconds(),
                    ask: ask.clone(),
                    question: spec.question.clone(),
                    option: option.clone(),
                    said: choice.say.clone(),
                    tier: *tier,
                    because: choice.because.clone(),
                    sources: choice.source.clone(),
                    why: why.clone(),
                    sure_percent: *sure_percent,
                    by_clock: *by_clock,
                    read: event.read.clone(),
                    looked,
                    others: spec
                        .options
                        .iter()
                        .filter(|o| o.id != *option)
                        .map(|o| Alternative {
                            option: o.id.clone(),
                            say: o.say.clone(),
                            tier: o.tier,
                            because: o.because.clone(),
                        })
                        .collect(),
                    objective: spec.objective.clone(),
                });
            }
            _ => {}
        }
    }
    out
}

/// Calibration of confidence (Brier, Monthly Weather Review 78:1, 1950): mean squared distance of "how sure" from "was it at
/// least defensible". 0 is perfect, 0.25 is what always saying 50 % gives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Brier {
    /// Answers with a confidence.
    pub answers: usize,
    /// The score.
    pub score: f64,
    /// Mean confidence less share of defensible answers: above 0 is overconfident.
    pub overconfidence: f64,
}

impl Brier {
    /// Over decisions that carry a confidence; none when there are none.
    pub fn of(decisions: &[Decision]) -> Option<Self> {
        let pairs: Vec<(f64, f64)> = decisions
            .iter()
            .filter_map(|d| {
                Some((f64::from(d.sure_percent?) / 100.0, f64::from(u8::from(d.tier >= Tier::Defensible))))
            })
            .collect();
        Self::of_pairs(&pairs)
    }

    /// Over (forecast, outcome) pairs.
    pub fn of_pairs(pairs: &[(f64, f64)]) -> Option<Self> {
        if pairs.is_empty() {
            return None;
        }
        let n = pairs.len() as f64;
        let score = pairs.iter().map(|(f, o)| (f - o) * (f - o)).sum::<f64>() / n;
        let overconfidence = pairs.iter().map(|(f, o)| f - o).sum::<f64>() / n;
        Some(Self { answers: pairs.len(), score, overconfidence })
    }
}
