//! The page: what it must say, and what it must never let through.

use super::fixture::{Script, loaded, small_case, tick};
use overwire::assess::Judgement;
use overwire::debrief::TRAINING_ONLY;
use overwire::debrief::report::{self, Dossier};
use overwire::records::library::BUILT_IN;
use overwire::scenario::Order;
use overwire::scenario::case::Tier;
use overwire::session::Session;
use overwire::session::event::{EventKind, Giver};
use overwire::session::log::{Line, Mode};
use overwire::session::record::{Origin, Record};
use std::io::Write;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Instant;

pub fn page_of(record: &Record) -> String {
    let judgement = Judgement::of_record(record);
    report::page(&Dossier { record, judgement: &judgement, film: None, what_ifs: &[] })
}

/// A short session with an answer, a note, a run and an alarm; `words` stand wherever a person or a case can write any.
pub fn session_saying(words: &str) -> Script {
    let ron = words.replace('\\', "\\\\").replace('"', "\\\"");
    let said = [
        "Pain after a fall",
        "80 to 100 while he talks to you.",
        "Less pressure, less flow through the tear.",
        "What pressure do you want until it is sealed?",
        "Kept the pressure low until the seal",
        "What made you choose that pressure?",
        "Rossaint R et al., Crit Care 2023: major bleeding and coagulopathy following trauma",
        "The graft holds, the leak is closed.",
    ];
    let text = small_case(&said.map(|from| (from, ron.as_str())));
    let mut log = Script::new(&text, "ok_minimal", "0.0.1");
    log.event(0.0, None, EventKind::Said { who: words.into(), text: words.into() }, &[]);
    log.sample(5.0, &[("sbp", 95.0), ("map", 70.0), ("hr", 110.0), ("spo2", 96.0), ("alive", 1.0)]);
    let note = Order::Note { text: words.into() };
    log.event(6.0, None, EventKind::Ordered { order: note, by: Giver::Trainee }, &[]);
    log.answer(
        20.0,
        "pressure",
        "low",
        EventKind::Chosen {
            ask: "pressure".into(),
            option: "low".into(),
            tier: Tier::Preferred,
            why: words.into(),
            sure_percent: Some(80),
            by_clock: false,
        },
    );
    let why = words.to_string();
    log.event(21.0, None, EventKind::Refused { verb: words.into(), why }, &[]);
    log.event(22.0, None, EventKind::Alarm { signal: words.into(), priority: 2, value: 58.0 }, &[]);
    let because = vec![(words.to_string(), 0.2)];
    log.event(23.0, None, EventKind::Risk { id: words.into(), probability: 0.2, because, struck: true }, &[]);
    log.sample(25.0, &[("sbp", 88.0), ("map", 66.0), ("hr", 115.0), ("spo2", 95.0), ("alive", 1.0)]);
    log.event(30.0, None, EventKind::Ended { ending: "sealed".into() }, &[]);
    log
}

/// Names of all elements and attributes of a page, by a scan that knows quotes; the reader beside it is a browser's
/// (`checkers.rs`).
fn tags(page: &str) -> Vec<String> {
    let mut out = Vec::new();
    let mut rest = page;
    while let Some(start) = rest.find('<') {
        rest = &rest[start + 1..];
        // Style and script hold no markup; what is inside them is the program's own.
        let raw = ["style", "script"].into_iter().find(|r| rest.starts_with(&format!("{r}>")));
        if let Some(raw) = raw {
            rest = &rest[rest.find(&format!("</{raw}")).unwrap()..];
        }
        let mut quoted = false;
        let end = rest.find(|c| {
            quoted ^= c == '"';
            c == '>' && !quoted
        });
        out.push(rest[..end.unwrap()].to_string());
    }
    out
}

