//! A log played again: to verify it, to take it up, or to leave it at another turning.

use super::Session;
use super::event::Tick;
use super::log::{Head, Line};
use crate::scenario::{Loaded, load};
use std::sync::Arc;

/// The outcome of playing a log again.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// Every recorded event and sample came out again, bit for bit.
    Exact,
    /// The first line that did not, from 1, as recorded and as it came out now.
    Differs {
        /// Line of the log.
        line: usize,
        /// As recorded.
        recorded: String,
        /// As computed now; empty when the log holds more than came out.
        now: String,
    },
}

/// Plays a log's orders again up to its last line.
///
/// # Errors
/// A plain sentence when its case can no longer be loaded.
pub fn rebuild(lines: &[Line]) -> Result<Session, String> {
    rebuild_until(lines, None)
}

/// Plays a log's orders again, up to and with those given at `until`.
///
/// # Errors
/// A plain sentence when its case can no longer be loaded or the log holds a time that no session has.
pub fn rebuild_until(lines: &[Line], until: Option<Tick>) -> Result<Session, String> {
    rebuild_watched(lines, until, &mut |_, _| {})
}

/// The same, and shows `watch` the session as it stands at each line's time: before an order is taken, after an event has
/// happened.
///
/// # Errors
/// As for [`rebuild_until`].
pub fn rebuild_watched(
    lines: &[Line],
    until: Option<Tick>,
    watch: &mut dyn FnMut(&Session, &Line),
) -> Result<Session, String> {
    let Some(Line::Head(head)) = lines.first() else { return Err("the log has no head".into()) };
    let mut session = begin(head)?;
    let mut last = Tick(0);
    for line in &lines[1..] {
        match line {
            Line::Order { at, by, order } => {
                if until.is_some_and(|u| *at > u) {
                    break;
                }
                go_to(&mut session, *at)?;
                watch(&session, line);
                // A refusal is an event of its own and comes out again.
                let _ = session.order(by.clone(), order.clone());
                last = *at;
            }
            Line::Event(e) => {
                if until.is_none_or(|u| e.at <= u) {
                    go_to(&mut session, e.at)?;
                    watch(&session, line);
                }
                last = last.max(e.at);
            }
            Line::Sample { at, .. } | Line::Close { at } => last = last.max(*at),
            Line::Head(_) => return Err("the log has two heads".into()),
        }
    }
    go_to(&mut session, until.unwrap_or(last))?;
    Ok(session)
}

/// The longest session that is played again: 40 days.
pub(super) const LAST: Tick = Tick(40 * 86_400 * Tick::PER_SECOND);

fn go_to(session: &mut Session, at: Tick) -> Result<(), String> {
    if at > LAST {
        return Err(format!("the log holds the time {at}, which no session reaches"));
    }
    session.advance_to(at);
    Ok(())
}

/// The case as the head of a log keeps it.
///
/// # Errors
/// A plain sentence when the case no longer loads.
pub fn case_of(head: &Head) -> Result<Arc<Loaded>, String> {
    let (loaded, diagnostics) = load(&head.case_text, &head.case_id);
    loaded.map(Arc::new).ok_or_else(|| {
        format!(
            "the case \"{}\" kept in this log was written for engine {} and no longer loads in {}: {} faults",
            head.case_id,
            head.engine,
            env!("CARGO_PKG_VERSION"),
            diagnostics.len()
        )
    })
}

/// A session at its start, as the head of a log says.
///
/// # Errors
/// As for [`case_of`].
pub fn begin(head: &Head) -> Result<Session, String> {
    Ok(Session::new(case_of(head)?, head.seed, head.mode))
}

/// Plays a log again and compares everything that was recorded.
///
/// # Errors
/// As for [`rebuild`].
pub fn verify(lines: &[Line]) -> Result<(Session, Verdict), String> {
    let mut session = rebuild(lines)?;
    let verdict = compare(&mut session, lines);
    Ok((session, verdict))
}

/// Compares what a rebuilt session would log with the log that it was rebuilt from.
pub fn compare(session: &mut Session, lines: &[Line]) -> Verdict {
    if matches!(lines.last(), Some(Line::Close { .. })) {
        session.close();
    }
    let now = session.take_lines();
    let text = |l: &Line| serde_json::to_string(l).unwrap_or_default();
    for (i, recorded) in lines.iter().enumerate().skip(1) {
        let again = now.get(i);
        if again != Some(recorded) {
            return Verdict::Differs {
                line: i + 1,
                recorded: text(recorded),
                now: again.map(text).unwrap_or_default(),
            };
        }
    }
    Verdict::Exact
}
