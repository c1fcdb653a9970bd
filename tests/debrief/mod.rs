//! Checks of `debrief`.

mod cause;
pub mod checkers;
mod command;
pub mod fixture;
mod plays;
pub mod report;
mod tables;
mod what_if;
