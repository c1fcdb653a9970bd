//! The story around the patient: phases, questions, happenings and endings, all moved by rules over the samples.

use super::Session;
use super::dice::Dice;
use super::event::{Event, EventKind, Giver, Tick};
use super::sample::{self, Columns, Row};
use super::world::Narrows;
use crate::scenario::Loaded;
use crate::scenario::case::Action;
use crate::scenario::chart::{self, Machine, Raise, Runaway, Situation};
use crate::scenario::rule::{Monitor, Rule};
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::sync::Arc;

/// Where a question stands.
#[derive(Clone, Debug, PartialEq)]
enum AskState {
    Open { since: Tick },
    Chosen { option: String },
    Withdrawn,
}

/// A rule of the case with its memory and last verdict.
#[derive(Clone, Debug)]
struct Judge {
    monitor: Monitor,
    truth: bool,
    before: bool,
}

/// The state of the story.
#[derive(Clone)]
pub struct Story {
    /// None before the first moment.
    machine: Option<Machine>,
    /// Events that the case sent outside its chart, with their time.
    sent: Vec<(Tick, String)>,
    /// By the rule's text: every rule that is asked while the session runs.
    bank: BTreeMap<String, Judge>,
    asks: BTreeMap<String, AskState>,
    happened: BTreeSet<String>,
    raised: VecDeque<String>,
    noticed: BTreeSet<(&'static str, String)>,
    chosen: Arc<BTreeMap<String, String>>,
    states: Arc<BTreeSet<String>>,
    vars: BTreeMap<String, f64>,
    columns: Arc<Columns>,
    /// How often chance was asked for a happening.
    chances: BTreeMap<String, u32>,
    pub(super) dice: Dice,
    last: Option<Row>,
}

/// What the chart does is gathered and done by the session afterwards, in order.
struct Gather<'a> {
    bank: &'a BTreeMap<String, Judge>,
    acts: Vec<Action>,
}

impl chart::Host<String, Action> for Gather<'_> {
    fn guard(&mut self, rule: &String, _now: &Situation<'_>) -> bool {
        self.bank.get(rule).is_some_and(|j| j.truth)
    }
    fn act(&mut self, action: &Action, _now: &Situation<'_>) -> Vec<Raise> {
        match action {
            Action::Send { event, after: None } => vec![Raise::Internal(event.clone())],
            Action::Send { event, after: Some(span) } => {
                let delay_ticks = Tick::from_ms(span.ms).0;
                vec![Raise::Send { event: event.clone(), delay_ticks, id: Some(event.clone()) }]
            }
            Action::Cancel(event) => vec![Raise::Cancel(event.clone())],
            other => {
                self.acts.push(other.clone());
                Vec::new()
            }
        }
    }
}

impl Story {
    /// Before the first moment.
    pub fn new(case: &Loaded, dice: Dice) -> Self {
        let dt_s = 1.0;
        let bank = case
            .online_rules()
            .filter_map(|(text, rule): (&str, &Rule)| {
                let monitor = rule.guard(dt_s).ok()?;
                Some((text.to_string(), Judge { monitor, truth: false, before: false }))
            })
            .collect();
        Self {
            machine: None,
            sent: Vec::new(),
            bank,
            asks: BTreeMap::new(),
            happened: BTreeSet::new(),
            raised: VecDeque::new(),
            noticed: BTreeSet::new(),
            chosen: Arc::default(),
            states: Arc::default(),
            vars: case.vars.iter().map(|v| (v.clone(), 0.0)).collect(),
            columns: Arc::new(Columns::of(case)),
            chances: BTreeMap::new(),
            dice,
            last: None,
        }
    }
    /// When the next event that the case has sent comes.
    pub fn next_due(&self) -> Option<Tick> {
        let chart = self.machine.as_ref().and_then(|m| m.next_due_ticks()).map(Tick);
        chart.into_iter().chain(self.sent.iter().map(|(at, _)| *at)).min()
    }

