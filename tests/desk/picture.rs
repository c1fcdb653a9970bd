//! The picture and its tools in the theatre, by label and keyboard, without a window.

use super::fixture::home;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use overwire::anatomy::Site;
use overwire::desk::settings::Settings;
use overwire::desk::{Desk, Options, Screen};
use overwire::imaging::Grey;
use overwire::scenario::Order;
use overwire::scenario::order::{Guide, Measured, Plane};
use overwire::session::event::EventKind;
use overwire::session::log::Mode;

/// The theatre of a case in a mode, its log in a folder of its own.
fn theatre(name: &str, mode: Mode, orders: Vec<Order>) -> Harness<'static, Desk> {
    let options = Options {
        case: Some("descending_rupture".into()),
        seed: 1,
        mode,
        folder: Some(home(name)),
        ..Options::default()
    };
    let mut desk = Desk::new(options, Settings { still: true, ..Settings::default() }).unwrap();
    let seat = desk.seat_mut().unwrap();
    seat.give(orders);
    seat.run_clock(false);
    while !seat.keeper().session().hands_idle() {
        seat.step(50);
    }
    desk.turn_to(Screen::Theatre);
    let mut h = Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .build_ui_state(|ui, desk: &mut Desk| desk.ui(ui), desk);
    settle(&mut h);
    h
}

/// Lets the picture be drawn, beside the window's work.
fn settle(h: &mut Harness<'_, Desk>) {
    h.run_steps(3);
    for _ in 0..4800 {
        if !h.state().drawing() {
            h.run_steps(2);
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(25));
        h.state_mut().seat_mut().unwrap().picture.tick(0.025);
        h.step();
    }
    panic!("the picture was never drawn");
}

fn press(h: &mut Harness<'_, Desk>, label: &str) {
    h.get_by_label(label).click_accesskit();
    h.run_steps(3);
}

fn order(h: &mut Harness<'_, Desk>, order: Order) {
    let seat = h.state_mut().seat_mut().unwrap();
    seat.give(vec![order]);
    while !seat.keeper().session().hands_idle() {
        seat.step(10);
    }
    settle(h);
}

fn shown(h: &mut Harness<'_, Desk>) -> Grey {
    h.state_mut().seat_mut().unwrap().picture.shown().expect("a picture")
}

fn says(h: &Harness<'_, Desk>, part: &str) -> bool {
    h.query_all_by_label_contains(part).next().is_some()
}

/// A flush catheter with bands in the aorta, and a run through it.
fn ran() -> Vec<Order> {
    let site = Site::RightFemoral;
    let wire = || "wire_aortic_260".to_owned();
    let pigtail = || "pigtail_marked_5".to_owned();
    vec![
        Order::Puncture { site, guide: Guide::Landmark },
        Order::Insert { site, device: wire() },
        Order::Move { site, device: wire(), to_mm: 60.0 },
        Order::Insert { site, device: pigtail() },
        Order::Move { site, device: pigtail(), to_mm: 80.0 },
        Order::Remove { site, device: wire() },
        Order::Run { site, rate_ml_s: 15.0, volume_ml: 20.0, seconds: 3.0, breath_hold: true },
    ]
}

/// Last-image hold (IEC 60601-2-43 asks for it): with the foot off the pedal the last picture stays, whatever goes on.
#[test]
fn the_last_image_is_held() {
    let mut h = theatre("hold", Mode::Free, vec![Order::Screen { on: true }]);
    let live = shown(&mut h);
    assert!(says(&h, "screening on") && !says(&h, "last image held"));
    // The world goes on, and the picture with it.
    order(&mut h, Order::Aim { primary_deg: 30.0, secondary_deg: 0.0 });
    let last = shown(&mut h);
    assert_ne!(last, live);
    order(&mut h, Order::Screen { on: false });
    let held = shown(&mut h);
    let dose = |h: &Harness<'_, Desk>| h.state().seat().unwrap().view().tally[2].value;
    let before = dose(&h);
    order(&mut h, Order::Aim { primary_deg: 0.0, secondary_deg: 0.0 });
    h.state_mut().seat_mut().unwrap().step(100);
    settle(&mut h);
    assert_eq!(shown(&mut h), held, "it stays as it was");
    assert!(says(&h, "last image held"));
    assert_eq!(dose(&h), before, "and costs no dose");
}

