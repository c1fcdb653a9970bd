//! Phases, happenings, endings and marks: whether each can come about, and whether each could also not.

use super::truth::{Known, truth};
use crate::scenario::Level;
use crate::scenario::case::{Action, Case, StateKind, Tone};
use crate::scenario::chart::{Finding, analyse};
use crate::scenario::compile::told::Told;
use crate::scenario::compile::walk;
use crate::scenario::load::Loaded;
use std::collections::BTreeSet;

/// Tells what can never be, and what always is.
pub fn check(loaded: &Loaded, told: &mut Told<'_>) {
    let known = chart(loaded, told);
    spinning(&loaded.case, told);
    rules(loaded, &known, told);
    endings(loaded, told);
    marks(&loaded.case, told);
    happenings(&loaded.case, told);
}

fn chart<'l>(loaded: &'l Loaded, told: &mut Told<'_>) -> Known<'l> {
    let case = &loaded.case;
    let states = walk::states(case);
    let path_of =
        |id: &str| states.iter().find(|s| s.state.id == id).map_or("chart".into(), |s| s.path.clone());
    let mut unreachable = BTreeSet::new();
    for finding in analyse(&loaded.chart) {
        let name = |state| loaded.chart.name(state);
        let path = match &finding {
            Finding::Unreachable(state) | Finding::EndingUnreachable(state) => {
                unreachable.extend(inside(case, name(*state)));
                path_of(name(*state))
            }
            Finding::Shadowed { state, transition, .. } => {
                format!("{}.on[{transition}]", path_of(name(*state)))
            }
            Finding::Circle { states, guarded: false } => {
                states.first().map_or("chart".into(), |s| path_of(name(*s)))
            }
            // A case ends by its endings' rules, so a phase without a way out is no dead end if one of them knows it.
            Finding::DeadEnd(state) if !ends_in(loaded, name(*state)) => path_of(name(*state)),
            _ => continue,
        };
        let level = if matches!(finding, Finding::DeadEnd(_)) { Level::Advice } else { Level::Doubt };
        let doubt = told.doubt_of("chart", &path, finding.message(&loaded.chart)).level(level);
        told.tell(doubt.hint(finding.hint()));
    }
    let opened: BTreeSet<&str> = walk::actions(case)
        .into_iter()
        .filter_map(|(_, a)| if let Action::Ask(id) = a { Some(id.as_str()) } else { None })
        .collect();
    let never_asked = case.asks.iter().filter(|a| a.when.is_none()).map(|a| a.id.as_str());
    Known { unreachable, never_asked: never_asked.filter(|id| !opened.contains(id)).collect() }
}

/// A transition that waits for no event, leads nowhere and changes nothing that it reads is taken again and again while its rule
/// holds: the phases never come to rest.
fn spinning(case: &Case, told: &mut Told<'_>) {
    let states = walk::states(case);
    for (path, _, way) in walk::transitions(&states) {
        let changes = |a: &Action| {
            let Action::Set { name, .. } = a else { return false };
            way.when.as_ref().is_some_and(|rule| rule.contains(&format!("var.{name}")))
        };
        if way.event.is_none() && way.to.is_empty() && !way.then.iter().any(changes) {
            let fault = told.fault_of("chart", &path, "this is taken again and again while its rule holds");
            told.tell(fault.hint(
                "let it wait for an event, as in event: Some(\"done.move\"), or give it a `to`; a question can have a `when` of its own",
            ));
        }
    }
}

/// A state and all states inside it.
fn inside<'c>(case: &'c Case, id: &str) -> Vec<&'c str> {
    let states = walk::states(case);
    let Some(root) = states.iter().find(|s| s.state.id == id) else { return Vec::new() };
    let below = format!("{}.", root.path);
    states
        .iter()
        .filter(|s| s.path == root.path || s.path.starts_with(&below))
        .map(|s| s.state.id.as_str())
        .collect()
}

/// Does an ending look at this state, or is another region going on beside it?
fn ends_in(loaded: &Loaded, id: &str) -> bool {
    let states = walk::states(&loaded.case);
    let mut at = states.iter().position(|s| s.state.id == id);
    while let Some(i) = at {
        let state = states[i].state;
        let named = |rule: &str| rule.contains(&format!("in({})", state.id));
        if loaded.case.endings.iter().any(|e| named(&e.when)) || state.kind == StateKind::Parallel {
            return true;
        }
        at = states[i].parent;
    }
    false
}

fn rules(loaded: &Loaded, known: &Known<'_>, told: &mut Told<'_>) {
    for (path, text, _) in walk::rules(&loaded.case) {
        let Some(rule) = loaded.rule(text) else { continue };
        let Some(always) = truth(rule.tree(), known) else { continue };
        let kind = path.split(['[', '.']).next().unwrap_or_default();
        let (code, message, hint) = match (kind, always) {
            ("endings", true) => (
                "ending",
                "this holds from the first moment: the case ends at once",
                "say what must have come about",
            ),
            ("endings", false) => (
                "ending",
                "this can never hold: nobody reaches this ending",
                "look at the limits, names and units",
            ),
            ("marks", true) => (
                "mark",
                "this always holds: nobody can miss this mark",
                "say what a trainee could fail to do",
            ),
            ("marks", false) => (
                "mark",
                "this can never hold: nobody can earn this mark",
                "look at the limits, names and units",
            ),
            ("plays", true) if path.contains("expect") => {
                ("play", "this always holds: it tests nothing", "state a number that the play brings about")
            }
            ("plays", false) if path.contains("expect") => {
                ("play", "this can never hold: the play cannot pass", "look at the limits, names and units")
            }
            (_, true) => (
                "rule",
                "this always holds: it guards nothing",
                "leave it out, or look at the limits and units",
            ),
            (_, false) => (
                "rule",
                "this can never hold: what it guards never happens",
                "look at the limits, names and units",
            ),
        };
        let doubt = told.fault(code, &path, message);
        told.tell(doubt.level(Level::Doubt).hint(hint));
    }
}

