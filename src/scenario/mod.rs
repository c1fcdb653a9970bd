//! The case file: types, loading, diagnostics, the rule language and the state chart.

pub mod quantity;
pub mod rule;
