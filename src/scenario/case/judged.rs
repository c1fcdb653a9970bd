//! What is judged and told afterwards, and plays to hold a case to: marks, the debrief, sources, plays.

use super::story::certain;
use crate::scenario::order::{Measured, Order};
use crate::scenario::quantity::Span;
use serde::{Deserialize, Serialize};

/// Something that is judged.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// Short name.
    pub id: String,
    /// What it says.
    pub text: String,
    /// The objective that it serves.
    pub objective: String,
    /// A rule, judged over the whole session from its start.
    pub rule: String,
    /// A step done, or an error made when the rule fails.
    pub ledger: Ledger,
    /// How much it counts.
    #[serde(default = "certain")]
    pub weight: f64,
    /// Why it matters.
    pub why: String,
    /// Ids of sources, or "author judgement".
    pub source: Vec<String>,
}

/// The ledger of a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Ledger {
    /// A step that should be done.
    Step,
    /// An error if the rule fails.
    Error {
        /// What kind.
        kind: ErrorKind,
        /// 1 slight to 3 grave.
        danger: u8,
    },
}

/// Kind of error.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each name says it")]
pub enum ErrorKind {
    Planning,
    Selection,
    Technique,
    Communication,
    Equipment,
}

/// The debrief.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DebriefPlan {
    /// Framework, in a word or two.
    pub framework: String,
    /// Minutes planned.
    pub minutes: u32,
    /// Questions, at least one for each objective.
    pub prompts: Vec<Prompt>,
}

/// A question for the debrief.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Prompt {
    /// The objective.
    pub objective: String,
    /// The question.
    pub question: String,
}

/// One measurement by several experienced readers, each on their own.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// What they measured.
    pub what: Measured,
    /// What each of them found, mm; at least three of them.
    pub mm: Vec<f64>,
}

/// A publication.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Short name.
    pub id: String,
    /// Authors, journal, year.
    pub citation: String,
}

/// A named list of timed orders.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Play {
    /// Short name.
    pub name: String,
    /// What it does, and where it goes wrong.
    pub about: String,
    /// Another play that it follows except for `instead`.
    #[serde(default)]
    pub like: Option<String>,
    /// Its steps. With `like`: only those that differ, replacing the steps of the same label.
    #[serde(default)]
    pub steps: Vec<Step>,
    /// Rules that must hold at the end, and the ending: its own test.
    #[serde(default)]
    pub expect: Vec<String>,
    /// The ending that must be reached.
    #[serde(default)]
    pub ending: Option<String>,
    /// Stops by itself after this long.
    #[serde(default = "a_day")]
    pub until: Span,
}

fn a_day() -> Span {
    Span::seconds(86_400 * 4)
}

/// One step of a play: wait for something, then give orders.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Step {
    /// A label, so that a play that follows this one can replace it.
    pub label: String,
    /// Not before this time after the previous step...
    pub after: Span,
    /// ...and not before this question is open...
    pub asked: Option<String>,
    /// ...and not before this rule holds...
    pub when: Option<String>,
    /// ...but at the latest after this long: then the step is passed over.
    pub patience: Option<Span>,
    /// Wait until every hand is free first (the usual way); otherwise the order queues behind what is being done.
    pub at_once: bool,
    /// Stands beside the sequence, ready from the start: taken once, as soon as its question (`asked`) opens, wherever the play is
    /// then; `after` counts from there. It is never waited for: for what only chance asks.
    pub whenever: bool,
    /// The orders.
    pub orders: Vec<Order>,
}
