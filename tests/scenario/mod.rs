//! Checks of `scenario`.

mod reader;
mod rules;
