//! Sweeps: that sharing, threads and shards change nothing, that the players are who they say, and that the counts are right.

use overwire::balance::table::{self, Of};
use overwire::balance::{Kind, Mind, Outcome, Pace, Plan, Summary, page, rehearse, slip_rate, sweep};
use overwire::records::library;
use overwire::scenario::case::{Tier, Tone};
use overwire::scenario::{Loaded, load};
use overwire::session::event::{EventKind, Giver};
use overwire::session::golden::Golden;
use overwire::session::log::Mode;
use overwire::session::player::Player;
use overwire::session::{Session, run_player};
use std::sync::Arc;

/// The suite's small case, a little shorter.
fn small() -> Arc<Loaded> {
    let text = include_str!("../suite/ok_minimal.ron")
        .replace("after: \"1 min\"", "after: \"5 s\"")
        .replace("puncture(site: right_femoral)", "puncture(site: right_femoral, guide: landmark)");
    Arc::new(load(&text, "small.ron").0.unwrap())
}

fn plan(threads: usize, shard: (u64, u64)) -> Plan {
    let kinds = vec![Kind::Model, Kind::Novice, Kind::Random, Kind::AlwaysMiddle, Kind::OneChanged];
    Plan { kinds, runs: 3, changed_runs: 2, pace: Pace::Fine, threads, shard }
}

#[test]
fn threads_shards_and_company_change_nothing() {
    let case = small();
    let of = Of::case(&case, Pace::Fine);
    let whole = sweep(&case, &plan(1, (1, 1)), &|_| {}).unwrap();
    // Three seeds of four kinds, two of four single changes.
    assert_eq!(whole.len(), 4 * 3 + 4 * 2);
    assert_eq!(whole.len(), plan(1, (1, 1)).size(&case));
    let parts: Vec<(Of, Vec<Outcome>)> = [2, 1]
        .map(|k| {
            let part = sweep(&case, &plan(3, (k, 2)), &|_| {}).unwrap();
            table::read(&table::write(&of, &part)).unwrap()
        })
        .into();
    let (same, merged) = table::merge(parts).unwrap();
    assert_eq!(table::write(&same, &merged), table::write(&of, &whole), "the same bytes");
    // Each by itself, from the call, without any shared past.
    let some =
        [Mind::Model, Mind::Novice, Mind::Changed { ask: 0, option: 0 }, Mind::Changed { ask: 1, option: 1 }];
    for (mind, seed) in some.into_iter().flat_map(|mind| [(mind.clone(), 1), (mind, 2)]) {
        let label = mind.label(&case.case);
        let alone = rehearse(&case, &mind, seed, Pace::Fine).unwrap().1;
        let shared = whole.iter().find(|o| o.player == label && o.seed == seed).unwrap();
        assert_eq!(&alone, shared);
    }
}

/// A thread that fails ends the sweep; the others do not wait for its company.
#[test]
fn a_failing_thread_is_not_waited_for() {
    let case = small();
    let failing = || sweep(&case, &plan(3, (1, 1)), &|_| panic!("on purpose"));
    assert!(std::panic::catch_unwind(std::panic::AssertUnwindSafe(failing)).is_err());
}

/// A session with another seed's dice is that seed's session, as long as they fell alike; where they fell otherwise there is none.
#[test]
fn seeds_whose_dice_fall_alike_have_the_same_past() {
    let case = small();
    let played = |seed| {
        let mut session = Session::new(Arc::clone(&case), seed, Mode::Free);
        session.advance(50);
        for order in &case.case.plays[0].steps[2].orders {
            let _ = session.order(Giver::Trainee, order.clone());
        }
        session.advance(9000);
        session
    };
    let one = played(1);
    assert!(one.events().iter().any(|e| matches!(e.kind, EventKind::Risk { .. })), "a die was cast");
    let alike = (2..).find(|&seed| one.with_seed(seed).is_some()).unwrap();
    assert_eq!(Golden::of(&one.with_seed(alike).unwrap()), Golden::of(&played(alike)));
    let otherwise = (2..5000).find(|&seed| one.with_seed(seed).is_none()).unwrap();
    assert_ne!(Golden::of(&one), Golden::of(&played(otherwise)));
}

