//! Checks of `assess`: decisions are judged, not dice.

use crate::debrief::fixture::{Script, loaded, small_case};
use overwire::anatomy::sheet::SizingSheet;
use overwire::assess::{Brier, Judgement, NARROW_PERCENT, Near, RiskLine, nears, sums};
use overwire::scenario::Order;
use overwire::scenario::order::{Measured, Plane};
use overwire::session::Session;
use overwire::session::event::{EventKind, Giver, RunFacts, Tick};
use overwire::session::log::Mode;
use std::sync::Arc;

/// A tear that may widen by itself after half a minute, whatever the trainee does.
fn chancy() -> String {
    let dice = r#"happenings: [
        (
            id: "widens", when: "time > 30 s", chance: 0.5, source: ["author judgement"],
            then: [bleed((id: "again", from: aorta, area_mm2: 40, into: left_pleura))],
        ),"#;
    small_case(&[("happenings: [", dice)])
}

fn played(case: &Arc<overwire::scenario::Loaded>, seed: u64, option: &str) -> Session {
    let mut session = Session::new(Arc::clone(case), seed, Mode::Free);
    session.advance(50);
    let answer = Order::Answer {
        ask: "pressure".into(),
        option: option.into(),
        why: String::new(),
        sure_percent: Some(80),
    };
    session.order(Giver::Trainee, answer).unwrap();
    session.advance(450);
    session
}

fn struck(session: &Session) -> bool {
    session.events().iter().any(|e| matches!(&e.kind, EventKind::Risk { struck: true, .. }))
}

fn lost_ml(session: &Session) -> f64 {
    use overwire::scenario::rule::Signals;
    session.trace().last().unwrap().value("lost").unwrap()
}

/// Outcome bias moves a human rater by a whole step (Gupta et al. 2011); it must not move this one.
#[test]
fn a_lucky_bad_decision_scores_below_an_unlucky_good_one() {
    let case = Arc::new(loaded(&chancy()));
    let good: Vec<Session> = (1..=8).map(|seed| played(&case, seed, "low")).collect();
    let unlucky = good.iter().position(struck).expect("no seed of eight was unlucky");
    let lucky = good.iter().position(|s| !struck(s)).expect("no seed of eight was lucky");
    assert!(lost_ml(&good[unlucky]) > lost_ml(&good[lucky]) + 50.0, "the dice do something to the patient");

    // The same decision under other dice is judged the same, in score, tier and words.
    let judged: Vec<Judgement> = good.iter().map(Judgement::of).collect();
    assert_eq!(judged[unlucky].decision_score(), judged[lucky].decision_score());
    assert_eq!(judged[unlucky].decisions, judged[lucky].decisions);

    // The bad one with the lucky dice is judged worse, although its patient bled less.
    let bad = played(&case, lucky as u64 + 1, "normal");
    assert!(!struck(&bad), "the answer moved the dice of another thing");
    assert!(lost_ml(&bad) < lost_ml(&good[unlucky]));
    assert!(Judgement::of(&bad).decision_score() < judged[unlucky].decision_score());
    assert!(!Judgement::of(&bad).dangers().is_empty());
    assert!(judged[unlucky].dangers().is_empty());
}

/// By hand (Brier, Monthly Weather Review 78:1, 1950): five levels of confidence, .9 .9 .9 .7 .7 .7 .5 .5 .3 .1, of which the
/// 1st, 2nd, 4th, 5th and 7th came true: score .21, mean forecast .62 against .50.
#[test]
fn confidence_is_scored_as_brier_has_it() {
    let forecasts = [0.9, 0.9, 0.9, 0.7, 0.7, 0.7, 0.5, 0.5, 0.3, 0.1];
    let came = [1.0, 1.0, 0.0, 1.0, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0];
    let pairs: Vec<(f64, f64)> = forecasts.into_iter().zip(came).collect();
    let brier = Brier::of_pairs(&pairs).unwrap();
    assert!((brier.score - 0.21).abs() < 1e-12, "{}", brier.score);
    assert!((brier.overconfidence - 0.12).abs() < 1e-12, "{}", brier.overconfidence);
    assert_eq!(Brier::of_pairs(&[]), None);
}

/// Exposures that do not touch each other: 1 - (1 - p)(1 - q).
#[test]
fn risks_add_up_as_independent_chances() {
    let line = |id: &str, probability, struck| RiskLine {
        event: 0,
        at: Tick(0),
        id: id.into(),
        probability,
        because: Vec::new(),
        struck,
    };
    let sums = sums(&[line("a", 0.1, false), line("b", 0.05, false), line("a", 0.2, true)]);
    assert_eq!(sums.len(), 2);
    assert_eq!((sums[0].id.as_str(), sums[0].times, sums[0].struck), ("a", 2, true));
    assert!((sums[0].accrued - 0.28).abs() < 1e-12);
    assert!((sums[1].accrued - 0.05).abs() < 1e-12);
}

