//! What can be said, and what is answered to what cannot.

use super::*;
use crate::circulation::{Drug, Product, Vitals};
use crate::scenario::order::{BriefItem, Closure, Guide, Mark, Measured, Plane};
use crate::scenario::quantity::{Dose, Rate, Span};
use crate::session::view::{AskView, CarmView, ItemView, LineView, RailView, ShelfView};

fn item(device: &str, kind: &'static str) -> ItemView {
    ItemView { device: device.into(), label: device.into(), kind, tip_mm: 100.0, state: None }
}

fn shelf() -> Vec<ShelfView> {
    let all = [
        ("wire_j_180", "Standard wire, J tip, 180 cm", "wire"),
        ("wire_aortic_260", "Aortic exchange wire, wide curve, 260 cm", "wire"),
        ("pigtail_marked_5", "5 Fr marked flush pigtail", "catheter"),
        ("pigtail_5", "5 Fr flush pigtail", "catheter"),
        ("taper_36_32_150", "Tapered thoracic tube, 36 x 32 x 150 mm", "graft"),
        ("balloon_mould_46", "Compliant moulding balloon, to 46 mm", "balloon"),
        ("plug_12", "Vascular plug, 12 mm", "plug"),
    ];
    all.map(|(id, label, kind)| ShelfView { id: id.into(), label: label.into(), kind, left: 1 }).to_vec()
}

/// Two lines, a question with two options.
fn view() -> View {
    let right = vec![item("wire_aortic_260", "wire"), item("taper_36_32_150", "graft")];
    let left = vec![item("pigtail_marked_5", "catheter")];
    View {
        now: Tick(0),
        phase: vec!["Check".into()],
        alarms: Vec::new(),
        vitals: Vitals::default(),
        jobs: Vec::new(),
        rail: RailView {
            length_mm: 640.0,
            lines: vec![
                LineView { site: Site::RightFemoral, entry_mm: 640.0, items: right },
                LineView { site: Site::LeftFemoral, entry_mm: 640.0, items: left },
            ],
            ..RailView::default()
        },
        asks: vec![AskView {
            id: "fluid".into(),
            who: "registrar".into(),
            question: "?".into(),
            why: false,
            confidence: false,
            closes: None,
            options: vec![("hold".into(), "Hold".into()), ("two_litres".into(), "Two".into())],
        }],
        offers: Vec::new(),
        carm: CarmView::default(),
        drawn: Vec::new(),
        runs: Vec::new(),
        shelf: shelf(),
        tally: Vec::new(),
        labs: Vec::new(),
        ended: None,
    }
}

fn said(text: &str) -> Result<Command, String> {
    let view = view();
    parse(text, &Place { view: &view, site: Some(Site::RightFemoral), ready: &[Order::ChestDrain] })
}

fn orders(text: &str) -> Order {
    match said(text) {
        Ok(Command::Give(order)) => order,
        other => panic!("{text}: {other:?}"),
    }
}

