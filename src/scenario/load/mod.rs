//! Reads a case file.
pub mod read;
pub mod words;
