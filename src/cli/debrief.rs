//! `debrief`: for each log one page, with CSV and JSON beside it.

use super::{fail, say};
use crate::assess::Judgement;
use crate::debrief::compare::{self, Side};
use crate::debrief::film;
use crate::debrief::fork::{self, WhatIf};
use crate::debrief::report::{self, Dossier};
use crate::debrief::{export, plan};
use crate::session::log::{Line, Mode};
use crate::session::player::Player;
use crate::session::record::{Origin, Record};
use crate::session::{Session, run_player};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

/// What `debrief` takes.
#[derive(clap::Args)]
pub struct DebriefArgs {
    /// Logs
    #[arg(required = true)]
    logs: Vec<PathBuf>,
    /// Folder for the pages; made if it is not there
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Take every decision otherwise as well and set the outcomes side by side; takes as long as playing each of them
    #[arg(long)]
    forks: bool,
    /// One more page: two logs on one axis
    #[arg(long)]
    compare: bool,
    /// One more page for each log: beside this play of the case, with the same seed
    #[arg(long, value_name = "PLAY")]
    against: Option<String>,
}

/// A log that was read, with everything made of it.
struct Sitting {
    stem: String,
    record: Record,
    judgement: Judgement,
}

/// 0 when all were written, 1 when a log was altered, 2 when one could not be read or written.
pub fn debrief(args: &DebriefArgs) -> u8 {
    if args.compare && args.logs.len() != 2 {
        return fail(format!("--compare sets two logs side by side; {} were given", args.logs.len()));
    }
    let mut worst = 0;
    let mut sittings = Vec::new();
    for log in &args.logs {
        let lines = match super::replay::lines(log) {
            Ok(lines) => lines,
            Err(code) => {
                worst = worst.max(code);
                continue;
            }
        };
        let stem = log.file_stem().map_or_else(|| "session".into(), |s| s.to_string_lossy().into_owned());
        match one(args, &lines, stem) {
            Ok(sitting) => sittings.push(sitting),
            Err(why) => worst = worst.max(fail(format!("{}: {why}", log.display()))),
        }
    }
    if let (true, [a, b]) = (args.compare, &sittings[..]) {
        let name = format!("{}-and-{}", a.stem, b.stem);
        if let Err(why) = beside(&args.out, &name, (a, &a.stem), (b, &b.stem)) {
            worst = worst.max(fail(why));
        }
    }
    worst
}

fn one(args: &DebriefArgs, lines: &[Line], stem: String) -> Result<Sitting, String> {
    let (record, film) = film::watched(lines)?;
    let judgement = Judgement::of_record(&record);
    let what_ifs = match (args.forks, &record.origin) {
        (true, Origin::Recalled(why)) => {
            return Err(format!(
                "--forks needs a log that comes out the same when it is played again. {why}"
            ));
        }
        (true, _) => forks(lines, &judgement)?,
        (false, _) => Vec::new(),
    };
    let dossier =
        Dossier { record: &record, judgement: &judgement, film: film.as_ref(), what_ifs: &what_ifs };
    let path = write(&dossier, &args.out, &stem)?;
    say(format!("{} written", path.display()));
    let sitting = Sitting { stem, record, judgement };
    if let Some(play) = &args.against {
        let other = played(&sitting.record, play)?;
        let name = format!("{}-against-{play}", sitting.stem);
        beside(&args.out, &name, (&sitting, &sitting.stem), (&other, play))?;
    }
    Ok(sitting)
}

/// Every alternative that the report asks about, one to a core.
fn forks(lines: &[Line], judgement: &Judgement) -> Result<Vec<WhatIf>, String> {
    let turnings = fork::turnings(lines)?;
    let jobs: Vec<(&fork::Turning, &str)> = judgement
        .decisions
        .iter()
        .filter_map(|d| Some((turnings.iter().find(|t| t.event == d.event)?, d)))
        .flat_map(|(t, d)| plan::what_ifs(d).into_iter().map(move |o| (t, o.option.as_str())))
        .collect();
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::new());
    let cores = std::thread::available_parallelism().map_or(1, usize::from).min(jobs.len().max(1));
    std::thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                while let Some((turning, option)) = jobs.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let what_if = turning.take(option);
                    if let Ok(mut done) = done.lock() {
                        done.push(what_if);
                    }
                }
            });
        }
    });
    let mut done = done.into_inner().map_err(|_| "a what-if stopped half-way".to_string())?;
    // Whichever core was first, the report is the same.
    done.sort_by(|a, b| (a.event, &a.option).cmp(&(b.event, &b.option)));
    Ok(done)
}

/// A play of the same case with the same seed.
fn played(record: &Record, play: &str) -> Result<Sitting, String> {
    let mut player = Player::named(&record.case, play)?;
    let mut session = Session::new(Arc::clone(&record.case), record.seed, Mode::Free);
    run_player(&mut session, &mut player);
    let record = Record::of(&session);
    let judgement = Judgement::of_record(&record);
    Ok(Sitting { stem: play.into(), record, judgement })
}

fn side<'a>((sitting, name): (&'a Sitting, &'a str)) -> Side<'a> {
    Side { name, record: &sitting.record, judgement: &sitting.judgement }
}

fn beside(folder: &Path, name: &str, a: (&Sitting, &str), b: (&Sitting, &str)) -> Result<(), String> {
    let page = compare::page(&side(a), &side(b))?;
    let path = folder.join(format!("{name}.html"));
    whole(&path, &page).map_err(|e| format!("{}: {e}", path.display()))?;
    say(format!("{} written", path.display()));
    Ok(())
}

/// Writes page, CSV and JSON; each file appears whole or not at all.
fn write(dossier: &Dossier, folder: &Path, stem: &str) -> Result<PathBuf, String> {
    let at = |e: std::io::Error| format!("{}: {e}", folder.display());
    std::fs::create_dir_all(folder).map_err(at)?;
    let json = export::json(dossier.record, dossier.judgement, dossier.what_ifs);
    let json = serde_json::to_string_pretty(&json).map_err(|e| e.to_string())?;
    whole(&folder.join(format!("{stem}.csv")), &export::decisions_csv(dossier.judgement)).map_err(at)?;
    whole(&folder.join(format!("{stem}.json")), &json).map_err(at)?;
    let page = folder.join(format!("{stem}.html"));
    whole(&page, &report::page(dossier)).map_err(at)?;
    Ok(page)
}

/// The debrief of a session that is still in memory.
pub(super) fn write_session(session: &Session, folder: &Path, stem: &str) -> Result<PathBuf, String> {
    let record = Record::of(session);
    let judgement = Judgement::of_record(&record);
    write(&Dossier { record: &record, judgement: &judgement, film: None, what_ifs: &[] }, folder, stem)
}

fn whole(path: &Path, text: &str) -> std::io::Result<()> {
    let beside = path.with_extension("part");
    std::fs::write(&beside, text)?;
    std::fs::rename(&beside, path)
}
