//! The questions: whether each can be met, has something to decide, and says why.

use crate::scenario::Level;
use crate::scenario::Order;
use crate::scenario::case::{Action, Ask, Case, Choice, Tier};
use crate::scenario::compile::told::Told;
use crate::scenario::compile::walk;
use std::collections::BTreeSet;

/// Longest question and longest option that are read while a clock runs, characters. Assumed.
const LONG_QUESTION: usize = 320;
const LONG_OPTION: usize = 180;

/// Tells what is missing or odd.
pub fn check(case: &Case, told: &mut Told<'_>) {
    let opened: BTreeSet<&str> = walk::actions(case)
        .into_iter()
        .filter_map(|(_, a)| if let Action::Ask(id) = a { Some(id.as_str()) } else { None })
        .collect();
    let heard = listened(case);
    for (i, ask) in case.asks.iter().enumerate() {
        let path = format!("asks[{i}]");
        if ask.when.is_none() && !opened.contains(ask.id.as_str()) {
            let doubt =
                told.doubt_of("unused", &path, format!("nothing ever puts the question `{}`", ask.id));
            told.tell(doubt.hint(format!("give it a `when`, or let a state do ask(\"{}\")", ask.id)));
        }
        options(ask, &path, told);
        clock(ask, &path, told);
        effect(ask, &path, &heard, told);
        if ask.question.chars().count() > LONG_QUESTION {
            let advice =
                told.fault("reading", &format!("{path}.question"), "this question takes long to read");
            told.tell(
                advice.level(Level::Advice).hint(format!(
                    "keep it under {LONG_QUESTION} characters; let somebody say the rest before"
                )),
            );
        }
    }
    if !case.asks.is_empty() && !case.asks.iter().any(|a| a.why) {
        let advice = told.advice_of("ask", "asks", "nobody is ever asked why");
        told.tell(
            advice.hint("write why: true at the questions that matter most; reasons teach more than choices"),
        );
    }
    length(case, told);
}

fn options(ask: &Ask, path: &str, told: &mut Told<'_>) {
    if ask.options.len() < 2 {
        let doubt = told.doubt_of("ask", path, format!("the question `{}` leaves nothing to choose", ask.id));
        told.tell(doubt.hint("write at least two options that somebody could reasonably take"));
    }
    let sound = |tier| matches!(tier, Tier::Preferred | Tier::Defensible);
    let any_sound =
        ask.options.iter().any(|o| sound(o.tier) || o.unless.as_ref().is_some_and(|u| sound(u.tier)));
    if !ask.options.is_empty() && !any_sound {
        let doubt = told.doubt_of("ask", path, format!("no option of `{}` is sound", ask.id));
        told.tell(doubt.hint(
            "mark at least one as `preferred` or `defensible`: a question without a right answer is a trap",
        ));
    }
    let first = ask.options.first().map(|o| o.tier);
    if ask.options.len() > 1
        && ask.options.iter().all(|o| Some(o.tier) == first && o.unless.is_none())
        && any_sound
    {
        let advice = told.advice_of("ask", path, format!("all options of `{}` are judged alike", ask.id));
        told.tell(advice.hint("if any of them will do, the question teaches little"));
    }
    for (j, option) in ask.options.iter().enumerate() {
        let path = format!("{path}.options[{j}]");
        for (field, text, hint) in [
            ("say", &option.say, "write it as the trainee would say it"),
            ("because", &option.because, "write why it is judged so; the debrief shows it"),
        ] {
            if text.trim().is_empty() {
                let doubt = told.fault("ask", &format!("{path}.{field}"), format!("`{field}` is empty"));
                told.tell(doubt.level(Level::Doubt).hint(hint));
            }
        }
        if option.source.is_empty() {
            let doubt = told.fault("source", &format!("{path}.source"), "this judgement names no source");
            told.tell(doubt.level(Level::Doubt).hint("name a source's id, or write [\"author judgement\"]"));
        }
        if option.say.chars().count() > LONG_OPTION {
            let advice = told.fault("reading", &format!("{path}.say"), "this option takes long to read");
            told.tell(advice.level(Level::Advice).hint(format!("keep it under {LONG_OPTION} characters")));
        }
        if let Some(unless) = option.unless.as_ref().filter(|u| u.tier == option.tier) {
            let tier = format!("{:?}", unless.tier).to_lowercase();
            let doubt = told.fault(
                "ask",
                &format!("{path}.unless.tier"),
                format!("`unless` changes nothing: it is {tier} anyway"),
            );
            told.tell(doubt.level(Level::Doubt).hint("write the tier that holds when the rule does"));
        }
    }
}

