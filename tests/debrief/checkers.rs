//! The page before outside judges: the Nu HTML checker, axe-core (WCAG) and a browser with and without scripts.
//!
//! `OVERWIRE_HTML_CHECKERS` names a folder whose `node_modules` hold vnu-jar, axe-core and playwright-core; Java and Chromium are
//! the machine's own. Without it the checks say that they were skipped, and fail under `OVERWIRE_REQUIRE_ALL=1`.

use super::report::{page_of, session_saying};
use overwire::assess::Judgement;
use overwire::debrief::compare::{self, Side};
use std::path::PathBuf;
use std::process::Command;

fn checkers() -> Option<PathBuf> {
    let folder = std::env::var_os("OVERWIRE_HTML_CHECKERS").map(PathBuf::from);
    if folder.is_none() {
        assert!(std::env::var_os("OVERWIRE_REQUIRE_ALL").is_none(), "OVERWIRE_HTML_CHECKERS is not set");
        eprintln!("skipped: OVERWIRE_HTML_CHECKERS is not set");
    }
    folder
}

/// Sends a page to all three; panics with what they say.
pub fn passes(name: &str, page: &str) {
    let Some(folder) = checkers() else { return };
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/debrief/check_html.mjs");
    let file = std::env::temp_dir().join(format!("overwire-{}-{name}.html", std::process::id()));
    std::fs::write(&file, page).unwrap();
    let out = Command::new("node").arg(script).arg(&file).current_dir(folder).output().unwrap();
    let said = String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "{name}, {}:\n{said}", file.display());
    std::fs::remove_file(&file).unwrap();
}

#[test]
fn the_report_is_valid_and_accessible() {
    passes("plain", &page_of(&session_saying("plain words").record()));
}

/// A browser is the judge of what runs.
#[test]
fn hostile_words_run_in_no_browser() {
    let attack =
        "</style></title><script>alert(1)</script><img src=x onerror=alert(1)>\"'><svg onload=alert(1)>";
    passes("hostile", &page_of(&session_saying(attack).record()));
}

#[test]
fn the_comparison_is_valid_and_accessible() {
    let (a, b) = (session_saying("first").record(), session_saying("first").record());
    let (x, y) = (Judgement::of_record(&a), Judgement::of_record(&b));
    let page = compare::page(
        &Side { name: "<b>first</b>", record: &a, judgement: &x },
        &Side { name: "second", record: &b, judgement: &y },
    );
    passes("compare", &page.unwrap());
}