/// What is laid over with a fade of nothing is not there; after the table moved it is said to lie wrong (common practice: a
/// roadmap holds for the position that it was taken in).
#[test]
fn a_reference_is_laid_over_faded_and_said_to_lie_wrong_once_the_table_moved() {
    let mut h = theatre("overlay", Mode::Free, [ran(), vec![Order::Screen { on: true }]].concat());
    assert!(says(&h, "Run 1:"));
    press(&mut h, "live");
    settle(&mut h);
    let plain = shown(&mut h);
    press(&mut h, "reference");
    let over = shown(&mut h);
    assert_ne!(over, plain);
    h.get_by_label("Fade 60 %").focus();
    // A control holds the arrow keys from its second frame on.
    h.run_steps(2);
    for _ in 0..12 {
        h.key_press(egui::Key::ArrowLeft);
        h.run_steps(2);
    }
    let fades: Vec<_> = h.query_all_by_label_contains("Fade").map(|n| n.accesskit_node().label()).collect();
    assert_eq!(fades, [Some("Fade 0 %".to_owned())]);
    assert_eq!(shown(&mut h), plain, "faded away");
    press(&mut h, "roadmap");
    settle(&mut h);
    assert_ne!(shown(&mut h), plain, "bones gone");
    assert!(!says(&h, "it lies wrong"));
    press(&mut h, "To the head");
    let seat = h.state_mut().seat_mut().unwrap();
    seat.step(60);
    settle(&mut h);
    assert!(says(&h, "it lies wrong"));
}

/// A length on a run: the scale first, two bands 10 mm apart, then the callipers, to the log in the plane of the run. As laid, a
/// tenth of the picture is 10 mm and the callipers span three tenths; one end five pixels of 384 farther adds 5/38.4 of 10 mm.
#[test]
fn a_length_on_a_run_reaches_the_log() {
    let mut h = theatre("ruler", Mode::Free, ran());
    press(&mut h, "measure");
    h.get_by_label("Calliper end 2").focus();
    h.step();
    h.key_press_modifiers(egui::Modifiers::SHIFT, egui::Key::ArrowRight);
    h.run_steps(2);
    press(&mut h, "Commit");
    let session = h.state().seat().unwrap().keeper().session();
    let measured = session.events().iter().find_map(|e| match &e.kind {
        EventKind::Ordered { order: Order::Measure { what, mm, plane, .. }, .. } => {
            Some((*what, *mm, *plane))
        }
        _ => None,
    });
    assert_eq!(measured, Some((Measured::TreatedLength, 31.3, Plane::Run)));
}

/// Without bands there is no scale, and so no length.
#[test]
fn without_a_marked_catheter_nothing_is_measured() {
    let swap = [("pigtail_marked_5".to_owned(), "pigtail_5".to_owned())];
    let mut h = theatre("unmarked", Mode::Free, ran().iter().map(|o| o.renamed(&swap)).collect::<Vec<_>>());
    press(&mut h, "measure");
    assert!(says(&h, "No catheter with bands lies in the vessel."));
    press(&mut h, "Commit");
    let events = h.state().seat().unwrap().keeper().session().events();
    assert!(
        !events.iter().any(|e| matches!(&e.kind, EventKind::Ordered { order: Order::Measure { .. }, .. }))
    );
}

/// So many frames on, by keyboard.
fn step_on(h: &mut Harness<'_, Desk>, frames: usize) {
    let controls = h.query_all_by_label_contains("frame ");
    let slider = |n: &egui_kittest::Node<'_>| n.accesskit_node().role() == egui::accesskit::Role::Slider;
    controls.filter(slider).for_each(|n| n.focus());
    h.run_steps(2);
    for _ in 0..frames {
        h.key_press(egui::Key::ArrowRight);
        h.run_steps(2);
    }
}

