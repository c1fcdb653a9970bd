//! The session watched once more: the rail at every decision and a picture of every run.
//!
//! A log holds orders and numbers, no pictures: they are drawn again while the log is played again, so a log that does not
//! come out the same has none.

use crate::imaging::{Grey, SubtractionDisplay};
use crate::scenario::Order;
use crate::session::Session;
use crate::session::event::EventKind;
use crate::session::log::Line;
use crate::session::record::{Origin, Record};
use crate::session::replay::{self, Verdict};
use crate::session::view::RailView;

/// What a moment looked like.
#[derive(Clone, Debug)]
pub struct Still {
    /// Number of its event.
    pub event: u32,
    /// The ruler and what lay on it.
    pub rail: RailView,
    /// A run: its contrast at the fullest, with the training-only line.
    pub picture: Option<Grey>,
}

/// The stills of a session, in order.
#[derive(Clone, Debug, Default)]
pub struct Film {
    /// In the order of their events.
    pub stills: Vec<Still>,
    before_answer: Option<RailView>,
}

/// Edge of a picture, pixels.
const PIXELS: usize = 256;

impl Film {
    /// To be called with every line of the log as it is played again.
    pub fn watch(&mut self, session: &Session, line: &Line) {
        match line {
            Line::Order { order: Order::Answer { .. }, .. } => self.before_answer = Some(rail(session)),
            Line::Event(event) => match &event.kind {
                // As it lay when the trainee chose, before what was chosen was done.
                EventKind::Chosen { .. } => {
                    let rail = self.before_answer.take().unwrap_or_else(|| rail(session));
                    self.stills.push(Still { event: event.seq, rail, picture: None });
                }
                EventKind::Ran(_) => {
                    let picture = picture(session);
                    self.stills.push(Still { event: event.seq, rail: rail(session), picture });
                }
                EventKind::Placed(_) => {
                    self.stills.push(Still { event: event.seq, rail: rail(session), picture: None });
                }
                _ => {}
            },
            _ => {}
        }
    }

    /// The still of an event.
    pub fn of(&self, event: u32) -> Option<&Still> {
        self.stills.iter().find(|s| s.event == event)
    }
}

fn rail(session: &Session) -> RailView {
    session.view().rail
}

/// A picture that cannot be drawn is left out: it adds to the record and decides nothing.
fn picture(session: &Session) -> Option<Grey> {
    let run = session.angiogram(&session.pose(), PIXELS).ok()?;
    Some(run.peak_image((0.0, 0.0), &SubtractionDisplay::default()).captioned())
}

/// The record of a log, with its film where this engine wrote it and it comes out the same; as it was kept, and without one,
/// where another engine did or where it comes out otherwise.
///
/// # Errors
/// A plain sentence when its case can no longer be loaded or the log has no head.
pub fn watched(lines: &[Line]) -> Result<(Record, Option<Film>), String> {
    let now = env!("CARGO_PKG_VERSION");
    if let Some(Line::Head(head)) = lines.first()
        && head.engine != now
    {
        let why = format!("Engine {} recorded this session; this is engine {now}.", head.engine);
        return Ok((Record::recalled(lines, why)?, None));
    }
    let mut film = Film::default();
    let mut session = replay::rebuild_watched(lines, None, &mut |s, line| film.watch(s, line))?;
    match replay::compare(&mut session, lines) {
        Verdict::Exact => {
            let record = Record { origin: Origin::Replayed, ..Record::of(&session) };
            Ok((record, Some(film)))
        }
        Verdict::Differs { line, .. } => {
            let why = format!("Played again, this log comes out otherwise from line {line} on.");
            Ok((Record::recalled(lines, why)?, None))
        }
    }
}

/// A PNG as the address of an image (RFC 2397, RFC 4648).
pub fn data_url(png: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::from("data:image/png;base64,");
    for chunk in png.chunks(3) {
        let all = chunk.iter().fold(0u32, |all, b| all << 8 | u32::from(*b)) << (8 * (3 - chunk.len()));
        for i in 0..4 {
            let digit = DIGITS[(all >> (18 - 6 * i) & 63) as usize];
            out.push(if i <= chunk.len() { char::from(digit) } else { '=' });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::data_url;

    /// RFC 4648, section 10.
    #[test]
    fn base64_is_as_its_standard_tests_it() {
        let tail = |text: &str| data_url(text.as_bytes()).replace("data:image/png;base64,", "");
        for (text, code) in [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foobar", "Zm9vYmFy")]
        {
            assert_eq!(tail(text), code);
        }
    }
}
