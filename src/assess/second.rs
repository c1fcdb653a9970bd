//! A recording read second by second, and in which unit a clause of a rule measures it.

use crate::scenario::rule::Signals;
use crate::scenario::signal::{FAMILIES, SIGNALS};
use crate::session::Row;
use crate::session::event::Tick;

/// A row that stands for a second; on the ward each recorded stretch is read as its seconds, the events in the last.
pub(super) struct Second<'a> {
    pub row: &'a Row,
    pub last: bool,
}

impl Signals for Second<'_> {
    fn value(&self, signal: &str) -> Option<f64> {
        self.row.value(signal)
    }
    fn event(&self, name: &str, argument: Option<&str>) -> bool {
        self.last && self.row.event(name, argument)
    }
    fn in_state(&self, state: &str) -> bool {
        self.row.in_state(state)
    }
    fn chose(&self, ask: &str, option: &str) -> bool {
        self.row.chose(ask, option)
    }
}

/// The recording as even seconds, with the row that each stands for.
pub(super) fn seconds(trace: &[Row]) -> Vec<(usize, bool)> {
    let mut out = Vec::new();
    for (i, row) in trace.iter().enumerate() {
        let before = i.checked_sub(1).map_or(row.at, |j| trace[j].at);
        let n = ((row.at.0 - before.0) / Tick::PER_SECOND).max(1);
        out.extend((0..n).map(|k| (i, k + 1 == n)));
    }
    out
}

/// The unit of the quantity that a clause compares; none where it asks only yes or no, as of an event or a flag.
pub(super) fn measured(clause: &str) -> Option<&'static str> {
    let word = |c: char| c.is_alphanumeric() || c == '.' || c == '_';
    clause.split(|c| !word(c)).find_map(|name| {
        let family = name.split_once('.').map_or("", |(first, _)| first);
        let known = SIGNALS.iter().find(|s| s.name == name);
        let known = known.or_else(|| FAMILIES.iter().find(|f| f.name == family && f.name != "policy"))?;
        let flag = known.unit.is_empty() && known.about.starts_with("1 ");
        (!flag).then_some(known.unit)
    })
}
