//! What if: any decision of a finished session taken the other way, with the same dice and the trainee's own later orders.
//!
//! 1. [`turnings`] plays the log again and keeps the session as it stood before each decision.
//! 2. [`Turning::take`] answers otherwise and plays on: later orders are given as long after one another as they were, an answer
//!    waits for its question and is passed over when that does not come.
//! 3. The [`Outlook`] of both is set side by side. It is the model's projection and nothing more.

use crate::assess::{RiskSum, risks, sums};
use crate::scenario::Order;
use crate::scenario::case::Tone;
use crate::scenario::rule::Signals;
use crate::session::Session;
use crate::session::event::{EventKind, Giver, Tick};
use crate::session::log::Line;
use crate::session::record::Record;
use crate::session::replay::rebuild_watched;
use std::collections::BTreeMap;

/// A session as it stood before a decision, with what was ordered after it.
pub struct Turning {
    /// Number of the decision's event in the original.
    pub event: u32,
    /// When it was taken.
    pub at: Tick,
    /// The question.
    pub ask: String,
    chosen: String,
    before: Session,
    later: Vec<(Tick, Giver, Order)>,
    end: Tick,
}

/// What became of the patient after a moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Outlook {
    /// How it ended, and when; none where it had not by the end of the original.
    pub ending: Option<(String, Tone, Tick)>,
    /// Blood lost after the moment, mL.
    pub lost_ml: f64,
    /// Lowest systolic after the moment while alive and not paced, mmHg, and when.
    pub lowest_sbp: Option<(f64, Tick)>,
    /// Part of the spinal cord that will not recover, per cent.
    pub cord_percent: f64,
    /// Leak at the end of the theatre, all classes, mL/min.
    pub leak_ml_min: f64,
    /// Orders after the moment that the state of things refused.
    pub refused: usize,
    /// Risks faced after the moment, as computed.
    pub risks: Vec<RiskSum>,
    /// Systolic pressure over time from the moment on, mmHg.
    pub sbp: Vec<(Tick, f64)>,
}

/// One decision taken otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct WhatIf {
    /// Number of the decision's event in the original.
    pub event: u32,
    /// The other option.
    pub option: String,
    /// What came of it.
    pub outlook: Outlook,
}

/// The session before each of its decisions.
///
/// # Errors
/// As for [`rebuild_watched`].
pub fn turnings(lines: &[Line]) -> Result<Vec<Turning>, String> {
    kept(lines, &places(lines), None)
}

/// The session before the decision whose event this is; none where the log has no such decision.
///
/// # Errors
/// As for [`rebuild_watched`].
pub fn turning(lines: &[Line], event: u32) -> Result<Option<Turning>, String> {
    let mut places = places(lines);
    places.values_mut().for_each(|all| all.retain(|p| p.event == event));
    let Some(at) = places.values().flatten().map(|p| p.at).next() else { return Ok(None) };
    Ok(kept(lines, &places, Some(at))?.pop())
}

/// Plays the log again, up to a moment or to its end, and keeps the session at these places.
fn kept(
    lines: &[Line],
    places: &BTreeMap<usize, Vec<Place>>,
    until: Option<Tick>,
) -> Result<Vec<Turning>, String> {
    let end = lines.iter().map(when).max().unwrap_or_default();
    let mut out = Vec::new();
    let mut index = 0;
    rebuild_watched(lines, until, &mut |session, line| {
        // Every order and event is shown, in the order of the log.
        while index < lines.len() && !std::ptr::eq(&lines[index], line) {
            index += 1;
        }
        for place in places.get(&index).into_iter().flatten() {
            out.push(Turning {
                event: place.event,
                at: place.at,
                ask: place.ask.clone(),
                chosen: place.option.clone(),
                before: before(session, line, place),
                later: later(&lines[place.after..]),
                end,
            });
        }
    })?;
    Ok(out)
}

/// The decision's event and the line after which the trainee's later orders stand.
struct Place {
    event: u32,
    at: Tick,
    ask: String,
    option: String,
    by_clock: bool,
    after: usize,
}

/// For each line at which a session is to be kept: the decisions that it is kept for.
fn places(lines: &[Line]) -> BTreeMap<usize, Vec<Place>> {
    let mut out: BTreeMap<usize, Vec<Place>> = BTreeMap::new();
    for (i, line) in lines.iter().enumerate() {
        let Line::Event(event) = line else { continue };
        let EventKind::Chosen { ask, option, by_clock, .. } = &event.kind else { continue };
        let asked =
            |l: &Line| matches!(l, Line::Order { order: Order::Answer { ask: a, .. }, .. } if a == ask);
        let kept = if *by_clock {
            lines[..i]
                .iter()
                .rposition(|l| when(l) < event.at && matches!(l, Line::Order { .. } | Line::Event(_)))
        } else {
            lines[..i].iter().rposition(asked)
        };
        let Some(kept) = kept else { continue };
        let after = if *by_clock { i } else { kept } + 1;
        let place = Place {
            event: event.seq,
            at: event.at,
            ask: ask.clone(),
            option: option.clone(),
            by_clock: *by_clock,
            after,
        };
        out.entry(kept).or_default().push(place);
    }
    out
}

