//! What an educator writes: the case file, format 1, as plain data.
//!
//! Nothing here is checked beyond its shape; `load` reads a file and reports every fault at once, and the run-time
//! types are made from these by one conversion, so that the format can stay still while the engine changes.

use super::order::{CtExtent, Guide, Measured, Order};
use super::quantity::Span;
use crate::anatomy::{AnatomySpec, Place, Site, VesselName};
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

/// The shelf: the built-in one, with changes.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ShelfSpec {
    /// Only these devices, if any are named.
    pub only: Vec<String>,
    /// How many of a device there are, where it differs from the built-in shelf.
    pub stock: BTreeMap<String, u32>,
}

/// What lies in the patient when the case begins.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct InPlace {
    /// Grafts of an earlier operation, first placed first: a later one lies inside an earlier one where they overlap.
    pub grafts: Vec<EarlierGraft>,
    /// Accesses that are open, with what lies on them.
    pub lines: Vec<OpenLine>,
    /// How much of a CT has been read already.
    pub ct: Option<CtExtent>,
    /// The spinal drain lies, open at this pressure, mmHg.
    pub csf_drain_mmhg: Option<f64>,
    /// The patient lies on the ward, handed over with these targets.
    pub ward: Option<WardTargets>,
}

/// A graft of an earlier operation. How it lies, seals and overlaps follows from its place in the vessels as they are now.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EarlierGraft {
    /// Shelf id. Its stock may be nought; with `shelf: (only: ...)` it must be named there.
    pub device: String,
    /// Where the upper edge of its fabric lies today: mm from the aortic valve, or past a branch.
    pub edge: Place,
    /// The side that it was brought up from: which iliac artery a graft that reaches below the bifurcation lies in. The right when left out.
    #[serde(default)]
    pub side: Option<Site>,
}

/// An access that is open when the case begins.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OpenLine {
    /// Where.
    pub site: Site,
    /// How it was opened.
    #[serde(default)]
    pub guide: Guide,
    /// What lies on it.
    #[serde(default)]
    pub items: Vec<Lying>,
    /// The artery is torn at its narrowest place, by this area, mm²; a sheath that fills it hides that until it is drawn out. 0 when left out.
    #[serde(default)]
    pub torn_mm2: f64,
}

/// A device that lies on a line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lying {
    /// Shelf id.
    pub device: String,
    /// Where its tip lies, mm from the aortic valve along the rail.
    pub tip_mm: f64,
}

/// What the ward was told to keep.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WardTargets {
    /// Lowest mean pressure to keep, mmHg.
    pub map_low_mmhg: f64,
    /// Highest systolic pressure to allow, mmHg.
    pub sbp_high_mmhg: f64,
}

/// Somebody in the room or on call.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Member {
    /// Role, such as "anaesthetist".
    pub role: String,
    /// How long after being called they arrive; nothing when they are there already.
    #[serde(default)]
    pub arrives: Option<Span>,
    /// What they say on arrival.
    #[serde(default)]
    pub says: String,
}

/// The case's phases.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChartSpec {
    /// The first state.
    pub initial: String,
    /// The outermost states.
    pub states: Vec<StateSpec>,
}

/// One state.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StateSpec {
    /// Short name.
    pub id: String,
    /// What the trainee sees as the phase's name; inner states may leave it out.
    #[serde(default)]
    pub title: String,
    /// Sort of state.
    #[serde(default)]
    pub kind: StateKind,
    /// The first inner state; the first in the file when left out.
    #[serde(default)]
    pub initial: Option<String>,
    /// Done on the way in.
    #[serde(default)]
    pub entry: Vec<Action>,
    /// Done on the way out.
    #[serde(default)]
    pub exit: Vec<Action>,
    /// Ways out.
    #[serde(default)]
    pub on: Vec<TransitionSpec>,
    /// Inner states.
    #[serde(default)]
    pub states: Vec<StateSpec>,
}

/// Sort of state, as SCXML has them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StateKind {
    /// One inner state at a time, or none.
    #[default]
    One,
    /// All inner states at once.
    Parallel,
    /// The end of its parent.
    Final,
    /// Re-enters the inner state that was last active.
    ShallowHistory,
    /// Re-enters the innermost states that were last active.
    DeepHistory,
}

/// One way out of a state.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TransitionSpec {
    /// The event that it waits for: `done.run`, `order.give`, `answer.ASK.OPTION`, `lab.TEST`, `here.ROLE`, or one that the
    /// case sends itself. Left out: it is taken as soon as `when` holds.
    #[serde(default)]
    pub event: Option<String>,
    /// A rule that must hold.
    #[serde(default)]
    pub when: Option<String>,
    /// Where to; left out: only the actions.
    #[serde(default)]
    pub to: Vec<String>,
    /// Done on the way.
    #[serde(default)]
    pub then: Vec<Action>,
    /// Stay inside: do not leave and re-enter the state itself.
    #[serde(default)]
    pub internal: bool,
}

