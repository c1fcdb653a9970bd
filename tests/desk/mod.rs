//! The desk: panels by label and by keyboard without a window, and the real window under a virtual display.

#[cfg(feature = "ui")]
mod again;
#[cfg(feature = "ui")]
mod fixture;
#[cfg(feature = "app")]
mod likeness;
#[cfg(feature = "ui")]
mod panels;
#[cfg(feature = "ui")]
mod picture;
#[cfg(feature = "ui")]
mod play;
#[cfg(feature = "ui")]
mod screens;
#[cfg(feature = "ui")]
mod sound;
#[cfg(feature = "app")]
mod window;
#[cfg(feature = "ui")]
mod workbench;