    pub(super) fn columns(&self) -> &Arc<Columns> {
        &self.columns
    }
    pub(super) fn var(&self, name: &str) -> f64 {
        self.vars.get(name).copied().unwrap_or(0.0)
    }
    pub(super) fn happened(&self) -> BTreeSet<(&'static str, String)> {
        self.noticed.clone()
    }
    pub(super) fn states(&self) -> Arc<BTreeSet<String>> {
        Arc::clone(&self.states)
    }
    pub(super) fn chosen_all(&self) -> Arc<BTreeMap<String, String>> {
        Arc::clone(&self.chosen)
    }
    pub(super) fn chosen(&self, ask: &str) -> Option<&str> {
        self.chosen.get(ask).map(String::as_str)
    }
    /// Is that question open?
    pub fn is_open(&self, ask: &str) -> bool {
        matches!(self.asks.get(ask), Some(AskState::Open { .. }))
    }
    /// Open questions with the time they opened.
    pub fn open(&self) -> impl Iterator<Item = (&str, Tick)> {
        self.asks.iter().filter_map(|(id, s)| match s {
            AskState::Open { since } => Some((id.as_str(), *since)),
            _ => None,
        })
    }

    /// Sends the chart an event from outside.
    pub fn raise(&mut self, event: String) {
        self.raised.push_back(event);
    }

    /// Takes note of an event for the rules of the next sample.
    pub fn notice(&mut self, event: &Event) {
        self.noticed.extend(sample::names(event));
    }

    /// Judges every running rule at a sample that stands for `weight` seconds; what happened counts in the last of them.
    pub fn judge(&mut self, row: &Row, weight: u32) {
        if weight > 1 {
            let mut quiet = row.clone();
            quiet.events.clear();
            self.bank.values_mut().for_each(|judge| judge.monitor.push_same(&quiet, weight - 1));
        }
        for judge in self.bank.values_mut() {
            judge.before = judge.truth;
            judge.truth = judge.monitor.push(row).truth;
        }
        self.noticed.clear();
        self.last = Some(row.clone());
    }

    /// Does a running rule hold at the last sample?
    pub fn holds(&self, rule: &str) -> bool {
        self.bank.get(rule).is_some_and(|j| j.truth)
    }

    fn came_true(&self, rule: &str) -> bool {
        self.bank.get(rule).is_some_and(|j| j.truth && !j.before)
    }

    /// The first ending whose condition holds.
    pub fn ending(&self, case: &Loaded) -> Option<usize> {
        case.case.endings.iter().position(|e| self.holds(&e.when))
    }

    /// What a stated rule makes of the last sample, in words; nothing when it holds.
    pub fn unmet(&self, case: &Loaded, text: &str) -> Option<String> {
        let row = self.last.as_ref()?;
        if let Some(judge) = self.bank.get(text)
            && judge.truth
        {
            return None;
        }
        let rule = match Rule::parse(text, &case.vocabulary) {
            Ok(rule) => rule,
            Err(faults) => return Some(format!("{text}: {}", faults[0].message)),
        };
        if !self.bank.contains_key(text) && rule.offline(1.0, [row]).overall.is_some_and(|v| v.truth) {
            return None;
        }
        let values: Vec<String> = rule
            .signals()
            .into_iter()
            .map(|s| {
                use crate::scenario::rule::Signals;
                format!("{s} = {}", row.value(s).map_or("none".into(), |v| super::tell::figure(v, "")))
            })
            .collect();
        Some(if values.is_empty() { text.into() } else { format!("{text} ({})", values.join(", ")) })
    }

    /// Why a question cannot be answered so.
    pub fn cannot_answer(&self, case: &Loaded, ask: &str, option: &str) -> Option<String> {
        let Some(spec) = case.case.asks.iter().find(|a| a.id == ask) else {
            return Some(format!("nobody asked \"{ask}\""));
        };
        match self.asks.get(ask) {
            None => return Some(format!("\"{ask}\" has not been asked yet")),
            Some(AskState::Chosen { option }) => {
                return Some(format!("\"{ask}\" was decided already ({option}); time does not run back"));
            }
            Some(AskState::Withdrawn) => return Some(format!("the moment for \"{ask}\" has passed")),
            Some(AskState::Open { .. }) => {}
        }
        if spec.options.iter().any(|o| o.id == option) {
            return None;
        }
        let names: Vec<&str> = spec.options.iter().map(|o| o.id.as_str()).collect();
        Some(format!("\"{ask}\" has no option \"{option}\"; it has: {}", names.join(", ")))
    }

