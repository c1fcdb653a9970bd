//! Loading whole cases.

use overwire::scenario::diagnostic::{Level, render};
use overwire::scenario::load;

#[test]
fn the_first_case_loads_without_a_fault() {
    let text = include_str!("../../scenarios/descending_rupture.ron");
    let (loaded, found) = load(text, "descending_rupture.ron");
    let faults: Vec<_> = found.into_iter().filter(|d| d.level == Level::Fault).collect();
    assert!(faults.is_empty(), "{}", render(&faults, text, "descending_rupture.ron", false));
    assert!(loaded.is_some());
}
