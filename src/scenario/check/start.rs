//! The start: whether the models find a body that has what it asks for.

use crate::circulation::StartDoubt;
use crate::scenario::compile::told::Told;
use crate::scenario::diagnostic::Diagnostic;
use crate::scenario::load::Loaded;
use std::collections::BTreeSet;

/// The doubts of a settled patient about the case's start, beside the line that asks for it.
pub fn start(loaded: &Loaded, doubts: &[StartDoubt]) -> Vec<Diagnostic> {
    let nothing_made_up = BTreeSet::new();
    let mut told = Told::new(&loaded.spans, &nothing_made_up);
    for doubt in doubts {
        let (field, reached) = match doubt {
            StartDoubt::Systolic { reached_mmhg, .. } => ("sbp_mmhg", reached_mmhg),
            StartDoubt::Rate { reached_bpm, .. } => ("heart_rate_bpm", reached_bpm),
        };
        let said = told.doubt_of("start", &format!("start.{field}"), doubt.to_string());
        told.tell(said.hint(format!(
            "write {field}: Some({reached:.0}), or change what is lost, the drugs, or the patient at rest"
        )));
    }
    told.into_found()
}
