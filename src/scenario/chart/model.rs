//! A checked chart: states in document order, links resolved.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::spec::{ChartFault, InitialSpec, Place, SpecKind, StateSpec, TransitionSpec};
use crate::scenario::nearest;

/// States within states within states.
const DEEPEST: usize = 64;

/// A state, by its place in document order; the chart itself is the first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct StateId(pub(super) u32);

/// A chart that has been checked, with guards `G` and actions `A`.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart<G, A> {
    pub(super) states: Vec<State<G, A>>,
    pub(super) names: Names,
}

/// The states' names, both ways.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Names {
    pub of: Vec<String>,
    pub by: BTreeMap<String, StateId>,
}

/// What sort of state it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StateKind {
    /// The chart itself.
    Root,
    /// No state inside.
    Atomic,
    /// One of the states inside is active at a time.
    Compound,
    /// All of the states inside are active at once.
    Parallel,
    /// Ends the state around it.
    Final,
    /// Remembers what was active in the state around it.
    History {
        /// Down to the innermost states.
        deep: bool,
    },
}

#[derive(Clone, Debug, PartialEq)]
pub(super) struct State<G, A> {
    pub kind: StateKind,
    pub parent: Option<StateId>,
    pub depth: u32,
    /// One past the last state inside, in document order.
    pub end: u32,
    /// States inside that are not histories.
    pub children: Vec<StateId>,
    pub histories: Vec<StateId>,
    /// Where a compound state or the chart begins, or a history never left leads.
    pub initial: Option<Transition<G, A>>,
    pub transitions: Vec<Transition<G, A>>,
    pub on_entry: Vec<A>,
    pub on_exit: Vec<A>,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) struct Transition<G, A> {
    pub source: StateId,
    pub events: Vec<String>,
    pub guard: Option<G>,
    pub target: Vec<StateId>,
    pub internal: bool,
    pub actions: Vec<A>,
}

impl<G, A> Chart<G, A> {
    /// Checks a chart that begins at `initial`, or at the first state; all faults at once.
    pub fn build(
        initial: Option<InitialSpec<A>>,
        states: Vec<StateSpec<G, A>>,
    ) -> Result<Self, Vec<ChartFault>> {
        let mut builder = Builder {
            chart: Self { states: Vec::new(), names: Names::default() },
            faults: Vec::new(),
            links: Vec::new(),
        };
        let mut root = StateSpec::new("", SpecKind::State { initial });
        root.states = states;
        builder.add(root, None, 0);
        if let Some(chart) = builder.chart.states.first_mut() {
            chart.kind = StateKind::Root;
        }
        builder.resolve();
        if builder.faults.is_empty() { Ok(builder.chart) } else { Err(builder.faults) }
    }

    /// All states in document order, without the chart itself.
    pub fn states(&self) -> impl DoubleEndedIterator<Item = StateId> + use<G, A> {
        (1..self.states.len() as u32).map(StateId)
    }

    /// The state of that name.
    pub fn find(&self, name: &str) -> Option<StateId> {
        self.names.by.get(name).copied()
    }

    /// A state's name; empty for the chart itself.
    pub fn name(&self, state: StateId) -> &str {
        &self.names.of[state.0 as usize]
    }

    /// What sort of state it is.
    pub fn kind(&self, state: StateId) -> StateKind {
        self.state(state).kind
    }

    /// The state around it; `None` for the chart itself.
    pub fn parent(&self, state: StateId) -> Option<StateId> {
        self.state(state).parent
    }

    /// Final states at the top: the ways in which the chart can end.
    pub fn endings(&self) -> impl Iterator<Item = StateId> {
        self.state(ROOT).children.iter().copied().filter(|&state| self.kind(state) == StateKind::Final)
    }

    pub(super) fn state(&self, state: StateId) -> &State<G, A> {
        &self.states[state.0 as usize]
    }

    /// Whether `state` lies inside `other`, at any depth.
    pub(super) fn is_inside(&self, state: StateId, other: StateId) -> bool {
        other < state && state.0 < self.state(other).end
    }

    /// The states around `state`, from the innermost to the chart itself.
    pub(super) fn around(&self, state: StateId) -> impl Iterator<Item = StateId> {
        std::iter::successors(self.parent(state), |&around| self.parent(around))
    }

    /// The least state, compound or the chart itself, that all of `states` lie inside.
    pub(super) fn common(&self, states: &[StateId]) -> StateId {
        let Some((&first, rest)) = states.split_first() else { return ROOT };
        self.around(first)
            .filter(|&around| matches!(self.kind(around), StateKind::Compound | StateKind::Root))
            .find(|&around| rest.iter().all(|&state| self.is_inside(state, around)))
            .unwrap_or(ROOT)
    }
}

