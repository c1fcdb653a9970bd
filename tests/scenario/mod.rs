//! Checks of `scenario`.

mod charts;
mod explained;
mod faulty;
mod lesion;
mod load;
mod reader;
mod rules;
mod tutorial;
