//! Faulty cases, each with what is told of it in a comment beside the fault.
//!
//! The files `tests/suite/*.ron` hold many small changes to `ok_minimal.ron`. A change begins with a line
//!
//! ```text
//! // --- NAME @ PATH     the value at PATH is replaced by what follows
//! // --- NAME + PATH     what follows is put at the end of the list at PATH
//! // --- NAME - PATH     the field at PATH is taken out
//! ```
//!
//! and `//~ LEVEL CODE: MESSAGE | HINT` at the end of a line is what must be told about that line, no more and no less; a
//! line `//~~ ...` at the end of a change is told about a line elsewhere. `UPDATE_EXPECT=1 cargo test faulty` writes
//! what is told now; read the difference before you commit it.

use overwire::scenario::spans::Spans;
use overwire::scenario::{Diagnostic, check, load};
use overwire::session::Session;
use overwire::session::log::Mode;
use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::Path;
use std::sync::Arc;

const BASE: &str = include_str!("../suite/ok_minimal.ron");

#[test]
fn the_sound_case_is_sound() {
    let told = everything(BASE);
    let told: Vec<String> = told.iter().map(line_of).collect();
    assert_eq!(told.len(), 1, "{}", told.join("\n"));
    assert!(told[0].starts_with("advice sign-off"), "{told:?}");
}

#[test]
fn every_fault_is_told_beside_it() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/suite");
    let mut files: Vec<_> = std::fs::read_dir(&folder).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    let own: Vec<String> = everything(BASE).iter().map(line_of).collect();
    let (mut changes, mut wrong) = (0, String::new());
    for file in files.iter().filter(|f| f.extension().is_some_and(|e| e == "ron")) {
        if file.ends_with("ok_minimal.ron") {
            continue;
        }
        let text = std::fs::read_to_string(file).unwrap();
        let mut now = String::new();
        let mut names = BTreeSet::new();
        for change in
            text.split_inclusive('\n').collect::<Vec<_>>().chunk_by(|_, next| !next.starts_with("// --- "))
        {
            let change = change.concat();
            if change.starts_with("// --- ") {
                changes += 1;
                let heading = change.lines().next().unwrap().to_owned();
                assert!(names.insert(heading.clone()), "{}: twice: {heading}", file.display());
                now.push_str(&annotated(&change, &own));
            } else {
                now.push_str(&change);
            }
        }
        if now != text {
            if std::env::var_os("UPDATE_EXPECT").is_some() {
                std::fs::write(file, now).unwrap();
            } else {
                for (line, (was, is)) in
                    text.lines().zip(now.lines()).enumerate().filter(|(_, (was, is))| was != is).take(3)
                {
                    let _ =
                        writeln!(wrong, "{}:{}\n  expected {was}\n  told     {is}", file.display(), line + 1);
                }
            }
        }
    }
    assert!(wrong.is_empty(), "UPDATE_EXPECT=1 writes what is told now.\n{wrong}");
    assert!(changes >= 40, "only {changes} changes");
}

