//! Events and orders in words, for every desk and report.

use super::Session;
use super::event::{Event, EventKind, Giver};
use crate::scenario::order::{CtExtent, Guide, Plane};
use crate::scenario::{Loaded, Order};

impl Session {
    /// As [`Words::tell`].
    pub fn tell(&self, event: &Event) -> Option<String> {
        Words(&self.case).tell(event)
    }
    /// As [`Words::label`].
    pub fn label(&self, id: &str) -> String {
        Words(&self.case).label(id)
    }
    /// As [`Words::order_words`].
    pub fn order_words(&self, order: &Order) -> String {
        Words(&self.case).order_words(order)
    }
}

/// What a case's people say: its devices, questions and endings by their names.
#[derive(Clone, Copy)]
pub struct Words<'a>(pub &'a Loaded);

impl Words<'_> {
    /// One line for people, or nothing where an event is only for the record.
    pub fn tell(&self, event: &Event) -> Option<String> {
        let case = &self.0.case;
        Some(match &event.kind {
            EventKind::Ordered { order: Order::Answer { .. }, .. } => return None,
            EventKind::Ordered { order, by } => match by {
                Giver::Case => format!("(team) {}", self.order_words(order)),
                Giver::Educator => format!("(educator) {}", self.order_words(order)),
                Giver::Trainee | Giver::Option(_) => format!("> {}", self.order_words(order)),
            },
            EventKind::Refused { why, .. } => format!("Not done: {why}."),
            EventKind::Began { .. } | EventKind::Entered { .. } => return None,
            EventKind::Done { verb, to } => {
                let what = verb.replace('_', " ");
                if to.is_empty() {
                    format!("done: {what}")
                } else {
                    format!("done: {what}, {}", self.label(to))
                }
            }
            EventKind::Said { who, text } if who == "narrator" => text.clone(),
            EventKind::Said { who, text } => format!("{}: \"{text}\"", capital(who)),
            EventKind::Asked { ask } => {
                let ask = case.asks.iter().find(|a| a.id == *ask)?;
                format!("? {}", ask.question)
            }
            EventKind::Chosen { ask, option, by_clock, .. } => {
                let option =
                    case.asks.iter().find(|a| a.id == *ask)?.options.iter().find(|o| o.id == *option)?;
                let late = if *by_clock { " (the moment passed)" } else { "" };
                format!("> {}{late}", option.say)
            }
            EventKind::Lab { test, value } => {
                format!("Laboratory: {} {}", test.label(), figure(*value, test.unit()))
            }
            EventKind::Arrived { who } => format!("The {who} is here."),
            EventKind::Ran(facts) => {
                format!("Run {}: {}.", facts.number, super::views::seen(facts).join("; "))
            }
            EventKind::Placed(p) => format!(
                "{} released: fabric from {:.0} to {:.0} mm; moved {:.0} mm downstream while it opened.",
                self.label(&p.device),
                p.edges_mm[0],
                p.edges_mm[1],
                p.shift_mm
            ),
            EventKind::Ballooned { device, diameter_mm } => {
                format!("{} inflated to {diameter_mm:.0} mm.", self.label(device))
            }
            EventKind::Stented { device, span_mm: [from, to], oversize_percent } => format!(
                "{} open from {from:.0} to {to:.0} mm, {oversize_percent:.0} % wider than the artery.",
                self.label(device)
            ),
            // Seen on the next picture.
            EventKind::Slipped { .. } => return None,
            // Chance and leak are for the debrief: at the time they are known only by what can be seen.
            EventKind::Risk { .. } | EventKind::Leak { .. } => return None,
            EventKind::Alarm { signal, priority, value } => {
                let mark = ["", "!", "!!", "!!!"][usize::from(*priority).min(3)];
                format!("Monitor {mark} {}", reading(signal, *value))
            }
            EventKind::Ended { ending } => {
                let ending = case.endings.iter().find(|e| e.id == *ending)?;
                format!("{} {}", ending.title, ending.text)
            }
        })
    }

    /// A device's, drug's or vessel's name as said aloud.
    pub fn label(&self, id: &str) -> String {
        self.0.shelf.get(id).map_or_else(|| id.replace('_', " "), |s| s.label.clone())
    }

    /// An order as said aloud.
    pub fn order_words(&self, order: &Order) -> String {
        let device = |id: &String| self.label(id);
        match order {
            Order::Answer { ask, option, .. } => format!("{ask}: {option}"),
            Order::Brief { items } => format!("Team briefing, {} points.", items.len()),
            Order::Call { who } => format!("Call the {who}."),
            Order::Note { text } => format!("Note: {text}"),
            Order::ReadCt { extent: CtExtent::Chest } => "Read the CT of the chest.".into(),
            Order::ReadCt { extent: CtExtent::WholeAorta } => {
                "Read the CT from the neck to the groins.".into()
            }
            Order::Measure { what, mm, plane, run } => {
                let on = match (plane, run) {
                    (Plane::Run, Some(number)) => format!(" on run {number}"),
                    (Plane::Run, None) => " on the run".into(),
                    (Plane::Projection, _) => " on a projection".into(),
                    _ => String::new(),
                };
                format!("I measure {}{on}: {mm} mm.", what.id().replace('_', " "))
            }
            Order::Puncture { site, guide } => {
                let how = match guide {
                    Guide::Ultrasound => "under ultrasound, closure sutures first",
                    Guide::Landmark => "by landmark",
                    Guide::CutDown => "through an open exposure",
                };
                format!("Access {}, {how}.", site.label())
            }
            Order::Insert { site, device: d } => format!("{} in, {}.", device(d), site.label()),
            Order::Move { device: d, to_mm, .. } => format!("{} to {to_mm:.0} mm.", device(d)),
            Order::Exchange { out, put, .. } => format!("Exchange {} for {}.", device(out), device(put)),
            Order::Remove { device: d, .. } => format!("{} out.", device(d)),
            Order::Aim { primary_deg, secondary_deg } => {
                format!("C-arm {}.", angles(*primary_deg, *secondary_deg))
            }
            Order::Screen { on: true } => "Screen.".into(),
            Order::Screen { on: false } => "Screening off.".into(),
            Order::LockTable { on: true } => "Table locked, nobody moves it.".into(),
            Order::LockTable { on: false } => "Table free.".into(),
            Order::Pan { left_mm, head_mm } => format!("Table: {}.", panned(*left_mm, *head_mm)),
            Order::Field { edge_mm } => format!("Field of {:.0} cm.", edge_mm / 10.0),
            Order::Collimate { left_percent, right_percent, top_percent, bottom_percent } => {
                shutters([*left_percent, *right_percent, *top_percent, *bottom_percent])
            }
            Order::FrameRate { screening_per_s, runs_per_s } => {
                format!("{screening_per_s} pulses a second, runs at {runs_per_s} frames a second.")
            }
            Order::Run { rate_ml_s, volume_ml, seconds, breath_hold, .. } => format!(
                "Run: {rate_ml_s} mL/s for {volume_ml} mL, {seconds} s{}.",
                if *breath_hold { ", breath held" } else { "" }
            ),
            Order::Mark { name, at_mm } => format!("Mark {} at {at_mm:.0} mm.", name.id().replace('_', " ")),
            Order::Unsheathe { by_mm: Some(mm), .. } => format!("Unsheathe {mm:.0} mm."),
            Order::Unsheathe { by_mm: None, .. } => "Unsheathe all of it.".into(),
            Order::ReleaseTip { .. } => "Release the tip.".into(),
            Order::Inflate { device: d, ml, .. } => format!("{} up with {ml} mL.", device(d)),
            Order::Deflate { device: d, .. } => format!("{} down.", device(d)),
            Order::Embolise { device: d, vessel, amount, .. } => {
                format!("{amount} of {} into the {}.", device(d), vessel.label())
            }
            Order::StentBranch { device: d, vessel, .. } => {
                format!("{} into the {}.", device(d), vessel.label())
            }
            Order::Give { drug, dose } => format!("{} {dose}.", capital(drug.label())),
            Order::Infuse { drug, rate } if rate.dose.amount == 0.0 => {
                format!("{} off.", capital(drug.label()))
            }
            Order::Infuse { drug, rate } => format!("{} at {rate}.", capital(drug.label())),
            Order::Transfuse { product, ml, over } => {
                format!("{} {ml:.0} mL over {over}.", capital(product.label()))
            }
            Order::KeepSystolic { low_mmhg, high_mmhg } => {
                format!("Keep the systolic between {low_mmhg:.0} and {high_mmhg:.0}.")
            }
            Order::FreeSystolic => "Pressure as you see fit.".into(),
            Order::Pace { bpm: Some(bpm) } => format!("Pace at {bpm:.0}."),
            Order::Pace { bpm: None } => "Pacing off.".into(),
            Order::BreathHold { on: true } => "Hold the breath.".into(),
            Order::BreathHold { on: false } => "Breathe.".into(),
            Order::Anaesthetise { kind } => format!("{}.", capital(anaesthesia(*kind))),
            Order::CsfDrain { at_mmhg: Some(p), most_ml_h: Some(ml) } => {
                format!("Spinal drain, open at {p:.0} mmHg, {ml:.0} mL an hour at most.")
            }
            Order::CsfDrain { at_mmhg: Some(p), most_ml_h: None } => {
                format!("Spinal drain, open at {p:.0} mmHg, as much as comes.")
            }
            Order::CsfDrain { at_mmhg: None, .. } => "Spinal drain closed.".into(),
            Order::ChestDrain => "Chest drain, left.".into(),
            Order::OpenBelly => "Open the belly and leave it open.".into(),
            Order::Warm { on: true } => "Warm the patient and the fluids.".into(),
            Order::Warm { on: false } => "Warming off.".into(),
            Order::Lab { test } => format!("Send {}.", test.label()),
            Order::Revascularise { vessel } => format!("Bypass to the {}.", vessel.label()),
            Order::Close { site, .. } => format!("Close {}.", site.label()),
            Order::HandOver { map_low_mmhg, sbp_high_mmhg, hourly_neuro, .. } => format!(
                "Hand over: mean at least {map_low_mmhg:.0}, systolic at most {sbp_high_mmhg:.0}{}.",
                if *hourly_neuro { ", legs every hour" } else { "" }
            ),
            Order::Recover { hours } => format!("{hours} hours pass."),
            Order::Finish => "That is all.".into(),
        }
    }
}

