//! `measure`: the sizing sheet of a case's anatomy, and what the shelf offers.

use super::{fail, say};
use crate::anatomy::sheet::SizingSheet;
use crate::records::library;

/// What `measure` takes.
#[derive(clap::Args)]
pub struct MeasureArgs {
    /// A built-in case's name or a case file
    case: String,
    /// Show every graft of the shelf, however badly it fits
    #[arg(long)]
    all: bool,
}

/// Grafts that do not fit and are shown all the same.
const OTHERS: usize = 6;

/// 0 when it was printed.
pub fn measure(args: &MeasureArgs) -> u8 {
    match library::case(&args.case) {
        Err(why) => fail(why),
        Ok(case) => {
            let recovered = case.case.patient.map_rest_mmhg;
            let Some(sheet) = SizingSheet::measure(&case.tree, 0, recovered) else {
                return fail("this anatomy has no lesion of the aorta to measure");
            };
            say(super::TRAINING_ONLY);
            say(format!("{sheet}"));
            say("\nWhat the shelf offers, least against it first:");
            let offers = case.shelf.offers(&sheet);
            // All that fit, and enough of the others to see why they do not.
            let fit = offers.iter().filter(|o| o.against.is_empty()).count();
            let shown = if args.all { offers.len() } else { offers.len().min(fit + OTHERS) };
            for offer in &offers[..shown] {
                say(format!("  {:20} {offer}", offer.id));
            }
            if shown < offers.len() {
                say(format!("  and {} that fit less; --all shows them", offers.len() - shown));
            }
            0
        }
    }
}
