//! Checks of `scenario`.

mod charts;
mod load;
mod reader;
mod rules;
