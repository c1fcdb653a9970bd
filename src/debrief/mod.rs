//! What happened, why it mattered and what else would have: made from a session's record, never from prose without data.
//!
//! 1. [`cause::chains`] walks from each outcome back along recorded causes and the numbers that were read.
//! 2. [`film`] plays a log again and keeps rail and pictures; [`fork`] takes its decisions otherwise.
//! 3. [`plan`] chooses the moments to talk about; [`report`] writes one self-contained page, the outcome last; [`compare`] sets two
//!    sessions on one axis.
//! 4. [`export`] writes the same as CSV and JSON.

pub mod axis;
pub mod cause;
pub mod cite;
pub mod compare;
pub mod export;
pub mod film;
pub mod fork;
pub mod frame;
pub mod plan;
pub mod plot;
pub mod rail;
pub mod report;
pub mod words;

/// What every start screen and report says.
pub const TRAINING_ONLY: &str = "Training only: simulated patients and simplified models. Not for decisions on real patients; \
follow local protocol and licensed practice.";
