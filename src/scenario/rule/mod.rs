//! The rule language: guards, conditions of scripted events, and marks.
//!
//! A rule is a sentence that a clinician can read aloud, over signals with units, events, states and choices:
//!
//! ```text
//! sbp < 100 mmHg within 3 min of order(lower_pressure)
//! never (sbp < 60 mmHg for 2 min)
//! not done(unsheathe) since done(run)
//! oversize.proximal between 10 % and 20 %
//! ```
//!
//! 1. [`Rule::parse`] reads it against a [`Vocabulary`]; every fault comes back at once, with place and
//!    remedy.
//! 2. A rule that looks back only becomes a [`Monitor`], which judges a running session moment by moment.
//! 3. Any rule judges a recording: [`Rule::offline`] gives the verdict at every sample, overall, and the
//!    moment that decided it.
//!
//! **Meaning.** Bounded linear temporal logic with past (Maler and Nickovic 2004) over samples a fixed step
//! apart, with the quantitative robustness of Fainekos and Pappas (2009) and Donzé and Maler (2010) as the
//! margin. `until` and `since` are half-open: the left operand need not hold where the right does. Windows
//! are cut to the recording; the best of nothing is minus infinity, the worst of nothing plus infinity. Truth
//! is Boolean and not the sign of the margin.
//!
//! **Pitfalls.** A comparison with a signal that has no value does not hold, so its `not` does: ask
//! `known(signal)` where that matters. Margins of comparisons in different units are compared as bare
//! numbers.

mod check;
mod evaluation;
mod fault;
mod kernel;
mod lex;
mod monitor;
mod parse;
mod program;
mod syntax;
mod unit;
mod vocabulary;

use std::collections::BTreeSet;
use std::fmt;

pub use evaluation::{Decisive, Evaluation, Reach};
pub use fault::Fault;
pub use monitor::Monitor;
pub use parse::{LONGEST_RULE, parse};
pub use program::Verdict;
pub use syntax::{Arithmetic, Binary, Comparison, Expr, KEYWORDS, Kind, Quantity, Temporal, Window};
pub use unit::Unit;
pub use vocabulary::{Argument, Signals, Vocabulary};

use program::Program;

/// A rule that has been read and checked.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    tree: Expr,
    program: Program,
}

impl Rule {
    /// Reads a rule; all faults at once, in the order of the text.
    pub fn parse(text: &str, vocabulary: &Vocabulary) -> Result<Self, Vec<Fault>> {
        let (tree, mut faults) = parse(text);
        let checked = Self::from_tree(tree, vocabulary);
        match checked {
            Ok(rule) if faults.is_empty() => Ok(rule),
            Ok(_) => Err(faults),
            Err(more) => {
                faults.extend(more);
                faults.sort_by_key(|fault| (fault.span.start, fault.span.end));
                Err(faults)
            }
        }
    }

    /// Checks a tree that was not read from a text.
    pub fn from_tree(tree: Expr, vocabulary: &Vocabulary) -> Result<Self, Vec<Fault>> {
        check::check(&tree, vocabulary).map(|program| Self { tree, program })
    }

    /// The rule as it was written.
    pub fn tree(&self) -> &Expr {
        &self.tree
    }

    /// The names of the signals that the rule reads, for a recorder.
    pub fn signals(&self) -> BTreeSet<&str> {
        let mut names = BTreeSet::new();
        self.program.signals(&mut names);
        names
    }

    /// The part that needs what comes later, if there is one: such a rule can be a mark but not a guard.
    pub fn looks_ahead(&self) -> Option<std::ops::Range<usize>> {
        self.program.nodes.iter().find(|node| node.op.looks_ahead()).map(|node| node.span.clone())
    }

    /// A judge for samples `dt_s` seconds apart, from the start of the session; a fault if the rule looks
    /// ahead.
    pub fn online(&self, dt_s: f64) -> Result<Monitor, Fault> {
        self.judge(dt_s, true)
    }

    /// As [`online`](Self::online), for whether the rule holds and not by how much.
    pub fn guard(&self, dt_s: f64) -> Result<Monitor, Fault> {
        self.judge(dt_s, false)
    }

    fn judge(&self, dt_s: f64, margins: bool) -> Result<Monitor, Fault> {
        match self.looks_ahead() {
            None => Ok(Monitor::new(self.program.clone(), dt_s, margins)),
            Some(span) => Err(Fault::new(span, "this needs what comes later, and it is asked for now").hint(
                "look back: `once`, `historically`, `since`, `for`; for `never p`, `historically not p`",
            )),
        }
    }

    /// The verdicts over a recording with samples `dt_s` seconds apart.
    pub fn offline<S: Signals>(&self, dt_s: f64, samples: impl IntoIterator<Item = S>) -> Evaluation {
        evaluation::evaluate(&self.program, dt_s, samples)
    }

    /// How near each comparison brought the rule to its other verdict, over samples `dt_s` seconds apart; at the end, or where
    /// the rule came nearest to holding (`ever`), as of an ending that could have come at any time.
    pub fn reaches<S: Signals>(&self, dt_s: f64, samples: &[S], ever: bool) -> Vec<Reach> {
        evaluation::reaches(&self.program, dt_s, samples, ever)
    }

    /// Does it count seconds, so that samples must stand evenly?
    pub fn counts_time(&self) -> bool {
        self.program.counts_time()
    }

    /// What the rule asks for, sample by sample: of `always`, `never` and `eventually` what stands under them, of any other rule
    /// the rule itself. Comparisons that `keeps` turns down, by their bytes in the rule's text, decide by their truth and lend no
    /// margin, so that margins in different units do not meet.
    pub fn course<S: Signals>(
        &self,
        dt_s: f64,
        samples: impl IntoIterator<Item = S>,
        keeps: &dyn Fn(std::ops::Range<usize>) -> bool,
    ) -> Vec<Verdict> {
        evaluation::course(&self.program, dt_s, samples, keeps)
    }

    /// The bytes of every comparison in the rule's text.
    pub fn comparisons(&self) -> impl Iterator<Item = std::ops::Range<usize>> {
        let comparisons = self.program.nodes.iter().filter(|n| matches!(n.op, program::Op::Compare(..)));
        comparisons.map(|node| node.span.clone())
    }
}

/// The rule's text in its plainest form.
impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.tree.fmt(f)
    }
}
