//! Checks of `scenario`.

mod rules;
