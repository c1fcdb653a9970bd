//! One rehearsal as a fold: `state = step(state, orders at this tick)`.
//!
//! 1. [`Session::new`] builds the world from a loaded case and a seed.
//! 2. [`Session::order`] takes an order at the present tick; it queues for the hands that it needs.
//! 3. [`Session::advance`] steps ticks: hands finish work, the patient goes on, and once a second the signals are sampled,
//!    rules judged, the chart moved, questions opened and endings tried.
//! 4. Everything that happens is an [`event::Event`]; orders, events and samples are handed to whoever keeps the log
//!    ([`Session::take_lines`]).
//!
//! There is no clock, file, thread or user interface here: the same orders and seed give the same session, bit for bit.

pub mod dice;
pub mod event;
pub mod golden;
mod host;
pub mod jobs;
pub mod log;
pub mod player;
pub mod record;
pub mod replay;
mod sample;
pub mod tell;
pub mod view;
mod views;
mod world;

use crate::circulation::TraceSample;
use crate::scenario::case::{Choice, Ending, Play, Tier};
use crate::scenario::order::Worker;
use crate::scenario::written;
use crate::scenario::{Loaded, Order};
use dice::Dice;
use event::{Event, EventKind, Giver, Tick};
use host::Story;
use jobs::{Hands, Job, Turn};
use log::{Head, LOG_FORMAT, Line, Mode};
pub use sample::Row;
use std::sync::Arc;
pub use views::dealt;
use world::World;
pub use world::scene::Stage;
pub use world::{Scanned, planned, planned_body};

/// One session.
#[derive(Clone)]
pub struct Session {
    case: Arc<Loaded>,
    seed: u64,
    mode: Mode,
    now: Tick,
    world: World,
    hands: Hands,
    story: Story,
    events: Vec<Event>,
    trace: Vec<Row>,
    outbox: Vec<Line>,
    /// When a sample last went into the log.
    logged: Tick,
    ended: Option<usize>,
}

impl Session {
    /// At the moment of the call.
    pub fn new(case: Arc<Loaded>, seed: u64, mode: Mode) -> Self {
        let head = Head {
            format: LOG_FORMAT,
            engine: env!("CARGO_PKG_VERSION").into(),
            case_id: case.case.id.clone(),
            case_text: case.text.clone(),
            seed,
            mode,
            columns: sample::columns(&case),
            forked_from: None,
        };
        let world = World::new(&case, Dice::new(seed));
        let story = Story::new(&case, Dice::new(seed));
        let mut session = Self {
            case,
            seed,
            mode,
            now: Tick(0),
            world,
            hands: Hands::default(),
            story,
            events: Vec::new(),
            trace: Vec::new(),
            outbox: vec![Line::Head(Box::new(head))],
            logged: Tick(0),
            ended: None,
        };
        session.begin_story();
        session
    }

