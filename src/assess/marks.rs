//! Marks: rules over the whole session, with the moment where each was closest to failing.

use crate::scenario::case::Ledger;
use crate::scenario::rule::{Rule, Signals};
use crate::session::event::Tick;
use crate::session::{Row, Session};

/// One mark, judged.
#[derive(Clone, Debug, PartialEq)]
pub struct MarkResult {
    /// Its id.
    pub id: String,
    /// What it says.
    pub text: String,
    /// The rule.
    pub rule: String,
    /// Step or error.
    pub ledger: Ledger,
    /// How much it counts.
    pub weight: f64,
    /// Does the rule hold over the session? For an error: it was not made.
    pub met: bool,
    /// By how much, in the unit of the comparison that decided it; none where only events decided.
    pub margin: Option<f64>,
    /// When it was decided.
    pub when: Option<Tick>,
    /// Why it matters.
    pub why: String,
    /// Citations.
    pub sources: Vec<String>,
    /// The objective that it serves.
    pub objective: String,
}

/// A row that stands for a second; on the ward each recorded minute is read as sixty of them, the events in the first.
struct Second<'a> {
    row: &'a Row,
    first: bool,
}

impl Signals for Second<'_> {
    fn value(&self, signal: &str) -> Option<f64> {
        self.row.value(signal)
    }
    fn event(&self, name: &str, argument: Option<&str>) -> bool {
        self.first && self.row.event(name, argument)
    }
    fn in_state(&self, state: &str) -> bool {
        self.row.in_state(state)
    }
    fn chose(&self, ask: &str, option: &str) -> bool {
        self.row.chose(ask, option)
    }
}

/// The recording as even seconds, with the row that each stands for.
fn seconds(trace: &[Row]) -> Vec<(usize, bool)> {
    let mut out = Vec::new();
    for (i, row) in trace.iter().enumerate() {
        let before = i.checked_sub(1).map_or(row.at, |j| trace[j].at);
        let n = ((row.at.0 - before.0) / Tick::PER_SECOND).max(1);
        out.extend((0..n).map(|k| (i, k == 0)));
    }
    out
}

/// Judges every mark of the case.
pub fn marks(session: &Session) -> Vec<MarkResult> {
    let case = session.case();
    let trace = session.trace();
    let index = seconds(trace);
    case.case
        .marks
        .iter()
        .map(|mark| {
            let judged = case.rule(&mark.rule).map(|rule| judge(rule, trace, &index));
            let (met, margin, when) = judged.unwrap_or((false, None, None));
            let cite = |id: &String| {
                case.case
                    .sources
                    .iter()
                    .find(|s| s.id == *id)
                    .map_or_else(|| id.clone(), |s| s.citation.clone())
            };
            MarkResult {
                id: mark.id.clone(),
                text: mark.text.clone(),
                rule: mark.rule.clone(),
                ledger: mark.ledger,
                weight: mark.weight,
                met,
                margin,
                when,
                why: mark.why.clone(),
                sources: mark.source.iter().map(cite).collect(),
                objective: mark.objective.clone(),
            }
        })
        .collect()
}

fn judge(rule: &Rule, trace: &[Row], index: &[(usize, bool)]) -> (bool, Option<f64>, Option<Tick>) {
    let samples = index.iter().map(|&(i, first)| Second { row: &trace[i], first });
    let evaluation = rule.offline(1.0, samples);
    let met = evaluation.overall.is_some_and(|v| v.truth);
    let margin = evaluation.overall.map(|v| v.margin).filter(|m| m.is_finite());
    let sample = evaluation.decisive.as_ref().map(|d| d.sample).or(evaluation.weakest);
    (met, margin, sample.and_then(|s| index.get(s)).map(|(i, _)| trace[*i].at))
}
