//! Checks of `session`.
