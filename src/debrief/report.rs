//! The report: one HTML file without scripts or network, in the order in which a debrief is led: facts first, then the
//! analysis by decision, the outcome last.

use super::cause::{self, Chain};
use super::plot::{self, Moment, Series};
use crate::assess::{Decision, Judgement, MarkResult};
use crate::cli::TRAINING_ONLY;
use crate::scenario::case::{Ledger, Tier, Tone};
use crate::session::Session;
use crate::session::event::{EventKind, Tick};
use crate::session::tell::figure;
use maud::{DOCTYPE, Markup, PreEscaped, html};

const STYLE: &str = include_str!("report.css");

/// The whole page.
pub fn html(session: &Session) -> String {
    let judgement = Judgement::of(session);
    let case = &session.case().case;
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Debrief: " (case.title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    p.warn { (TRAINING_ONLY) " Scores are not evidence of clinical competence." }
                    h1 { (case.title) }
                    p.sub {
                        "Case " (case.id) " " (case.version) " · seed " (session.seed()) " · engine "
                        (env!("CARGO_PKG_VERSION")) " · " (session.now()) " of patient time"
                    }
                    @if case.about.reviews.is_empty() { p.sub { "No specialist has signed this case off yet." } }
                }
                main {
                    (reactions())
                    (facts(session, &judgement))
                    (analysis(session, &judgement))
                    (marks(&judgement.marks))
                    (outcome(session, &judgement))
                    (summary(session))
                }
                footer { p { (TRAINING_ONLY) } }
            }
        }
    };
    page.into_string()
}

fn reactions() -> Markup {
    html! {
        section {
            h2 { "1 · Reactions" }
            p { "Before anything is judged: how was that? Two minutes, nothing is scored, nobody answers for another." }
        }
    }
}

