//! Every player with every seed, on several threads, in an order that does not know of them.

use super::company::{Company, Player};
use super::mind::{Kind, Mind};
use super::outcome::Outcome;
use super::table;
use crate::scenario::Loaded;
use crate::session::Session;
use crate::session::log::Mode;
use std::sync::{Arc, Condvar, Mutex, PoisonError};

/// How hours on the ward pass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// As at the desk, bit for bit.
    Fine,
    /// In longer leaps and steps: some times as fast. Endings hold where they do not hang by a hair; figures move a little, lost blood
    /// by some per cent and by up to a third where a clot is near its limit.
    Coarse,
}

/// Who plays, and how often.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Kinds of player.
    pub kinds: Vec<Kind>,
    /// Seeds 1 to this for each player.
    pub runs: u64,
    /// Seeds 1 to this for each single change of the model play.
    pub changed_runs: u64,
    /// How hours on the ward pass.
    pub pace: Pace,
    /// Threads.
    pub threads: usize,
    /// Only every n-th seed, beginning with the k-th: k of n, from 1.
    pub shard: (u64, u64),
}

impl Plan {
    fn seeds(&self, kind: Kind) -> impl Iterator<Item = u64> + use<> {
        let (k, n) = self.shard;
        let last = if kind == Kind::OneChanged { self.changed_runs } else { self.runs };
        (1..=last).filter(move |seed| (seed - 1) % n.max(1) == k.max(1) - 1)
    }

    fn players(&self, case: &Loaded) -> Vec<Player> {
        let minds = |kind| Mind::of_kind(kind, &case.case).into_iter().map(move |mind| (kind, mind));
        let each = self.kinds.iter().flat_map(|kind| minds(*kind));
        each.flat_map(|(kind, mind)| self.seeds(kind).map(move |seed| (mind.clone(), seed))).collect()
    }

    /// How many rehearsals that makes with a case.
    pub fn size(&self, case: &Loaded) -> usize {
        self.players(case).len()
    }
}

/// One rehearsal by itself, from the call to its end.
///
/// # Errors
/// When the case has no model play to follow.
pub fn rehearse(
    case: &Arc<Loaded>,
    mind: &Mind,
    seed: u64,
    pace: Pace,
) -> Result<(Session, Outcome), String> {
    let end = Company::alone((mind.clone(), seed)).walk(case, pace, |_| {})?.session;
    let outcome = Outcome::of(&end, mind.label(&case.case));
    Ok((end, outcome))
}

/// Companies that wait for a thread, and how many are on their way.
struct Waiting {
    companies: Vec<Company>,
    walking: usize,
    found: Result<Vec<Outcome>, String>,
}

/// Rehearses the whole plan. `progress` is told how many are done, from any thread.
///
/// # Errors
/// When the case has no model play to follow.
pub fn sweep(
    case: &Arc<Loaded>,
    plan: &Plan,
    progress: &(dyn Fn(usize) + Sync),
) -> Result<Vec<Outcome>, String> {
    let companies = Company::gather(plan.players(case));
    let waiting = Mutex::new(Waiting { companies, walking: 0, found: Ok(Vec::new()) });
    let news = Condvar::new();
    let held = || waiting.lock().unwrap_or_else(PoisonError::into_inner);
    let work = || {
        let mut now = held();
        loop {
            // The last that parted goes first: then few shared moments are kept at a time.
            if let Some(company) = now.companies.pop() {
                now.walking += 1;
                drop(now);
                let leave = |company| {
                    held().companies.push(company);
                    news.notify_one();
                };
                let walked = company.walk(case, plan.pace, leave).map(|end| end.outcomes());
                now = held();
                now.walking -= 1;
                match (walked, &mut now.found) {
                    (Ok(end), Ok(all)) => {
                        all.extend(end);
                        progress(all.len());
                    }
                    (Err(why), found) => *found = Err(why),
                    (Ok(_), Err(_)) => {}
                }
                news.notify_all();
            } else if now.walking > 0 {
                now = news.wait(now).unwrap_or_else(PoisonError::into_inner);
            } else {
                break;
            }
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..plan.threads.max(1) {
            scope.spawn(work);
        }
        work();
    });
    let mut found = waiting.into_inner().unwrap_or_else(PoisonError::into_inner).found?;
    found.sort_by_cached_key(table::place);
    Ok(found)
}

/// A session at the call.
pub(super) fn at_the_call(case: &Arc<Loaded>, seed: u64, pace: Pace) -> Session {
    let mut session = Session::new(Arc::clone(case), seed, Mode::Free);
    if pace == Pace::Coarse {
        session.set_coarse();
    }
    session
}
