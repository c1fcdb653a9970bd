//! Lets sounds be heard through a player program that the system has: the desk itself is linked to no sound library.
//!
//! Each sound is written once to a folder of its own and played from there. A player that fails is not asked again; when
//! none is left, the desk goes on silently and can say why.

use super::Sound;
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// Players by the system that has them, the best first.
const PLAYERS: &[&str] = if cfg!(windows) {
    &["powershell.exe"]
} else if cfg!(target_os = "macos") {
    &["afplay"]
} else {
    &["pw-play", "paplay", "aplay"]
};
/// Sounds under way at most; what comes on top is not heard.
const MOST: usize = 4;

/// Why nothing can be heard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Silence {
    /// None of these programs is there.
    NoPlayer(Vec<&'static str>),
    /// The last player that was there failed, with its own words.
    Failed(String),
    /// The sounds cannot be written.
    NoFolder(String),
}

/// The speaker.
pub struct Speaker {
    /// Players that are left, the one in use last.
    players: Vec<PathBuf>,
    folder: Option<PathBuf>,
    written: BTreeSet<Sound>,
    sounding: Vec<Child>,
    silence: Option<Silence>,
}

impl Speaker {
    /// With the players that are found on the system's search path.
    pub fn find() -> Self {
        Self::among(&std::env::var_os("PATH").unwrap_or_default())
    }

    /// With the players that are found on this search path.
    pub fn among(path: &OsStr) -> Self {
        let find = |name: &&str| std::env::split_paths(path).map(|p| p.join(name)).find(|p| p.is_file());
        let players: Vec<PathBuf> = PLAYERS.iter().rev().filter_map(find).collect();
        let mut speaker =
            Self { players, folder: None, written: BTreeSet::new(), sounding: Vec::new(), silence: None };
        if speaker.players.is_empty() {
            speaker.silence = Some(Silence::NoPlayer(PLAYERS.to_vec()));
            return speaker;
        }
        match own_folder() {
            Ok(folder) => speaker.folder = Some(folder),
            Err(why) => speaker.silence = Some(Silence::NoFolder(why)),
        }
        speaker
    }

    /// Why nothing can be heard, if so.
    pub fn silence(&self) -> Option<&Silence> {
        self.silence.as_ref()
    }

    /// Begins a sound, and looks what became of those before.
    pub fn play(&mut self, sound: Sound) {
        self.look_after();
        let (None, Some(folder), Some(player)) = (&self.silence, &self.folder, self.players.last()) else {
            return;
        };
        let file = folder.join(sound.name());
        if !self.written.contains(&sound) {
            if let Err(why) = std::fs::write(&file, sound.wav()) {
                self.silence = Some(Silence::NoFolder(format!("{}: {why}", file.display())));
                return;
            }
            self.written.insert(sound);
        }
        if self.sounding.len() >= MOST {
            return;
        }
        match command(player, &file).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped()).spawn()
        {
            Ok(child) => self.sounding.push(child),
            Err(why) => self.give_up(why.to_string()),
        }
    }

    /// Ends what has ended; a player that failed is not asked again.
    fn look_after(&mut self) {
        let mut failed = None;
        self.sounding.retain_mut(|child| match child.try_wait() {
            Ok(None) => true,
            Ok(Some(status)) if status.success() => false,
            Ok(Some(_)) => {
                let mut said = String::new();
                if let Some(mut err) = child.stderr.take() {
                    let _ = err.read_to_string(&mut said);
                }
                failed = Some(said);
                false
            }
            Err(why) => {
                failed = Some(why.to_string());
                false
            }
        });
        if let Some(said) = failed {
            self.give_up(said);
        }
    }

    /// Goes on with the next player; when there is none, says what the last one said.
    fn give_up(&mut self, said: String) {
        let Some(player) = self.players.pop() else { return };
        // What the others began with it fails as well, and must not cost the next player its place.
        self.stop();
        if self.players.is_empty() {
            let name = player.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let said =
                said.lines().rev().find(|l| !l.trim().is_empty()).unwrap_or_default().trim().to_owned();
            self.silence = Some(Silence::Failed(format!("{name}: {said}")));
        }
    }

    fn stop(&mut self) {
        for mut child in self.sounding.drain(..) {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

impl Drop for Speaker {
    fn drop(&mut self) {
        self.stop();
        if let Some(folder) = &self.folder {
            let _ = std::fs::remove_dir_all(folder);
        }
    }
}

/// How this player plays a file.
fn command(player: &Path, file: &Path) -> Command {
    let mut command = Command::new(player);
    match player.file_stem().and_then(OsStr::to_str) {
        Some("powershell") => {
            // A quote in a path is doubled (about_Quoting_Rules).
            let path = file.display().to_string().replace('\'', "''");
            let play = format!("(New-Object Media.SoundPlayer '{path}').PlaySync()");
            command.args(["-NoProfile", "-NonInteractive", "-Command", &play]);
        }
        Some("aplay") => {
            command.arg("-q").arg(file);
        }
        _ => {
            command.arg(file);
        }
    }
    command
}

/// A new folder that nobody else has made.
fn own_folder() -> Result<PathBuf, String> {
    let base = std::env::temp_dir();
    let mut last = String::new();
    for n in 0..100 {
        let folder = base.join(format!("overwire-sound-{}-{n}", std::process::id()));
        match std::fs::create_dir(&folder) {
            Ok(()) => return Ok(folder),
            Err(why) => last = format!("{}: {why}", folder.display()),
        }
    }
    Err(last)
}
