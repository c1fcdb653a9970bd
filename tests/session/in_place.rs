//! Cases that begin with something in the patient: grafts of an earlier year, a sheath in a torn artery, the ward.

use overwire::anatomy::Site;
use overwire::scenario::Order;
use overwire::scenario::load::load;
use overwire::session::Session;
use overwire::session::event::Giver;
use overwire::session::log::Mode;
use std::sync::Arc;

/// The first case with something in place, and other changes of its text.
pub fn found(in_place: &str, changes: &[(&str, &str)]) -> Session {
    let mut text = include_str!("../../scenarios/descending_rupture.ron").to_owned();
    text = text.replacen("    story: (", &format!("    in_place: ({in_place}),\n    story: ("), 1);
    for (old, new) in changes {
        assert!(text.contains(old), "{old}");
        text = text.replacen(old, new, 1);
    }
    let (loaded, told) = load(&text, "changed");
    let loaded = loaded.unwrap_or_else(|| panic!("{told:#?}"));
    Session::new(Arc::new(loaded), 1, Mode::Free)
}

/// Lets seconds pass.
pub fn pass(session: &mut Session, seconds: u64) {
    session.advance(10 * seconds);
}

pub fn give(session: &mut Session, order: Order) {
    session.order(Giver::Trainee, order).unwrap();
    while !session.hands_idle() {
        session.advance(10);
    }
}

pub fn last(session: &Session, signal: &str) -> f64 {
    super::last(session, signal)
}

/// Two tubes that overlap by five centimetres hold; pulled apart they pour into the sac between them, which is type III and
/// feeds the old rupture (a late junctional leak, as endoleaks are classed: White, J Endovasc Ther 1997, from memory).
#[test]
fn pieces_that_came_apart_leak_at_their_junction() {
    let grafts = |second: f64| {
        format!(
            "grafts: [(device: \"tube_38_100\", edge: mm(120)), (device: \"tube_36_150\", edge: mm({second}))]"
        )
    };
    // Pieces 100 and 150 mm long with the aneurysm at 155 to 227 mm.
    let mut joined = found(&grafts(150.0), &[]);
    let mut apart = found(&grafts(212.0), &[]);
    for session in [&mut joined, &mut apart] {
        pass(session, 120);
        assert_eq!(last(session, "grafts"), 2.0);
    }
    assert!(last(&joined, "leak.III") < 30.0, "{}", last(&joined, "leak.III"));
    assert!(
        last(&apart, "leak.III") > 3.0 * last(&joined, "leak.III").max(5.0),
        "{}",
        last(&apart, "leak.III")
    );
    assert_eq!(last(&apart, "sealed"), 0.0);
    assert!(last(&apart, "bleed") > 2.0 * last(&joined, "bleed"));
}

/// What an earlier graft covers was covered before the first moment: the arm's pressure is low from the start.
#[test]
fn an_earlier_cover_is_felt_from_the_first_moment() {
    let covered = found("grafts: [(device: \"tube_38_200\", edge: past(left_subclavian, -15))]", &[]);
    let mut covered = covered;
    pass(&mut covered, 10);
    assert!(last(&covered, "covered.left_subclavian") > 80.0);
    assert!(last(&covered, "sbp.left") < 0.8 * last(&covered, "sbp"), "{}", last(&covered, "sbp.left"));
}

/// A sheath that fills an artery hides its tear; drawn out, the tear bleeds into the retroperitoneum.
#[test]
fn a_sheath_plugs_the_tear_that_it_made() {
    let line = "lines: [(site: right_femoral, items: [(device: \"wire_aortic_260\", tip_mm: 150), (device: \"sheath_20_33\", tip_mm: 420)], torn_mm2: 12)]";
    let mut session = found(line, &[("area_mm2: 0.25", "area_mm2: 0.0")]);
    pass(&mut session, 60);
    let before = last(&session, "bleed");
    assert!(before < 20.0, "{before}");
    give(&mut session, Order::Remove { site: Site::RightFemoral, device: "sheath_20_33".into() });
    pass(&mut session, 30);
    let after = last(&session, "bleed");
    assert!(after > 300.0, "{after}");
    assert!(last(&session, "sbp") < 90.0, "{}", last(&session, "sbp"));
}

/// A case may begin on the ward: time passes there, and only there.
#[test]
fn a_case_may_begin_on_the_ward() {
    let ward = "grafts: [(device: \"taper_36_32_150\", edge: mm(136))], ct: Some(whole_aorta), ward: Some((map_low_mmhg: 70, sbp_high_mmhg: 140))";
    let mut session = found(ward, &[("area_mm2: 0.25", "area_mm2: 0.0")]);
    pass(&mut session, 5);
    assert_eq!(last(&session, "ward"), 1.0);
    assert!(
        session
            .order(Giver::Trainee, Order::Puncture { site: Site::RightFemoral, guide: Default::default() })
            .is_err()
    );
    session.order(Giver::Trainee, Order::Recover { hours: 1.0 }).unwrap();
    session.advance_to(overwire::session::event::Tick::from_ms(3_600_000));
    assert_eq!(last(&session, "alive"), 1.0);
}
