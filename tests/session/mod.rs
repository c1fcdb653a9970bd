//! Checks of `session`: what choices lead to, what a log keeps, what comes out again.

mod beside;
mod closures;
mod consequences;
mod full;
mod in_place;
mod kill;
mod legs;
mod picture;
mod replays;

use overwire::records::library;
use overwire::scenario::Loaded;
use overwire::scenario::case::Play;
use overwire::scenario::rule::Signals;
use overwire::session::event::{EventKind, Giver, PlacedFacts, Tick};
use overwire::session::log::Mode;
use overwire::session::player::Player;
use overwire::session::{Row, Session};
use std::sync::Arc;

/// The first case.
pub fn case() -> Arc<Loaded> {
    library::case("descending_rupture").unwrap()
}

/// A play that follows the model but for the steps given here, as text of a play file.
pub fn variant(steps: &str) -> Play {
    let text =
        format!(r#"(name: "variant", about: "One thing changed", like: Some("model"), steps: [{steps}])"#);
    ron::Options::default()
        .with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME)
        .from_str(&text)
        .unwrap()
}

/// Plays until `enough` or the play's end.
pub fn play(case: &Arc<Loaded>, play: Play, enough: impl Fn(&Session) -> bool) -> Session {
    let mut player = Player::from_play(case, play).unwrap();
    let mut session = Session::new(Arc::clone(case), 1, Mode::Free);
    let until = Tick::from_ms(player.play().until.ms);
    while session.ended().is_none() && session.now() < until && !enough(&session) {
        if player.finished() && session.hands_idle() {
            break;
        }
        for order in player.poll(&session) {
            // A refusal is part of the story.
            let _ = session.order(Giver::Trainee, order);
        }
        session.advance(1);
    }
    session
}

/// Has this question been put?
pub fn asked(session: &Session, id: &str) -> bool {
    session.events().iter().any(|e| matches!(&e.kind, EventKind::Asked { ask } if ask == id))
}

/// How the first graft came to lie.
pub fn placed(session: &Session) -> PlacedFacts {
    let placed = |e: &overwire::session::event::Event| match &e.kind {
        EventKind::Placed(facts) => Some(facts.clone()),
        _ => None,
    };
    session.events().iter().find_map(placed).expect("a graft was placed")
}

/// A signal at the end.
pub fn last(session: &Session, signal: &str) -> f64 {
    session.trace().last().and_then(|row: &Row| row.value(signal)).unwrap_or(f64::NAN)
}

/// The greatest value of a signal.
pub fn greatest(session: &Session, signal: &str) -> f64 {
    session.trace().iter().filter_map(|row| row.value(signal)).fold(f64::NEG_INFINITY, f64::max)
}
