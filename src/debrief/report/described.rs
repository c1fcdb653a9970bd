//! What happened: curves, moments in order, and the counts that nobody scores.

use super::{Dossier, phase};
use crate::assess::looked as attention;
use crate::debrief::axis::Axis;
use crate::debrief::plan::Minutes;
use crate::debrief::plot::{Lane, Moment, Plot, Series, Thumb, top_for};
use crate::debrief::{film, rail, words};
use crate::scenario::rule::Signals;
use crate::scenario::signal::RISKS;
use crate::session::event::{Event, EventKind, Giver, Tick};
use crate::session::record::Record;
use crate::session::tell::{figure, reading};
use maud::{Markup, html};
use std::fmt::Write;

pub(super) fn section(dossier: &Dossier, minutes: Minutes) -> Markup {
    let record = dossier.record;
    let end = record.theatre_end();
    html! {
        section {
            (phase(2, "What happened", "described", minutes.description))
            p { "The facts, without a verdict. The numbers along the top are the decisions, in their order." }
            (stepper(end))
            (Plot { pictures: thumbs(dossier), ..vitals(record, &numbered(record), Tick(0), end) }.figure())
            (risk_plot(record, end))
            (lying(record, end))
            (moments(dossier, end))
            (tally(record))
            details.screen {
                summary { "Everything that was said and done in the theatre" }
                (log(record, Tick(0), end))
            }
        }
    }
}

/// The decisions' numbers.
pub(super) fn numbered(record: &Record) -> Vec<Moment> {
    let chosen = record.events.iter().filter(|e| matches!(e.kind, EventKind::Chosen { .. }));
    chosen.enumerate().map(|(i, e)| Moment { at: e.at, label: (i + 1).to_string() }).collect()
}

/// Pressure and rate with the lanes of what was done, said and alarmed.
pub(super) fn vitals<'a>(record: &'a Record, moments: &'a [Moment], from: Tick, to: Tick) -> Plot<'a> {
    let rows = &record.trace;
    let line = |signal, label: &str, unit, pen| Series { rows, signal, label: label.into(), unit, pen };
    let when = |is: &dyn Fn(&Event) -> bool| record.events.iter().filter(|e| is(e)).map(|e| e.at).collect();
    let ordered = |e: &Event| matches!(&e.kind, EventKind::Ordered { by, .. } if *by != Giver::Case);
    let said = |e: &Event| matches!(&e.kind, EventKind::Said { who, .. } if who != "narrator");
    Plot {
        axis: Axis { from, to },
        top: 200.0,
        series: vec![
            line("sbp", "systolic", "mmHg", "p1"),
            line("map", "mean", "mmHg", "p2"),
            line("hr", "heart rate", "/min", "p3"),
        ],
        moments,
        lanes: vec![
            Lane { label: "orders", at: when(&ordered) },
            Lane {
                label: "looked",
                at: attention(record, 0, record.events.len()).into_iter().map(|l| l.0).collect(),
            },
            Lane { label: "team", at: when(&said) },
            Lane { label: "alarms", at: when(&|e| matches!(e.kind, EventKind::Alarm { .. })) },
            Lane { label: "runs", at: when(&|e| matches!(e.kind, EventKind::Ran(_))) },
        ],
        pictures: Vec::new(),
        about: "Pressure and heart rate",
    }
}

/// The runs' pictures, small.
fn thumbs(dossier: &Dossier) -> Vec<Thumb> {
    let Some(film) = dossier.film else { return Vec::new() };
    let thumb = |still: &film::Still| {
        let at = dossier.record.events.get(still.event as usize)?.at;
        let small = still.picture.as_ref()?.smaller(2).png().ok()?;
        Some(Thumb { at, url: film::data_url(&small) })
    };
    film.stills.iter().filter_map(thumb).collect()
}

/// The risks as they accrued, the greatest few; nothing where none was faced.
fn risk_plot(record: &Record, end: Tick) -> Markup {
    let Some(last) = record.row_at(end) else { return html! {} };
    let mut greatest: Vec<(f64, String, &str)> = RISKS
        .iter()
        .filter_map(|(id, _)| {
            let column = format!("risk.{id}");
            let most = last.value(&column).filter(|p| *p >= 0.1)?;
            Some((most, column, *id))
        })
        .collect();
    greatest.sort_by(|a, b| b.0.total_cmp(&a.0));
    greatest.truncate(4);
    let Some(most) = greatest.first().map(|g| g.0) else { return html! {} };
    let pens = ["p1", "p2", "p3", "p4"];
    let plot = Plot {
        axis: Axis { from: Tick(0), to: end },
        top: top_for(most),
        series: greatest
            .iter()
            .zip(pens)
            .map(|((_, column, id), pen)| Series {
                rows: &record.trace,
                signal: column,
                label: words::plain(id),
                unit: "%",
                pen,
            })
            .collect(),
        moments: &[],
        lanes: Vec::new(),
        pictures: Vec::new(),
        about: "Risks as they accrued",
    };
    html! {
        p { "The chance, by published figures and stated assumptions, that each of these would have happened by then. Whether it did is told at the end." }
        (plot.figure())
    }
}

