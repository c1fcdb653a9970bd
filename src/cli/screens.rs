//! `screens`: goes through every screen of the window by itself, saves a picture of each, or measures how fast it is.

use super::{fail, rehearse, say};
use crate::desk::walk::{Errand, Walk};
use crate::records::library;
use std::path::PathBuf;

/// What `screens` takes.
#[derive(clap::Args)]
pub struct ScreensArgs {
    /// Folder for the pictures; made if it is not there
    #[arg(long, value_name = "DIR", required_unless_present = "measure")]
    out: Option<PathBuf>,
    /// Instead of pictures: first paint, processor time at rest, frames a second in session
    #[arg(long, conflicts_with = "out")]
    measure: bool,
    /// A built-in case's name or a case file
    #[arg(long, default_value = library::BUILT_IN[0].0)]
    case: String,
    /// Play that gives the orders: a name or a file
    #[arg(long, default_value = "model")]
    play: String,
    /// Size of the window, pixels
    #[arg(long, default_value = "1280x800", value_parser = size)]
    size: (u32, u32),
    /// Draw into memory: needs no display; the next frame begins when the last one is finished
    #[arg(long)]
    no_window: bool,
    /// Size of everything in it, per cent
    #[arg(long, default_value_t = 100, value_parser = clap::value_parser!(u16).range(80..=200))]
    zoom: u16,
}

/// 0 when every step was done, 2 when there is no window where one is wanted, or a step failed.
pub fn screens(args: &ScreensArgs) -> u8 {
    match walk(args).and_then(crate::desk::walk_through) {
        Ok(report) => {
            say(report);
            0
        }
        Err(why) => fail(why),
    }
}

fn walk(args: &ScreensArgs) -> Result<Walk, String> {
    let errand = match &args.out {
        None => Errand::Figures,
        Some(folder) => {
            std::fs::create_dir_all(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
            Errand::Pictures(folder.clone())
        }
    };
    let case = library::case(&args.case)?;
    let player = rehearse::find_player(&case, &args.play)?;
    Ok(Walk { errand, window: args.size, unseen: args.no_window, size_percent: args.zoom, case, player })
}

fn size(text: &str) -> Result<(u32, u32), String> {
    let remedy = || format!("I read \"{text}\"; write width and height in pixels, such as 1280x800");
    let (w, h) = text.split_once('x').ok_or_else(remedy)?;
    let (w, h): (u32, u32) = (w.parse().map_err(|_| remedy())?, h.parse().map_err(|_| remedy())?);
    if (640..=7680).contains(&w) && (480..=4320).contains(&h) { Ok((w, h)) } else { Err(remedy()) }
}
