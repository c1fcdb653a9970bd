//! The road: a rehearsal with the session kept before each answer, so that others who decide alike up to there need not walk it
//! again. Nothing is approximated: a session is a function of its orders and its dice, and both are the same.

use super::hand::{Hand, Turn};
use super::mind::Mind;
use crate::scenario::Order;
use crate::session::Session;
use crate::session::event::Giver;

/// A moment just before an answer.
struct Stop {
    session: Session,
    hand: Hand,
    ask: usize,
    written: Option<String>,
    orders: Vec<Order>,
    taken: Option<usize>,
}

/// See the module.
pub struct Road {
    stops: Vec<Stop>,
    /// The session as it ended; none on a road that breaks off where the first die is cast.
    pub end: Option<Session>,
}

impl Road {
    /// Walks from a session's start to its end, keeping every stop.
    pub fn walk(mut session: Session, mut hand: Hand) -> Self {
        let mut stops = Vec::new();
        go(&mut session, &mut hand, |stop| {
            stops.push(stop);
            true
        });
        Self { stops, end: Some(session) }
    }

    /// Walks as far as every seed has the same past: the stops before the first die.
    pub fn common(mut session: Session, mut hand: Hand) -> Self {
        let mut stops: Vec<Stop> = Vec::new();
        go(&mut session, &mut hand, |stop| {
            let open = stop.session.with_seed(stop.session.seed()).is_some();
            if open {
                stops.push(stop);
            }
            open
        });
        Self { stops, end: None }
    }

    /// The way of a player with a seed, from the last stop that it shares with this road. None when there is no such stop.
    pub fn leave(&self, mind: &Mind, seed: u64) -> Option<(Session, Hand)> {
        let other = |s: &Stop| mind.choose(&s.session, seed, s.ask, s.written.as_deref());
        let i = self.stops.iter().position(|s| other(s) != s.taken).or(self.stops.len().checked_sub(1))?;
        let stop = &self.stops[i];
        let mut session =
            if stop.session.seed() == seed { stop.session.clone() } else { stop.session.with_seed(seed)? };
        let mut hand = stop.hand.led_by(mind.clone());
        let option = other(stop);
        let orders = hand.answer(&session, stop.ask, stop.written.as_deref(), &stop.orders, option);
        give(&mut session, orders);
        Some((session, hand))
    }

    /// Does this player decide as the road did at every stop?
    pub fn kept_by(&self, mind: &Mind, seed: u64) -> bool {
        self.stops.iter().all(|s| mind.choose(&s.session, seed, s.ask, s.written.as_deref()) == s.taken)
    }
}

/// Rehearses to the end.
pub fn finish(session: &mut Session, hand: &mut Hand) {
    go_on(session, hand, None);
}

/// Plays on until the case ends, nothing is left to do, or `at` says no to a stop; it is asked with a copy of each moment.
fn go(session: &mut Session, hand: &mut Hand, mut at: impl FnMut(Stop) -> bool) {
    go_on(session, hand, Some(&mut at));
}

fn go_on(session: &mut Session, hand: &mut Hand, mut at: Option<&mut dyn FnMut(Stop) -> bool>) {
    while session.ended().is_none() {
        let orders = match hand.turn(session) {
            Turn::Wait => Vec::new(),
            Turn::Done => break,
            Turn::Give(orders) => hand.give(session, &orders),
            Turn::Answer { ask, written, orders } => {
                let taken = hand.mind().choose(session, session.seed(), ask, written.as_deref());
                let stop = || Stop {
                    session: session.clone(),
                    hand: hand.clone(),
                    ask,
                    written: written.clone(),
                    orders: orders.clone(),
                    taken,
                };
                if at.as_mut().is_some_and(|at| !at(stop())) {
                    break;
                }
                hand.answer(session, ask, written.as_deref(), &orders, taken)
            }
        };
        give(session, orders);
    }
}

/// Gives orders and lets a tick pass.
fn give(session: &mut Session, orders: Vec<Order>) {
    for order in orders {
        // A refusal is part of the story; it is counted in the outcome.
        let _ = session.order(Giver::Trainee, order);
    }
    session.advance(1);
    // Nobody keeps a log here.
    session.take_lines();
}