/// Where the foremost wire and the fabric's edges lay; nothing where neither was ever in.
fn lying(record: &Record, end: Tick) -> Markup {
    let line = |signal, label: &str, pen| Series {
        rows: &record.trace,
        signal,
        label: label.into(),
        unit: "mm",
        pen,
    };
    let series = vec![
        line("wire.tip_to_valve", "foremost wire tip", "p1"),
        line("edge.proximal", "upper edge of fabric", "p3"),
        line("edge.distal", "lower edge of fabric", "p4"),
    ];
    let values = |s: &Series| {
        record.trace.iter().filter(|r| r.at <= end).filter_map(|r| r.value(s.signal)).fold(0.0, f64::max)
    };
    let most = series.iter().map(values).fold(0.0, f64::max);
    if most <= 0.0 {
        return html! {};
    }
    let plot = Plot {
        axis: Axis { from: Tick(0), to: end },
        top: top_for(most),
        series,
        moments: &[],
        lanes: Vec::new(),
        pictures: Vec::new(),
        about: "Where wire and fabric lay, from the aortic valve",
    };
    html! { p { "Where the foremost wire tip and the fabric's edges lay, measured from the aortic valve (at the bottom) down the aorta (upward)." } (plot.figure()) }
}

/// The controls; hidden until the page's script shows them.
fn stepper(end: Tick) -> Markup {
    html! {
        div #stepper hidden {
            div.controls {
                button type="button" { "Back" }
                button type="button" { "Next moment" }
                button type="button" { "Play" }
                label { "Speed " select { option value="5" { "5 x" } option value="20" selected { "20 x" } option value="60" { "60 x" } } }
                label.later { input type="checkbox" checked; " Hide what came later" }
            }
            label.wide { "Time since the call" input type="range" min="0" max=(end.seconds()) step="1" value="0"; }
            output aria-live="off" {}
        }
    }
}

/// Everything that a moment can be stepped to: decisions, runs and grafts, up to the end of the theatre.
fn moments(dossier: &Dossier, end: Tick) -> Markup {
    let record = dossier.record;
    let mut number = 0;
    html! {
        div #stage hidden {}
        div #moments data-vitals=(samples(record, end)) {
            @for event in record.events.iter().filter(|e| e.at <= end) {
                @match &event.kind {
                    EventKind::Chosen { .. } => { ({ number += 1; decision(dossier, event, number) }) }
                    EventKind::Ran(_) | EventKind::Placed(_) => (seen(dossier, event)),
                    _ => {}
                }
            }
        }
    }
}

fn decision(dossier: &Dossier, event: &Event, number: usize) -> Markup {
    let Some(d) = dossier.judgement.decisions.iter().find(|d| d.event == event.seq) else {
        return html! {};
    };
    html! {
        details data-at=(event.at.seconds()) {
            summary { span.time { (event.at) } " " b { (number) } " " (d.question) }
            p { @if d.by_clock { "Nobody answered for " (words::span(d.took_s)) "; it was taken as: " } @else { "Answered after " (words::span(d.took_s)) ": " }
                strong { (d.said) } @if let Some(s) = d.sure_percent { " " (s) " % sure." } }
            @if !d.why.is_empty() { blockquote { (d.why) } }
            p.seen { "On the monitor: " (monitor(record_row(dossier.record, event.at), &d.read)) "." }
            (looked(&d.looked))
            (still(dossier, event.seq))
        }
    }
}

fn record_row(record: &Record, at: Tick) -> Option<&crate::session::Row> {
    record.row_at(at)
}

/// What the monitor showed, with the saturation from the samples: dashes where it read none.
pub(super) fn monitor(row: Option<&crate::session::Row>, read: &[(String, f64)]) -> String {
    let mut parts: Vec<String> = read.iter().map(|(n, v)| reading(n, *v)).collect();
    parts.extend(row.map(|r| r.value("spo2").map_or("saturation --".into(), |v| reading("spo2", v))));
    parts.join(", ")
}

