//! What can be said of a chart without running it: guards count as open, and every event as possible.
//!
//! So a finding is certain where it says "never", while a chart without findings may still be stuck behind a
//! guard that never holds; only sweeps of players tell that.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::entry::{Entry, domain, effective};
use super::model::{Chart, ROOT, StateId, StateKind, Transition};

/// Something in a chart that its author probably did not mean.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Finding {
    /// Nothing ever leads to this state.
    Unreachable(StateId),
    /// Nothing ever leads to this ending of the whole chart.
    EndingUnreachable(StateId),
    /// The chart has no final state at the top.
    NoEndings,
    /// Once here, the chart never goes anywhere.
    DeadEnd(StateId),
    /// The chart goes on from here, but never to an ending.
    NoEndingFrom(StateId),
    /// A transition of a state that is never taken, since an earlier one always is.
    Shadowed {
        /// The state.
        state: StateId,
        /// Which of its transitions, counted from nought.
        transition: usize,
        /// The earlier one.
        by: usize,
    },
    /// Transitions without event that lead round in a circle through these states.
    Circle {
        /// In order.
        states: Vec<StateId>,
        /// Whether a guard may break it; otherwise the chart cannot come to rest.
        guarded: bool,
    },
}

impl Finding {
    /// What is the matter.
    pub fn message<G, A>(&self, chart: &Chart<G, A>) -> String {
        let name = |state: &StateId| chart.name(*state);
        match self {
            Self::Unreachable(state) => format!("nothing ever leads to the state `{}`", name(state)),
            Self::EndingUnreachable(state) => format!("nothing ever leads to the ending `{}`", name(state)),
            Self::NoEndings => "the chart has no ending".to_owned(),
            Self::DeadEnd(state) => format!("nothing leads out of `{}`", name(state)),
            Self::NoEndingFrom(state) => format!("no ending can be reached from `{}`", name(state)),
            Self::Shadowed { state, transition, by } => format!(
                "transition {} of `{}` is never taken: transition {}, before it, always is",
                transition + 1,
                name(state),
                by + 1
            ),
            Self::Circle { states, guarded } => {
                let round: Vec<_> = states.iter().chain(states.first()).map(name).collect();
                let rest = if *guarded { "may never" } else { "cannot" };
                format!(
                    "transitions without event lead round in a circle, so the chart {rest} come to rest: {}",
                    round.join(" → ")
                )
            }
        }
    }

    /// What to do about it.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Unreachable(_) | Self::EndingUnreachable(_) => {
                "give some state a transition to it, or leave it out"
            }
            Self::NoEndings => "write a final state at the top for each way in which the case can end",
            Self::DeadEnd(_) => "give it a transition, or make it final",
            Self::NoEndingFrom(_) => "give it, or a state after it, a transition towards an ending",
            Self::Shadowed { .. } => "put the guarded transition first, or leave one of the two out",
            Self::Circle { .. } => "let one of them wait for an event",
        }
    }
}

/// All findings, in document order within each sort.
pub fn analyse<G, A>(chart: &Chart<G, A>) -> Vec<Finding> {
    let mut findings = Vec::new();
    let reach = Reach::of(chart);
    for state in chart.states().filter(|state| !matches!(chart.kind(*state), StateKind::History { .. })) {
        let ending = chart.parent(state) == Some(ROOT) && chart.kind(state) == StateKind::Final;
        if !reach.states.contains(&state) {
            let told =
                chart.parent(state).is_some_and(|parent| parent != ROOT && !reach.states.contains(&parent));
            match (ending, told) {
                (true, _) => findings.push(Finding::EndingUnreachable(state)),
                (false, false) => findings.push(Finding::Unreachable(state)),
                (false, true) => {}
            }
        }
    }
    let has_endings = chart.endings().next().is_some();
    if !has_endings {
        findings.push(Finding::NoEndings);
    }
    let live = reach.live();
    for &state in reach.innermost().filter(|&state| !live.contains(state)) {
        if !reach.from(state).any(|step| !step.transition.target.is_empty()) {
            findings.push(Finding::DeadEnd(state));
        } else if has_endings {
            findings.push(Finding::NoEndingFrom(state));
        }
    }
    findings.extend(shadowed(chart));
    findings.extend(reach.circles());
    findings
}

