//! A player of a written play: looks at the session, and gives the next step's orders when their time has come.

use super::Session;
use super::event::{Event, Tick};
use crate::scenario::case::{Play, Step};
use crate::scenario::compile::plays::resolved;
use crate::scenario::{Loaded, Order};

/// Where a play stands.
#[derive(Clone, Debug)]
pub struct Player {
    play: Play,
    /// Index of the play in the case, to find its compiled rules; none for a play from elsewhere.
    next: usize,
    since: Tick,
    skipped: Vec<String>,
    /// Steps beside the sequence that are not taken yet, by index, with the moment at which the question of each opened.
    beside: Vec<(usize, Option<Tick>)>,
}

impl Player {
    /// Plays a case's own play by name, with what it borrows from another filled in.
    ///
    /// # Errors
    /// When there is none of that name; names the ones that there are.
    pub fn named(case: &Loaded, name: &str) -> Result<Self, String> {
        let plays = &case.case.plays;
        if !plays.iter().any(|p| p.name == name) {
            let names: Vec<&str> = plays.iter().map(|p| p.name.as_str()).collect();
            return Err(format!("the case has no play \"{name}\"; it has: {}", names.join(", ")));
        }
        Ok(Self::of(resolved(plays, name)?))
    }

    /// Plays a play from elsewhere, such as a play file; it may borrow from the case's plays.
    ///
    /// # Errors
    /// When the play that it borrows from does not exist.
    pub fn from_play(case: &Loaded, play: Play) -> Result<Self, String> {
        let name = play.name.clone();
        let mut plays: Vec<Play> = case.case.plays.iter().filter(|p| p.name != name).cloned().collect();
        plays.push(play);
        Ok(Self::of(resolved(&plays, &name)?))
    }

    fn of(play: Play) -> Self {
        let beside = (0..play.steps.len()).filter(|i| play.steps[*i].whenever).map(|i| (i, None)).collect();
        Self { play, next: 0, since: Tick(0), skipped: Vec::new(), beside }
    }

    /// The play, in full.
    pub fn play(&self) -> &Play {
        &self.play
    }

    /// Labels of steps that were passed over because their patience ran out.
    pub fn skipped(&self) -> &[String] {
        &self.skipped
    }

    /// Starts the clock of the next step at `now`: a fork enters in the middle of a session.
    pub fn enter_at(&mut self, now: Tick) {
        self.since = now;
    }

    /// The orders whose time has come; call at every tick.
    pub fn poll(&mut self, session: &Session) -> Vec<Order> {
        let now = session.now();
        if let Some(orders) = self.beside(session) {
            return orders;
        }
        while self.play.steps.get(self.next).is_some_and(|s| s.whenever) {
            self.next += 1;
        }
        let Some(step) = self.play.steps.get(self.next) else { return Vec::new() };
        let waited = (now.0 - self.since.0) * Tick::MS;
        if !ready(step, waited, session) {
            if step.patience.is_some_and(|p| waited >= p.ms) {
                self.skipped.push(step.label.clone());
                self.next += 1;
                self.since = now;
            }
            return Vec::new();
        }
        let orders = step.orders.clone();
        self.next += 1;
        self.since = now;
        orders
    }

    /// The orders of a step beside the sequence whose question is open. The sequence goes on from where it stands, and its next
    /// step waits from now.
    fn beside(&mut self, session: &Session) -> Option<Vec<Order>> {
        let now = session.now();
        let steps = &self.play.steps;
        for (i, opened) in &mut self.beside {
            if steps[*i].asked.as_ref().is_some_and(|ask| session.ask_open(ask)) {
                opened.get_or_insert(now);
            }
        }
        let due = |&(i, opened): &(usize, Option<Tick>)| {
            opened.is_some_and(|at| ready(&steps[i], (now.0 - at.0) * Tick::MS, session))
        };
        let place = self.beside.iter().position(due)?;
        let (i, _) = self.beside.remove(place);
        self.since = now;
        Some(self.play.steps[i].orders.clone())
    }

    /// Is nothing left to do, and has the last second told what came of it? Rules and endings are judged at whole seconds.
    pub fn over(&self, session: &Session) -> bool {
        let quiet = |e: &Event| session.now() >= e.at.after(Tick::PER_SECOND);
        self.finished() && session.hands_idle() && session.events().last().is_none_or(quiet)
    }

    /// Has every step been played or passed over?
    pub fn finished(&self) -> bool {
        self.play.steps.iter().skip(self.next).all(|s| s.whenever)
    }
}

fn ready(step: &Step, waited_ms: u64, session: &Session) -> bool {
    waited_ms >= step.after.ms
        && step.asked.as_ref().is_none_or(|ask| session.ask_open(ask))
        && (step.at_once || session.hands_idle())
        && step.when.as_ref().is_none_or(|rule| session.holds(rule))
}
