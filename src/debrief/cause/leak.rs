//! Leaks: from the flow through the gap, the contact and the fit to where the graft was put and which it was.

use super::{Chain, choices_behind, landing, of, unique};
use crate::scenario::rule::Signals;
use crate::session::Row;
use crate::session::event::{Event, EventKind, PlacedFacts, Tick};
use crate::session::record::Record;
use crate::session::tell::figure;

/// The flow above which a leak is told, mL/min: the same as the engine's own threshold of "sealed".
const TOLD_ML_MIN: f64 = 10.0;

const NAMES: [&str; 4] = ["Ia", "Ib", "II", "III"];

/// One chain for each class of leak that there was, however often it came and went.
pub(super) fn leaks(record: &Record) -> Vec<Chain> {
    (0..NAMES.len()).filter_map(|class| one(record, class)).collect()
}

fn one(record: &Record, class: usize) -> Option<Chain> {
    let flow = |e: &&Event| matches!(&e.kind, EventKind::Leak { ml_min } if ml_min[class] > TOLD_ML_MIN);
    let first = record.events.iter().find(flow)?;
    let end = record.theatre_end();
    let in_theatre = record.events.iter().rev().filter(|e| e.at <= end);
    // The chain explains what the graft does once it lies still: the last notice before the theatre is left.
    let told = in_theatre.clone().find(flow).unwrap_or(first);
    let placed = record.events[..=told.seq as usize].iter().rev().find_map(|e| match &e.kind {
        EventKind::Placed(f) => Some((e, f)),
        _ => None,
    })?;
    let mut links = fit(record.row_at(told.at), told, placed.1, class);
    links.extend(landing(placed.1));
    links.extend(choices_behind(record, placed.0, placed.1, false));
    Some(Chain { at: first.at, outcome: outcome(record, class, first.at, end), links: unique(links) })
}

fn outcome(record: &Record, class: usize, first: Tick, end: Tick) -> String {
    let column = format!("leak.{}", NAMES[class]);
    let rows: Vec<(Tick, f64)> = record
        .trace
        .iter()
        .filter(|r| r.at >= first && r.at <= end)
        .filter_map(|r| Some((r.at, r.value(&column)?)))
        .collect();
    let most = rows.iter().copied().fold((first, 0.0), |best, row| if row.1 > best.1 { row } else { best });
    let last = rows.last().map_or(0.0, |r| r.1);
    let ended = if last > TOLD_ML_MIN {
        format!("still {} when the theatre was left", figure(last, "mL/min"))
    } else {
        "none of note when the theatre was left".into()
    };
    format!("Type {} leak: at most {} at {}, {ended}", NAMES[class], figure(most.1, "mL/min"), most.0)
}

/// How the graft fits at the end where it leaks, as read when the leak was noted.
fn fit(row: Option<&Row>, told: &Event, facts: &PlacedFacts, class: usize) -> Vec<String> {
    let read = |name: &str| told.read.iter().find(|(n, _)| n == name).map(|(_, v)| *v);
    let value = |name: &str| read(name).or_else(|| row.and_then(|r| r.value(name)));
    let some = |v: Option<f64>, least: f64| v.filter(|v| *v >= least);
    match class {
        0 => [
            of(some(value("gap"), 0.1), "mm", "of gap at the widest, under the upper edge"),
            of(some(value("beak"), 0.5), "mm", "between the inner curve and the upper edge (the beak)"),
            contact(value("seal.inner"), "on the inner curve"),
            contact(value("seal.proximal"), "all round, above"),
            oversizing(value("oversize.proximal"), "above"),
            of(some(value("fold"), 0.5), "mm\u{b2}", "mouth of a fold in the fabric"),
        ]
        .into_iter()
        .flatten()
        .collect(),
        1 => [
            contact(value("seal.distal"), "all round, below"),
            oversizing(value("oversize.distal"), "below"),
            of(some(value("fold"), 0.5), "mm\u{b2}", "mouth of a fold in the fabric"),
        ]
        .into_iter()
        .flatten()
        .collect(),
        2 => {
            let shut: Vec<&str> =
                facts.covered.iter().filter(|c| c.1 < 0.5).map(|(v, _)| v.label()).collect();
            vec![format!("flow back through what the fabric covers: {}", shut.join(", "))]
        }
        _ => vec!["flow through the joint between two grafts".into()],
    }
}

fn contact(mm: Option<f64>, place: &str) -> Option<String> {
    Some(match mm? {
        mm if mm < 0.05 => format!("no contact {place}"),
        mm => format!("{} of contact {place}", figure(mm, "mm")),
    })
}

fn oversizing(percent: Option<f64>, place: &str) -> Option<String> {
    Some(match percent? {
        p if p < 0.0 => {
            format!("{} narrower than the aorta {place}, at the pressure of that moment", figure(-p, "%"))
        }
        p => format!("{} oversizing {place}, at the pressure of that moment", figure(p, "%")),
    })
}
