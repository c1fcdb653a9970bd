//! The case as teaching: what the simulation standards ask of a scenario, as far as a file can answer.
//!
//! After the Healthcare Simulation Standards of Best Practice (INACSL 2021): measurable objectives, a case that says what
//! it cannot teach, a prebriefing, a debriefing plan, review and pilot; and ASPiH's standards (2016) on currency.

use crate::scenario::case::{Case, Tone};
use crate::scenario::compile::told::Told;
use std::collections::BTreeSet;

/// Tells what is missing.
pub fn check(case: &Case, told: &mut Told<'_>) {
    objectives(case, told);
    about(case, told);
    debrief(case, told);
    sources(case, told);
    reviews(case, told);
}

/// First words that can be observed (Mager 1962 and Bloom 1956 in spirit; the list is the authors').
const OBSERVABLE: [&str; 48] = [
    "act",
    "activate",
    "aim",
    "anticipate",
    "apply",
    "ask",
    "assess",
    "avoid",
    "brief",
    "calculate",
    "call",
    "check",
    "choose",
    "close",
    "compare",
    "confirm",
    "decide",
    "defend",
    "deploy",
    "detect",
    "diagnose",
    "escalate",
    "estimate",
    "explain",
    "identify",
    "interpret",
    "justify",
    "keep",
    "lead",
    "list",
    "manage",
    "measure",
    "name",
    "order",
    "plan",
    "predict",
    "prioritise",
    "prioritize",
    "protect",
    "recognise",
    "recognize",
    "rescue",
    "select",
    "sequence",
    "size",
    "state",
    "stop",
    "treat",
];

fn objectives(case: &Case, told: &mut Told<'_>) {
    match case.objectives.len() {
        0 => {
            let doubt = told.doubt_of("objective", "objectives", "there is no learning objective");
            told.tell(doubt.hint(
                "write one to three: what a trainee can do afterwards, with a verb that can be observed",
            ));
        }
        1..=5 => {}
        many => {
            let advice = told.advice_of(
                "objective",
                "objectives",
                format!("{many} objectives are a lot for one case"),
            );
            told.tell(advice.hint("keep the three that this case teaches best"));
        }
    }
    for (i, objective) in case.objectives.iter().enumerate() {
        let path = format!("objectives[{i}]");
        let verb: String =
            objective.text.chars().take_while(|c| c.is_alphabetic()).flat_map(char::to_lowercase).collect();
        if !OBSERVABLE.contains(&verb.as_str()) {
            let advice = told.fault(
                "objective",
                &format!("{path}.text"),
                format!("\"{verb}\" cannot be seen from outside"),
            );
            let advice = advice.level(crate::scenario::Level::Advice);
            told.tell(advice.hint(
                "begin with what can be observed: recognise, state, select, sequence, calculate, call, stop",
            ));
        }
        let by_ask = case.asks.iter().any(|a| a.objective == objective.id);
        let by_mark = case.marks.iter().any(|m| m.objective == objective.id);
        if !by_ask && !by_mark {
            let doubt = told.doubt_of(
                "objective",
                &path,
                format!("nothing observes the objective `{}`", objective.id),
            );
            told.tell(doubt.hint("give it a mark or a question: whoever learns it must show it"));
        } else if !by_mark {
            let advice = told.advice_of(
                "objective",
                &path,
                format!("no mark serves the objective `{}`", objective.id),
            );
            told.tell(advice.hint("a question alone judges what is said; a mark judges what is done"));
        }
        if !case.debrief.prompts.iter().any(|p| p.objective == objective.id) {
            let doubt =
                told.doubt_of("debrief", &path, format!("the debrief asks nothing about `{}`", objective.id));
            told.tell(doubt.hint(format!(
                "add (objective: \"{}\", question: \"...\") to debrief.prompts",
                objective.id
            )));
        }
    }
}

