//! The whole desk without a window: what it says when something is missing, what each mode shows, and that every screen
//! keeps its controls named and within its edges at every size that it can have.

use super::fixture::home;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use overwire::desk::settings::Settings;
use overwire::desk::{Desk, Options, Screen};
use overwire::scenario::Order;
use overwire::scenario::order::{CtExtent, Measured, Plane};
use overwire::session::event::{EventKind, Giver};
use overwire::session::golden::Golden;
use overwire::session::log::Mode;
use std::path::Path;

const CASE: &str = "descending_rupture";

fn desk(options: Options) -> Desk {
    Desk::new(options, Settings { still: true, ..Settings::default() }).unwrap()
}

fn shown(desk: Desk, size: egui::Vec2) -> Harness<'static, Desk> {
    let mut h = Harness::builder().with_size(size).build_ui_state(|ui, desk: &mut Desk| desk.ui(ui), desk);
    h.run_steps(4);
    h
}

const USUAL: egui::Vec2 = egui::vec2(1280.0, 800.0);

/// A case that was opened in a mode, its log in a folder of its own.
fn case(mode: Mode, folder: &Path) -> Desk {
    desk(Options {
        case: Some(CASE.into()),
        seed: 1,
        mode,
        folder: Some(folder.to_owned()),
        ..Options::default()
    })
}

fn press(h: &mut Harness<'_, Desk>, label: &str) {
    h.get_by_label(label).click_accesskit();
    h.run_steps(3);
}

/// Every control below a node: its role, name and place.
fn controls(h: &Harness<'_, Desk>) -> Vec<(egui::accesskit::Role, String, egui::Rect)> {
    use egui::accesskit::Role;
    fn walk(node: &egui_kittest::Node<'_>, out: &mut Vec<(Role, String, egui::Rect)>) {
        let n = node.accesskit_node();
        let control = matches!(
            n.role(),
            Role::Button
                | Role::CheckBox
                | Role::RadioButton
                | Role::TextInput
                | Role::MultilineTextInput
                | Role::Slider
                | Role::SpinButton
                | Role::ComboBox
        );
        if control {
            out.push((n.role(), n.label().unwrap_or_default(), node.rect()));
        }
        node.children().for_each(|child| walk(&child, out));
    }
    let mut out = Vec::new();
    walk(&h.root(), &mut out);
    out
}