fn facts(session: &Session, judgement: &Judgement) -> Markup {
    let theatre = theatre_end(session);
    let moments: Vec<Moment> = judgement
        .decisions
        .iter()
        .enumerate()
        .map(|(i, d)| Moment { at: d.at, label: (i + 1).to_string() })
        .collect();
    let series = [
        Series { signal: "sbp", label: "systolic mmHg", stroke: ("#a33", "") },
        Series { signal: "map", label: "mean mmHg", stroke: ("#a33", "5 3") },
        Series { signal: "hr", label: "heart rate /min", stroke: ("#275", "2 2") },
    ];
    let rows = session.trace();
    html! {
        section {
            h2 { "2 · What happened" }
            p { "Pressure and rate in the theatre; the numbers along the top are the decisions below." }
            figure {
                (PreEscaped(plot::over_time(rows, Tick(0), theatre, &series, &moments, 200.0)))
                figcaption { (legend(&series)) " " (plot::twin(&rows.iter().filter(|r| r.at <= theatre).collect::<Vec<_>>(), &series)) "." }
            }
            @if session.now() > theatre.after(36_000) {
                p { "On the ward:" }
                figure {
                    (PreEscaped(plot::over_time(rows, theatre, session.now(), &series, &moments, 200.0)))
                    figcaption { (plot::twin(&rows.iter().filter(|r| r.at > theatre).collect::<Vec<_>>(), &series)) "." }
                }
            }
            (tally(session))
            details {
                summary { "Everything that was said and done" }
                table.log {
                    thead { tr { th scope="col" { "time" } th scope="col" { "what" } } }
                    tbody {
                        @for event in session.events() {
                            @if let Some(line) = session.tell(event).filter(|_| !matches!(event.kind, EventKind::Ended { .. })) {
                                tr { td { (event.at) } td { (line) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn legend(series: &[Series]) -> Markup {
    html! { @for s in series { span.key { svg.key viewBox="0 0 30 8" aria-hidden="true" { line x1="0" x2="30" y1="4" y2="4" stroke=(s.stroke.0) stroke-width="2" stroke-dasharray=(s.stroke.1) {} } (s.label) } } }
}

fn theatre_end(session: &Session) -> Tick {
    session
        .events()
        .iter()
        .find_map(|e| match &e.kind {
            EventKind::Done { verb, .. } if verb == "hand_over" => Some(e.at),
            _ => None,
        })
        .unwrap_or(session.now())
}

fn tally(session: &Session) -> Markup {
    use crate::scenario::rule::Signals;
    let last = session.trace().last();
    let value = |name: &str| last.and_then(|r| r.value(name)).map_or("-".into(), |v| figure(v, ""));
    let rows = [
        ("Blood lost", "lost", "mL"),
        ("Crystalloid", "fluid", "mL"),
        ("Blood products", "blood_given", "mL"),
        ("Contrast", "contrast", "mL"),
        ("Contrast for each mL/min of filtration", "contrast.per_egfr", ""),
        ("Fluoroscopy", "fluoro", "s"),
        ("Kerma-area product", "kap", "Gy cm2"),
        ("Aorta under fabric", "covered_length", "mm"),
    ];
    html! {
        table.small {
            caption { "Kept count of; none of this is scored" }
            tbody { @for (label, name, unit) in rows { tr { th scope="row" { (label) } td { (value(name)) " " (unit) } } } }
        }
    }
}

fn tier_word(tier: Tier) -> &'static str {
    match tier {
        Tier::Preferred => "preferred",
        Tier::Defensible => "defensible",
        Tier::Suboptimal => "suboptimal",
        Tier::Unsafe => "unsafe",
    }
}

fn analysis(session: &Session, judgement: &Judgement) -> Markup {
    let case = &session.case().case;
    html! {
        section {
            h2 { "3 · Decisions" }
            p { "Each is judged on what could be known at that moment; how the dice fell later changes nothing here. At most two \"what ifs\" for each." }
            @if let Some(score) = judgement.decision_score() {
                p { "Defensible or better, on average: " strong { (format!("{:.0} %", 100.0 * score)) } " of " (judgement.decisions.len()) " decisions." }
            }
            @if let Some(b) = judgement.brier {
                p { "How sure: " (b.answers) " answers, Brier score " (format!("{:.2}", b.score)) " (0 is perfect, 0.25 is a coin), "
                    @if b.overconfidence > 0.0 { "over" } @else { "under" } "confident by " (format!("{:.0}", 100.0 * b.overconfidence.abs())) " points." }
            }
            ol.decisions {
                @for d in &judgement.decisions { (decision(d)) }
            }
            @for objective in &case.objectives {
                h3 { "Objective: " (objective.text) }
                ul { @for p in case.debrief.prompts.iter().filter(|p| p.objective == objective.id) { li { (p.question) } } }
            }
        }
    }
}

fn decision(d: &Decision) -> Markup {
    let tier = tier_word(d.tier);
    html! {
        li {
            p.q { span.time { (d.at) } " " (d.question) }
            p { span class={"tier " (tier)} { (tier) } " " strong { (d.said) }
                @if d.by_clock { " (nobody answered; the moment passed)" }
                " after " (format!("{:.0} s", d.took_s))
                @if let Some(s) = d.sure_percent { ", " (s) " % sure" } "." }
            @if !d.read.is_empty() {
                p.seen { "On the monitor: " (d.read.iter().map(|(n, v)| format!("{n} {v:.0}")).collect::<Vec<_>>().join(", ")) "." }
            }
            @if !d.why.is_empty() { blockquote { (d.why) } }
            p { (d.because) @if !d.sources.is_empty() { " " span.cite { "[" (d.sources.join("; ")) "]" } } }
            @if d.tier < Tier::Defensible {
                p.seen { "What were you weighing?" }
            }
            details { summary { "What else was on offer" }
                ul { @for (say, tier, why) in &d.others { li { span class={"tier " (tier_word(*tier))} { (tier_word(*tier)) } " " (say) ": " (why) } } }
            }
        }
    }
}

fn marks(marks: &[MarkResult]) -> Markup {
    let row = |m: &MarkResult| {
        html! {
            tr {
                td { @if m.met { span.tier.preferred { "yes" } } @else { span.tier.unsafe { "no" } } }
                td { (m.text) div.rule { (m.rule) } }
                td { @if let Some(x) = m.margin { (figure(x, "")) } @if let Some(t) = m.when { " at " (t) } }
                td { (m.why) @if !m.sources.is_empty() { " " span.cite { "[" (m.sources.join("; ")) "]" } } }
            }
        }
    };
    let table = |title: &str, list: Vec<&MarkResult>| {
        html! {
            @if !list.is_empty() {
                table {
                    caption { (title) }
                    thead { tr { th scope="col" { "held" } th scope="col" { "rule" } th scope="col" { "margin" } th scope="col" { "why" } } }
                    tbody { @for m in list { (row(m)) } }
                }
            }
        }
    };
    html! {
        section {
            h2 { "4 · Steps and errors" }
            p { "Rules over the whole session. The margin says by how much a rule held or failed, and where it was closest." }
            (table("Steps", marks.iter().filter(|m| m.ledger == Ledger::Step).collect()))
            (table("Errors avoided", marks.iter().filter(|m| m.ledger != Ledger::Step).collect()))
        }
    }
}

fn outcome(session: &Session, judgement: &Judgement) -> Markup {
    let chains = cause::chains(session);
    let dangers = judgement.dangers();
    html! {
        section {
            h2 { "5 · Outcome" }
            @match session.ended() {
                Some(e) => {
                    p.ending { span class={"tone " (match e.tone { Tone::Good => "good", Tone::Mixed => "mixed", Tone::Bad => "bad" })} { (e.title) } " " (e.text) }
                }
                None => p { "The session stopped before an ending." }
            }
            @if !dangers.is_empty() {
                h3 { "Endangered the patient" }
                ul { @for d in &dangers { li { (d) } } }
            }
            h3 { "What came of it, and from what" }
            @if chains.is_empty() { p { "No leak above the threshold, no covered branch, no injury." } }
            @for c in &chains { (chain(c)) }
            @if !judgement.risks.is_empty() {
                details { summary { "Every chance that was weighed" }
                    table {
                        thead { tr { th scope="col" { "time" } th scope="col" { "risk" } th scope="col" { "computed" } th scope="col" { "this time" } th scope="col" { "made of" } } }
                        tbody { @for r in &judgement.risks { tr {
                            td { (r.at) } td { (r.id.replace('_', " ")) } td { (format!("{:.2} %", 100.0 * r.probability)) }
                            td { @if r.struck { "it happened" } @else { "no" } }
                            td { (r.because.iter().map(|(w, x)| format!("{w}: {x:.3}")).collect::<Vec<_>>().join("; ")) }
                        } } }
                    }
                }
            }
        }
    }
}

fn chain(c: &Chain) -> Markup {
    html! {
        div.chain {
            p { span.time { (c.at) } " " strong { (c.outcome) } }
            ol { @for link in &c.links { li { (link) } } }
        }
    }
}

fn summary(session: &Session) -> Markup {
    let case = &session.case().case;
    html! {
        section {
            h2 { "6 · Summary" }
            p { "Two things to take away, one thing to do in the next real case. The trainee speaks first." }
            h3 { "Sources" }
            ul.sources { @for s in &case.sources { li { (s.citation) } } }
        }
    }
}
