//! The report: one HTML file without network, in the order in which a debrief is led: reactions, what happened, analysis by
//! objective and decision, and the outcome last. Without scripts it is whole; a small script of its own steps through it.

mod analysed;
mod described;
mod ledgers;
mod outcome;
mod strips;
mod whatif;

use super::cite::Cite;
use super::film::Film;
use super::fork::WhatIf;
use super::frame::Frame;
use super::plan::{self, Minutes};
use crate::assess::Judgement;
use crate::session::Session;
use crate::session::record::{Origin, Record};
use maud::{Markup, html};

const STYLE: &str = include_str!("report.css");
const SCRIPT: &str = include_str!("step.js");

/// Nothing is fetched, and no script runs but the page's own, known by its SHA-256 (a test compares it with the file).
pub const POLICY: &str = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; \
script-src 'sha256-uwHZ0QwT+OH+TaRrskExeGrRX3DjkpM5/SUnkouL4EU='; base-uri 'none'; form-action 'none'";

/// What a report is made from.
#[derive(Clone, Copy)]
pub struct Dossier<'a> {
    /// The session.
    pub record: &'a Record,
    /// Its judgement.
    pub judgement: &'a Judgement,
    /// Rails and pictures, where the session could be played again.
    pub film: Option<&'a Film>,
    /// Decisions taken otherwise, where they were asked for.
    pub what_ifs: &'a [WhatIf],
}

/// The whole page of a session as it stands, without pictures and what-ifs.
pub fn html(session: &Session) -> String {
    of_record(&Record::of(session), None)
}

/// The whole page of a record, with its film where there is one and without what-ifs.
pub fn of_record(record: &Record, film: Option<&Film>) -> String {
    page(&Dossier { record, judgement: &Judgement::of_record(record), film, what_ifs: &[] })
}

/// The whole page.
pub fn page(dossier: &Dossier) -> String {
    let record = dossier.record;
    let case = &record.case.case;
    let minutes = Minutes::of(case.debrief.minutes);
    let cite = Cite::new(&record.case);
    let topics = plan::topics(record, dossier.judgement);
    let main = html! {
        (reactions(minutes))
        (described::section(dossier, minutes))
        (analysed::section(dossier, &topics, &cite, minutes))
        (ledgers::section(dossier, &cite))
        (outcome::section(dossier, minutes))
        (summary(&topics))
        section { h2 id="sources" { "Sources" } (cite.list()) }
    };
    shell(
        &format!("Debrief: {}", case.title),
        html! {
            h1 { (case.title) }
            p.sub {
                "Debrief of a session with the case " (case.id) " " (case.version) ", seed " (record.seed) ", engine " (record.engine)
                ". " (record.now) " of patient time."
            }
            (origin(record))
            @if case.about.reviews.is_empty() { p.sub { "No specialist has signed this case off yet." } }
            (guide(minutes))
        },
        main,
    )
}

/// The frame of report and comparison, with the script at the end.
pub(super) fn shell(title: &str, head: Markup, main: Markup) -> String {
    let warning = " Scores are not evidence of clinical competence.";
    Frame { title, policy: POLICY, style: STYLE, warning, script: Some(SCRIPT) }.page(head, main)
}

/// Where the numbers come from.
fn origin(record: &Record) -> Markup {
    match &record.origin {
        Origin::Live => html! {},
        Origin::Replayed => {
            html! { p.sub { "Played again from its log: every recorded line came out the same." } }
        }
        Origin::Recalled(why) => html! {
            p.warn { strong { "Not computed again. " } (why) " What follows are the samples and events as they were recorded, a sample every five seconds in the theatre; margins are as fine as that, and there are no pictures." }
        },
    }
}

fn guide(minutes: Minutes) -> Markup {
    let Minutes { reactions, description, analysis, summary } = minutes;
    let rows = [
        ("Reactions", reactions, "feelings first, nothing is judged", "#reactions"),
        ("Description", description, "the facts in order, agreed by all", "#described"),
        (
            "Analysis",
            analysis,
            "one or two moments for each objective, at most two what-ifs for each moment",
            "#analysed",
        ),
        ("Summary", summary, "the outcome, revealed last; then what each takes away", "#outcome"),
    ];
    html! {
        table.small {
            caption { "A plan for " (reactions + description + analysis + summary) " minutes" }
            tbody { @for (phase, n, what, to) in rows { tr { th scope="row" { a href=(to) { (phase) } } td { (n) " min" } td { (what) } } } }
        }
        p.sub { "A page gives feedback and guides reflection; a conversation with a facilitator is what makes it a debriefing. What is said there stays there. The aim is to understand, not to find fault: what a person did made sense to them at the time." }
    }
}

fn phase(n: u8, name: &str, id: &str, minutes: u32) -> Markup {
    html! { h2 id=(id) { (n) " \u{b7} " (name) " " span.minutes { (minutes) " min" } } }
}

fn reactions(minutes: Minutes) -> Markup {
    html! {
        section {
            (phase(1, "Reactions", "reactions", minutes.reactions))
            p { "How are you? What is still going round in your head? Nothing is scored here, and nobody answers for another." }
        }
    }
}

fn summary(topics: &[plan::Topic]) -> Markup {
    html! {
        section {
            h2 id="summary" { "6 \u{b7} Summary" }
            table {
                caption { "The objectives" }
                thead { tr { th scope="col" { "objective" } th scope="col" { "held" } } }
                tbody { @for t in topics { tr {
                    td { (t.objective) }
                    td { @match t.held {
                        Some((held, all)) => { span class={ "tier " (if held == all { "preferred" } else { "suboptimal" }) } { @if held == all { "met" } @else { "in part" } } " " (held) " of " (all) }
                        None => "nothing in this session tested it",
                    } }
                } } }
            }
            p { "The trainee speaks first:" }
            ol.lines { li { "One thing that I will do again:" } li { "One thing that I will do otherwise:" } li { "One thing to settle with my own team before the next real night:" } }
        }
    }
}