/// A change with its expectations as they are told now.
fn annotated(change: &str, own: &[String]) -> String {
    let (heading, body) = change.split_once('\n').unwrap();
    let body: Vec<&str> = body
        .lines()
        .filter(|line| !line.trim_start().starts_with("//~~"))
        .map(|line| line.split(" //~ ").next().unwrap_or(line).trim_end())
        .collect();
    let blank = body.iter().rev().take_while(|line| line.is_empty()).count();
    let (body, after) = body.split_at(body.len() - blank);
    let how = heading.trim_start_matches("// --- ");
    let spans = Spans::scan(BASE).0.unwrap();
    let joined = body.join("\n");
    let (before, inside, behind) = if let Some((_, path)) = how.split_once(" @ ") {
        let at = spans.node(path).unwrap_or_else(|| panic!("{heading}: no such path")).range();
        (&BASE[..at.start], joined, &BASE[at.end..])
    } else if let Some((_, path)) = how.split_once(" + ") {
        let at = spans.node(path).unwrap_or_else(|| panic!("{heading}: no such path")).range();
        let comma =
            if BASE[at.clone()].trim_end_matches(']').trim_end().ends_with([',', '[']) { "" } else { ", " };
        (&BASE[..at.end - 1], format!("{comma}{joined}\n"), &BASE[at.end - 1..])
    } else if let Some((_, path)) = how.split_once(" - ") {
        let at = spans.node(path).unwrap_or_else(|| panic!("{heading}: no such path")).range();
        let name = path.rsplit('.').next().unwrap();
        let start = BASE[..at.start].rfind(&format!("{name}:")).unwrap();
        let end = BASE[at.end..].find(',').map_or(at.end, |i| at.end + i + 1);
        (&BASE[..start], String::new(), &BASE[end..])
    } else {
        panic!("{heading}: write @, + or -");
    };
    let text = format!("{before}{inside}{behind}");
    let first = before.matches('\n').count();
    let mut beside: Vec<Vec<String>> = vec![Vec::new(); body.len().max(1)];
    let mut elsewhere = Vec::new();
    for told in everything(&text) {
        let line = line_of(&told);
        if own.contains(&line) {
            continue;
        }
        let at = text[..told.span.start].matches('\n').count();
        match at.checked_sub(first).filter(|i| *i < body.len()) {
            Some(i) => beside[i].push(line),
            None => elsewhere.push(line),
        }
    }
    let mut out = format!("{heading}\n");
    for (i, line) in body.iter().enumerate() {
        out.push_str(line);
        for told in &beside[i] {
            let _ = write!(out, " //~ {told}");
        }
        out.push('\n');
    }
    for told in elsewhere {
        let _ = writeln!(out, "//~~ {told}");
    }
    for line in after {
        out.push_str(line);
        out.push('\n');
    }
    out
}

fn everything(text: &str) -> Vec<Diagnostic> {
    let (loaded, mut found) = load(text, "case.ron");
    if let Some(loaded) = loaded {
        found.extend(check(&loaded));
    } else {
        assert!(found.iter().any(|d| d.level == overwire::scenario::Level::Fault), "no case and no fault");
    }
    found
}

fn line_of(told: &Diagnostic) -> String {
    let mut line = format!("{} {}: {}", told.level.word(), told.code, told.message);
    for (mark, words) in [(" (expected ", &told.expected), (" | ", &told.hint)] {
        if !words.is_empty() {
            let _ = write!(line, "{mark}{words}{}", if mark.contains('(') { ")" } else { "" });
        }
    }
    line.replace('\n', " ")
}

/// What no single change of the suite can bring about: whole parts of the file that are not there.
#[test]
fn missing_references_and_disclaimer_are_told() {
    let told = |text: &str| everything(text).iter().map(line_of).collect::<Vec<_>>().join("\n");
    let start = BASE.find("sources: [").unwrap();
    let end = start + BASE[start..].find("],").unwrap();
    let bare =
        format!("{}sources: [{}", &BASE[..start], &BASE[end..]).replace("rossaint2023", "author judgement");
    assert!(told(&bare).contains("doubt source: the case leans on no publication"), "{}", told(&bare));
    let silent = BASE.replace("Training only; an", "An");
    assert!(
        told(&silent).contains("the file does not say that it is for training only"),
        "{}",
        told(&silent)
    );
}

/// A pressure far above what a patient in shock can have.
#[test]
fn a_start_that_no_body_has_is_doubted() {
    let asked = |sbp: &str| {
        BASE.replace("sbp_mmhg: Some(95), heart_rate_bpm: Some(110), lost_ml: [(left_pleura, 600)]", sbp)
    };
    let doubts = |text: String| {
        let case = Arc::new(load(&text, "case.ron").0.unwrap());
        check::start(&case, Session::new(Arc::clone(&case), 1, Mode::Free).start_doubts())
    };
    assert_eq!(doubts(asked("sbp_mmhg: Some(120)")), vec![]);
    let told = doubts(asked("sbp_mmhg: Some(210), lost_ml: [(left_pleura, 2200)]"));
    assert!(told.iter().any(|d| d.code == "start" && d.path == "start.sbp_mmhg"), "{told:?}");
}