/// A run is stepped frame by frame, looked at as it was taken, and at its fullest.
#[test]
fn a_run_is_stepped_shifted_and_looked_at_unsubtracted() {
    let mut h = theatre("steps", Mode::Free, ran());
    step_on(&mut h, 4);
    let full = shown(&mut h);
    press(&mut h, "One frame back");
    let earlier = shown(&mut h);
    assert_ne!(earlier, full);
    press(&mut h, "One frame on");
    assert_eq!(shown(&mut h), full);
    for view in ["unsubtracted", "peak"] {
        press(&mut h, view);
        assert_ne!(shown(&mut h), full, "{view}");
        press(&mut h, view);
    }
    assert_eq!(shown(&mut h), full);
}

/// Mean step from pixel to pixel: edges that do not lie on each other add to it.
fn edges(picture: &Grey) -> f64 {
    let (w, p) = (picture.width, &picture.pixels);
    let steps = (w..p.len() - 1).map(|i| p[i].abs_diff(p[i + 1]) as f64 + p[i].abs_diff(p[i - w]) as f64);
    steps.sum::<f64>() / p.len() as f64
}

/// The table drifts in a run, and bones show beside themselves. Shifted by what the table went (similar triangles), the mask lies
/// on them again; shifted the other way it lies worse, though it is smoothed by as much; shifted back, every bit is as before.
#[test]
fn a_mask_is_shifted_by_keyboard_onto_what_moved() {
    let mut h = theatre("mask", Mode::Free, ran());
    step_on(&mut h, 12);
    let plain = shown(&mut h);
    let session = h.state().seat().unwrap().keeper().session();
    let run = session.angiogram(&session.pose(), 64).unwrap();
    let t_s = run.frames.last().unwrap().t_s;
    let mm = run.spec.table_mm_s * t_s;
    assert!((mm.norm() - 1.5).abs() < 0.2, "{mm:?}");
    let across = plain.width;
    let (right, down) = session.pose().view(across).shift_px(mm);
    let mut shift = |right: f64, down: f64| {
        for (name, px) in
            [("Shift the mask to the right, pixels", right), ("Shift the mask down, pixels", down)]
        {
            h.get_by_label(name).focus();
            h.run_steps(2);
            h.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
            h.event(egui::Event::Text(format!("{px:.2}")));
            h.run_steps(2);
            h.key_press(egui::Key::Enter);
            h.run_steps(3);
        }
        shown(&mut h)
    };
    let with = edges(&shift(right, down));
    let against = edges(&shift(-right, -down));
    let back = shift(0.0, 0.0);
    assert!(with < 0.97 * against && with < edges(&plain), "{with} {against} {}", edges(&plain));
    assert!(back == plain, "shifted there and back");
}

/// The teaching view is one key and one control away, and an examination has neither.
#[test]
fn the_teaching_view_is_off_in_an_examination() {
    for (mode, has) in [(Mode::Free, true), (Mode::Guided, true), (Mode::Examination, false)] {
        let mut h = theatre(&format!("inside-{has}-{mode:?}"), mode, ran());
        assert_eq!(h.query_by_label("3-D").is_some(), has, "{mode:?}");
        h.key_press(egui::Key::F4);
        h.run_steps(3);
        let on = |h: &Harness<'_, Desk>| h.state().seat().unwrap().picture.shows_inside();
        assert_eq!(on(&h), has, "{mode:?}");
        h.state_mut().seat_mut().unwrap().picture.show_inside(true);
        assert_eq!(on(&h), has);
        if has {
            settle(&mut h);
            assert!(says(&h, "Vessels and devices in three dimensions"));
            press(&mut h, "3-D");
            assert!(!on(&h));
        }
    }
}