/// What can become active, and by which transitions.
struct Reach<'a, G, A> {
    chart: &'a Chart<G, A>,
    states: BTreeSet<StateId>,
    steps: Vec<Step<'a, G, A>>,
}

/// A transition that can be taken, with what it enters.
struct Step<'a, G, A> {
    transition: &'a Transition<G, A>,
    domain: Option<StateId>,
    enters: BTreeSet<StateId>,
    /// States of which a history may bring back anything that could be active before.
    restores: Vec<StateId>,
}

impl<G, A> Step<'_, G, A> {
    fn may_enter(&self, chart: &Chart<G, A>, state: StateId) -> bool {
        self.enters.contains(&state) || self.restores.iter().any(|&around| chart.is_inside(state, around))
    }
}

impl<'a, G, A> Reach<'a, G, A> {
    fn of(chart: &'a Chart<G, A>) -> Self {
        let mut reach = Self { chart, states: BTreeSet::new(), steps: Vec::new() };
        if let Some(initial) = &chart.state(ROOT).initial {
            reach.states.extend(step(chart, initial).enters);
        }
        let mut left: Vec<_> = chart.states().flat_map(|state| &chart.state(state).transitions).collect();
        loop {
            let (open, shut): (Vec<_>, Vec<_>) =
                left.into_iter().partition(|transition| reach.is_open(transition));
            for transition in &open {
                let step = step(chart, transition);
                reach.states.extend(&step.enters);
                reach.steps.push(step);
            }
            if open.is_empty() {
                return reach;
            }
            left = shut;
        }
    }

    /// Its source can be active, and if it waits for a state to be done, that state can be.
    fn is_open(&self, transition: &Transition<G, A>) -> bool {
        let possible = |event: &String| {
            let waits_for = event.strip_prefix("done.state.").and_then(|name| self.chart.find(name));
            waits_for.is_none_or(|state| self.can_be_done(state))
        };
        self.states.contains(&transition.source)
            && (transition.events.is_empty() || transition.events.iter().any(possible))
    }

    fn can_be_done(&self, state: StateId) -> bool {
        let children = &self.chart.state(state).children;
        match self.chart.kind(state) {
            StateKind::Compound => children
                .iter()
                .any(|child| self.chart.kind(*child) == StateKind::Final && self.states.contains(child)),
            StateKind::Parallel => children.iter().all(|&region| self.can_be_done(region)),
            _ => false,
        }
    }

    fn innermost(&self) -> impl Iterator<Item = &StateId> {
        self.states
            .iter()
            .filter(|&&state| matches!(self.chart.kind(state), StateKind::Atomic | StateKind::Final))
    }

