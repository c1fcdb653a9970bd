//! What is wrong with a text, where, and what to write instead.

use std::ops::Range;

use serde::{Deserialize, Serialize};

/// One fault in a rule, with its place and, where one is known, its remedy.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fault {
    /// Bytes of the rule's text that the fault is about; empty at the end of the text.
    pub span: Range<usize>,
    /// What is wrong.
    pub message: String,
    /// What to write instead.
    pub hint: Option<String>,
}

impl Fault {
    /// A fault without a remedy.
    pub fn new(span: Range<usize>, message: impl Into<String>) -> Self {
        Self { span, message: message.into(), hint: None }
    }

    /// The same fault with a remedy.
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

/// The candidate most like `word`, if one is like enough to be what the writer meant.
///
/// Likeness is the number of letters to insert, drop, change or swap with a neighbour (Damerau 1964), case
/// aside; one in three may differ. Of equals the first wins.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word: Vec<char> = word.to_lowercase().chars().take(LONGEST_COMPARED).collect();
    let allowed = word.len().div_ceil(3);
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let other: Vec<char> = candidate.to_lowercase().chars().take(LONGEST_COMPARED).collect();
        if other.len().abs_diff(word.len()) > allowed {
            continue;
        }
        let distance = edits(&word, &other);
        if distance <= allowed
            && distance < word.len().max(1)
            && best.is_none_or(|(least, _)| distance < least)
        {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Names longer than this are compared by their beginnings.
const LONGEST_COMPARED: usize = 64;

/// Optimal string alignment distance between two words.
fn edits(a: &[char], b: &[char]) -> usize {
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; b.len() + 1];
        for j in 1..=b.len() {
            let change = last[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            row[j] = change.min(last[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(before[j - 2] + 1);
            }
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nearest_forgives_case_swaps_and_single_letters_but_not_other_words() {
        assert_eq!(nearest("mmhg", ["kPa", "mmHg"]), Some("mmHg"));
        assert_eq!(nearest("spb", ["map", "sbp", "hr"]), Some("sbp"));
        assert_eq!(nearest("leak.1a", ["leak.Ia", "leak.Ib"]), Some("leak.Ia"));
        assert_eq!(nearest("temperature", ["map", "sbp"]), None);
        assert_eq!(nearest("x", ["y"]), None);
    }
}