/// What was measured on a run says on which, and when that was taken (its number where that is known, else the newest).
#[test]
fn a_measurement_on_a_run_names_the_run() {
    let text = small_case(&[]);
    let mut log = Script::new(&text, "ok_minimal", "0.0.1");
    let ran = |number| EventKind::Ran(RunFacts { number, ..RunFacts::default() });
    log.event(10.0, None, ran(1), &[]);
    log.event(20.0, None, ran(2), &[]);
    for (at_s, what, plane, run) in [
        (30.0, Measured::ProximalDiameter, Plane::Run, Some(1)),
        (31.0, Measured::TreatedLength, Plane::Run, None),
        (32.0, Measured::DistalDiameter, Plane::Projection, None),
    ] {
        let order = Order::Measure { what, mm: 30.0, plane, run };
        log.event(at_s, None, EventKind::Ordered { order, by: Giver::Trainee }, &[]);
    }
    log.event(40.0, None, ran(3), &[]);
    let record = log.record();
    let on = Judgement::of_record(&record)
        .sizing
        .iter()
        .map(|s| s.run.map(|r| (r.0, r.1.seconds())))
        .collect::<Vec<_>>();
    assert_eq!(on, [Some((1, 10.0)), Some((2, 20.0)), None]);
    let page = crate::debrief::report::page_of(&record);
    for taken in [
        "(on run 1, 00:10, by the marked catheter)",
        "(on run 2, 00:20, ",
        "(on a slab of the CT, projected)",
    ] {
        assert!(page.contains(taken), "{taken}: {}", &page[page.find("Measurements").unwrap_or(0)..][..900]);
    }
}

/// The error over the readers' spread, the last word counting; a plan has no true value.
#[test]
fn measurements_are_set_against_the_anatomy() {
    let text = small_case(&[]);
    let case = loaded(&text);
    let sheet = SizingSheet::measure(&case.tree, 0, case.case.patient.map_rest_mmhg).unwrap();
    let mut log = Script::new(&text, "ok_minimal", "0.0.1");
    let mut say = |at_s, what, mm| {
        let order = Order::Measure { what, mm, plane: Plane::Orthogonal, run: None };
        log.event(at_s, None, EventKind::Ordered { order, by: Giver::Trainee }, &[]);
    };
    say(10.0, Measured::ProximalDiameter, 60.0);
    say(20.0, Measured::ProximalDiameter, sheet.proximal.diameter_mm() + 3.0);
    say(30.0, Measured::TreatedLength, 150.0);
    let judgement = Judgement::of_record(&log.record());
    let [s, plan] = &judgement.sizing[..] else { panic!("{:?}", judgement.sizing) };
    assert_eq!(s.what, Measured::ProximalDiameter);
    let z = s.against.unwrap().z;
    assert!((z - 3.0 / 1.5).abs() < 1e-9, "{z}");
    assert_eq!((plan.what, plan.against), (Measured::TreatedLength, None));
}

/// How near an expectation came is the robustness of its rule (Fainekos and Pappas, Theor Comput Sci 2009;410:4262): of `once x > c`
/// the greatest x less c, of `historically x > c` the least, of a bare comparison the last; worked out here from the samples.
#[test]
fn how_near_a_play_came_is_the_robustness_of_its_rules() {
    use overwire::scenario::rule::Signals;
    let case = Arc::new(loaded(&small_case(&[])));
    let session = played(&case, 1, "low");
    let maps: Vec<f64> = session.trace().iter().filter_map(|row| row.value("map")).collect();
    let greatest = maps.iter().copied().fold(f64::MIN, f64::max);
    let last = *maps.last().unwrap();
    let record = overwire::session::record::Record::of(&session);
    let of = |rules: &[String]| -> Vec<Near> {
        let mut play = case.case.plays[0].clone();
        (play.expect, play.ending) = (rules.to_vec(), None);
        nears(&record, &play)
    };
    let one = |rule: String| -> Near { of(&[rule]).pop().unwrap() };
    let once = one("once map > 40 mmHg".into());
    assert!(
        (once.margin - (greatest - 40.0)).abs() < 1e-9 && (once.value - greatest).abs() < 1e-9,
        "{once:?}"
    );
    let never = one("not once map > 200 mmHg".into());
    assert!(
        (never.margin - (200.0 - greatest)).abs() < 1e-9 && (never.value - greatest).abs() < 1e-9,
        "{never:?}"
    );
    let now = one("alive == 1 and map < 300 mmHg".into());
    assert!(
        (now.margin - (300.0 - last)).abs() < 1e-9 && (now.bound, now.unit) == (300.0, "mmHg"),
        "{now:?}"
    );
    // In the signal's own unit, whatever the rule's.
    let early = one("not once (time > 1 h and alive == 1)".into());
    assert!(
        (early.bound - 3600.0).abs() < 1e-9
            && (early.margin - (3600.0 - session.now().seconds())).abs() < 1e-9
    );
    // Sameness has no measure; a comparison that cannot turn the rule has none either.
    assert_eq!(of(&["alive == 1".into(), "alive == 1 or map > 40 mmHg".into()]), []);
    // The band is a part of the bound: just within it is a hair, just beyond it is not.
    let under =
        |part: f64| one(format!("once map > {} mmHg", greatest / (1.0 + part * NARROW_PERCENT / 100.0)));
    assert!(under(0.9).narrow() && !under(1.1).narrow() && !under(-0.5).narrow());
}
