//! `print`: a case in plain language as one HTML page, for a colleague to read and to sign.

use super::chart::CaseWords;
use super::{fail, say};
use crate::anatomy::sheet::SizingSheet;
use crate::debrief::cite::Cite;
use crate::debrief::frame::{Frame, SCRIPTLESS};
use crate::records::library;
use crate::scenario::Loaded;
use crate::scenario::case::{Action, Ask, Ledger, Mark, Tier, Tone};
use crate::scenario::chart::export::svg;
use crate::session::tell::Words;
use maud::{Markup, PreEscaped, html};
use std::path::PathBuf;

/// What `print` takes.
#[derive(clap::Args)]
pub struct PrintArgs {
    /// A case file, or the name of a built-in case
    case: String,
    /// Write it here instead of to standard output
    #[arg(long)]
    out: Option<PathBuf>,
}

/// Writes it: 0, or 2 when there is no such case or it cannot be written.
pub fn print(args: &PrintArgs) -> u8 {
    let case = match library::case(&args.case) {
        Ok(case) => case,
        Err(why) => return fail(why),
    };
    let page = page(&case);
    match &args.out {
        None => say(page.trim_end()),
        Some(path) => match std::fs::write(path, page) {
            Ok(()) => say(format!("{} is for a colleague to read; it prints on paper too", path.display())),
            Err(e) => return fail(format!("{}: {e}", path.display())),
        },
    }
    0
}

const STYLE: &str = include_str!("print.css");

/// The page.
pub fn page(case: &Loaded) -> String {
    let c = &case.case;
    let cite = Cite::new(case);
    let main = html! {
        (beginning(case))
        (vessels(case))
        section {
            h2 { "The phases" }
            figure { (PreEscaped(svg(&case.chart, &CaseWords { case }, &[]))) }
        }
        section {
            h2 { "What is asked" }
            @for (i, ask) in c.asks.iter().enumerate() { (question(case, i + 1, ask, &cite)) }
        }
        (by_itself(case))
        section {
            h2 { "How it can end" }
            p.sub { "The first that holds ends the case." }
            table {
                thead { tr { th scope="col" { "ending" } th scope="col" { "for the patient" } th scope="col" { "when" } } }
                tbody { @for e in &c.endings { tr { td { strong { (e.title) } " " (e.text) } td { (tone(e.tone)) } td { code { (e.when) } } } } }
            }
        }
        section {
            h2 { "What is judged" }
            table {
                thead { tr { th scope="col" { "mark" } th scope="col" { "serves" } th scope="col" { "rule" } th scope="col" { "why" } } }
                tbody { @for m in &c.marks { (mark(m, &cite)) } }
            }
            @if !c.policy.is_empty() {
                table {
                    caption { "Numbers that a department may set otherwise" }
                    tbody { @for (name, value) in &c.policy { tr { th scope="row" { (name) } td { (value) } } } }
                }
            }
        }
        section {
            h2 { "The debrief" }
            p { (c.debrief.framework) ", " (c.debrief.minutes) " minutes." }
            ul { @for p in &c.debrief.prompts { li { (p.question) " " span.sub { (p.objective) } } } }
        }
        section {
            h2 { "Its own tests" }
            ul { @for p in &c.plays { li { strong { (p.name) } ": " (p.about) @if let Some(e) = &p.ending { " Ends in " code { (e) } "." } } } }
        }
        section { h2 id="sources" { "Sources" } (cite.list()) }
        (sign_off(case))
    };
    let head = html! {
        h1 { (c.title) }
        p.sub { "Case " (c.id) " " (c.version) ", digest " (&case.digest[..12.min(case.digest.len())]) ", for review. It tells the answers: not for trainees." }
    };
    let title = format!("Case: {}", c.title);
    Frame { title: &title, policy: SCRIPTLESS, style: STYLE, warning: "", script: None }.page(head, main)
}

fn beginning(case: &Loaded) -> Markup {
    let c = &case.case;
    let list = |lines: &[String]| html! { ul { @for line in lines { li { (line) } } } };
    html! {
        section {
            h2 { "What it is for" }
            p { "For " (c.about.audience) ". Level " (c.about.level) " of 3, " (c.about.duration) "." }
            p { (c.about.need) }
            ol { @for o in &c.objectives { li { (o.text) " " span.sub { (o.id) } } } }
            p { "It cannot teach:" } (list(&c.about.not_taught))
            p { "It simplifies:" } (list(&c.about.simplified))
            @if !c.about.distress.is_empty() { p { "May distress: " (c.about.distress) } }
            h3 { "Read out before the start" }
            p { (c.about.prebrief) }
        }
        section {
            h2 { "The patient" }
            p { (c.story.call) }
            (list(&c.story.history))
            p { "The CT of the chest says:" } (list(&c.story.ct_chest))
            p { "Read from the neck to the groins, it says further:" } (list(&c.story.ct_whole))
            table {
                caption { "The team" }
                tbody { @for m in &c.team { tr {
                    th scope="row" { (m.role) }
                    td { @match &m.arrives { Some(t) => { "comes " (t) " after the call" } None => "is there" } }
                    td { (m.says) }
                } } }
            }
        }
    }
}

