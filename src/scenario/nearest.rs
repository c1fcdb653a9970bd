//! What was most likely meant by a misspelt word.

/// Words longer than this are compared by their beginnings.
const LONGEST: usize = 64;

/// The name that was most likely meant: at most two slips away (one in a word of up to three letters), case and punctuation aside.
/// Of equals the one of the most similar length, then the first.
pub fn nearest<'n>(word: &str, names: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    let plain = |s: &str| -> Vec<char> {
        s.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).take(LONGEST).collect()
    };
    let wanted = plain(word);
    let within = if wanted.len() <= 3 { 1 } else { 2 };
    names
        .into_iter()
        .map(|name| (slips(&wanted, &plain(name)), name))
        .filter(|&(slips, _)| slips <= within && slips < wanted.len())
        .min_by_key(|&(slips, name)| (slips, name.len().abs_diff(word.len())))
        .map(|(_, name)| name)
}

/// Letters to add, drop, change or swap with their neighbour (Damerau, Commun ACM 1964;7:171; optimal string alignment).
fn slips(a: &[char], b: &[char]) -> usize {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_counted_as_people_make_them() {
        let letters = |s: &str| s.chars().collect::<Vec<_>>();
        // Levenshtein's textbook pair, and one swap of neighbours (Damerau 1964).
        assert_eq!(slips(&letters("kitten"), &letters("sittin")), 2);
        assert_eq!(slips(&letters("becuase"), &letters("because")), 1);
    }

    #[test]
    fn case_swaps_and_single_letters_are_forgiven_but_not_other_words() {
        assert_eq!(nearest("Defensable", ["unsafe", "defensible"]), Some("defensible"));
        assert_eq!(nearest("left-subclavian", ["left_subclavian", "left_carotid"]), Some("left_subclavian"));
        assert_eq!(nearest("spleen", ["liver", "kidney"]), None);
        assert_eq!(nearest("mmhg", ["kPa", "mmHg"]), Some("mmHg"));
        assert_eq!(nearest("spb", ["map", "sbp", "hr"]), Some("sbp"));
        assert_eq!(nearest("leak.1a", ["leak.Ia", "leak.Ib"]), Some("leak.Ia"));
        assert_eq!(nearest("temperature", ["map", "sbp"]), None);
        assert_eq!(nearest("x", ["y"]), None);
    }
}
