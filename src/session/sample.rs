//! A sample: every signal at one second, with what happened since the last, as rules read it.

use super::event::{Event, EventKind, Tick};
use super::host::Story;
use super::world::World;
use crate::scenario::Loaded;
use crate::scenario::rule::Signals;
use crate::scenario::signal;
use crate::scenario::written;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Where each signal stands in a row, and the constants of the case.
#[derive(Debug)]
pub struct Columns {
    index: BTreeMap<String, usize>,
    policy: BTreeMap<String, f64>,
}

/// One second of a session.
#[derive(Clone, Debug)]
pub struct Row {
    /// When.
    pub at: Tick,
    /// One value for each column; not a number where there is none yet.
    pub values: Vec<f64>,
    /// Events since the last row: name and argument.
    pub events: BTreeSet<(&'static str, String)>,
    /// Active states of the chart.
    pub states: Arc<BTreeSet<String>>,
    /// Choices made so far: question and option.
    pub chosen: Arc<BTreeMap<String, String>>,
    columns: Arc<Columns>,
}

impl Row {
    /// As a log kept it; states and choices are the caller's.
    pub fn logged_at(at: Tick, values: &[Option<f64>], columns: &Arc<Columns>) -> Self {
        Self {
            at,
            values: values.iter().map(|v| v.unwrap_or(f64::NAN)).collect(),
            events: BTreeSet::new(),
            states: Arc::default(),
            chosen: Arc::default(),
            columns: Arc::clone(columns),
        }
    }
    /// The values as the log keeps them.
    pub fn logged(&self) -> Vec<Option<f64>> {
        self.values.iter().map(|v| v.is_finite().then_some(*v)).collect()
    }
}

impl Signals for Row {
    fn value(&self, name: &str) -> Option<f64> {
        if let Some(&i) = self.columns.index.get(name) {
            return self.values.get(i).copied().filter(|v| !v.is_nan());
        }
        name.strip_prefix("policy.").and_then(|p| self.columns.policy.get(p).copied())
    }
    fn event(&self, name: &str, argument: Option<&str>) -> bool {
        match argument {
            Some(a) => self.events.iter().any(|(n, b)| *n == name && b == a),
            None => self.events.iter().any(|(n, _)| *n == name),
        }
    }
    fn in_state(&self, state: &str) -> bool {
        self.states.contains(state)
    }
    fn chose(&self, ask: &str, option: &str) -> bool {
        self.chosen.get(ask).is_some_and(|o| o == option)
    }
}

/// Names of all columns of a case.
pub fn columns(case: &Loaded) -> Vec<String> {
    signal::columns(&case.vars).into_iter().map(|(name, _)| name).collect()
}

impl Columns {
    /// For a case.
    pub fn of(case: &Loaded) -> Self {
        Self::named(case, columns(case))
    }
    /// For a case and the columns that a log names.
    pub fn named(case: &Loaded, names: impl IntoIterator<Item = String>) -> Self {
        let index = names.into_iter().enumerate().map(|(i, n)| (n, i)).collect();
        Self { index, policy: case.case.policy.clone() }
    }
}

/// The row of this second.
pub fn row(case: &Loaded, at: Tick, world: &World, story: &Story) -> Row {
    let mut values = Vec::with_capacity(story.columns().index.len());
    values.push(at.seconds());
    world.signals(&mut values);
    values.extend(case.vars.iter().map(|v| story.var(v)));
    debug_assert_eq!(values.len(), story.columns().index.len(), "each column has one value");
    Row {
        at,
        values,
        events: story.happened(),
        states: story.states(),
        chosen: story.chosen_all(),
        columns: Arc::clone(story.columns()),
    }
}

/// Opacity of a sac from which it is said to fill: less is a blush at an edge (assumed).
pub const FILLS: f64 = 0.1;

/// The names under which rules know an event: `done(run)`, `given(esmolol)`, `struck(stroke)`.
pub fn names(event: &Event) -> Vec<(&'static str, String)> {
    match &event.kind {
        EventKind::Ordered { order, .. } => vec![("order", order.verb().into())],
        EventKind::Done { verb, to } => {
            let mut out = vec![("done", verb.clone())];
            let by_thing = match verb.as_str() {
                "give" | "infuse" | "transfuse" => "given",
                "insert" | "exchange" => "inserted",
                "call" => "called",
                "mark" => "marked",
                "puncture" => "opened",
                "close" => "closed",
                "revascularise" => "revascularised",
                _ => "",
            };
            if !by_thing.is_empty() && !to.is_empty() {
                out.push((by_thing, to.clone()));
            }
            out
        }
        EventKind::Refused { verb, .. } => vec![("refused", verb.clone())],
        EventKind::Asked { ask } => vec![("asked", ask.clone())],
        EventKind::Chosen { ask, .. } => vec![("answered", ask.clone())],
        EventKind::Entered { state } => vec![("entered", state.clone())],
        EventKind::Lab { test, .. } => vec![("lab", written(test))],
        EventKind::Arrived { who } => vec![("arrived", who.replace(' ', "_"))],
        EventKind::Risk { id, struck: true, .. } => vec![("struck", id.clone())],
        EventKind::Placed(facts) => {
            let mut out = vec![("placed", facts.device.clone())];
            out.extend(
                facts.covered.iter().filter(|(_, open)| *open < 0.5).map(|(v, _)| ("covered", written(v))),
            );
            out
        }
        EventKind::Ballooned { device, .. } => vec![("ballooned", device.clone())],
        EventKind::Stented { device, .. } => vec![("stented", device.clone())],
        EventKind::Slipped { device, .. } => vec![("slipped", device.clone())],
        EventKind::Alarm { signal, .. } => vec![("alarm", signal.clone())],
        EventKind::Ran(facts) => {
            vec![("ran", if facts.sac_opacity > FILLS { "sac_fills" } else { "sac_dark" }.into())]
        }
        _ => Vec::new(),
    }
}