/// What had been looked at and heard since the decision before.
pub(super) fn looked(looked: &[(Tick, String)]) -> Markup {
    const MOST: usize = 8;
    html! {
        @if looked.is_empty() {
            p.seen { "Nothing new had been looked at, asked for or heard since the decision before." }
        } @else {
            p.seen { "Looked at, asked for or heard since the decision before:" }
            ul.seen {
                @for (at, what) in looked.iter().rev().take(MOST).rev() { li { span.time { (at) } " " (what.trim_start_matches("> ")) } }
                @if looked.len() > MOST { li { "and " (looked.len() - MOST) " earlier" } }
            }
        }
    }
}

fn seen(dossier: &Dossier, event: &Event) -> Markup {
    let told = dossier.record.words().tell(event).unwrap_or_default();
    let name = if matches!(event.kind, EventKind::Ran(_)) { "Run" } else { "Graft" };
    html! {
        details data-at=(event.at.seconds()) {
            summary { span.time { (event.at) } " " (name) }
            p { (told) }
            (still(dossier, event.seq))
        }
    }
}

fn still(dossier: &Dossier, event: u32) -> Markup {
    let Some(still) = dossier.film.and_then(|f| f.of(event)) else { return html! {} };
    let record = dossier.record;
    let told = record.events.get(event as usize).and_then(|e| record.words().tell(e)).unwrap_or_default();
    html! {
        (rail::drawn(&still.rail))
        @if let Some(png) = still.picture.as_ref().and_then(|p| p.png().ok()) {
            figure.run { img src=(film::data_url(&png)) width="256" height="256" alt=(told); figcaption { (told) } }
        }
    }
}

/// Time, systolic, mean, rate and saturation, for the script: numbers, and dashes where nothing was read.
fn samples(record: &Record, end: Tick) -> String {
    let rows: Vec<_> = record.trace.iter().filter(|r| r.at <= end).collect();
    let every = (rows.len() / 600).max(1);
    let mut out = String::new();
    for row in rows.iter().step_by(every) {
        let v = |name: &str| row.value(name).map_or("--".to_owned(), |v| format!("{v:.0}"));
        let _ = write!(out, "{:.0},{},{},{},{};", row.at.seconds(), v("sbp"), v("map"), v("hr"), v("spo2"));
    }
    out
}

fn tally(record: &Record) -> Markup {
    let end = record.theatre_end();
    let row = record.row_at(end);
    let value = |name: &str| row.and_then(|r| r.value(name));
    let rows = [
        ("Patient time to the end of the theatre", Some(words::between(Tick(0), end))),
        ("Blood lost since before the call", value("lost").map(|v| figure(v, "mL"))),
        ("Crystalloid", value("fluid").map(|v| figure(v, "mL"))),
        ("Blood products", value("blood_given").map(|v| figure(v, "mL"))),
        ("Contrast", value("contrast").map(|v| figure(v, "mL"))),
        (
            "Contrast over estimated filtration",
            value("contrast.per_egfr").map(|v| figure(v, "mL for each mL/min")),
        ),
        ("Fluoroscopy", value("fluoro").map(words::span)),
        ("Kerma-area product", value("kap").map(|v| figure(v, "Gy\u{b7}cm\u{b2}"))),
        ("Air kerma at the reference point", value("kerma").map(|v| figure(v, "Gy"))),
        ("Aorta under fabric", value("covered_length").map(|v| figure(v, "mm"))),
    ];
    html! {
        table.small {
            caption { "Counted, not scored" }
            tbody { @for (label, said) in rows { @if let Some(said) = said { tr { th scope="row" { (label) } td { (said) } } } } }
        }
    }
}

/// Everything that was said and done between two moments.
pub(super) fn log(record: &Record, from: Tick, to: Tick) -> Markup {
    let shown = |e: &&Event| e.at >= from && e.at <= to && !matches!(e.kind, EventKind::Ended { .. });
    html! {
        table.log {
            thead { tr { th scope="col" { "time" } th scope="col" { "who" } th scope="col" { "what" } } }
            tbody {
                @for event in record.events.iter().filter(shown) {
                    @if let Some(line) = record.words().tell(event) {
                        @let (who, what) = speaker(&line);
                        tr { td { (event.at) } td { (who) } td { (what) } }
                    }
                }
            }
        }
    }
}

/// A line of the desk, which marks who acts by its first sign, as who and what.
fn speaker(line: &str) -> (&'static str, &str) {
    let marks = [
        ("> ", "you"),
        ("? ", "asked"),
        ("(team) ", "team"),
        ("(educator) ", "educator"),
        ("done: ", "done"),
    ];
    let found = marks.iter().find_map(|(sign, who)| line.strip_prefix(sign).map(|what| (*who, what)));
    found.unwrap_or(("", line))
}
