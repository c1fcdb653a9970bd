//! `image`: the fluoroscopy picture, a run, or the planning CT, at a moment of a play; as PNG or DICOM.

mod section;

use super::{fail, say};
use crate::anatomy::{Rail, Site};
use crate::imaging::{Grey, ImagingError, Plane, SubtractionDisplay, dicom, overlay};
use crate::math::Streams;
use crate::records::library;
use crate::scenario::quantity::Span;
use crate::session::event::{Giver, Tick};
use crate::session::log::Mode;
use crate::session::{Session, planned};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What `image` takes.
#[derive(clap::Args)]
pub struct ImageArgs {
    /// A built-in case's name or a case file
    case: String,
    /// A play of the case, or a file with one
    #[arg(long, default_value = "model")]
    play: String,
    /// When, such as "26 min"; the planning CT needs no time
    #[arg(long, required_unless_present_any = ["ct", "section"], default_value = "0 s", hide_default_value = true)]
    at: String,
    /// C-arm angles LAO,CRA in degrees; as it stands when left out
    #[arg(long, value_name = "LAO,CRA", allow_hyphen_values = true)]
    pose: Option<String>,
    /// A subtracted run instead of fluoroscopy: an animated PNG, or all frames with their mask where FILE ends in .dcm
    #[arg(long)]
    run: bool,
    /// Of the run only the most contrast that each pixel held
    #[arg(long, requires = "run")]
    peak: bool,
    /// Moves the mask before it is subtracted, pixels right and down
    #[arg(long, value_name = "RIGHT,DOWN", allow_hyphen_values = true, requires = "run")]
    shift: Option<String>,
    /// Names of branches and lesions over the picture
    #[arg(long)]
    names: bool,
    /// The planning CT instead: --out is a folder for a DICOM series, in slices this far apart
    #[arg(long, value_name = "MM", conflicts_with_all = ["run", "names", "pose"])]
    ct: Option<f64>,
    /// One picture of the planning CT instead: as the scanner lies, across the vessel, the vessel stretched along its
    /// centreline (curved reformat), or the brightest of a slab (maximum-intensity projection)
    #[arg(long, value_enum, conflicts_with_all = ["run", "names", "pose", "ct"])]
    section: Option<section::Section>,
    /// Where along the aorta its middle lies, mm from the valve; at the lesion when left out
    #[arg(long, value_name = "MM", requires = "section")]
    place: Option<f64>,
    /// Edge of the section, mm
    #[arg(long, value_name = "MM", default_value_t = 300.0, requires = "section")]
    field: f64,
    /// Turn about the centreline or, of a slab, about the patient, degrees
    #[arg(long, value_name = "DEG", default_value_t = 0.0, allow_hyphen_values = true, requires = "section")]
    turn: f64,
    /// Thickness of the slab, mm
    #[arg(long, value_name = "MM", default_value_t = 60.0, requires = "section")]
    slab: f64,
    /// Window of the section: level and width in Hounsfield units
    #[arg(long, value_name = "LEVEL,WIDTH", allow_hyphen_values = true, requires = "section")]
    window: Option<String>,
    /// Seed of all chance
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Where the PNG (or, for a run, the DICOM file) is written
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

/// 0 when it was written.
pub fn image(args: &ImageArgs) -> u8 {
    let written = match (args.ct, args.section) {
        (Some(apart_mm), _) => series(args, apart_mm),
        (None, Some(section)) => section.draw(args).and_then(|bytes| write(&args.out, &bytes)),
        (None, None) => draw(args).and_then(|bytes| write(&args.out, &bytes)),
    };
    match written {
        Ok(()) => {
            say(format!("{} written", args.out.display()));
            0
        }
        Err(why) => fail(why),
    }
}

fn write(path: &Path, bytes: &[u8]) -> Result<(), String> {
    std::fs::write(path, bytes).map_err(|e| format!("{}: {e}", path.display()))
}

fn draw(args: &ImageArgs) -> Result<Vec<u8>, String> {
    let case = library::case(&args.case)?;
    let at = Tick::from_ms(Span::parse(&args.at).map_err(|why| format!("--at: {why}"))?.ms);
    let mut player = super::rehearse::find_player(&case, &args.play)?;
    let mut session = Session::new(Arc::clone(&case), args.seed, Mode::Free);
    while session.now() < at && session.ended().is_none() {
        for order in player.poll(&session) {
            // A refusal is part of the play's story.
            let _ = session.order(Giver::Trainee, order);
        }
        session.advance(1);
    }
    let mut pose = session.pose();
    if let Some(text) = &args.pose {
        let (lao, cra) = pair("--pose", "45,0", text)?;
        pose = pose.turned(lao, cra);
    }
    let fault = |e: ImagingError| e.to_string();
    let named = |picture: Grey| match args.names {
        true => overlay::draw(picture, &overlay::labels(&case.tree, &pose.view(PIXELS))),
        false => picture,
    };
    if !args.run {
        return named(session.fluoroscopy(&pose, PIXELS)?).png().map_err(fault);
    }
    let run = session.angiogram(&pose, PIXELS)?;
    if args.out.extension().is_some_and(|e| e.eq_ignore_ascii_case("dcm")) {
        return Ok(dicom::run(&run, &study(args)));
    }
    let shift = args.shift.as_ref().map_or(Ok((0.0, 0.0)), |text| pair("--shift", "0.5,-1", text))?;
    let shift = (shift.0 as f32, shift.1 as f32);
    let display = SubtractionDisplay::default();
    if args.peak {
        return named(run.peak_image(shift, &display)).captioned().png().map_err(fault);
    }
    let frames: Vec<_> =
        (0..run.frames.len()).map(|i| named(run.subtracted(i, shift, &display)).captioned()).collect();
    Grey::animated_png(&frames, run.spec.fps).map_err(fault)
}

/// Two numbers with a comma between them.
fn pair(option: &str, example: &str, text: &str) -> Result<(f64, f64), String> {
    let numbers: Vec<f64> = text.split(',').filter_map(|a| a.trim().parse().ok()).collect();
    match numbers[..] {
        [a, b] => Ok((a, b)),
        _ => Err(format!("{option}: write two numbers, such as {example}")),
    }
}

fn study(args: &ImageArgs) -> dicom::Study {
    let case =
        Path::new(&args.case).file_stem().map_or_else(|| args.case.clone(), |s| s.to_string_lossy().into());
    dicom::Study { case, session: format!("{} {} {}", args.play, args.seed, args.at) }
}

/// Slices from above the arch to the groins, as one file each.
fn series(args: &ImageArgs, apart_mm: f64) -> Result<(), String> {
    if !(0.5..=20.0).contains(&apart_mm) {
        return Err("--ct: write between 0.5 and 20 mm between slices".into());
    }
    let case = library::case(&args.case)?;
    std::fs::create_dir_all(&args.out).map_err(|e| format!("{}: {e}", args.out.display()))?;
    let scanned = planned(&case);
    let scan = scanned.scan();
    let rails = [Site::RightFemoral, Site::LeftFemoral].map(|site| Rail::for_access(&case.tree, site));
    let heights = rails.iter().flatten().flat_map(|rail| {
        let places =
            (0..=(rail.length_mm() / 5.0) as usize).map(|i| 5.0 * i as f64).chain([rail.length_mm()]);
        places.map(|mm| rail.frame(&case.tree, mm).at.z)
    });
    let (low, high) = heights.fold((f64::MAX, f64::MIN), |(a, b), z| (a.min(z), b.max(z)));
    let (top, count) = (high + ABOVE_MM, ((high + ABOVE_MM - low) / apart_mm) as usize + 1);
    for k in 0..count {
        let plane = Plane::axial(top - apart_mm * k as f64, 0.0, 0.0, PIXELS, CT_PIXEL_MM);
        let mut stream = Streams::new(args.seed).named(&format!("ct/{k}"));
        let slice = scan.slice(&plane, &mut stream).map_err(|e| e.to_string())?;
        let file = dicom::ct_slice(&slice, &plane, k + 1, apart_mm, &study(args));
        write(&args.out.join(format!("ct{:04}.dcm", k + 1)), &file)?;
    }
    Ok(())
}

/// Pixels on each edge of every picture.
const PIXELS: usize = 512;
/// Edge of a CT pixel, mm: a field of 37 cm, as for a chest.
const CT_PIXEL_MM: f64 = 0.72;
/// How far above the arch a series begins, mm.
const ABOVE_MM: f64 = 40.0;
