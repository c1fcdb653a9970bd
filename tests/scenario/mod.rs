//! Checks of `scenario`.
