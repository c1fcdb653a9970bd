//! How near a play's expectations came to turning: one that holds by a hair breaks with the next change of a model.

use super::second::{Second, measured, seconds};
use crate::scenario::case::Play;
use crate::scenario::rule::{Reach, Rule};
use crate::session::Row;
use crate::session::event::Tick;
use crate::session::record::Record;

/// A margin below this part of the bound, per cent, is narrow (assumed: re-tuning a model has moved figures by a few per cent).
pub const NARROW_PERCENT: f64 = 5.0;

/// One comparison by which an expectation or an ending of a play could have turned.
#[derive(Clone, Debug, PartialEq)]
pub struct Near {
    /// What the play states: a rule, or "ending NAME"; "not ending NAME" of one that could have come in its place.
    pub of: String,
    /// The comparison.
    pub clause: String,
    /// When it decided.
    pub at: Tick,
    /// The left side then, in `unit`.
    pub value: f64,
    /// The right side then, in `unit`.
    pub bound: f64,
    /// Unit of the signal; empty for a bare number.
    pub unit: &'static str,
    /// How far the value is on the stated side of the bound, in `unit`; negative on the other side.
    pub margin: f64,
}

impl Near {
    /// The margin, per cent of the bound; none where the bound is nothing.
    pub fn percent(&self) -> Option<f64> {
        (self.bound != 0.0).then(|| 100.0 * self.margin / self.bound.abs())
    }

    /// The least margin that is not narrow, in `unit`: [`NARROW_PERCENT`] of the bound, or one step of the signal if that is more.
    pub fn band(&self) -> f64 {
        (NARROW_PERCENT / 100.0 * self.bound.abs()).max(step(self.unit))
    }

    /// Does it hold, but by a hair?
    pub fn narrow(&self) -> bool {
        (0.0..self.band()).contains(&self.margin)
    }
}

/// The smallest difference that a reader of monitor, chart or debrief makes something of (assumed).
fn step(unit: &str) -> f64 {
    match unit {
        "mmHg" | "bpm" | "g/L" | "mL/min" | "deg" => 1.0,
        "%" => 0.25,
        "mL" => 50.0,
        "mL/h" => 5.0,
        "s" => 10.0,
        "mm" | "mm2" => 0.5,
        "L/min" | "mmol/L" | "degC" => 0.1,
        _ => 0.0,
    }
}

/// The measure of every numeric expectation of a play that was rehearsed, of the ending that it states, and of those other endings
/// that missed by a hair. What asks for sameness or counts whole things has no measure.
pub fn nears(record: &Record, play: &Play) -> Vec<Near> {
    let trace = &record.trace;
    let index = seconds(trace);
    let even: Vec<Second<'_>> = index.iter().map(|&(i, last)| Second { row: &trace[i], last }).collect();
    // A rule without a clock of its own reads the rows as they are; days on the ward have few.
    let rows: Vec<Second<'_>> = trace.iter().map(|row| Second { row, last: true }).collect();
    let look = |of: &str, text: &str, ever: bool| -> Vec<Near> {
        let known = record.case.rule(text).cloned();
        // A play from elsewhere brings rules that the case does not have.
        let Some(rule) = known.or_else(|| Rule::parse(text, &record.case.vocabulary).ok()) else {
            return Vec::new();
        };
        let samples = if rule.counts_time() { &even } else { &rows };
        let reaches = rule.reaches(1.0, samples, ever).into_iter();
        reaches.filter_map(|r| near(of, text, &r, samples[r.sample].row)).collect()
    };
    let mut out: Vec<Near> = play.expect.iter().flat_map(|text| look(text, text, false)).collect();
    let Some(ended) = record.ended().filter(|e| play.ending.as_ref() == Some(&e.id)) else { return out };
    // An ending by the clock comes the second that it can, so its time has no margin.
    let by_the_clock = |n: &Near| n.clause.split_whitespace().next() == Some("time");
    out.extend(
        look(&format!("ending {}", ended.id), &ended.when, false).into_iter().filter(|n| !by_the_clock(n)),
    );
    for other in record.case.case.endings.iter().filter(|e| e.id != ended.id) {
        let missed = look(&format!("not ending {}", other.id), &other.when, true);
        let missed = missed.into_iter().map(|n| Near { margin: -n.margin, ..n });
        out.extend(missed.filter(Near::narrow));
    }
    out
}

fn near(of: &str, text: &str, reach: &Reach, row: &Row) -> Option<Near> {
    let clause = text.get(reach.span.clone())?;
    let unit = measured(clause)?;
    let whole = |v: f64| v.fract() == 0.0;
    let counted = unit.is_empty() && whole(reach.left) && whole(reach.right);
    (!counted).then(|| Near {
        of: of.into(),
        clause: clause.into(),
        at: row.at,
        value: reach.left,
        bound: reach.right,
        unit,
        margin: reach.verdict.margin,
    })
}