    /// The steps that can be taken while `state` is active: its own, those of the states around it, and those
    /// of states that are active beside it.
    fn from(&self, state: StateId) -> impl Iterator<Item = &Step<'a, G, A>> {
        self.steps.iter().filter(move |step| {
            let source = step.transition.source;
            let around = self.chart.around(state).find(|&around| self.chart.is_inside(source, around));
            source == state
                || self.chart.is_inside(state, source)
                || around.is_some_and(|around| self.chart.kind(around) == StateKind::Parallel)
        })
    }

    /// Innermost states from which an ending can be reached, endings included.
    fn live(&self) -> BTreeSet<StateId> {
        let mut live: BTreeSet<StateId> =
            self.chart.endings().filter(|ending| self.states.contains(ending)).collect();
        loop {
            let leads = |step: &Step<'_, G, A>| live.iter().any(|&state| step.may_enter(self.chart, state));
            let more: Vec<StateId> = self
                .innermost()
                .filter(|&state| !live.contains(state) && self.from(*state).any(leads))
                .copied()
                .collect();
            if more.is_empty() {
                return live;
            }
            live.extend(more);
        }
    }

    /// The shortest circle through each transition without event, each circle once.
    fn circles(&self) -> Vec<Finding> {
        let steps: Vec<_> = self.steps.iter().filter(|step| step.transition.events.is_empty()).collect();
        let mut told = BTreeSet::new();
        let mut findings = Vec::new();
        for start in 0..steps.len() {
            if told.contains(&start) {
                continue;
            }
            let Some(circle) = shortest_circle(start, steps.len(), |a, b| self.leads_to(steps[a], steps[b]))
            else {
                continue;
            };
            findings.push(Finding::Circle {
                states: circle.iter().map(|&place| steps[place].transition.source).collect(),
                guarded: circle.iter().any(|&place| steps[place].transition.guard.is_some()),
            });
            told.extend(circle);
        }
        findings
    }

    /// Whether the second may be taken because the first was: its source is entered, or stays active around
    /// it.
    fn leads_to(&self, first: &Step<'a, G, A>, second: &Step<'a, G, A>) -> bool {
        let source = second.transition.source;
        match first.domain {
            None => source == first.transition.source,
            Some(domain) => {
                first.may_enter(self.chart, source)
                    || source == domain
                    || self.chart.is_inside(domain, source)
            }
        }
    }
}

fn step<'a, G, A>(chart: &'a Chart<G, A>, transition: &'a Transition<G, A>) -> Step<'a, G, A> {
    let nothing_remembered = BTreeMap::new();
    let domain = domain(chart, transition, &effective(chart, &nothing_remembered, &transition.target));
    let mut entry = Entry::new(chart, &nothing_remembered);
    entry.of(transition, domain);
    let mut enters = entry.states;
    enters.remove(&ROOT);
    let histories =
        transition.target.iter().filter(|target| matches!(chart.kind(**target), StateKind::History { .. }));
    let restores = histories.filter_map(|&history| chart.parent(history)).collect();
    Step { transition, domain, enters, restores }
}

fn shadowed<G, A>(chart: &Chart<G, A>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for state in chart.states() {
        let transitions = &chart.state(state).transitions;
        for (place, transition) in transitions.iter().enumerate() {
            let by = transitions[..place].iter().position(|earlier| {
                let covers =
                    |event: &String| earlier.events.iter().any(|descriptor| is_covered(event, descriptor));
                earlier.guard.is_none()
                    && earlier.events.is_empty() == transition.events.is_empty()
                    && transition.events.iter().all(covers)
            });
            findings.extend(by.map(|by| Finding::Shadowed { state, transition: place, by }));
        }
    }
    findings
}

/// Whether a descriptor fits every event that `event`, itself a descriptor, fits.
fn is_covered(event: &str, descriptor: &str) -> bool {
    let stem = |text: &str| text.strip_suffix(".*").or(text.strip_suffix('.')).unwrap_or(text).to_owned();
    let (event, descriptor) = (stem(event), stem(descriptor));
    descriptor == "*"
        || event.strip_prefix(&descriptor).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

/// The fewest places from `start` back to it, `start` first.
fn shortest_circle(start: usize, places: usize, leads: impl Fn(usize, usize) -> bool) -> Option<Vec<usize>> {
    let mut came_from: BTreeMap<usize, usize> = BTreeMap::new();
    let mut queue = VecDeque::from([start]);
    while let Some(place) = queue.pop_front() {
        if leads(place, start) {
            let mut circle = vec![place];
            while let Some(&before) = came_from.get(circle.last()?) {
                circle.push(before);
            }
            circle.reverse();
            return Some(circle);
        }
        for next in (0..places).filter(|&next| next != start && leads(place, next)) {
            came_from.entry(next).or_insert_with(|| {
                queue.push_back(next);
                place
            });
        }
    }
    None
}
