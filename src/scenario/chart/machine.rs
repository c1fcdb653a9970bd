//! A chart in motion: SCXML 1.0, Appendix D, with names as there where they say more than ours would.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use serde::{Deserialize, Serialize};

use super::entry::{Entry, domain, effective};
use super::host::{Host, Raise, Situation};
use super::model::{Chart, ROOT, StateId, StateKind, Transition};

/// Steps that one event may set off before the chart counts as restless.
pub const MOST_MICROSTEPS: u32 = 1000;

/// The state of a running chart. It belongs to the chart that it was started with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Machine {
    active: BTreeSet<StateId>,
    history: BTreeMap<StateId, Vec<StateId>>,
    internal: VecDeque<String>,
    external: VecDeque<String>,
    /// In the order of sending.
    delayed: Vec<Delayed>,
    now_ticks: u64,
    running: bool,
    ending: Option<StateId>,
    microsteps: u32,
}

/// An event under way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Delayed {
    due_ticks: u64,
    event: String,
    id: Option<String>,
}

/// The chart did not come to rest. The machine stays where it was given up, and should not be used further.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "the chart does not come to rest: {MOST_MICROSTEPS} steps in a row without time passing, last in {states}"
)]
pub struct Runaway {
    /// The states that were active then.
    pub states: String,
}

impl Machine {
    /// Enters the chart's initial states and runs to rest.
    pub fn start<G, A>(chart: &Chart<G, A>, host: &mut impl Host<G, A>) -> Result<Self, Runaway> {
        let mut machine = Self {
            active: BTreeSet::new(),
            history: BTreeMap::new(),
            internal: VecDeque::new(),
            external: VecDeque::new(),
            delayed: Vec::new(),
            now_ticks: 0,
            running: true,
            ending: None,
            microsteps: 0,
        };
        let mut run = Run { chart, machine: &mut machine, host };
        let initial: Vec<_> = chart.state(ROOT).initial.iter().collect();
        run.enter(&initial);
        run.settle()?;
        run.settled(None);
        run.external()?;
        Ok(machine)
    }

    /// An event from outside; runs to rest. Nothing happens once the chart has ended.
    pub fn event<G, A>(
        &mut self,
        chart: &Chart<G, A>,
        name: &str,
        host: &mut impl Host<G, A>,
    ) -> Result<(), Runaway> {
        if !self.running {
            return Ok(());
        }
        self.microsteps = 0;
        self.external.push_back(name.to_owned());
        Run { chart, machine: self, host }.external()
    }

    /// Lets time pass; events that fall due on the way come in order, each at its own tick.
    pub fn advance<G, A>(
        &mut self,
        chart: &Chart<G, A>,
        ticks: u64,
        host: &mut impl Host<G, A>,
    ) -> Result<(), Runaway> {
        let until = self.now_ticks.saturating_add(ticks);
        while self.running
            && let Some(next) = self.next_due()
            && self.delayed[next].due_ticks <= until
        {
            let Delayed { due_ticks, event, .. } = self.delayed.remove(next);
            self.now_ticks = due_ticks;
            self.event(chart, &event, host)?;
        }
        self.now_ticks = until;
        Ok(())
    }

    /// The world may have changed: takes the transitions without event whose guards now hold, and runs to
    /// rest.
    pub fn poll<G, A>(&mut self, chart: &Chart<G, A>, host: &mut impl Host<G, A>) -> Result<(), Runaway> {
        if !self.running {
            return Ok(());
        }
        self.microsteps = 0;
        let mut run = Run { chart, machine: self, host };
        run.settle()?;
        if run.machine.microsteps > 0 {
            run.settled(None);
        }
        run.external()
    }

    /// The active states' names, outer before inner, in document order; none once the chart has ended.
    pub fn configuration<'a, G, A>(&'a self, chart: &'a Chart<G, A>) -> impl Iterator<Item = &'a str> {
        self.active.iter().map(|&state| chart.name(state))
    }

    /// Whether the state of that name is active.
    pub fn is_in<G, A>(&self, chart: &Chart<G, A>, state: &str) -> bool {
        chart.find(state).is_some_and(|state| self.active.contains(&state))
    }

    /// The final state at the top in which the chart ended.
    pub fn ending<'a, G, A>(&self, chart: &'a Chart<G, A>) -> Option<&'a str> {
        self.ending.map(|state| chart.name(state))
    }

    /// Whether the chart has not ended.
    pub fn is_running(&self) -> bool {
        self.running
    }

    /// Ticks since the start.
    pub fn now_ticks(&self) -> u64 {
        self.now_ticks
    }

    /// The tick at which the next event under way falls due.
    pub fn next_due_ticks(&self) -> Option<u64> {
        self.next_due().map(|next| self.delayed[next].due_ticks)
    }

    /// The first due; of those due at once, the first sent.
    fn next_due(&self) -> Option<usize> {
        (0..self.delayed.len()).min_by_key(|&place| self.delayed[place].due_ticks)
    }
}

