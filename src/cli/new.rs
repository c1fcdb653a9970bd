//! `new`: a commented case to start from.

use super::{fail, say};
use clap::ValueEnum;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::PathBuf;

/// What `new` takes.
#[derive(clap::Args)]
pub struct NewArgs {
    /// The case's short name: lower-case letters, digits and _
    name: String,
    /// The kind of emergency
    #[arg(long, value_enum, default_value_t = Kind::Rupture)]
    like: Kind,
    /// The folder to write it in
    #[arg(long, default_value = ".")]
    dir: PathBuf,
}

/// The kinds of emergency that there are starters for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Kind {
    /// A ruptured aneurysm of the descending thoracic aorta
    Rupture,
    /// A blunt injury of the aorta beyond the left subclavian artery
    Injury,
    /// An acute dissection of the descending aorta
    Dissection,
    /// A ruptured aneurysm below the renal arteries
    Abdominal,
    /// A broken pelvis that bleeds, for embolisation
    Pelvis,
    /// An iliac artery torn by the sheath of an earlier repair
    Access,
    /// A late leak where two earlier grafts have slid apart
    Leak,
    /// A patient on the ward after a long graft
    Ward,
}

impl Kind {
    fn fragments(self) -> &'static str {
        match self {
            Self::Rupture => include_str!("../../assets/starters/rupture.txt"),
            Self::Injury => include_str!("../../assets/starters/injury.txt"),
            Self::Dissection => include_str!("../../assets/starters/dissection.txt"),
            Self::Abdominal => include_str!("../../assets/starters/abdominal.txt"),
            Self::Pelvis => include_str!("../../assets/starters/pelvis.txt"),
            Self::Access => include_str!("../../assets/starters/access.txt"),
            Self::Leak => include_str!("../../assets/starters/leak.txt"),
            Self::Ward => include_str!("../../assets/starters/ward.txt"),
        }
    }
}

/// Writes it: 0, or 2 when it cannot be written. Nothing is ever overwritten.
pub fn new(args: &NewArgs) -> u8 {
    let plain = args.name.starts_with(|c: char| c.is_ascii_lowercase())
        && args.name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
    if !plain {
        return fail(format!(
            "\"{}\" cannot name a case: use lower-case letters, digits and _, such as my_first_case",
            args.name
        ));
    }
    let path = args.dir.join(format!("{}.ron", args.name));
    let written = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&path)
        .and_then(|mut file| file.write_all(starter(args.like, &args.name).as_bytes()));
    match written {
        Ok(()) => {
            let path = path.display();
            say(format!("{path} is yours now. Next:"));
            say(format!("  overwire check {path}        what is still to be written"));
            say(format!("  overwire measure {path}      the vessels as a sizing sheet"));
            say(format!("  overwire rehearse {path}     its model play"));
            0
        }
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {
            fail(format!("{} exists already and is left alone; choose another name", path.display()))
        }
        Err(e) => fail(format!("{}: {e}", path.display())),
    }
}

/// The text of a starter: the common frame with the kind's own parts.
pub fn starter(kind: Kind, name: &str) -> String {
    let mut text = include_str!("../../assets/starters/frame.ron").replace("{{id}}", name);
    for part in kind.fragments().split("\n== ").filter(|part| !part.trim().is_empty()) {
        let (key, value) = part.trim_start_matches("== ").split_once('\n').unwrap_or((part, ""));
        text = text.replace(&format!("{{{{{}}}}}", key.trim()), value.trim_end());
    }
    // Not every kind has everything.
    text.replace("{{bleed}}\n", "").replace("{{in_place}}\n", "")
}
