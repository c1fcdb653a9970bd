//! Somebody who stands by the window. A lost display ends a program from within its libraries, without a word of ours; a driver
//! can do the same. So a second, sleeping process waits at a pipe: told that all is well it goes quietly, and when the pipe ends
//! without that word it says what happened, where the session stands and how it is taken up again.

use super::{fail, say};
use crate::desk::cases::log_folder;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// The command, hidden from help, that the second process runs.
pub const COMMAND: &str = "stand-by";

/// What `stand-by` takes.
#[derive(clap::Args)]
pub struct StandByArgs {
    /// Log of the session, where it is known
    #[arg(long)]
    log: Option<PathBuf>,
}

/// The word that all is well.
const WELL: &[u8] = b"well";

/// A process that stands by; it speaks up unless it is dismissed.
pub struct StandBy(Option<Child>);

impl StandBy {
    /// Calls one. Where that fails, or no display could be lost, nobody stands by, and nothing else changes.
    pub fn call(log: Option<&Path>) -> Self {
        let display = ["DISPLAY", "WAYLAND_DISPLAY"].iter().any(|d| std::env::var_os(d).is_some());
        let program = std::env::current_exe().ok().filter(|_| display);
        let spawned = program.and_then(|program| {
            let mut command = Command::new(program);
            command.arg(COMMAND).stdin(Stdio::piped());
            if let Some(log) = log {
                command.arg("--log").arg(log);
            }
            command.spawn().ok()
        });
        Self(spawned)
    }

    /// All is well: it may go.
    pub fn dismiss(mut self) {
        let Some(mut child) = self.0.take() else { return };
        if let Some(pipe) = &mut child.stdin {
            // If it has gone already, nobody needs to hear it.
            let _ = pipe.write_all(WELL);
        }
        let _ = child.wait();
    }
}

/// Waits at the pipe, and speaks up if it ends without the word.
pub fn stand_by(args: &StandByArgs) -> u8 {
    let mut word = Vec::new();
    if std::io::stdin().read_to_end(&mut word).is_ok() && word == WELL {
        return 0;
    }
    let gone = "the window is gone: its display or what draws it was lost, or the program was ended";
    match args.log.clone().or_else(newest) {
        Some(log) => {
            say(format!(
                "Nothing that was ordered is lost. Take the case up again from the shelf, or with: overwire resume {}",
                log.display()
            ));
            fail(gone)
        }
        None => fail(gone),
    }
}

/// The log that was written to last.
fn newest() -> Option<PathBuf> {
    let logs = std::fs::read_dir(log_folder()?).ok()?.filter_map(Result::ok);
    let dated = logs.filter_map(|e| Some((e.metadata().ok()?.modified().ok()?, e.path())));
    dated.filter(|(_, p)| p.extension().is_some_and(|x| x == "jsonl")).max().map(|(_, path)| path)
}