/// Whether an event's name fits one of the descriptors: equal, or longer by whole words after a dot.
pub(super) fn matches(descriptors: &[String], event: &str) -> bool {
    descriptors.iter().any(|descriptor| {
        let stem = descriptor.strip_suffix(".*").or(descriptor.strip_suffix('.')).unwrap_or(descriptor);
        descriptor == "*"
            || event.strip_prefix(stem).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    })
}

/// A machine at work.
struct Run<'a, G, A, H> {
    chart: &'a Chart<G, A>,
    machine: &'a mut Machine,
    host: &'a mut H,
}

impl<'a, G, A, H: Host<G, A>> Run<'a, G, A, H> {
    /// Takes events from outside one at a time until there are none.
    fn external(&mut self) -> Result<(), Runaway> {
        while self.machine.running
            && let Some(event) = self.machine.external.pop_front()
        {
            self.count_step()?;
            let transitions = self.select(Some(&event));
            if !transitions.is_empty() {
                self.microstep(&transitions)?;
            }
            self.settle()?;
            self.settled(Some(&event));
        }
        Ok(())
    }

    /// The macrostep: transitions without event first, then internal events, until neither is left.
    fn settle(&mut self) -> Result<(), Runaway> {
        while self.machine.running {
            let mut transitions = self.select(None);
            if transitions.is_empty() {
                let Some(event) = self.machine.internal.pop_front() else { break };
                transitions = self.select(Some(&event));
            }
            if !transitions.is_empty() {
                self.microstep(&transitions)?;
            }
        }
        if !self.machine.running {
            self.leave(self.machine.active.clone());
            self.machine.internal.clear();
            self.machine.external.clear();
            self.machine.delayed.clear();
        }
        Ok(())
    }

