//! Organs that lost a part of themselves while the patient lived: how low their supply fell, for how long, and what covered it.

use super::Chain;
use super::blood::seconds;
use crate::circulation::Organ;
use crate::debrief::words::span;
use crate::scenario::rule::Signals;
use crate::scenario::written;
use crate::session::Row;
use crate::session::event::Tick;
use crate::session::record::Record;
use crate::session::tell::capital;

/// A part worth telling, per cent.
const WORTH_PERCENT: f64 = 2.0;
/// Mean pressure below which organs are taken to be short, mmHg (Surviving Sepsis Campaign 2021 targets 65).
const SHORT_MMHG: f64 = 65.0;

/// One chain for the cord, and one for all other organs together: they share their cause.
pub(super) fn lost(record: &Record) -> Vec<Chain> {
    let alive = |r: &&Row| r.value("alive") != Some(0.0);
    let Some(last) = record.trace.iter().rev().find(alive) else { return Vec::new() };
    let mut others: Vec<(Tick, &str, f64)> = Vec::new();
    let mut out = Vec::new();
    for organ in Organ::ALL {
        let column = format!("injured.{}", written(&organ));
        let part = last.value(&column).unwrap_or(0.0);
        if part < WORTH_PERCENT {
            continue;
        }
        let first = record.trace.iter().find(|r| r.value(&column).unwrap_or(0.0) >= 1.0);
        let at = first.map_or(last.at, |r| r.at);
        if organ == Organ::Cord {
            let outcome = format!("Spinal cord: {part:.0} % will not recover");
            out.push(Chain { at, outcome, links: cord(record, last.at) });
        } else {
            others.push((at, organ.label(), part));
        }
    }
    if let Some(at) = others.iter().map(|o| o.0).min() {
        let outcome = capital(&parts(&others));
        let mut links = pressure(record, last.at);
        links.extend(shut(record, last));
        out.push(Chain { at, outcome, links });
    }
    out
}

/// "liver and small bowel lost; left kidney: 12 % will not recover".
fn parts(organs: &[(Tick, &str, f64)]) -> String {
    let whole: Vec<&str> = organs.iter().filter(|o| o.2 >= 99.5).map(|o| o.1).collect();
    let part: Vec<String> =
        organs.iter().filter(|o| o.2 < 99.5).map(|o| format!("{} {:.0} %", o.1, o.2)).collect();
    match (whole.is_empty(), part.is_empty()) {
        (true, _) => format!("{} will not recover", part.join(", ")),
        (_, true) => format!("{} lost wholly", whole.join(", ")),
        _ => format!("{} lost wholly; {} will not recover", whole.join(", "), part.join(", ")),
    }
}

fn cord(record: &Record, until: Tick) -> Vec<String> {
    let mut links = Vec::new();
    let least = lowest(record, "cord_pressure", until);
    if let Some((p, at)) = least {
        links.push(format!("cord perfusion pressure down to {p:.0} mmHg at {at}"));
    }
    let low = seconds(record, |r| {
        r.at <= until && unpaced(r) && r.value("cord_pressure").is_some_and(|p| p < 60.0)
    });
    if low >= 60.0 {
        links.push(format!("below 60 mmHg for {} before that", span(low)));
    }
    let row = record.row_at(until);
    if let Some(p) = row.and_then(|r| r.value("csf_pressure")) {
        links.push(format!("spinal fluid at {p:.0} mmHg"));
    }
    if let Some(mm) = row.and_then(|r| r.value("covered_length")).filter(|mm| *mm > 0.0) {
        links.push(format!("{mm:.0} mm of aorta, with its intercostals, under fabric"));
    }
    links.extend(pressure(record, until));
    links
}

/// The mean pressure up to a moment, rapid pacing left out: seconds of it are meant.
fn pressure(record: &Record, until: Tick) -> Vec<String> {
    let mut links = Vec::new();
    if let Some((p, at)) = lowest(record, "map", until) {
        links.push(format!("mean pressure down to {p:.0} mmHg at {at}"));
    }
    let low =
        seconds(record, |r| r.at <= until && unpaced(r) && r.value("map").is_some_and(|p| p < SHORT_MMHG));
    if low >= 60.0 {
        links.push(format!("below {SHORT_MMHG:.0} mmHg for {} in all", span(low)));
    }
    if let Some(row) = record.row_at(until)
        && let (Some(ml), Some(hb)) = (row.value("lost"), row.value("hb"))
    {
        links.push(format!("{ml:.0} mL of blood lost by then, haemoglobin {hb:.0} g/L"));
    }
    links
}

/// Branches that the fabric had closed at the end.
fn shut(record: &Record, last: &Row) -> Option<String> {
    let names: Vec<String> = record
        .case
        .tree
        .vessels
        .iter()
        .filter_map(|v| {
            let closed = last.value(&format!("covered.{}", written(&v.name)))?;
            (closed > 50.0 && v.name != crate::anatomy::VesselName::Intercostals)
                .then(|| format!("{} {closed:.0} % covered", v.name.label()))
        })
        .collect();
    (!names.is_empty()).then(|| names.join(", "))
}

fn lowest(record: &Record, column: &str, until: Tick) -> Option<(f64, Tick)> {
    let rows = record.unpaced().take_while(|r| r.at <= until);
    rows.filter_map(|r| Some((r.value(column)?, r.at))).min_by(|a, b| a.0.total_cmp(&b.0))
}

fn unpaced(row: &Row) -> bool {
    row.value("pacing") != Some(1.0)
}
