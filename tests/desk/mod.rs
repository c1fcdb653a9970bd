//! Checks of `desk`.
