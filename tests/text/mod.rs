//! The desk in a terminal, driven by what is typed.

use overwire::records::{Keeper, library};
use overwire::session::event::EventKind;
use overwire::session::log::Mode;
use overwire::text::{Look, run};

/// What is written when these lines are typed into the first case, and the session behind it.
fn typed(lines: &str) -> (String, overwire::session::Session) {
    let case = library::case("descending_rupture").unwrap();
    let keeper = Keeper::start(case, 1, Mode::Free, None).unwrap();
    let mut out = Vec::new();
    let (_, session) = run(keeper, lines.as_bytes(), &mut out, Look::plain()).unwrap();
    (String::from_utf8(out).unwrap(), session)
}

/// A question stands once with its options; afterwards it is reminded of, until others are open and its numbers change.
#[test]
fn a_question_is_listed_once_while_its_numbers_stand() {
    let listed = |out: &str| out.matches("Shall she run them in?").count();
    let (quiet, _) = typed("wait 5 s\nwait 5 s\nwait 5 s\n");
    assert_eq!(listed(&quiet), 1, "{quiet}");
    assert_eq!(quiet.matches("still asked: fluid").count(), 3, "{quiet}");
    let (again, _) = typed("wait 5 s\nquestions\n");
    assert_eq!(listed(&again), 2);
    // An answer changes what is open: what is left is listed anew.
    let (answered, session) = typed("1\nwait 5 s\n");
    let chosen = session.events().iter().find_map(|e| match &e.kind {
        EventKind::Chosen { ask, option, .. } => Some((ask.clone(), option.clone())),
        _ => None,
    });
    assert_eq!(chosen, Some(("fluid".into(), "hold".into())));
    assert_eq!(listed(&answered), 1);
    assert_eq!(answered.matches("What pressure do you want").count(), 2, "{answered}");
}
