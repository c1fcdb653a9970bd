//! Checks of `anatomy`.
