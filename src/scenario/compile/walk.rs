//! Every action, order, rule and state of a case with its path, in the order of the file.

use crate::scenario::Order;
use crate::scenario::case::{Action, Case, StateSpec, TransitionSpec};

/// A state, its path, and the place of its parent in the list.
pub struct State<'c> {
    /// Such as `chart.states[0].states[2]`.
    pub path: String,
    /// The state.
    pub state: &'c StateSpec,
    /// Index of the state around it.
    pub parent: Option<usize>,
}

/// All states, each after its parent.
pub fn states(case: &Case) -> Vec<State<'_>> {
    fn down<'c>(list: &'c [StateSpec], path: &str, parent: Option<usize>, out: &mut Vec<State<'c>>) {
        for (i, state) in list.iter().enumerate() {
            let path = format!("{path}.states[{i}]");
            let me = out.len();
            out.push(State { path: path.clone(), state, parent });
            down(&state.states, &path, Some(me), out);
        }
    }
    let mut out = Vec::new();
    down(&case.chart.states, "chart", None, &mut out);
    out
}

/// All ways out of states, with the index of their state in [`states`].
pub fn transitions<'c>(states: &[State<'c>]) -> Vec<(String, usize, &'c TransitionSpec)> {
    let each = states.iter().enumerate();
    each.flat_map(|(at, s)| {
        s.state.on.iter().enumerate().map(move |(i, t)| (format!("{}.on[{i}]", s.path), at, t))
    })
    .collect()
}

/// Everything that the case does of itself.
pub fn actions(case: &Case) -> Vec<(String, &Action)> {
    fn add<'c>(out: &mut Vec<(String, &'c Action)>, path: &str, list: &'c [Action]) {
        out.extend(list.iter().enumerate().map(|(i, a)| (format!("{path}[{i}]"), a)));
    }
    let mut out = Vec::new();
    for s in states(case) {
        add(&mut out, &format!("{}.entry", s.path), &s.state.entry);
        add(&mut out, &format!("{}.exit", s.path), &s.state.exit);
        for (i, way) in s.state.on.iter().enumerate() {
            add(&mut out, &format!("{}.on[{i}].then", s.path), &way.then);
        }
    }
    for (i, happening) in case.happenings.iter().enumerate() {
        add(&mut out, &format!("happenings[{i}].then"), &happening.then);
    }
    out
}

/// Every order that is written anywhere.
pub fn orders(case: &Case) -> Vec<(String, &Order)> {
    let mut out = Vec::new();
    for (i, ask) in case.asks.iter().enumerate() {
        for (j, option) in ask.options.iter().enumerate() {
            let path = format!("asks[{i}].options[{j}].orders");
            out.extend(option.orders.iter().enumerate().map(|(k, o)| (format!("{path}[{k}]"), o)));
        }
    }
    for (path, action) in actions(case) {
        if let Action::Order(order) = action {
            out.push((format!("{path}.order"), order));
        }
    }
    for (i, play) in case.plays.iter().enumerate() {
        for (j, step) in play.steps.iter().enumerate() {
            let path = format!("plays[{i}].steps[{j}].orders");
            out.extend(step.orders.iter().enumerate().map(|(k, o)| (format!("{path}[{k}]"), o)));
        }
    }
    out
}

/// When a rule is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// At every second, while the session runs: it may only look back.
    Running,
    /// After the end, over the whole session.
    Afterwards,
}

/// Every rule.
pub fn rules(case: &Case) -> Vec<(String, &str, Asked)> {
    let mut out: Vec<(String, &str, Asked)> = Vec::new();
    for (path, _, way) in transitions(&states(case)) {
        out.extend(way.when.as_deref().map(|rule| (format!("{path}.when"), rule, Asked::Running)));
    }
    for (i, ask) in case.asks.iter().enumerate() {
        out.extend(ask.when.as_deref().map(|rule| (format!("asks[{i}].when"), rule, Asked::Running)));
        for (j, option) in ask.options.iter().enumerate() {
            let path = format!("asks[{i}].options[{j}].unless.when");
            out.extend(option.unless.as_ref().map(|u| (path, u.when.as_str(), Asked::Running)));
        }
    }
    for (i, happening) in case.happenings.iter().enumerate() {
        out.push((format!("happenings[{i}].when"), &happening.when, Asked::Running));
    }
    for (i, ending) in case.endings.iter().enumerate() {
        out.push((format!("endings[{i}].when"), &ending.when, Asked::Running));
    }
    for (i, mark) in case.marks.iter().enumerate() {
        out.push((format!("marks[{i}].rule"), &mark.rule, Asked::Afterwards));
    }
    for (i, play) in case.plays.iter().enumerate() {
        for (j, step) in play.steps.iter().enumerate() {
            let path = format!("plays[{i}].steps[{j}].when");
            out.extend(step.when.as_deref().map(|rule| (path, rule, Asked::Running)));
        }
        for (j, rule) in play.expect.iter().enumerate() {
            out.push((format!("plays[{i}].expect[{j}]"), rule, Asked::Afterwards));
        }
    }
    out
}
