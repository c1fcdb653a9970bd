//! From what is written to what runs: names looked up, rules read, the vessels built, the shelf filled, the chart wired.

mod chart;
pub mod names;
mod orders;
pub mod plays;
pub mod told;
pub mod vocabulary;
pub mod walk;

use crate::anatomy::Tree;
use crate::kit::Shelf;
use crate::scenario::case::{Action, Case};
use crate::scenario::chart::Chart;
use crate::scenario::load::read::names_of as variants;
use crate::scenario::load::words::snake;
use crate::scenario::nearest;
use crate::scenario::rule::{Rule, Vocabulary};
use names::Names;
use std::collections::BTreeMap;
use told::Told;

/// The parts of a loaded case that are made from what is written.
pub struct Compiled {
    /// The vessels.
    pub tree: Option<Tree>,
    /// What lies on the shelf.
    pub shelf: Shelf,
    /// The chart.
    pub chart: Option<Chart<String, Action>>,
    /// The words of rules.
    pub vocabulary: Vocabulary,
    /// The rules by their text, and whether each is asked while the session runs.
    pub rules: BTreeMap<String, (Rule, bool)>,
    /// Variables that the case sets, in order.
    pub vars: Vec<String>,
}

/// Makes them, and tells everything that stands in the way.
pub fn compile(case: &Case, told: &mut Told<'_>) -> Compiled {
    let names = Names::of(case);
    let shelf = shelf(case, told);
    names::check(case, &names, told);
    orders::check(case, &shelf, told);
    let vocabulary = vocabulary::vocabulary(case, &names, &shelf);
    let rules = vocabulary::rules(case, &vocabulary, told);
    let chart = if told.any_fault_below("chart") { None } else { chart::chart(case, told) };
    let tree = anatomy(case, told);
    let vars = names.vars.iter().map(|v| (*v).to_owned()).collect();
    Compiled { tree, shelf, chart, vocabulary, rules, vars }
}

/// The built-in shelf with the case's changes.
fn shelf(case: &Case, told: &mut Told<'_>) -> Shelf {
    let mut shelf = Shelf::generic();
    let ids: Vec<String> = shelf.items.iter().map(|s| s.id.clone()).collect();
    let listed = |told: &mut Told<'_>, path: &str, id: &String| {
        if !ids.contains(id) {
            let fault = told.fault("name-unknown", path, format!("the built-in shelf has no device `{id}`"));
            told.tell(fault.hint(match nearest(id, ids.iter().map(String::as_str)) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "`overwire explain shelf` lists what there is".into(),
            }));
        }
    };
    for (i, id) in case.shelf.only.iter().enumerate() {
        listed(told, &format!("shelf.only[{i}]"), id);
    }
    for (id, count) in &case.shelf.stock {
        listed(told, &format!("shelf.stock[{id}]"), id);
        if let Some(item) = shelf.items.iter_mut().find(|s| s.id == *id) {
            item.count = *count;
        }
    }
    if !case.shelf.only.is_empty() {
        shelf.items.retain(|s| case.shelf.only.contains(&s.id));
    }
    shelf
}

/// The vessels of the sizing sheet.
fn anatomy(case: &Case, told: &mut Told<'_>) -> Option<Tree> {
    match case.anatomy.build() {
        Ok(tree) => Some(tree),
        Err(faults) => {
            for fault in faults {
                let (what, hint) = fault.split_once("; ").unwrap_or((&fault, ""));
                let what = what.strip_prefix("anatomy, ").unwrap_or(what);
                let (path, field) = anatomy_path(what);
                let mut diagnostic = told.fault("anatomy", &path, what);
                if let Some(span) = told.spans().field_below(&path, field) {
                    diagnostic.span = span;
                }
                told.tell(diagnostic.hint(hint));
            }
            None
        }
    }
}

/// "lesion 2: max_mm: 900 is ..." is about the field `max_mm` somewhere in `anatomy.lesions[1]`; "aorta.diameters_mm,
/// Isthmus: ..." about the entry `anatomy.aorta.diameters_mm[isthmus]`.
fn anatomy_path(fault: &str) -> (String, &str) {
    let mut parts = fault.split(": ");
    let first = parts.next().unwrap_or_default();
    let (kind, number) = first.split_once(' ').unwrap_or((first, ""));
    if let Some(number) = number.parse::<usize>().ok().filter(|n| *n > 0) {
        let list = if kind == "lesion" { "lesions" } else { kind };
        return (format!("anatomy.{list}[{}]", number - 1), parts.next().unwrap_or_default());
    }
    match first.split_once(", ") {
        Some((map, landmark)) if !landmark.contains(' ') => {
            (format!("anatomy.{map}[{}]", snake(landmark)), "")
        }
        _ => (format!("anatomy.{}", first.split(',').next().unwrap_or(first)), ""),
    }
}
