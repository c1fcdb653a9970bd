//! A hand: a player who does what the model play does, with answers of the player's own mind.
//!
//! As long as every answer is the play's and no other question opens, the hand gives the play's orders at the play's moments, as
//! [`crate::session::player::Player`] does. Where the play's way is lost it does what a person would: it goes on with what was
//! chosen (a device, a mark), answers the questions that are open, and passes over what does not come.

use super::mind::Mind;
use crate::scenario::Order;
use crate::scenario::case::{Choice, Step};
use crate::session::Session;
use crate::session::event::{EventKind, Tick};
use crate::session::player::Player;
use std::sync::Arc;

/// A question that the play does not foresee is answered after so long: a person reads it first (assumed).
const READS: u64 = 20 * Tick::PER_SECOND;
/// A step whose condition does not come true is passed over after so long with idle hands (assumed).
const GIVES_UP: u64 = 20 * 60 * Tick::PER_SECOND;
/// So long with idle hands, without anything to answer and nothing on the way, and nothing will come any more (assumed).
const NOTHING_LEFT: u64 = 60 * 60 * Tick::PER_SECOND;
/// Whatever is on the way is waited for so long (assumed): longer than a list of the next morning takes to begin.
const WAITS: u64 = 6 * 3600 * Tick::PER_SECOND;

/// Whoever does nothing is watched for so long, and nobody gives up earlier (assumed): four hours, and a minute for what comes then.
const WATCHES: Tick = Tick((4 * 3600 + 60) * Tick::PER_SECOND);

/// See the module.
#[derive(Clone, Debug)]
pub struct Hand {
    mind: Mind,
    /// Shared: a hand is copied at every turn of a company.
    steps: Arc<[Step]>,
    until: Tick,
    next: usize,
    since: Tick,
    /// When the hands were last at work.
    worked: Tick,
    /// Open questions by place, with the moment that each opened.
    open: Vec<(usize, Tick)>,
    /// Events looked at so far.
    seen: usize,
    /// Devices and marks of the model's options, and what stands in their place.
    devices: Vec<(String, String)>,
    places: Vec<(f64, f64)>,
}

/// What a hand is about to do.
pub enum Turn {
    /// Nothing yet.
    Wait,
    /// To answer a question (by place); what the play answers, and the play's other orders beside it.
    Answer {
        /// Place of the question.
        ask: usize,
        /// Option of the play.
        written: Option<String>,
        /// The step's orders; the answer among them is the play's.
        orders: Vec<Order>,
    },
    /// To give orders.
    Give(Vec<Order>),
    /// Nothing will come any more.
    Done,
}

impl Hand {
    /// A hand that follows the model play of the session's case.
    ///
    /// # Errors
    /// When the case has no model play, or it follows itself.
    pub fn new(session: &Session, mind: Mind) -> Result<Self, String> {
        let play = Player::named(session.case(), "model")?.play().clone();
        Ok(Self {
            mind,
            until: Tick::from_ms(play.until.ms),
            steps: play.steps.into(),
            next: 0,
            since: Tick(0),
            worked: Tick(0),
            open: Vec::new(),
            seen: 0,
            devices: Vec::new(),
            places: Vec::new(),
        })
    }

    /// The same hand, led by another mind.
    pub fn led_by(&self, mind: Mind) -> Self {
        Self { mind, ..self.clone() }
    }

    /// What leads it.
    pub fn mind(&self) -> &Mind {
        &self.mind
    }

