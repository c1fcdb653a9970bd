//! Steps of a play that stand beside its sequence.

use super::{asked, case, play, variant};
use overwire::session::Session;
use overwire::session::event::EventKind;

fn chose(session: &Session, of: &str, what: &str) -> bool {
    session
        .events()
        .iter()
        .any(|e| matches!(&e.kind, EventKind::Chosen { ask, option, .. } if ask == of && option == what))
}

/// A step that stands beside the sequence answers its question when it opens, wherever the play is; the sequence goes on.
#[test]
fn a_step_beside_the_sequence_is_taken_when_its_question_opens() {
    let steps = r#"
        (label: "pressure", asked: "pressure", after: "15 s", orders: [answer(ask: "pressure", option: "normal")]),
        (label: "fluid", asked: "fluid", after: "10 s", orders: [answer(ask: "fluid", option: "two_litres")]),
        (label: "surging", asked: "surging", whenever: true, after: "20 s", orders: [answer(ask: "surging", option: "down")]),
    "#;
    let session = play(&case(), variant(steps), |s| chose(s, "puncture", "right_us"));
    assert!(asked(&session, "surging") && chose(&session, "surging", "down"));
    assert!(chose(&session, "puncture", "right_us"));
}

/// It is never waited for.
#[test]
fn a_step_beside_the_sequence_is_passed_over() {
    let steps = r#"
        (label: "surging", asked: "surging", whenever: true, orders: [answer(ask: "surging", option: "down")]),
        (label: "modality", asked: "modality", orders: [finish]),
    "#;
    let session = play(&case(), variant(steps), |_| false);
    assert!(!asked(&session, "surging") && session.ended().is_some_and(|e| e.id == "stopped"));
}
