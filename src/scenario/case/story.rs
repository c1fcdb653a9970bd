//! What can happen: the chart and its actions, questions and their answers, happenings, endings.

use crate::anatomy::VesselName;
use crate::scenario::order::Order;
use crate::scenario::quantity::Span;
use serde::{Deserialize, Serialize};

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

pub(super) fn certain() -> f64 {
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
