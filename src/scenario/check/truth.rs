//! What can be said of a rule before anything is played: intervals of what each signal can be, and three-valued logic.
//!
//! A verdict is certain where it is given. No verdict is no praise: the plays and sweeps tell the rest.

use crate::scenario::rule::{Arithmetic, Binary, Comparison, Expr, Kind, Temporal, Unit};
use crate::scenario::signal::{FAMILIES, SIGNALS};
use std::collections::BTreeSet;

/// What is certain of the chart and the questions.
pub struct Known<'c> {
    /// States that nothing leads to.
    pub unreachable: BTreeSet<&'c str>,
    /// Questions that nothing puts.
    pub never_asked: BTreeSet<&'c str>,
}

/// Is the condition true at every moment of every session, or false at every moment?
pub fn truth(rule: &Expr, known: &Known<'_>) -> Option<bool> {
    let all = |parts: &[Expr], wanted: bool| {
        let parts: Vec<Option<bool>> = parts.iter().map(|p| truth(p, known)).collect();
        if parts.contains(&Some(!wanted)) {
            Some(!wanted)
        } else if parts.iter().all(|p| *p == Some(wanted)) {
            Some(wanted)
        } else {
            None
        }
    };
    match &rule.kind {
        Kind::Truth(value) => Some(*value),
        Kind::In(state) => known.unreachable.contains(state.as_str()).then_some(false),
        Kind::Chose(ask, _) => known.never_asked.contains(ask.as_str()).then_some(false),
        Kind::Event(name, argument) if name == "answered" || name == "asked" => {
            known.never_asked.contains(argument.as_str()).then_some(false)
        }
        Kind::Event(name, argument) if name == "entered" => {
            known.unreachable.contains(argument.as_str()).then_some(false)
        }
        Kind::Not(p) => truth(p, known).map(|t| !t),
        Kind::And(parts) => all(parts, true),
        Kind::Or(parts) => all(parts, false),
        Kind::Implies(p, q) => match (truth(p, known), truth(q, known)) {
            (Some(false), _) | (_, Some(true)) => Some(true),
            (Some(true), Some(false)) => Some(false),
            _ => None,
        },
        Kind::Compare(op, x, y) => compare(*op, x, y),
        Kind::Between(x, low, high) => {
            match (compare(Comparison::AtLeast, x, low), compare(Comparison::AtMost, x, high)) {
                (Some(false), _) | (_, Some(false)) => Some(false),
                (Some(true), Some(true)) => Some(true),
                _ => None,
            }
        }
        Kind::Temporal(Temporal::Never, _, p) => truth(p, known).map(|t| !t),
        // A window may be empty of samples, so only what is never true stays so through `once`.
        Kind::Temporal(Temporal::Eventually | Temporal::Once, _, p) => truth(p, known).filter(|t| !t),
        Kind::Temporal(Temporal::Always | Temporal::Historically, _, p) => truth(p, known).filter(|t| *t),
        Kind::Binary(Binary::Until | Binary::Since, _, _, q) => truth(q, known).filter(|t| !t),
        Kind::For(p, _) => truth(p, known).filter(|t| !t),
        Kind::Within(p, _, event) => match (truth(p, known), truth(event, known)) {
            (Some(true), _) | (_, Some(false)) => Some(true),
            _ => None,
        },
        _ => None,
    }
}

/// From least to most, in a unit; `sure` if there is a value at every moment.
struct Interval {
    low: f64,
    high: f64,
    unit: Unit,
    sure: bool,
}

fn compare(op: Comparison, x: &Expr, y: &Expr) -> Option<bool> {
    let (x, y) = (interval(x)?, interval(y)?);
    if !y.unit.fits(&x.unit) {
        return None;
    }
    let (low, high) = (y.unit.convert(y.low, &x.unit), y.unit.convert(y.high, &x.unit));
    let verdict = match op {
        Comparison::Less => decide(x.high < low, x.low >= high),
        Comparison::AtMost => decide(x.high <= low, x.low > high),
        Comparison::Greater => decide(x.low > high, x.high <= low),
        Comparison::AtLeast => decide(x.low >= high, x.high < low),
        Comparison::Equal => {
            decide(x.low == x.high && low == high && x.low == low, x.high < low || x.low > high)
        }
        Comparison::Unequal => {
            decide(x.high < low || x.low > high, x.low == x.high && low == high && x.low == low)
        }
    };
    // A comparison with a signal that has no value yet does not hold.
    verdict.filter(|holds| !holds || (x.sure && y.sure))
}

fn decide(always: bool, never: bool) -> Option<bool> {
    match (always, never) {
        (true, _) => Some(true),
        (_, true) => Some(false),
        _ => None,
    }
}

fn interval(expr: &Expr) -> Option<Interval> {
    match &expr.kind {
        Kind::Number(q) => Some(Interval { low: q.value, high: q.value, unit: q.unit.clone(), sure: true }),
        Kind::Name(name) => signal(name),
        Kind::Count(..) => Some(Interval { low: 0.0, high: f64::INFINITY, unit: Unit::plain(), sure: true }),
        Kind::Negative(x) => {
            let x = interval(x)?;
            Some(Interval { low: -x.high, high: -x.low, ..x })
        }
        Kind::Abs(x) => {
            let x = interval(x)?;
            let low = if x.low <= 0.0 && x.high >= 0.0 { 0.0 } else { x.low.abs().min(x.high.abs()) };
            Some(Interval { low, high: x.low.abs().max(x.high.abs()), ..x })
        }
        Kind::Arithmetic(op @ (Arithmetic::Add | Arithmetic::Subtract), x, y) => {
            let (x, y) = (interval(x)?, interval(y)?);
            let (low, high) = (y.unit.convert(y.low, &x.unit), y.unit.convert(y.high, &x.unit));
            let (low, high) = if *op == Arithmetic::Add {
                (x.low + low, x.high + high)
            } else {
                (x.low - high, x.high - low)
            };
            Some(Interval { low, high, sure: x.sure && y.sure, unit: x.unit })
        }
        _ => None,
    }
}

/// The widest range of a signal that any session can show.
fn signal(name: &str) -> Option<Interval> {
    let family = name.split_once('.').and_then(|(first, _)| FAMILIES.iter().find(|f| f.name == first));
    let known = SIGNALS.iter().find(|s| s.name == name).or(family)?;
    if matches!(known.name, "policy" | "var") {
        return None;
    }
    let signed = [
        "oversize.",
        "base_deficit",
        "off_profile",
        "cvp",
        "shift",
        "edge.",
        "wire.tip_to_valve",
        "flow",
        "leak",
    ];
    let flag = known.unit.is_empty() && known.about.starts_with("1 ");
    let (low, high) = match known.name {
        _ if flag => (0.0, 1.0),
        "covered" | "injured" | "risk" | "spo2" => (0.0, 100.0),
        "temperature" => (10.0, 45.0),
        "off_profile" => (-180.0, 180.0),
        other if signed.iter().any(|s| other.starts_with(s)) => (f64::NEG_INFINITY, f64::INFINITY),
        _ => (0.0, f64::INFINITY),
    };
    let from_the_start =
        ["time", "sbp", "dbp", "map", "hr", "alive", "grafts", "lost", "fluid", "blood_given", "contrast"];
    let sure = from_the_start.contains(&known.name) || flag;
    Some(Interval { low, high, unit: Unit::parse(known.unit).ok()?, sure })
}