/// 1280 x 800 and 1920 x 1080 at 100, 150 and 200 %, in points. A control's name: WCAG 2.1, 4.1.2. Nothing beyond an edge
/// at 200 %: WCAG 2.1, 1.4.4; there is no scrolling sideways, so what sticks out is lost.
#[test]
fn every_screen_keeps_its_controls_named_and_within_its_edges() {
    let home = home("edges");
    let mut desk = case(Mode::Guided, &home);
    let seat = desk.seat_mut().unwrap();
    seat.give(vec![
        Order::ReadCt { extent: CtExtent::Chest },
        Order::Answer {
            ask: "pressure".into(),
            option: "permissive".into(),
            why: "x".into(),
            sure_percent: Some(80),
        },
    ]);
    seat.step(620);
    desk.show_educator(true);
    let mut h = shown(desk, USUAL);
    let mut faults = Vec::new();
    for size in [USUAL, egui::vec2(853.0, 533.0), egui::vec2(640.0, 400.0), egui::vec2(960.0, 540.0)] {
        h.set_size(size);
        for screen in Screen::OF_A_CASE {
            h.state_mut().turn_to(screen);
            h.state_mut().show_educator(size == USUAL && screen == Screen::Theatre);
            h.run_steps(3);
            let found = controls(&h);
            assert!(found.len() > 5, "{screen:?} at {size} shows {} controls", found.len());
            for (role, name, rect) in found {
                if name.trim().is_empty() {
                    faults.push(format!("{screen:?} at {size}: a {role:?} at {rect:?} has no name"));
                }
                if rect.left() < -1.0 || rect.right() > size.x + 1.0 {
                    faults.push(format!("{screen:?} at {size}: \"{name}\" is cut off at the side: {rect:?}"));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
    std::fs::remove_dir_all(&home).unwrap();
}

/// Texts that are painted with an ellipsis, at a size.
fn shortened(h: &Harness<'_, Desk>) -> Vec<String> {
    fn texts(shape: &egui::Shape, out: &mut Vec<String>) {
        match shape {
            egui::Shape::Text(t) if t.galley.elided => out.push(t.galley.text().to_owned()),
            egui::Shape::Vec(all) => all.iter().for_each(|s| texts(s, out)),
            _ => {}
        }
    }
    let mut out = Vec::new();
    h.output().shapes.iter().for_each(|s| texts(&s.shape, &mut out));
    out
}

/// What is chosen must be legible (WCAG 2.1, 1.4.4: text up to 200 % without loss of content): the plane of each measurement on
/// the sizing sheet, with a question open beside it and without.
#[test]
fn the_plane_of_a_measurement_is_never_cut() {
    let home = home("plane");
    let mut h = shown(case(Mode::Free, &home), USUAL);
    h.state_mut().turn_to(Screen::Reading);
    assert!(!h.state().seat().unwrap().view().asks.is_empty(), "a question is open");
    for size in [
        USUAL,
        egui::vec2(1920.0, 1080.0),
        egui::vec2(1024.0, 640.0),
        egui::vec2(853.0, 533.0),
        egui::vec2(640.0, 400.0),
    ] {
        h.set_size(size);
        h.run_steps(3);
        let cut = shortened(&h);
        assert!(!cut.iter().any(|t| t.contains("centreline") || t.contains("axial")), "{size}: {cut:?}");
    }
    std::fs::remove_dir_all(&home).unwrap();
}

/// The program is gone in the middle of a case: the shelf says so, and one press takes it up exactly where it was.
#[test]
fn a_case_that_was_broken_off_is_taken_up_from_the_shelf() {
    let home = home("crash");
    let mut before = case(Mode::Free, &home);
    let seat = before.seat_mut().unwrap();
    seat.give(vec![Order::Call { who: "anaesthetist".into() }]);
    seat.step(150);
    let (golden, now) = (Golden::of(seat.keeper().session()), seat.view().now);
    // Nothing is ended in good order.
    drop(before);
    let mut h = shown(desk(Options { folder: Some(home.clone()), ..Options::default() }), USUAL);
    let entry = h.get_by_label_contains("broken off at");
    entry.click_accesskit();
    h.run_steps(4);
    assert_eq!(h.state().screen(), Screen::Theatre);
    // A log's last line is older than the moment at which the power went; the seconds between come again by themselves.
    let seat = h.state_mut().seat_mut().unwrap();
    assert!(seat.view().now.seconds() >= 9.0, "the order's time is not lost");
    seat.step(now.0 - seat.view().now.0);
    assert_eq!(Golden::of(seat.keeper().session()), golden);
    // Left in good order, it is listed as such.
    h.state_mut().leave().unwrap();
    h.run_steps(4);
    assert!(h.query_by_label_contains("left at 00:15").is_some());
    std::fs::remove_dir_all(&home).unwrap();
}

/// The folder for logs cannot be made: that is said with its name, and the case can be opened all the same.
#[test]
fn where_no_log_can_be_made_it_is_said_and_the_case_can_still_be_opened() {
    let home = home("unwritable");
    let file = home.join("a file");
    std::fs::write(&file, "not a folder").unwrap();
    let mut h = shown(desk(Options { folder: Some(file.join("logs")), ..Options::default() }), USUAL);
    press(&mut h, "Take the call");
    assert!(h.state().seat().is_none(), "nothing was opened");
    assert!(h.query_by_label_contains("a file/logs").is_some(), "the folder is named");
    press(&mut h, "Go on without a log");
    assert!(h.state().seat().is_some());
    assert!(h.query_by_label_contains("This session keeps no log").is_some());
    std::fs::remove_dir_all(&home).unwrap();
}

/// The folder is there and takes no files: sysfs lets nobody make one, not even the superuser, whom permission bits do not stop
/// (path_resolution(7)). The case can be opened all the same, and goes on.
#[cfg(target_os = "linux")]
#[test]
fn a_log_folder_that_takes_no_files_is_said_and_nothing_is_lost() {
    let folder = std::path::PathBuf::from("/sys/kernel");
    assert!(folder.is_dir(), "sysfs(5)");
    let before = std::fs::read_dir(&folder).unwrap().count();
    let mut h = shown(desk(Options { folder: Some(folder.clone()), ..Options::default() }), USUAL);
    press(&mut h, "Take the call");
    assert!(h.state().seat().is_none(), "nothing was opened");
    assert!(h.query_by_label_contains("/sys/kernel").is_some(), "the folder is named");
    assert!(h.query_by_label_contains("cannot be written").is_some(), "and what is wrong with it");
    press(&mut h, "Go on without a log");
    assert!(h.query_by_label_contains("This session keeps no log").is_some());
    let seat = h.state_mut().seat_mut().unwrap();
    seat.give(vec![Order::ReadCt { extent: CtExtent::Chest }]);
    seat.step(620);
    let told =
        |e: &overwire::session::event::Event| matches!(&e.kind, EventKind::Said { who, .. } if who == "CT");
    assert!(seat.keeper().session().events().iter().any(told), "orders are carried out");
    assert!(seat.trouble().is_none());
    assert_eq!(std::fs::read_dir(&folder).unwrap().count(), before);
}

#[test]
fn guided_mode_gives_the_reasons_at_once_and_free_mode_does_not() {
    let home = home("guided");
    for (mode, told) in [(Mode::Guided, 1), (Mode::Free, 0)] {
        let mut h = shown(case(mode, &home), USUAL);
        let view = h.state().seat().unwrap().view();
        let ask = view.asks.iter().find(|a| a.id == "pressure").expect("the pressure is asked at the call");
        let words = ask.options.iter().find(|o| o.0 == "permissive").unwrap().1.clone();
        // Of several questions one lies open.
        let folded = format!("{}: {}", ask.who, ask.question);
        if h.query_by_label(&words).is_none() {
            press(&mut h, &folded);
        }
        press(&mut h, &words);
        press(&mut h, "Commit");
        let loaded = h.state().seat().unwrap().keeper().session().case().clone();
        let spec = loaded.case.asks.iter().find(|a| a.id == "pressure").unwrap();
        let because = &spec.options.iter().find(|o| o.id == "permissive").unwrap().because;
        assert_eq!(h.query_all_by_label(because).count(), told, "{mode:?}");
        if told > 0 {
            press(&mut h, "Understood, go on");
            assert_eq!(h.query_all_by_label(because).count(), 0);
        }
    }
    std::fs::remove_dir_all(&home).unwrap();
}

#[test]
fn an_examination_has_no_pause_and_no_educator() {
    let home = home("examination");
    let mut desk = case(Mode::Examination, &home);
    desk.seat_mut().unwrap().start_clock();
    desk.turn_to(Screen::Theatre);
    desk.show_educator(true);
    let mut h = shown(desk, USUAL);
    h.key_press(egui::Key::F9);
    h.run_steps(3);
    assert!(h.query_by_label("Pause").is_none());
    assert!(h.query_by_label("Let something happen").is_none());
    std::fs::remove_dir_all(&home).unwrap();
}

#[test]
fn what_an_educator_does_is_in_the_log_in_their_name() {
    let home = home("educator");
    let mut desk = case(Mode::Free, &home);
    desk.seat_mut().unwrap().start_clock();
    let mut h = shown(desk, USUAL);
    h.key_press(egui::Key::F9);
    h.run_steps(4);
    h.get_by_label("Note for the debrief").focus();
    h.step();
    h.get_by_label("Note for the debrief").type_text("slow to call");
    h.run_steps(2);
    press(&mut h, "Add the note");
    let view = h.state().seat().unwrap().view();
    let ready = view.offers.iter().find(|o| o.verb == "chest_drain").unwrap().ready[0].0.clone();
    press(&mut h, "Chest drain");
    press(&mut h, &ready);
    let session = h.state().seat().unwrap().keeper().session();
    let theirs: Vec<&Order> = session
        .events()
        .iter()
        .filter_map(|e| match &e.kind {
            EventKind::Ordered { order, by: Giver::Educator } => Some(order),
            _ => None,
        })
        .collect();
    assert_eq!(theirs, [&Order::Note { text: "slow to call".into() }, &Order::ChestDrain]);
    press(&mut h, "Stop the time");
    assert!(!h.state().running());
    std::fs::remove_dir_all(&home).unwrap();
}

/// A length on a slab's brightest values goes onto the sheet too, as the projection that it is.
#[test]
fn what_callipers_measure_on_a_slab_reaches_the_log_as_a_projection() {
    let home = home("slab");
    let mut h = reading_room(&home);
    press(&mut h, "MIP");
    drawn(&mut h);
    lay_callipers(&mut h);
    assert!(h.query_by_label("36.2 mm, projected").or(h.query_by_label("36.3 mm, projected")).is_some());
    assert_committed(&mut h, (Measured::TreatedLength, Plane::Projection));
    std::fs::remove_dir_all(&home).unwrap();
}

/// From the section to the log: callipers by keyboard, onto the sheet in the plane they were laid in, and committed.
#[test]
fn what_callipers_measure_reaches_the_log_in_its_plane() {
    let home = home("callipers");
    let mut h = reading_room(&home);
    drawn(&mut h);
    lay_callipers(&mut h);
    assert_committed(&mut h, (Measured::ProximalDiameter, Plane::Axial));
    std::fs::remove_dir_all(&home).unwrap();
}

/// The reading room of a case whose CT has been read.
fn reading_room(home: &Path) -> Harness<'static, Desk> {
    let mut desk = case(Mode::Free, home);
    let seat = desk.seat_mut().unwrap();
    seat.give(vec![Order::ReadCt { extent: CtExtent::Chest }]);
    seat.step(620);
    desk.turn_to(Screen::Reading);
    shown(desk, USUAL)
}

/// A section is cut beside the window's work.
fn drawn(h: &mut Harness<'_, Desk>) {
    for _ in 0..2400 {
        if !h.state().drawing() {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(25));
        h.step();
    }
}

/// Lays callipers and moves one end by keyboard.
fn lay_callipers(h: &mut Harness<'_, Desk>) {
    press(h, "Callipers");
    h.get_by_label("Calliper end 2").focus();
    h.step();
    h.key_press_modifiers(egui::Modifiers::SHIFT, egui::Key::ArrowRight);
    h.run_steps(2);
}

/// Takes what [`lay_callipers`] spans to the sheet, commits it there, and finds it in the log. 30 mm laid out on the trunk's 400 mm
/// in 320 pixels, and one end 5 pixels of 1.25 mm farther.
#[track_caller]
fn assert_committed(h: &mut Harness<'_, Desk>, wanted: (Measured, Plane)) {
    press(h, "To the sheet");
    let ready = |n: &egui_kittest::Node<'_>| !n.accesskit_node().is_disabled();
    h.query_all_by_label("Commit").find(ready).expect("something to commit").click_accesskit();
    h.run_steps(3);
    let session = h.state().seat().unwrap().keeper().session();
    let measured = session.events().iter().find_map(|e| match &e.kind {
        EventKind::Ordered { order: Order::Measure { what, mm, plane, .. }, .. } => {
            Some((*what, *mm, *plane))
        }
        _ => None,
    });
    let (what, mm, plane) = measured.expect("a measurement in the log");
    assert_eq!((what, plane), wanted);
    assert!((mm - 36.25).abs() < 0.11, "{mm}");
}
