//! The terminal desk: a whole rehearsal read and written as plain lines, with or without a terminal.
//!
//! [`run`] reads commands and writes what can be seen and heard. The clock stands while nothing is typed; it runs while an
//! order is carried out, and when the trainee waits. Nothing here knows more than the session's view tells, so nothing can be
//! given away. Escape codes appear only where [`Look::colour`] asks for them.

mod command;
mod help;
mod names;
mod rail;
mod scene;
mod show;
mod style;

pub use command::{Command, Place, parse};
pub use style::Look;

use crate::anatomy::Site;
use crate::records::{KeepFault, Keeper};
use crate::scenario::Order;
use crate::session::Session;
use crate::session::event::{EventKind, Giver, Tick};
use command::Until;
use std::io::{self, BufRead, Write};
use std::sync::Arc;
use style::Page;

/// Why the desk was left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Left {
    /// The case came to an ending.
    Ended,
    /// The trainee stopped; the session can be taken up again.
    Quit,
    /// There was nothing more to read.
    InputEnded,
}

/// Why the desk could not go on. The session up to here is sound.
#[derive(Debug, thiserror::Error)]
pub enum TextFault {
    /// Nothing can be read or written any more.
    #[error("the terminal cannot be read or written: {0}")]
    Terminal(#[from] io::Error),
    /// The log cannot be written.
    #[error(transparent)]
    Log(#[from] KeepFault),
}

/// Longer lines are refused: an order is a sentence.
const LONGEST_LINE: usize = 4096;
/// So many of the last events are told again when a session is taken up.
const LAST_EVENTS: usize = 12;
/// `until` gives up after so long without anything.
const PATIENCE_S: u64 = 30 * 60;

/// Plays a session to its end, or until the input ends or the trainee stops; its log is closed in good order.
///
/// # Errors
/// If the terminal or the log fails.
pub fn run(
    mut keeper: Keeper,
    input: impl BufRead,
    output: impl Write,
    look: Look,
) -> Result<(Left, Session), TextFault> {
    let fresh = keeper.session().now() == Tick(0);
    let told = if fresh { 0 } else { keeper.session().events().len().saturating_sub(LAST_EVENTS) };
    let page = Page::new(output, look);
    let mut desk =
        Desk { keeper: &mut keeper, input, page, told, site: None, ready: Vec::new(), listed: Vec::new() };
    let left = desk.open(fresh).and_then(|()| desk.live());
    let left = match left {
        // Whoever read our output has gone: there is nobody left to play.
        Err(TextFault::Terminal(e)) if e.kind() == io::ErrorKind::BrokenPipe => Left::Quit,
        other => other?,
    };
    Ok((left, keeper.close()?))
}

struct Desk<'k, I, O: Write> {
    keeper: &'k mut Keeper,
    input: I,
    page: Page<O>,
    /// Events told so far.
    told: usize,
    /// The line last worked on: what is not said otherwise means this one.
    site: Option<Site>,
    /// Ready-made orders as last listed.
    ready: Vec<Order>,
    /// The questions as last listed: their numbers stand as long as these are open.
    listed: Vec<String>,
}

impl<I: BufRead, O: Write> Desk<'_, I, O> {
    fn open(&mut self, fresh: bool) -> Result<(), TextFault> {
        let case = Arc::clone(self.keeper.session().case());
        let about = &case.case.about;
        self.page.heading(&case.case.title)?;
        self.page.para(TRAINING_ONLY)?;
        if fresh {
            self.page.para(&about.prebrief)?;
            if !about.distress.is_empty() {
                self.page.para(&format!("Beforehand: {}", about.distress))?;
            }
            self.page.para("Type help for what you can say, quit to stop; what you did is kept.")?;
        } else {
            let now = self.keeper.session().now();
            self.page
                .para(&format!("Taken up again at {now} after the call. The last things that happened:"))?;
        }
        self.page.line("")?;
        self.tell()?;
        self.stand()
    }

