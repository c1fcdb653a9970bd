//! What was recorded comes out again; what was altered is refused; what is left at another turning goes another way.

use super::{case, play, variant};
use overwire::scenario::Order;
use overwire::session::event::{EventKind, Giver, Tick};
use overwire::session::log::{Chain, Line, LogFault, read};
use overwire::session::replay::{Verdict, rebuild_until, verify};

/// Half an hour of the model night as a log's text.
fn log() -> Vec<u8> {
    let mut session = play(&case(), variant(""), |s| s.now() >= Tick::from_ms(900_000));
    session.close();
    let mut chain = Chain::default();
    let mut out = Vec::new();
    for line in session.take_lines() {
        let (text, next) = chain.append(&line).unwrap();
        out.extend(text.into_bytes());
        chain = next;
    }
    out
}

#[test]
fn a_log_comes_out_again_exactly_and_no_change_goes_unseen() {
    let text = log();
    let whole = read(&text).unwrap();
    assert!(!whole.torn);
    let (_, verdict) = verify(&whole.lines).unwrap();
    assert_eq!(verdict, Verdict::Exact);

    // A changed byte anywhere but in the last line breaks the chain.
    let at = text.len() / 2;
    let mut forged = text.clone();
    forged[at] = if forged[at] == b'7' { b'8' } else { b'7' };
    assert!(matches!(read(&forged), Err(LogFault::Altered { .. } | LogFault::Unreadable { .. })));

    // A line taken out does too.
    let mut lines: Vec<&[u8]> = text.split_inclusive(|&b| b == b'\n').collect();
    lines.remove(lines.len() / 2);
    assert!(matches!(read(&lines.concat()), Err(LogFault::Altered { .. })));

    // A torn tail is cut off, and what stands before it is sound.
    let torn = read(&text[..text.len() - 9]).unwrap();
    assert!(torn.torn && torn.lines.len() == whole.lines.len() - 1);

    // A change with its hashes made right again is found by playing: the log says one thing, the models another.
    let mut told = whole.lines.clone();
    let changed = told.iter_mut().rev().find_map(|l| match l {
        Line::Sample { values, .. } => values[1].as_mut(),
        _ => None,
    });
    *changed.unwrap() += 0.5;
    assert!(matches!(verify(&told).unwrap().1, Verdict::Differs { .. }));
}

#[test]
fn a_fork_shares_the_past_and_the_dice() {
    let lines = read(&log()).unwrap().lines;
    let at = Tick::from_ms(600_000);
    let mut one = rebuild_until(&lines, Some(at)).unwrap();
    let mut other = rebuild_until(&lines, Some(at)).unwrap();
    assert_eq!(one.events().len(), other.events().len());
    let litre = Order::Transfuse {
        product: overwire::circulation::Product::Crystalloid,
        ml: 1000.0,
        over: overwire::scenario::quantity::Span { ms: 300_000 },
    };
    other.order(Giver::Trainee, litre).unwrap();
    for session in [&mut one, &mut other] {
        session.advance_to(Tick::from_ms(1_200_000));
    }
    let before = |s: &overwire::session::Session| {
        s.events().iter().filter(|e| e.at < at).map(|e| e.kind.clone()).collect::<Vec<EventKind>>()
    };
    assert_eq!(before(&one), before(&other));
    let fluid = |s: &overwire::session::Session| super::last(s, "fluid");
    assert!(fluid(&other) > fluid(&one) + 900.0);
    assert!(super::last(&other, "hb") < super::last(&one, "hb"), "a litre of water thins the blood");
}

/// Whoever says that this is all has ended the case, with the clock standing too.
#[test]
fn the_case_ends_when_the_trainee_says_so() {
    let mut session = play(&case(), variant(""), |s| s.now() >= Tick::from_ms(33_300));
    session.order(Giver::Trainee, Order::Finish).unwrap();
    assert_eq!(session.ended().map(|e| e.id.as_str()), Some("stopped"));
    session.close();
    let lines = session.take_lines();
    assert_eq!(verify(&lines).unwrap().1, Verdict::Exact);
}
