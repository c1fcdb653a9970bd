//! Checks of `debrief`.
