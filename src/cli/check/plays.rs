//! What a case's own plays come to: whether as stated, by how much, and whether with other seeds too.

use crate::assess::{NARROW_PERCENT, Near, nears};
use crate::cli::rehearse::rehearsed;
use crate::scenario::Loaded;
use crate::scenario::case::Play;
use crate::scenario::diagnostic::{Diagnostic, Level};
use crate::session::record::Record;
use crate::session::tell::figure;
use serde_json::{Value, json};
use std::sync::Arc;

/// The seed with which a play must come out as stated.
const SEED: u64 = 1;

/// One play, rehearsed.
pub(super) struct Told {
    name: String,
    unmet: Vec<String>,
    nears: Vec<Near>,
    /// Other seeds, and what did not come out with them.
    elsewhere: Vec<(u64, Vec<String>)>,
}

/// Rehearses every play, with `seeds` seeds.
pub(super) fn rehearsals(case: &Arc<Loaded>, seeds: u64) -> (Vec<Diagnostic>, Vec<Told>) {
    let told: Vec<Told> = case.case.plays.iter().map(|play| rehearse(case, play, seeds)).collect();
    let found = told.iter().enumerate().flat_map(|(i, told)| about(case, i, told)).collect();
    (found, told)
}

fn rehearse(case: &Arc<Loaded>, play: &Play, seeds: u64) -> Told {
    let (unmet, nears) = match rehearsed(case, &play.name, SEED) {
        Ok(session) => (session.unmet(play), nears(&Record::of(&session), play)),
        Err(why) => (vec![why], Vec::new()),
    };
    let other = |seed| (seed, rehearsed(case, &play.name, seed).map_or_else(|e| vec![e], |s| s.unmet(play)));
    Told { name: play.name.clone(), unmet, nears, elsewhere: (SEED + 1..=seeds).map(other).collect() }
}

/// What is told of a play: a fault where it does not come out, advice where it hangs by a hair or by its seed.
fn about(case: &Loaded, i: usize, told: &Told) -> Vec<Diagnostic> {
    let path = format!("plays[{i}]");
    let span = case.spans.head(&path);
    let (id, name) = (&case.case.id, &told.name);
    let unmet = told.unmet.iter().map(|what| {
        Diagnostic::fault("play", span.clone(), format!("the play `{name}` does not come out: {what}"))
            .hint(format!("overwire rehearse {id} --play {name} --tell shows what happens"))
    });
    let narrow = told.nears.iter().filter(|n| n.narrow()).map(|n| {
        let words = format!("the play `{name}` holds by a hair: {}", line(n));
        Diagnostic::fault("narrow", span.clone(), words).level(Level::Advice).hint(format!(
            "make the play's choice plainer or the bound wider: a margin below {NARROW_PERCENT:.0} % of the bound breaks with the next change of a model"
        ))
    });
    let seeds = told.elsewhere.iter().filter(|(_, unmet)| !unmet.is_empty()).map(|(seed, unmet)| {
        let words = format!("with seed {seed} the play `{name}` does not come out: {}", unmet.join("; "));
        Diagnostic::fault("seed", span.clone(), words)
            .level(Level::Advice)
            .hint("state what follows from the choice whatever the dice, or say in `about` that it was luck")
    });
    unmet.chain(narrow).chain(seeds).map(|d| d.at(&path)).collect()
}

/// "lost > 2000 mL: 2310 mL, by 310 mL (16 %)".
fn line(n: &Near) -> String {
    let percent = n.percent().map_or(String::new(), |p| format!(" ({p:.0} %)"));
    let of = if n.of == n.clause { n.of.clone() } else { format!("{}, {}", n.of, n.clause) };
    // A bare number is a ratio, and its hundredths count.
    let told = |v: f64| if n.unit.is_empty() { format!("{v:.2}") } else { figure(v, n.unit) };
    format!("{of}: {} against {}, by {}{percent}", told(n.value), told(n.bound), told(n.margin))
}

/// A line for each measure, for people.
pub(super) fn text(told: &[Told]) -> Vec<String> {
    let lines = |t: &Told| -> Vec<String> {
        let name = t.name.clone();
        t.nears
            .iter()
            .map(|n| format!("  {name} · {}{}", line(n), if n.narrow() { " · narrow" } else { "" }))
            .collect()
    };
    told.iter().flat_map(lines).collect()
}

/// For other programs. A number that no one can write down, such as an infinite bound, is null.
pub(super) fn json(told: &[Told]) -> Value {
    let near = |n: &Near| {
        json!({ "of": n.of, "clause": n.clause, "at_s": n.at.seconds(), "value": n.value, "bound": n.bound, "unit": n.unit,
                "margin": n.margin, "margin_percent": n.percent(), "band": n.band(), "narrow": n.narrow() })
    };
    let seed = |(seed, unmet): &(u64, Vec<String>)| json!({ "seed": seed, "unmet": unmet });
    let play = |t: &Told| {
        json!({ "play": t.name, "seed": SEED, "unmet": t.unmet, "margins": t.nears.iter().map(near).collect::<Value>(),
                "other_seeds": t.elsewhere.iter().map(seed).collect::<Value>() })
    };
    told.iter().map(play).collect()
}
