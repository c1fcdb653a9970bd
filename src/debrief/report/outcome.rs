//! The outcome, revealed last: how it ended, what came of what, and every chance that was weighed.

use super::described::{log, numbered, vitals};
use super::whatif::tone_word;
use super::{Dossier, phase};
use crate::assess::sums;
use crate::debrief::cause::{self, Chain};
use crate::debrief::plan::Minutes;
use crate::debrief::words;
use maud::{Markup, html};

pub(super) fn section(dossier: &Dossier, minutes: Minutes) -> Markup {
    let record = dossier.record;
    let dangers = dossier.judgement.dangers();
    let chains = cause::chains(record);
    let end = record.theatre_end();
    html! {
        section {
            (phase(5, "Outcome", "outcome", minutes.summary))
            @match record.ended() {
                Some(e) => { p.ending { span class={ "tone " (tone_word(e.tone)) } { (tone_word(e.tone)) } " " strong { (e.title) } " " (e.text) } }
                None => p { "The session stopped before the case had ended." },
            }
            p.seen { "The outcome scores nothing: it is one throw of the dice after the decisions above." }
            @if !dangers.is_empty() {
                h3 { "What endangered the patient" }
                ul { @for d in &dangers { li { (d) } } }
            }
            h3 { "What came of it, and from what" }
            @if chains.is_empty() { p { "No leak above the threshold, no covered branch, no injury, no great loss of blood." } }
            @for c in &chains { (chain(c)) }
            @if record.now > end.after(36_000) {
                h3 { "On the ward" }
                (vitals(record, &numbered(record), end, record.now).figure())
                details.screen { summary { "Everything that was said and done on the ward" } (log(record, end.after(1), record.now)) }
            }
            (risks(dossier))
        }
    }
}

fn chain(c: &Chain) -> Markup {
    html! {
        div.chain {
            p { span.time { (c.at) } " " strong { (c.outcome) } }
            @if !c.links.is_empty() { ol { @for link in &c.links { li { (link) } } } }
        }
    }
}

fn risks(dossier: &Dossier) -> Markup {
    let risks = &dossier.judgement.risks;
    let sums = sums(risks);
    html! {
        @if !sums.is_empty() {
            h3 { "Every chance that was weighed" }
            table {
                thead { tr { th scope="col" { "risk" } th scope="col" { "faced" } th scope="col" { "computed, in all" } th scope="col" { "this time" } } }
                tbody { @for s in &sums { tr {
                    td { (words::plain(&s.id)) } td { (s.times) @if s.times == 1 { " time" } @else { " times" } } td { (words::percent(s.accrued)) }
                    td { @if s.struck { strong { "it happened" } } @else { "it did not" } }
                } } }
            }
            details.screen { summary { "Each time, and what it was made of" }
                table {
                    thead { tr { th scope="col" { "time" } th scope="col" { "risk" } th scope="col" { "computed" } th scope="col" { "this time" } th scope="col" { "made of" } } }
                    tbody { @for r in risks { tr {
                        td { (r.at) } td { (words::plain(&r.id)) } td { (words::percent(r.probability)) }
                        td { @if r.struck { "it happened" } @else { "no" } }
                        td { (cause::made_of(&r.because).join("; ")) }
                    } } }
                }
            }
        }
    }
}
