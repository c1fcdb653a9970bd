//! What a session leaves behind: its events and samples with the case that they belong to. Judgement and debrief read this and
//! nothing else, so that a log of an older engine is judged by what was recorded and not by what another engine would make of it.

use super::event::{Event, EventKind, Tick};
use super::log::{Head, Line, Mode};
use super::sample::{self, Columns};
use super::tell::Words;
use super::{Row, Session, replay};
use crate::scenario::Loaded;
use crate::scenario::case::{Action, Ending};
use crate::scenario::chart::{Chart, StateKind};
use crate::scenario::rule::Signals;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Where a record's samples come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Origin {
    /// From the session itself.
    Live,
    /// Played again from a log, every recorded line bit for bit the same.
    Replayed,
    /// As the log kept them, and not computed again: why not.
    Recalled(String),
}

/// A session as it was.
#[derive(Clone)]
pub struct Record {
    /// The case.
    pub case: Arc<Loaded>,
    /// Seed of all chance.
    pub seed: u64,
    /// The mode.
    pub mode: Mode,
    /// Version of the engine that ran it.
    pub engine: String,
    /// Patient time at its end.
    pub now: Tick,
    /// Everything that happened.
    pub events: Vec<Event>,
    /// The signals.
    pub trace: Vec<Row>,
    /// Where the samples come from.
    pub origin: Origin,
}

impl Record {
    /// Of a session as it stands.
    pub fn of(session: &Session) -> Self {
        Self {
            case: Arc::clone(session.case()),
            seed: session.seed(),
            mode: session.mode(),
            engine: env!("CARGO_PKG_VERSION").into(),
            now: session.now(),
            events: session.events().to_vec(),
            trace: session.trace().to_vec(),
            origin: Origin::Live,
        }
    }

    /// From a log's own lines, without computing anything again: `why` says why not. The log keeps a sample every five seconds
    /// in the theatre, so margins are coarser than in the session itself.
    ///
    /// # Errors
    /// A plain sentence when the case kept in the log no longer loads or its times run back or beyond any session.
    pub fn recalled(lines: &[Line], why: String) -> Result<Self, String> {
        let Some(Line::Head(head)) = lines.first() else { return Err("the log has no head".into()) };
        let case = replay::case_of(head)?;
        let mut rows = Rows::new(&case, head);
        let mut events = Vec::new();
        let mut now = Tick(0);
        for line in &lines[1..] {
            let at = match line {
                Line::Head(_) => return Err("the log has two heads".into()),
                Line::Order { at, .. } | Line::Close { at } | Line::Sample { at, .. } => *at,
                Line::Event(event) => event.at,
            };
            if at < now || at > replay::LAST {
                return Err(format!("the log holds the time {at} after {now}, which no session does"));
            }
            now = at;
            match line {
                Line::Event(event) => {
                    rows.notice(&case.chart, event);
                    // Causes are places in this list, so the numbers must be what they were.
                    events.push(Event { seq: events.len() as u32, ..event.clone() });
                }
                Line::Sample { values, .. } => rows.take(at, values),
                _ => {}
            }
        }
        Ok(Self {
            seed: head.seed,
            mode: head.mode,
            engine: head.engine.clone(),
            now,
            events,
            trace: rows.out,
            origin: Origin::Recalled(why),
            case,
        })
    }

    /// How the case's people say it.
    pub fn words(&self) -> Words<'_> {
        Words(&self.case)
    }

    /// The ending, once reached.
    pub fn ended(&self) -> Option<&Ending> {
        let id = self.events.iter().rev().find_map(|e| match &e.kind {
            EventKind::Ended { ending } => Some(ending),
            _ => None,
        })?;
        self.case.case.endings.iter().find(|e| e.id == *id)
    }

    /// The last sample at or before a moment.
    pub fn row_at(&self, at: Tick) -> Option<&Row> {
        let after = self.trace.partition_point(|r| r.at <= at);
        self.trace.get(after.checked_sub(1)?)
    }

    /// The samples without rapid pacing and the half minute after it: what is then low is meant to be.
    pub fn unpaced(&self) -> impl Iterator<Item = &Row> {
        // Pressure is back within half a minute of pacing (assumed).
        const AFTER: u64 = 30 * Tick::PER_SECOND;
        let mut until = None;
        self.trace.iter().filter(move |row| {
            if row.value("pacing") == Some(1.0) {
                until = Some(row.at.after(AFTER));
            }
            until.is_none_or(|u| row.at > u)
        })
    }

    /// When the patient left the theatre; the end where that never happened.
    pub fn theatre_end(&self) -> Tick {
        let handed = self.events.iter().find_map(|e| match &e.kind {
            EventKind::Done { verb, .. } if verb == "hand_over" => Some(e.at),
            _ => None,
        });
        handed.unwrap_or(self.now)
    }
}

/// Rows made from a log's samples and the events between them.
struct Rows {
    columns: Arc<Columns>,
    noticed: BTreeSet<(&'static str, String)>,
    states: BTreeSet<String>,
    chosen: BTreeMap<String, String>,
    out: Vec<Row>,
}

impl Rows {
    fn new(case: &Loaded, head: &Head) -> Self {
        Self {
            columns: Arc::new(Columns::named(case, head.columns.iter().cloned())),
            noticed: BTreeSet::new(),
            states: BTreeSet::new(),
            chosen: BTreeMap::new(),
            out: Vec::new(),
        }
    }

    fn notice(&mut self, chart: &Chart<String, Action>, event: &Event) {
        self.noticed.extend(sample::names(event));
        match &event.kind {
            EventKind::Chosen { ask, option, .. } => {
                self.chosen.insert(ask.clone(), option.clone());
            }
            EventKind::Entered { state } => enter(chart, &mut self.states, state),
            _ => {}
        }
    }

    fn take(&mut self, at: Tick, values: &[Option<f64>]) {
        let mut row = Row::logged_at(at, values, &self.columns);
        row.events = std::mem::take(&mut self.noticed);
        row.states = Arc::new(self.states.clone());
        row.chosen = Arc::new(self.chosen.clone());
        self.out.push(row);
    }
}

/// The log tells which states were entered; those that cannot be active beside a new one were left.
fn enter(chart: &Chart<String, Action>, active: &mut BTreeSet<String>, name: &str) {
    let Some(new) = chart.find(name) else { return };
    let around = |s| std::iter::successors(Some(s), |&s| chart.parent(s)).collect::<Vec<_>>();
    let mine = around(new);
    active.retain(|other| {
        let Some(other) = chart.find(other) else { return false };
        let theirs = around(other);
        if mine.contains(&other) || theirs.contains(&new) {
            return true;
        }
        let common = mine.iter().find(|s| theirs.contains(s));
        common.is_some_and(|&s| chart.kind(s) == StateKind::Parallel)
    });
    active.insert(name.into());
}
