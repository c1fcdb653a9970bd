//! Cause chains: each link goes back to an event, a sample or a number that was recorded.

use super::fixture::{Script, tick};
use overwire::anatomy::{Site, VesselName};
use overwire::debrief::cause::chains;
use overwire::records::library::BUILT_IN;
use overwire::scenario::Order;
use overwire::scenario::case::Tier;
use overwire::scenario::order::Mark;
use overwire::session::event::{EventKind, Giver, PlacedFacts};

fn chosen(ask: &str, option: &str) -> EventKind {
    EventKind::Chosen {
        ask: ask.into(),
        option: option.into(),
        tier: Tier::Unsafe,
        why: String::new(),
        sure_percent: None,
        by_clock: false,
    }
}

/// The shape of `DESIGN.md`'s example: a type Ia leak back through gap, contact and mark to three decisions.
#[test]
fn a_leak_goes_back_to_gap_landing_mark_and_graft() {
    let (id, text) = BUILT_IN[0];
    let mut log = Script::new(text, id, "0.0.1");
    let landing = log.answer(296.0, "landing", "safe", chosen("landing", "safe"));
    let by = |ask: &str| Giver::Option(ask.into());
    let mark = Order::Mark { name: Mark::ProximalLanding, at_mm: 157.0 };
    log.event(296.0, Some(landing), EventKind::Ordered { order: mark, by: by("landing") }, &[]);
    let graft = log.answer(1582.0, "graft", "t32", chosen("graft", "t32"));
    let insert = Order::Insert { site: Site::RightFemoral, device: "taper_32_28_150".into() };
    log.event(1582.0, Some(graft), EventKind::Ordered { order: insert, by: by("graft") }, &[]);
    let release = log.answer(1727.0, "release", "steps", chosen("release", "steps"));
    let unsheathe = Order::Unsheathe { site: Site::RightFemoral, by_mm: None };
    let ordered =
        log.event(1727.0, Some(release), EventKind::Ordered { order: unsheathe, by: by("release") }, &[]);
    let facts = PlacedFacts {
        device: "taper_32_28_150".into(),
        meant_mm: 157.0,
        edges_mm: [161.0, 285.0],
        shift_mm: 3.4,
        covered: vec![(VesselName::Intercostals, 0.0)],
        ..PlacedFacts::default()
    };
    let placed = log.event(1750.0, Some(ordered), EventKind::Placed(facts), &[("off_profile", 25.0)]);
    let read = [("gap", 3.1), ("seal.inner", 4.2), ("seal.proximal", 0.0), ("oversize.proximal", 3.0)];
    log.event(1760.0, Some(placed), EventKind::Leak { ml_min: [210.0, 0.0, 0.0, 0.0] }, &read);
    log.sample(1765.0, &[("leak.Ia", 210.0), ("alive", 1.0)]);
    log.sample(1770.0, &[("leak.Ia", 190.0), ("alive", 1.0)]);

    let record = log.record();
    let chain = &chains(&record)[0];
    assert_eq!(chain.at, tick(1760.0));
    assert_eq!(
        chain.outcome,
        "Type Ia leak: at most 210 mL/min at 29:25, still 190 mL/min when the theatre was left"
    );
    let links = chain.links.join("\n");
    for part in [
        "3.1 mm of gap",
        "4.2 mm of contact on the inner curve",
        "3.0 % oversizing above",
        "fabric from 161 to 285 mm",
        "upper edge 4 mm below the mark at 157 mm",
        "it moved 3 mm downstream",
        "25\u{b0} off the landing's profile",
        "04:56, you chose:",
        "26:22, you chose:",
        "28:47, you chose:",
    ] {
        assert!(links.contains(part), "{part:?} is missing in\n{links}");
    }
    // The choices are quoted as the case words them.
    for (ask, option) in [("landing", "safe"), ("graft", "t32"), ("release", "steps")] {
        let ask = record.case.case.asks.iter().find(|a| a.id == ask).unwrap();
        let say = &ask.options.iter().find(|o| o.id == option).unwrap().say;
        assert!(links.contains(say.as_str()), "{say:?} is missing in\n{links}");
    }
    // Nearest first: the gap before the place, the place before the decision.
    let place = |part: &str| links.find(part).unwrap();
    assert!(place("gap") < place("fabric from") && place("fabric from") < place("04:56"));
    assert!(!links.contains("release: steps"), "an answer's ids are not words\n{links}");
}

#[test]
fn a_covered_branch_is_told_and_intercostals_are_not() {
    let (id, text) = BUILT_IN[0];
    let mut log = Script::new(text, id, "0.0.1");
    let facts = PlacedFacts {
        covered: vec![(VesselName::Coeliac, 0.1), (VesselName::Intercostals, 0.0), (VesselName::Sma, 0.9)],
        ..PlacedFacts::default()
    };
    log.event(10.0, None, EventKind::Placed(facts), &[]);
    log.sample(15.0, &[("alive", 1.0)]);
    let chains = chains(&log.record());
    assert_eq!(chains.len(), 1, "{chains:#?}");
    assert!(chains[0].outcome.starts_with("Coeliac"), "{}", chains[0].outcome);
    assert!(chains[0].outcome.ends_with("covered, 10 % left open"));
}

/// The organ's own chain names the pressure that starved it, and not the seconds of pacing at the release.
#[test]
fn a_lost_cord_names_the_low_pressure_and_not_the_pacing() {
    let (id, text) = BUILT_IN[0];
    let mut log = Script::new(text, id, "0.0.1");
    let row = |map: f64, cord: f64, pacing: f64, hurt: f64| {
        [
            ("map", map),
            ("cord_pressure", cord),
            ("pacing", pacing),
            ("injured.cord", hurt),
            ("alive", 1.0),
            ("covered_length", 190.0),
        ]
    };
    log.sample(5.0, &row(90.0, 80.0, 0.0, 0.0));
    log.sample(10.0, &row(24.0, 12.0, 1.0, 0.0));
    log.sample(60.0, &row(90.0, 80.0, 0.0, 0.0));
    for i in 1..=40 {
        log.sample(60.0 + 5.0 * f64::from(i), &row(50.0, 41.0, 0.0, f64::from(i)));
    }
    let chains = chains(&log.record());
    let cord = chains.iter().find(|c| c.outcome.starts_with("Spinal cord: 40 %")).unwrap();
    let links = cord.links.join("\n");
    assert!(links.contains("cord perfusion pressure down to 41 mmHg"), "{links}");
    assert!(links.contains("below 60 mmHg for 3 min 20 s"), "{links}");
    assert!(links.contains("190 mm of aorta"), "{links}");
    assert!(!links.contains("24 mmHg") && !links.contains("12 mmHg"), "pacing was meant\n{links}");
}
