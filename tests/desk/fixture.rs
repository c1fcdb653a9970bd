//! One moment of a session, written by hand, for panels that are tested without one.

use overwire::anatomy::{Site, VesselName};
use overwire::circulation::Vitals;
use overwire::desk::settings::Settings;
use overwire::desk::theme::Look;
use overwire::scenario::Order;
use overwire::scenario::order::Mark;
use overwire::session::event::Tick;
use overwire::session::view::{AskView, CarmView, ItemView, LineView, Offer, RailView, View};

/// The usual look.
pub fn look() -> Look {
    Look::of(&Settings::default())
}

/// A device on a line.
pub fn item(device: &str, kind: &'static str, tip_mm: f64) -> ItemView {
    ItemView { device: device.into(), label: device.replace('_', " "), kind, tip_mm, state: None }
}

/// A rail with one line: a wire in the arch, a sheath in the groin.
pub fn rail() -> RailView {
    RailView {
        length_mm: 640.0,
        zones: vec![("2".into(), 104.0, 128.0), ("3".into(), 128.0, 150.0)],
        ostia: vec![(VesselName::LeftSubclavian, 118.0), (VesselName::Coeliac, 318.0)],
        lesions: vec![("rupture".into(), 165.0, 205.0)],
        marks: vec![(Mark::LeftSubclavian, 119.0)],
        grafts: Vec::new(),
        lines: vec![LineView {
            site: Site::RightFemoral,
            entry_mm: 610.0,
            items: vec![item("stiff_wire", "wire", 40.0), item("sheath_22f", "sheath", 480.0)],
        }],
    }
}

/// An offer.
pub fn offer(
    verb: &'static str,
    label: &str,
    group: &'static str,
    blocked: Option<&str>,
    ready: Vec<Order>,
) -> Offer {
    let ready = ready.into_iter().map(|o| (format!("{label}, ready"), o)).collect();
    Offer { verb, label: label.into(), group, blocked: blocked.map(Into::into), ready }
}

/// A question.
pub fn ask(why: bool) -> AskView {
    AskView {
        id: "pressure".into(),
        who: "anaesthetist".into(),
        question: "Where do you want the pressure?".into(),
        why,
        confidence: why,
        closes: None,
        options: vec![("low".into(), "80 to 100".into()), ("high".into(), "above 120".into())],
    }
}

/// A moment.
pub fn view() -> View {
    View {
        now: Tick(600),
        phase: vec!["Theatre".into()],
        vitals: Vitals::default(),
        alarms: Vec::new(),
        jobs: Vec::new(),
        rail: rail(),
        asks: Vec::new(),
        offers: vec![
            offer("chest_drain", "Chest drain", "patient", None, vec![Order::ChestDrain]),
            offer("inflate", "Fill a balloon", "deploy", Some("no balloon lies on a line"), Vec::new()),
            offer("keep_systolic", "Keep the systolic between", "patient", None, Vec::new()),
        ],
        carm: CarmView {
            primary_deg: 30.0,
            field_mm: 380.0,
            rates_per_s: [15.0, 3.0],
            ..CarmView::default()
        },
        drawn: Vec::new(),
        runs: Vec::new(),
        shelf: Vec::new(),
        tally: Vec::new(),
        labs: Vec::new(),
        ended: None,
    }
}

/// A folder of its own for one test.
pub fn home(name: &str) -> std::path::PathBuf {
    let home = std::env::temp_dir().join(format!("overwire-desk-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&home);
    std::fs::create_dir_all(&home).unwrap();
    home
}
