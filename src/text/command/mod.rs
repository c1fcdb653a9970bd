//! What a trainee types, into what is meant: plain words for every order, and a few for looking and waiting.

mod order;
mod said;

use crate::anatomy::Site;
use crate::scenario::Order;
use crate::session::event::Tick;
use crate::session::view::View;

use order::order;
use said::span;

/// One thing that was typed.
#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// An order.
    Give(Order),
    /// An option of an open question.
    Answer {
        /// The question.
        ask: String,
        /// The option.
        option: String,
    },
    /// Let so many ticks pass.
    Wait(u64),
    /// Let time pass until something.
    Until(Until),
    /// Look at something.
    Show(Show),
    /// Help, perhaps on one topic.
    Help(Option<String>),
    /// Take something back.
    Undo,
    /// Leave.
    Quit,
    /// An empty line or a remark after `#`.
    Nothing,
}

/// Until when time passes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Until {
    /// Something can be seen or heard.
    Something,
    /// Every hand is free.
    Done,
}

/// What to look at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Show {
    /// Everything of the moment.
    Scene,
    /// The ruler with what lies on it.
    Rail,
    /// Each line's stack.
    Lines,
    /// The shelf, by words of a name or sort.
    Shelf(Vec<String>),
    /// What can be ordered now.
    Orders,
    /// The open questions.
    Questions,
    /// Subtracted runs so far.
    Runs,
    /// Laboratory results.
    Labs,
    /// Contrast, dose, fluids, blood.
    Tally,
    /// What is known of the patient.
    Story,
    /// Why an order cannot be given now.
    Why(String),
}

/// What words mean depends on where one is.
#[derive(Clone, Copy)]
pub struct Place<'a> {
    /// What can be seen.
    pub view: &'a View,
    /// The line last worked on.
    pub site: Option<Site>,
    /// Ready-made orders as last listed.
    pub ready: &'a [Order],
}

/// Reads one command. The error says what was not understood and what would be.
///
/// # Errors
/// A sentence with the remedy.
pub fn parse(text: &str, place: &Place<'_>) -> Result<Command, String> {
    let text = text.trim();
    if text.is_empty() || text.starts_with('#') {
        return Ok(Command::Nothing);
    }
    if let Some(n) = text.strip_prefix('+').and_then(|n| n.trim().parse::<usize>().ok()) {
        let order = n.checked_sub(1).and_then(|i| place.ready.get(i));
        return order
            .cloned()
            .map(Command::Give)
            .ok_or(format!("there is no +{n}; `orders` lists what can be ordered now"));
    }
    if let Ok(n) = text.parse::<usize>() {
        return pick(n, place.view);
    }
    let lower = text.to_lowercase();
    let words: Vec<&str> = lower.split_whitespace().filter(|w| !FILLERS.contains(w)).collect();
    let Some((&verb, rest)) = words.split_first() else { return Ok(Command::Nothing) };
    let after = |name: &str| text.get(name.len()..).unwrap_or("").trim().to_owned();
    let show = |what| Ok(Command::Show(what));
    match verb {
        "help" | "?" | "commands" => Ok(Command::Help(rest.first().map(|s| (*s).to_owned()))),
        "quit" | "exit" | "bye" => Ok(Command::Quit),
        "undo" | "back" | "rewind" => Ok(Command::Undo),
        "look" | "scene" | "now" | "status" => show(Show::Scene),
        "rail" | "ruler" => show(Show::Rail),
        "lines" | "stack" => show(Show::Lines),
        "shelf" | "stock" => show(Show::Shelf(rest.iter().map(|s| (*s).to_owned()).collect())),
        "orders" | "options" | "can" => show(Show::Orders),
        "questions" | "question" => show(Show::Questions),
        "runs" => show(Show::Runs),
        "labs" | "results" => show(Show::Labs),
        "tally" | "counts" => show(Show::Tally),
        "story" | "patient" | "history" => show(Show::Story),
        "why" => show(Show::Why(rest.join("_"))),
        "wait" => Ok(Command::Wait(span(rest, "wait 2 min")?.ms.div_ceil(Tick::MS))),
        "until" => match rest.first() {
            Some(&("done" | "ready" | "free" | "finished")) => Ok(Command::Until(Until::Done)),
            Some(&("something" | "anything" | "happens")) | None => Ok(Command::Until(Until::Something)),
            Some(other) => {
                Err(format!("I cannot wait for \"{other}\"; say `until something happens` or `until done`"))
            }
        },
        "answer" | "choose" | "say" => answer(rest, place.view),
        "note" => {
            let text = after("note");
            if text.is_empty() {
                Err("what shall I write down? Say: note TEXT".into())
            } else {
                give(Order::Note { text })
            }
        }
        _ => order(verb, rest, place).map(Command::Give),
    }
}

