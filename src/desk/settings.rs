//! What a trainee may set for themselves: text size, contrast, movement, sound.

use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// Settings, kept between sessions.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// Size of everything, per cent: 80 to 200.
    pub size_percent: u16,
    /// Black and white.
    pub contrast: bool,
    /// Nothing moves that need not: traces stand, alarms do not flash.
    pub still: bool,
    /// The monitor can be heard. Off until somebody wants it: a desk may stand among other people's work.
    pub sound: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self { size_percent: 100, contrast: false, still: false, sound: false }
    }
}

impl Settings {
    /// Sizes offered, per cent.
    pub const SIZES: [u16; 6] = [80, 100, 125, 150, 175, 200];

    /// Factor of everything on the screen.
    pub fn zoom(&self) -> f32 {
        f32::from(self.size_percent.clamp(80, 200)) / 100.0
    }

    /// As they were left; the usual ones when there are none or they cannot be read.
    pub fn load() -> Self {
        let text = path().and_then(|p| std::fs::read_to_string(p).ok());
        text.and_then(|t| ron::from_str(&t).ok()).unwrap_or_default()
    }

    /// Keeps them.
    ///
    /// # Errors
    /// In plain words, when the folder cannot be written.
    pub fn save(&self) -> Result<(), String> {
        let path = path().ok_or("there is no home folder, so settings last only until the window closes")?;
        let text =
            ron::ser::to_string_pretty(self, ron::ser::PrettyConfig::new()).map_err(|e| e.to_string())?;
        let folder = path.parent().ok_or("the settings folder has no parent")?;
        std::fs::create_dir_all(folder)
            .and_then(|()| std::fs::write(&path, text))
            .map_err(|e| format!("settings were not kept: {} cannot be written ({e})", path.display()))
    }
}

/// `$XDG_CONFIG_HOME/overwire/desk.ron`, or the same under `~/.config` (XDG Base Directory Specification 0.8);
/// `%APPDATA%` on Windows.
fn path() -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let base = if cfg!(windows) {
        set("APPDATA")
    } else {
        set("XDG_CONFIG_HOME").or_else(|| set("HOME").map(|h| h.join(".config")))
    };
    Some(base?.join("overwire").join("desk.ron"))
}
