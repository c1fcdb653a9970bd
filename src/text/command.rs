//! What a trainee types, into what is meant: plain words for every order, and a few for looking and waiting.

use super::names::{device, named};
use crate::anatomy::Site;
use crate::circulation::Anaesthesia;
use crate::scenario::Order;
use crate::scenario::order::{BriefItem, CtExtent, Plane};
use crate::scenario::quantity::{Dose, Rate, Span};
use crate::session::event::Tick;
use crate::session::view::{CarmView, View};

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
        | Order::Embolise { site, .. } => Some(*site),
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

fn order(verb: &str, words: &[&str], place: &Place<'_>) -> Result<Order, String> {
    let view = place.view;
    Ok(match verb {
        "read" => match words {
            ["ct", "chest"] | ["chest", "ct"] => Order::ReadCt { extent: CtExtent::Chest },
            ["ct"] | ["ct", "whole" | "all" | "everything", ..] | ["whole", "ct"] => {
                Order::ReadCt { extent: CtExtent::WholeAorta }
            }
            _ => return Err("read what? Say `read ct whole` or `read ct chest`".into()),
        },
        "call" => match words {
            [] => return Err("call whom? Say for example: call anaesthetist".into()),
            who => Order::Call { who: who.join(" ") },
        },
        "brief" => {
            let items = match words {
                [] | ["all" | "everything" | "team"] => BriefItem::ALL.to_vec(),
                some => {
                    let joined = some.join(" ");
                    let parts = joined.split(',').map(str::trim).filter(|p| !p.is_empty());
                    parts.map(|p| named("point of the briefing", &split(p))).collect::<Result<_, _>>()?
                }
            };
            Order::Brief { items }
        }
        "measure" => {
            let plane = match () {
                () if words.contains(&"axial") => Plane::Axial,
                () if words.contains(&"run") => Plane::Run,
                () => Plane::Orthogonal,
            };
            let words: Vec<&str> =
                words.iter().copied().filter(|w| !["axial", "orthogonal", "on", "run"].contains(w)).collect();
            let (name, mm) = name_then_number(&words, "measure proximal diameter 31")?;
            Order::Measure { what: named("measurement", &name)?, mm, plane }
        }
        "puncture" | "access" => {
            let (site, rest) =
                site_first(words).ok_or("which side? Say for example: puncture right ultrasound")?;
            let guide = if rest.is_empty() { Ok(Default::default()) } else { named("guide", &rest) };
            Order::Puncture { site, guide: guide? }
        }
        "insert" | "put" | "load" => {
            let (site, words) = on_line(words, place)?;
            Order::Insert { site, device: device(view, &[], strip(&words, &["in", "up"]))? }
        }
        "advance" | "move" | "withdraw" | "draw" | "push" => {
            let example = "advance wire_aortic_260 to 40";
            let (site, words) = on_line(words, place)?;
            let at = words
                .iter()
                .position(|w| *w == "to")
                .ok_or(format!("to where? Say for example: {example}"))?;
            let to_mm = number(words.get(at + 1), example)?;
            Order::Move {
                site,
                device: device(view, &lying(view, site), strip(&words[..at], &["back"]))?,
                to_mm,
            }
        }
        "exchange" | "change" => {
            let (site, words) = on_line(words, place)?;
            let at =
                words.iter().position(|w| *w == "for").ok_or("for what? Say: exchange DEVICE for DEVICE")?;
            let out = device(view, &lying(view, site), &words[..at])?;
            Order::Exchange { site, out, put: device(view, &[], &words[at + 1..])? }
        }
        "remove" | "take" => {
            let (site, words) = on_line(words, place)?;
            Order::Remove { site, device: device(view, &lying(view, site), strip(&words, &["out"]))? }
        }
        "aim" | "turn" => aim(words)?,
        "screen" | "fluoroscopy" => Order::Screen { on: !off(words) },
        "lock" => Order::LockTable { on: true },
        "unlock" | "free" if words.first() == Some(&"table") => Order::LockTable { on: false },
        "pan" | "table" => pan(words)?,
        "field" | "zoom" => Order::Field { edge_mm: millimetres(words, "field 22 cm")? },
        "collimate" | "shutters" => collimate(words)?,
        "rate" | "frames" => rates(words, &view.carm)?,
        "run" => run(words, place)?,
        "mark" => {
            let words: Vec<&str> = words.iter().copied().filter(|w| *w != "at").collect();
            let (name, at_mm) = name_then_number(&words, "mark proximal landing at 136")?;
            Order::Mark { name: named("mark", &name)?, at_mm }
        }
        "unsheathe" | "deploy" => {
            let (site, words) = on_line(words, place)?;
            let words = strip(&words, &["by"]);
            let by_mm = match words.first() {
                None | Some(&("all" | "rest" | "everything")) => None,
                n => Some(number(n, "unsheathe 30, or: unsheathe all")?),
            };
            Order::Unsheathe { site, by_mm }
        }
        "release" => Order::ReleaseTip { site: on_line(words, place)?.0 },
        "inflate" => {
            let (site, words) = on_line(words, place)?;
            let (name, ml) = name_then_number(&words, "inflate balloon_mould_46 with 16 mL")?;
            Order::Inflate { site, device: device(view, &balloons(view, site), strip(&name, &["with"]))?, ml }
        }
        "deflate" => {
            let (site, words) = on_line(words, place)?;
            let balloons = balloons(view, site);
            let device = match (words.as_slice(), balloons.as_slice()) {
                ([] | ["balloon"], [one]) => one.clone(),
                _ => device(view, &balloons, &words)?,
            };
            Order::Deflate { site, device }
        }
        "embolise" => {
            let example = "embolise left_subclavian with 2 plug_12";
            let (site, words) = on_line(words, place)?;
            let at = words
                .iter()
                .position(|w| *w == "with")
                .ok_or(format!("with what? Say for example: {example}"))?;
            let amount = number(words.get(at + 1), example)?;
            let vessel = named("vessel", &words[..at])?;
            Order::Embolise {
                site,
                device: device(view, &[], words.get(at + 2..).unwrap_or_default())?,
                vessel,
                amount,
            }
        }
        "give" => {
            let (name, dose) = name_then_quantity(words, "give heparin 2000 IU")?;
            Order::Give { drug: named("drug", &name)?, dose: Dose::parse(&spelt(&dose))? }
        }
        "infuse" => {
            let (name, rate) = name_then_quantity(words, "infuse noradrenaline 0.1 ug/kg/min")?;
            Order::Infuse { drug: named("drug", &name)?, rate: Rate::parse(&spelt(&rate))? }
        }
        "stop" => match words {
            ["pacing"] => Order::Pace { bpm: None },
            ["screening" | "fluoroscopy"] => Order::Screen { on: false },
            drug => {
                let drug: crate::circulation::Drug = named("drug", drug)?;
                Order::Infuse { drug, rate: Rate::parse(&format!("0 {}", drug.rate_unit()))? }
            }
        },
        "transfuse" => {
            let example = "transfuse red cells 600 mL over 15 min";
            let at = words.iter().position(|w| *w == "over").unwrap_or(words.len());
            let (name, ml) = name_then_number(&words[..at], example)?;
            let over = match words.get(at + 1..) {
                Some(time) => span(time, example)?,
                None => Span::seconds(15 * 60),
            };
            Order::Transfuse { product: named("product", &name)?, ml, over }
        }
        "keep" => {
            let numbers: Vec<f64> =
                words.iter().flat_map(|w| w.split('-')).filter_map(|w| w.parse().ok()).collect();
            match numbers.as_slice() {
                &[low_mmhg, high_mmhg] => Order::KeepSystolic { low_mmhg, high_mmhg },
                _ => return Err("between what? Say for example: keep systolic 80 to 100".into()),
            }
        }
        "free" => Order::FreeSystolic,
        "pace" => match words.first() {
            _ if off(words) => Order::Pace { bpm: None },
            n => Order::Pace { bpm: Some(number(n, "pace 180, or: pace off")?) },
        },
        "hold" if words.first() == Some(&"breath") => Order::BreathHold { on: true },
        "breathe" => Order::BreathHold { on: false },
        "anaesthetise" | "anaesthesia" => Order::Anaesthetise { kind: anaesthetic(words)? },
        "spinal" | "csf" => match words.iter().find_map(|w| w.parse().ok()) {
            Some(at) => Order::CsfDrain { at_mmhg: Some(at) },
            None if words.iter().any(|w| ["closed", "close", "off"].contains(w)) => {
                Order::CsfDrain { at_mmhg: None }
            }
            None => {
                return Err("open at which pressure? Say: spinal drain 10, or: spinal drain closed".into());
            }
        },
        "chest" => Order::ChestDrain,
        "warm" => Order::Warm { on: !off(words) },
        "lab" | "send" | "test" => Order::Lab { test: named("test", words)? },
        "bypass" | "revascularise" => {
            Order::Revascularise { vessel: named("vessel", strip(words, &["to"]))? }
        }
        "close" => {
            let (site, rest) =
                site_first(words).ok_or("which access? Say for example: close right sutures")?;
            let how = if rest.is_empty() {
                Ok(crate::scenario::order::Closure::Sutures)
            } else {
                named("closure", &rest)
            };
            Order::Close { site, how: how? }
        }
        "hand" | "handover" => hand_over(words)?,
        "recover" => Order::Recover { hours: span_or_hours(words)? },
        "finish" => Order::Finish,
        other => return Err(unknown(other)),
    })
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

/// Local, none, or general: at surgical depth unless a number says otherwise.
fn anaesthetic(words: &[&str]) -> Result<Anaesthesia, String> {
    match words {
        [] => Err("which? Say anaesthesia local, general or none".into()),
        ["general" | "ga" | "asleep"] => Ok(Anaesthesia::General(1.0)),
        ["general" | "ga", depth] => Ok(Anaesthesia::General(number(Some(depth), "anaesthesia general 1")?)),
        ["local", ..] => Ok(Anaesthesia::Local),
        ["none" | "off" | "awake"] => Ok(Anaesthesia::None),
        other => Err(format!("I know no anaesthetic \"{}\"; say local, general or none", other.join(" "))),
    }
}

fn aim(words: &[&str]) -> Result<Order, String> {
    let mut angles = [0.0, 0.0];
    match words {
        ["ap" | "straight" | "front"] => {}
        ["lateral" | "side"] => angles[0] = 90.0,
        words => {
            let example = "aim lao 55 cra 10";
            for pair in words.chunks(2) {
                let (axis, sign) = match pair[0] {
                    "lao" => (0, 1.0),
                    "rao" => (0, -1.0),
                    "cra" | "cranial" => (1, 1.0),
                    "cau" | "caudal" => (1, -1.0),
                    other => return Err(format!("\"{other}\" is no direction; say for example: {example}")),
                };
                angles[axis] = sign * number(pair.get(1), example)?;
            }
            if words.is_empty() {
                return Err(format!("how? Say for example: {example}, aim ap, aim lateral"));
            }
        }
    }
    Ok(Order::Aim { primary_deg: angles[0], secondary_deg: angles[1] })
}

/// `pan head 40 left 20`: where the picture goes.
fn pan(words: &[&str]) -> Result<Order, String> {
    let example =
        "pan head 40 left 20 (the picture goes so many millimetres to the head and to the patient's left)";
    let (mut left_mm, mut head_mm) = (0.0, 0.0);
    for pair in words.chunks(2) {
        let mm = number(pair.get(1), example)?;
        match pair[0] {
            "left" => left_mm += mm,
            "right" => left_mm -= mm,
            "head" | "up" => head_mm += mm,
            "feet" | "down" => head_mm -= mm,
            other => return Err(format!("\"{other}\" is no direction; say for example: {example}")),
        }
    }
    if words.is_empty() {
        return Err(format!("where to? Say for example: {example}"));
    }
    Ok(Order::Pan { left_mm, head_mm })
}

/// A length: plain numbers are millimetres unless a word says centimetres.
fn millimetres(words: &[&str], example: &str) -> Result<f64, String> {
    let mm = number(words.first(), example)?;
    Ok(if words.iter().any(|w| w.ends_with("cm")) { 10.0 * mm } else { mm })
}

/// `collimate sides 20 top 10`, or `collimate open`.
fn collimate(words: &[&str]) -> Result<Order, String> {
    let example = "collimate sides 20 top 10 (per cent of the picture), or: collimate open";
    let (mut left_percent, mut right_percent, mut top_percent, mut bottom_percent) = (0.0, 0.0, 0.0, 0.0);
    if words.is_empty() {
        return Err(format!("how far? Say for example: {example}"));
    }
    if words != ["open"] {
        for pair in words.chunks(2) {
            let percent = number(pair.get(1), example)?;
            match pair[0] {
                "left" => left_percent = percent,
                "right" => right_percent = percent,
                "top" => top_percent = percent,
                "bottom" => bottom_percent = percent,
                "sides" => (left_percent, right_percent) = (percent, percent),
                other => return Err(format!("\"{other}\" is no side; say for example: {example}")),
            }
        }
    }
    Ok(Order::Collimate { left_percent, right_percent, top_percent, bottom_percent })
}

/// `rate screening 7.5 runs 3`; what is not said stays.
fn rates(words: &[&str], now: &CarmView) -> Result<Order, String> {
    let example = "rate screening 7.5 runs 3 (pictures a second)";
    let [mut screening_per_s, mut runs_per_s] = now.rates_per_s;
    for pair in words.chunks(2) {
        let per_s = number(pair.get(1), example)?;
        match pair[0] {
            "screening" | "fluoroscopy" => screening_per_s = per_s,
            "runs" | "run" => runs_per_s = per_s,
            other => return Err(format!("\"{other}\" has no rate; say for example: {example}")),
        }
    }
    if words.is_empty() {
        return Err(format!("which? Say for example: {example}"));
    }
    Ok(Order::FrameRate { screening_per_s, runs_per_s })
}

/// `run 20 x 1.5 for 8 s held left`: 20 mL/s during 1.5 s, frames for 8 s, breath held, through the left line.
fn run(words: &[&str], place: &Place<'_>) -> Result<Order, String> {
    let example = "run 20 x 2 for 8 s held (20 mL/s during 2 s; pictures for 8 s; breath held)";
    let joined = words.join(" ").replace(['x', '×', '*'], " x ");
    let mut words: Vec<&str> = joined.split_whitespace().collect();
    let held = words.iter().any(|w| ["held", "hold", "breath", "breath-hold"].contains(w));
    words.retain(|w| {
        !["held", "hold", "breath", "breath-hold", "ml/s", "ml", "s", "seconds", "with"].contains(w)
    });
    let (site, words) = match site_last(&words) {
        (Some(site), rest) => (site, rest),
        (None, rest) => (injecting(place)?, rest),
    };
    let rate_ml_s = number(words.first(), example)?;
    if words.get(1) != Some(&"x") {
        return Err(format!("how long? Say for example: {example}"));
    }
    let during_s = number(words.get(2), example)?;
    let seconds = match words.get(3) {
        Some(&"for") => number(words.get(4), example)?,
        _ => 8.0,
    };
    Ok(Order::Run { site, rate_ml_s, volume_ml: rate_ml_s * during_s, seconds, breath_hold: held })
}

/// The line that can inject: the only one with a catheter, else the line last worked on.
fn injecting(place: &Place<'_>) -> Result<Site, String> {
    let lines = &place.view.rail.lines;
    let with: Vec<Site> =
        lines.iter().filter(|l| l.items.iter().any(|i| i.kind == "catheter")).map(|l| l.site).collect();
    match (with.as_slice(), place.site) {
        ([one], _) => Ok(*one),
        ([], _) => Err("no catheter lies on any line; put a flush catheter in first".into()),
        (some, Some(last)) if some.contains(&last) => Ok(last),
        _ => Err("through which line? Add right, left or arm".into()),
    }
}

fn hand_over(words: &[&str]) -> Result<Order, String> {
    let example = "hand over map 90 sbp 140 legs ct 48";
    let after = |name: &str| {
        let at = words.iter().position(|w| *w == name)?;
        Some(number(words.get(at + 1), example))
    };
    Ok(Order::HandOver {
        map_low_mmhg: after("map")
            .ok_or(format!("keep which mean pressure? Say for example: {example}"))??,
        sbp_high_mmhg: after("sbp").ok_or(format!("up to which systolic? Say for example: {example}"))??,
        hourly_neuro: words.contains(&"legs"),
        ct_hours: after("ct").transpose()?,
    })
}

/// The line named at the end, the one last worked on, or the only one.
fn on_line<'w>(words: &[&'w str], place: &Place<'_>) -> Result<(Site, Vec<&'w str>), String> {
    let (site, rest) = site_last(words);
    let lines = &place.view.rail.lines;
    if let Some(site) = site.or(place.site.filter(|s| lines.iter().any(|l| l.site == *s))) {
        return Ok((site, rest));
    }
    match lines.as_slice() {
        [one] => Ok((one.site, rest)),
        [] => Err("there is no access yet; say for example: puncture right ultrasound".into()),
        _ => Err("on which line? Add right, left or arm".into()),
    }
}