/// The access that an order works on.
pub fn site_of(order: &Order) -> Option<Site> {
    match order {
        Order::Puncture { site, .. }
        | Order::Insert { site, .. }
        | Order::Move { site, .. }
        | Order::Exchange { site, .. }
        | Order::Remove { site, .. }
        | Order::Unsheathe { site, .. }
        | Order::ReleaseTip { site }
        | Order::Inflate { site, .. }
        | Order::Deflate { site, .. }
        | Order::Embolise { site, .. }
        | Order::StentBranch { site, .. } => Some(*site),
        _ => None,
    }
}

/// Words that carry nothing.
const FILLERS: &[&str] = &["the", "a", "an", "please", "of", "it"];

fn give(order: Order) -> Result<Command, String> {
    Ok(Command::Give(order))
}

/// Option number `n`, counted through all open questions.
fn pick(n: usize, view: &View) -> Result<Command, String> {
    let all = view.asks.iter().flat_map(|a| a.options.iter().map(move |(id, _)| (&a.id, id)));
    match n.checked_sub(1).and_then(|i| all.clone().nth(i)) {
        Some((ask, option)) => Ok(Command::Answer { ask: ask.clone(), option: option.clone() }),
        None if view.asks.is_empty() => {
            Err("nobody asks anything now; say what you want done, or `help`".into())
        }
        None => Err(format!("there is no option {n}; `questions` shows them again, 1 to {}", all.count())),
    }
}

fn answer(words: &[&str], view: &View) -> Result<Command, String> {
    let (ask, rest) = match words {
        [first, rest @ ..] if view.asks.iter().any(|a| a.id == *first) => {
            (view.asks.iter().find(|a| a.id == *first), rest)
        }
        rest => (view.asks.first().filter(|_| view.asks.len() == 1), rest),
    };
    let Some(ask) = ask else {
        let open: Vec<&str> = view.asks.iter().map(|a| a.id.as_str()).collect();
        return Err(match open.as_slice() {
            [] => "nobody asks anything now".into(),
            open => format!("which question? Open are: {}. Or type an option's number", open.join(", ")),
        });
    };
    let option = rest.join("_");
    if ask.options.iter().any(|(id, _)| *id == option) {
        return Ok(Command::Answer { ask: ask.id.clone(), option });
    }
    let names: Vec<&str> = ask.options.iter().map(|(id, _)| id.as_str()).collect();
    Err(format!("\"{}\" has no option \"{option}\"; it has {}", ask.id, names.join(", ")))
}

fn unknown(verb: &str) -> String {
    const VERBS: &[&str] = &[
        "read",
        "call",
        "brief",
        "measure",
        "puncture",
        "insert",
        "advance",
        "withdraw",
        "exchange",
        "remove",
        "aim",
        "screen",
        "lock",
        "unlock",
        "pan",
        "field",
        "collimate",
        "rate",
        "run",
        "mark",
        "unsheathe",
        "release",
        "inflate",
        "deflate",
        "embolise",
        "stent",
        "give",
        "infuse",
        "stop",
        "transfuse",
        "keep",
        "free",
        "pace",
        "hold",
        "breathe",
        "anaesthesia",
        "spinal",
        "chest",
        "warm",
        "lab",
        "bypass",
        "close",
        "hand",
        "recover",
        "finish",
        "note",
        "answer",
        "wait",
        "until",
        "look",
        "rail",
        "lines",
        "shelf",
        "orders",
        "questions",
        "runs",
        "labs",
        "tally",
        "story",
        "why",
        "help",
        "quit",
    ];
    match crate::scenario::nearest(verb, VERBS.iter().copied()) {
        Some(like) => format!("I do not know \"{verb}\"; did you mean {like}? `help` lists what you can say"),
        None => {
            format!("I do not know \"{verb}\"; `help` lists what you can say, `orders` what can be done now")
        }
    }
}

#[cfg(test)]
mod tests;
