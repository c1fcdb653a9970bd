//! The reference page: every check with its source, its band and our value.
//!
//! `UPDATE_REFERENCE=1 cargo test --no-default-features --test tests circulation::reference` writes it anew. The values
//! are the same bits on every machine, so the page is compared as text.

use super::{Row, accounts, clot, drugs, engine, haemorrhage, interventions, rest, starts};
use std::fmt::Write;

type Part = (&'static str, fn() -> Vec<Row>);

const PARTS: [Part; 8] = [
    ("The engine", engine::rows),
    ("At rest", rest::rows),
    ("The case's start", starts::rows),
    ("Haemorrhage", haemorrhage::rows),
    ("Clot", clot::rows),
    ("Interventions", interventions::rows),
    ("Drugs", drugs::rows),
    ("Accounts", accounts::rows),
];

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/circulation.md");

#[test]
fn every_check_is_in_its_band() {
    let done: Vec<Vec<Row>> = std::thread::scope(|s| {
        let runs: Vec<_> = PARTS.iter().map(|(_, part)| s.spawn(part)).collect();
        runs.into_iter().map(|r| r.join().unwrap()).collect()
    });
    let mut page = String::from(
        "# Checks of the circulation\n\nTraining only: not for decisions on real patients; follow local protocol and \
         licensed practice.\n\nWritten by `UPDATE_REFERENCE=1 cargo test --no-default-features --test tests \
         circulation::reference`.\n",
    );
    let mut out_of_band = String::new();
    for ((title, _), rows) in PARTS.iter().zip(&done) {
        write!(page, "\n## {title}\n\n| check | source | band | ours |\n| --- | --- | --- | --- |\n")
            .unwrap();
        for r in rows {
            let line = format!(
                "| {} | {} | {} to {} | {} |\n",
                r.what,
                r.source,
                figure(r.low),
                figure(r.high),
                figure(r.got)
            );
            page += &line;
            if !(r.low..=r.high).contains(&r.got) {
                out_of_band += &line;
            }
        }
    }
    if std::env::var_os("UPDATE_REFERENCE").is_some() {
        std::fs::write(PAGE, &page).unwrap();
    }
    assert!(out_of_band.is_empty(), "out of band:\n{out_of_band}");
    let kept = std::fs::read_to_string(PAGE).unwrap_or_default();
    let first = kept.lines().zip(page.lines()).find(|(a, b)| a != b);
    assert!(
        kept == page,
        "the page is out of date, run with UPDATE_REFERENCE=1; first difference: {first:?}"
    );
}

/// Five significant figures.
fn figure(x: f64) -> String {
    if x != 0.0 && x.abs() < 1e-3 {
        return format!("{x:.1e}");
    }
    let places = (4 - x.abs().max(1.0).log10().floor() as i32).clamp(0, 4) as usize;
    let s = format!("{x:.places$}");
    if s.contains('.') { s.trim_end_matches('0').trim_end_matches('.').to_owned() } else { s }
}
