//! Every player with every seed, on several threads, in an order that does not know of them.

use super::company::{Company, Player};
use super::mind::{Kind, Mind};
use super::outcome::Outcome;
use super::table;
use crate::scenario::Loaded;
use crate::session::Session;
use crate::session::log::Mode;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

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

/// Companies that wait for a thread, and how many are on their way: those may leave others behind.
struct Queue {
    waiting: Mutex<(Vec<Company>, usize)>,
    news: Condvar,
}

/// A company on its way, for as long as this lives: also where its walk panics, so that no thread waits for it.
struct Walking<'q>(&'q Queue);

impl Queue {
    fn held(&self) -> MutexGuard<'_, (Vec<Company>, usize)> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn add(&self, company: Company) {
        self.held().0.push(company);
        self.news.notify_one();
    }

    /// The last that parted goes first: then few shared moments are kept at a time. None when no more will come.
    fn next(&self) -> Option<(Company, Walking<'_>)> {
        let idle = |(companies, walking): &mut (Vec<Company>, usize)| companies.is_empty() && *walking > 0;
        let mut now = self.news.wait_while(self.held(), idle).unwrap_or_else(PoisonError::into_inner);
        let company = now.0.pop()?;
        now.1 += 1;
        Some((company, Walking(self)))
    }
}

impl Drop for Walking<'_> {
    fn drop(&mut self) {
        self.0.held().1 -= 1;
        self.0.news.notify_all();
    }
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
    let queue = Queue { waiting: Mutex::new((companies, 0)), news: Condvar::new() };
    let found = Mutex::new(Ok(Vec::new()));
    let work = || {
        while let Some((company, _walking)) = queue.next() {
            let walked = company.walk(case, plan.pace, |left| queue.add(left)).map(|end| end.outcomes());
            let mut found = found.lock().unwrap_or_else(PoisonError::into_inner);
            match (walked, &mut *found) {
                (Ok(end), Ok(all)) => {
                    all.extend(end);
                    progress(all.len());
                }
                (Err(why), found) => *found = Err(why),
                (Ok(_), Err(_)) => {}
            }
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..plan.threads.max(1) {
            scope.spawn(work);
        }
        work();
    });
    let mut found: Vec<Outcome> = found.into_inner().unwrap_or_else(PoisonError::into_inner)?;
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