/// The session at the last moment at which the decision was still open.
fn before(session: &Session, line: &Line, place: &Place) -> Session {
    let mut session = session.clone();
    if place.by_clock {
        if let Line::Order { by, order, .. } = line {
            // A refusal is an event of its own, as it was in the original.
            let _ = session.order(by.clone(), order.clone());
        }
        // On the ward one step would pass the moment: there it is answered when it was last heard of.
        let on_ward = session.trace().last().is_some_and(|r| r.value("ward") == Some(1.0));
        if !on_ward {
            session.advance_to(Tick(place.at.0.saturating_sub(1)));
        }
    }
    session
}

fn later(lines: &[Line]) -> Vec<(Tick, Giver, Order)> {
    lines
        .iter()
        .filter_map(|l| match l {
            Line::Order { at, by, order } => Some((*at, by.clone(), order.clone())),
            _ => None,
        })
        .collect()
}

fn when(line: &Line) -> Tick {
    match line {
        Line::Head(_) => Tick(0),
        Line::Order { at, .. } | Line::Sample { at, .. } | Line::Close { at } => *at,
        Line::Event(event) => event.at,
    }
}

/// How long an answer waits for its question beyond its own time.
const PATIENCE: Tick = Tick(120 * Tick::PER_SECOND);

impl Turning {
    /// Ids of the question's options.
    pub fn options(&self) -> Vec<String> {
        let ask = self.before.case().case.asks.iter().find(|a| a.id == self.ask);
        ask.map(|a| a.options.iter().map(|o| o.id.clone()).collect()).unwrap_or_default()
    }

    /// The devices that another option puts in the place of those that were chosen: later orders mean the new ones.
    fn swaps(&self, option: &str) -> Vec<(String, String)> {
        let asks = &self.before.case().case.asks;
        let orders = |id: &str| {
            let ask = asks.iter().find(|a| a.id == self.ask);
            ask.and_then(|a| a.options.iter().find(|o| o.id == id)).map_or(&[][..], |o| &o.orders[..])
        };
        let put = |orders: &[Order]| -> Vec<String> {
            orders
                .iter()
                .filter_map(|o| match o {
                    Order::Insert { device, .. } | Order::Exchange { put: device, .. } => {
                        Some(device.clone())
                    }
                    _ => None,
                })
                .collect()
        };
        let pairs = put(orders(&self.chosen)).into_iter().zip(put(orders(option)));
        pairs.filter(|(old, new)| old != new).collect()
    }

    /// What would have come of another option.
    pub fn take(&self, option: &str) -> WhatIf {
        let record = Record::of(&self.played(option));
        WhatIf { event: self.event, option: option.into(), outlook: Outlook::of(&record, self.at) }
    }

    /// The session with the other answer, played on to the original's end.
    pub fn played(&self, option: &str) -> Session {
        let mut session = self.before.clone();
        let answer = Order::Answer {
            ask: self.ask.clone(),
            option: option.into(),
            why: String::new(),
            sure_percent: None,
        };
        // A question that has just closed refuses; then nothing changes, which the outlook shows.
        let _ = session.order(Giver::Trainee, answer);
        let swaps = self.swaps(option);
        let (mut given, mut original) = (session.now(), self.at);
        let mut orders = self.later.iter().peekable();
        while session.ended().is_none() && session.now() < self.end {
            while let Some((at, by, order)) = orders.peek() {
                let due = given.after(at.0.saturating_sub(original.0));
                let now = session.now();
                if now < due {
                    break;
                }
                let passed_over = match order {
                    Order::Answer { ask, .. } if session.chosen(ask).is_some() => true,
                    Order::Answer { ask, .. } if !session.ask_open(ask) => {
                        if now < due.after(PATIENCE.0) {
                            break;
                        }
                        true
                    }
                    _ => false,
                };
                if !passed_over {
                    // What the other course made impossible is refused, and stands in its record.
                    let _ = session.order(by.clone(), order.renamed(&swaps));
                    given = now;
                } else {
                    given = due;
                }
                original = *at;
                orders.next();
            }
            session.advance(1);
        }
        session
    }
}

impl Outlook {
    /// Of a session from a moment on.
    pub fn of(record: &Record, from: Tick) -> Self {
        let rows: Vec<_> = record.trace.iter().filter(|r| r.at >= from).collect();
        let lost = |r: &&crate::session::Row| r.value("lost");
        let first = record.row_at(from).and_then(|r| r.value("lost")).unwrap_or(0.0);
        let last = rows.last();
        let quiet = record.unpaced().filter(|r| r.at >= from && r.value("alive") != Some(0.0));
        let theatre = record.row_at(record.theatre_end());
        let later: Vec<_> = risks(record).into_iter().filter(|r| r.at >= from).collect();
        let every = (rows.len() / 400).max(1);
        Self {
            ending: record.ended().map(|e| (e.title.clone(), e.tone, record.now)),
            lost_ml: last.and_then(lost).unwrap_or(first) - first,
            lowest_sbp: quiet
                .filter_map(|r| Some((r.value("sbp")?, r.at)))
                .min_by(|a, b| a.0.total_cmp(&b.0)),
            cord_percent: last.and_then(|r| r.value("injured.cord")).unwrap_or(0.0),
            leak_ml_min: theatre.and_then(|r| r.value("leak")).unwrap_or(0.0),
            refused: record
                .events
                .iter()
                .filter(|e| e.at >= from && matches!(e.kind, EventKind::Refused { .. }))
                .count(),
            risks: sums(&later),
            sbp: rows.iter().step_by(every).filter_map(|r| Some((r.at, r.value("sbp")?))).collect(),
        }
    }
}
