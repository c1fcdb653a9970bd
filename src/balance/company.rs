//! A company: players who have the same past walk it once, and part where one decides otherwise or their dice fall otherwise.
//!
//! Nothing is approximated: a session is a function of its orders and its dice, and both are the same as long as they go together.

use super::hand::{Hand, Turn};
use super::mind::Mind;
use super::outcome::Outcome;
use super::sweep::{Pace, at_the_call};
use crate::scenario::{Loaded, Order};
use crate::session::Session;
use crate::session::event::Giver;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Who plays: a mind with a seed.
pub type Player = (Mind, u64);

/// A moment before the hand's next turn.
#[derive(Clone)]
struct Moment {
    session: Session,
    hand: Hand,
}

impl Moment {
    /// The call, with the dice and the mind of a player.
    fn call(case: &Arc<Loaded>, (mind, seed): &Player, pace: Pace) -> Result<Self, String> {
        let session = at_the_call(case, *seed, pace);
        let hand = Hand::new(&session, mind.clone())?;
        Ok(Self { session, hand })
    }

    /// The same moment with the dice and the mind of another, whose dice fell alike so far.
    fn of(&self, (mind, seed): &Player) -> Option<Self> {
        Some(Self { session: self.session.with_seed(*seed)?, hand: self.hand.led_by(mind.clone()) })
    }
}

/// See the module. The dice are the first player's.
pub struct Company {
    first: Player,
    others: Vec<Player>,
    /// The last moment that they share with others; none before the call.
    from: Option<Arc<Moment>>,
}

impl Company {
    /// All players, before the call: those who do nothing by themselves, for no question waits for them.
    pub fn gather(players: Vec<Player>) -> Vec<Self> {
        let (idle, busy): (Vec<_>, Vec<_>) =
            players.into_iter().partition(|(mind, _)| *mind == Mind::DoNothing);
        [busy, idle].into_iter().filter_map(|players| Self::of(players, None)).collect()
    }

    /// One player, before the call.
    pub fn alone(player: Player) -> Self {
        Self { first: player, others: Vec::new(), from: None }
    }

    fn of(players: Vec<Player>, from: Option<Arc<Moment>>) -> Option<Self> {
        let mut players = players.into_iter();
        Some(Self { first: players.next()?, others: players.collect(), from })
    }

    /// Walks to the end. Whoever leaves on the way is handed to `leave`.
    ///
    /// # Errors
    /// When the case has no model play to follow.
    pub fn walk(
        mut self,
        case: &Arc<Loaded>,
        pace: Pace,
        mut leave: impl FnMut(Self),
    ) -> Result<Arrived, String> {
        let (mut now, mut known) = match self.from.as_deref().and_then(|m| m.of(&self.first)) {
            Some(moment) => {
                let known = moment.session.thrown();
                (moment, known)
            }
            None => (Moment::call(case, &self.first, pace)?, Default::default()),
        };
        loop {
            // Whoever's dice fell otherwise goes back to the last moment that was shared.
            if now.session.thrown() != known {
                self.part(|(_, seed)| now.session.parting(*seed, known)).into_iter().for_each(&mut leave);
                known = now.session.thrown();
            }
            if now.session.ended().is_some() {
                break;
            }
            let before = (!self.others.is_empty()).then(|| now.hand.clone());
            let turn = now.hand.turn(&now.session);
            if let (Some(hand), Turn::Give(_) | Turn::Answer { .. }) = (before, &turn) {
                self.from = Some(Arc::new(Moment { session: now.session.clone(), hand }));
            }
            let orders = match turn {
                Turn::Wait => Vec::new(),
                Turn::Done => break,
                Turn::Give(orders) => now.hand.give(&now.session, &orders),
                Turn::Answer { ask, written, orders } => {
                    let choose =
                        |(mind, seed): &Player| mind.choose(&now.session, *seed, ask, written.as_deref());
                    let taken = choose(&self.first);
                    let other = |p: &Player| Some(choose(p)).filter(|option| *option != taken);
                    self.part(other).into_iter().for_each(&mut leave);
                    now.hand.answer(&now.session, ask, written.as_deref(), &orders, taken)
                }
            };
            give(&mut now.session, orders);
        }
        self.others.insert(0, self.first);
        Ok(Arrived { players: self.others, session: now.session })
    }

    /// Takes out those for whom there is a way of their own, together by that way, from the last moment that was shared.
    fn part<K: Ord>(&mut self, way: impl Fn(&Player) -> Option<K>) -> Vec<Self> {
        let mut parted: BTreeMap<K, Vec<Player>> = BTreeMap::new();
        self.others.retain(|player| match way(player) {
            None => true,
            Some(way) => {
                parted.entry(way).or_default().push(player.clone());
                false
            }
        });
        parted.into_values().filter_map(|players| Self::of(players, self.from.clone())).collect()
    }
}

/// A company at its end.
pub struct Arrived {
    players: Vec<Player>,
    /// As the first of them played it.
    pub session: Session,
}

impl Arrived {
    /// What came of each.
    pub fn outcomes(&self) -> Vec<Outcome> {
        let case = &self.session.case().case;
        let end = Outcome::of(&self.session, String::new());
        let each = |(mind, seed): &Player| Outcome { player: mind.label(case), seed: *seed, ..end.clone() };
        self.players.iter().map(each).collect()
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
