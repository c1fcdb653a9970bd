//! Buttocks that are left with too little to walk on: found from the pressure behind a closed internal iliac artery.

use super::Chain;
use crate::anatomy::VesselName;
use crate::scenario::rule::Signals;
use crate::session::record::Record;

/// How much more flow a buttock's muscles take in walking than at rest, and how far they open their vessels for it (assumed).
const WALKING: f64 = 2.5;
const OPENS: f64 = 5.0;
/// Below this part closed an internal iliac artery is no cause, per cent.
const CLOSED_PERCENT: f64 = 50.0;

/// Flow in walking over that at rest, when so much of the arm's pressure, per cent, reaches the buttock at rest: the bed opens to
/// `OPENS` times its conductance behind roads that stay as they are.
fn reserve(index_percent: f64) -> f64 {
    let index = (0.01 * index_percent).clamp(0.0, 0.99);
    let roads = index / (1.0 - index);
    OPENS * (roads + 1.0) / (roads + OPENS)
}

/// One finding for each buttock that walking asks more of than comes, at the end of a session that the patient lived through.
pub(super) fn claudication(record: &Record) -> Vec<Chain> {
    let Some(last) = record.trace.last().filter(|row| row.value("alive") == Some(1.0)) else {
        return Vec::new();
    };
    let sides = [
        ("Right", "buttock.right", VesselName::RightInternalIliac, "covered.right_internal_iliac"),
        ("Left", "buttock.left", VesselName::LeftInternalIliac, "covered.left_internal_iliac"),
    ];
    let closed = |column: &str| last.value(column).unwrap_or(0.0);
    let both = sides.iter().all(|side| closed(side.3) > CLOSED_PERCENT);
    sides
        .into_iter()
        .filter_map(|(side, signal, vessel, column)| {
            let index = last.value(signal)?;
            let more = reserve(index);
            (closed(column) > CLOSED_PERCENT && more < WALKING).then(|| {
                let first = record.trace.iter().find(|row| row.value(column).unwrap_or(0.0) > CLOSED_PERCENT);
                let mut links = vec![
                    format!("{index:.0} % of the arm's pressure behind it, enough for {more:.1} times the flow at rest; walking asks for {WALKING:.1} (assumed)"),
                    format!("{} {:.0} % closed", vessel.label(), closed(column)),
                ];
                if both {
                    links.push("the other side's, from which it could be fed, is closed too".into());
                }
                links.push("of those whose internal iliac was shut on purpose 13 % (covered) to 33 % (coils) had it, half of them for good (Bosanquet 2017)".into());
                Chain { at: first.map_or(last.at, |row| row.at), outcome: format!("{side} buttock: pain on walking is to be expected"), links }
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two resistances in a row: with half the pressure behind the roads both are alike, so a bed five times as open gets
    /// 2 / (1 + 1/5) times as much.
    #[test]
    fn the_reserve_is_that_of_two_resistances_in_a_row() {
        assert!((reserve(50.0) - 2.0 / 1.2).abs() < 1e-12);
        assert!((reserve(0.0) - 1.0).abs() < 1e-12);
        assert!(reserve(98.0) > 4.5 && reserve(98.0) < OPENS);
    }
}
