//! A checked rule: conditions in a row, each after those that it is made of, with every quantity in one unit.

use std::collections::BTreeSet;
use std::ops::Range;

use super::kernel::Span;
use super::syntax::Comparison;
use super::vocabulary::Signals;

/// Whether a condition holds and by how much.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Verdict {
    /// Whether it holds.
    pub truth: bool,
    /// Quantitative robustness: how far the deciding comparison is from turning, in its signal's unit; an
    /// event, a state or a choice is infinitely far. At zero the truth is not the sign: `x >= 4` holds at 4,
    /// `x > 4` does not.
    pub margin: f64,
}

impl Verdict {
    /// The verdict on something without degrees.
    pub(super) fn crisp(truth: bool) -> Self {
        Self { truth, margin: if truth { f64::INFINITY } else { f64::NEG_INFINITY } }
    }

    pub(super) fn opposite(self) -> Self {
        Self { truth: !self.truth, margin: -self.margin }
    }

    pub(super) fn and(self, other: Self) -> Self {
        Self { truth: self.truth && other.truth, margin: self.margin.min(other.margin) }
    }

    pub(super) fn or(self, other: Self) -> Self {
        Self { truth: self.truth || other.truth, margin: self.margin.max(other.margin) }
    }

    /// Whether this is the worse of the two: by margin, and of equals by truth.
    pub(super) fn is_below(self, other: Self) -> bool {
        self.margin < other.margin || (self.margin == other.margin && !self.truth && other.truth)
    }
}

/// A rule as it is evaluated. The last node is the whole rule.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Program {
    pub nodes: Vec<Node>,
    pub counts: Vec<Counted>,
}

impl Program {
    /// Is there a window of time in it?
    pub fn counts_time(&self) -> bool {
        let window = |node: &Node| match &node.op {
            Op::Once(w, _) | Op::Historically(w, _) | Op::Eventually(w, _) | Op::Always(w, _) => {
                w.0.is_some()
            }
            Op::Since(w, ..) | Op::Until(w, ..) => w.0.is_some(),
            _ => false,
        };
        self.nodes.iter().any(window) || self.counts.iter().any(|c| c.window.0.is_some())
    }

    /// Adds the names of all signals that are read.
    pub fn signals<'a>(&'a self, names: &mut BTreeSet<&'a str>) {
        for node in &self.nodes {
            match &node.op {
                Op::Compare(_, x, y) => [x, y].into_iter().for_each(|term| term.signals(names)),
                Op::Known(signal) => {
                    names.insert(signal);
                }
                _ => {}
            }
        }
    }
}

/// A condition and where it was written.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Node {
    pub op: Op,
    pub span: Range<usize>,
}

/// A condition; numbers are places of earlier nodes.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Op {
    Truth(bool),
    Compare(Comparison, Term, Term),
    Known(String),
    Event(Event),
    In(String),
    Chose(String, String),
    Not(usize),
    And(Vec<usize>),
    Or(Vec<usize>),
    Once(Seconds, usize),
    Historically(Seconds, usize),
    Since(Seconds, usize, usize),
    Eventually(Seconds, usize),
    Always(Seconds, usize),
    Until(Seconds, usize, usize),
}

/// An event, with its argument if it takes one.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Event {
    pub name: String,
    pub argument: Option<String>,
}

/// An event whose happenings are counted.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Counted {
    pub event: Event,
    pub window: Seconds,
}

/// A window in seconds, or all of the past or future with the present.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Seconds(pub Option<(f64, f64)>);

impl Seconds {
    pub fn samples(self, dt_s: f64) -> Span {
        self.0.map_or(Span::ALL, |(from_s, to_s)| Span::of_seconds(from_s, to_s, dt_s))
    }
}

/// A quantity at one moment.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Term {
    Constant(f64),
    Signal(String),
    /// The value of a counter, by its place.
    Count(usize),
    Negative(Box<Term>),
    Abs(Box<Term>),
    Add(Box<Term>, Box<Term>),
    Subtract(Box<Term>, Box<Term>),
    Multiply(Box<Term>, Box<Term>),
    Divide(Box<Term>, Box<Term>),
    /// Times a factor, by a divisor: a change of unit.
    Scaled(Box<Term>, f64, f64),
}

impl Op {
    /// Whether it needs samples after the one that it speaks of.
    pub fn looks_ahead(&self) -> bool {
        matches!(self, Self::Eventually(..) | Self::Always(..) | Self::Until(..))
    }

    /// The verdict of a condition that is not made of others; `None` for one that is.
    pub fn leaf(&self, signals: &impl Signals, counts: &[f64]) -> Option<Verdict> {
        Some(match self {
            Self::Truth(truth) => Verdict::crisp(*truth),
            Self::Compare(op, x, y) => compare(*op, x.value(signals, counts), y.value(signals, counts)),
            Self::Known(signal) => Verdict::crisp(signals.value(signal).is_some_and(|value| !value.is_nan())),
            Self::Event(event) => Verdict::crisp(event.happens(signals)),
            Self::In(state) => Verdict::crisp(signals.in_state(state)),
            Self::Chose(ask, option) => Verdict::crisp(signals.chose(ask, option)),
            _ => return None,
        })
    }
}

impl Event {
    pub fn happens(&self, signals: &impl Signals) -> bool {
        signals.event(&self.name, self.argument.as_deref())
    }
}

impl Term {
    fn signals<'a>(&'a self, names: &mut BTreeSet<&'a str>) {
        match self {
            Self::Constant(_) | Self::Count(_) => {}
            Self::Signal(name) => {
                names.insert(name);
            }
            Self::Negative(x) | Self::Abs(x) | Self::Scaled(x, ..) => x.signals(names),
            Self::Add(x, y) | Self::Subtract(x, y) | Self::Multiply(x, y) | Self::Divide(x, y) => {
                x.signals(names);
                y.signals(names);
            }
        }
    }

    /// NaN where a signal has no value.
    pub fn value(&self, signals: &impl Signals, counts: &[f64]) -> f64 {
        let of = |term: &Self| term.value(signals, counts);
        match self {
            Self::Constant(value) => *value,
            Self::Signal(name) => signals.value(name).unwrap_or(f64::NAN),
            Self::Count(place) => counts[*place],
            Self::Negative(x) => -of(x),
            Self::Abs(x) => of(x).abs(),
            Self::Add(x, y) => of(x) + of(y),
            Self::Subtract(x, y) => of(x) - of(y),
            Self::Multiply(x, y) => of(x) * of(y),
            Self::Divide(x, y) => of(x) / of(y),
            Self::Scaled(x, times, by) => of(x) * times / by,
        }
    }
}

/// A comparison with a value that is not there does not hold, by any margin.
fn compare(op: Comparison, x: f64, y: f64) -> Verdict {
    if x.is_nan() || y.is_nan() {
        return Verdict::crisp(false);
    }
    let (truth, margin) = match op {
        Comparison::Less => (x < y, y - x),
        Comparison::AtMost => (x <= y, y - x),
        Comparison::Greater => (x > y, x - y),
        Comparison::AtLeast => (x >= y, x - y),
        Comparison::Equal => (x == y, -(x - y).abs()),
        Comparison::Unequal => (x != y, (x - y).abs()),
    };
    // Two equal infinities have no difference, so neither is ahead.
    Verdict { truth, margin: if margin.is_nan() { 0.0 } else { margin } }
}