fn about(case: &Case, told: &mut Told<'_>) {
    let about = &case.about;
    for (field, text, why) in [
        ("audience", &about.audience, "say who it is for and what they should know"),
        ("need", &about.need, "say which gap it closes, and on whose judgement"),
        (
            "prebrief",
            &about.prebrief,
            "say role, rules, clock, help, how it is judged, who sees the record, how to stop",
        ),
        ("licence", &about.licence, "say under which licence others may use it, such as CC BY 4.0"),
    ] {
        if text.trim().is_empty() {
            let doubt = told.fault("about", &format!("about.{field}"), format!("`{field}` is empty"));
            told.tell(doubt.level(crate::scenario::Level::Doubt).hint(why));
        }
    }
    for (field, list, why) in [
        ("not_taught", &about.not_taught, "say what it cannot teach, such as hand skill"),
        ("simplified", &about.simplified, "say what is simplified, so that nobody learns it as true"),
        ("authors", &about.authors, "say who wrote it: roles, no names"),
    ] {
        if list.iter().all(|line| line.trim().is_empty()) {
            let doubt = told.fault("about", &format!("about.{field}"), format!("`{field}` is empty"));
            told.tell(doubt.level(crate::scenario::Level::Doubt).hint(why));
        }
    }
    let words = about.prebrief.split_whitespace().count();
    if (1..30).contains(&words) {
        let advice = told.advice_of(
            "about",
            "about.prebrief",
            format!("a prebrief of {words} words leaves much unsaid"),
        );
        told.tell(
            advice.hint("say role, rules, clock, help, how it is judged, who sees the record, how to stop"),
        );
    }
    if about.duration.ms == 0 || about.duration.as_seconds() > 4.0 * 3600.0 {
        let advice = told.advice_of("about", "about.duration", "nobody sits with a case for that long");
        told.tell(advice.hint("write how long a trainee sits with it, such as \"45 min\""));
    }
    let bad = case.endings.iter().any(|e| e.tone == Tone::Bad);
    if bad && about.distress.trim().is_empty() {
        let advice = told.advice_of(
            "about",
            "about",
            "the patient can die or be gravely harmed, and nobody is warned",
        );
        told.tell(
            advice.hint("add distress: \"A patient may die.\" to `about`, and plan time to talk about it"),
        );
    }
    const GIVEN_AWAY: [&str; 8] = [
        "rupture",
        "dissection",
        "aneurysm",
        "endoleak",
        "leak",
        "transection",
        "malperfusion",
        "paraplegia",
    ];
    let title = case.title.to_lowercase();
    if let Some(word) = GIVEN_AWAY.iter().find(|word| title.contains(*word)) {
        let advice = told.fault("about", "title", format!("the title gives the answer away: \"{word}\""));
        told.tell(advice.level(crate::scenario::Level::Advice).hint("name what the first caller would say"));
    }
    let numbers: Vec<&str> = case.version.split('.').collect();
    if numbers.len() != 3 || !numbers.iter().all(|n| n.parse::<u32>().is_ok()) {
        let advice = told.fault(
            "version",
            "version",
            format!("\"{}\" is not a version of three numbers", case.version),
        );
        told.tell(
            advice
                .level(crate::scenario::Level::Advice)
                .hint("write \"1.0.0\"; raise the first number when marks change"),
        );
    }
}

