//! Where a transition leads: what it enters, and within which state all of it happens.

use std::collections::{BTreeMap, BTreeSet};

use super::model::{Chart, ROOT, StateId, StateKind, Transition};

/// Targets with each history replaced by what it stands for.
pub(super) fn effective<G, A>(
    chart: &Chart<G, A>,
    history: &BTreeMap<StateId, Vec<StateId>>,
    targets: &[StateId],
) -> Vec<StateId> {
    let mut found = Vec::new();
    for &target in targets {
        let default = chart.state(target).initial.iter().flat_map(|default| &default.target);
        let stands_for: Vec<StateId> = match (chart.kind(target), history.get(&target)) {
            (StateKind::History { .. }, Some(was)) => was.clone(),
            (StateKind::History { .. }, None) => default.copied().collect(),
            _ => vec![target],
        };
        for state in stands_for {
            if !found.contains(&state) {
                found.push(state);
            }
        }
    }
    found
}

/// The state within which a transition to `targets` happens; `None` if there are none.
pub(super) fn domain<G, A>(
    chart: &Chart<G, A>,
    transition: &Transition<G, A>,
    targets: &[StateId],
) -> Option<StateId> {
    let source = transition.source;
    if targets.is_empty() {
        None
    } else if source == ROOT {
        Some(ROOT)
    } else if transition.internal
        && chart.kind(source) == StateKind::Compound
        && targets.iter().all(|&target| chart.is_inside(target, source))
    {
        Some(source)
    } else {
        let mut all = vec![source];
        all.extend(targets);
        Some(chart.common(&all))
    }
}

/// What is to be entered.
pub(super) struct Entry<'a, 'h, G, A> {
    chart: &'a Chart<G, A>,
    history: &'h BTreeMap<StateId, Vec<StateId>>,
    pub states: BTreeSet<StateId>,
    /// Compound states that are entered by their initial transition.
    pub by_default: BTreeSet<StateId>,
    /// States whose history was asked for and is empty, with what it leads to instead.
    pub from_history: BTreeMap<StateId, &'a Transition<G, A>>,
}

impl<'a, 'h, G, A> Entry<'a, 'h, G, A> {
    pub fn new(chart: &'a Chart<G, A>, history: &'h BTreeMap<StateId, Vec<StateId>>) -> Self {
        Self {
            chart,
            history,
            states: BTreeSet::new(),
            by_default: BTreeSet::new(),
            from_history: BTreeMap::new(),
        }
    }

    /// Adds what a transition within `domain` enters.
    pub fn of(&mut self, transition: &Transition<G, A>, domain: Option<StateId>) {
        for &target in &transition.target {
            self.down(target);
        }
        for target in effective(self.chart, self.history, &transition.target) {
            self.up(target, domain);
        }
    }

    /// Adds a state and, where it does not name what inside it is meant, its default.
    fn down(&mut self, state: StateId) {
        let found = self.chart.state(state);
        match found.kind {
            StateKind::History { .. } => {
                let targets = match (self.history.get(&state), &found.initial) {
                    (Some(was), _) => was.clone(),
                    (None, Some(default)) => {
                        self.from_history.extend(found.parent.map(|parent| (parent, default)));
                        default.target.clone()
                    }
                    (None, None) => Vec::new(),
                };
                self.down_all(&targets, found.parent);
            }
            StateKind::Compound | StateKind::Root => {
                self.states.insert(state);
                self.by_default.insert(state);
                if let Some(initial) = &found.initial {
                    self.down_all(&initial.target, Some(state));
                }
            }
            StateKind::Parallel => {
                self.states.insert(state);
                self.regions(state);
            }
            StateKind::Atomic | StateKind::Final => {
                self.states.insert(state);
            }
        }
    }

    fn down_all(&mut self, targets: &[StateId], top: Option<StateId>) {
        for &target in targets {
            self.down(target);
        }
        for &target in targets {
            self.up(target, top);
        }
    }

    /// Adds the states around a state up to `top`, and the other regions of those that are parallel.
    fn up(&mut self, state: StateId, top: Option<StateId>) {
        let chart = self.chart;
        for around in chart.around(state).take_while(|&around| Some(around) != top) {
            self.states.insert(around);
            if chart.kind(around) == StateKind::Parallel {
                self.regions(around);
            }
        }
    }

    fn regions(&mut self, parallel: StateId) {
        let chart = self.chart;
        for &region in &chart.state(parallel).children {
            if !self.states.iter().any(|&state| chart.is_inside(state, region)) {
                self.down(region);
            }
        }
    }
}
