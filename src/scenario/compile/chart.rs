//! From the chart as it is written to the chart that runs.

use super::told::Told;
use super::walk;
use crate::scenario::case::{Action, Case, StateKind, StateSpec, TransitionSpec};
use crate::scenario::chart::{self, Chart, InitialSpec, Place, SpecKind};

/// The chart of a case: guards are the texts of rules.
pub fn chart(case: &Case, told: &mut Told<'_>) -> Option<Chart<String, Action>> {
    let initial = InitialSpec { target: vec![case.chart.initial.clone()], actions: Vec::new() };
    match Chart::build(Some(initial), case.chart.states.iter().map(state).collect()) {
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

fn state(written: &StateSpec) -> chart::StateSpec<String, Action> {
    let target = |id: &Option<String>| id.iter().map(|id| InitialSpec { target: vec![id.clone()], actions: Vec::new() }).next();
    let history = |deep| {
        // As in SCXML, a history's only way out is where to go when nothing is remembered yet.
        let first = written.on.first();
        let default = InitialSpec {
            target: first.map(|t| t.to.clone()).unwrap_or_default(),
            actions: first.map(|t| t.then.clone()).unwrap_or_default(),
        };
        SpecKind::History { deep, default }
    };
    let kind = match written.kind {
        StateKind::One => SpecKind::State { initial: target(&written.initial) },
        StateKind::Parallel => SpecKind::Parallel,
        StateKind::Final => SpecKind::Final,
        StateKind::ShallowHistory => history(false),
        StateKind::DeepHistory => history(true),
    };
    let is_history = matches!(kind, SpecKind::History { .. });
    chart::StateSpec {
        id: written.id.clone(),
        kind,
        on_entry: written.entry.clone(),
        on_exit: written.exit.clone(),
        transitions: written.on.iter().filter(|_| !is_history).map(transition).collect(),
        states: written.states.iter().map(state).collect(),
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