#[test]
fn hostile_words_stay_words() {
    let attacks = [
        "<script>alert(1)</script>",
        "\"><img src=x onerror=alert(1)>",
        "' onmouseover='alert(1)",
        "</style><script>alert(1)</script>",
        "</title><svg onload=alert(1)>",
        "javascript:alert(1)",
        "--><iframe src=//example.org></iframe>",
        "{{constructor}} ${alert(1)} &lt;b&gt; \u{202e}gpj.exe",
    ];
    let plain = tags(&page_of(&session_saying("plain words").record()));
    let names = |tags: &[String]| -> Vec<String> {
        tags.iter().map(|t| t.split([' ', '\n']).next().unwrap_or_default().to_string()).collect()
    };
    for attack in attacks {
        let page = page_of(&session_saying(attack).record());
        let found = tags(&page);
        // The same words in another dress give the same elements, and no attribute that runs anything.
        assert_eq!(names(&found), names(&plain), "{attack}");
        for tag in &found {
            let outside: String = tag.split('"').step_by(2).collect();
            assert!(!outside.contains(" on"), "{attack}: <{tag}>");
            assert!(!tag.contains("=\"javascript:"), "{attack}: <{tag}>");
        }
    }
}

#[test]
fn it_says_what_it_is_for_and_fetches_nothing() {
    let page = page_of(&session_saying("plain words").record());
    assert_eq!(page.matches(TRAINING_ONLY).count(), 2, "above and below");
    assert!(page.contains("Scores are not evidence of clinical competence."));
    for far in ["http://", "https://", "src=\"//", "url(", "@import", "<link", "<iframe", "<base"] {
        assert!(!page.contains(far), "{far} in the page");
    }
    assert!(page.contains("default-src &#39;none&#39;") || page.contains("default-src 'none'"));
}

/// The page's policy names the script by its hash; `sha256sum` of coreutils says what that is.
#[test]
fn the_policy_knows_the_script() {
    let script = include_bytes!("../../src/debrief/report/step.js");
    let spawned = Command::new("sha256sum").stdin(Stdio::piped()).stdout(Stdio::piped()).spawn();
    let mut child = match spawned {
        Ok(child) => child,
        Err(e) => {
            assert!(std::env::var_os("OVERWIRE_REQUIRE_ALL").is_none(), "sha256sum: {e}");
            eprintln!("skipped: sha256sum is not here");
            return;
        }
    };
    child.stdin.take().unwrap().write_all(script).unwrap();
    let said = String::from_utf8(child.wait_with_output().unwrap().stdout).unwrap();
    let bytes: Vec<u8> = (0..32).map(|i| u8::from_str_radix(&said[2 * i..2 * i + 2], 16).unwrap()).collect();
    let base64 = overwire::debrief::film::data_url(&bytes).replace("data:image/png;base64,", "");
    assert!(
        report::POLICY.contains(&format!("'sha256-{base64}'")),
        "write sha256-{base64} in report::POLICY"
    );
}

/// A pulse oximeter reads nothing without a pulse (its principle): the page says dashes where the monitor did.
#[test]
fn an_unread_saturation_is_dashes() {
    let mut log = Script::new(&small_case(&[]), "ok_minimal", "0.0.1");
    log.sample(5.0, &[("sbp", 88.0), ("map", 66.0), ("hr", 115.0), ("spo2", 95.0), ("alive", 1.0)]);
    log.sample(25.0, &[("sbp", 13.0), ("map", 12.0), ("hr", 0.0), ("alive", 0.0)]);
    log.answer(
        40.0,
        "pressure",
        "low",
        EventKind::Chosen {
            ask: "pressure".into(),
            option: "low".into(),
            tier: Tier::Preferred,
            why: String::new(),
            sure_percent: None,
            by_clock: true,
        },
    );
    log.event(50.0, None, EventKind::Ended { ending: "sealed".into() }, &[]);
    let page = page_of(&log.record());
    assert!(page.contains("5,88,66,115,95;25,13,12,0,--;"), "{page}");
    assert!(page.contains("saturation --."), "{page}");
}

#[test]
fn a_log_of_another_engine_is_shown_as_it_was_recorded() {
    let log = session_saying("plain words");
    let record = log.record();
    assert_eq!(record.engine, "0.0.1");
    assert!(matches!(&record.origin, Origin::Recalled(_)));
    let samples = log.lines.iter().filter(|l| matches!(l, Line::Sample { .. })).count();
    assert_eq!(record.trace.len(), samples, "the recorded samples and no others");
    assert_eq!(record.now, tick(30.0));
    let page = page_of(&record);
    assert!(page.contains("Not computed again."));
    assert!(page.contains("engine 0.0.1"));
    // What was recorded is what is drawn: systolic 95 at first, 88 at last.
    assert!(page.contains("systolic 95 at first, 88 at last, lowest 88, highest 95 mmHg"));
}

