//! A chart for other eyes and other programs: a picture, a graph description, SCXML.
//!
//! Guards and actions are the host's, so the caller says how they read ([`Words`]).

mod dot;
mod layers;
mod layout;
mod scxml;
mod svg;

pub use dot::dot;
pub use layout::{Arrow, Picture, Point, Shape, Size, layout};
pub use scxml::scxml;
pub use svg::svg;

use super::model::{Chart, Transition};

/// How guards and actions read.
pub trait Words<G, A> {
    /// A guard in the language named by [`datamodel`](Self::datamodel).
    fn guard(&self, guard: &G) -> String;
    /// An action as SCXML's executable content.
    fn action(&self, action: &A) -> Content;
    /// The chart's name.
    fn name(&self) -> &str;
    /// The language of guards and expressions, for SCXML's attribute of that name.
    fn datamodel(&self) -> &str;
    /// Variables with their first values.
    fn data(&self) -> Vec<(String, String)> {
        Vec::new()
    }
}

/// Executable content of SCXML 1.0, chapter 4, as far as charts here need it.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// `<raise>`
    Raise(String),
    /// `<send>`
    Send {
        /// The event.
        event: String,
        /// How much later.
        delay_ms: u64,
        /// By what it can be cancelled.
        id: Option<String>,
    },
    /// `<cancel>`
    Cancel(String),
    /// `<assign>`
    Assign {
        /// What is set.
        location: String,
        /// To what.
        expr: String,
    },
    /// `<log>`: anything else that is done, in words.
    Log {
        /// What sort of note it is.
        label: String,
        /// The note.
        expr: String,
    },
}

/// What every picture and file of a case says.
const NOTICE: &str =
    "Training only: not for decisions on real patients. Follow local protocol and licensed practice.";

impl Content {
    /// In a few words, for a picture.
    fn short(&self) -> String {
        match self {
            Self::Raise(event) => format!("raise {event}"),
            Self::Send { event, delay_ms: 0, .. } => format!("send {event}"),
            Self::Send { event, delay_ms, .. } if delay_ms % 60_000 == 0 => {
                format!("send {event} in {} min", delay_ms / 60_000)
            }
            Self::Send { event, delay_ms, .. } if delay_ms % 1000 == 0 => {
                format!("send {event} in {} s", delay_ms / 1000)
            }
            Self::Send { event, delay_ms, .. } => format!("send {event} in {delay_ms} ms"),
            Self::Cancel(id) => format!("cancel {id}"),
            Self::Assign { location, expr } => format!("{location} = {expr}"),
            Self::Log { expr, .. } => expr.clone(),
        }
    }
}

/// `event [guard] / action; action`, as state charts are labelled (Harel 1987).
fn label<G, A>(words: &impl Words<G, A>, transition: &Transition<G, A>) -> String {
    let mut label = transition.events.join(", ");
    if let Some(guard) = &transition.guard {
        label += &format!(" [{}]", words.guard(guard));
    }
    if !transition.actions.is_empty() {
        label += &format!(" / {}", done(words, &transition.actions));
    }
    label.trim_start().to_owned()
}

/// Actions in a few words each.
fn done<G, A>(words: &impl Words<G, A>, actions: &[A]) -> String {
    let short: Vec<_> = actions.iter().map(|action| words.action(action).short()).collect();
    short.join("; ")
}

/// `event [guard] → targets`, for a transition that is told and not drawn.
fn sentence<G, A>(chart: &Chart<G, A>, words: &impl Words<G, A>, transition: &Transition<G, A>) -> String {
    let targets: Vec<_> = transition.target.iter().map(|&target| chart.name(target)).collect();
    let label = label(words, transition);
    match targets.as_slice() {
        [] => label,
        _ if label.is_empty() => format!("→ {}", targets.join(", ")),
        _ => format!("{label} → {}", targets.join(", ")),
    }
}

/// Text that may stand in XML, in an attribute or between tags; what XML 1.0 has no place for becomes U+FFFD.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out += "&amp;",
            '<' => out += "&lt;",
            '>' => out += "&gt;",
            '"' => out += "&quot;",
            '\n' => out += "&#10;",
            '\t' => out += "&#9;",
            '\r' => out += "&#13;",
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            c if c.is_control() && c < '\u{20}' => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}
