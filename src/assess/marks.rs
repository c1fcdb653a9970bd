//! Marks: rules over the whole session, with the moment where each was closest to failing.

use super::second::{Second, measured, seconds};
use crate::scenario::case::Ledger;
use crate::scenario::rule::Rule;
use crate::session::Row;
use crate::session::event::Tick;
use crate::session::record::Record;
use std::ops::Range;

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
    /// That unit; empty where the rule compares bare numbers or in several units.
    pub unit: String,
    /// When it was decided.
    pub when: Option<Tick>,
    /// What the rule asks for, moment by moment up to the end of the theatre.
    pub course: Course,
    /// Why it matters.
    pub why: String,
    /// Ids of sources.
    pub sources: Vec<String>,
    /// The objective that it serves.
    pub objective: String,
}

/// A rule's margin over time, in one of its units; comparisons in another unit only say whether it is asked at all.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Course {
    /// The unit; empty for a count.
    pub unit: String,
    /// Moments where a comparison in that unit ruled, and by how much it held; negative where it did not.
    pub points: Vec<(Tick, f64)>,
}

/// Judges every mark of the case.
pub fn marks(record: &Record) -> Vec<MarkResult> {
    let case = &record.case;
    let trace = &record.trace;
    let index = seconds(trace);
    let end = record.theatre_end();
    let theatre = index.partition_point(|&(i, _)| trace[i].at <= end);
    case.case
        .marks
        .iter()
        .map(|mark| {
            let rule = case.rule(&mark.rule);
            let Judged { met, margin, when, unit, course } =
                rule.map(|rule| judge(rule, &mark.rule, trace, &index, theatre)).unwrap_or_default();
            MarkResult {
                id: mark.id.clone(),
                text: mark.text.clone(),
                rule: mark.rule.clone(),
                ledger: mark.ledger,
                weight: mark.weight,
                met,
                margin,
                unit,
                when,
                course,
                why: mark.why.clone(),
                sources: mark.source.clone(),
                objective: mark.objective.clone(),
            }
        })
        .collect()
}

/// What a rule comes to, and what decided it.
#[derive(Default)]
struct Judged {
    met: bool,
    margin: Option<f64>,
    when: Option<Tick>,
    unit: String,
    course: Course,
}

fn judge(rule: &Rule, text: &str, trace: &[Row], index: &[(usize, bool)], theatre: usize) -> Judged {
    let samples = index.iter().map(|&(i, last)| Second { row: &trace[i], last });
    let evaluation = rule.offline(1.0, samples);
    let clause = evaluation.decisive.as_ref().and_then(|d| text.get(d.span.clone())).unwrap_or("");
    let measured = measured(clause);
    let sample = evaluation.decisive.as_ref().map(|d| d.sample).or(evaluation.weakest);
    Judged {
        met: evaluation.overall.is_some_and(|v| v.truth),
        margin: evaluation.overall.map(|v| v.margin).filter(|m| m.is_finite() && measured.is_some()),
        when: sample.and_then(|s| index.get(s)).map(|(i, _)| trace[*i].at),
        unit: measured.unwrap_or_default().into(),
        course: course(rule, text, trace, &index[..theatre]),
    }
}

/// The rule's margin in the first unit that it compares in; in counts where it has no other.
fn course(rule: &Rule, text: &str, trace: &[Row], index: &[(usize, bool)]) -> Course {
    let unit_of = |span: Range<usize>| text.get(span).and_then(measured);
    let units: Vec<&str> = rule.comparisons().filter_map(unit_of).collect();
    let Some(unit) = units.iter().find(|u| !u.is_empty()).or(units.first()).copied() else {
        return Course::default();
    };
    let samples = index.iter().map(|&(i, last)| Second { row: &trace[i], last });
    let verdicts = rule.course(1.0, samples, &|span| unit_of(span) == Some(unit));
    let told = index.iter().zip(verdicts).filter(|((_, last), v)| *last && v.margin.is_finite());
    Course { unit: unit.into(), points: told.map(|((i, _), v)| (trace[*i].at, v.margin)).collect() }
}
