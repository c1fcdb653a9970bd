//! Attention: what the trainee had looked at, asked for or been told before a decision.

use crate::scenario::Order;
use crate::session::event::{EventKind, Giver, Tick};
use crate::session::record::Record;
use crate::session::tell::reading;
use std::collections::BTreeSet;

/// What came to the trainee's eyes and ears from event `from` up to event `to`.
pub fn looked(record: &Record, from: usize, to: usize) -> Vec<(Tick, String)> {
    let events = record.events.get(from..to.min(record.events.len())).unwrap_or_default();
    let mut out: Vec<(Tick, String)> = Vec::new();
    let mut alarmed = BTreeSet::new();
    for event in events {
        let told = match &event.kind {
            EventKind::Ordered { order, by: Giver::Trainee | Giver::Option(_) } if informs(order) => {
                record.words().order_words(order)
            }
            EventKind::Alarm { signal, priority, value } => {
                let how = ["", "low", "medium", "high"][usize::from(*priority).min(3)];
                // An alarm that comes and goes is one thing to have heard.
                if !alarmed.insert((signal, priority)) {
                    continue;
                }
                format!("Alarm of {how} priority: {}", reading(signal, *value))
            }
            EventKind::Ran(_)
            | EventKind::Lab { .. }
            | EventKind::Arrived { .. }
            | EventKind::Said { .. }
            | EventKind::Refused { .. } => match record.words().tell(event) {
                Some(line) => line,
                None => continue,
            },
            _ => continue,
        };
        out.push((event.at, told));
    }
    out
}

/// Does this order ask for something to be seen or known?
fn informs(order: &Order) -> bool {
    matches!(
        order,
        Order::ReadCt { .. }
            | Order::Measure { .. }
            | Order::Aim { .. }
            | Order::Pan { .. }
            | Order::Field { .. }
            | Order::Screen { on: true }
            | Order::Lab { .. }
            | Order::Call { .. }
    )
}