/// What a case can do of itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Action {
    /// Somebody speaks.
    Say {
        /// A role, or "narrator".
        who: String,
        /// The words.
        text: String,
    },
    /// Put a question.
    Ask(String),
    /// Withdraw a question that is still open.
    Withdraw(String),
    /// Send an event to the chart.
    Send {
        /// Its name.
        event: String,
        /// After how long; at once when left out.
        #[serde(default)]
        after: Option<Span>,
    },
    /// Call back an event that has not come yet.
    Cancel(String),
    /// Open a hole.
    Bleed(BleedSpec),
    /// Widen or narrow a hole by a factor.
    ScaleBleed {
        /// Which.
        id: String,
        /// By how much.
        factor: f64,
    },
    /// A branch closes to a fraction of its opening.
    Patency {
        /// Which.
        vessel: VesselName,
        /// 0 closed to 1 open.
        open: f64,
    },
    /// Set a variable of the case, readable as `var.NAME`.
    Set {
        /// Name.
        name: String,
        /// A rule's arithmetic.
        to: f64,
    },
    /// The case itself gives an order, such as the anaesthetist acting alone.
    Order(Order),
}

/// A hole that the case opens.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BleedSpec {
    /// Name.
    pub id: String,
    /// From which vessel.
    pub from: VesselName,
    /// How far along it, mm from its origin; its middle when left out. Sheaths, balloons, stents and grafts that lie there hold it.
    #[serde(default)]
    pub at_mm: Option<f64>,
    /// Area, mm².
    pub area_mm2: f64,
    /// Into which space.
    pub into: crate::circulation::Space,
}

/// A question with options; each option is orders.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ask {
    /// Short name.
    pub id: String,
    /// The question.
    pub question: String,
    /// Opens it when it comes true; a chart's `ask` does it otherwise. Asked once.
    #[serde(default)]
    pub when: Option<String>,
    /// Who asks.
    #[serde(default = "narrator")]
    pub who: String,
    /// "Why?" before the result is shown.
    #[serde(default)]
    pub why: bool,
    /// "How sure?" as well.
    #[serde(default)]
    pub confidence: bool,
    /// It is judged and changes nothing for the patient: a name, a finding, a word. The check holds it to that.
    #[serde(default)]
    pub knowledge: bool,
    /// Closes by itself after this long...
    #[serde(default)]
    pub closes: Option<Span>,
    /// ...and is then taken as this option (the effect of doing nothing); nothing happens when left out.
    #[serde(default)]
    pub otherwise: Option<String>,
    /// The objective that it serves.
    pub objective: String,
    /// At least two.
    pub options: Vec<Choice>,
}

fn narrator() -> String {
    "narrator".into()
}

/// One option of a question.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Choice {
    /// Short name.
    pub id: String,
    /// As the trainee would say it.
    pub say: String,
    /// How it is judged on what could be known at that moment.
    pub tier: Tier,
    /// When this alternative judgement holds, a rule over what was visible: the tier that then applies.
    #[serde(default)]
    pub unless: Option<Unless>,
    /// Why, for the debrief.
    pub because: String,
    /// Ids of sources, or "author judgement".
    pub source: Vec<String>,
    /// What follows from it.
    #[serde(default)]
    pub orders: Vec<Order>,
    /// Steps that the engine should not carry out but the chart shall know of: sent as events.
    #[serde(default)]
    pub sends: Vec<String>,
}

/// A tier that depends on circumstances.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unless {
    /// The rule.
    pub when: String,
    /// The tier then.
    pub tier: Tier,
}

/// How a choice is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tier {
    /// Endangers the patient; reported apart and never averaged away.
    Unsafe,
    /// Works, with a cost that could be avoided.
    Suboptimal,
    /// A range that costs nothing.
    Defensible,
    /// What most would do.
    Preferred,
}

/// Something that happens once when its condition comes true.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Happening {
    /// Short name.
    pub id: String,
    /// A rule.
    pub when: String,
    /// Chance that it happens each time the rule comes true, 0 to 1; 1 when left out.
    #[serde(default = "certain")]
    pub chance: f64,
    /// Where the chance comes from.
    #[serde(default)]
    pub source: Vec<String>,
    /// What happens.
    pub then: Vec<Action>,
}

fn certain() -> f64 {
    1.0
}

/// A way in which the case ends.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ending {
    /// Short name.
    pub id: String,
    /// A rule.
    pub when: String,
    /// Heading.
    pub title: String,
    /// Good, mixed or bad for the patient.
    pub tone: Tone,
    /// What is told.
    pub text: String,
}

/// How an ending is for the patient.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tone {
    /// Alive and whole.
    Good,
    /// Alive with harm, or not finished.
    Mixed,
    /// Dead or gravely harmed.
    Bad,
}

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