    /// What to do now; call at every tick, then [`Hand::give`] or [`Hand::answer`] what came.
    pub fn turn(&mut self, session: &Session) -> Turn {
        self.look(session);
        let now = session.now();
        let idle = session.hands_idle();
        if now >= self.until || (self.mind == Mind::DoNothing && now >= WATCHES) {
            return Turn::Done;
        }
        if self.mind == Mind::DoNothing {
            return Turn::Wait;
        }
        if !idle {
            self.worked = now;
        }
        while self.steps.get(self.next).is_some_and(|s| s.whenever) {
            self.next += 1;
        }
        if let Some(turn) = self.beside(session, idle) {
            return turn;
        }
        let waited = now.0 - self.since.0;
        let Some(step) = self.steps.get(self.next) else { return self.beyond(session, waited) };
        let patience = step.patience.map(|p| p.ms);
        let asked = step.asked.as_deref().map(|ask| session.ask_open(ask));
        let due = waited * Tick::MS >= step.after.ms && (step.at_once || idle) && asked != Some(false);
        let holds = due && step.when.as_ref().is_none_or(|rule| session.holds(rule));
        if holds {
            let step = step.clone();
            self.next += 1;
            return self.take(session, step);
        }
        if patience.is_some_and(|ms| waited * Tick::MS >= ms) {
            self.next += 1;
            self.since = now;
            return Turn::Wait;
        }
        // A step with patience is still within what was written; so is one whose question is there.
        let lost = patience.is_none() && asked != Some(true);
        if let Some(turn) = self.stray(session, lost, idle) {
            return turn;
        }
        if asked == Some(false) {
            return if self.nothing_comes(session) { Turn::Done } else { Turn::Wait };
        }
        if self.rested(now) >= GIVES_UP {
            self.next += 1;
            self.since = now;
        }
        Turn::Wait
    }

    /// How long there has been nothing to do, ticks.
    fn rested(&self, now: Tick) -> u64 {
        now.0 - self.worked.0.max(self.since.0)
    }

    /// Has nothing come for so long that nothing will?
    fn nothing_comes(&self, session: &Session) -> bool {
        let rested = self.rested(session.now());
        rested >= NOTHING_LEFT
            && session.now() >= WATCHES
            && Self::told(session)
            && session.next_due().is_none_or(|at| at.0.saturating_sub(session.now().0) + rested > WAITS)
    }

    /// The last second tells what came of the last order or event.
    fn told(session: &Session) -> bool {
        session.events().last().is_none_or(|e| session.now() >= e.at.after(Tick::PER_SECOND))
    }

    /// Takes note of questions that opened.
    fn look(&mut self, session: &Session) {
        let asks = &session.case().case.asks;
        for event in &session.events()[self.seen.min(session.events().len())..] {
            if let EventKind::Asked { ask } = &event.kind
                && let Some(place) = asks.iter().position(|a| a.id == *ask)
            {
                self.open.push((place, event.at));
            }
        }
        if self.seen != session.events().len() {
            self.seen = session.events().len();
            self.open.retain(|(place, _)| session.ask_open(&asks[*place].id));
        }
    }

    /// The play is at its end: what is still asked is answered, and the ward's hours pass as ordered.
    fn beyond(&mut self, session: &Session, waited: u64) -> Turn {
        let idle = session.hands_idle();
        if let Some(turn) = self.stray(session, true, idle) {
            return turn;
        }
        let told = waited >= Tick::PER_SECOND && Self::told(session);
        let over = idle && told && (self.open.is_empty() || self.nothing_comes(session));
        if over { Turn::Done } else { Turn::Wait }
    }

    /// A step that stands beside the sequence, for a question that is open now.
    fn beside(&self, session: &Session, idle: bool) -> Option<Turn> {
        let asks = &session.case().case.asks;
        let due = |&(place, since): &(usize, Tick)| {
            let id = asks[place].id.as_str();
            let step = self.steps.iter().find(|s| s.whenever && s.asked.as_deref() == Some(id))?;
            let waited = (session.now().0 - since.0) * Tick::MS;
            let ready = waited >= step.after.ms && (step.at_once || idle);
            (ready && step.when.as_ref().is_none_or(|rule| session.holds(rule))).then_some(step)
        };
        let step = self.open.iter().find_map(due)?;
        Some(self.take(session, step.clone()))
    }

    /// A question that the play's present step does not answer, open for as long as it takes to read. One that a later step
    /// answers waits for it, unless the play's way is lost.
    fn stray(&mut self, session: &Session, lost: bool, idle: bool) -> Option<Turn> {
        if self.open.is_empty() {
            return None;
        }
        let asks = &session.case().case.asks;
        let now = session.now();
        let step_of = |id: &str| self.steps.iter().position(|s| s.asked.as_deref() == Some(id));
        let (place, at) = self.open.iter().find_map(|&(place, since)| {
            let ask = &asks[place];
            let at = step_of(&ask.id);
            let free = lost || at.is_none_or(|at| at < self.next || self.steps[at].whenever);
            // One that closes by itself does not wait for hands.
            let can = idle || ask.closes.is_some();
            (free && can && now.0 >= since.0 + READS).then_some((place, at))
        })?;
        let Some(at) = at else {
            return Some(Turn::Answer { ask: place, written: None, orders: Vec::new() });
        };
        let step = self.steps[at].clone();
        if step.whenever {
            return Some(self.take(session, step));
        }
        // The play goes on from there; what lies between was for questions that did not come.
        self.next = self.next.max(at + 1);
        Some(self.take(session, step))
    }

