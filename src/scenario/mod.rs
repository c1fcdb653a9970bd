//! The case file: types, loading, diagnostics, the rule language and the state chart.

pub mod chart;
pub mod diagnostic;
pub mod load;
pub mod quantity;
pub mod rule;
pub mod spans;

pub use diagnostic::Diagnostic;