    fn live(&mut self) -> Result<Left, TextFault> {
        loop {
            if self.keeper.session().ended().is_some() {
                self.farewell()?;
                return Ok(Left::Ended);
            }
            self.page.prompt()?;
            let Some(line) = self.read()? else {
                self.page.para("The input ended here.")?;
                self.kept()?;
                return Ok(Left::InputEnded);
            };
            let mut orders = Vec::new();
            let mut acted = false;
            for part in line.split(';') {
                let view = self.keeper.session().view();
                let place = Place { view: &view, site: self.site, ready: &self.ready };
                match parse(part, &place) {
                    Err(why) => {
                        self.page.warn(&why)?;
                        break;
                    }
                    Ok(Command::Nothing) => {}
                    Ok(Command::Quit) => {
                        self.kept()?;
                        return Ok(Left::Quit);
                    }
                    Ok(Command::Give(order)) => orders.push(order),
                    Ok(other) => {
                        // What was said before comes before.
                        acted |= self.give(std::mem::take(&mut orders))?;
                        acted |= self.act(other)?;
                    }
                }
            }
            acted |= self.give(orders)?;
            if acted && self.keeper.session().ended().is_none() {
                self.stand()?;
            }
        }
    }

    /// Everything but an order and leaving. True when time may have passed.
    fn act(&mut self, command: Command) -> Result<bool, TextFault> {
        match command {
            Command::Answer { ask, option } => {
                let (why, sure_percent) = self.reasons(&ask)?;
                return self.give(vec![Order::Answer { ask, option, why, sure_percent }]);
            }
            Command::Wait(ticks) => self.pass(ticks, Stop::AtQuestion)?,
            Command::Until(Until::Something) => self.pass(PATIENCE_S * Tick::PER_SECOND, Stop::AtAnything)?,
            Command::Until(Until::Done) => self.pass(PATIENCE_S * Tick::PER_SECOND, Stop::WhenIdle)?,
            Command::Undo => {
                self.page.para(
                    "Time does not run back, for you no more than for her. Say what you want done now; the debrief can \
                     take up any moment again with another order.",
                )?;
                return Ok(false);
            }
            Command::Help(topic) => {
                help::write(&mut self.page, topic.as_deref())?;
                return Ok(false);
            }
            Command::Show(what) => {
                self.ready = show::write(&mut self.page, self.keeper.session(), &what)?;
                return Ok(false);
            }
            Command::Nothing | Command::Quit | Command::Give(_) => return Ok(false),
        }
        Ok(true)
    }

    /// "Why?" and "how sure?", before anything that follows is seen.
    fn reasons(&mut self, ask: &str) -> Result<(String, Option<u8>), TextFault> {
        let view = self.keeper.session().view();
        let Some(ask) = view.asks.iter().find(|a| a.id == ask) else { return Ok((String::new(), None)) };
        let mut why = String::new();
        if ask.why {
            self.page.line("Why? (one line; leave it empty to say nothing)")?;
            self.page.prompt()?;
            why = self.read()?.unwrap_or_default();
        }
        let mut sure = None;
        if ask.confidence {
            self.page.line("How sure are you, 50 to 100 per cent?")?;
            self.page.prompt()?;
            let said = self.read()?.unwrap_or_default();
            sure = said.trim().trim_end_matches('%').trim().parse().ok().filter(|n| (50..=100).contains(n));
            if sure.is_none() && !said.trim().is_empty() {
                self.page.warn("I note no number: it takes a whole one from 50 to 100.")?;
            }
        }
        Ok((why, sure))
    }

    /// Gives orders at the same moment, then lets hands finish. True when any was taken.
    fn give(&mut self, orders: Vec<Order>) -> Result<bool, TextFault> {
        let mut taken = false;
        let mut hours = 0.0;
        for order in orders {
            self.site = command::site_of(&order).or(self.site);
            if let Order::Recover { hours: h } = order {
                hours = h;
            }
            // A refusal is an event and is told as one.
            taken |= self.keeper.order(Giver::Trainee, order)?.is_ok();
        }
        self.tell()?;
        if hours > 0.0 && taken {
            self.pass((hours * 3600.0 * Tick::PER_SECOND as f64) as u64, Stop::AtQuestion)?;
        } else if taken {
            self.pass(PATIENCE_S * Tick::PER_SECOND, Stop::WhenIdle)?;
        }
        Ok(taken)
    }

