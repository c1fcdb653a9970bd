//! Two sessions on one axis: a trainee's two attempts, two trainees, or a trainee beside the case's model player.

use super::axis::Axis;
use super::fork::Outlook;
use super::plot::{Moment, Plot, Series};
use super::report::shell;
use super::words;
use crate::assess::{Decision, Judgement, sums};
use crate::scenario::case::Tone;
use crate::session::event::Tick;
use crate::session::record::Record;
use crate::session::tell::figure;
use maud::{Markup, html};

/// One of the two.
pub struct Side<'a> {
    /// How it is called on the page.
    pub name: &'a str,
    /// The session.
    pub record: &'a Record,
    /// Its judgement.
    pub judgement: &'a Judgement,
}

/// The page, or why the two cannot be set side by side.
///
/// # Errors
/// When they are of different cases.
pub fn page(a: &Side, b: &Side) -> Result<String, String> {
    let (x, y) = (&a.record.case.case, &b.record.case.case);
    if x.id != y.id {
        return Err(format!(
            "\"{}\" is of the case {}, \"{}\" of {}: they have no axis in common",
            a.name, x.id, b.name, y.id
        ));
    }
    let head = html! {
        h1 { (x.title) ": two sessions" }
        p.sub { "A is " strong { (a.name) } " (seed " (a.record.seed) "); B is " strong { (b.name) } " (seed " (b.record.seed) ")." }
        @if a.record.case.digest != b.record.case.digest { p.warn { "The two were played with different texts of this case." } }
        p.sub { "B is another way to do it, not the way it must be done." }
    };
    Ok(shell(
        &format!("Two sessions: {}", x.title),
        head,
        html! {
            (curves(a, b)) (decisions(a, b)) (marks(a, b)) (risks(a, b)) (outcomes(a, b))
        },
    ))
}

/// The numbers of the first's decisions, with A before them, and the second's with B.
fn numbers(side: &Side, letter: char) -> Vec<Moment> {
    let list = side.judgement.decisions.iter().enumerate();
    list.map(|(i, d)| Moment { at: d.at, label: format!("{letter}{}", i + 1) }).collect()
}

fn curves(a: &Side, b: &Side) -> Markup {
    let to = a.record.theatre_end().max(b.record.theatre_end());
    let plot = |signal, label: &str, unit, top, moments| {
        Plot {
            axis: Axis { from: Tick(0), to },
            top,
            series: vec![
                Series { rows: &a.record.trace, signal, label: format!("A {label}"), unit, pen: "p1" },
                Series { rows: &b.record.trace, signal, label: format!("B {label}"), unit, pen: "p4" },
            ],
            moments,
            lanes: Vec::new(),
            pictures: Vec::new(),
            about: label,
        }
        .figure()
    };
    let mut moments = numbers(a, 'A');
    moments.extend(numbers(b, 'B'));
    moments.sort_by_key(|m| m.at);
    let most = |name: &str| {
        use crate::scenario::rule::Signals;
        let rows = a.record.trace.iter().chain(&b.record.trace).filter(|r| r.at <= to);
        rows.filter_map(|r| r.value(name)).fold(1.0, f64::max)
    };
    html! {
        section {
            h2 id="curves" { "On one axis" }
            (plot("sbp", "systolic", "mmHg", 200.0, &moments))
            (plot("lost", "blood lost", "mL", super::plot::top_for(most("lost")), &[]))
        }
    }
}

fn decisions(a: &Side, b: &Side) -> Markup {
    let find = |side: &'_ Side, ask: &str| side.judgement.decisions.iter().find(|d| d.ask == ask).cloned();
    let mut asks: Vec<(Tick, &str, &str)> = Vec::new();
    for d in a.judgement.decisions.iter().chain(&b.judgement.decisions) {
        if !asks.iter().any(|x| x.1 == d.ask) {
            asks.push((d.at, &d.ask, &d.question));
        }
    }
    asks.sort_by_key(|x| x.0);
    let cell = |d: Option<&Decision>| {
        html! {
            @match d {
                None => span.seen { "did not come up" },
                Some(d) => {
                    span.time { (d.at) } " " span class={ "tier " (words::tier(d.tier)) } { (words::tier(d.tier)) } " " (d.said)
                    @if d.by_clock { span.seen { " (nobody answered)" } }
                }
            }
        }
    };
    let pairs: Vec<_> = asks.into_iter().map(|(_, ask, q)| (q, find(a, ask), find(b, ask))).collect();
    let apart = |x: &Option<Decision>, y: &Option<Decision>| {
        x.as_ref().map(|d| &d.option) != y.as_ref().map(|d| &d.option)
    };
    let same = pairs.iter().filter(|(_, x, y)| !apart(x, y)).count();
    html! {
        section {
            h2 id="decisions" { "Where they parted" }
            p { (same) " of " (pairs.len()) " questions were answered alike." }
            (beside("question", pairs.iter().filter(|(_, x, y)| apart(x, y)).map(|(q, x, y)| (*q, cell(x.as_ref()), cell(y.as_ref())))))
        }
    }
}

