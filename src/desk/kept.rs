//! Logs of sessions that were begun: what the shelf says of each, read from a log's first and last lines only.

use crate::session::event::{EventKind, Tick};
use crate::session::log::Line;
use serde::Deserialize;
use std::fs::File;
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// How a session stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// The case came to its end.
    Ended,
    /// It was left in good order.
    Left,
    /// The program or the power stopped.
    BrokenOff,
}

/// A log that can be taken up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// Where it lies.
    pub path: PathBuf,
    /// The case's id.
    pub case_id: String,
    /// The patient's time at its last line.
    pub at: Tick,
    /// How it stopped.
    pub stop: Stop,
}

/// Bytes at a log's end that are looked at: some hundred lines.
const TAIL_BYTES: u64 = 64 << 10;
/// The longest first line that is read; it holds the whole case.
const HEAD_BYTES: u64 = 8 << 20;

#[derive(Deserialize)]
struct Chained {
    l: Line,
}

impl Kept {
    /// Reads what the shelf says of a log; none when it is no log.
    pub fn of(path: &Path) -> Option<Self> {
        let mut file = File::open(path).ok()?;
        let mut first = String::new();
        BufReader::new((&mut file).take(HEAD_BYTES)).read_line(&mut first).ok()?;
        let Line::Head(head) = serde_json::from_str::<Chained>(&first).ok()?.l else { return None };
        let (at, stop) = last(&mut file).unwrap_or((Tick(0), Stop::BrokenOff));
        Some(Self { path: path.to_owned(), case_id: head.case_id, at, stop })
    }
}

/// The last time that a log knows, and how it stopped.
fn last(file: &mut File) -> Option<(Tick, Stop)> {
    let length = file.seek(SeekFrom::End(0)).ok()?;
    file.seek(SeekFrom::Start(length.saturating_sub(TAIL_BYTES))).ok()?;
    let mut tail = Vec::new();
    file.read_to_end(&mut tail).ok()?;
    let text = String::from_utf8_lossy(&tail);
    let mut latest = None;
    let (mut ended, mut closed) = (false, false);
    for line in text.lines().filter_map(|l| serde_json::from_str::<Chained>(l).ok()) {
        let (at, is_close) = match &line.l {
            Line::Head(_) => continue,
            Line::Close { at } => (*at, true),
            Line::Order { at, .. } | Line::Sample { at, .. } => (*at, false),
            Line::Event(event) => {
                ended |= matches!(event.kind, EventKind::Ended { .. });
                (event.at, false)
            }
        };
        (latest, closed) = (Some(at), is_close);
    }
    let stop = match (ended, closed) {
        (true, _) => Stop::Ended,
        (false, true) => Stop::Left,
        (false, false) => Stop::BrokenOff,
    };
    latest.map(|at| (at, stop))
}

/// The newest logs of a folder, those that have not ended before those that have.
pub fn newest(folder: &Path, most: usize) -> Vec<Kept> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut files: Vec<(SystemTime, PathBuf)> = entries
        .filter(|e| e.path().extension().is_some_and(|x| x == "jsonl"))
        .map(|e| (e.metadata().and_then(|m| m.modified()).unwrap_or(SystemTime::UNIX_EPOCH), e.path()))
        .collect();
    files.sort();
    let mut kept: Vec<Kept> = files.iter().rev().take(2 * most).filter_map(|f| Kept::of(&f.1)).collect();
    kept.sort_by_key(|k| k.stop == Stop::Ended);
    kept.truncate(most);
    kept
}
