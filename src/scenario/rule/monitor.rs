//! A rule judged moment by moment, as a session goes on.

use std::collections::VecDeque;

use super::kernel::{Greatest, Since, Span};
use super::program::{Op, Program, Verdict};
use super::vocabulary::Signals;

/// A rule that looks back only, with what it remembers. Its verdicts equal those of the whole recording.
#[derive(Clone, Debug)]
pub struct Monitor {
    program: Program,
    memories: Vec<Memory>,
    counters: Vec<Counter>,
    verdicts: Vec<Verdict>,
    counts: Vec<f64>,
}

impl Monitor {
    /// For samples `dt_s` seconds apart. The program must not look ahead. Without `margins` what looks back tells truth only.
    pub(super) fn new(program: Program, dt_s: f64, margins: bool) -> Self {
        let memories = program.nodes.iter().map(|node| Memory::of(&node.op, dt_s, margins)).collect();
        let counters = Counter::all(&program, dt_s);
        Self { program, memories, counters, verdicts: Vec::new(), counts: Vec::new() }
    }

    /// Takes the next moment; the verdict on the rule there.
    pub fn push(&mut self, signals: &impl Signals) -> Verdict {
        let Self { program, memories, counters, verdicts, counts } = self;
        Counter::push_all(counters, program, signals, counts);
        verdicts.clear();
        for (node, memory) in program.nodes.iter().zip(memories) {
            let leaf = || node.op.leaf(signals, counts).unwrap_or(Verdict::crisp(false));
            let verdict = combined(&node.op, memory, verdicts).unwrap_or_else(leaf);
            verdicts.push(verdict);
        }
        verdicts.last().copied().unwrap_or(Verdict::crisp(true))
    }

    /// Takes the same moment `n` times over; as `n` times [`push`](Self::push), but what it reads is read once.
    pub fn push_same(&mut self, signals: &impl Signals, n: u32) {
        let remembers = |memory: &Memory| !matches!(memory, Memory::Nothing);
        if n == 0 || (self.counters.is_empty() && !self.memories.iter().any(remembers)) {
            return;
        }
        self.push(signals);
        if !self.counters.is_empty() {
            (1..n).for_each(|_| {
                self.push(signals);
            });
            return;
        }
        let Self { program, memories, verdicts, .. } = self;
        let mut left = u64::from(n) - 1;
        while left > 0 {
            // While no answer changes, nothing that is made of answers does.
            let alike = memories.iter().map(Memory::lasts).fold(left, u64::min);
            if alike > 0 {
                memories.iter_mut().for_each(|memory| memory.skip(alike));
                left -= alike;
                continue;
            }
            left -= 1;
            for (i, (node, memory)) in program.nodes.iter().zip(memories.iter_mut()).enumerate() {
                // What is not made of others is as it was.
                if let Some(verdict) = combined(&node.op, memory, verdicts) {
                    verdicts[i] = verdict;
                }
            }
        }
    }

    /// The verdict that [`push`](Self::push) would give, without taking the moment.
    pub fn peek(&self, signals: &impl Signals) -> Verdict {
        self.clone().push(signals)
    }
}

/// The verdict of a condition that is made of others; none of one that reads the moment itself.
fn combined(op: &Op, memory: &mut Memory, verdicts: &[Verdict]) -> Option<Verdict> {
    Some(match op {
        Op::Not(p) => verdicts[*p].opposite(),
        Op::And(parts) => parts.iter().fold(Verdict::crisp(true), |all, &p| all.and(verdicts[p])),
        Op::Or(parts) => parts.iter().fold(Verdict::crisp(false), |any, &p| any.or(verdicts[p])),
        Op::Once(_, p) => memory.once(verdicts[*p]),
        Op::Historically(_, p) => memory.once(verdicts[*p].opposite()).opposite(),
        Op::Since(_, p, q) => memory.since(verdicts[*p], verdicts[*q]),
        _ => return None,
    })
}

