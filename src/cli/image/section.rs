//! One picture of the planning CT, as the reading room shows it.

use super::{ImageArgs, PIXELS, pair};
use crate::anatomy::Site;
use crate::imaging::ct::ANGIO;
use crate::imaging::cut::{Cut, View};
use crate::math::Streams;
use crate::records::library;
use crate::session::planned;

/// Which.
#[derive(Clone, Copy, clap::ValueEnum)]
pub enum Section {
    /// As the scanner lies
    Axial,
    /// At right angles to the centreline
    Across,
    /// Curved reformat: the vessel stretched along its centreline
    Stretched,
    /// Maximum-intensity projection of a slab
    Brightest,
}

impl Section {
    /// The picture as a PNG.
    pub fn draw(self, args: &ImageArgs) -> Result<Vec<u8>, String> {
        let case = library::case(&args.case)?;
        let scanned = planned(&case);
        let scan = scanned.scan();
        let view = match self {
            Self::Axial => View::Axial,
            Self::Across => View::Across,
            Self::Stretched => View::Stretched,
            Self::Brightest => View::Brightest,
        };
        let lesion = case.lesion_place();
        let cut = Cut {
            view,
            at_mm: args.place.unwrap_or(lesion.at_mm),
            leg: if args.place.is_some() { Site::RightFemoral } else { lesion.leg },
            field_mm: args.field,
            on_vessel: true,
            turn_deg: args.turn,
            slab_mm: args.slab,
        };
        let mut stream = Streams::new(args.seed).named("ct");
        let slice = cut.of(&case.tree, &scan, PIXELS, &mut stream).map_err(|e| e.to_string())?;
        let usual = (f64::from(ANGIO.0), f64::from(ANGIO.1));
        let (level, width) =
            args.window.as_ref().map_or(Ok(usual), |text| pair("--window", "200,800", text))?;
        slice.window(level as f32, width as f32).captioned().png().map_err(|e| e.to_string())
    }
}