/// A side at the end of the words: `... on the right`, `... left groin`.
fn site_last<'w>(words: &[&'w str]) -> (Option<Site>, Vec<&'w str>) {
    let mut end = words.len();
    while end > 0 && ["groin", "femoral", "side", "line", "brachial"].contains(&words[end - 1]) {
        end -= 1;
    }
    let site = match words[..end].last() {
        Some(&"right") => Site::RightFemoral,
        Some(&"left") => Site::LeftFemoral,
        Some(&"arm") => Site::LeftBrachial,
        _ => return (None, words.to_vec()),
    };
    let mut keep = end - 1;
    if site == Site::LeftBrachial && keep > 0 && words[keep - 1] == "left" {
        keep -= 1;
    }
    while keep > 0 && ["on", "at", "from"].contains(&words[keep - 1]) {
        keep -= 1;
    }
    (Some(site), words[..keep].to_vec())
}

/// A side at the beginning: `right ultrasound`.
fn site_first<'w>(words: &[&'w str]) -> Option<(Site, Vec<&'w str>)> {
    let (site, mut rest) = match words {
        ["left", "arm", rest @ ..] | ["arm", rest @ ..] => (Site::LeftBrachial, rest),
        ["right", rest @ ..] => (Site::RightFemoral, rest),
        ["left", rest @ ..] => (Site::LeftFemoral, rest),
        _ => return None,
    };
    while let [first, tail @ ..] = rest
        && ["groin", "femoral", "side", "with", "by", "under"].contains(first)
    {
        rest = tail;
    }
    Some((site, rest.to_vec()))
}