/// What one condition remembers: of the truth and, where they are asked for, of the margins.
#[derive(Clone, Debug)]
pub(super) enum Memory {
    Nothing,
    Once(Greatest<bool>, Option<Greatest<f64>>),
    Since(Since<bool>, Option<Since<f64>>),
}

impl Memory {
    /// The memory for a temporal condition; one that looks ahead has that of its mirror image.
    pub fn of(op: &Op, dt_s: f64, margins: bool) -> Self {
        match op {
            Op::Once(window, _)
            | Op::Historically(window, _)
            | Op::Eventually(window, _)
            | Op::Always(window, _) => {
                let window = window.samples(dt_s);
                Self::Once(Greatest::new(window), margins.then(|| Greatest::new(window)))
            }
            Op::Since(window, ..) | Op::Until(window, ..) => {
                let window = window.samples(dt_s);
                Self::Since(Since::new(window), margins.then(|| Since::new(window)))
            }
            _ => Self::Nothing,
        }
    }

    pub fn once(&mut self, p: Verdict) -> Verdict {
        match self {
            Self::Once(truth, margin) => {
                let crisp = Verdict::crisp(truth.push(p.truth));
                margin.as_mut().map_or(crisp, |m| Verdict { margin: m.push(p.margin), ..crisp })
            }
            _ => p,
        }
    }

    /// How many more moments like the last leave the answer as it is.
    fn lasts(&self) -> u64 {
        match self {
            Self::Nothing => u64::MAX,
            Self::Once(truth, margin) => truth.lasts().min(margin.as_ref().map_or(u64::MAX, Greatest::lasts)),
            Self::Since(truth, margin) => truth.lasts().min(margin.as_ref().map_or(u64::MAX, Since::lasts)),
        }
    }

    /// Takes so many moments like the last at once.
    fn skip(&mut self, n: u64) {
        match self {
            Self::Nothing => {}
            Self::Once(truth, margin) => {
                truth.skip(n);
                margin.iter_mut().for_each(|m| m.skip(n));
            }
            Self::Since(truth, margin) => {
                truth.skip(n);
                margin.iter_mut().for_each(|m| m.skip(n));
            }
        }
    }

    pub fn since(&mut self, p: Verdict, q: Verdict) -> Verdict {
        match self {
            Self::Since(truth, margin) => {
                let crisp = Verdict::crisp(truth.push(p.truth, q.truth));
                margin.as_mut().map_or(crisp, |m| Verdict { margin: m.push(p.margin, q.margin), ..crisp })
            }
            _ => q,
        }
    }
}

/// Happenings of an event in a window before now.
#[derive(Clone, Debug)]
pub(super) struct Counter {
    window: Span,
    now: u64,
    happened: VecDeque<u64>,
}

impl Counter {
    pub fn all(program: &Program, dt_s: f64) -> Vec<Self> {
        let new = |window| Self { window, now: 0, happened: VecDeque::new() };
        program.counts.iter().map(|counted| new(counted.window.samples(dt_s))).collect()
    }

    /// Takes the next moment and leaves every counter's value in `counts`.
    pub fn push_all(all: &mut [Self], program: &Program, signals: &impl Signals, counts: &mut Vec<f64>) {
        counts.clear();
        let pairs = all.iter_mut().zip(&program.counts);
        counts.extend(pairs.map(|(counter, counted)| counter.push(counted.event.happens(signals)) as f64));
    }

    fn push(&mut self, happens: bool) -> usize {
        if happens {
            self.happened.push_back(self.now);
        }
        let oldest = self.window.far.map_or(0, |far| self.now.saturating_sub(far));
        while self.happened.front().is_some_and(|&at| at < oldest) {
            self.happened.pop_front();
        }
        let newest = self.now.checked_sub(self.window.near);
        self.now += 1;
        newest.map_or(0, |newest| self.happened.partition_point(|&at| at <= newest))
    }
}
