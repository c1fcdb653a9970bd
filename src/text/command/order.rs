//! Every order in plain words.

use super::super::names::{device, named};
use super::said::{
    balloons, lying, name_then_number, name_then_quantity, number, off, on_line, site_first, site_last, span,
    span_or_hours, spelt, split, strip,
};
use super::{Place, unknown};
use crate::anatomy::Site;
use crate::circulation::Anaesthesia;
use crate::scenario::Order;
use crate::scenario::order::{BriefItem, CtExtent, Plane};
use crate::scenario::quantity::{Dose, Rate, Span};
use crate::session::view::CarmView;

pub(super) fn order(verb: &str, words: &[&str], place: &Place<'_>) -> Result<Order, String> {
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
                () if words.contains(&"projection") => Plane::Projection,
                () => Plane::Orthogonal,
            };
            // "on run 2" names the run; the measure's own number comes last.
            let named_run = words.windows(2).find(|w| w[0] == "run").and_then(|w| w[1].parse().ok());
            let run = named_run.filter(|_| words.iter().filter(|w| w.parse::<f64>().is_ok()).count() > 1);
            let after_run = |i: usize| run.is_some() && i > 0 && words[i - 1] == "run";
            let told = ["axial", "orthogonal", "projection", "on", "run"];
            let words: Vec<&str> = (0..words.len())
                .filter(|i| !told.contains(&words[*i]) && !after_run(*i))
                .map(|i| words[i])
                .collect();
            let (name, mm) = name_then_number(&words, "measure proximal diameter 31")?;
            Order::Measure { what: named("measurement", &name)?, mm, plane, run }
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
        "stent" => {
            let example = "stent sma with covered_7";
            let (site, words) = on_line(words, place)?;
            let at = words
                .iter()
                .position(|w| *w == "with")
                .ok_or(format!("with what? Say for example: {example}"))?;
            let vessel = named("vessel", &words[..at])?;
            let device = device(view, &[], words.get(at + 1..).unwrap_or_default())?;
            Order::StentBranch { site, device, vessel }
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
        "spinal" | "csf" => {
            // The first number is the pressure, the second what it may in an hour.
            let mut numbers = words.iter().filter_map(|w| w.parse().ok());
            match (numbers.next(), numbers.next()) {
                (Some(at), most_ml_h) => Order::CsfDrain { at_mmhg: Some(at), most_ml_h },
                _ if words.iter().any(|w| ["closed", "close", "off"].contains(w)) => {
                    Order::CsfDrain { at_mmhg: None, most_ml_h: None }
                }
                _ => {
                    return Err("open at which pressure? Say: spinal drain 10, spinal drain 10 mmHg 15 mL/h, or: spinal drain closed".into());
                }
            }
        }
        "chest" => Order::ChestDrain,
        "open" if words.first() == Some(&"belly") => Order::OpenBelly,
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

/// Local, none, or general: at surgical depth unless a number says otherwise.
pub(super) fn anaesthetic(words: &[&str]) -> Result<Anaesthesia, String> {
    match words {
        [] => Err("which? Say anaesthesia local, general or none".into()),
        ["general" | "ga" | "asleep"] => Ok(Anaesthesia::General(1.0)),
        ["general" | "ga", depth] => Ok(Anaesthesia::General(number(Some(depth), "anaesthesia general 1")?)),
        ["local", ..] => Ok(Anaesthesia::Local),
        ["none" | "off" | "awake"] => Ok(Anaesthesia::None),
        other => Err(format!("I know no anaesthetic \"{}\"; say local, general or none", other.join(" "))),
    }
}

pub(super) fn aim(words: &[&str]) -> Result<Order, String> {
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
pub(super) fn pan(words: &[&str]) -> Result<Order, String> {
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
pub(super) fn millimetres(words: &[&str], example: &str) -> Result<f64, String> {
    let mm = number(words.first(), example)?;
    Ok(if words.iter().any(|w| w.ends_with("cm")) { 10.0 * mm } else { mm })
}

/// `collimate sides 20 top 10`, or `collimate open`.
pub(super) fn collimate(words: &[&str]) -> Result<Order, String> {
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
pub(super) fn rates(words: &[&str], now: &CarmView) -> Result<Order, String> {
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
pub(super) fn run(words: &[&str], place: &Place<'_>) -> Result<Order, String> {
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
pub(super) fn injecting(place: &Place<'_>) -> Result<Site, String> {
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

pub(super) fn hand_over(words: &[&str]) -> Result<Order, String> {
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