    /// A draw for a happening.
    fn chance(&mut self, id: &str, p: f64) -> bool {
        if p >= 1.0 {
            return true;
        }
        let n = self.chances.entry(id.to_string()).or_insert(0);
        *n += 1;
        self.dice.chance(format!("happening/{id}/{n}"), p)
    }
}

impl Session {
    /// Enters the chart's first states and takes the first sample.
    pub(super) fn begin_story(&mut self) {
        let case = Arc::clone(&self.case);
        self.happen(
            EventKind::Said { who: "narrator".into(), text: case.case.story.call.clone() },
            None,
            Vec::new(),
        );
        let row = sample::row(&case, self.now, &self.world, &self.story);
        self.story.judge(&row, 1);
        self.trace.push(row);
        let mut host = Gather { bank: &self.story.bank, acts: Vec::new() };
        let machine = Machine::start(&case.chart, &mut host);
        let acts = host.acts;
        match machine {
            Ok(machine) => self.story.machine = Some(machine),
            Err(runaway) => self.tell_runaway(&runaway),
        }
        self.note_states();
        self.perform_all(acts, None);
    }

    /// A chart that never comes to rest is the case's fault; the patient goes on without it.
    fn tell_runaway(&mut self, runaway: &Runaway) {
        let text = format!("(The case's phases run in a circle in {}. Check the case file.)", runaway.states);
        self.happen(EventKind::Said { who: "narrator".into(), text }, None, Vec::new());
    }

    /// Once a second: delayed and raised events, transitions without an event, questions, happenings.
    pub(super) fn move_story(&mut self) {
        let case = Arc::clone(&self.case);
        let elapsed = self.trace.len().checked_sub(2).map_or(0, |i| self.now.0 - self.trace[i].at.0);
        let due: Vec<String> =
            self.story.sent.iter().filter(|(at, _)| *at <= self.now).map(|(_, e)| e.clone()).collect();
        self.story.sent.retain(|(at, _)| *at > self.now);
        self.story.raised.extend(due);
        let raised: Vec<String> = self.story.raised.drain(..).collect();
        let mut host = Gather { bank: &self.story.bank, acts: Vec::new() };
        let mut outcome = Ok(());
        if let Some(machine) = &mut self.story.machine {
            outcome = machine.advance(&case.chart, elapsed, &mut host);
            for event in &raised {
                outcome = outcome.and_then(|()| machine.event(&case.chart, event, &mut host));
            }
            // Guards read signals that move by themselves: look at the transitions that wait for no event.
            outcome = outcome.and_then(|()| machine.poll(&case.chart, &mut host));
        }
        let acts = host.acts;
        if let Err(runaway) = outcome {
            self.story.machine = None;
            self.tell_runaway(&runaway);
        }
        self.note_states();
        self.perform_all(acts, None);
        for ask in &case.case.asks {
            if ask.when.as_ref().is_some_and(|w| self.story.came_true(w)) {
                self.open_ask(&ask.id);
            }
        }
        self.close_late_asks(&case);
        for h in &case.case.happenings {
            if self.story.happened.contains(&h.id) || !self.story.came_true(&h.when) {
                continue;
            }
            let struck = self.story.chance(&h.id, h.chance);
            if h.chance < 1.0 {
                let kind =
                    EventKind::Risk { id: h.id.clone(), probability: h.chance, because: Vec::new(), struck };
                self.happen(kind, None, Vec::new());
            }
            if struck {
                self.story.happened.insert(h.id.clone());
                self.perform_all(h.then.clone(), None);
            }
        }
    }

    fn note_states(&mut self) {
        let Some(machine) = &self.story.machine else { return };
        let now: BTreeSet<String> = machine.configuration(&self.case.chart).map(String::from).collect();
        let entered: Vec<String> = now.difference(&self.story.states).cloned().collect();
        self.story.states = Arc::new(now);
        for state in entered {
            self.happen(EventKind::Entered { state }, None, Vec::new());
        }
    }