/// The chart itself.
pub(super) const ROOT: StateId = StateId(0);

struct Builder<G, A> {
    chart: Chart<G, A>,
    faults: Vec<ChartFault>,
    /// For each state, the links that it was written with.
    links: Vec<Links>,
}

/// Names of states that a state leads to: where it begins, if it says so, and the targets of its transitions.
struct Links {
    begin: Option<Vec<String>>,
    targets: Vec<Vec<String>>,
}

impl<G, A> Builder<G, A> {
    fn add(&mut self, spec: StateSpec<G, A>, parent: Option<StateId>, depth: u32) -> StateId {
        let StateSpec { id: name, kind, on_entry, on_exit, transitions, states } = spec;
        let id = StateId(self.chart.states.len() as u32);
        if parent.is_some() {
            self.name(&name, id);
        }
        let inner_states =
            states.iter().filter(|state| !matches!(state.kind, SpecKind::History { .. })).count();
        let state_kind = match kind {
            SpecKind::State { .. } if inner_states > 0 || parent.is_none() => StateKind::Compound,
            SpecKind::State { .. } => StateKind::Atomic,
            SpecKind::Parallel => StateKind::Parallel,
            SpecKind::Final => StateKind::Final,
            SpecKind::History { deep, .. } => StateKind::History { deep },
        };
        self.check_form(&name, &kind, state_kind, parent, &states, transitions.len());
        let (begin, begin_actions) = match kind {
            SpecKind::State { initial: Some(initial) } | SpecKind::History { default: initial, .. } => {
                (Some(initial.target), initial.actions)
            }
            _ => (None, Vec::new()),
        };
        let has_initial = matches!(state_kind, StateKind::Compound | StateKind::History { .. });
        let initial = has_initial.then(|| Transition {
            source: id,
            events: Vec::new(),
            guard: None,
            target: Vec::new(),
            internal: false,
            actions: begin_actions,
        });
        let mut targets = Vec::new();
        let transitions = transitions.into_iter().enumerate().map(|(place, transition)| {
            self.check_transition(&name, place, &transition);
            let TransitionSpec { events, guard, target, internal, actions } = transition;
            targets.push(target);
            Transition { source: id, events, guard, target: Vec::new(), internal, actions }
        });
        let transitions = transitions.collect();
        self.chart.names.of.push(name.clone());
        self.links.push(Links { begin, targets });
        self.chart.states.push(State {
            kind: state_kind,
            parent,
            depth,
            end: 0,
            children: Vec::new(),
            histories: Vec::new(),
            initial,
            transitions,
            on_entry,
            on_exit,
        });
        if depth as usize >= DEEPEST && !states.is_empty() {
            let message = format!("states lie more than {DEEPEST} deep in each other");
            self.fault(Place::State(name), message, "make the chart flatter");
        } else {
            for state in states {
                let inside = self.add(state, Some(id), depth + 1);
                let history = matches!(self.chart.kind(inside), StateKind::History { .. });
                let state = &mut self.chart.states[id.0 as usize];
                if history { state.histories.push(inside) } else { state.children.push(inside) }
            }
        }
        self.chart.states[id.0 as usize].end = self.chart.states.len() as u32;
        id
    }

