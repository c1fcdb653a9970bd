//! What an educator writes: the case file, format 1, as plain data.
//!
//! Nothing here is checked beyond its shape; `load` reads a file and reports every fault at once, and the run-time
//! types are made from these by one conversion, so that the format can stay still while the engine changes.

mod judged;
mod room;
mod story;

pub use judged::{DebriefPlan, ErrorKind, Ledger, Mark, Play, Prompt, Reading, Source, Step};
pub use room::{EarlierGraft, InPlace, Lying, Member, OpenLine, ShelfSpec, WardTargets};
pub use story::{
    Action, Ask, BleedSpec, ChartSpec, Choice, Ending, Happening, StateKind, StateSpec, Tier, Tone,
    TransitionSpec, Unless,
};

use super::quantity::Span;
use crate::anatomy::AnatomySpec;
use crate::circulation::{Patient, Start};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One emergency.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Case {
    /// Version of the format: 1.
    pub format: u32,
    /// Short name in lower case, the same as the file's.
    pub id: String,
    /// What the shelf of cases shows. It should not give the answer away.
    pub title: String,
    /// Version of this case, such as "1.2.0".
    pub version: String,
    /// About the case as teaching.
    pub about: About,
    /// Who may learn what from it.
    pub objectives: Vec<Objective>,
    /// The patient's body.
    pub patient: Patient,
    /// The state in which the case begins.
    pub start: Start,
    /// What lies in the patient when it begins: earlier grafts, open accesses, the ward's targets.
    #[serde(default)]
    pub in_place: InPlace,
    /// The words around it.
    pub story: Story,
    /// The vessels and the lesion.
    pub anatomy: AnatomySpec,
    /// What lies on the shelf.
    #[serde(default)]
    pub shelf: ShelfSpec,
    /// Who is there, and who can be called.
    pub team: Vec<Member>,
    /// Numbers that a department may override; rules read them as `policy.NAME`.
    #[serde(default)]
    pub policy: BTreeMap<String, f64>,
    /// The phases of the case: a state chart with SCXML's meaning.
    pub chart: ChartSpec,
    /// The questions put to the trainee.
    pub asks: Vec<Ask>,
    /// Things that happen when their condition comes true.
    #[serde(default)]
    pub happenings: Vec<Happening>,
    /// How it can end; the first whose condition holds ends the case.
    pub endings: Vec<Ending>,
    /// What is judged.
    pub marks: Vec<Mark>,
    /// For the debrief.
    pub debrief: DebriefPlan,
    /// What experienced readers measured on this CT, where somebody asked them. The trainee's measurements are then set against
    /// theirs too.
    #[serde(default)]
    pub readings: Vec<Reading>,
    /// The publications that the case leans on.
    pub sources: Vec<Source>,
    /// Named lists of timed orders with what must come out: the case's own tests.
    pub plays: Vec<Play>,
}

/// The case as teaching.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct About {
    /// Who it is for, and what they should know already.
    pub audience: String,
    /// 1 simple to 3 complex.
    pub level: u8,
    /// The gap that it closes.
    pub need: String,
    /// How long a trainee sits with it.
    pub duration: Span,
    /// What it cannot teach, such as hand skill.
    pub not_taught: Vec<String>,
    /// What is simplified.
    pub simplified: Vec<String>,
    /// What the trainee is told before the start: role, clock, scoring, who sees the record.
    pub prebrief: String,
    /// Roles of the authors, no names.
    pub authors: Vec<String>,
    /// Who signed it off; empty shows "a specialist must sign this off".
    #[serde(default)]
    pub reviews: Vec<Review>,
    /// Content that may distress, if any.
    #[serde(default)]
    pub distress: String,
    /// Licence of the text.
    pub licence: String,
}

/// A reviewer's verdict.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Review {
    /// Role, not name.
    pub role: String,
    /// Year, month and day.
    pub date: String,
    /// What was concluded.
    pub verdict: String,
}

/// A learning objective, with a verb that can be observed.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Objective {
    /// Short name.
    pub id: String,
    /// "Choose a graft ...".
    pub text: String,
}

/// The words around the case.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Story {
    /// The telephone call.
    pub call: String,
    /// What is known of the patient before.
    pub history: Vec<String>,
    /// What the report of the CT says, by extent: the chest only, and the whole aorta.
    pub ct_chest: Vec<String>,
    /// Further lines when the whole aorta was read.
    pub ct_whole: Vec<String>,
}
