//! A rule judged over a whole recording, with the moment that decided it.

use std::ops::Range;

use super::kernel::Span;
use super::monitor::{Counter, Memory};
use super::program::{Op, Program, Term, Verdict};
use super::syntax::Comparison;
use super::vocabulary::Signals;

/// What a rule comes to over a recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Evaluation {
    /// The verdict at every sample.
    pub verdicts: Vec<Verdict>,
    /// The verdict on the session: what looks ahead is read at the first sample, all else at the last, each
    /// part of an `and`, `or`, `not` or `implies` for itself. `None` for an empty recording.
    pub overall: Option<Verdict>,
    /// The first sample where the margin was smallest.
    pub weakest: Option<usize>,
    /// The comparison, event, state or choice that the overall margin comes from, and when. `None` if it
    /// comes from a window without samples.
    pub decisive: Option<Decisive>,
}

/// The one condition at the one moment that decided a rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Decisive {
    /// When, as a sample's index.
    pub sample: usize,
    /// What, as bytes of the rule's text.
    pub span: Range<usize>,
    /// Its own verdict there.
    pub verdict: Verdict,
}

/// How near one comparison brought a rule to its other verdict, where the rest of the rule decides by its truth alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Reach {
    /// The comparison, as bytes of the rule's text.
    pub span: Range<usize>,
    /// When it decided, as a sample's index.
    pub sample: usize,
    /// Its left side there, in the signal's unit.
    pub left: f64,
    /// Its right side there, in the same unit.
    pub right: f64,
    /// The rule's verdict: does it hold, and by how much of this comparison; negative where it does not.
    pub verdict: Verdict,
}

/// The reach of every comparison by which the rule could have turned; of those that ask for sameness there is none. The verdict is
/// the overall one, or that of the sample where the rule came nearest to holding (`ever`).
pub(super) fn reaches<S: Signals>(program: &Program, dt_s: f64, samples: &[S], ever: bool) -> Vec<Reach> {
    let root = program.nodes.len().saturating_sub(1);
    let mut out = Vec::new();
    for (place, node) in program.nodes.iter().enumerate() {
        let Op::Compare(op, x, y) = &node.op else { continue };
        if matches!(op, Comparison::Equal | Comparison::Unequal) || samples.is_empty() {
            continue;
        }
        let columns = columns(program, dt_s, samples, &|other| other == place);
        let table = Table { program, dt_s, columns };
        let at = if ever { table.strongest(root, 0..table.length()) } else { None };
        let verdict = at.map_or_else(|| table.anchored(root), |k| table.columns[root][k]);
        let decisive = table.decisive(root, at).filter(|d| verdict.margin.is_finite() && d.span == node.span);
        let Some(Decisive { sample, span, .. }) = decisive else { continue };
        let mut counters = Counter::all(program, dt_s);
        let mut counts = Vec::new();
        let counted = if counters.is_empty() { sample..=sample } else { 0..=sample };
        for k in counted {
            Counter::push_all(&mut counters, program, &samples[k], &mut counts);
        }
        let side = |term: &Term| term.value(&samples[sample], &counts);
        out.push(Reach { span, sample, left: side(x), right: side(y), verdict });
    }
    out
}

/// Evaluates over all samples, `dt_s` seconds apart.
pub(super) fn evaluate<S: Signals>(
    program: &Program,
    dt_s: f64,
    samples: impl IntoIterator<Item = S>,
) -> Evaluation {
    let table = Table { program, dt_s, columns: columns(program, dt_s, samples, &|_| true) };
    let root = program.nodes.len().saturating_sub(1);
    let (overall, decisive) = match table.length() {
        0 => (None, None),
        _ => (Some(table.anchored(root)), table.decisive(root, None)),
    };
    let verdicts = table.columns.into_iter().next_back().unwrap_or_default();
    Evaluation { weakest: weakest(&verdicts, 0..verdicts.len()), verdicts, overall, decisive }
}

