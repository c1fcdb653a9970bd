//! Checks of `golden`.
