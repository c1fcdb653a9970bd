//! The facilitator's plan: how the time is divided, and which moments are worth it.
//!
//! Reactions, description, analysis, summary (Eppich and Cheng, Simul Healthc 2015;10:106), a tenth, a tenth, six tenths and two
//! tenths of the time (common practice). For each objective at most two moments, chosen by what was recorded, the good ones no
//! less than the others; each with at most two what-ifs, because many raise hindsight bias (Sanna, Schwarz and Stocker, J Exp
//! Psychol Learn Mem Cogn 2002;28:497).

use super::words::{self, tier};
use crate::assess::{Decision, Judgement, MarkResult};
use crate::scenario::case::{Ledger, Tier};
use crate::session::event::Tick;
use crate::session::record::Record;

/// The most what-ifs at one moment.
pub const MOST_WHAT_IFS: usize = 2;
/// The most moments for one objective.
const MOST_MOMENTS: usize = 2;

/// Minutes for each phase.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Minutes {
    /// Reactions.
    pub reactions: u32,
    /// Description.
    pub description: u32,
    /// Analysis.
    pub analysis: u32,
    /// Summary, with the outcome.
    pub summary: u32,
}

impl Minutes {
    /// Divides the minutes that the case plans.
    pub fn of(all: u32) -> Self {
        let part = |tenths: u32| (all * tenths + 5) / 10;
        let (reactions, description, summary) = (part(1).max(1), part(1).max(1), part(2).max(1));
        let analysis = all.saturating_sub(reactions + description + summary).max(1);
        Self { reactions, description, analysis, summary }
    }
}

/// What a moment is about.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject<'a> {
    /// A decision; its number in the order of the session, from 1.
    Decision(usize, &'a Decision),
    /// A rule that did not hold.
    Mark(&'a MarkResult),
}

/// A moment worth talking about.
#[derive(Clone, Debug, PartialEq)]
pub struct Moment<'a> {
    /// What it is about.
    pub subject: Subject<'a>,
    /// What to say, made from the record.
    pub prompts: Vec<String>,
}

/// An objective with its moments and the case's own questions.
#[derive(Clone, Debug, PartialEq)]
pub struct Topic<'a> {
    /// The objective.
    pub objective: &'a str,
    /// What held of all that serves it.
    pub held: Option<(usize, usize)>,
    /// Moments.
    pub moments: Vec<Moment<'a>>,
    /// The case's questions.
    pub questions: Vec<&'a str>,
}