    /// The case.
    pub fn case(&self) -> &Arc<Loaded> {
        &self.case
    }
    /// The seed of all chance.
    pub fn seed(&self) -> u64 {
        self.seed
    }
    /// The mode.
    pub fn mode(&self) -> Mode {
        self.mode
    }
    /// Time since the call.
    pub fn now(&self) -> Tick {
        self.now
    }
    /// Everything that has happened.
    pub fn events(&self) -> &[Event] {
        &self.events
    }
    /// The signals, one row a second (a minute on the ward).
    pub fn trace(&self) -> &[Row] {
        &self.trace
    }
    /// The ending, once reached.
    pub fn ended(&self) -> Option<&Ending> {
        self.ended.map(|i| &self.case.case.endings[i])
    }
    /// What the case's start asks of the patient and could not be met.
    pub fn start_doubts(&self) -> &[crate::circulation::StartDoubt] {
        self.world.patient.start_doubts()
    }
    /// Are all hands free, and no ward time left to pass?
    pub fn hands_idle(&self) -> bool {
        self.hands.idle() && self.world.ward_left_s <= 0.0
    }
    /// When the next thing that is on its way comes: an event that the case has sent, or somebody who was called.
    pub fn next_due(&self) -> Option<Tick> {
        [self.story.next_due(), self.world.next_arrival()].into_iter().flatten().min()
    }
    /// Is that question open?
    pub fn ask_open(&self, ask: &str) -> bool {
        self.story.is_open(ask)
    }
    /// Drains the monitor's traces since the last call.
    pub fn take_traces(&mut self) -> Vec<TraceSample> {
        self.world.patient.traces()
    }
    /// The C-arm's pose.
    pub fn pose(&self) -> crate::imaging::Pose {
        self.world.picture.pose
    }
    /// One frame of fluoroscopy of now.
    ///
    /// # Errors
    /// If the pose or the size is outside what the room can do.
    pub fn fluoroscopy(
        &self,
        pose: &crate::imaging::Pose,
        pixels: usize,
    ) -> Result<crate::imaging::Grey, String> {
        self.world.fluoroscopy(pose, pixels)
    }
    /// The same with its reading, to lay a reference or a roadmap over it; `devices` out of it for a roadmap's mask.
    ///
    /// # Errors
    /// If the pose or the size is outside what the room can do.
    pub fn screening(
        &self,
        pose: &crate::imaging::Pose,
        pixels: usize,
        devices: bool,
    ) -> Result<crate::imaging::Screening, String> {
        self.world.screening(pose, pixels, devices)
    }
    /// A subtracted run through everything as it stands now.
    ///
    /// # Errors
    /// If the pose or the size is outside what the room can do.
    pub fn angiogram(
        &self,
        pose: &crate::imaging::Pose,
        pixels: usize,
    ) -> Result<crate::imaging::Run, String> {
        self.world.angiogram(pose, pixels)
    }
    /// Vessels, fabric, devices and flows of now: what a picture would be taken of.
    pub fn stage(&self) -> Stage {
        self.world.stage()
    }
    /// Drains the log lines since the last call.
    pub fn take_lines(&mut self) -> Vec<Line> {
        std::mem::take(&mut self.outbox)
    }
    /// Ends the recording in good order.
    pub fn close(&mut self) {
        self.outbox.push(Line::Close { at: self.now });
    }
    /// Notes in the head, still in the outbox, from which log this session was forked.
    pub fn mark_fork(&mut self, lines: &[Line], at: Tick) {
        if let (Some(Line::Head(mine)), Some(last)) = (self.outbox.first_mut(), lines.last()) {
            let text = serde_json::to_string(last).unwrap_or_default();
            mine.forked_from = Some((blake3::hash(text.as_bytes()).to_hex().to_string(), at));
        }
    }

    /// Takes an order at this tick.
    ///
    /// # Errors
    /// Why the state of things refuses it, with what would do. The refusal is an event too.
    pub fn order(&mut self, by: Giver, order: Order) -> Result<(), String> {
        self.outbox.push(Line::Order { at: self.now, by: by.clone(), order: order.clone() });
        let finishes = matches!(order, Order::Finish);
        let reply = self.take(by, order, None);
        // Endings are tried at whole seconds; whoever ends the case need not let time pass for it.
        if finishes && reply.is_ok() {
            self.step();
            while !self.now.0.is_multiple_of(Tick::PER_SECOND) {
                self.step();
            }
        }
        reply
    }

    /// An order from anybody; `cause` is the event that led to it.
    fn take(&mut self, by: Giver, order: Order, cause: Option<u32>) -> Result<(), String> {
        // What waits behind other work is judged when its turn comes.
        let waits = order.worker() != Worker::Nobody && !self.hands.free_for(&order);
        if let Some(why) = self.refusal(&order).filter(|_| !waits || self.ended.is_some()) {
            let verb = order.verb().to_string();
            self.happen(EventKind::Refused { verb, why: why.clone() }, cause, Vec::new());
            return Err(why);
        }
        let verb = order.verb();
        let event =
            self.happen(EventKind::Ordered { order: order.clone(), by: by.clone() }, cause, Vec::new());
        self.story.raise(format!("order.{verb}"));
        match order {
            Order::Answer { ask, option, why, sure_percent } => {
                self.choose(&ask, &option, why, sure_percent, false, event);
            }
            order => {
                let at_once = order.worker() == Worker::Nobody || matches!(order, Order::Recover { .. });
                let job = Job { order, by, event, began: None, ticks: 0 };
                if at_once {
                    self.finish_job(&job);
                } else {
                    self.hands.add(job);
                }
            }
        }
        Ok(())
    }