fn vessels(case: &Loaded) -> Markup {
    let rest_mmhg = case.case.patient.map_rest_mmhg;
    html! {
        section {
            h2 { "The vessels" }
            @match SizingSheet::measure(&case.tree, 0, rest_mmhg) {
                Some(sheet) => { pre tabindex="0" { (sheet.to_string()) } }
                None => { p { "The aorta has no lesion." } }
            }
        }
    }
}

fn question(case: &Loaded, number: usize, ask: &Ask, cite: &Cite) -> Markup {
    let words = Words(case);
    html! {
        article {
            h3 { (number) ". " (ask.question) }
            p.sub {
                "Asked by the " (ask.who) "; serves " (ask.objective) "."
                @if ask.why { " The trainee is asked why." }
                @if ask.confidence { " The trainee is asked how sure." }
                @if let Some(when) = &ask.when { " Opens when " code { (when) } "." }
                @if let Some(closes) = &ask.closes { " Closes after " (closes) @if let Some(o) = &ask.otherwise { ", and then counts as " code { (o) } } "." }
            }
            table {
                thead { tr { th scope="col" { "option" } th scope="col" { "judged" } th scope="col" { "because" } th scope="col" { "what follows" } } }
                tbody { @for o in &ask.options { tr {
                    td { (o.say) " " span.sub { (o.id) } }
                    td { (tier(o.tier)) @if let Some(u) = &o.unless { "; " (tier(u.tier)) " when " code { (u.when) } } }
                    td { (o.because) (cite.marks(&o.source)) }
                    td { ul { @for order in &o.orders { li { (words.order_words(order)) } } } }
                } } }
            }
            p.comment { "Comment:" }
        }
    }
}

/// What happens without the trainee.
fn by_itself(case: &Loaded) -> Markup {
    let words = Words(case);
    let what = |a: &Action| match a {
        Action::Say { who, text } => format!("the {who} says: \u{201c}{text}\u{201d}"),
        Action::Ask(ask) => format!("the question {ask} is put"),
        Action::Withdraw(ask) => format!("the question {ask} is withdrawn"),
        Action::Send { event, after: None } => format!("the phases hear of {event}"),
        Action::Send { event, after: Some(t) } => format!("the phases hear of {event} after {t}"),
        Action::Cancel(event) => format!("{event} is called back"),
        Action::Bleed(b) => {
            format!("a hole of {} mm\u{b2} opens in the {}: {}", b.area_mm2, b.from.label(), b.id)
        }
        Action::ScaleBleed { id, factor } => format!("the hole {id} becomes {factor} times as wide"),
        Action::Patency { vessel, open } => {
            format!("the {} is {:.0} % open", vessel.label(), 100.0 * open)
        }
        Action::Set { name, to } => format!("{name} becomes {to}"),
        Action::Order(order) => format!("the team acts: {}", words.order_words(order)),
    };
    let happenings = &case.case.happenings;
    html! {
        @if !happenings.is_empty() { section {
            h2 { "What happens of itself" }
            ul { @for h in happenings { li {
                "When " code { (h.when) } @if h.chance < 1.0 { ", with a chance of " (format!("{:.0} %", 100.0 * h.chance)) } ": "
                (h.then.iter().map(what).collect::<Vec<_>>().join("; "))
            } } }
        } }
    }
}

fn mark(m: &Mark, cite: &Cite) -> Markup {
    html! { tr {
        td { (m.text) " " span.sub {
            @match m.ledger {
                Ledger::Step => "a step that should be done",
                Ledger::Error { danger, .. } => { "an error if not kept, danger " (danger) " of 3" }
            }
            @if (m.weight - 1.0).abs() > 1e-9 { ", weight " (m.weight) }
        } }
        td { (m.objective) } td { code { (m.rule) } } td { (m.why) (cite.marks(&m.source)) }
    } }
}

fn sign_off(case: &Loaded) -> Markup {
    let reviews = &case.case.about.reviews;
    html! {
        section {
            h2 { "Signed off" }
            @if reviews.is_empty() { p { strong { "A specialist must sign this off; nobody has yet." } } }
            ul { @for r in reviews { li { (r.role) ", " (r.date) ": " (r.verdict) } } }
            p.sub { "Role, not name; date; what was concluded. Then write it under about.reviews." }
            p.comment { "Role:" } p.comment { "Date:" } p.comment { "Verdict:" }
        }
    }
}

fn tier(tier: Tier) -> &'static str {
    crate::balance::table::tier_word(tier)
}

fn tone(tone: Tone) -> &'static str {
    crate::balance::table::tone_word(tone)
}