/// A question that closes by itself must say what doing nothing means.
fn clock(ask: &Ask, path: &str, told: &mut Told<'_>) {
    match (&ask.closes, &ask.otherwise) {
        (Some(_), None) => {
            let doubt = told.fault(
                "ask",
                &format!("{path}.closes"),
                "this closes by itself, and doing nothing means nothing",
            );
            told.tell(
                doubt
                    .level(Level::Doubt)
                    .hint("add otherwise: \"...\" with the option that doing nothing amounts to"),
            );
        }
        (None, Some(_)) => {
            let doubt = told.fault(
                "unused",
                &format!("{path}.otherwise"),
                "this is never taken: the question does not close by itself",
            );
            told.tell(doubt.level(Level::Doubt).hint("add closes: \"2 min\", or leave `otherwise` out"));
        }
        _ => {}
    }
}

/// A question whose options do nothing and are told apart by nobody changes nothing: that can be meant, and then it says so.
fn effect(ask: &Ask, path: &str, heard: &BTreeSet<&str>, told: &mut Told<'_>) {
    // A figure that is written down is a note: what is made of it is another question.
    let said = |o: &Order| matches!(o, Order::Note { .. } | Order::Measure { .. });
    let acts = |o: &Choice| !o.sends.is_empty() || !o.orders.iter().all(said);
    let idle = !ask.options.iter().any(acts) && !heard.contains(ask.id.as_str());
    if idle && !ask.options.is_empty() && !ask.knowledge {
        let advice = told.advice_of(
            "ask",
            path,
            format!("whatever is answered to `{}`, nothing follows for the patient", ask.id),
        );
        told.tell(advice.hint(
            "give its options orders, let a state or an ending tell them apart, or write knowledge: true: it is only judged",
        ));
    }
    if ask.knowledge && !idle {
        let doubt = told.fault(
            "ask",
            &format!("{path}.knowledge"),
            format!("an answer to `{}` has effects, so it is more than knowledge", ask.id),
        );
        told.tell(doubt.level(Level::Doubt).hint("leave `knowledge` out"));
    }
}

/// Questions whose answers are told apart by a state or by a rule that moves the story; what only judges does not count.
fn listened(case: &Case) -> BTreeSet<&str> {
    let states = walk::states(case);
    let ways = walk::transitions(&states);
    let events: Vec<&str> = ways.iter().filter_map(|(_, _, way)| way.event.as_deref()).collect();
    let judges =
        |path: &str| path.starts_with("marks") || path.starts_with("plays") || path.ends_with("unless.when");
    let rules: Vec<&str> =
        walk::rules(case).into_iter().filter(|(path, ..)| !judges(path)).map(|(_, rule, _)| rule).collect();
    let hears = |id: &str| {
        let answer = format!("answer.{id}.");
        events.iter().any(|e| e.starts_with(&answer))
            || rules.iter().any(|r| r.contains(&format!("chose({id},")))
    };
    case.asks.iter().map(|a| a.id.as_str()).filter(|id| hears(id)).collect()
}

/// The right answer should not be told by its length. Its place tells nothing: options are dealt anew in each session.
///
/// "Keep the length of choices about equal" (Haladyna, Downing and Rodriguez, Applied Measurement in Education 2002;15:309).
fn length(case: &Case, told: &mut Told<'_>) {
    let asks: Vec<&Ask> = case.asks.iter().filter(|a| a.options.len() >= 2).collect();
    let count = asks.len();
    if count < 6 {
        return;
    }
    // How often an option taken blindly is the best: what length would give if it told nothing.
    let (mut by_chance, mut variance) = (0.0, 0.0);
    let (mut longest, mut shortest) = (0u32, 0u32);
    for ask in &asks {
        let best = ask.options.iter().map(|o| o.tier).max();
        let is_best = |o: Option<&Choice>| u32::from(o.map(|o| o.tier) == best);
        let sound = ask.options.iter().map(|o| f64::from(is_best(Some(o)))).sum::<f64>();
        let share = sound / ask.options.len() as f64;
        by_chance += share;
        variance += share * (1.0 - share);
        longest += is_best(ask.options.iter().max_by_key(|o| o.say.chars().count()));
        shortest += is_best(ask.options.iter().min_by_key(|o| o.say.chars().count()));
    }
    for (which, times) in [("longest", longest), ("shortest", shortest)] {
        let beyond = f64::from(times) - by_chance;
        // More than chance brings in one case of twenty (1.645 standard deviations).
        if beyond > 0.0 && beyond * beyond > 1.645 * 1.645 * variance {
            let level = if 10 * times as usize >= 9 * count { Level::Doubt } else { Level::Advice };
            let found = format!(
                "the best option is the {which} in {times} of {count} questions: a trainee can guess by length"
            );
            let told_of = told.advice_of("guess", "asks", found).level(level);
            told.tell(
                told_of.hint("make options of one question about as long and as concrete as each other"),
            );
        }
    }
}