    /// Why an order cannot even be begun now.
    fn refusal(&self, order: &Order) -> Option<String> {
        if self.ended.is_some() && !matches!(order, Order::Note { .. }) {
            return Some("the case has ended; open its debrief, or start again".into());
        }
        match order {
            Order::Answer { ask, option, .. } => self.story.cannot_answer(&self.case, ask, option),
            order => self.world.refusal(&self.case, order),
        }
    }

    /// Steps `ticks` tenths of a second.
    pub fn advance(&mut self, ticks: u64) {
        let until = self.now.after(ticks);
        self.advance_to(until);
    }

    /// Steps until `until`; on the ward the steps are whole minutes and may pass it.
    pub fn advance_to(&mut self, until: Tick) {
        while self.now < until && self.ended.is_none() {
            if self.world.ward_left_s > 0.0 {
                self.ward_step();
            } else {
                self.step();
            }
        }
    }

    /// One tick.
    fn step(&mut self) {
        self.now = self.now.after(1);
        self.turn_hands();
        self.world.step(self.now);
        self.publish_world();
        if self.now.0.is_multiple_of(Tick::PER_SECOND) {
            self.second(1);
        }
    }

    /// Hands begin and end what is due at this tick; whether anything was.
    fn turn_hands(&mut self) -> bool {
        let world = &self.world;
        let ticks = |o: &Order| {
            let seconds = jobs::seconds(o, world.travel_mm(o)) + world.further_s(o) + world.fetching_s(o);
            (seconds * Tick::PER_SECOND as f64).round() as u64
        };
        let turns = self.hands.turn(self.now, ticks);
        let any = !turns.is_empty();
        for turn in turns {
            match turn {
                Turn::Begin(job) => {
                    if let Some(why) = self.refusal(&job.order) {
                        self.hands.drop_first(job.order.worker());
                        let verb = job.order.verb().into();
                        self.happen(EventKind::Refused { verb, why }, Some(job.event), Vec::new());
                        continue;
                    }
                    self.world.begin(&job.order);
                    self.happen(
                        EventKind::Began { verb: job.order.verb().into() },
                        Some(job.event),
                        Vec::new(),
                    );
                }
                Turn::End(job) => self.finish_job(&job),
            }
        }
        self.world.lay_hands(self.hands.pressed());
        any
    }

    /// One stretch on the ward, in the circulation's long step: short while somebody works or a question is fresh.
    fn ward_step(&mut self) {
        const SHORT_S: u64 = 60;
        const LONG_S: u64 = 600;
        // What was ordered a moment ago is begun before time passes.
        self.turn_all_hands();
        let fresh = |since: Tick| self.now.0 - since.0 < 3600 * Tick::PER_SECOND;
        let calm = self.hands.idle() && !self.story.open().any(|(_, since)| fresh(since));
        let left_s = (self.world.ward_left_s / SHORT_S as f64).ceil() as u64 * SHORT_S;
        let step_s = if calm { LONG_S.min(left_s.max(SHORT_S)) } else { SHORT_S };
        let before = self.now.seconds();
        self.now = Tick((self.now.0 / Tick::PER_SECOND + step_s) * Tick::PER_SECOND);
        self.world.ward_step(self.now, self.now.seconds() - before);
        self.turn_all_hands();
        self.publish_world();
        self.second(step_s as u32);
    }

    /// On the ward a step is longer than most work: hands go on until nothing more is due.
    fn turn_all_hands(&mut self) {
        while self.turn_hands() {}
    }

    /// The work of each sampled second; `weight` seconds passed since the last.
    fn second(&mut self, weight: u32) {
        let row = sample::row(&self.case, self.now, &self.world, &self.story);
        self.story.judge(&row, weight);
        let every = if self.world.on_ward { 600 } else { 5 } * Tick::PER_SECOND;
        if self.now.0 >= self.logged.0 + every {
            self.logged = self.now;
            self.outbox.push(Line::Sample { at: self.now, values: row.logged() });
        }
        self.trace.push(row);
        self.move_story();
        self.try_endings();
    }

