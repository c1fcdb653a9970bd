//! Checks of `imaging`.
