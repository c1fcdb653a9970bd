//! Checks of `assess`.
