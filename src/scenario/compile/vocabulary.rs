//! The words that a case's rules may use, and the reading of those rules.

use super::names::Names;
use super::told::Told;
use super::walk::{self, Asked};
use crate::anatomy::{Site, VesselName};
use crate::circulation::{Drug, Organ, Product, Test};
use crate::kit::Shelf;
use crate::scenario::Order;
use crate::scenario::case::Case;
use crate::scenario::order::{Mark, Measured};
use crate::scenario::rule::{Argument, Rule, Unit, Vocabulary};
use crate::scenario::signal::{FAMILIES, RISKS, SIGNALS};
use std::collections::BTreeMap;
use std::ops::Range;

/// Everything that the rules of this case may speak of.
pub fn vocabulary(case: &Case, names: &Names<'_>, shelf: &Shelf) -> Vocabulary {
    let mut words = Vocabulary::new();
    let unit = |text: &str| Unit::parse(text).unwrap_or(Unit::plain());
    for signal in SIGNALS {
        words.signal(signal.name, unit(signal.unit));
    }
    for family in FAMILIES {
        for member in family_members(family.name, case, names) {
            let own = match family.name {
                "policy" | "var" => unit(unit_in_name(&member)),
                _ => unit(family.unit),
            };
            words.signal(format!("{}.{member}", family.name), own);
        }
    }
    for (event, argument) in events(names, shelf) {
        words.event(event, argument);
    }
    for state in &names.states {
        words.state(*state);
    }
    for (ask, options) in &names.asks {
        words.ask(*ask, options.iter().copied());
    }
    words
}

/// The last parts of the signals of a family, in this case.
pub fn family_members(family: &str, case: &Case, names: &Names<'_>) -> Vec<String> {
    let all = |words: &[&str]| words.iter().map(|w| (*w).to_owned()).collect();
    match family {
        "policy" => case.policy.keys().cloned().collect(),
        "var" => all(&names.vars.iter().copied().collect::<Vec<_>>()),
        "covered" | "flow" => all(super::variants::<VesselName>()),
        "injured" => all(super::variants::<Organ>()),
        "risk" => RISKS.iter().map(|(name, _)| (*name).to_owned()).collect(),
        "measured" => all(super::variants::<Measured>()),
        _ => Vec::new(),
    }
}

/// The unit that the end of a name tells, as in `sbp_high_mmhg`; empty for a plain number.
pub fn unit_in_name(name: &str) -> &'static str {
    const ENDS: [(&str, &str); 16] = [
        ("_mmhg", "mmHg"),
        ("_ml_min", "mL/min"),
        ("_ml_h", "mL/h"),
        ("_ml", "mL"),
        ("_mm2", "mm2"),
        ("_mm", "mm"),
        ("_s", "s"),
        ("_min", "min"),
        ("_h", "h"),
        ("_percent", "%"),
        ("_bpm", "bpm"),
        ("_g_l", "g/L"),
        ("_mmol_l", "mmol/L"),
        ("_iu_kg", "IU/kg"),
        ("_deg", "deg"),
        ("_gy_cm2", "Gy cm2"),
    ];
    ENDS.iter().find(|(end, _)| name.ends_with(end)).map_or("", |(_, unit)| unit)
}

/// The events that rules know, with what may stand in their brackets.
pub fn events(names: &Names<'_>, shelf: &Shelf) -> Vec<(&'static str, Argument)> {
    let verbs = || Argument::one_of(Order::VERBS.iter().copied());
    let of = |words: &[&'static str]| Argument::one_of(words.iter().copied());
    let devices = || Argument::one_of(shelf.items.iter().map(|s| s.id.clone()));
    let roles = || Argument::one_of(names.roles.iter().map(|r| r.replace(' ', "_")));
    let given = super::variants::<Drug>().iter().chain(super::variants::<Product>()).copied();
    let risks = RISKS.iter().map(|(name, _)| *name).chain(names.happenings.iter().copied());
    vec![
        ("order", verbs()),
        ("done", verbs()),
        ("refused", verbs()),
        ("given", Argument::one_of(given)),
        ("inserted", devices()),
        ("placed", devices()),
        ("ballooned", devices()),
        ("called", roles()),
        ("arrived", roles()),
        ("marked", of(super::variants::<Mark>())),
        ("opened", of(super::variants::<Site>())),
        ("closed", of(super::variants::<Site>())),
        ("revascularised", of(super::variants::<VesselName>())),
        ("covered", of(super::variants::<VesselName>())),
        ("asked", Argument::one_of(names.asks.keys().copied())),
        ("answered", Argument::one_of(names.asks.keys().copied())),
        ("entered", Argument::one_of(names.states.iter().copied())),
        ("lab", of(super::variants::<Test>())),
        ("struck", Argument::one_of(risks)),
        ("alarm", Argument::one_of(SIGNALS.iter().map(|s| s.name))),
        ("ran", of(&["sac_fills", "sac_dark"])),
    ]
}

/// Reads every rule of a case once. The flag tells whether it is asked while the session runs.
pub fn rules(case: &Case, vocabulary: &Vocabulary, told: &mut Told<'_>) -> BTreeMap<String, (Rule, bool)> {
    let mut read: BTreeMap<String, (Rule, bool)> = BTreeMap::new();
    for (path, text, asked) in walk::rules(case) {
        let running = asked == Asked::Running;
        if let Some((rule, runs)) = read.get_mut(text) {
            *runs |= running;
            let rule = rule.clone();
            ahead(&path, &rule, running, told);
            continue;
        }
        match Rule::parse(text, vocabulary) {
            Ok(rule) => {
                ahead(&path, &rule, running, told);
                let runs = running || rule.looks_ahead().is_none();
                read.insert(text.to_owned(), (rule, runs));
            }
            Err(faults) => {
                // Where the policy itself is at fault, that its names are not known only follows.
                let follows = |message: &str| message.contains("`policy.") && told.is_made_up("policy");
                let faults: Vec<_> = faults.into_iter().filter(|f| !follows(&f.message)).collect();
                for fault in faults {
                    let mut diagnostic = told.fault("rule", &path, fault.message);
                    diagnostic.span = inside(told, &path, &fault.span);
                    told.tell(diagnostic.hint(fault.hint.unwrap_or_default()));
                }
            }
        }
    }
    read
}

/// A rule that is asked while the session runs cannot wait for what comes later.
fn ahead(path: &str, rule: &Rule, running: bool, told: &mut Told<'_>) {
    if let Some(span) = rule.looks_ahead().filter(|_| running) {
        let mut fault =
            told.fault("rule", path, "this needs what comes later, and it is asked while the session runs");
        fault.span = inside(told, path, &span);
        told.tell(fault.hint("look back instead: `once`, `historically`, `since`, `for` (`never p` becomes `historically not p`)"));
    }
}

/// Where a part of a quoted rule stands in the file; the whole rule where escapes shift the letters.
fn inside(told: &Told<'_>, path: &str, part: &Range<usize>) -> Range<usize> {
    let whole = told.spans().find(path);
    let quoted = told.spans().text().get(whole.clone()).unwrap_or_default();
    if !quoted.starts_with('"') || quoted.contains('\\') {
        return whole;
    }
    let start = whole.start + 1 + part.start;
    let end = (whole.start + 1 + part.end).min(whole.end.saturating_sub(1));
    if start < end { start..end } else { end.saturating_sub(1)..end.max(1) }
}
