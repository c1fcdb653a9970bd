//! The commands: what was typed, and one file for each.
//!
//! Exit codes: 0 done and sound, 1 looked and found something, 2 could not do it.

mod debrief;
mod image;
mod measure;
mod rehearse;
mod replay;
#[cfg(feature = "app")]
mod screens;
#[cfg(feature = "app")]
mod stand_by;
mod start;
mod sweep;

pub mod chart;
pub mod check;
pub mod explain;
pub mod new;
pub mod print;

use clap::{Parser, Subcommand};
use std::io::Write;
use std::process::ExitCode;

pub use crate::debrief::TRAINING_ONLY;

#[derive(Parser)]
#[command(
    name = "overwire",
    version,
    about = "A rehearsal desk for emergency endovascular care.",
    after_help = TRAINING_ONLY,
    disable_help_subcommand = true
)]
struct Typed {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Subcommand)]
enum Command {
    /// Live through a case, in the window or in the terminal
    Play(start::PlayArgs),
    /// Take up a session where its log ends
    Resume(start::ResumeArgs),
    /// Run a written play through a case, without a person
    Rehearse(rehearse::RehearseArgs),
    /// Look for faults in case files
    Check(check::CheckArgs),
    /// Play a log again and compare, bit for bit
    Replay(replay::ReplayArgs),
    /// Leave a finished session at some moment with other orders and the same dice
    Fork(replay::ForkArgs),
    /// Write what happened and why: an HTML page, CSV and JSON for each log
    Debrief(debrief::DebriefArgs),
    /// Print the sizing sheet of a case's anatomy and what the shelf offers
    Measure(measure::MeasureArgs),
    /// Draw the fluoroscopy or run picture at a moment of a play
    Image(image::ImageArgs),
    /// Draw a case's phases as SVG, DOT or SCXML
    Chart(chart::ChartArgs),
    /// Let many players rehearse a case: can it be won, can it be lost, what matters in it
    Sweep(sweep::SweepArgs),
    /// Write a case in plain language as an HTML page, for a colleague to read and sign
    Print(print::PrintArgs),
    /// Begin a case file of your own from a commented starter
    New(new::NewArgs),
    /// Lay a case file on the workbench: what is to be said about it, its vessels, phases and plays
    #[cfg(feature = "app")]
    Workbench(start::WorkbenchArgs),
    /// Explain a field, a signal, an order or a message
    Explain(explain::ExplainArgs),
    /// Go through every screen of the window and save a picture of each
    #[cfg(feature = "app")]
    Screens(screens::ScreensArgs),
    #[cfg(feature = "app")]
    #[command(name = stand_by::COMMAND, hide = true)]
    StandBy(stand_by::StandByArgs),
}

/// Runs what was typed.
pub fn main() -> ExitCode {
    let typed = match Typed::try_parse() {
        Ok(typed) => typed,
        Err(e) => {
            let _ = e.print();
            return ExitCode::from(if e.use_stderr() { 2 } else { 0 });
        }
    };
    let code = match typed.command {
        None => start::open(),
        #[cfg(feature = "app")]
        Some(Command::Screens(a)) => screens::screens(&a),
        #[cfg(feature = "app")]
        Some(Command::Workbench(a)) => start::workbench(&a),
        #[cfg(feature = "app")]
        Some(Command::StandBy(a)) => stand_by::stand_by(&a),
        Some(Command::Play(a)) => start::play(&a),
        Some(Command::Resume(a)) => start::resume(&a),
        Some(Command::Rehearse(a)) => rehearse::rehearse(&a),
        Some(Command::Check(a)) => check::check(&a),
        Some(Command::Replay(a)) => replay::replay(&a),
        Some(Command::Fork(a)) => replay::fork(&a),
        Some(Command::Debrief(a)) => debrief::debrief(&a),
        Some(Command::Measure(a)) => measure::measure(&a),
        Some(Command::Image(a)) => image::image(&a),
        Some(Command::Chart(a)) => chart::chart(&a),
        Some(Command::Sweep(a)) => sweep::sweep(&a),
        Some(Command::Print(a)) => print::print(&a),
        Some(Command::New(a)) => new::new(&a),
        Some(Command::Explain(a)) => explain::explain(&a),
    };
    ExitCode::from(code)
}

/// Prints a line for people; a closed pipe is not an error.
fn say(text: impl std::fmt::Display) {
    let _ = writeln!(std::io::stdout(), "{text}");
}

/// Prints why something could not be done, and returns the code for it.
fn fail(text: impl std::fmt::Display) -> u8 {
    let _ = writeln!(std::io::stderr(), "overwire: {text}");
    2
}