/// C-arm angles as said in the room: "LAO 45, CRA 10".
pub fn angles(primary_deg: f64, secondary_deg: f64) -> String {
    let one = |deg: f64, plus: &str, minus: &str| match deg.round() {
        0.0 => String::new(),
        d if d > 0.0 => format!("{plus} {d:.0}"),
        d => format!("{minus} {:.0}", -d),
    };
    let parts: Vec<String> = [one(primary_deg, "LAO", "RAO"), one(secondary_deg, "CRA", "CAU")]
        .into_iter()
        .filter(|s| !s.is_empty())
        .collect();
    if parts.is_empty() { "straight AP".into() } else { parts.join(", ") }
}

/// Where the picture goes when the table is moved: "40 mm to the head".
fn panned(left_mm: f64, head_mm: f64) -> String {
    let one = |mm: f64, plus: &str, minus: &str| match mm.round() {
        0.0 => String::new(),
        d if d > 0.0 => format!("{d:.0} mm to the {plus}"),
        d => format!("{:.0} mm to the {minus}", -d),
    };
    let parts: Vec<String> =
        [one(head_mm, "head", "feet"), one(left_mm, "patient's left", "patient's right")]
            .into_iter()
            .filter(|s| !s.is_empty())
            .collect();
    if parts.is_empty() { "as it is".into() } else { parts.join(", ") }
}