fn endings(loaded: &Loaded, told: &mut Told<'_>) {
    let case = &loaded.case;
    if case.endings.is_empty() {
        let doubt = told.doubt_of("ending", "endings", "the case has no ending");
        told.tell(
            doubt.hint("write at least one good and one bad ending, each with the rule that brings it about"),
        );
        return;
    }
    for (tone, word) in [(Tone::Good, "good"), (Tone::Bad, "bad")] {
        if !case.endings.iter().any(|e| e.tone == tone) {
            let doubt = told.doubt_of("ending", "endings", format!("no ending is {word} for the patient"));
            told.tell(doubt.hint("a case that cannot be won, or cannot be lost, teaches little"));
        }
    }
    let reads = |signal: &str| {
        case.endings.iter().any(|e| loaded.rule(&e.when).is_some_and(|r| r.signals().contains(signal)))
    };
    if !reads("alive") {
        let doubt = told.doubt_of("ending", "endings", "no ending notices when the patient dies");
        told.tell(doubt.hint("add an ending with when: \"alive == 0\""));
    }
    let over = case.chart.states.iter().filter(|s| s.kind == StateKind::Final);
    let over: Vec<String> = over.map(|s| format!("in({})", s.id)).collect();
    for (i, ending) in case.endings.iter().enumerate() {
        let path = format!("endings[{i}]");
        if let Some(state) = over.iter().find(|s| ending.when.contains(s.as_str())) {
            let found = format!(
                "`{state}` never holds: the phases are over once an outermost final state is reached"
            );
            let doubt = told.fault("ending", &format!("{path}.when"), found);
            told.tell(doubt.level(Level::Doubt).hint("take `kind: final` away from that state"));
        }
        if let Some(first) = case.endings[..i].iter().find(|e| e.when == ending.when) {
            let doubt = told.doubt_of(
                "ending",
                &path,
                format!("`{}` never comes: `{}` has the same rule and stands before it", ending.id, first.id),
            );
            told.tell(
                doubt.hint("the first ending whose rule holds ends the case; put the narrower rule first"),
            );
        }
        for (field, text) in [("title", &ending.title), ("text", &ending.text)] {
            if text.trim().is_empty() {
                let doubt = told.fault("ending", &format!("{path}.{field}"), format!("`{field}` is empty"));
                told.tell(
                    doubt.level(Level::Doubt).hint("tell the trainee what came of it, and by what cause"),
                );
            }
        }
        if !case.plays.is_empty() && !case.plays.iter().any(|p| p.ending.as_ref() == Some(&ending.id)) {
            let advice = told.advice_of("ending", &path, format!("no play ends in `{}`", ending.id));
            told.tell(advice.hint("add a play that gets there: it proves that the ending can be reached"));
        }
    }
}

fn marks(case: &Case, told: &mut Told<'_>) {
    if case.marks.is_empty() {
        let doubt = told.doubt_of("mark", "marks", "nothing that is done is judged");
        told.tell(doubt.hint("write a mark for each objective"));
    }
    for (i, mark) in case.marks.iter().enumerate() {
        let path = format!("marks[{i}]");
        for (field, text, hint) in [
            ("text", &mark.text, "write what it says in the report"),
            ("why", &mark.why, "write why it matters; the debrief shows it"),
        ] {
            if text.trim().is_empty() {
                let doubt = told.fault("mark", &format!("{path}.{field}"), format!("`{field}` is empty"));
                told.tell(doubt.level(Level::Doubt).hint(hint));
            }
        }
        if mark.source.is_empty() {
            let doubt = told.fault("source", &format!("{path}.source"), "this mark names no source");
            told.tell(doubt.level(Level::Doubt).hint("name a source's id, or write [\"author judgement\"]"));
        }
        if mark.weight == 0.0 {
            let advice = told.fault("mark", &format!("{path}.weight"), "this mark counts for nothing");
            told.tell(advice.level(Level::Advice).hint("give it a weight, or leave it out"));
        }
    }
}

fn happenings(case: &Case, told: &mut Told<'_>) {
    for (i, happening) in case.happenings.iter().enumerate() {
        let path = format!("happenings[{i}]");
        if happening.then.is_empty() {
            let doubt =
                told.doubt_of("unused", &path, format!("when `{}` happens, nothing follows", happening.id));
            told.tell(doubt.hint("write what happens under `then`"));
        }
        if happening.chance < 1.0 && happening.source.is_empty() {
            let doubt = told.fault("source", &format!("{path}.chance"), "this chance comes from nowhere");
            told.tell(
                doubt
                    .level(Level::Doubt)
                    .hint("add source: [...] with where it comes from, or [\"author judgement\"]"),
            );
        }
        if happening.chance == 0.0 {
            let doubt = told.fault("unused", &format!("{path}.chance"), "this never happens");
            told.tell(doubt.level(Level::Doubt).hint("write a chance above 0, or leave the happening out"));
        }
    }
}
