//! `image`: the fluoroscopy picture, or a run, at a moment of a play.

use super::{fail, say};
use crate::imaging::SubtractionDisplay;
use crate::records::library;
use crate::scenario::quantity::Span;
use crate::session::Session;
use crate::session::event::{Giver, Tick};
use crate::session::log::Mode;
use std::path::PathBuf;

/// What `image` takes.
#[derive(clap::Args)]
pub struct ImageArgs {
    /// A built-in case's name or a case file
    case: String,
    /// A play of the case, or a file with one
    #[arg(long, default_value = "model")]
    play: String,
    /// When, such as "26 min"
    #[arg(long)]
    at: String,
    /// C-arm angles LAO,CRA in degrees; as it stands when left out
    #[arg(long, value_name = "LAO,CRA", allow_hyphen_values = true)]
    pose: Option<String>,
    /// A subtracted run instead of fluoroscopy: an animated PNG
    #[arg(long)]
    run: bool,
    /// Seed of all chance
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Where the PNG is written
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

/// 0 when it was written.
pub fn image(args: &ImageArgs) -> u8 {
    match draw(args)
        .and_then(|png| std::fs::write(&args.out, png).map_err(|e| format!("{}: {e}", args.out.display())))
    {
        Ok(()) => {
            say(format!("{} written", args.out.display()));
            0
        }
        Err(why) => fail(why),
    }
}

fn draw(args: &ImageArgs) -> Result<Vec<u8>, String> {
    let case = library::case(&args.case)?;
    let at = Tick::from_ms(Span::parse(&args.at).map_err(|why| format!("--at: {why}"))?.ms);
    let mut player = super::rehearse::find_player(&case, &args.play)?;
    let mut session = Session::new(case, args.seed, Mode::Free);
    while session.now() < at && session.ended().is_none() {
        for order in player.poll(&session) {
            // A refusal is part of the play's story.
            let _ = session.order(Giver::Trainee, order);
        }
        session.advance(1);
    }
    let mut pose = session.pose();
    if let Some(text) = &args.pose {
        let angles: Vec<f64> = text.split(',').filter_map(|a| a.trim().parse().ok()).collect();
        let [lao, cra] = angles[..] else { return Err("--pose: write two angles, such as 45,0".into()) };
        pose = pose.turned(lao, cra);
    }
    if !args.run {
        return session.fluoroscopy(&pose, 512)?.png().map_err(|e| e.to_string());
    }
    let run = session.angiogram(&pose, 512)?;
    let display = SubtractionDisplay::default();
    let frames: Vec<_> =
        (0..run.frames.len()).map(|i| run.subtracted(i, (0.0, 0.0), &display).captioned()).collect();
    crate::imaging::Grey::animated_png(&frames, 3.0).map_err(|e| e.to_string())
}