fn debrief(case: &Case, told: &mut Told<'_>) {
    let plan = &case.debrief;
    if plan.prompts.is_empty() {
        let doubt = told.doubt_of("debrief", "debrief", "the debrief has no question");
        told.tell(doubt.hint("add at least one for each objective to debrief.prompts"));
    }
    if plan.minutes == 0 {
        let advice = told.fault("debrief", "debrief.minutes", "no time is planned for the debrief");
        told.tell(
            advice.level(crate::scenario::Level::Advice).hint("plan as long as the case itself, at least"),
        );
    }
    for (i, reading) in case.readings.iter().enumerate() {
        let place = format!("readings[{i}].mm");
        if reading.mm.len() < 3 {
            let few = told.fault(
                "debrief",
                &place,
                "fewer than three readers say nothing of how far readers differ",
            );
            told.tell(few.hint("ask at least three, each on their own, or leave the reading out"));
        }
        if let Some(odd) = reading.mm.iter().find(|mm| !(1.0..=600.0).contains(*mm)) {
            let odd = told.fault("range", &place, format!("{odd} mm cannot be (expected from 1 to 600 mm)"));
            told.tell(odd);
        }
        if case.readings[..i].iter().any(|r| r.what == reading.what) {
            let twice = told.fault("debrief", &format!("readings[{i}].what"), "this was read twice");
            told.tell(twice.hint("put all readers' values into one entry"));
        }
    }
    for (i, prompt) in plan.prompts.iter().enumerate() {
        if prompt.question.trim().is_empty() {
            let doubt =
                told.fault("debrief", &format!("debrief.prompts[{i}].question"), "this prompt asks nothing");
            told.tell(
                doubt
                    .level(crate::scenario::Level::Doubt)
                    .hint("write an open question: what did you see, what did you think?"),
            );
        }
    }
}

fn sources(case: &Case, told: &mut Told<'_>) {
    if case.sources.is_empty() {
        let doubt = told.doubt_of("source", "sources", "the case leans on no publication");
        told.tell(doubt.hint(
            "name at least the guideline that it follows; whoever reviews it must be able to look it up",
        ));
    }
    let options = case.asks.iter().flat_map(|a| &a.options).flat_map(|o| &o.source);
    let marks = case.marks.iter().flat_map(|m| &m.source);
    let happenings = case.happenings.iter().flat_map(|h| &h.source);
    let used: BTreeSet<&str> = options.chain(marks).chain(happenings).map(String::as_str).collect();
    for (i, source) in case.sources.iter().enumerate() {
        let path = format!("sources[{i}]");
        if !used.contains(source.id.as_str()) {
            let advice =
                told.advice_of("source", &path, format!("nothing leans on the source `{}`", source.id));
            told.tell(advice.hint("name it under `source` where it is used, or leave it out"));
        }
        let numbers = source.citation.split(|c: char| !c.is_ascii_digit());
        if !numbers.clone().any(|n| n.len() == 4 && (n.starts_with("19") || n.starts_with("20"))) {
            let advice = told.fault("source", &format!("{path}.citation"), "this citation has no year");
            told.tell(
                advice
                    .level(crate::scenario::Level::Advice)
                    .hint("write authors, journal and year, so that its age can be seen"),
            );
        }
    }
}

fn reviews(case: &Case, told: &mut Told<'_>) {
    let reviews = &case.about.reviews;
    if reviews.is_empty() {
        let path = if told.spans().node("about.reviews").is_some() { "about.reviews" } else { "about" };
        let advice = told.advice_of("sign-off", path, "a specialist must sign this off; nobody has yet");
        told.tell(advice.hint("add (role: \"consultant vascular surgeon\", date: \"2026-01-31\", verdict: \"...\") to about.reviews; no names"));
    }
    for (i, review) in reviews.iter().enumerate() {
        let path = format!("about.reviews[{i}]");
        let parts: Vec<&str> = review.date.split('-').collect();
        let is_date = matches!(parts.as_slice(), [y, m, d] if y.len() == 4
            && y.parse::<u32>().is_ok()
            && m.len() == 2 && m.parse().is_ok_and(|m: u32| (1..=12).contains(&m))
            && d.len() == 2 && d.parse().is_ok_and(|d: u32| (1..=31).contains(&d)));
        if !is_date {
            let doubt =
                told.fault("sign-off", &format!("{path}.date"), format!("\"{}\" is not a date", review.date));
            told.tell(
                doubt
                    .level(crate::scenario::Level::Doubt)
                    .hint("write year, month and day, such as \"2026-01-31\""),
            );
        }
        if review.role.trim().is_empty() || review.verdict.trim().is_empty() {
            let doubt = told.doubt_of("sign-off", &path, "this review does not say who concluded what");
            told.tell(doubt.hint("write the reviewer's role and verdict"));
        }
    }
}
