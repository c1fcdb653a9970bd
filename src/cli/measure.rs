//! `measure`: the sizing sheet of a case's anatomy, and what the shelf offers.

use super::{fail, say};
use crate::anatomy::sheet::SizingSheet;
use crate::records::library;

/// What `measure` takes.
#[derive(clap::Args)]
pub struct MeasureArgs {
    /// A built-in case's name or a case file
    case: String,
}

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
            for offer in case.shelf.offers(&sheet) {
                say(format!("  {offer}"));
            }
            0
        }
    }
}