    fn name(&mut self, name: &str, id: StateId) {
        let place = Place::State(name.to_owned());
        let plain = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '.');
        let starts = |c: char| c.is_alphabetic() || c == '_';
        if !name.starts_with(starts) || !name.chars().all(plain) {
            let message = format!("`{name}` is not a name for a state");
            self.fault(place, message, "begin with a letter and go on with letters, digits, `_`, `-` or `.`");
        } else if self.chart.names.by.insert(name.to_owned(), id).is_some() {
            self.fault(place, format!("two states are named `{name}`"), "give one of them another name");
        }
    }

    fn check_form(
        &mut self,
        name: &str,
        kind: &SpecKind<A>,
        state_kind: StateKind,
        parent: Option<StateId>,
        states: &[StateSpec<G, A>],
        transitions: usize,
    ) {
        let place = || if parent.is_some() { Place::State(name.to_owned()) } else { Place::Chart };
        let initial = matches!(kind, SpecKind::State { initial: Some(_) });
        match state_kind {
            StateKind::Compound if states.is_empty() => {
                self.fault(place(), "the chart has no states", "write at least one");
            }
            StateKind::Compound if !initial && matches!(states[0].kind, SpecKind::History { .. }) => {
                let message = "it is not clear where to begin: the first state inside is a history";
                self.fault(place(), message, "name the initial state");
            }
            StateKind::Atomic if initial => {
                self.fault(
                    place(),
                    "an initial state is named, but there is none inside",
                    "leave `initial` out",
                );
            }
            StateKind::Parallel => {
                if states.iter().all(|state| matches!(state.kind, SpecKind::History { .. })) {
                    self.fault(
                        place(),
                        "a parallel state without states inside",
                        "write the states that run side by side",
                    );
                }
                if states.iter().any(|state| matches!(state.kind, SpecKind::Final)) {
                    let hint = "put the final state into one of the states that run side by side";
                    self.fault(place(), "a final state directly in a parallel one ends nothing", hint);
                }
            }
            StateKind::Final | StateKind::History { .. } => {
                let what = if state_kind == StateKind::Final { "final" } else { "history" };
                if !states.is_empty() || transitions > 0 {
                    let message = format!("a {what} state can have no states inside and no transitions");
                    self.fault(place(), message, "put them into the state around it");
                }
            }
            _ => {}
        }
    }

    fn check_transition(&mut self, name: &str, place: usize, transition: &TransitionSpec<G, A>) {
        let place = Place::Transition(name.to_owned(), place);
        if transition.events.is_empty() && transition.guard.is_none() && transition.target.is_empty() {
            let message = "a transition without event, guard and target would be taken for ever";
            self.fault(place.clone(), message, "name the event that it waits for");
        }
        for event in &transition.events {
            if event.is_empty() || event.contains(char::is_whitespace) || event.starts_with('.') {
                self.fault(
                    place.clone(),
                    format!("`{event}` is not the name of an event"),
                    "write it without spaces",
                );
            }
        }
    }

    fn resolve(&mut self) {
        for (index, Links { begin, targets }) in std::mem::take(&mut self.links).into_iter().enumerate() {
            let id = StateId(index as u32);
            let place = if id == ROOT { Place::Chart } else { Place::State(self.chart.name(id).to_owned()) };
            let explicit = begin.is_some();
            let begin = match begin {
                Some(names) => self.targets(&names, &place),
                None => self.chart.state(id).children.first().copied().into_iter().collect(),
            };
            if explicit {
                self.check_begin(id, &begin, &place);
            }
            if let Some(initial) = &mut self.chart.states[index].initial {
                initial.target = begin;
            }
            for (number, names) in targets.into_iter().enumerate() {
                let place = Place::Transition(self.chart.name(id).to_owned(), number);
                self.chart.states[index].transitions[number].target = self.targets(&names, &place);
            }
        }
    }

    fn targets(&mut self, names: &[String], place: &Place) -> Vec<StateId> {
        let mut found: Vec<StateId> = Vec::new();
        for name in names {
            match self.chart.find(name) {
                Some(state) => {
                    let clash = found.iter().copied().find(|&other| !self.side_by_side(state, other));
                    if let Some(other) = clash {
                        let message =
                            format!("`{name}` and `{}` cannot be active at once", self.chart.name(other));
                        self.fault(
                            place.clone(),
                            message,
                            "name states in different regions of one parallel state",
                        );
                    }
                    found.push(state);
                }
                None => {
                    let like = nearest(name, self.chart.names.of[1..].iter().map(String::as_str));
                    let hint = like.map_or("write it, or name another".to_owned(), |like| {
                        format!("did you mean `{like}`?")
                    });
                    self.fault(place.clone(), format!("there is no state `{name}`"), hint);
                }
            }
        }
        found
    }

    fn side_by_side(&self, a: StateId, b: StateId) -> bool {
        let least = self.chart.around(a).find(|&around| self.chart.is_inside(b, around)).unwrap_or(ROOT);
        !self.chart.is_inside(b, a)
            && !self.chart.is_inside(a, b)
            && a != b
            && self.chart.kind(least) == StateKind::Parallel
    }

    /// A beginning must lie inside; a history's lies beside it and is no history, or it could lead to itself.
    fn check_begin(&mut self, id: StateId, begin: &[StateId], place: &Place) {
        let history = matches!(self.chart.kind(id), StateKind::History { .. });
        let inside = if history { self.chart.parent(id).unwrap_or(ROOT) } else { id };
        if begin.is_empty() && !self.faults.iter().any(|fault| fault.place == *place) {
            self.fault(place.clone(), "no state to begin with is named", "name at least one");
        }
        for &state in begin {
            let name = self.chart.name(state).to_owned();
            if !self.chart.is_inside(state, inside) {
                let message = format!("`{name}` does not lie inside, so nothing can begin there");
                self.fault(place.clone(), message, "name a state inside");
            } else if history && matches!(self.chart.kind(state), StateKind::History { .. }) {
                let message = format!("a history cannot lead to another history, `{name}`");
                self.fault(place.clone(), message, "name the state where it should begin");
            }
        }
    }

    fn fault(&mut self, place: Place, message: impl Into<String>, hint: impl Into<String>) {
        self.faults.push(ChartFault { place, message: message.into(), hint: Some(hint.into()) });
    }
}
