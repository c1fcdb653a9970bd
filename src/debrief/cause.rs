//! Cause chains: from an outcome back to the decisions that led to it, by recorded events and the numbers that were read.
//!
//! Every link is made of an event, a sample or a number that an event carried; there is no sentence here without one.

mod blood;
mod buttock;
mod leak;
mod organs;

use super::words::{percent, plain};
use crate::anatomy::VesselName;
use crate::scenario::Order;
use crate::scenario::order::Mark;
use crate::session::event::{Event, EventKind, PlacedFacts, Tick};
use crate::session::record::Record;
use crate::session::tell::{capital, figure};

/// One outcome with what led to it, nearest first.
#[derive(Clone, Debug, PartialEq)]
pub struct Chain {
    /// When it was first so.
    pub at: Tick,
    /// The outcome.
    pub outcome: String,
    /// Links, nearest first.
    pub links: Vec<String>,
}

/// The chains of everything that came of the session, in the order of time.
pub fn chains(record: &Record) -> Vec<Chain> {
    let mut out = leak::leaks(record);
    for event in &record.events {
        match &event.kind {
            EventKind::Risk { id, probability, because, struck: true } => {
                let outcome = format!("{} (computed chance {})", capital(&plain(id)), percent(*probability));
                let mut links = made_of(because);
                links.extend(orders_behind(record, event));
                out.push(Chain { at: event.at, outcome, links });
            }
            EventKind::Placed(facts) => out.extend(covered(record, event, facts)),
            EventKind::Slipped { device, by_mm } => out.push(Chain {
                at: event.at,
                outcome: format!(
                    "{} slipped {by_mm:.0} mm down the stream",
                    capital(&record.words().label(device))
                ),
                links: orders_behind(record, event),
            }),
            _ => {}
        }
    }
    out.extend(blood::bled(record));
    out.extend(organs::lost(record));
    out.extend(buttock::claudication(record));
    out.sort_by_key(|c| c.at);
    out
}

/// A graft over a branch. Intercostals lie under every thoracic graft and belong to the cord's chain.
fn covered(record: &Record, event: &Event, facts: &PlacedFacts) -> Vec<Chain> {
    let branches = facts.covered.iter().filter(|(v, open)| *open < 0.5 && *v != VesselName::Intercostals);
    branches
        .map(|(vessel, open)| {
            let outcome = format!("{} covered, {:.0} % left open", capital(vessel.label()), 100.0 * open);
            let mut links = landing(facts);
            links.extend(choices_behind(record, event, facts, true));
            Chain { at: event.at, outcome, links }
        })
        .collect()
}

/// What a risk was made of: its base and the factors on its odds.
pub fn made_of(because: &[(String, f64)]) -> Vec<String> {
    let factor = |x: f64| if x >= 10.0 { format!("{x:.0}") } else { format!("{x:.1}") };
    because
        .iter()
        .enumerate()
        .map(|(i, (why, x))| match i {
            0 => format!("{} from the start: {why}", percent(*x)),
            _ if why.starts_with("cap") => format!("held at {}: {why}", percent(*x)),
            _ => format!("odds times {}: {why}", factor(*x)),
        })
        .collect()
}

/// Where the fabric came to lie, and why there.
fn landing(facts: &PlacedFacts) -> Vec<String> {
    let mut out =
        vec![format!("fabric from {:.0} to {:.0} mm below the valve", facts.edges_mm[0], facts.edges_mm[1])];
    let off = facts.edges_mm[0] - facts.meant_mm;
    if off.abs() >= 2.0 {
        let way = if off > 0.0 { "below" } else { "above" };
        out.push(format!("upper edge {:.0} mm {way} the mark at {:.0} mm", off.abs(), facts.meant_mm));
    }
    if facts.shift_mm.abs() >= 1.0 {
        let way = if facts.shift_mm > 0.0 { "down" } else { "up" };
        out.push(format!("it moved {:.0} mm {way}stream while it opened", facts.shift_mm.abs()));
    }
    out
}

/// The orders and choices that a placed graft's place and size come from: the release itself, the mark, the graft.
fn choices_behind(record: &Record, placed: &Event, facts: &PlacedFacts, place_only: bool) -> Vec<String> {
    let before = || record.events[..placed.seq as usize].iter().rev();
    let marked = before().find(|e| {
        matches!(&e.kind, EventKind::Ordered { order: Order::Mark { name: Mark::ProximalLanding, .. }, .. })
    });
    let taken = before().find(|e| match &e.kind {
        EventKind::Ordered { order: Order::Insert { device, .. }, .. } => *device == facts.device,
        EventKind::Ordered { order: Order::Exchange { put, .. }, .. } => *put == facts.device,
        _ => false,
    });
    let mut out = Vec::new();
    if let Some((_, deg)) = placed.read.iter().find(|(n, _)| n == "off_profile").filter(|(_, d)| *d > 15.0) {
        out.push(format!("when the mark was set the view stood {deg:.0}\u{b0} off the landing's profile"));
    }
    let graft = taken.filter(|_| !place_only);
    for event in [marked, graft].into_iter().flatten() {
        out.extend(with_itself(record, event));
    }
    out.extend(orders_behind(record, placed));
    unique(out)
}

fn with_itself(record: &Record, event: &Event) -> Vec<String> {
    let chosen = decision_behind(record, event);
    chosen.or_else(|| ordered(record, event)).into_iter().collect()
}

/// The orders that an event came from; where a question's answer gave the order, that answer.
fn orders_behind(record: &Record, event: &Event) -> Vec<String> {
    if let Some(chosen) = decision_behind(record, event) {
        return vec![chosen];
    }
    let orders = causes(record, event).find_map(|e| ordered(record, e));
    orders.into_iter().collect()
}

/// The answer that an event goes back to, if any.
fn decision_behind(record: &Record, event: &Event) -> Option<String> {
    causes(record, event).find_map(|e| match &e.kind {
        EventKind::Chosen { ask, option, by_clock, .. } => {
            let ask = record.case.case.asks.iter().find(|a| a.id == *ask)?;
            let option = ask.options.iter().find(|o| o.id == *option)?;
            let how = if *by_clock { "nobody answered" } else { "you chose" };
            Some(format!("{}, {how}: \u{201c}{}\u{201d} ({})", e.at, option.say, ask.question))
        }
        _ => None,
    })
}

/// The events that an event goes back to, nearest first.
fn causes<'a>(record: &'a Record, event: &'a Event) -> impl Iterator<Item = &'a Event> {
    let before = |e: &Event| e.cause.filter(|c| *c < e.seq);
    let next = move |e: &&'a Event| before(e).and_then(|i| record.events.get(i as usize));
    std::iter::successors(next(&event), next)
}

fn ordered(record: &Record, event: &Event) -> Option<String> {
    match &event.kind {
        EventKind::Ordered { order: Order::Answer { .. }, .. } => None,
        EventKind::Ordered { order, .. } => {
            Some(format!("{}, ordered: {}", event.at, record.words().order_words(order)))
        }
        _ => None,
    }
}

fn unique(links: Vec<String>) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for link in links {
        if !out.contains(&link) {
            out.push(link);
        }
    }
    out
}

/// "4.2 mm of ..." where there is a number.
fn of(value: Option<f64>, unit: &str, what: &str) -> Option<String> {
    value.map(|v| format!("{} {what}", figure(v, unit)))
}
