//! The built-in case's own plays: what a debrief of them names must have been recorded.

use overwire::debrief::cause::chains;
use overwire::debrief::fork::turnings;
use overwire::records::library;
use overwire::scenario::rule::Signals;
use overwire::session::Session;
use overwire::session::event::{EventKind, Giver, Tick};
use overwire::session::log::Mode;
use overwire::session::player::Player;
use overwire::session::record::Record;

/// A play in the theatre only: the first three quarters of an hour.
fn played(play: &str) -> Session {
    let case = library::case("descending_rupture").unwrap();
    let mut player = Player::named(&case, play).unwrap();
    let mut session = Session::new(case, 1, Mode::Free);
    while session.now() < Tick(45 * 60 * Tick::PER_SECOND) && session.ended().is_none() {
        for order in player.poll(&session) {
            // A refusal is part of the story.
            let _ = session.order(Giver::Trainee, order);
        }
        session.advance(1);
    }
    session
}

/// Every "04:56, you chose: “...”" is an answer that was recorded at that moment, in the case's words; every "ordered" an order.
fn links_are_recorded(record: &Record) {
    for chain in chains(record) {
        assert!(!chain.links.is_empty(), "{} comes from nothing", chain.outcome);
        for link in &chain.links {
            let Some((when, rest)) =
                link.split_once(", you chose: ").or_else(|| link.split_once(", ordered: "))
            else {
                continue;
            };
            let known = record.events.iter().filter(|e| e.at.to_string() == when).any(|e| match &e.kind {
                EventKind::Chosen { ask, option, .. } => {
                    let ask = record.case.case.asks.iter().find(|a| a.id == *ask).unwrap();
                    let option = ask.options.iter().find(|o| o.id == *option).unwrap();
                    rest.contains(&option.say) && rest.contains(&ask.question)
                }
                EventKind::Ordered { order, .. } => rest == record.words().order_words(order),
                _ => false,
            });
            assert!(known, "nothing of the kind was recorded: {link}");
        }
    }
}

/// Too small a graft leaks, the leak goes back to the choice of it, and the right one on the same dice loses less blood although
/// the trainee's later orders named the other by its shelf name.
#[test]
fn too_small_a_graft_is_named_and_its_what_if_is_the_right_one() {
    let mut session = played("undersized");
    let record = Record::of(&session);
    links_are_recorded(&record);
    let leak = chains(&record).into_iter().find(|c| c.outcome.starts_with("Type I")).expect("it leaks");
    let graft = record.case.case.asks.iter().find(|a| a.id == "graft").unwrap();
    let said = session.chosen("graft").unwrap().say.clone();
    assert!(leak.links.iter().any(|l| l.contains(&said) && l.contains(&graft.question)), "{:#?}", leak.links);

    let turnings = turnings(&session.take_lines()).unwrap();
    let turning = turnings.iter().find(|t| t.ask == "graft").unwrap();
    let forked = turning.played("t36");
    let placed = forked.events().iter().find_map(|e| match &e.kind {
        EventKind::Placed(facts) => Some(facts.device.as_str()),
        _ => None,
    });
    assert_eq!(placed, Some("taper_36_32_150"));
    let lost = |s: &Session| s.trace().last().unwrap().value("lost").unwrap();
    assert!(lost(&forked) <= lost(&session) + 1.0, "{} against {}", lost(&forked), lost(&session));
    // What had happened before the decision is the same on both courses.
    let before = |s: &Session| s.events().iter().take_while(|e| e.at < turning.at).count();
    assert_eq!(before(&forked), before(&session));
}

#[test]
fn a_short_landing_is_named() {
    let record = Record::of(&played("short"));
    links_are_recorded(&record);
}