fn lying(view: &View, site: Site) -> Vec<String> {
    let line = view.rail.lines.iter().find(|l| l.site == site);
    line.map_or(Vec::new(), |l| l.items.iter().map(|i| i.device.clone()).collect())
}

fn balloons(view: &View, site: Site) -> Vec<String> {
    let line = view.rail.lines.iter().find(|l| l.site == site);
    line.map_or(Vec::new(), |l| {
        l.items.iter().filter(|i| i.kind == "balloon").map(|i| i.device.clone()).collect()
    })
}

fn off(words: &[&str]) -> bool {
    words.iter().any(|w| ["off", "stop", "end"].contains(w))
}

/// Without these words at either end.
fn strip<'a, 'w>(mut words: &'a [&'w str], these: &[&str]) -> &'a [&'w str] {
    while let [first, rest @ ..] = words
        && these.contains(first)
    {
        words = rest;
    }
    while let [rest @ .., last] = words
        && these.contains(last)
    {
        words = rest;
    }
    words
}

fn split(text: &str) -> Vec<&str> {
    text.split_whitespace().collect()
}

/// A number, perhaps with its unit behind it: `40`, `40mm`.
fn number(word: Option<&&str>, example: &str) -> Result<f64, String> {
    let text = word.ok_or(format!("how much? Say for example: {example}"))?;
    let digits = text.trim_end_matches(|c: char| c.is_alphabetic() || c == '%' || c == '/');
    digits
        .parse::<f64>()
        .ok()
        .filter(|n| n.is_finite())
        .ok_or(format!("\"{text}\" is not a number; say for example: {example}"))
}

