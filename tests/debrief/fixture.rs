//! Sessions written down by hand: lines of a log with exactly the events and samples that a check needs.

use overwire::scenario::Order;
use overwire::scenario::signal;
use overwire::scenario::{Loaded, load};
use overwire::session::event::{Event, EventKind, Giver, Tick};
use overwire::session::log::{Head, LOG_FORMAT, Line, Mode};
use overwire::session::record::Record;

/// The smallest case of the suite of faulty files, with parts of its text replaced.
pub fn small_case(changes: &[(&str, &str)]) -> String {
    let mut text = include_str!("../suite/ok_minimal.ron").to_string();
    for (from, to) in changes {
        assert!(text.contains(from), "the small case has no {from:?}");
        text = text.replace(from, to);
    }
    text
}

/// Loads a case that must load.
pub fn loaded(text: &str) -> Loaded {
    let (case, faults) = load(text, "ok_minimal");
    case.unwrap_or_else(|| panic!("{faults:#?}"))
}

/// A log in the making.
pub struct Script {
    pub lines: Vec<Line>,
    columns: Vec<String>,
    seq: u32,
}

impl Script {
    /// Of a case's text, as an engine of some version would have begun it.
    pub fn new(text: &str, id: &str, engine: &str) -> Self {
        let (case, faults) = load(text, id);
        let case = case.unwrap_or_else(|| panic!("{faults:#?}"));
        let columns: Vec<String> = signal::columns(&case.vars).into_iter().map(|(name, _)| name).collect();
        let head = Head {
            format: LOG_FORMAT,
            engine: engine.into(),
            case_id: id.into(),
            case_text: text.into(),
            seed: 7,
            mode: Mode::Free,
            columns: columns.clone(),
            forked_from: None,
        };
        Self { lines: vec![Line::Head(Box::new(head))], columns, seq: 0 }
    }

    /// An event at a second; returns its number.
    pub fn event(&mut self, at_s: f64, cause: Option<u32>, kind: EventKind, read: &[(&str, f64)]) -> u32 {
        let seq = self.seq;
        self.seq += 1;
        let read = read.iter().map(|(n, v)| (n.to_string(), *v)).collect();
        self.lines.push(Line::Event(Event { seq, at: tick(at_s), cause, kind, read }));
        seq
    }

    /// A question and its answer after ten seconds; returns the number of the answer's event.
    pub fn answer(&mut self, at_s: f64, ask: &str, option: &str, kind: EventKind) -> u32 {
        self.event(at_s - 10.0, None, EventKind::Asked { ask: ask.into() }, &[]);
        let order =
            Order::Answer { ask: ask.into(), option: option.into(), why: String::new(), sure_percent: None };
        let ordered = self.event(at_s, None, EventKind::Ordered { order, by: Giver::Trainee }, &[]);
        self.event(at_s, Some(ordered), kind, &[("sbp", 82.0), ("map", 64.0), ("hr", 112.0)])
    }

    /// A sample: these signals, the others not known.
    pub fn sample(&mut self, at_s: f64, values: &[(&str, f64)]) {
        let value = |column: &String| values.iter().find(|(n, _)| n == column).map(|(_, v)| *v);
        let values = self.columns.iter().map(value).collect();
        self.lines.push(Line::Sample { at: tick(at_s), values });
    }

    /// As it would be read back.
    pub fn record(&self) -> Record {
        Record::recalled(&self.lines, "Written by hand for a check.".into()).unwrap()
    }
}

pub fn tick(at_s: f64) -> Tick {
    Tick((at_s * Tick::PER_SECOND as f64) as u64)
}
