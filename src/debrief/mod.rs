//! What happened, why it mattered and what else would have: made from a session, never from prose without data.
//!
//! 1. [`cause::chains`] walks from each outcome back along recorded causes and the numbers that were read.
//! 2. [`report::html`] writes one self-contained page: structure before pictures, the outcome revealed last.
//! 3. [`export`] writes the same as CSV and JSON.

pub mod cause;
pub mod export;
pub mod plot;
pub mod report;