/// A record from the log and one from the session itself are judged alike where only events and five-second samples count.
#[test]
fn a_recalled_session_is_judged_as_the_live_one() {
    let case = Arc::new(loaded(&small_case(&[])));
    let mut session = Session::new(Arc::clone(&case), 3, Mode::Free);
    session.advance(100);
    let answer = Order::Answer {
        ask: "pressure".into(),
        option: "normal".into(),
        why: "habit".into(),
        sure_percent: Some(90),
    };
    session.order(Giver::Trainee, answer).unwrap();
    session.advance(300);
    session.close();
    let live = Judgement::of(&session);
    let record = Record::recalled(&session.take_lines(), "For a check.".into()).unwrap();
    let recalled = Judgement::of_record(&record);
    assert_eq!(live.decisions, recalled.decisions);
    assert_eq!(live.decision_score(), recalled.decision_score());
    assert_eq!(live.risks, recalled.risks);
    let met = |j: &Judgement| j.marks.iter().map(|m| m.met).collect::<Vec<_>>();
    assert_eq!(met(&live), met(&recalled));
    assert_eq!(record.trace.last().unwrap().states, session.trace().last().unwrap().states);
}

/// Times that run back or out of any session are refused, not followed.
#[test]
fn a_log_with_impossible_times_is_refused() {
    let mut log = session_saying("plain words");
    log.sample(3.0, &[]);
    assert!(Record::recalled(&log.lines, String::new()).is_err());
    let mut log = session_saying("plain words");
    log.sample(1e9, &[]);
    assert!(Record::recalled(&log.lines, String::new()).is_err());
}

/// An hour of the largest built-in case, from its log to the page (the project's own limit of three seconds; tests are built
/// with little optimisation, so the program is faster).
#[test]
fn an_hour_is_debriefed_in_three_seconds() {
    let (id, text) = BUILT_IN[0];
    let mut log = Script::new(text, id, "0.0.1");
    let names: Vec<&str> = overwire::scenario::signal::SIGNALS.iter().map(|s| s.name).collect();
    for i in 1..=720 {
        let at = 5.0 * f64::from(i);
        let values: Vec<(&str, f64)> =
            names.iter().enumerate().map(|(k, n)| (*n, ((i + k as i32) % 90) as f64 + 20.0)).collect();
        log.sample(at, &values);
        for _ in 0..2 {
            let said = EventKind::Said { who: "nurse".into(), text: format!("Line {i}") };
            log.event(at, None, said, &[]);
        }
    }
    let begun = Instant::now();
    let page = page_of(&log.record());
    let took_s = begun.elapsed().as_secs_f64();
    assert!(page.len() > 50_000);
    assert!(took_s < 3.0, "{took_s:.1} s");
}

/// The robustness of `x < c` is `c - x` at each moment (Maler and Nickovic 2004): what a strip draws.
#[test]
fn a_rules_margin_has_its_course() {
    let was = "rule: \"never (sbp > policy.sbp_high_mmhg for 60 s and sealed == 0)\"";
    let text = small_case(&[(was, "rule: \"never sbp > 110 mmHg\"")]);
    let mut script = Script::new(&text, "ok_minimal", "0.0.1");
    for (at_s, sbp) in [(1.0, 100.0), (2.0, 105.0), (3.0, 120.0), (4.0, 90.0)] {
        script.sample(at_s, &[("sbp", sbp), ("alive", 1.0)]);
    }
    let record = script.record();
    let judgement = Judgement::of_record(&record);
    let mark = judgement.marks.iter().find(|m| m.rule == "never sbp > 110 mmHg").expect("the mark");
    let margins: Vec<f64> = mark.course.points.iter().map(|p| p.1).collect();
    assert_eq!(mark.course.unit, "mmHg");
    assert_eq!(margins, [10.0, 5.0, -10.0, 20.0]);
    let page = page_of(&record);
    assert!(page.contains("below its line by 10.0 mmHg at 00:03"), "no strip");
}
