//! The author's vocabulary: what things are called in messages, and what a misspelt name was meant to be.

use crate::scenario::nearest;

/// What an author calls an entry, by the name of its type.
pub fn noun(type_name: &str) -> String {
    let known = match type_name {
        "Case" => "the case",
        "About" => "`about`",
        "Review" => "a review",
        "Objective" => "an objective",
        "Patient" => "the patient",
        "Start" => "the start",
        "Story" => "the story",
        "ShelfSpec" => "the shelf",
        "Member" => "a team member",
        "ChartSpec" => "the chart",
        "StateSpec" => "a state",
        "TransitionSpec" => "a way out of a state",
        "Action" => "an action",
        "BleedSpec" => "a bleed",
        "Ask" => "a question",
        "Choice" => "an option",
        "Unless" => "`unless`",
        "Happening" => "a happening",
        "Ending" => "an ending",
        "Mark" => "a mark",
        "Ledger" => "a ledger",
        "DebriefPlan" => "the debrief",
        "Prompt" => "a debrief prompt",
        "Reading" => "the readers' measurement",
        "Source" => "a source",
        "Play" => "a play",
        "Step" => "a step of a play",
        "Order" => "an order",
        _ => "",
    };
    if known.is_empty() { format!("`{}`", snake(type_name)) } else { known.into() }
}

/// "`a`, `b` or `c`"; long lists are cut.
pub fn one_of<S: AsRef<str>>(names: impl IntoIterator<Item = S>) -> String {
    let all: Vec<String> = names.into_iter().map(|n| format!("`{}`", n.as_ref())).collect();
    const SHOWN: usize = 12;
    match all.as_slice() {
        [] => "nothing".into(),
        [only] => only.clone(),
        many if many.len() > SHOWN => format!("{} and {} more", many[..SHOWN].join(", "), many.len() - SHOWN),
        [most @ .., last] => format!("{} or {last}", most.join(", ")),
    }
}

/// A remedy for an unknown name: what was meant, or what there is.
pub fn did_you_mean<'n>(word: &str, names: impl IntoIterator<Item = &'n str>) -> String {
    let mut names: Vec<&str> = names.into_iter().collect();
    names.dedup();
    match nearest(word, names.iter().copied()) {
        Some(name) => format!("did you mean `{name}`?"),
        None if names.is_empty() => String::new(),
        None if names.len() == 1 => format!("there is only {}", one_of(names)),
        None => format!("there are {}", one_of(names).replace(" or `", " and `")),
    }
}

/// `MidDescending` as files write it: `mid_descending`.
pub fn snake(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars() {
        if c.is_uppercase() && !out.is_empty() {
            out.push('_');
        }
        out.extend(c.to_lowercase());
    }
    out
}
