//! `screens`: goes through every screen of the window by itself and saves a picture of each, for the manual and for tests.

use super::{fail, say};
use crate::desk::walk::Walk;
use std::path::PathBuf;

/// What `screens` takes.
#[derive(clap::Args)]
pub struct ScreensArgs {
    /// Folder for the pictures; made if it is not there
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// A built-in case's name or a case file
    #[arg(long, default_value = crate::records::library::BUILT_IN[0].0)]
    case: String,
    /// Play of the case that gives the orders
    #[arg(long, default_value = "model")]
    play: String,
    /// Size of the window, pixels
    #[arg(long, default_value = "1280x800", value_parser = size)]
    size: (u32, u32),
    /// Size of everything in it, per cent
    #[arg(long, default_value_t = 100, value_parser = clap::value_parser!(u16).range(80..=200))]
    zoom: u16,
}

/// 0 when every picture was saved, 2 when there is no window or a picture could not be saved.
pub fn screens(args: &ScreensArgs) -> u8 {
    if let Err(why) = std::fs::create_dir_all(&args.out) {
        return fail(format!("{}: {why}", args.out.display()));
    }
    let walk = Walk {
        folder: args.out.clone(),
        window: args.size,
        size_percent: args.zoom,
        case: args.case.clone(),
        play: args.play.clone(),
    };
    match crate::desk::show_all(walk) {
        Ok(report) => {
            say(report);
            0
        }
        Err(why) => fail(why),
    }
}

fn size(text: &str) -> Result<(u32, u32), String> {
    let remedy = || format!("I read \"{text}\"; write width and height in pixels, such as 1280x800");
    let (w, h) = text.split_once('x').ok_or_else(remedy)?;
    let (w, h): (u32, u32) = (w.parse().map_err(|_| remedy())?, h.parse().map_err(|_| remedy())?);
    if (640..=7680).contains(&w) && (480..=4320).contains(&h) { Ok((w, h)) } else { Err(remedy()) }
}
