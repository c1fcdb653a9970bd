//! Analysis: for each objective one or two moments with what to ask, then every decision with its verdict.

use super::described::{looked, monitor};
use super::whatif;
use super::{Dossier, phase};
use crate::assess::{Decision, MarkResult};
use crate::debrief::cite::Cite;
use crate::debrief::plan::{self, Minutes, Subject, Topic};
use crate::debrief::words;
use crate::scenario::case::Tier;
use maud::{Markup, html};

pub(super) fn section(dossier: &Dossier, topics: &[Topic], cite: &Cite, minutes: Minutes) -> Markup {
    let judgement = dossier.judgement;
    let decisions = &judgement.decisions;
    let sound = decisions.iter().filter(|d| d.tier >= Tier::Defensible).count();
    html! {
        section {
            (phase(3, "Analysis", "analysed", minutes.analysis))
            p { "Each decision was judged when it was made, on what could be known then; how the dice fell later changes nothing here. Ask first, show the verdict after. At most two what-ifs for a moment: more of them only make the outcome look foreseeable." }
            @for topic in topics { (one_topic(dossier, topic, cite)) }
            h3 { "Every decision" }
            @if let Some(score) = judgement.decision_score() {
                p { strong { (sound) " of " (decisions.len()) } " were preferred or defensible, which count the same; with half credit for what works at an avoidable cost that is " (format!("{:.0} %", 100.0 * score)) "." }
            }
            @if let Some(b) = judgement.brier {
                p { "Confidence: " (b.answers) @if b.answers == 1 { " answer" } @else { " answers" } ", Brier score " (format!("{:.2}", b.score)) " (0 is perfect, 0.25 is what \"50 %\" every time gives); "
                    @if b.overconfidence.abs() < 0.005 { "neither over- nor underconfident." }
                    @else { (format!("{:.0}", 100.0 * b.overconfidence.abs())) " points " @if b.overconfidence > 0.0 { "overconfident." } @else { "underconfident." } } }
            }
            @if decisions.is_empty() { p { "Nothing was asked and decided in this session." } }
            ol.decisions { @for d in decisions { (decision(dossier, d, cite)) } }
        }
    }
}

fn one_topic(dossier: &Dossier, topic: &Topic, cite: &Cite) -> Markup {
    html! {
        h3 { (topic.objective) }
        @for moment in &topic.moments {
            div.moment {
                @for prompt in &moment.prompts { p.ask { (prompt) } }
                @match moment.subject {
                    Subject::Decision(number, d) => {
                        p.seen { "Decision " (number) ". On the monitor: " (monitor(dossier.record.row_at(d.at), &d.read)) "." }
                        @if !d.why.is_empty() { blockquote { (d.why) } }
                        (looked(&d.looked))
                        details { summary { "The verdict" } (verdict(d, cite)) }
                        (whatif::at(dossier, d))
                    }
                    Subject::Mark(m) => (mark(m, cite)),
                }
            }
        }
        @if !topic.questions.is_empty() {
            p.seen { "Questions of the case:" }
            ul { @for q in &topic.questions { li { (q) } } }
        }
    }
}

fn mark(m: &MarkResult, cite: &Cite) -> Markup {
    html! { details { summary { "Why it matters" } p { (m.why) (cite.marks(&m.sources)) } } }
}

fn verdict(d: &Decision, cite: &Cite) -> Markup {
    let tier = words::tier(d.tier);
    html! { p { span class={ "tier " (tier) } { (tier) } " " (d.because) (cite.marks(&d.sources)) } }
}

fn decision(dossier: &Dossier, d: &Decision, cite: &Cite) -> Markup {
    let tier = words::tier(d.tier);
    html! {
        li {
            p.q { span.time { (d.at) } " " (d.question) }
            p { span class={ "tier " (tier) } { (tier) } " " strong { (d.said) } " "
                span.seen {
                    @if d.by_clock { "Nobody answered; the moment passed after " (words::span(d.took_s)) "." }
                    @else if d.took_s < 0.5 { "Answered at once." }
                    @else { "Answered after " (words::span(d.took_s)) "." }
                    @if let Some(s) = d.sure_percent { " " (s) " % sure." }
                } }
            @if !d.why.is_empty() { blockquote { (d.why) } }
            p { (d.because) (cite.marks(&d.sources)) }
            details {
                summary { "What was on the monitor, and what else was on offer" }
                p.seen { (monitor(dossier.record.row_at(d.at), &d.read)) "." }
                ul { @for o in &d.others { li { span class={ "tier " (words::tier(o.tier)) } { (words::tier(o.tier)) } " " (o.say) " " span.seen { (o.because) } } } }
            }
        }
    }
}

/// How many what-ifs a moment shows.
pub(super) const MOST: usize = plan::MOST_WHAT_IFS;
