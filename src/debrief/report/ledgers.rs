//! Steps done, errors avoided or made, and measurements: rules over the whole session with their margins.

use super::described::numbered;
use super::{Dossier, strips};
use crate::assess::{MarkResult, Sizing};
use crate::debrief::cite::Cite;
use crate::debrief::words;
use crate::scenario::case::Ledger;
use crate::scenario::order::Plane;
use crate::session::tell::capital;
use maud::{Markup, html};

pub(super) fn section(dossier: &Dossier, cite: &Cite) -> Markup {
    let marks = &dossier.judgement.marks;
    let (steps, errors): (Vec<&MarkResult>, Vec<&MarkResult>) =
        marks.iter().partition(|m| m.ledger == Ledger::Step);
    let done = steps.iter().filter(|m| m.met).count();
    let avoided = errors.iter().filter(|m| m.met).count();
    html! {
        section {
            h2 id="ledgers" { "4 \u{b7} Steps and errors" }
            p { "Rules over the whole session. The margin says by how much a rule held or failed, and when it was closest to failing." }
            (table(&format!("Steps: {done} of {} done", steps.len()), "done", "not done", &steps, cite))
            (table(&format!("Errors: {avoided} of {} avoided", errors.len()), "avoided", "made", &errors, cite))
            (strips::figure(marks, &numbered(dossier.record), dossier.record.theatre_end()))
            (sizing(&dossier.judgement.sizing))
        }
    }
}

fn table(title: &str, yes: &str, no: &str, list: &[&MarkResult], cite: &Cite) -> Markup {
    html! {
        @if !list.is_empty() {
            table {
                caption { (title) }
                thead { tr { th scope="col" { "verdict" } th scope="col" { "rule" } th scope="col" { "margin" } th scope="col" { "why" } } }
                tbody { @for m in list { (row(m, yes, no, cite)) } }
            }
        }
    }
}

fn row(m: &MarkResult, yes: &str, no: &str, cite: &Cite) -> Markup {
    html! {
        tr {
            td {
                @if m.met { span.tier.preferred { (yes) } } @else { span.tier.unsafe { (no) } }
                @if let Ledger::Error { danger, .. } = m.ledger { div.rule { (["", "slight", "serious", "grave"][usize::from(danger.min(3))]) } }
            }
            td { (m.text) details.rule { summary { "as written" } code { (m.rule) } } }
            td { @if let Some(x) = m.margin { (words::margin(m.met, x, &m.unit)) } @if let Some(t) = m.when { " " span.time { (t) } } }
            td { (m.why) (cite.marks(&m.sources)) }
        }
    }
}

fn sizing(list: &[Sizing]) -> Markup {
    let panel = list.iter().any(|s| s.readers.is_some());
    html! {
        @if !list.is_empty() {
            table {
                caption { "Measurements" }
                thead { tr { th scope="col" { "what" } th scope="col" { "measured" } th scope="col" { "the anatomy" } th scope="col" { "z-score" } @if panel { th scope="col" { "other readers" } } th scope="col" { "when" } } }
                tbody { @for s in list { tr {
                    th scope="row" { (capital(&s.what.id().replace('_', " "))) " " span.seen { "(" (taken(s)) ")" } }
                    td { (format!("{:.1} mm", s.said_mm)) }
                    @if let Some(a) = s.against {
                        td { (format!("{:.1} mm", a.true_mm)) }
                        td { (format!("{:+.1}", a.z)) " " span.seen { (near(a.z)) } }
                    } @else {
                        td colspan="2" { span.seen { "a plan: it has no true value" } }
                    }
                    @if panel { td { @if let Some(r) = &s.readers { (format!("{:.1} \u{b1} {:.1} mm", r.mean_mm, r.sd_mm)) " " span.seen { "(" (r.count) ")" } " " (format!("{:+.1}", r.z)) " " span.seen { (near(r.z)) } } } }
                    td { span.time { (s.at) } }
                } } }
            }
            p.seen { "The z-score is the error over what two good readers differ by: 1.5 mm for the aorta's width, 4 mm for a length, 0.7 mm for an access artery (assumed). Within 2 is a reader's normal error."
                @if panel { " Other readers: mean and standard deviation of those whom the case's author asked, how many they were, and the z-score against them." } }
        }
    }
}

/// On what it was measured.
fn taken(s: &Sizing) -> String {
    match (s.plane, s.run) {
        (Plane::Orthogonal, _) => "on the CT, at right angles to the centreline".into(),
        (Plane::Axial, _) => "on the CT's slice as cut".into(),
        (Plane::Projection, _) => "on a slab of the CT, projected".into(),
        (Plane::Run, Some((number, at))) => format!("on run {number}, {at}, by the marked catheter"),
        (Plane::Run, None) => "on a run, by the marked catheter".into(),
    }
}

fn near(z: f64) -> &'static str {
    match z {
        z if z.abs() <= 2.0 => "within a reader's error",
        z if z > 0.0 => "too large",
        _ => "too small",
    }
}
