//! From the chart as it is written to the chart that runs.

use super::told::Told;
use super::walk;
use crate::scenario::case::{Action, Case, StateKind, StateSpec, TransitionSpec};
use crate::scenario::chart::{self, Chart, InitialSpec, Place, SpecKind};

/// The chart of a case: guards are the texts of rules.
pub fn chart(case: &Case, told: &mut Told<'_>) -> Option<Chart<String, Action>> {
    let initial = InitialSpec { target: vec![case.chart.initial.clone()], actions: Vec::new() };
    let states = case.chart.states.iter().map(|s| state(s, &case.chart.initial)).collect();
    match Chart::build(Some(initial), states) {
        Ok(chart) => Some(chart),
        Err(faults) => {
            let states = walk::states(case);
            for fault in faults {
                let path_of = |id: &str| states.iter().find(|s| s.state.id == id).map(|s| s.path.clone());
                let path = match &fault.place {
                    Place::Chart => Some("chart".to_owned()),
                    Place::State(id) => path_of(id),
                    Place::Transition(id, i) => path_of(id).map(|path| format!("{path}.on[{i}]")),
                };
                let diagnostic = told.fault_of("chart", &path.unwrap_or("chart".into()), fault.message);
                told.tell(diagnostic.hint(fault.hint.unwrap_or_default()));
            }
            None
        }
    }
}

/// `begins` is where the state around it begins.
fn state(written: &StateSpec, begins: &str) -> chart::StateSpec<String, Action> {
    let to = |id: &str| InitialSpec { target: vec![id.to_owned()], actions: Vec::new() };
    let history = |deep| {
        // As in SCXML, a history's only way out is where to go when nothing is remembered yet; without one it is where
        // the state around it begins.
        let default = match written.on.first() {
            Some(way) => InitialSpec { target: way.to.clone(), actions: way.then.clone() },
            None => to(begins),
        };
        SpecKind::History { deep, default }
    };
    let kind = match written.kind {
        StateKind::One => SpecKind::State { initial: written.initial.as_deref().map(to) },
        StateKind::Parallel => SpecKind::Parallel,
        StateKind::Final => SpecKind::Final,
        StateKind::ShallowHistory => history(false),
        StateKind::DeepHistory => history(true),
    };
    let plain = |s: &&StateSpec| !matches!(s.kind, StateKind::ShallowHistory | StateKind::DeepHistory);
    let first = written.states.iter().find(plain).map(|s| s.id.clone());
    let first = written.initial.clone().or(first).unwrap_or_default();
    let is_history = matches!(kind, SpecKind::History { .. });
    chart::StateSpec {
        id: written.id.clone(),
        kind,
        on_entry: written.entry.clone(),
        on_exit: written.exit.clone(),
        transitions: written.on.iter().filter(|_| !is_history).map(transition).collect(),
        states: written.states.iter().map(|s| state(s, &first)).collect(),
    }
}

fn transition(written: &TransitionSpec) -> chart::TransitionSpec<String, Action> {
    chart::TransitionSpec {
        events: written.event.iter().cloned().collect(),
        guard: written.when.clone(),
        target: written.to.clone(),
        internal: written.internal,
        actions: written.then.clone(),
    }
}
