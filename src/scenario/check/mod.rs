//! What can be said of a case without playing it: whether it teaches, whether everything written is of use, whether what
//! it needs is there.
//!
//! Nothing here stops a case from running; `load` tells what does. A pass shows that a case is complete, never that it
//! is clinically right.

mod asks;
mod fit;
mod start;
mod story;
mod teaching;
mod truth;
mod unused;

pub use start::start;

use super::compile::told::Told;
use super::diagnostic::{self, Diagnostic};
use super::load::Loaded;
use std::collections::BTreeSet;

/// Doubts and advice about a sound case, gravest first.
pub fn check(loaded: &Loaded) -> Vec<Diagnostic> {
    let nothing_made_up = BTreeSet::new();
    let mut told = Told::new(&loaded.spans, &nothing_made_up);
    teaching::check(&loaded.case, &mut told);
    asks::check(&loaded.case, &mut told);
    story::check(loaded, &mut told);
    fit::check(loaded, &mut told);
    unused::check(loaded, &mut told);
    let mut found = told.into_found();
    diagnostic::sort(&mut found);
    found
}
