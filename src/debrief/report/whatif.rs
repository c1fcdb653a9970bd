//! What-ifs beside what was: at most two, labelled as the model's projection.

use super::Dossier;
use super::analysed::MOST;
use crate::assess::Decision;
use crate::debrief::fork::{Outlook, WhatIf};
use crate::debrief::{plan, words};
use crate::scenario::case::Tone;
use crate::session::event::Tick;
use crate::session::tell::figure;
use maud::{Markup, PreEscaped, html};
use std::fmt::Write;

/// The what-ifs of a decision: as computed where they were, else as questions.
pub(super) fn at(dossier: &Dossier, d: &Decision) -> Markup {
    let asked = plan::what_ifs(d);
    let found: Vec<(&str, &WhatIf)> = asked
        .iter()
        .filter_map(|o| {
            let what_if = dossier.what_ifs.iter().find(|w| w.event == d.event && w.option == o.option)?;
            Some((o.say.as_str(), what_if))
        })
        .take(MOST)
        .collect();
    if found.is_empty() {
        return html! {
            @if !asked.is_empty() {
                details { summary { "What if" }
                    ul { @for o in asked { li { "What would you have expected of \u{201c}" (o.say) "\u{201d}?" } } } }
            }
        };
    }
    let was = Outlook::of(dossier.record, d.at);
    html! {
        details {
            summary { "What if" }
            p.seen { "The model's projection, one throw of the same dice, with the trainee's own later orders. It says what this model does, not what a patient would have done." }
            table {
                thead { tr {
                    th scope="col" { "choice" } th scope="col" { "ending" } th scope="col" { "blood lost from here" }
                    th scope="col" { "lowest systolic" } th scope="col" { "spinal cord lost" } th scope="col" { "leak at the end of the theatre" } th scope="col" { "greatest risks from here" }
                } }
                tbody {
                    (row(&d.said, "as it was", &was))
                    @for (say, what_if) in &found { (row(say, "what if", &what_if.outlook)) }
                }
            }
            (curves(&was, &found))
        }
    }
}

fn row(say: &str, which: &str, o: &Outlook) -> Markup {
    html! {
        tr {
            th scope="row" { span.seen { (which) } br; (say) @if o.refused > 0 { br; span.seen { (o.refused) " orders were refused" } } }
            td { @match &o.ending {
                Some((title, tone, at)) => { span class={ "tone " (tone_word(*tone)) } { (tone_word(*tone)) } " " (title) " " span.time { (at) } }
                None => "no ending by then",
            } }
            td { (figure(o.lost_ml, "mL")) }
            td { @if let Some((v, at)) = o.lowest_sbp { (format!("{v:.0} mmHg ")) span.time { (at) } } @else { "-" } }
            td { (format!("{:.0} %", o.cord_percent)) }
            td { (figure(o.leak_ml_min, "mL/min")) }
            td { @for r in o.risks.iter().filter(|r| r.accrued >= 0.001).take(3) { (words::plain(&r.id)) " " (words::percent(r.accrued)) br; } }
        }
    }
}

pub(super) fn tone_word(tone: Tone) -> &'static str {
    match tone {
        Tone::Good => "good",
        Tone::Mixed => "mixed",
        Tone::Bad => "bad",
    }
}

/// Systolic pressure of each course from the decision on.
fn curves(was: &Outlook, found: &[(&str, &WhatIf)]) -> Markup {
    const W: f64 = 960.0;
    const H: f64 = 120.0;
    let all = || std::iter::once(&was.sbp).chain(found.iter().map(|(_, w)| &w.outlook.sbp));
    let from = all().filter_map(|s| s.first()).map(|p| p.0).min().unwrap_or_default();
    let to = all().filter_map(|s| s.last()).map(|p| p.0).max().unwrap_or_default();
    let span = (to.seconds() - from.seconds()).max(1.0);
    let path = |points: &[(Tick, f64)]| {
        let mut d = String::new();
        for (i, (t, v)) in points.iter().enumerate() {
            let x = (t.seconds() - from.seconds()) / span * W;
            let _ = write!(
                d,
                "{}{x:.1} {:.1}",
                if i == 0 { "M" } else { "L" },
                H - v.clamp(0.0, 200.0) / 200.0 * H
            );
        }
        d
    };
    let pens = ["p2", "p3", "p4"];
    html! {
        figure {
            svg viewBox=(format!("0 0 {W} {H}")) role="img" aria-label="Systolic pressure from the decision on, 0 to 200 mmHg, for each course" {
                (PreEscaped(format!("<path d=\"{}\" class=\"line p1\"/>", path(&was.sbp))))
                @for ((_, w), pen) in found.iter().zip(pens) { (PreEscaped(format!("<path d=\"{}\" class=\"line {pen}\"/>", path(&w.outlook.sbp)))) }
            }
            figcaption {
                "Systolic pressure, 0 to 200 mmHg, from " (from) " to " (to) ": "
                span.key { svg.key viewBox="0 0 30 8" aria-hidden="true" { line.p1 x1="0" x2="30" y1="4" y2="4" {} } "as it was" }
                @for ((say, _), pen) in found.iter().zip(pens) { span.key { svg.key viewBox="0 0 30 8" aria-hidden="true" { line x1="0" x2="30" y1="4" y2="4" class=(pen) {} } (say) } }
            }
        }
    }
}