/// What the shutters cover, in per cent of the field from the left, the right, the top and the bottom.
fn shutters(percent: [f64; 4]) -> String {
    let parts: Vec<String> = percent
        .iter()
        .zip(["left", "right", "top", "bottom"])
        .filter(|(p, _)| **p > 0.0)
        .map(|(p, side)| format!("{side} {p:.0} %"))
        .collect();
    if parts.is_empty() { "Shutters open.".into() } else { format!("Shutters: {}.", parts.join(", ")) }
}

/// A value with its unit and no more digits than it carries.
pub fn figure(value: f64, unit: &str) -> String {
    let digits = if value.abs() >= 100.0 {
        format!("{value:.0}")
    } else if value.abs() >= 1.0 {
        format!("{value:.1}")
    } else {
        format!("{value:.2}")
    };
    if unit.is_empty() { digits } else { format!("{digits} {unit}") }
}

/// A monitor's value as said aloud: "systolic 82 mmHg". A signal without a name of its own keeps its id.
pub fn reading(signal: &str, value: f64) -> String {
    let (name, unit) = match signal {
        "sbp" => ("systolic", " mmHg"),
        "map" => ("mean pressure", " mmHg"),
        "hr" => ("heart rate", " /min"),
        "spo2" => ("saturation", " %"),
        "etco2" => ("expired carbon dioxide", " mmHg"),
        "temperature" => ("temperature", " \u{b0}C"),
        other => (other, ""),
    };
    format!("{name} {value:.0}{unit}")
}

/// With a capital first letter.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// An anaesthetic as said aloud.
pub fn anaesthesia(kind: crate::circulation::Anaesthesia) -> &'static str {
    match kind {
        crate::circulation::Anaesthesia::None => "no anaesthetic",
        crate::circulation::Anaesthesia::Local => "local anaesthetic at the groin",
        crate::circulation::Anaesthesia::General(_) => "general anaesthesia",
    }
}
