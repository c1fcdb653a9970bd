//! The window: Bevy owns it and the loop; panels are plain egui functions that return orders.
//!
//! 1. [`room::Desk`] is the whole desk without a window: screens, the seat, the settings.
//! 2. Each screen and panel has a file; colours and type live in [`theme`], every word in [`words`].
//! 3. `shell` (feature `app`) opens the window, wakes the desk and ends its log.

pub mod again;
mod aside;
pub mod briefing;
mod calliper;
pub mod carm;
pub mod cases;
pub mod edit;
pub mod educator;
pub mod kept;
pub mod monitor;
pub mod orders;
pub mod outcome;
pub mod pace;
pub mod parts;
pub mod picture;
pub mod plot;
pub mod question;
pub mod rail;
mod rail_paint;
pub mod reading;
pub mod recovery;
pub mod room;
pub mod say;
pub mod seat;
pub mod settings;
pub mod slices;
pub mod sound;
pub mod talk;
pub mod theatre;
pub mod theme;
pub mod trace;
mod vessels;
pub mod what_if;
pub mod words;
pub mod workbench;

#[cfg(feature = "app")]
mod gauge;
#[cfg(feature = "app")]
mod preflight;
#[cfg(feature = "app")]
mod shell;
#[cfg(feature = "app")]
mod unseen;
#[cfg(feature = "app")]
pub mod walk;

pub use room::{Desk, Options, Screen};
#[cfg(feature = "app")]
pub use shell::{run, walk_through};