/// Words, then a number, perhaps its unit.
fn name_then_number<'w>(words: &[&'w str], example: &str) -> Result<(Vec<&'w str>, f64), String> {
    let is_number = |w: &&str| w.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '.');
    let at = words.iter().rposition(is_number).ok_or(format!("how much? Say for example: {example}"))?;
    Ok((words[..at].to_vec(), number(words.get(at), example)?))
}

/// Words, then a quantity with its unit.
fn name_then_quantity<'w>(words: &[&'w str], example: &str) -> Result<(Vec<&'w str>, String), String> {
    let at = words
        .iter()
        .position(|w| w.starts_with(|c: char| c.is_ascii_digit()))
        .ok_or(format!("how much? Say for example: {example}"))?;
    Ok((words[..at].to_vec(), words[at..].join(" ")))
}

/// Units as the quantity readers spell them, from lower case.
fn spelt(quantity: &str) -> String {
    let Some((number, unit)) = quantity.split_once(' ') else { return quantity.to_owned() };
    let (amount, per) = unit.split_once('/').map_or((unit, String::new()), |(a, p)| (a, format!("/{p}")));
    let amount = match amount.trim() {
        "iu" | "units" | "unit" => "IU",
        "u" => "U",
        "ml" => "mL",
        "mcg" => "ug",
        other => other,
    };
    format!("{number} {amount}{per}")
}

