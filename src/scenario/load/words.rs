//! The author's vocabulary: what things are called in messages, and what a misspelt name was meant to be.

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

/// The name that was most likely meant: at most two slips away, or the same but for case and punctuation.
pub fn nearest<'n>(word: &str, names: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    let plain =
        |s: &str| s.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect::<String>();
    let wanted = plain(word);
    let within = match wanted.chars().count() {
        0 => return None,
        1..=3 => 1,
        _ => 2,
    };
    names
        .into_iter()
        .map(|name| (slips(&wanted, &plain(name)), name))
        .filter(|&(slips, _)| slips <= within)
        .min_by_key(|&(slips, name)| (slips, name.len().abs_diff(word.len())))
        .map(|(_, name)| name)
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

/// Letters to add, drop, change or swap with their neighbour (optimal string alignment).
fn slips(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    if a.len().abs_diff(b.len()) > 2 {
        return usize::MAX;
    }
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i];
        for j in 1..=b.len() {
            let mut least =
                (last[j] + 1).min(row[j - 1] + 1).min(last[j - 1] + usize::from(a[i - 1] != b[j - 1]));
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                least = least.min(before[j - 2] + 1);
            }
            row.push(least);
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_counted_as_people_make_them() {
        // Levenshtein's textbook pair, and one swap of neighbours (Damerau 1964).
        assert_eq!(slips("kitten", "sittin"), 2);
        assert_eq!(slips("becuase", "because"), 1);
        assert_eq!(nearest("Defensable", ["unsafe", "defensible"]), Some("defensible"));
        assert_eq!(nearest("left-subclavian", ["left_subclavian", "left_carotid"]), Some("left_subclavian"));
        assert_eq!(nearest("spleen", ["liver", "kidney"]), None);
    }
}
