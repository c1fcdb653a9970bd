//! Gathers what the checks find, and leaves out what only follows from a fault that is told already.

use crate::scenario::diagnostic::{Diagnostic, Level};
use crate::scenario::load::words::did_you_mean;
use crate::scenario::range::range_of;
use crate::scenario::spans::Spans;
use std::collections::BTreeSet;

/// What has been found so far.
pub struct Told<'a> {
    spans: &'a Spans,
    made_up: &'a BTreeSet<String>,
    found: Vec<Diagnostic>,
}

impl<'a> Told<'a> {
    /// Nothing yet. What lies at or below `made_up` was told when it was read.
    pub fn new(spans: &'a Spans, made_up: &'a BTreeSet<String>) -> Self {
        Self { spans, made_up, found: Vec::new() }
    }
    /// A fault at a path.
    pub fn fault(&self, code: &'static str, path: &str, message: impl Into<String>) -> Diagnostic {
        Diagnostic::fault(code, self.spans.find(path), message).at(path)
    }
    /// A fault of a whole entry, shown at its name.
    pub fn fault_of(&self, code: &'static str, path: &str, message: impl Into<String>) -> Diagnostic {
        Diagnostic::fault(code, self.spans.head(path), message).at(path)
    }
    /// The same, weaker.
    pub fn doubt_of(&self, code: &'static str, path: &str, message: impl Into<String>) -> Diagnostic {
        self.fault_of(code, path, message).level(Level::Doubt)
    }
    /// The same, weakest.
    pub fn advice_of(&self, code: &'static str, path: &str, message: impl Into<String>) -> Diagnostic {
        self.fault_of(code, path, message).level(Level::Advice)
    }
    /// Takes a diagnostic, unless it lies within what was made up.
    pub fn tell(&mut self, diagnostic: Diagnostic) {
        if !self.is_made_up(&diagnostic.path) {
            self.found.push(diagnostic);
        }
    }
    /// A name that points to nothing; `kind` is such as "question".
    pub fn unknown<'n>(
        &mut self,
        path: &str,
        kind: &str,
        name: &str,
        names: impl IntoIterator<Item = &'n str>,
    ) {
        let fault = self.fault("name-unknown", path, format!("there is no {kind} `{name}`"));
        let hint = did_you_mean(name, names);
        self.tell(fault.hint(if hint.is_empty() {
            "nothing of that sort is written in the case".into()
        } else {
            hint
        }));
    }
    /// A number outside of what can be.
    pub fn range(&mut self, path: &str, value: f64, low: f64, high: f64, unit: &str) {
        if !(low..=high).contains(&value) {
            let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
            let fault = self.fault("range", path, format!("{value}{unit} cannot be"));
            // A computed limit has more digits than anybody wants to read.
            let high = (high * 100.0).round() / 100.0;
            self.tell(fault.expected(format!("from {low} to {high}{unit}")));
        }
    }
    /// A number outside of what the table of ranges allows.
    pub fn in_range(&mut self, path: &str, of: &str, field: &str, value: f64) {
        if let Some(r) = range_of(of, field) {
            self.range(path, value, r.low, r.high, r.unit);
        }
    }
    /// Where things stand.
    pub fn spans(&self) -> &'a Spans {
        self.spans
    }
    /// Was this path, or something around it, made up?
    pub fn is_made_up(&self, path: &str) -> bool {
        self.made_up.iter().any(|m| {
            path.strip_prefix(m.as_str()).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
        })
    }
    /// Is any fault told, or anything made up, at or below a path?
    pub fn any_fault_below(&self, path: &str) -> bool {
        let below =
            |other: &str| other.strip_prefix(path).is_some_and(|r| r.is_empty() || r.starts_with(['.', '[']));
        self.found.iter().any(|d| d.level == Level::Fault && below(&d.path))
            || self.made_up.iter().any(|m| below(m))
    }
    /// Everything told.
    pub fn into_found(self) -> Vec<Diagnostic> {
        self.found
    }
}