fn span(words: &[&str], example: &str) -> Result<Span, String> {
    if words.is_empty() {
        return Err(format!("how long? Say for example: {example}"));
    }
    Span::parse(
        &words
            .join(" ")
            .replace("minutes", "min")
            .replace("minute", "min")
            .replace("seconds", "s")
            .replace("hours", "h"),
    )
}

fn span_or_hours(words: &[&str]) -> Result<f64, String> {
    match words {
        [one] if one.parse::<f64>().is_ok_and(f64::is_finite) => number(Some(one), "recover 24"),
        words => Ok(span(words, "recover 24 h")?.as_seconds() / 3600.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circulation::{Drug, Product, Vitals};
    use crate::scenario::order::{Closure, Guide, Mark, Measured};
    use crate::session::view::{AskView, ItemView, LineView, RailView, ShelfView};

    fn item(device: &str, kind: &'static str) -> ItemView {
        ItemView { device: device.into(), label: device.into(), kind, tip_mm: 100.0, state: None }
    }

    fn shelf() -> Vec<ShelfView> {
        let all = [
            ("wire_j_180", "Standard wire, J tip, 180 cm", "wire"),
            ("wire_aortic_260", "Aortic exchange wire, wide curve, 260 cm", "wire"),
            ("pigtail_marked_5", "5 Fr marked flush pigtail", "catheter"),
            ("pigtail_5", "5 Fr flush pigtail", "catheter"),
            ("taper_36_32_150", "Tapered thoracic tube, 36 x 32 x 150 mm", "graft"),
            ("balloon_mould_46", "Compliant moulding balloon, to 46 mm", "balloon"),
            ("plug_12", "Vascular plug, 12 mm", "plug"),
        ];
        all.map(|(id, label, kind)| ShelfView { id: id.into(), label: label.into(), kind, left: 1 }).to_vec()
    }

    /// Two lines, a question with two options.
    fn view() -> View {
        let right = vec![item("wire_aortic_260", "wire"), item("taper_36_32_150", "graft")];
        let left = vec![item("pigtail_marked_5", "catheter")];
        View {
            now: Tick(0),
            phase: vec!["Check".into()],
            alarms: Vec::new(),
            vitals: Vitals::default(),
            jobs: Vec::new(),
            rail: RailView {
                length_mm: 640.0,
                lines: vec![
                    LineView { site: Site::RightFemoral, entry_mm: 640.0, items: right },
                    LineView { site: Site::LeftFemoral, entry_mm: 640.0, items: left },
                ],
                ..RailView::default()
            },
            asks: vec![AskView {
                id: "fluid".into(),
                who: "registrar".into(),
                question: "?".into(),
                why: false,
                confidence: false,
                closes: None,
                options: vec![("hold".into(), "Hold".into()), ("two_litres".into(), "Two".into())],
            }],
            offers: Vec::new(),
            carm: CarmView::default(),
            drawn: Vec::new(),
            runs: Vec::new(),
            shelf: shelf(),
            tally: Vec::new(),
            labs: Vec::new(),
            ended: None,
        }
    }

    fn said(text: &str) -> Result<Command, String> {
        let view = view();
        parse(text, &Place { view: &view, site: Some(Site::RightFemoral), ready: &[Order::ChestDrain] })
    }

    fn orders(text: &str) -> Order {
        match said(text) {
            Ok(Command::Give(order)) => order,
            other => panic!("{text}: {other:?}"),
        }
    }

    #[test]
    fn plain_words_make_every_order() {
        let right = Site::RightFemoral;
        let left = Site::LeftFemoral;
        let d = |s: &str| s.to_owned();
        let run = |volume_ml, seconds, breath_hold| Order::Run {
            site: left,
            rate_ml_s: 20.0,
            volume_ml,
            seconds,
            breath_hold,
        };
        let cases = [
            (
                "advance wire_aortic_260 to 40",
                Order::Move { site: right, device: d("wire_aortic_260"), to_mm: 40.0 },
            ),
            (
                "advance the graft to 136 mm",
                Order::Move { site: right, device: d("taper_36_32_150"), to_mm: 136.0 },
            ),
            (
                "withdraw pigtail to 300 on the left",
                Order::Move { site: left, device: d("pigtail_marked_5"), to_mm: 300.0 },
            ),
            ("run 20 x 2", run(40.0, 8.0, false)),
            ("run 20x1.5 for 20 s held", run(30.0, 20.0, true)),
            (
                "puncture left arm cut down",
                Order::Puncture { site: Site::LeftBrachial, guide: Guide::CutDown },
            ),
            ("puncture right", Order::Puncture { site: right, guide: Guide::Ultrasound }),
            ("insert wire_j_180 left groin", Order::Insert { site: left, device: d("wire_j_180") }),
            (
                "exchange aortic for j",
                Order::Exchange { site: right, out: d("wire_aortic_260"), put: d("wire_j_180") },
            ),
            ("remove graft", Order::Remove { site: right, device: d("taper_36_32_150") }),
            ("aim lao 55 cau 5", Order::Aim { primary_deg: 55.0, secondary_deg: -5.0 }),
            (
                "measure proximal diameter 31 axial",
                Order::Measure { what: Measured::ProximalDiameter, mm: 31.0, plane: Plane::Axial },
            ),
            ("pan head 40 right 20", Order::Pan { left_mm: -20.0, head_mm: 40.0 }),
            ("field 22 cm", Order::Field { edge_mm: 220.0 }),
            (
                "collimate sides 20 top 10",
                Order::Collimate {
                    left_percent: 20.0,
                    right_percent: 20.0,
                    top_percent: 10.0,
                    bottom_percent: 0.0,
                },
            ),
            ("rate screening 7.5 runs 3", Order::FrameRate { screening_per_s: 7.5, runs_per_s: 3.0 }),
            (
                "measure treated length 118 on run",
                Order::Measure { what: Measured::TreatedLength, mm: 118.0, plane: Plane::Run },
            ),
            ("mark left subclavian at 128", Order::Mark { name: Mark::LeftSubclavian, at_mm: 128.0 }),
            ("unsheathe 30", Order::Unsheathe { site: right, by_mm: Some(30.0) }),
            ("unsheathe all", Order::Unsheathe { site: right, by_mm: None }),
            (
                "give heparin 100 IU/kg",
                Order::Give { drug: Drug::Heparin, dose: Dose::parse("100 IU/kg").unwrap() },
            ),
            (
                "infuse norepinephrine 0.1 ug/kg/min",
                Order::Infuse { drug: Drug::Noradrenaline, rate: Rate::parse("0.1 ug/kg/min").unwrap() },
            ),
            (
                "transfuse red cells 600 mL over 15 min",
                Order::Transfuse { product: Product::RedCells, ml: 600.0, over: Span::seconds(900) },
            ),
            ("keep systolic 80-100", Order::KeepSystolic { low_mmhg: 80.0, high_mmhg: 100.0 }),
            ("keep systolic between 80 and 100", Order::KeepSystolic { low_mmhg: 80.0, high_mmhg: 100.0 }),
            ("pace 180", Order::Pace { bpm: Some(180.0) }),
            ("pace off", Order::Pace { bpm: None }),
            ("spinal drain 10 mmHg", Order::CsfDrain { at_mmhg: Some(10.0) }),
            ("close right surgical", Order::Close { site: right, how: Closure::Surgical }),
            (
                "hand over map 90 sbp 140 legs ct 48",
                Order::HandOver {
                    map_low_mmhg: 90.0,
                    sbp_high_mmhg: 140.0,
                    hourly_neuro: true,
                    ct_hours: Some(48.0),
                },
            ),
            ("recover 24", Order::Recover { hours: 24.0 }),
            ("recover 90 min", Order::Recover { hours: 1.5 }),
            (
                "brief roles, pressure plan",
                Order::Brief { items: vec![BriefItem::Roles, BriefItem::PressurePlan] },
            ),
            ("free pressure", Order::FreeSystolic),
            ("free table", Order::LockTable { on: false }),
            ("note keep an eye on the left arm", Order::Note { text: d("keep an eye on the left arm") }),
            ("+1", Order::ChestDrain),
        ];
        for (text, want) in cases {
            assert_eq!(orders(text), want, "{text}");
        }
    }

    #[test]
    fn numbers_and_names_answer() {
        let want = Command::Answer { ask: "fluid".into(), option: "two_litres".into() };
        assert_eq!(said("2"), Ok(want.clone()));
        assert_eq!(said("answer fluid two_litres"), Ok(want.clone()));
        assert_eq!(said("answer two litres"), Ok(want));
        assert!(said("3").unwrap_err().contains("1 to 2"));
    }

    #[test]
    fn what_is_not_understood_is_answered_with_a_remedy() {
        for (text, remedy) in [
            ("advnace wire to 40", "did you mean advance"),
            ("advance wire_aortic_260", "advance wire_aortic_260 to 40"),
            ("advance unicorn to 40", "shelf"),
            ("withdraw pigtail to far left", "is not a number"),
            ("give herpain 5000 IU", "did you mean heparin"),
            ("give heparin", "give heparin 2000 IU"),
            ("give heparin 5000 furlongs", "unit"),
            ("keep systolic 80", "80 to 100"),
            ("aim northwards", "lao 55"),
            ("pan upstairs 20", "pan head 40"),
            ("collimate", "collimate open"),
            ("run fast", "run 20 x 2"),
            ("hand over to the ward", "map 90 sbp 140"),
            ("wait", "wait 2 min"),
            ("until doomsday", "until something happens"),
            ("+9", "orders"),
            ("anaesthesia hypnosis", "local, general or none"),
        ] {
            let why = said(text).expect_err(text);
            assert!(why.contains(remedy), "{text}: {why}");
        }
    }

    #[test]
    fn no_line_of_noise_panics() {
        for text in [
            "",
            " ",
            "#",
            "+",
            "-",
            "run",
            "run x",
            "run 20 x",
            "mark at",
            "é 40 to",
            "advance to to to",
            "2 2",
            "\u{0}",
            "left",
            "close",
            "x x x x 1e999",
        ] {
            let _ = said(text);
        }
    }
}
