//! The workbench by label: it follows the file, changes one number and nothing else, and leads into the case. What an editor must
//! not do (lose text, overwrite what somebody else saved) is common practice, no source.

use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use overwire::desk::settings::Settings;
use overwire::desk::workbench::source::Source;
use overwire::desk::{Desk, Options, Screen};
use overwire::scenario::rule::Signals;
use std::path::{Path, PathBuf};

const SMALL: &str = include_str!("../suite/ok_minimal.ron");

fn file(name: &str) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("overwire-bench-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join("ok_minimal.ron");
    std::fs::write(&path, SMALL).unwrap();
    path
}

fn laid(path: &Path) -> Harness<'static, Desk> {
    let options = Options {
        workbench: Some(path.to_owned()),
        folder: Some(path.parent().unwrap().join("logs")),
        ..Options::default()
    };
    let desk = Desk::new(options, Settings { still: true, ..Settings::default() }).unwrap();
    let size = egui::vec2(1280.0, 800.0);
    let mut h = Harness::builder().with_size(size).build_ui_state(|ui, desk: &mut Desk| desk.ui(ui), desk);
    h.run_steps(4);
    h
}

fn press(h: &mut Harness<'_, Desk>, label: &str) {
    h.get_by_label(label).click_accesskit();
    h.run_steps(3);
}

#[test]
fn a_saved_fault_is_told_with_its_line_and_a_repair_takes_it_away() {
    let path = file("fault");
    let mut h = laid(&path);
    assert!(h.query_by_label_contains("cannot be opened yet").is_none());
    let broken = SMALL.replace("level: 1,", "level: 9,\n");
    let line = broken[..broken.find("level: 9").unwrap()].matches('\n').count() + 1;
    std::fs::write(&path, &broken).unwrap();
    // The file is looked at again after most of a second.
    h.run_steps(90);
    h.get_by_label_contains("cannot be opened yet");
    h.get_by_label_contains(&format!("■ {line}: 9 cannot be"));
    std::fs::write(&path, SMALL).unwrap();
    h.run_steps(90);
    assert!(h.query_by_label_contains("cannot be opened yet").is_none());
}

#[test]
fn one_number_is_written_and_nothing_else() {
    let path = file("number");
    let mut source = Source::open(&path).unwrap();
    let numbers = source.numbers();
    let depth = numbers.iter().find(|n| n.path.ends_with("depth_mm")).expect("the sac's depth").clone();
    assert_eq!((depth.value, depth.path.as_str()), (12.0, "lesions.false aneurysm.shape.depth_mm"));
    source.put(&depth, 17.0).unwrap();
    let now = std::fs::read_to_string(&path).unwrap();
    assert_eq!(now, SMALL.replace("depth_mm: 12", "depth_mm: 17"), "comments and layout stay");
    assert!(source.fresh && !path.with_extension("ron.part").exists());
    // Somebody else saved meanwhile: theirs stands.
    let theirs = now.replace("age_years: 60", "age_years: 61");
    std::fs::write(&path, &theirs).unwrap();
    let depth = source.numbers().into_iter().find(|n| n.path.ends_with("depth_mm")).unwrap();
    assert!(source.put(&depth, 20.0).unwrap_err().contains("saved elsewhere"));
    assert_eq!(std::fs::read_to_string(&path).unwrap(), theirs);
    assert_eq!(source.text(), theirs);
}

#[test]
fn a_phase_that_is_pressed_can_be_jumped_to() {
    let path = file("jump");
    let mut h = laid(&path);
    press(&mut h, "Phases");
    press(&mut h, "repair");
    press(&mut h, "Plays");
    h.get_by_label_contains("Watch up to: repair");
    let name = h.state().bench().unwrap().source().case.as_ref().unwrap().case.plays[0].name.clone();
    press(&mut h, &format!("Watch: {name}"));
    for _ in 0..200 {
        h.state_mut().tick(0.03);
    }
    h.run_steps(3);
    let desk = h.state();
    let seat = desk.seat().expect("a session");
    assert!(seat.keeper().session().trace().last().unwrap().in_state("repair"));
    assert!(!seat.watched() && desk.screen() == Screen::Theatre);
    // Back on the bench the chart lights the phase where the session stands.
    press(&mut h, "Workbench");
    press(&mut h, "Phases");
    let lit = h.get_by_label("repair").accesskit_node().toggled();
    assert_eq!(lit, Some(egui::accesskit::Toggled::True));
}

/// The small case's plays are written for the checks of files, not to come out: the bench says so.
#[test]
fn plays_are_rehearsed_and_what_did_not_come_out_is_said() {
    let path = file("plays");
    let mut h = laid(&path);
    press(&mut h, "Plays");
    press(&mut h, "Rehearse: model");
    for _ in 0..1200 {
        std::thread::sleep(std::time::Duration::from_millis(50));
        h.run_steps(1);
        if h.query_by_label_contains("ending sealed; it was none").is_some() {
            return;
        }
    }
    panic!("nothing was said of the play");
}