    fn perform_all(&mut self, acts: Vec<Action>, cause: Option<u32>) {
        for act in acts {
            self.perform(act, cause);
        }
    }

    /// Does what the case asks for.
    fn perform(&mut self, act: Action, cause: Option<u32>) {
        match act {
            Action::Say { who, text } => {
                self.happen(EventKind::Said { who, text }, cause, Vec::new());
            }
            Action::Ask(ask) => self.open_ask(&ask),
            Action::Withdraw(ask) => {
                if self.story.is_open(&ask) {
                    self.story.asks.insert(ask, AskState::Withdrawn);
                }
            }
            Action::Send { event, after: None } => self.story.raise(event),
            Action::Send { event, after: Some(span) } => {
                self.story.sent.push((self.now.after(Tick::from_ms(span.ms).0), event));
            }
            Action::Cancel(event) => self.story.sent.retain(|(_, e)| *e != event),
            Action::Bleed(hole) => self.world.open_hole(&hole),
            Action::ScaleBleed { id, factor } => self.world.scale_hole(&id, factor),
            Action::Patency { vessel, open } => self.world.narrow(vessel, Narrows::Case, open),
            Action::Set { name, to } => {
                self.story.vars.insert(name, to);
            }
            Action::Order(order) => {
                // The team's own act may be impossible by now; the refusal is in the record.
                let _ = self.take(Giver::Case, order, cause);
            }
        }
    }

    fn open_ask(&mut self, ask: &str) {
        if self.story.asks.contains_key(ask) {
            return;
        }
        self.story.asks.insert(ask.into(), AskState::Open { since: self.now });
        self.happen(EventKind::Asked { ask: ask.into() }, None, Vec::new());
    }

    fn close_late_asks(&mut self, case: &Loaded) {
        let due: Vec<(String, Option<String>)> = self
            .story
            .open()
            .filter_map(|(id, since)| {
                let ask = case.case.asks.iter().find(|a| a.id == id)?;
                let closes = since.after(Tick::from_ms(ask.closes?.ms).0);
                (closes <= self.now).then(|| (id.to_string(), ask.otherwise.clone()))
            })
            .collect();
        for (ask, otherwise) in due {
            match otherwise {
                Some(option) => {
                    let last = self.events.len().saturating_sub(1) as u32;
                    self.choose(&ask, &option, String::new(), None, true, last);
                }
                None => {
                    self.story.asks.insert(ask, AskState::Withdrawn);
                }
            }
        }
    }

    /// Commits to an option: its tier is frozen here, before anything later is drawn.
    pub(super) fn choose(
        &mut self,
        ask: &str,
        option: &str,
        why: String,
        sure_percent: Option<u8>,
        by_clock: bool,
        cause: u32,
    ) {
        let case = Arc::clone(&self.case);
        let Some(spec) = case.case.asks.iter().find(|a| a.id == ask) else { return };
        let Some(choice) = spec.options.iter().find(|o| o.id == option) else { return };
        let tier = self.tier_now(choice);
        self.story.asks.insert(ask.into(), AskState::Chosen { option: option.into() });
        Arc::make_mut(&mut self.story.chosen).insert(ask.into(), option.into());
        let kind =
            EventKind::Chosen { ask: ask.into(), option: option.into(), tier, why, sure_percent, by_clock };
        let read = self.visible_now();
        let chosen = self.happen(kind, Some(cause), read);
        self.story.raise(format!("answer.{ask}.{option}"));
        for event in &choice.sends {
            self.story.raise(event.clone());
        }
        for order in &choice.orders {
            let giver = if by_clock { Giver::Case } else { Giver::Option(ask.into()) };
            // A refusal is an event; the next order of the option may still stand.
            let _ = self.take(giver, order.clone(), Some(chosen));
        }
    }

    /// What the monitor showed at a decision.
    fn visible_now(&self) -> Vec<(String, f64)> {
        let v = self.world.patient.vitals();
        vec![
            ("sbp".into(), v.right_radial.systolic_mmhg.round()),
            ("map".into(), v.right_radial.mean_mmhg.round()),
            ("hr".into(), v.heart_rate_bpm.round()),
        ]
    }
}
