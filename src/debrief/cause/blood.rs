//! Blood lost: how much before and after the graft, and how long the tear stood open.

use super::Chain;
use crate::debrief::words::{between, span};
use crate::scenario::rule::Signals;
use crate::session::event::{EventKind, Tick};
use crate::session::record::Record;

/// A loss worth a chain, mL: class II of haemorrhage begins about here (advanced trauma life support, from memory).
const WORTH_ML: f64 = 750.0;

/// Where the blood went, if much of it did.
pub(super) fn bled(record: &Record) -> Option<Chain> {
    let last = record.trace.last()?;
    let lost = |at: Tick| record.row_at(at).and_then(|r| r.value("lost"));
    let first = record.trace.iter().find_map(|r| r.value("lost"))?;
    let all = last.value("lost")? - first;
    if all < WORTH_ML {
        return None;
    }
    let mut links = Vec::new();
    let died = record.trace.iter().find(|r| r.value("alive") == Some(0.0)).map(|r| r.at);
    let placed = record.events.iter().find(|e| matches!(e.kind, EventKind::Placed(_))).map(|e| e.at);
    match placed {
        Some(at) => {
            let before = lost(at).unwrap_or(first) - first;
            links.push(format!("{:.0} mL after the graft was released at {at}", all - before));
            links.push(format!("{before:.0} mL before it, in {}", between(Tick(0), at)));
        }
        None => links.push("no graft was released".into()),
    }
    let open: f64 = seconds(record, |r| r.value("sealed") == Some(0.0) && r.value("alive") != Some(0.0));
    links.push(format!("the tear was not sealed for {}", span(open)));
    if let Some(limit) = record.case.case.policy.get("sbp_danger") {
        let high =
            seconds(record, |r| r.value("sealed") == Some(0.0) && r.value("sbp").is_some_and(|v| v > *limit));
        if high >= 60.0 {
            links.push(format!("for {} of that the systolic stood above {limit:.0} mmHg", span(high)));
        }
    }
    for event in &record.events {
        if let EventKind::Risk { id, struck: true, .. } = &event.kind {
            links.push(format!("{}: {}", event.at, super::plain(id)));
        }
    }
    if let (Some(hb), Some(first)) = (last.value("hb"), record.trace.iter().find_map(|r| r.value("hb"))) {
        links.push(format!("haemoglobin from {first:.0} to {hb:.0} g/L"));
    }
    let outcome = format!("{all:.0} mL of blood lost since the call");
    Some(Chain { at: died.unwrap_or(last.at), outcome, links })
}

/// For how long something was so.
pub(super) fn seconds(record: &Record, so: impl Fn(&crate::session::Row) -> bool) -> f64 {
    let pairs = record.trace.windows(2).filter(|w| so(&w[1]));
    pairs.map(|w| w[1].at.seconds() - w[0].at.seconds()).sum()
}
