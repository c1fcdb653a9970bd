//! The log: an append-only list of lines, each chained to the one before, so that a loss is repaired and a change seen.
//!
//! 1. One JSON object a line: `{"h": hash, "l": line}`, where `hash` is the first 16 bytes of
//!    BLAKE3(previous hash, text of `line`), in hex; the first line follows 16 zero bytes.
//! 2. An order's line is written and synced before the order is acknowledged; events and samples follow it.
//! 3. A torn last line (the power cord) is cut off and reported. Any other fault is an alteration and is refused.
//!
//! This file knows text only; who owns the file and syncs it is the caller.

use super::event::{Event, Giver, Tick};
use crate::scenario::Order;
use serde::{Deserialize, Serialize};

/// Version of the log's own format.
pub const LOG_FORMAT: u32 = 1;

/// How help is given and what is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    /// Questions are explained at once.
    Guided,
    /// Any order; feedback at the end.
    #[default]
    Free,
    /// No hints and no teaching view; the log is sealed at the end.
    Examination,
}

/// One line of a log.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// The first line.
    Head(Box<Head>),
    /// An order, as given.
    Order {
        /// When.
        at: Tick,
        /// By whom.
        by: Giver,
        /// The order.
        order: Order,
    },
    /// Something that happened.
    Event(Event),
    /// A row of signals, in the order of [`crate::scenario::signal::SIGNALS`].
    Sample {
        /// When.
        at: Tick,
        /// Values; none where a signal has none yet.
        values: Vec<Option<f64>>,
    },
    /// The session was closed in good order.
    Close {
        /// When.
        at: Tick,
    },
}

/// What a session needs to be made again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Head {
    /// [`LOG_FORMAT`].
    pub format: u32,
    /// Version of the engine that ran it.
    pub engine: String,
    /// Name of the case.
    pub case_id: String,
    /// Whole text of the case file, so that the session can be played again even when the file has changed.
    pub case_text: String,
    /// Seed of all chance.
    pub seed: u64,
    /// Mode.
    pub mode: Mode,
    /// Names of a sample's columns.
    pub columns: Vec<String>,
    /// A log that this one was forked from: hash of its last common line, and when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub forked_from: Option<(String, Tick)>,
}

#[derive(Serialize)]
struct Chained<'a> {
    h: String,
    l: &'a serde_json::value::RawValue,
}

#[derive(Deserialize)]
struct ChainedOwned<'a> {
    h: String,
    #[serde(borrow)]
    l: &'a serde_json::value::RawValue,
}

/// The running hash of a log.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Chain([u8; 16]);

impl Chain {
    fn next(self, text: &str) -> Self {
        let mut hasher = blake3::Hasher::new();
        hasher.update(&self.0);
        hasher.update(text.as_bytes());
        let mut out = [0u8; 16];
        out.copy_from_slice(&hasher.finalize().as_bytes()[..16]);
        Self(out)
    }

    /// The hash in hex.
    pub fn hex(self) -> String {
        self.0.iter().map(|b| format!("{b:02x}")).collect()
    }

    /// The text of one more line, newline included, and the chain after it.
    pub fn append(self, line: &Line) -> Result<(String, Self), serde_json::Error> {
        let body = serde_json::value::to_raw_value(line)?;
        let next = self.next(body.get());
        let mut text = serde_json::to_string(&Chained { h: next.hex(), l: &body })?;
        text.push('\n');
        Ok((text, next))
    }
}

/// A log that was read.
#[derive(Clone, Debug)]
pub struct Read {
    /// Its lines.
    pub lines: Vec<Line>,
    /// The chain at its end, to go on from.
    pub chain: Chain,
    /// How many bytes are sound; a torn tail lies beyond.
    pub sound_bytes: usize,
    /// Was there a torn tail?
    pub torn: bool,
}

/// Why a log was refused.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LogFault {
    /// Not a log at all.
    #[error("this is not a session log: {0}. A log begins with a head line written by this program")]
    NotALog(String),
    /// The chain breaks.
    #[error("line {line} was altered: its hash does not follow from the line before. The lines up to {} are as they were written", line - 1)]
    Altered {
        /// First bad line, from 1.
        line: usize,
    },
    /// A line that no session writes.
    #[error("line {line} cannot be read: {why}. The lines up to {} are sound", line - 1)]
    Unreadable {
        /// The line, from 1.
        line: usize,
        /// What was wrong.
        why: String,
    },
    /// From a later program.
    #[error(
        "this log has format {found}; this program reads format {LOG_FORMAT}. Use the program version that wrote it"
    )]
    LaterFormat {
        /// Its format.
        found: u32,
    },
}

/// The longest line that is read; a longer one is hostile.
const MAX_LINE_BYTES: usize = 8 << 20;

/// Reads a whole log, verifying the chain.
///
/// # Errors
/// See [`LogFault`]; a torn last line is not an error but is reported in [`Read::torn`].
pub fn read(text: &[u8]) -> Result<Read, LogFault> {
    let mut out = Read { lines: Vec::new(), chain: Chain::default(), sound_bytes: 0, torn: false };
    let mut rest = text;
    while !rest.is_empty() {
        let number = out.lines.len() + 1;
        let end = rest.iter().position(|&b| b == b'\n');
        let Some(end) = end else {
            out.torn = true;
            break;
        };
        let last = end + 1 == rest.len();
        match read_line(&rest[..end], number, out.chain) {
            Ok((line, chain)) => {
                if number == 1 {
                    match &line {
                        Line::Head(head) if head.format > LOG_FORMAT => {
                            return Err(LogFault::LaterFormat { found: head.format });
                        }
                        Line::Head(_) => {}
                        _ => return Err(LogFault::NotALog("its first line is not a head".into())),
                    }
                }
                out.lines.push(line);
                out.chain = chain;
            }
            // A sector of the last write can be lost while its newline survives.
            Err(LogFault::Unreadable { .. }) if last && number > 1 => {
                out.torn = true;
                break;
            }
            Err(LogFault::Unreadable { why, .. }) if number == 1 => return Err(LogFault::NotALog(why)),
            Err(fault) => return Err(fault),
        }
        out.sound_bytes += end + 1;
        rest = &rest[end + 1..];
    }
    if out.lines.is_empty() {
        return Err(LogFault::NotALog("it is empty".into()));
    }
    Ok(out)
}

fn read_line(bytes: &[u8], number: usize, chain: Chain) -> Result<(Line, Chain), LogFault> {
    let unreadable = |why: String| LogFault::Unreadable { line: number, why };
    if bytes.len() > MAX_LINE_BYTES {
        return Err(unreadable("it is too long".into()));
    }
    let text = std::str::from_utf8(bytes).map_err(|_| unreadable("it is not text".into()))?;
    let chained: ChainedOwned = serde_json::from_str(text).map_err(|e| unreadable(e.to_string()))?;
    let next = chain.next(chained.l.get());
    if next.hex() != chained.h {
        return Err(LogFault::Altered { line: number });
    }
    let line: Line = serde_json::from_str(chained.l.get()).map_err(|e| unreadable(e.to_string()))?;
    Ok((line, next))
}
