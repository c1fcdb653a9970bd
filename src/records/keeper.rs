//! A session together with its log file: an order is on the disk before it is acknowledged.
//!
//! 1. [`Keeper::start`] or [`Keeper::resume`]; a torn tail is cut off and reported.
//! 2. [`Keeper::order`] writes and syncs the order's line, then hands it to the session.
//! 3. [`Keeper::advance`] lets time pass; events and samples are written, and synced with the next order or [`Keeper::close`].

use crate::scenario::{Loaded, Order};
use crate::session::event::Giver;
use crate::session::log::{self, Chain, Line, LogFault, Mode};
use crate::session::{Session, replay};
use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Why a log could not be kept or taken up again.
#[derive(Debug, thiserror::Error)]
pub enum KeepFault {
    /// The file could not be made, read or written. The session in memory is sound.
    #[error("the log {} cannot be {doing}: {why}. Choose another place with --log FILE", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// "written", "read" ...
        doing: &'static str,
        /// The system's reason.
        why: std::io::Error,
    },
    /// There is a log already.
    #[error("{} exists already. Give another name, or take it up again with: overwire resume {}", .0.display(), .0.display())]
    Exists(PathBuf),
    /// The log was refused.
    #[error("{}: {fault}", path.display())]
    Log {
        /// Which.
        path: PathBuf,
        /// Why.
        fault: LogFault,
    },
    /// The log cannot be played again.
    #[error("{}: {why}", path.display())]
    Replay {
        /// Which.
        path: PathBuf,
        /// Why.
        why: String,
    },
}

/// The largest log that is read.
const MAX_LOG_BYTES: u64 = 512 << 20;

/// A session and its log.
pub struct Keeper {
    session: Session,
    sink: Option<Sink>,
}

struct Sink {
    path: PathBuf,
    file: File,
    /// After the last line that is wholly in the file.
    chain: Chain,
    /// Bytes up to there.
    sound_bytes: u64,
    /// Lines that could not be written yet, oldest first: a full disk may be cleared.
    waiting: Vec<Line>,
}

impl Sink {
    /// Writes what waits and then these; what could not be written waits for the next time, and no part of it stays in
    /// the file.
    fn write(&mut self, lines: Vec<Line>) -> Result<(), KeepFault> {
        self.waiting.extend(lines);
        if self.waiting.is_empty() {
            return Ok(());
        }
        let mut text = String::new();
        let mut chain = self.chain;
        for line in &self.waiting {
            let (t, next) = chain.append(line).map_err(|e| self.fault("written", e.into()))?;
            text.push_str(&t);
            chain = next;
        }
        if let Err(why) = self.file.write_all(text.as_bytes()) {
            self.cut();
            return Err(self.fault("written", why));
        }
        self.chain = chain;
        self.sound_bytes += text.len() as u64;
        self.waiting.clear();
        Ok(())
    }

    /// Writes an order and has the disk keep it; when either fails, the order was never there.
    fn write_order(&mut self, line: Line) -> Result<(), KeepFault> {
        self.write(Vec::new())?;
        let before = (self.chain, self.sound_bytes);
        let kept = self.write(vec![line]).and_then(|()| self.sync());
        if kept.is_err() {
            self.waiting.clear();
            (self.chain, self.sound_bytes) = before;
            self.cut();
        }
        kept
    }

    /// Takes the file back to its last whole line. Where even that fails, reading reports a torn tail.
    fn cut(&mut self) {
        let _ = self.file.set_len(self.sound_bytes);
        let _ = self.file.seek(SeekFrom::Start(self.sound_bytes));
    }

    fn sync(&self) -> Result<(), KeepFault> {
        self.file.sync_data().map_err(|e| self.fault("written", e))
    }
    fn fault(&self, doing: &'static str, why: std::io::Error) -> KeepFault {
        KeepFault::File { path: self.path.clone(), doing, why }
    }
}

impl Keeper {
    /// Begins a session; with a path its log is made there.
    ///
    /// # Errors
    /// If the file exists or cannot be made; nothing has then been started.
    pub fn start(case: Arc<Loaded>, seed: u64, mode: Mode, path: Option<&Path>) -> Result<Self, KeepFault> {
        Self::keep(Session::new(case, seed, mode), path)
    }

    /// Keeps a session that stands at any moment: its whole past is written first (a fork's beginning).
    ///
    /// # Errors
    /// As for [`Keeper::start`].
    pub fn keep(mut session: Session, path: Option<&Path>) -> Result<Self, KeepFault> {
        let Some(path) = path else { return Ok(Self { session, sink: None }) };
        let file = OpenOptions::new().write(true).create_new(true).open(path).map_err(|why| {
            if why.kind() == std::io::ErrorKind::AlreadyExists {
                KeepFault::Exists(path.into())
            } else {
                KeepFault::File { path: path.into(), doing: "written", why }
            }
        })?;
        let mut sink =
            Sink { path: path.into(), file, chain: Chain::default(), sound_bytes: 0, waiting: Vec::new() };
        sink.write(session.take_lines())?;
        sink.sync()?;
        Ok(Self { session, sink: Some(sink) })
    }

