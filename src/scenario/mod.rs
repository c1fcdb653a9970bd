//! The case file: types, loading, diagnostics, the rule language and the state chart.

pub mod case;
pub mod chart;
pub mod check;
pub mod compile;
pub mod diagnostic;
pub mod lesion;
pub mod load;
mod nearest;
pub mod order;
pub mod quantity;
pub mod range;
pub mod rule;
pub mod signal;
pub mod spans;
pub mod written;

pub use case::Case;
pub use check::check;
pub use diagnostic::{Diagnostic, Level};
pub use load::{Loaded, load};
pub use nearest::nearest;
pub use order::Order;
pub use written::written;
