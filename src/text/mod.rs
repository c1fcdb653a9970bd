//! The case played in a terminal.