fn marks(a: &Side, b: &Side) -> Markup {
    let cell = |m: &crate::assess::MarkResult| {
        html! {
            @if m.met { span.tier.preferred { "held" } } @else { span.tier.unsafe { "failed" } }
            @if let Some(x) = m.margin { " " (words::by(x, &m.unit)) }
        }
    };
    let pairs: Vec<_> = a
        .judgement
        .marks
        .iter()
        .filter_map(|m| Some((m, b.judgement.marks.iter().find(|n| n.id == m.id)?)))
        .filter(|(m, n)| m.met != n.met)
        .collect();
    html! {
        section {
            h2 id="marks" { "Rules that one kept and the other did not" }
            @if pairs.is_empty() { p { "None." } } @else {
                (beside("rule", pairs.into_iter().map(|(m, n)| (m.text.as_str(), cell(m), cell(n)))))
            }
        }
    }
}

fn risks(a: &Side, b: &Side) -> Markup {
    let (x, y) = (sums(&a.judgement.risks), sums(&b.judgement.risks));
    let mut ids: Vec<&str> = x.iter().chain(&y).map(|s| s.id.as_str()).collect();
    let mut seen = std::collections::BTreeSet::new();
    ids.retain(|id| seen.insert(*id));
    let of = |list: &[crate::assess::RiskSum], id: &str| {
        let said = list.iter().find(|s| s.id == id).map_or("not faced".into(), |s| words::percent(s.accrued));
        html! { (said) }
    };
    html! {
        section {
            h2 id="risks" { "Risks, as computed" }
            @if ids.is_empty() { p { "Neither faced one." } } @else {
                (beside("risk", ids.into_iter().map(|id| (words::plain(id), of(&x, id), of(&y, id)))))
            }
        }
    }
}

fn outcomes(a: &Side, b: &Side) -> Markup {
    let (x, y) = (Outlook::of(a.record, Tick(0)), Outlook::of(b.record, Tick(0)));
    let ending = |o: &Outlook| match &o.ending {
        Some((title, tone, at)) => {
            let word = match tone {
                Tone::Good => "good",
                Tone::Mixed => "mixed",
                Tone::Bad => "bad",
            };
            html! { span class={ "tone " (word) } { (word) } " " (title) " " span.time { (at) } }
        }
        None => html! { "none reached" },
    };
    let text = |said: String| html! { (said) };
    let lowest = |o: &Outlook| o.lowest_sbp.map_or("-".into(), |(v, at)| format!("{v:.0} mmHg at {at}"));
    let row = |what: &'static str, of: &dyn Fn(&Outlook) -> String| (what, text(of(&x)), text(of(&y)));
    let rows = [
        ("Ending", ending(&x), ending(&y)),
        row("Blood lost since the call", &|o| figure(o.lost_ml, "mL")),
        row("Lowest systolic, pacing left out", &lowest),
        row("Leak when the theatre was left", &|o| figure(o.leak_ml_min, "mL/min")),
        row("Spinal cord lost", &|o| format!("{:.0} %", o.cord_percent)),
    ];
    html! {
        section {
            h2 id="outcome" { "Outcome" }
            p.seen { "Each is one throw of the dice after its decisions; it scores nothing." }
            (beside("what", rows))
        }
    }
}

/// A table with one column for each session.
fn beside(what: &str, rows: impl IntoIterator<Item = (impl maud::Render, Markup, Markup)>) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { (what) } th scope="col" { "A" } th scope="col" { "B" } } }
            tbody { @for (name, a, b) in rows { tr { th scope="row" { (name) } td { (a) } td { (b) } } } }
        }
    }
}
