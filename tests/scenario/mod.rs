//! Checks of `scenario`.

mod charts;
mod reader;
mod rules;
