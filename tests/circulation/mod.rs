//! Checks of `circulation`.