    /// For each innermost active state in document order, the first transition that may be taken, its own
    /// before those of the states around it; then without conflicts.
    fn select(&mut self, event: Option<&str>) -> Vec<&'a Transition<G, A>> {
        let chart = self.chart;
        let active: Vec<StateId> = self.machine.active.iter().copied().collect();
        let mut enabled: Vec<&Transition<G, A>> = Vec::new();
        for atomic in active.into_iter().filter(|&state| is_innermost(chart, state)) {
            let found = std::iter::once(atomic)
                .chain(chart.around(atomic))
                .flat_map(|state| &chart.state(state).transitions)
                .find(|transition| self.is_enabled(transition, event));
            if let Some(found) = found
                && !enabled.iter().any(|other| std::ptr::eq(*other, found))
            {
                enabled.push(found);
            }
        }
        self.without_conflicts(enabled)
    }

    fn is_enabled(&mut self, transition: &Transition<G, A>, event: Option<&str>) -> bool {
        let called = match event {
            None => transition.events.is_empty(),
            Some(event) => matches(&transition.events, event),
        };
        called
            && transition
                .guard
                .as_ref()
                .is_none_or(|guard| self.host.guard(guard, &now(self.chart, self.machine)))
    }

    /// Of two transitions that leave a common state, the one from further in wins, else the earlier.
    fn without_conflicts(&self, enabled: Vec<&'a Transition<G, A>>) -> Vec<&'a Transition<G, A>> {
        let mut kept: Vec<(&Transition<G, A>, BTreeSet<StateId>)> = Vec::new();
        for transition in enabled {
            let leaves = self.exit_set(transition);
            let conflicts = |(_, other): &(_, BTreeSet<StateId>)| !leaves.is_disjoint(other);
            let yields =
                |(other, _): &(&Transition<G, A>, _)| self.chart.is_inside(transition.source, other.source);
            if kept.iter().filter(|other| conflicts(other)).all(yields) {
                kept.retain(|other| !conflicts(other));
                kept.push((transition, leaves));
            }
        }
        kept.into_iter().map(|(transition, _)| transition).collect()
    }

    fn microstep(&mut self, transitions: &[&'a Transition<G, A>]) -> Result<(), Runaway> {
        self.count_step()?;
        let leaves = transitions.iter().flat_map(|transition| self.exit_set(transition)).collect();
        self.leave(leaves);
        for transition in transitions {
            self.act(&transition.actions);
        }
        self.enter(transitions);
        Ok(())
    }

    /// Leaves states, inner before outer, after noting what histories will need.
    fn leave(&mut self, states: BTreeSet<StateId>) {
        for &state in &states {
            for &history in &self.chart.state(state).histories {
                let deep = self.chart.kind(history) == StateKind::History { deep: true };
                let was = self.machine.active.iter().copied().filter(|&inner| {
                    if deep {
                        is_innermost(self.chart, inner) && self.chart.is_inside(inner, state)
                    } else {
                        self.chart.parent(inner) == Some(state)
                    }
                });
                let was = was.collect();
                self.machine.history.insert(history, was);
            }
        }
        for &state in states.iter().rev() {
            self.host.leaving(self.chart.name(state));
            self.act(&self.chart.state(state).on_exit);
            self.machine.active.remove(&state);
        }
    }

    /// Enters what the transitions lead to, outer before inner.
    fn enter(&mut self, transitions: &[&'a Transition<G, A>]) {
        let mut entry = Entry::new(self.chart, &self.machine.history);
        for transition in transitions {
            entry.of(transition, self.domain(transition));
        }
        let Entry { states, by_default, from_history, .. } = entry;
        for &state in &states {
            self.machine.active.insert(state);
            self.host.entering(self.chart.name(state));
            self.act(&self.chart.state(state).on_entry);
            if by_default.contains(&state)
                && let Some(initial) = &self.chart.state(state).initial
            {
                self.act(&initial.actions);
            }
            if let Some(default) = from_history.get(&state) {
                self.act(&default.actions);
            }
            if self.chart.kind(state) == StateKind::Final {
                self.finish(state);
            }
        }
    }

    /// A final state tells that the state around it is done, and the last region that the parallel state is.
    fn finish(&mut self, state: StateId) {
        let chart = self.chart;
        let parent = chart.parent(state).unwrap_or(ROOT);
        if parent == ROOT {
            self.machine.running = false;
            self.machine.ending = Some(state);
            return;
        }
        self.machine.internal.push_back(format!("done.state.{}", chart.name(parent)));
        if let Some(around) = chart.parent(parent)
            && chart.kind(around) == StateKind::Parallel
            && chart.state(around).children.iter().all(|&region| self.is_done(region))
        {
            self.machine.internal.push_back(format!("done.state.{}", chart.name(around)));
        }
    }

    fn is_done(&self, state: StateId) -> bool {
        let children = &self.chart.state(state).children;
        match self.chart.kind(state) {
            StateKind::Compound => children.iter().any(|&child| {
                self.chart.kind(child) == StateKind::Final && self.machine.active.contains(&child)
            }),
            StateKind::Parallel => children.iter().all(|&region| self.is_done(region)),
            _ => false,
        }
    }

    fn exit_set(&self, transition: &Transition<G, A>) -> BTreeSet<StateId> {
        let Some(domain) = self.domain(transition) else { return BTreeSet::new() };
        self.machine.active.iter().copied().filter(|&state| self.chart.is_inside(state, domain)).collect()
    }

    /// The state within which a transition happens; `None` if it goes nowhere.
    fn domain(&self, transition: &Transition<G, A>) -> Option<StateId> {
        let targets = effective(self.chart, &self.machine.history, &transition.target);
        domain(self.chart, transition, &targets)
    }

    fn act(&mut self, actions: &[A]) {
        for action in actions {
            for raise in self.host.act(action, &now(self.chart, self.machine)) {
                self.machine.take(raise);
            }
        }
    }

    fn settled(&mut self, event: Option<&str>) {
        self.host.settled(event, &now(self.chart, self.machine));
    }

    fn count_step(&mut self) -> Result<(), Runaway> {
        self.machine.microsteps += 1;
        if self.machine.microsteps <= MOST_MICROSTEPS {
            return Ok(());
        }
        let states: Vec<&str> = self.machine.configuration(self.chart).collect();
        Err(Runaway { states: states.join(", ") })
    }
}

impl Machine {
    fn take(&mut self, raise: Raise) {
        match raise {
            Raise::Internal(event) => self.internal.push_back(event),
            Raise::Send { event, delay_ticks: 0, .. } => self.external.push_back(event),
            Raise::Send { event, delay_ticks, id } => {
                let due_ticks = self.now_ticks.saturating_add(delay_ticks);
                self.delayed.push(Delayed { due_ticks, event, id });
            }
            Raise::Cancel(id) => self.delayed.retain(|delayed| delayed.id.as_ref() != Some(&id)),
        }
    }
}

fn now<'a, G, A>(chart: &'a Chart<G, A>, machine: &'a Machine) -> Situation<'a> {
    Situation { names: &chart.names, active: &machine.active, now_ticks: machine.now_ticks }
}

fn is_innermost<G, A>(chart: &Chart<G, A>, state: StateId) -> bool {
    matches!(chart.kind(state), StateKind::Atomic | StateKind::Final)
}
