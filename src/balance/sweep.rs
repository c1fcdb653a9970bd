//! Every player with every seed, on several threads, in an order that does not know of them.

use super::hand::Hand;
use super::mind::{Kind, Mind};
use super::outcome::Outcome;
use super::road::{Road, finish};
use super::table;
use crate::scenario::Loaded;
use crate::session::Session;
use crate::session::log::Mode;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

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

    /// How many rehearsals that makes with a case.
    pub fn size(&self, case: &Loaded) -> usize {
        self.kinds.iter().map(|k| Mind::of_kind(*k, &case.case).len() * self.seeds(*k).count()).sum()
    }
}

/// One rehearsal, from the call to its end.
///
/// # Errors
/// When the case has no model play to follow.
pub fn rehearse(
    case: &Arc<Loaded>,
    mind: &Mind,
    seed: u64,
    pace: Pace,
) -> Result<(Session, Outcome), String> {
    let mut session = at_the_call(case, seed, pace);
    let mut hand = Hand::new(&session, mind.clone())?;
    finish(&mut session, &mut hand);
    let outcome = Outcome::of(&session, mind.label(&case.case));
    Ok((session, outcome))
}

/// What one thread takes at a time.
enum Job {
    One(Mind, u64),
    /// The model and all its single changes with one seed: they share the model's road.
    Roads {
        seed: u64,
        model: bool,
        changed: bool,
    },
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
    let start = at_the_call(case, 1, plan.pace);
    let common = Road::common(start.clone(), Hand::new(&start, Mind::Model)?);
    let field = Field { case, pace: plan.pace, start, common, idle: OnceLock::new() };
    let jobs = jobs(plan);
    let next = AtomicUsize::new(0);
    let done = AtomicUsize::new(0);
    let found: Mutex<Vec<Outcome>> = Mutex::new(Vec::new());
    let work = || {
        while let Some(job) = jobs.get(next.fetch_add(1, Ordering::Relaxed)) {
            let some = field.play(job);
            progress(done.fetch_add(some.len(), Ordering::Relaxed) + some.len());
            found.lock().unwrap_or_else(PoisonError::into_inner).extend(some);
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..plan.threads.max(1) {
            scope.spawn(work);
        }
        work();
    });
    let mut found = found.into_inner().unwrap_or_else(PoisonError::into_inner);
    found.sort_by_cached_key(table::place);
    Ok(found)
}

fn at_the_call(case: &Arc<Loaded>, seed: u64, pace: Pace) -> Session {
    let mut session = Session::new(Arc::clone(case), seed, Mode::Free);
    if pace == Pace::Coarse {
        session.set_coarse();
    }
    session
}

/// The longest first.
fn jobs(plan: &Plan) -> Vec<Job> {
    let mut jobs = Vec::new();
    let has = |kind| plan.kinds.contains(&kind);
    let (model, changed) = (plan.seeds(Kind::Model), plan.seeds(Kind::OneChanged));
    let model: Vec<u64> = if has(Kind::Model) { model.collect() } else { Vec::new() };
    let changed: Vec<u64> = if has(Kind::OneChanged) { changed.collect() } else { Vec::new() };
    let mut seeds: Vec<u64> = changed.iter().chain(&model).copied().collect();
    seeds.sort_unstable();
    seeds.dedup();
    let roads = seeds.into_iter().map(|seed| Job::Roads {
        seed,
        model: model.contains(&seed),
        changed: changed.contains(&seed),
    });
    jobs.extend(roads);
    for (kind, mind) in [
        (Kind::Novice, Mind::Novice),
        (Kind::Random, Mind::Random),
        (Kind::AlwaysMiddle, Mind::AlwaysMiddle),
        (Kind::DoNothing, Mind::DoNothing),
    ] {
        if has(kind) {
            jobs.extend(plan.seeds(kind).map(|seed| Job::One(mind.clone(), seed)));
        }
    }
    jobs
}

/// What all rehearsals of a sweep share.
struct Field<'c> {
    case: &'c Arc<Loaded>,
    pace: Pace,
    /// At the call.
    start: Session,
    /// The model's road as far as all seeds share it.
    common: Road,
    /// What becomes of whoever does nothing, where no die has a say.
    idle: OnceLock<Option<Outcome>>,
}

impl Field<'_> {
    fn play(&self, job: &Job) -> Vec<Outcome> {
        match job {
            Job::One(Mind::DoNothing, seed) => {
                let idle = self.idle.get_or_init(|| {
                    let (session, outcome) = self.one(&Mind::DoNothing, 1, None)?;
                    session.with_seed(1).map(|_| outcome)
                });
                let same = idle.clone().map(|o| Outcome { seed: *seed, ..o });
                same.or_else(|| self.one(&Mind::DoNothing, *seed, None).map(|o| o.1)).into_iter().collect()
            }
            Job::One(mind, seed) => self.one(mind, *seed, None).into_iter().map(|o| o.1).collect(),
            Job::Roads { seed, model, changed } => self.roads(*seed, *model, *changed),
        }
    }

    /// From the call.
    fn fresh(&self, mind: &Mind, seed: u64) -> Option<(Session, Hand)> {
        // Where grafts lie in the patient already, chance had its say before the call.
        let session = self.start.with_seed(seed).unwrap_or_else(|| at_the_call(self.case, seed, self.pace));
        let hand = Hand::new(&session, mind.clone()).ok()?;
        Some((session, hand))
    }

    /// From the last moment that it shares with the road of its seed or of all seeds.
    fn one(&self, mind: &Mind, seed: u64, road: Option<&Road>) -> Option<(Session, Outcome)> {
        let own = road.filter(|_| self.common.kept_by(mind, seed)).and_then(|r| r.leave(mind, seed));
        let shared = || if *mind == Mind::DoNothing { None } else { self.common.leave(mind, seed) };
        let (mut session, mut hand) = own.or_else(shared).or_else(|| self.fresh(mind, seed))?;
        finish(&mut session, &mut hand);
        let outcome = Outcome::of(&session, mind.label(&self.case.case));
        Some((session, outcome))
    }

    /// The model with a seed, and every single change of it.
    fn roads(&self, seed: u64, model: bool, changed: bool) -> Vec<Outcome> {
        let mut out = Vec::new();
        if !changed {
            out.extend(self.one(&Mind::Model, seed, None).map(|o| o.1));
            return out;
        }
        let shared = self.common.leave(&Mind::Model, seed);
        let Some((session, hand)) = shared.or_else(|| self.fresh(&Mind::Model, seed)) else { return out };
        let road = Road::walk(session, hand);
        let Some(end) = &road.end else { return out };
        let own = Outcome::of(end, Mind::Model.label(&self.case.case));
        for mind in Mind::of_kind(Kind::OneChanged, &self.case.case) {
            let player = mind.label(&self.case.case);
            if self.common.kept_by(&mind, seed) && road.kept_by(&mind, seed) {
                // The question never came, or this is what the model answers.
                out.push(Outcome { player, ..own.clone() });
            } else {
                out.extend(self.one(&mind, seed, Some(&road)).map(|o| o.1));
            }
        }
        if model {
            out.push(own);
        }
        out
    }
}