/// What a rule asks for, sample by sample: of `always`, `never` and `eventually` what stands under them, of any other rule the rule.
/// Conditions that `keeps` turns down, by their place in the text, decide by their truth alone and lend no margin.
pub(super) fn course<S: Signals>(
    program: &Program,
    dt_s: f64,
    samples: impl IntoIterator<Item = S>,
    keeps: &dyn Fn(Range<usize>) -> bool,
) -> Vec<Verdict> {
    let root = program.nodes.len().saturating_sub(1);
    let asked = match program.nodes.get(root).map(|n| &n.op) {
        Some(Op::Always(_, p) | Op::Eventually(_, p)) => *p,
        _ => root,
    };
    let keeps = |place: usize| keeps(program.nodes[place].span.clone());
    columns(program, dt_s, samples, &keeps).into_iter().nth(asked).unwrap_or_default()
}

/// The verdicts of every node at every sample; leaves that `keeps` turns down, by their place, lend no margin.
fn columns<S: Signals>(
    program: &Program,
    dt_s: f64,
    samples: impl IntoIterator<Item = S>,
    keeps: &dyn Fn(usize) -> bool,
) -> Vec<Vec<Verdict>> {
    let mut columns: Vec<Vec<Verdict>> = vec![Vec::new(); program.nodes.len()];
    let (mut counters, mut counts) = (Counter::all(program, dt_s), Vec::new());
    let kept: Vec<bool> = (0..program.nodes.len()).map(keeps).collect();
    let mut length = 0;
    for sample in samples {
        length += 1;
        Counter::push_all(&mut counters, program, &sample, &mut counts);
        for ((node, column), kept) in program.nodes.iter().zip(&mut columns).zip(&kept) {
            let leaf = node.op.leaf(&sample, &counts);
            column.extend(leaf.map(|v| if *kept { v } else { Verdict::crisp(v.truth) }));
        }
    }
    for place in 0..columns.len() {
        let mut memory = Memory::of(&program.nodes[place].op, dt_s, true);
        let at = |p: &usize, k: usize| columns[*p][k];
        let forward = 0..length;
        let column: Vec<Verdict> = match &program.nodes[place].op {
            Op::Not(p) => forward.map(|k| at(p, k).opposite()).collect(),
            Op::And(parts) => {
                forward.map(|k| parts.iter().fold(Verdict::crisp(true), |all, p| all.and(at(p, k)))).collect()
            }
            Op::Or(parts) => {
                forward.map(|k| parts.iter().fold(Verdict::crisp(false), |any, p| any.or(at(p, k)))).collect()
            }
            Op::Once(_, p) => forward.map(|k| memory.once(at(p, k))).collect(),
            Op::Historically(_, p) => forward.map(|k| memory.once(at(p, k).opposite()).opposite()).collect(),
            Op::Since(_, p, q) => forward.map(|k| memory.since(at(p, k), at(q, k))).collect(),
            // The future is the past of the recording played backwards.
            Op::Eventually(_, p) => backward(length, |k| memory.once(at(p, k))),
            Op::Always(_, p) => backward(length, |k| memory.once(at(p, k).opposite()).opposite()),
            Op::Until(_, p, q) => backward(length, |k| memory.since(at(p, k), at(q, k))),
            _ => continue,
        };
        columns[place] = column;
    }
    columns
}

fn backward(length: usize, value: impl FnMut(usize) -> Verdict) -> Vec<Verdict> {
    let mut column: Vec<Verdict> = (0..length).rev().map(value).collect();
    column.reverse();
    column
}

struct Table<'a> {
    program: &'a Program,
    dt_s: f64,
    columns: Vec<Vec<Verdict>>,
}

