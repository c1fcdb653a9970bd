//! `overwire`, `play` and `resume`: the way into a case, by whatever this machine has: a display, a terminal, or neither.

use super::{TRAINING_ONLY, fail, rehearse, say};
use crate::records::{Keeper, library};
use crate::session::log::Mode;
use crate::text;
use std::io::IsTerminal;
use std::path::PathBuf;

/// What `play` takes.
#[derive(clap::Args)]
pub struct PlayArgs {
    /// A built-in case's name or a case file
    case: String,
    /// In the terminal, even where there is a display
    #[arg(long)]
    text: bool,
    /// Seed of all chance
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write the session's log here
    #[arg(long)]
    log: Option<PathBuf>,
    /// Help and feedback: guided, free or examination
    #[arg(long, default_value = "free")]
    mode: ModeName,
}

#[derive(Clone, Copy, clap::ValueEnum)]
enum ModeName {
    Guided,
    Free,
    Examination,
}

/// What `resume` takes.
#[derive(clap::Args)]
pub struct ResumeArgs {
    /// The log of the session
    log: PathBuf,
}

impl From<ModeName> for Mode {
    fn from(name: ModeName) -> Self {
        match name {
            ModeName::Guided => Self::Guided,
            ModeName::Free => Self::Free,
            ModeName::Examination => Self::Examination,
        }
    }
}

/// No command: the window; without a display the text desk; without a terminal the model play and its debrief.
pub fn open() -> u8 {
    #[cfg(feature = "app")]
    match window(crate::desk::Options::default()) {
        Ok(()) => return 0,
        Err(why) => say(format!("No window: {why}")),
    }
    let first = library::BUILT_IN[0].0;
    if std::io::stdin().is_terminal() && std::io::stdout().is_terminal() {
        return text_desk(first, 1, Mode::Free, None);
    }
    say(TRAINING_ONLY);
    say("No display and no terminal: rehearsing the model play of the first case and writing its debrief.");
    rehearse::model_with_debrief(first)
}

/// Plays a case in the window, or in the terminal.
pub fn play(args: &PlayArgs) -> u8 {
    let mode = args.mode.into();
    #[cfg(feature = "app")]
    if !args.text {
        let options = crate::desk::Options {
            case: Some(args.case.clone()),
            seed: args.seed,
            mode,
            log: args.log.clone(),
            ..crate::desk::Options::default()
        };
        match window(options) {
            Ok(()) => return 0,
            Err(why) => say(format!("No window: {why}")),
        }
    }
    text_desk(&args.case, args.seed, mode, args.log.clone())
}

/// Opens the window, with somebody standing by.
#[cfg(feature = "app")]
fn window(options: crate::desk::Options) -> Result<(), String> {
    let by = super::stand_by::StandBy::call(options.log.as_deref());
    let outcome = crate::desk::run(options);
    by.dismiss();
    outcome
}

/// What `workbench` takes.
#[cfg(feature = "app")]
#[derive(clap::Args)]
pub struct WorkbenchArgs {
    /// A case file of your own
    file: PathBuf,
}

/// Opens the window with a case file on the workbench.
#[cfg(feature = "app")]
pub fn workbench(args: &WorkbenchArgs) -> u8 {
    if let Err(why) = library::text(&args.file.to_string_lossy()) {
        return fail(why);
    }
    let options =
        crate::desk::Options { workbench: Some(args.file.clone()), ..crate::desk::Options::default() };
    match window(options) {
        Ok(()) => 0,
        Err(why) => {
            fail(format!("no window: {why}. Without one, overwire check FILE tells the same of the text"))
        }
    }
}

/// Takes a session up again in the terminal.
pub fn resume(args: &ResumeArgs) -> u8 {
    match Keeper::resume(&args.log) {
        Err(why) => fail(why),
        Ok((keeper, notes)) => {
            for note in notes {
                say(note);
            }
            at_the_terminal(keeper)
        }
    }
}

fn text_desk(case: &str, seed: u64, mode: Mode, log: Option<PathBuf>) -> u8 {
    let case = match library::case(case) {
        Ok(case) => case,
        Err(why) => return fail(why),
    };
    match Keeper::start(case, seed, mode, log.as_deref()) {
        Err(why) => fail(why),
        Ok(keeper) => at_the_terminal(keeper),
    }
}

fn at_the_terminal(keeper: Keeper) -> u8 {
    let (input, output) = (std::io::stdin().lock(), std::io::stdout().lock());
    match text::run(keeper, input, output, text::Look::of_terminal()) {
        Ok(_) => 0,
        Err(why) => fail(why),
    }
}
