//! Checks of `circulation`.

mod whole;
