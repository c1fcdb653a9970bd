//! Where cases are found: built in, or in files of the educator's own.

use crate::scenario::{Loaded, diagnostic, load};
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::Arc;

/// Cases that come with the program: id and text.
pub const BUILT_IN: &[(&str, &str)] = &[
    ("descending_rupture", include_str!("../../scenarios/descending_rupture.ron")),
    ("short_neck", include_str!("../../scenarios/short_neck.ron")),
    ("blunt_injury", include_str!("../../scenarios/blunt_injury.ron")),
    ("junction_leak", include_str!("../../scenarios/junction_leak.ron")),
    ("sheath_out", include_str!("../../scenarios/sheath_out.ron")),
    ("pelvic_bleed", include_str!("../../scenarios/pelvic_bleed.ron")),
    ("branch_malperfusion", include_str!("../../scenarios/branch_malperfusion.ron")),
    ("infrarenal_rupture", include_str!("../../scenarios/infrarenal_rupture.ron")),
    ("ward_weakness", include_str!("../../scenarios/ward_weakness.ron")),
];

/// The largest case file that is looked at, bytes.
pub const MAX_CASE_BYTES: u64 = 2 << 20;

/// Text of a case, by the name of a built-in one or the path of a file.
///
/// # Errors
/// A plain sentence with the remedy, when there is no such case or it cannot be read.
pub fn text(name: &str) -> Result<String, String> {
    if let Some((_, text)) = BUILT_IN.iter().find(|(id, _)| *id == name) {
        return Ok((*text).into());
    }
    let path = Path::new(name);
    let names = || BUILT_IN.iter().map(|(id, _)| *id).collect::<Vec<_>>().join(", ");
    let file = File::open(path).map_err(|e| {
        format!("{name}: {e}. Give a case file's path, or the name of a built-in case: {}", names())
    })?;
    let meta = file.metadata().map_err(|e| format!("{name}: {e}"))?;
    if meta.is_dir() {
        return Err(format!("{name} is a folder; give the case file in it"));
    }
    if meta.len() > MAX_CASE_BYTES {
        return Err(format!(
            "{name} is {} MB large; a case file is at most {} MB of text. Is it another kind of file?",
            meta.len() >> 20,
            MAX_CASE_BYTES >> 20
        ));
    }
    let mut bytes = Vec::new();
    // A device or a pipe has no honest size; the cap holds for it too.
    file.take(MAX_CASE_BYTES + 1).read_to_end(&mut bytes).map_err(|e| format!("{name}: {e}"))?;
    if bytes.len() as u64 > MAX_CASE_BYTES {
        return Err(format!(
            "{name} is larger than {} MB; is it another kind of file?",
            MAX_CASE_BYTES >> 20
        ));
    }
    String::from_utf8(bytes).map_err(|e| {
        format!("{name} is not text: byte {} is not UTF-8. Save it as UTF-8", e.utf8_error().valid_up_to())
    })
}

/// A case ready to run, or everything that is wrong with it.
///
/// # Errors
/// The plain sentence of [`text`], or the diagnostics already rendered.
pub fn case(name: &str) -> Result<Arc<Loaded>, String> {
    let text = text(name)?;
    let (loaded, diagnostics) = load(&text, name);
    match loaded {
        Some(loaded) => Ok(Arc::new(loaded)),
        None => Err(diagnostic::render(&diagnostics, &text, name, false)),
    }
}
