//! What a rule may speak of, and where it reads it.

use std::collections::{BTreeMap, BTreeSet};

use super::unit::Unit;

/// The names that rules may use. Filled by the caller: the engine's signals and the case's own states and
/// asks.
///
/// A signal's name must not be a keyword of the language or a unit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Vocabulary {
    pub(super) signals: BTreeMap<String, Unit>,
    pub(super) events: BTreeMap<String, Argument>,
    pub(super) states: BTreeSet<String>,
    pub(super) asks: BTreeMap<String, BTreeSet<String>>,
}

/// What stands in the parentheses after an event's name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Argument {
    /// Nothing: the event is its name alone.
    None,
    /// Any name.
    Any,
    /// One of these names.
    OneOf(BTreeSet<String>),
}

impl Argument {
    /// One of these names.
    pub fn one_of<T: Into<String>>(names: impl IntoIterator<Item = T>) -> Self {
        Self::OneOf(names.into_iter().map(Into::into).collect())
    }
}

impl Vocabulary {
    /// No names at all.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a signal with the unit in which it is read.
    pub fn signal(&mut self, name: impl Into<String>, unit: Unit) -> &mut Self {
        self.signals.insert(name.into(), unit);
        self
    }

    /// Adds an event.
    pub fn event(&mut self, name: impl Into<String>, argument: Argument) -> &mut Self {
        self.events.insert(name.into(), argument);
        self
    }

    /// Adds a state of the chart.
    pub fn state(&mut self, name: impl Into<String>) -> &mut Self {
        self.states.insert(name.into());
        self
    }

    /// Adds a question with the names of its options.
    pub fn ask<T: Into<String>>(
        &mut self,
        name: impl Into<String>,
        options: impl IntoIterator<Item = T>,
    ) -> &mut Self {
        self.asks.insert(name.into(), options.into_iter().map(Into::into).collect());
        self
    }
}

/// One moment of a session, as rules read it.
pub trait Signals {
    /// The signal's value in its declared unit; `None` where it has none yet, such as a leak before there is
    /// a graft.
    fn value(&self, signal: &str) -> Option<f64>;
    /// Whether the event happens at this moment; `argument` is `None` for an event that takes none.
    fn event(&self, name: &str, argument: Option<&str>) -> bool;
    /// Whether the chart is in that state.
    fn in_state(&self, state: &str) -> bool;
    /// Whether that option of that question has been chosen by now.
    fn chose(&self, ask: &str, option: &str) -> bool;
}

impl<T: Signals + ?Sized> Signals for &T {
    fn value(&self, signal: &str) -> Option<f64> {
        (**self).value(signal)
    }
    fn event(&self, name: &str, argument: Option<&str>) -> bool {
        (**self).event(name, argument)
    }
    fn in_state(&self, state: &str) -> bool {
        (**self).in_state(state)
    }
    fn chose(&self, ask: &str, option: &str) -> bool {
        (**self).chose(ask, option)
    }
}
