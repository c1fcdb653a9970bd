//! What is written and never used, and what is left to do.

use crate::scenario::Level;
use crate::scenario::case::{Action, Case};
use crate::scenario::compile::told::Told;
use crate::scenario::compile::walk;
use crate::scenario::diagnostic::Diagnostic;
use crate::scenario::load::Loaded;
use std::collections::BTreeSet;

/// Tells it.
pub fn check(loaded: &Loaded, told: &mut Told<'_>) {
    let case = &loaded.case;
    let read: BTreeSet<&str> = walk::rules(case)
        .into_iter()
        .filter_map(|(_, text, _)| loaded.rule(text))
        .flat_map(|r| r.signals())
        .collect();
    for name in case.policy.keys() {
        if !read.contains(format!("policy.{name}").as_str()) {
            let advice =
                told.fault("unused", &format!("policy[{name}]"), format!("no rule reads policy.{name}"));
            told.tell(advice.level(Level::Advice).hint("use it in a mark or a guard, or leave it out"));
        }
    }
    events(case, &read, told);
    plays(case, told);
    to_do(loaded, told);
    disclaimer(loaded, told);
}

/// Whoever opens the file without the program must read it there.
fn disclaimer(loaded: &Loaded, told: &mut Told<'_>) {
    if !loaded.text.to_lowercase().contains("training only") {
        let doubt = told.doubt_of("about", "about", "the file does not say that it is for training only");
        told.tell(doubt.hint(
            "write at its top: // TRAINING ONLY. Not for decisions on real patients: follow local protocol and licensed practice.",
        ));
    }
}

fn events(case: &Case, read: &BTreeSet<&str>, told: &mut Told<'_>) {
    let states = walk::states(case);
    let heard: Vec<&str> = walk::transitions(&states)
        .into_iter()
        .filter_map(|(_, _, way)| way.event.as_deref())
        .map(|event| event.strip_suffix(".*").unwrap_or(event))
        .collect();
    let hears = |event: &str| {
        heard.iter().any(|h| {
            *h == "*" || event.strip_prefix(h).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        })
    };
    let mut silent = |path: String, event: &str| {
        if !hears(event) {
            let advice = told.fault("unused", &path, format!("nobody waits for the event `{event}`"));
            told.tell(
                advice
                    .level(Level::Advice)
                    .hint(format!("give a state (event: \"{event}\", ...) under `on`, or leave it out")),
            );
        }
    };
    for (i, ask) in case.asks.iter().enumerate() {
        for (j, option) in ask.options.iter().enumerate() {
            for (k, event) in option.sends.iter().enumerate() {
                silent(format!("asks[{i}].options[{j}].sends[{k}]"), event);
            }
        }
    }
    for (path, action) in walk::actions(case) {
        if let Action::Send { event, .. } = action {
            silent(format!("{path}.send.event"), event);
        }
    }
    for (path, action) in walk::actions(case) {
        if let Action::Set { name, .. } = action
            && !read.contains(format!("var.{name}").as_str())
        {
            let advice =
                told.fault("unused", &format!("{path}.set.name"), format!("no rule reads var.{name}"));
            told.tell(advice.level(Level::Advice).hint("use it in a guard or a mark, or leave it out"));
        }
    }
}

fn plays(case: &Case, told: &mut Told<'_>) {
    if case.plays.is_empty() {
        let doubt =
            told.doubt_of("play", "plays", "the case has no play, so nothing shows that it can be played");
        told.tell(doubt.hint("write the model player's orders, and one play for each tempting mistake"));
        return;
    }
    for (i, play) in case.plays.iter().enumerate() {
        if play.expect.is_empty() && play.ending.is_none() {
            let doubt = told.doubt_of(
                "play",
                &format!("plays[{i}]"),
                format!("the play `{}` tests nothing", play.name),
            );
            told.tell(doubt.hint("say how it ends (`ending`) and what must have come out (`expect`)"));
        }
    }
    let good: BTreeSet<&str> = case
        .endings
        .iter()
        .filter(|e| e.tone == crate::scenario::case::Tone::Good)
        .map(|e| e.id.as_str())
        .collect();
    let wins = case.plays.iter().any(|p| p.ending.as_deref().is_some_and(|e| good.contains(e)));
    if !wins && !good.is_empty() {
        let doubt = told.doubt_of("play", "plays", "no play reaches a good ending");
        told.tell(doubt.hint("write a model play: a case that its author cannot win teaches despair"));
    }
}

/// "TODO" left in the text: the case runs, but is not ready for others.
fn to_do(loaded: &Loaded, told: &mut Told<'_>) {
    for (at, word) in loaded.text.match_indices("TODO").take(50) {
        let doubt = Diagnostic::fault("to-do", at..at + word.len(), "something is still to be written here");
        told.tell(doubt.level(Level::Doubt).hint("write it, and take the TODO away"));
    }
}