    /// An order is done: its effect, its events, and the chart's notice of it.
    fn finish_job(&mut self, job: &Job) {
        let verb = job.order.verb();
        match self.world.carry_out(&self.case, self.now, &job.order) {
            Ok(to) => {
                let done =
                    self.happen(EventKind::Done { verb: verb.into(), to }, Some(job.event), Vec::new());
                self.publish_world_from(done);
                self.story.raise(format!("done.{verb}"));
            }
            Err(why) => {
                self.happen(EventKind::Refused { verb: verb.into(), why }, Some(job.event), Vec::new());
            }
        }
    }

    /// Takes the world's own events.
    fn publish_world(&mut self) {
        for (kind, cause, read) in self.world.take_events() {
            if let EventKind::Lab { test, .. } = &kind {
                self.story.raise(format!("lab.{}", written(test)));
            }
            if let EventKind::Arrived { who } = &kind {
                self.story.raise(format!("here.{}", who.replace(' ', "_")));
            }
            self.happen(kind, cause, read);
        }
    }

    fn publish_world_from(&mut self, cause: u32) {
        for (kind, own, read) in self.world.take_events() {
            self.happen(kind, own.or(Some(cause)), read);
        }
    }

    /// Records that something happened; returns its number.
    fn happen(&mut self, kind: EventKind, cause: Option<u32>, read: Vec<(String, f64)>) -> u32 {
        let seq = self.events.len() as u32;
        let event = Event { seq, at: self.now, cause, kind, read };
        self.story.notice(&event);
        self.outbox.push(Line::Event(event.clone()));
        self.events.push(event);
        seq
    }

    fn try_endings(&mut self) {
        if self.ended.is_some() {
            return;
        }
        if let Some(i) = self.story.ending(&self.case) {
            self.ended = Some(i);
            let ending = self.case.case.endings[i].id.clone();
            self.happen(EventKind::Ended { ending }, None, Vec::new());
        }
    }

    /// Does a rule of the case hold at the last sample? A rule that the case does not have, or that does not parse, does not.
    pub fn holds(&self, rule: &str) -> bool {
        self.story.holds(rule)
    }

    /// What a play states and did not come out, in words.
    pub fn unmet(&self, play: &Play) -> Vec<String> {
        let mut out = Vec::new();
        if let Some(want) = &play.ending {
            let got = self.ended().map_or("none", |e| e.id.as_str());
            if got != want {
                out.push(format!("ending {want}; it was {got}"));
            }
        }
        for rule in &play.expect {
            if let Some(why) = self.story.unmet(&self.case, rule) {
                out.push(why);
            }
        }
        out
    }

    /// How an option would be judged if it were taken now.
    pub fn tier_now(&self, choice: &Choice) -> Tier {
        match &choice.unless {
            Some(unless) if self.holds(&unless.when) => unless.tier,
            _ => choice.tier,
        }
    }

    /// From here on quiet seconds in the theatre are leapt, hours on the ward pass in longer leaps, the pulse and a run's contrast in
    /// longer steps, and films are solved less often: for sweeps, where nobody keeps a log. Such a session is not the one
    /// that a desk plays, to the bit.
    pub fn set_coarse(&mut self) {
        self.world.set_coarse();
    }

    /// The option that was chosen for a question, if any.
    pub fn chosen(&self, ask: &str) -> Option<&Choice> {
        let option = self.story.chosen(ask)?;
        self.case.case.asks.iter().find(|a| a.id == ask)?.options.iter().find(|o| o.id == option)
    }
}

/// Runs a play to its end without keeping a log.
pub fn run_player(session: &mut Session, player: &mut player::Player) {
    let until = Tick::from_ms(player.play().until.ms);
    while session.ended.is_none() && session.now < until && !player.over(session) {
        for order in player.poll(session) {
            // A refusal is part of the story; the play's expectations judge it.
            let _ = session.order(Giver::Trainee, order);
        }
        session.advance(1);
    }
}
