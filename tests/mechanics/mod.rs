//! Checks of `mechanics`.