/// The topics in the order of the case's objectives.
pub fn topics<'a>(record: &'a Record, judgement: &'a Judgement) -> Vec<Topic<'a>> {
    let case = &record.case.case;
    let of = |id: &str| {
        let mut ranked: Vec<(f64, Moment<'a>)> = Vec::new();
        for (i, d) in judgement.decisions.iter().enumerate().filter(|(_, d)| d.objective == id) {
            ranked.push((weight(d), Moment { subject: Subject::Decision(i + 1, d), prompts: about(d) }));
        }
        for m in judgement.marks.iter().filter(|m| m.objective == id && !m.met) {
            ranked.push((urgency(m), Moment { subject: Subject::Mark(m), prompts: failed(record, m) }));
        }
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
        let gap = ranked.iter().any(|(w, _)| *w >= 1.0);
        // Where there is a gap there are two moments of it; where there is none, one that went well.
        let keep = if gap { MOST_MOMENTS } else { 1 };
        ranked.into_iter().filter(|(w, _)| !gap || *w >= 1.0).take(keep).map(|(_, m)| m).collect()
    };
    case.objectives
        .iter()
        .map(|o| Topic {
            objective: &o.text,
            held: judgement.objective(&o.id),
            moments: of(&o.id),
            questions: case
                .debrief
                .prompts
                .iter()
                .filter(|p| p.objective == o.id)
                .map(|p| p.question.as_str())
                .collect(),
        })
        .collect()
}

/// How much a decision asks to be talked about; 1 and above is a gap.
fn weight(d: &Decision) -> f64 {
    let sure = f64::from(d.sure_percent.unwrap_or(50)) / 100.0;
    match d.tier {
        // Being sure of what is unsafe is worth more time than doubt.
        Tier::Unsafe => 3.0 + sure,
        Tier::Suboptimal => 2.0 + sure,
        // A good choice made in doubt teaches more than one made in certainty.
        Tier::Defensible => 0.5 + 0.2 * (1.0 - sure),
        Tier::Preferred => 0.4 + 0.2 * (1.0 - sure),
    }
}

fn urgency(m: &MarkResult) -> f64 {
    match m.ledger {
        Ledger::Step => 1.0,
        Ledger::Error { danger, .. } => 1.0 + f64::from(danger) * 0.7,
    }
}

/// "At 03:12, with systolic 82 mmHg, you chose ...: what were you weighing?"
fn about(d: &Decision) -> Vec<String> {
    let seen = d.read.iter().find(|(n, _)| n == "sbp");
    let with =
        seen.map_or(String::new(), |(n, v)| format!(", with {}", crate::session::tell::reading(n, *v)));
    let mut out = Vec::new();
    if d.by_clock {
        out.push(format!(
            "At {}{with}, \u{201c}{}\u{201d} went unanswered for {}. Where was your attention just then?",
            d.at,
            d.question,
            words::span(d.took_s)
        ));
    } else if d.tier >= Tier::Defensible {
        out.push(format!(
            "At {}{with}, you chose \u{201c}{}\u{201d} What told you that this was the time and the way?",
            d.at, d.said
        ));
    } else {
        out.push(format!("At {}{with}, you chose \u{201c}{}\u{201d} What were you weighing?", d.at, d.said));
    }
    match d.sure_percent {
        Some(sure) if sure >= 70 && d.tier < Tier::Defensible => {
            out.push(format!("You were {sure} % sure. What would have made you less sure?"));
        }
        Some(sure) if sure < 50 && d.tier >= Tier::Defensible => {
            out.push(format!("You were only {sure} % sure. What would have settled it?"));
        }
        _ => {}
    }
    if d.why.is_empty() && !d.by_clock && d.tier < Tier::Defensible {
        out.push("What did you know then, and what did you wish to know?".into());
    }
    out
}

fn failed(record: &Record, m: &MarkResult) -> Vec<String> {
    let when = m.when.filter(|t| *t > Tick(0));
    let at = when.map_or(String::new(), |t| format!("At {t}"));
    let vitals = when.and_then(|t| {
        use crate::scenario::rule::Signals;
        record.row_at(t)?.value("sbp").map(|v| crate::session::tell::reading("sbp", v))
    });
    let with = vitals.map_or(String::new(), |v| format!(", with {v}"));
    let by = m.margin.map(|x| words::margin(false, x, &m.unit)).filter(|by| !by.is_empty());
    let by = by.map_or(String::new(), |by| format!(" ({by})"));
    let mut out = Vec::new();
    match (m.ledger, when.is_some()) {
        (Ledger::Step, _) => out.push(format!(
            "\u{201c}{}\u{201d} did not come about{by}. What stood in its way?",
            m.text
        )),
        (_, true) => out.push(format!(
            "{at}{with}, this did not hold: \u{201c}{}\u{201d}{by}. What did you see, and what did you expect?",
            m.text
        )),
        (_, false) => out.push(format!("This did not hold: \u{201c}{}\u{201d}{by}. What led to it?", m.text)),
    }
    out
}

/// The alternatives to ask about at a decision: at most [`MOST_WHAT_IFS`], the best first.
pub fn what_ifs(d: &Decision) -> Vec<&crate::assess::Alternative> {
    let mut others: Vec<_> = d.others.iter().collect();
    // Where the choice was good the tempting wrong one teaches; where it was not, the good ones do.
    if d.tier >= Tier::Defensible {
        others.sort_by_key(|o| o.tier);
        others.truncate(1);
    } else {
        others.sort_by_key(|o| std::cmp::Reverse(o.tier));
        others.retain(|o| o.tier > d.tier);
    }
    others.truncate(MOST_WHAT_IFS);
    others
}

/// "preferred: ..." for a list.
pub fn judged(t: Tier, said: &str) -> String {
    format!("{}: {said}", tier(t))
}

#[cfg(test)]
mod tests {
    use super::Minutes;

    #[test]
    fn twenty_minutes_are_divided_as_the_framework_has_them() {
        let m = Minutes::of(20);
        assert_eq!((m.reactions, m.description, m.analysis, m.summary), (2, 2, 12, 4));
        let short = Minutes::of(3);
        assert!(short.reactions + short.description + short.analysis + short.summary >= 4);
    }
}