/// The model player of every case gives the model play's orders at the model play's moments: the same events to the byte. The
/// golden file has the written play's, driven by the play's own player. Leaps in the theatre and longer ones on the ward are for
/// sweeps only: they come to the ending and the expectations that the case states of the fine play, and to the blood that it loses.
#[test]
fn the_model_player_is_the_model_play() {
    let golden = include_str!("../golden/plays.txt");
    let mut other = Vec::new();
    for (id, _) in library::BUILT_IN {
        let line = golden.lines().find(|l| l.starts_with(&format!("{id} model "))).unwrap();
        let case = library::case(id).unwrap();
        let (session, outcome) = rehearse(&case, &Mind::Model, 1, Pace::Fine).unwrap();
        assert_eq!(outcome.harm, None, "{id}");
        assert_eq!(outcome.tone, Some(Tone::Good), "{id}: {}", outcome.ending);
        if !line.ends_with(&Golden::of(&session).to_string()) {
            other.push(id);
        }
        let coarse = coarse(id, "model");
        // A third, or half a bottle: whether a clot that is near its limit lifts again hangs on a mmHg.
        let (fine_ml, coarse_ml) = (outcome.lost_ml, Outcome::of(&coarse, String::new()).lost_ml);
        assert!((fine_ml - coarse_ml).abs() < (0.33 * fine_ml).max(250.0), "{id}: {fine_ml} {coarse_ml}");
    }
    assert_eq!(other, Vec::<&&str>::new());
}

/// A play at the pace of a sweep.
fn coarse(id: &str, play: &str) -> Session {
    let case = library::case(id).unwrap();
    let mut session = Session::new(Arc::clone(&case), 1, Mode::Free);
    session.set_coarse();
    let mut player = Player::named(&case, play).unwrap();
    run_player(&mut session, &mut player);
    assert_eq!(session.unmet(player.play()), Vec::<String>::new(), "{id} {play}");
    session
}

/// Two plays whose ending lives from what the ward does.
#[test]
fn coarse_wards_come_to_the_same_endings() {
    for play in ["subclavian", "soft_pressure"] {
        assert!(coarse("descending_rupture", play).ended().is_some());
    }
}

#[test]
fn one_change_is_one_change() {
    let case = library::case("descending_rupture").unwrap();
    let ask = case.case.asks.iter().position(|a| a.id == "modality").unwrap();
    let option = case.case.asks[ask].options.iter().position(|o| o.id == "comfort").unwrap();
    let (_, outcome) = rehearse(&case, &Mind::Changed { ask, option }, 4, Pace::Fine).unwrap();
    assert_eq!((outcome.player.as_str(), outcome.ending.as_str()), ("modality=comfort", "comfort"));
    let made: Vec<&str> = outcome.made.iter().map(|m| m.option.as_str()).collect();
    assert_eq!(made, ["permissive", "hold", "now", "whole", "comfort"]);
}

#[test]
fn novices_slip_as_often_as_the_table_says() {
    let case = small();
    let session = Session::new(Arc::clone(&case), 1, Mode::Free);
    let n = 4000_u64;
    for (place, ask) in case.case.asks.iter().enumerate() {
        let written = [Some("low"), Some("fits")][place];
        let sound = Mind::Model.choose(&session, 1, place, written);
        let slips = (1..=n).filter(|&s| Mind::Novice.choose(&session, s, place, written) != sound).count();
        // Within 3.3 standard errors: one test in a thousand would fail by chance.
        let near = |hits: usize, p: f64| {
            (hits as f64 / n as f64 - p).abs() < 3.3 * (p * (1.0 - p) / n as f64).sqrt()
        };
        assert!(near(slips, slip_rate(ask)), "{}: {slips} of {n}", ask.id);
        let first = (1..=n).filter(|&s| Mind::Random.choose(&session, s, place, None) == Some(0)).count();
        assert!(near(first, 0.5), "{}: {first} of {n}", ask.id);
    }
    // HEART: 0.16 x 3 where the trainee is asked why, 0.09 x 3 elsewhere.
    assert!((slip_rate(&case.case.asks[0]) - 0.48).abs() < 1e-12);
    assert!((slip_rate(&case.case.asks[1]) - 0.27).abs() < 1e-12);
}

fn outcome(player: &str, seed: u64, ending: &str, lost_ml: f64, made: &str) -> Outcome {
    let row = format!(
        "{}\r\nc,1.0.0,0123,0.1.0,{player},{seed},{ending},{},600,,,{lost_ml},2,0,50,10,60,36,90,80,1,0,{made}\r\n",
        table::HEAD,
        if ending == "died" { "bad" } else { "good" }
    );
    table::read(&row).unwrap().1.remove(0)
}

