//! Checks of `debrief`.

mod cause;
mod checkers;
pub mod fixture;
mod plays;
mod report;
mod tables;
mod what_if;