#[test]
fn plain_words_make_every_order() {
    let right = Site::RightFemoral;
    let left = Site::LeftFemoral;
    let d = |s: &str| s.to_owned();
    let run = |volume_ml, seconds, breath_hold| Order::Run {
        site: left,
        rate_ml_s: 20.0,
        volume_ml,
        seconds,
        breath_hold,
    };
    let cases = [
        (
            "advance wire_aortic_260 to 40",
            Order::Move { site: right, device: d("wire_aortic_260"), to_mm: 40.0 },
        ),
        (
            "advance the graft to 136 mm",
            Order::Move { site: right, device: d("taper_36_32_150"), to_mm: 136.0 },
        ),
        (
            "withdraw pigtail to 300 on the left",
            Order::Move { site: left, device: d("pigtail_marked_5"), to_mm: 300.0 },
        ),
        ("run 20 x 2", run(40.0, 8.0, false)),
        ("run 20x1.5 for 20 s held", run(30.0, 20.0, true)),
        ("puncture left arm cut down", Order::Puncture { site: Site::LeftBrachial, guide: Guide::CutDown }),
        ("puncture right", Order::Puncture { site: right, guide: Guide::Ultrasound }),
        ("insert wire_j_180 left groin", Order::Insert { site: left, device: d("wire_j_180") }),
        (
            "exchange aortic for j",
            Order::Exchange { site: right, out: d("wire_aortic_260"), put: d("wire_j_180") },
        ),
        ("remove graft", Order::Remove { site: right, device: d("taper_36_32_150") }),
        ("aim lao 55 cau 5", Order::Aim { primary_deg: 55.0, secondary_deg: -5.0 }),
        (
            "measure proximal diameter 31 axial",
            Order::Measure { what: Measured::ProximalDiameter, mm: 31.0, plane: Plane::Axial, run: None },
        ),
        ("pan head 40 right 20", Order::Pan { left_mm: -20.0, head_mm: 40.0 }),
        ("field 22 cm", Order::Field { edge_mm: 220.0 }),
        (
            "collimate sides 20 top 10",
            Order::Collimate {
                left_percent: 20.0,
                right_percent: 20.0,
                top_percent: 10.0,
                bottom_percent: 0.0,
            },
        ),
        ("rate screening 7.5 runs 3", Order::FrameRate { screening_per_s: 7.5, runs_per_s: 3.0 }),
        (
            "measure treated length 118 on run",
            Order::Measure { what: Measured::TreatedLength, mm: 118.0, plane: Plane::Run, run: None },
        ),
        (
            "measure treated length 118 on run 2",
            Order::Measure { what: Measured::TreatedLength, mm: 118.0, plane: Plane::Run, run: Some(2) },
        ),
        (
            "measure distal diameter 27 on projection",
            Order::Measure { what: Measured::DistalDiameter, mm: 27.0, plane: Plane::Projection, run: None },
        ),
        ("mark left subclavian at 128", Order::Mark { name: Mark::LeftSubclavian, at_mm: 128.0 }),
        ("unsheathe 30", Order::Unsheathe { site: right, by_mm: Some(30.0) }),
        ("unsheathe all", Order::Unsheathe { site: right, by_mm: None }),
        (
            "give heparin 100 IU/kg",
            Order::Give { drug: Drug::Heparin, dose: Dose::parse("100 IU/kg").unwrap() },
        ),
        (
            "infuse norepinephrine 0.1 ug/kg/min",
            Order::Infuse { drug: Drug::Noradrenaline, rate: Rate::parse("0.1 ug/kg/min").unwrap() },
        ),
        (
            "transfuse red cells 600 mL over 15 min",
            Order::Transfuse { product: Product::RedCells, ml: 600.0, over: Span::seconds(900) },
        ),
        ("keep systolic 80-100", Order::KeepSystolic { low_mmhg: 80.0, high_mmhg: 100.0 }),
        ("keep systolic between 80 and 100", Order::KeepSystolic { low_mmhg: 80.0, high_mmhg: 100.0 }),
        ("pace 180", Order::Pace { bpm: Some(180.0) }),
        ("pace off", Order::Pace { bpm: None }),
        ("spinal drain 10 mmHg", Order::CsfDrain { at_mmhg: Some(10.0), most_ml_h: None }),
        ("spinal drain 10 mmHg 15 mL/h", Order::CsfDrain { at_mmhg: Some(10.0), most_ml_h: Some(15.0) }),
        ("close right surgical", Order::Close { site: right, how: Closure::Surgical }),
        (
            "hand over map 90 sbp 140 legs ct 48",
            Order::HandOver {
                map_low_mmhg: 90.0,
                sbp_high_mmhg: 140.0,
                hourly_neuro: true,
                ct_hours: Some(48.0),
            },
        ),
        ("recover 24", Order::Recover { hours: 24.0 }),
        ("recover 90 min", Order::Recover { hours: 1.5 }),
        (
            "brief roles, pressure plan",
            Order::Brief { items: vec![BriefItem::Roles, BriefItem::PressurePlan] },
        ),
        ("free pressure", Order::FreeSystolic),
        ("free table", Order::LockTable { on: false }),
        ("note keep an eye on the left arm", Order::Note { text: d("keep an eye on the left arm") }),
        ("+1", Order::ChestDrain),
    ];
    for (text, want) in cases {
        assert_eq!(orders(text), want, "{text}");
    }
}

#[test]
fn numbers_and_names_answer() {
    let want = Command::Answer { ask: "fluid".into(), option: "two_litres".into() };
    assert_eq!(said("2"), Ok(want.clone()));
    assert_eq!(said("answer fluid two_litres"), Ok(want.clone()));
    assert_eq!(said("answer two litres"), Ok(want));
    assert!(said("3").unwrap_err().contains("1 to 2"));
}

#[test]
fn what_is_not_understood_is_answered_with_a_remedy() {
    for (text, remedy) in [
        ("advnace wire to 40", "did you mean advance"),
        ("advance wire_aortic_260", "advance wire_aortic_260 to 40"),
        ("advance unicorn to 40", "shelf"),
        ("withdraw pigtail to far left", "is not a number"),
        ("give herpain 5000 IU", "did you mean heparin"),
        ("give heparin", "give heparin 2000 IU"),
        ("give heparin 5000 furlongs", "unit"),
        ("keep systolic 80", "80 to 100"),
        ("aim northwards", "lao 55"),
        ("pan upstairs 20", "pan head 40"),
        ("collimate", "collimate open"),
        ("run fast", "run 20 x 2"),
        ("hand over to the ward", "map 90 sbp 140"),
        ("wait", "wait 2 min"),
        ("until doomsday", "until something happens"),
        ("+9", "orders"),
        ("anaesthesia hypnosis", "local, general or none"),
    ] {
        let why = said(text).expect_err(text);
        assert!(why.contains(remedy), "{text}: {why}");
    }
}

#[test]
fn no_line_of_noise_panics() {
    for text in [
        "",
        " ",
        "#",
        "+",
        "-",
        "run",
        "run x",
        "run 20 x",
        "mark at",
        "é 40 to",
        "advance to to to",
        "2 2",
        "\u{0}",
        "left",
        "close",
        "x x x x 1e999",
    ] {
        let _ = said(text);
    }
}
