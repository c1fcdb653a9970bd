//! The reference against the types: what serde asks for is what is explained, no more and no less.

use overwire::anatomy::AnatomySpec;
use overwire::circulation::{Patient, Start};
use overwire::cli::explain::{entries, text};
use overwire::scenario::Order;
use overwire::scenario::case::*;
use overwire::scenario::diagnostic::CODES;
use overwire::scenario::load::read::names_of;
use serde::de::DeserializeOwned;

fn agrees<T: DeserializeOwned>(name: &str) {
    let entries = entries();
    let entry =
        entries.iter().find(|e| e.type_name == name).unwrap_or_else(|| panic!("{name} is not explained"));
    let explained: Vec<&str> = entry.items.iter().map(|i| i.name.as_str()).collect();
    assert_eq!(explained, names_of::<T>(), "{name}");
    assert!(!entry.about.is_empty(), "{name} has no words");
}

#[test]
fn every_field_that_is_read_is_explained() {
    agrees::<Case>("Case");
    agrees::<About>("About");
    agrees::<Review>("Review");
    agrees::<Objective>("Objective");
    agrees::<Story>("Story");
    agrees::<ShelfSpec>("ShelfSpec");
    agrees::<Member>("Member");
    agrees::<ChartSpec>("ChartSpec");
    agrees::<StateSpec>("StateSpec");
    agrees::<StateKind>("StateKind");
    agrees::<TransitionSpec>("TransitionSpec");
    agrees::<Action>("Action");
    agrees::<BleedSpec>("BleedSpec");
    agrees::<Ask>("Ask");
    agrees::<Choice>("Choice");
    agrees::<Unless>("Unless");
    agrees::<Tier>("Tier");
    agrees::<Happening>("Happening");
    agrees::<Ending>("Ending");
    agrees::<Tone>("Tone");
    agrees::<Mark>("Mark");
    agrees::<Ledger>("Ledger");
    agrees::<ErrorKind>("ErrorKind");
    agrees::<DebriefPlan>("DebriefPlan");
    agrees::<Prompt>("Prompt");
    agrees::<Source>("Source");
    agrees::<Play>("Play");
    agrees::<Step>("Step");
    agrees::<Order>("Order");
    agrees::<Patient>("Patient");
    agrees::<Start>("Start");
    agrees::<AnatomySpec>("AnatomySpec");
}

#[test]
fn every_word_can_be_explained() {
    let mut words: Vec<&str> = names_of::<Case>().to_vec();
    words.extend(names_of::<Choice>());
    words.extend(names_of::<Order>());
    words.extend(CODES.iter().map(|(code, _)| *code));
    words.extend([
        "rules", "signals", "events", "shelf", "drugs", "units", "messages", "sbp", "leak.Ia", "heparin",
        "option",
    ]);
    for word in words {
        let text = text(word).unwrap_or_else(|| panic!("{word} is not explained"));
        assert!(text.len() > word.len() + 10, "{word}: {text}");
    }
    assert_eq!(text("no_such_word"), None);
}
