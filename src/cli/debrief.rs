//! `debrief`: for each log one page, with CSV and JSON beside it.

use super::{fail, say};
use crate::assess::Judgement;
use crate::debrief::{export, report};
use crate::session::Session;
use crate::session::replay;
use std::path::{Path, PathBuf};

/// What `debrief` takes.
#[derive(clap::Args)]
pub struct DebriefArgs {
    /// Logs
    #[arg(required = true)]
    logs: Vec<PathBuf>,
    /// Folder for the pages; made if it is not there
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

/// 0 when all were written, 1 when a log was altered, 2 when one could not be read or written.
pub fn debrief(args: &DebriefArgs) -> u8 {
    let mut worst = 0;
    for log in &args.logs {
        let lines = match super::replay::lines(log) {
            Ok(lines) => lines,
            Err(code) => {
                worst = worst.max(code);
                continue;
            }
        };
        let stem = log.file_stem().map_or_else(|| "session".into(), |s| s.to_string_lossy().into_owned());
        let written = replay::rebuild(&lines).and_then(|session| write(&session, &args.out, &stem));
        match written {
            Ok(path) => say(format!("{} written", path.display())),
            Err(why) => worst = worst.max(fail(format!("{}: {why}", log.display()))),
        }
    }
    worst
}

/// Writes page, CSV and JSON of a session; each file appears whole or not at all.
pub(super) fn write(session: &Session, folder: &Path, stem: &str) -> Result<PathBuf, String> {
    let at = |e: std::io::Error| format!("{}: {e}", folder.display());
    std::fs::create_dir_all(folder).map_err(at)?;
    let judgement = Judgement::of(session);
    let json = serde_json::to_string_pretty(&export::json(session, &judgement)).map_err(|e| e.to_string())?;
    whole(&folder.join(format!("{stem}.csv")), &export::decisions_csv(&judgement)).map_err(at)?;
    whole(&folder.join(format!("{stem}.json")), &json).map_err(at)?;
    let page = folder.join(format!("{stem}.html"));
    whole(&page, &report::html(session)).map_err(at)?;
    Ok(page)
}

fn whole(path: &Path, text: &str) -> std::io::Result<()> {
    let beside = path.with_extension("part");
    std::fs::write(&beside, text)?;
    std::fs::rename(&beside, path)
}
