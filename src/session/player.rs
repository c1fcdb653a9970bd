//! A player of a written play: looks at the session, and gives the next step's orders when their time has come.

use super::Session;
use super::event::Tick;
use crate::scenario::case::{Play, Step};
use crate::scenario::{Loaded, Order};

/// Where a play stands.
#[derive(Clone, Debug)]
pub struct Player {
    play: Play,
    /// Index of the play in the case, to find its compiled rules; none for a play from elsewhere.
    next: usize,
    since: Tick,
    skipped: Vec<String>,
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
        Ok(Self::of(resolve(plays, name)?))
    }

    /// Plays a play from elsewhere, such as a play file; it may borrow from the case's plays.
    ///
    /// # Errors
    /// When the play that it borrows from does not exist.
    pub fn from_play(case: &Loaded, play: Play) -> Result<Self, String> {
        let name = play.name.clone();
        let mut plays: Vec<Play> = case.case.plays.iter().filter(|p| p.name != name).cloned().collect();
        plays.push(play);
        Ok(Self::of(resolve(&plays, &name)?))
    }

    fn of(play: Play) -> Self {
        Self { play, next: 0, since: Tick(0), skipped: Vec::new() }
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

    /// Has every step been played or passed over?
    pub fn finished(&self) -> bool {
        self.next >= self.play.steps.len()
    }
}

fn ready(step: &Step, waited_ms: u64, session: &Session) -> bool {
    waited_ms >= step.after.ms
        && step.asked.as_ref().is_none_or(|ask| session.ask_open(ask))
        && (step.at_once || session.hands_idle())
        && step.when.as_ref().is_none_or(|rule| session.holds(rule))
}

/// A play with what it borrows: the steps of the other, those with the same label replaced, new ones put behind the step
/// that they follow in its own list.
fn resolve(plays: &[Play], name: &str) -> Result<Play, String> {
    let mut chain = Vec::new();
    let mut at = Some(name.to_string());
    while let Some(n) = at {
        if chain.len() > plays.len() {
            return Err(format!("the play \"{name}\" borrows from itself in a circle"));
        }
        let play =
            plays.iter().find(|p| p.name == n).ok_or(format!("there is no play \"{n}\" to borrow from"))?;
        chain.push(play);
        at = play.like.clone();
    }
    let Some(base) = chain.pop() else { return Err(format!("there is no play \"{name}\"")) };
    let mut play = base.clone();
    while let Some(over) = chain.pop() {
        let mut last = None;
        for step in &over.steps {
            let same = play.steps.iter().position(|s| !s.label.is_empty() && s.label == step.label);
            let place = match (same, last) {
                (Some(i), _) => {
                    play.steps[i] = step.clone();
                    i
                }
                (None, Some(i)) => {
                    play.steps.insert(i + 1, step.clone());
                    i + 1
                }
                (None, None) => {
                    play.steps.push(step.clone());
                    play.steps.len() - 1
                }
            };
            last = Some(place);
        }
        play.name.clone_from(&over.name);
        play.about.clone_from(&over.about);
        play.expect.clone_from(&over.expect);
        play.ending.clone_from(&over.ending);
        play.until = over.until;
    }
    play.like = None;
    Ok(play)
}