    fn take(&self, session: &Session, step: Step) -> Turn {
        let asks = &session.case().case.asks;
        let answer = step.orders.iter().find_map(|o| match o {
            Order::Answer { ask, option, .. } => Some((ask.clone(), option.clone())),
            _ => None,
        });
        let place = answer.as_ref().and_then(|(ask, _)| asks.iter().position(|a| a.id == *ask));
        match (place, answer) {
            (Some(ask), Some((_, option))) => {
                Turn::Answer { ask, written: Some(option), orders: step.orders }
            }
            _ => Turn::Give(step.orders),
        }
    }

    /// The orders of a turn that answers with an option by place; nothing when the player keeps silent.
    pub fn answer(
        &mut self,
        session: &Session,
        place: usize,
        written: Option<&str>,
        orders: &[Order],
        option: Option<usize>,
    ) -> Vec<Order> {
        self.since = session.now();
        let ask = &session.case().case.asks[place];
        let Some(own) = option.and_then(|i| ask.options.get(i)) else {
            self.open.retain(|(p, _)| *p != place);
            return Vec::new();
        };
        if let Some(model) = written.and_then(|id| ask.options.iter().find(|o| o.id == id)) {
            self.learn(session, model, own);
        }
        let mine = Order::Answer {
            ask: ask.id.clone(),
            option: own.id.clone(),
            why: String::new(),
            sure_percent: None,
        };
        if orders.is_empty() {
            return vec![mine];
        }
        // Who answers as the play does says its reason and its confidence too.
        let other = |o: &Order| matches!(o, Order::Answer { ask: a, option, .. } if *a == ask.id && *option != own.id);
        orders.iter().map(|o| if other(o) { mine.clone() } else { self.own(o) }).collect()
    }

    /// The orders of a turn that gives some.
    pub fn give(&mut self, session: &Session, orders: &[Order]) -> Vec<Order> {
        self.since = session.now();
        orders.iter().map(|o| self.own(o)).collect()
    }

    /// Whoever chose another device or another mark goes on with that one.
    fn learn(&mut self, session: &Session, model: &Choice, own: &Choice) {
        if model.id == own.id {
            return;
        }
        let shelf = &session.case().shelf;
        let kind = |d: &str| shelf.get(d).map(|s| std::mem::discriminant(&s.device));
        let (theirs, mine) = (put_up(model), put_up(own));
        for (i, device) in theirs.iter().enumerate() {
            let nth = theirs[..i].iter().filter(|d| kind(d) == kind(device)).count();
            if let Some(other) = mine.iter().filter(|d| kind(d) == kind(device)).nth(nth)
                && other != device
            {
                self.devices.push(((*device).into(), (*other).into()));
            }
        }
        for (name, at) in marked(model) {
            if let Some((_, other)) = marked(own).find(|(n, to)| *n == name && (*to - at).abs() > 1e-9) {
                self.places.push((at, other));
            }
        }
    }

    /// An order of the play with the player's own devices and places.
    fn own(&self, order: &Order) -> Order {
        let mut order = order.renamed(&self.devices);
        if let Order::Move { to_mm, .. } = &mut order
            && let Some((_, to)) = self.places.iter().find(|(from, _)| (from - *to_mm).abs() < 1e-9)
        {
            *to_mm = *to;
        }
        order
    }
}

/// Devices that an option puts on a line.
fn put_up(choice: &Choice) -> Vec<&str> {
    choice
        .orders
        .iter()
        .filter_map(|o| match o {
            Order::Insert { device, .. } => Some(device.as_str()),
            Order::Exchange { put, .. } => Some(put.as_str()),
            _ => None,
        })
        .collect()
}

/// Marks that an option makes: name and place, mm.
fn marked(choice: &Choice) -> impl Iterator<Item = (crate::scenario::order::Mark, f64)> {
    choice.orders.iter().filter_map(|o| match o {
        Order::Mark { name, at_mm } => Some((*name, *at_mm)),
        _ => None,
    })
}
