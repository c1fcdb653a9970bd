//! Overwire: a rehearsal desk for emergency endovascular care.
//!
//! Training only: it decides nothing about real patients; follow local protocol and licensed practice.
//!
//! Rooms from the ground up; each knows only rooms above it in this list.

pub mod math;

pub mod anatomy;
pub mod kit;

pub mod circulation;
pub mod imaging;
pub mod mechanics;

pub mod scenario;

pub mod session;

pub mod assess;

pub mod balance;
pub mod debrief;

pub mod records;

pub mod cli;
pub mod text;

#[cfg(feature = "ui")]
pub mod desk;