    /// Lets time pass for so many ticks, telling what happens, until there is reason to stop.
    fn pass(&mut self, ticks: u64, stop: Stop) -> Result<(), TextFault> {
        let end = self.keeper.session().now().after(ticks);
        loop {
            let session = self.keeper.session();
            if session.ended().is_some() || session.now() >= end {
                return Ok(());
            }
            // At least a second, so that what an order set off is seen with it.
            if stop == Stop::WhenIdle && session.hands_idle() {
                self.keeper.advance(Tick::PER_SECOND)?;
                self.tell()?;
                if self.keeper.session().hands_idle() {
                    return Ok(());
                }
                continue;
            }
            let before = session.events().len();
            self.keeper.advance(Tick::PER_SECOND)?;
            let new = &self.keeper.session().events()[before..];
            let asked =
                new.iter().any(|e| matches!(e.kind, EventKind::Asked { .. } | EventKind::Refused { .. }));
            let heard = new.iter().any(|e| {
                matches!(
                    e.kind,
                    EventKind::Said { .. }
                        | EventKind::Lab { .. }
                        | EventKind::Arrived { .. }
                        | EventKind::Ran(_)
                        | EventKind::Placed(_)
                        | EventKind::Alarm { priority: 2.., .. }
                )
            });
            self.tell()?;
            if asked || (heard && stop == Stop::AtAnything) {
                return Ok(());
            }
        }
    }

    /// Tells the events since the last time.
    fn tell(&mut self) -> Result<(), TextFault> {
        let session = self.keeper.session();
        for event in &session.events()[self.told..] {
            // A question stands with its options below.
            if matches!(event.kind, EventKind::Asked { .. }) {
                continue;
            }
            if let Some(words) = session.tell(event) {
                scene::event(&mut self.page, event, &words)?;
            }
        }
        self.told = session.events().len();
        Ok(())
    }

    /// The moment: monitor, what is being done, open questions.
    fn stand(&mut self) -> Result<(), TextFault> {
        let view = self.keeper.session().view();
        scene::moment(&mut self.page, &view, &self.listed)?;
        self.listed = view.asks.iter().map(|a| a.id.clone()).collect();
        Ok(())
    }

    fn kept(&mut self) -> Result<(), TextFault> {
        let words = match self.keeper.path() {
            Some(path) => format!("Kept in {0}. Take it up again with: overwire resume {0}", path.display()),
            None => {
                "This session had no log file and is not kept; start with --log FILE to keep the next one."
                    .into()
            }
        };
        self.page.para(&words)?;
        Ok(())
    }

    fn farewell(&mut self) -> Result<(), TextFault> {
        self.page.para(TRAINING_ONLY)?;
        if let Some(path) = self.keeper.path() {
            let words = format!("What happened and why: overwire debrief {} --out debrief", path.display());
            self.page.para(&words)?;
        }
        Ok(())
    }

    /// One line without its end; nothing at the end of the input. Bytes that are no text become question marks.
    fn read(&mut self) -> Result<Option<String>, TextFault> {
        let mut bytes = Vec::new();
        let mut limited = io::Read::take(&mut self.input, LONGEST_LINE as u64);
        if limited.read_until(b'\n', &mut bytes)? == 0 {
            return Ok(None);
        }
        if bytes.len() == LONGEST_LINE && bytes.last() != Some(&b'\n') {
            self.skip_line()?;
            self.page
                .warn(&format!("That line is longer than {LONGEST_LINE} bytes; an order is a sentence."))?;
            return Ok(Some(String::new()));
        }
        Ok(Some(String::from_utf8_lossy(&bytes).trim().to_owned()))
    }

    fn skip_line(&mut self) -> Result<(), TextFault> {
        loop {
            let buffer = self.input.fill_buf()?;
            if buffer.is_empty() {
                return Ok(());
            }
            let (used, done) = match buffer.iter().position(|&b| b == b'\n') {
                Some(i) => (i + 1, true),
                None => (buffer.len(), false),
            };
            self.input.consume(used);
            if done {
                return Ok(());
            }
        }
    }
}

/// When passing time stops before its end.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stop {
    /// When somebody asks something.
    AtQuestion,
    /// When anything can be seen or heard.
    AtAnything,
    /// When every hand is free, or somebody asks.
    WhenIdle,
}

const TRAINING_ONLY: &str = "Training only: not for decisions on real patients. It trains decisions, not hands. Follow local \
                             protocol and licensed practice.";