#[test]
fn the_counts_are_those_of_a_small_table() {
    let case = small();
    let outcomes = [
        outcome("model", 1, "sealed", 700.0, "pressure=low:preferred;size=fits:preferred"),
        outcome("model", 2, "sealed", 700.0, "pressure=low:preferred;size=fits:preferred"),
        outcome("pressure=normal", 1, "died", 2400.0, "pressure=normal:unsafe;size=fits:preferred"),
        outcome("pressure=normal", 2, "sealed", 900.0, "pressure=normal:unsafe;size=fits:preferred"),
        outcome("pressure=low", 1, "sealed", 700.0, "pressure=low:preferred;size=fits:preferred"),
        outcome("pressure=low", 2, "sealed", 700.0, "pressure=low:preferred;size=fits:preferred"),
        outcome("size=fits", 1, "sealed", 700.0, "pressure=low:preferred;size=fits:preferred"),
        outcome("size=same", 1, "sealed", 710.0, "pressure=low:preferred;size=same:unsafe"),
        outcome("novice", 1, "died", 2000.0, "pressure=normal:unsafe!;size=fits:preferred"),
        outcome("novice", 2, "sealed", 700.0, "pressure=low:preferred;size=fits:preferred"),
        outcome("random", 1, "sealed", 700.0, "pressure=low:preferred;size=same:unsafe"),
    ];
    let mut s = Summary::of(&case.case, &outcomes);
    let pressure = &s.asks[0];
    assert_eq!(pressure.novices, (1, 2));
    assert_eq!(pressure.by_clock, (1, 11));
    assert_eq!(pressure.matters, Some(true));
    let normal = &pressure.options[0];
    assert_eq!((normal.n, normal.against_model), (2, [0, 1, 1]));
    let lost = normal.more[0];
    assert_eq!((lost.mean, lost.least, lost.greatest), (950.0, 200.0, 1700.0));
    assert!(!normal.idle && pressure.options[1].idle);
    assert_eq!(normal.dominated_by.as_deref(), Some("low"));
    assert_eq!(s.asks[1].matters, Some(false), "the same ending, and within 100 mL");
    assert_eq!(s.asks[1].options[1].tier, Tier::Unsafe);
    assert_eq!(s.never_reached, Vec::<String>::new());
    assert_eq!(s.naive_wins, vec![(Kind::Random, 1, 1)]);
    let drawn = |s: &Summary| page(&case.case, &Of::case(&case, Pace::Fine), s);
    let html = drawn(&s);
    for needed in ["the case can be won without judgement", "Training only"] {
        assert!(html.contains(needed), "{needed}");
    }
    assert!(!html.contains("<script"), "the page runs no script");
    // A question that the case calls one of knowledge is judged without a patient; any other should have one.
    let harmless = "judged unsafe, and no patient";
    assert!(s.asks[1].knowledge && !html.contains(harmless));
    s.asks[1].knowledge = false;
    assert!(drawn(&s).contains(harmless));
}

#[test]
fn a_page_shows_no_markup_of_the_case() {
    let text = include_str!("../suite/ok_minimal.ron")
        .replace("Pain after a fall", "<script>alert(1)</script><img src=x onerror=y>")
        .replace("title: \"Sealed\"", "title: \"<b>Sealed</b>\"");
    let case = load(&text, "hostile.ron").0.unwrap();
    let s = Summary::of(&case.case, &[outcome("model", 1, "sealed", 700.0, "")]);
    let pages = [page(&case.case, &Of::case(&case, Pace::Fine), &s), overwire::cli::print::page(&case)];
    for html in pages {
        assert!(html.contains("&lt;script&gt;"));
        assert!(!html.contains("<script") && !html.contains("<img") && !html.contains("<b>"));
    }
}

#[test]
fn pages_are_valid_and_accessible() {
    let case = small();
    let s = Summary::of(&case.case, &[outcome("model", 1, "sealed", 700.0, "pressure=low:preferred")]);
    crate::debrief::checkers::passes("sweep", &page(&case.case, &Of::case(&case, Pace::Fine), &s));
    crate::debrief::checkers::passes("print", &overwire::cli::print::page(&case));
}

#[test]
fn a_table_from_outside_is_refused_in_words() {
    let good = table::write(
        &Of::case(&small(), Pace::Fine),
        &[outcome("model", 1, "sealed", 700.0, "pressure=low:preferred")],
    );
    assert!(table::read(&good).is_ok());
    for (bad, why) in [
        (String::new(), "not a table of a sweep"),
        ("time,value\r\n1,2\r\n".into(), "not a table of a sweep"),
        (good.replace(",700,", ",NaN,"), "line 2"),
        (good.replace(":preferred", ":splendid"), "line 2"),
        (format!("{}\r\n", table::HEAD), "no row"),
        (good.clone() + "c,1,0,0,model,2,sealed,good,1,,,1,0,0,0,0,0,0,0,0,1,0,\r\n", "another case"),
        (good[..good.len() - 30].into(), "line 2"),
    ] {
        let told = table::read(&bad).unwrap_err();
        assert!(told.contains(why), "{told}");
    }
    let other = table::read(&good.replace(",700,", ",900,")).unwrap();
    let told = table::merge(vec![table::read(&good).unwrap(), other]).unwrap_err();
    assert!(told.contains("two ways"), "{told}");
}
