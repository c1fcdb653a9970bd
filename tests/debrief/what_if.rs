//! What-ifs: the same dice, another answer.

use super::fixture::{loaded, small_case};
use overwire::debrief::fork::turnings;
use overwire::scenario::Order;
use overwire::session::Session;
use overwire::session::event::{EventKind, Giver};
use overwire::session::log::Mode;
use std::sync::Arc;

fn answer(option: &str) -> Order {
    Order::Answer { ask: "pressure".into(), option: option.into(), why: String::new(), sure_percent: None }
}

fn played(option: &str) -> Session {
    let mut session = Session::new(Arc::new(loaded(&small_case(&[]))), 5, Mode::Free);
    session.advance(80);
    session.order(Giver::Trainee, answer(option)).unwrap();
    session.advance(150);
    let size =
        Order::Answer { ask: "size".into(), option: "fits".into(), why: String::new(), sure_percent: None };
    session.order(Giver::Trainee, size).unwrap();
    session.advance(270);
    session
}

/// The what-if of a session must be the session in which that answer had been given, bit for bit.
#[test]
fn a_fork_is_the_session_that_would_have_been() {
    let mut original = played("normal");
    let lines = original.take_lines();
    let turnings = turnings(&lines).unwrap();
    assert_eq!(turnings.len(), 2);
    let forked = turnings[0].played("low");
    let other = played("low");
    assert_eq!(forked.events(), other.events());
    let values = |s: &Session| s.trace().iter().map(|r| r.logged()).collect::<Vec<_>>();
    assert_eq!(values(&forked), values(&other));
    // And it is another course than the original's: the lower target lowers the pressure.
    let what_if = turnings[0].take("low");
    let same = turnings[0].take("normal");
    assert!(what_if.outlook.sbp.last().unwrap().1 < same.outlook.sbp.last().unwrap().1);
    let record = overwire::session::record::Record::of(&original);
    assert_eq!(same.outlook, overwire::debrief::fork::Outlook::of(&record, turnings[0].at));
}

/// A question that the clock closed can be answered in time.
#[test]
fn a_missed_moment_can_be_taken() {
    let text = small_case(&[("closes: Some(\"3 min\")", "closes: Some(\"20 s\")")]);
    let mut session = Session::new(Arc::new(loaded(&text)), 5, Mode::Free);
    session.advance(300);
    let lines = session.take_lines();
    let turnings = turnings(&lines).unwrap();
    let forked = turnings[0].played("low");
    let chosen = forked.events().iter().find_map(|e| match &e.kind {
        EventKind::Chosen { option, by_clock, .. } => Some((option.clone(), *by_clock)),
        _ => None,
    });
    assert_eq!(chosen, Some(("low".into(), false)));
}
