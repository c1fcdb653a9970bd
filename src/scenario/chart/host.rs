//! What a chart asks of the world that it lives in.

use std::collections::BTreeSet;

use super::model::{Names, StateId};

/// The world of a chart: it knows what guards and actions mean.
pub trait Host<G, A> {
    /// Whether a guard holds now. It must not change anything: how often it is asked is no part of the
    /// meaning.
    fn guard(&mut self, guard: &G, now: &Situation<'_>) -> bool;
    /// Does an action; the events that come of it, in order.
    fn act(&mut self, action: &A, now: &Situation<'_>) -> Vec<Raise>;
    /// A state is being entered; its entry actions follow.
    fn entering(&mut self, _state: &str) {}
    /// A state is being left; its exit actions follow.
    fn leaving(&mut self, _state: &str) {}
    /// The chart has come to rest after an event; `None` after the start or a poll that changed something.
    fn settled(&mut self, _event: Option<&str>, _now: &Situation<'_>) {}
}

/// An event that an action gives rise to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Raise {
    /// Before all that comes from outside.
    Internal(String),
    /// In turn with what comes from outside, after so many ticks.
    Send {
        /// The event's name.
        event: String,
        /// How many ticks later; nought is as soon as all at hand is done.
        delay_ticks: u64,
        /// By what it can be cancelled while it is under way.
        id: Option<String>,
    },
    /// Recalls all events under way that were sent with this id.
    Cancel(String),
}

/// Which states are active, and when.
#[derive(Clone, Copy, Debug)]
pub struct Situation<'a> {
    pub(super) names: &'a Names,
    pub(super) active: &'a BTreeSet<StateId>,
    pub(super) now_ticks: u64,
}

impl<'a> Situation<'a> {
    /// Whether the state of that name is active.
    pub fn is_in(&self, state: &str) -> bool {
        self.names.by.get(state).is_some_and(|state| self.active.contains(state))
    }

    /// The active states' names, outer before inner, in document order.
    pub fn states(&self) -> impl Iterator<Item = &'a str> + use<'a> {
        let names = self.names;
        self.active.iter().map(|state| names.of[state.0 as usize].as_str())
    }

    /// Ticks since the start.
    pub fn now_ticks(&self) -> u64 {
        self.now_ticks
    }
}