    /// Takes a session up where its log ends. Says what was repaired.
    ///
    /// # Errors
    /// If the log is altered, from another engine whose events differ, or cannot be read. The file is then untouched.
    pub fn resume(path: &Path) -> Result<(Self, Vec<String>), KeepFault> {
        let (read, bytes) = read_whole(path)?;
        let mut notes = Vec::new();
        let mut session =
            replay::rebuild(&read.lines).map_err(|why| KeepFault::Replay { path: path.into(), why })?;
        let file_fault = |why| KeepFault::File { path: path.into(), doing: "written", why };
        let mut file = OpenOptions::new().write(true).open(path).map_err(file_fault)?;
        if read.torn {
            notes.push(format!(
                "the last line was torn (the program or the power stopped while it was written); {} bytes were cut off, no acknowledged order among them",
                bytes - read.sound_bytes
            ));
            file.set_len(read.sound_bytes as u64).map_err(file_fault)?;
        }
        let sound_bytes = file.seek(SeekFrom::End(0)).map_err(file_fault)?;
        let mut sink = Sink { path: path.into(), file, chain: read.chain, sound_bytes, waiting: Vec::new() };
        // The replay may know lines that were still in memory when the program stopped: they follow the log's last line.
        let all = session.take_lines();
        sink.write(all.get(read.lines.len()..).unwrap_or_default().to_vec())?;
        sink.sync()?;
        Ok((Self { session, sink: Some(sink) }, notes))
    }

    /// The session.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// The session, for what changes no state of it: draining its traces and pictures.
    pub fn session_mut(&mut self) -> &mut Session {
        &mut self.session
    }

    /// Where the log lies.
    pub fn path(&self) -> Option<&Path> {
        self.sink.as_ref().map(|s| s.path.as_path())
    }

    /// Gives an order. `Ok(Err(why))` is a refusal by the state of things; it is an event like any other.
    ///
    /// # Errors
    /// If the log cannot be written: the order was then not taken.
    pub fn order(&mut self, by: Giver, order: Order) -> Result<Result<(), String>, KeepFault> {
        if let Some(sink) = &mut self.sink {
            sink.write(self.session.take_lines())?;
            sink.write_order(Line::Order { at: self.session.now(), by: by.clone(), order: order.clone() })?;
        }
        let reply = self.session.order(by, order);
        // The order's own line was written above.
        let lines = self.session.take_lines();
        if let Some(sink) = &mut self.sink {
            // The order is kept already; what came of it waits if the disk has no room for it, and can be computed again.
            let _ = sink.write(lines.get(1..).unwrap_or_default().to_vec());
        }
        Ok(reply)
    }

    /// Lets time pass.
    ///
    /// # Errors
    /// If the log cannot be written; the session has moved on and is sound, and what is missing is written as soon as it can be.
    pub fn advance(&mut self, ticks: u64) -> Result<(), KeepFault> {
        self.session.advance(ticks);
        self.flush()
    }

    fn flush(&mut self) -> Result<(), KeepFault> {
        let lines = self.session.take_lines();
        match &mut self.sink {
            Some(sink) => sink.write(lines),
            None => Ok(()),
        }
    }

    /// Ends the log in good order and gives the session back.
    ///
    /// # Errors
    /// If the log cannot be written.
    pub fn close(mut self) -> Result<Session, KeepFault> {
        self.session.close();
        self.flush()?;
        if let Some(sink) = &self.sink {
            sink.sync()?;
        }
        Ok(self.session)
    }
}

/// The lines of a log, without one that was torn at its end.
///
/// # Errors
/// If it cannot be read or was altered.
pub fn read_lines(path: &Path) -> Result<Vec<Line>, KeepFault> {
    Ok(read_whole(path)?.0.lines)
}

/// A log and its size in bytes.
fn read_whole(path: &Path) -> Result<(log::Read, usize), KeepFault> {
    let bytes = read_log(path)?;
    let read = log::read(&bytes).map_err(|fault| KeepFault::Log { path: path.into(), fault })?;
    Ok((read, bytes.len()))
}

/// Reads a log's bytes.
///
/// # Errors
/// If it cannot be read or is larger than any session's.
pub fn read_log(path: &Path) -> Result<Vec<u8>, KeepFault> {
    let fault = |why| KeepFault::File { path: path.into(), doing: "read", why };
    let mut file = File::open(path).map_err(fault)?;
    let size = file.metadata().map_err(fault)?.len();
    if size > MAX_LOG_BYTES {
        return Err(fault(std::io::Error::other(format!(
            "it is {} MB large; no session's log is over {} MB",
            size >> 20,
            MAX_LOG_BYTES >> 20
        ))));
    }
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes).map_err(fault)?;
    Ok(bytes)
}
