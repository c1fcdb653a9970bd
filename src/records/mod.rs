//! What is kept: the log on disk, and where cases and logs are found.

pub mod keeper;
pub mod library;

pub use keeper::{KeepFault, Keeper};