impl Table<'_> {
    fn length(&self) -> usize {
        self.columns.last().map_or(0, Vec::len)
    }

    fn anchored(&self, place: usize) -> Verdict {
        match &self.program.nodes[place].op {
            Op::Not(p) => self.anchored(*p).opposite(),
            Op::And(parts) => parts.iter().fold(Verdict::crisp(true), |all, &p| all.and(self.anchored(p))),
            Op::Or(parts) => parts.iter().fold(Verdict::crisp(false), |any, &p| any.or(self.anchored(p))),
            op => self.columns[place][self.anchor(op)],
        }
    }

    /// The sample from which a condition sees the whole session.
    fn anchor(&self, op: &Op) -> usize {
        if op.looks_ahead() { 0 } else { self.length() - 1 }
    }

    /// The leaf and moment that a node's margin comes from; at its anchor, or at sample `at`.
    fn decisive(&self, place: usize, at: Option<usize>) -> Option<Decisive> {
        let node = &self.program.nodes[place];
        let here = |p: usize| at.map_or_else(|| self.anchored(p), |k| self.columns[p][k]);
        let k = at.unwrap_or_else(|| self.anchor(&node.op));
        match &node.op {
            Op::Not(p) => self.decisive(*p, at),
            Op::And(parts) => self.decisive(lowest(parts.iter().map(|&p| (p, here(p))))?, at),
            Op::Or(parts) => self.decisive(lowest(parts.iter().map(|&p| (p, here(p).opposite())))?, at),
            Op::Once(window, p) => {
                self.decisive(*p, Some(self.strongest(*p, self.before(k, window.samples(self.dt_s)))?))
            }
            Op::Historically(window, p) => {
                let range = self.before(k, window.samples(self.dt_s));
                self.decisive(*p, Some(weakest(&self.columns[*p], range)?))
            }
            Op::Eventually(window, p) => {
                self.decisive(*p, Some(self.strongest(*p, self.after(k, window.samples(self.dt_s)))?))
            }
            Op::Always(window, p) => {
                let range = self.after(k, window.samples(self.dt_s));
                self.decisive(*p, Some(weakest(&self.columns[*p], range)?))
            }
            Op::Since(window, p, q) => {
                let range = self.before(k, window.samples(self.dt_s));
                self.witness(*p, *q, (0..=k).rev(), range)
            }
            Op::Until(window, p, q) => {
                let range = self.after(k, window.samples(self.dt_s));
                self.witness(*p, *q, k..self.length(), range)
            }
            _ => Some(Decisive { sample: k, span: node.span.clone(), verdict: self.columns[place][k] }),
        }
    }

    /// Walks away from now; the best moment for the right operand is limited by it or by the left on the way
    /// there.
    fn witness(
        &self,
        left: usize,
        right: usize,
        walk: impl Iterator<Item = usize>,
        range: Range<usize>,
    ) -> Option<Decisive> {
        let mut held: Option<(Verdict, usize)> = None;
        let mut best: Option<(Verdict, usize, usize)> = None;
        for k in walk {
            let there = self.columns[right][k];
            let limit = match held {
                Some((verdict, sample)) if verdict.is_below(there) => (verdict, left, sample),
                _ => (there, right, k),
            };
            if range.contains(&k) && best.is_none_or(|(least, ..)| least.is_below(limit.0)) {
                best = Some(limit);
            }
            let now = self.columns[left][k];
            if held.is_none_or(|(least, _)| now.is_below(least)) {
                held = Some((now, k));
            }
        }
        best.and_then(|(_, place, sample)| self.decisive(place, Some(sample)))
    }

    fn strongest(&self, place: usize, range: Range<usize>) -> Option<usize> {
        lowest(range.map(|k| (k, self.columns[place][k].opposite())))
    }

    fn before(&self, k: usize, window: Span) -> Range<usize> {
        let near = usize::try_from(window.near).ok().and_then(|near| k.checked_sub(near));
        let far = window.far.map_or(0, |far| k.saturating_sub(usize::try_from(far).unwrap_or(usize::MAX)));
        far..near.map_or(far, |near| near + 1)
    }

    fn after(&self, k: usize, window: Span) -> Range<usize> {
        let end = self.length();
        let add =
            |samples: u64| usize::try_from(samples).map_or(end, |samples| k.saturating_add(samples)).min(end);
        add(window.near)..window.far.map_or(end, |far| add(far.saturating_add(1)))
    }
}

/// The first sample in `range` whose verdict is worst.
fn weakest(column: &[Verdict], range: Range<usize>) -> Option<usize> {
    lowest(range.map(|k| (k, column[k])))
}

fn lowest(verdicts: impl Iterator<Item = (usize, Verdict)>) -> Option<usize> {
    let mut lowest: Option<(usize, Verdict)> = None;
    for (place, verdict) in verdicts {
        if lowest.is_none_or(|(_, least)| verdict.is_below(least)) {
            lowest = Some((place, verdict));
        }
    }
    lowest.map(|(place, _)| place)
}
