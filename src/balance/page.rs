//! The page of a sweep: one HTML file without script or network, for an educator to read.

use super::count::{AskCount, COSTS, Cost, More, OptionCount, PlayerCount, Spread, Summary, wilson};
use super::outcome::HARM_PERCENT;
use super::plots;
use super::table::{Of, tier_word, tone_word};
use crate::debrief::frame::{Frame, SCRIPTLESS};
use crate::scenario::case::{Case, Tier};
use maud::{Markup, html};

const STYLE: &str = include_str!("page.css");

/// The whole page.
pub fn page(case: &Case, of: &Of, summary: &Summary) -> String {
    let all: usize = summary.players.iter().map(|p| p.n).sum();
    let title = format!("Balance: {}", case.title);
    let head = html! {
        h1 { (title) }
        p.sub { "Case " (of.case) " " (of.version) ", digest " (of.digest) ", engine " (of.engine) ", " (all) " rehearsals." }
        @if case.about.reviews.is_empty() { p.sub { "A specialist must sign this case off; nobody has yet." } }
    };
    let main = html! {
        (findings(case, summary))
        (outcomes(case, summary))
        (harm(&summary.players))
        (difficulty(&summary.asks))
        (choices(case, &summary.asks))
        (players(&summary.players))
    };
    let warning = " The figures speak of this model and its players, not of patients.";
    Frame { title: &title, policy: SCRIPTLESS, style: STYLE, warning, script: None }.page(head, main)
}

/// What an educator should look at first.
fn findings(case: &Case, s: &Summary) -> Markup {
    let title = |id: &String| {
        let words = case.endings.iter().find(|e| e.id == *id).map_or("", |e| e.title.as_str());
        format!("{id} (\u{201c}{words}\u{201d})")
    };
    let never: Vec<String> = s.never_reached.iter().map(title).collect();
    let of = |which: &dyn Fn(&&AskCount) -> bool| -> Vec<&str> {
        s.asks.iter().filter(which).map(|a| a.id.as_str()).collect()
    };
    let dull = of(&|a| a.matters == Some(false) && !a.knowledge);
    let knowledge = of(&|a| a.knowledge);
    let unasked: Vec<&str> = s
        .asks
        .iter()
        .filter(|a| a.novices.1 + a.guessers.1 + a.by_clock.1 == 0)
        .map(|a| a.id.as_str())
        .collect();
    let idle: Vec<String> = s.asks.iter().filter(|a| a.matters == Some(true)).filter_map(idle).collect();
    let dominated: Vec<String> = s.asks.iter().filter_map(dominated).collect();
    // What is only judged harms nobody, and says so.
    let contradicted: Vec<String> = s.asks.iter().filter(|a| !a.knowledge).flat_map(contradictions).collect();
    html! {
        section {
            h2 { "What to look at" }
            ul {
                @for (kind, wins, n) in &s.naive_wins {
                    li { @if *wins == 0 { "No player of the kind \u{201c}" (kind.name()) "\u{201d} came to a good ending (of " (n) ")." }
                         @else { strong { (wins) " of " (n) } " players of the kind \u{201c}" (kind.name()) "\u{201d} came to a good ending: the case can be won without judgement." } }
                }
                @if never.is_empty() { li { "Every ending was reached." } } @else { li { "Endings that nobody reached: " (never.join(", ")) "." } }
                @if !dull.is_empty() { li { "Questions that made no difference to any patient: " (dull.join(", ")) ". One such slip alone is mended by what follows it; they may still teach, and several together may matter." } }
                @if !knowledge.is_empty() { li { "Questions that are only judged, as the case says: " (knowledge.join(", ")) "." } }
                @if !idle.is_empty() { li { "Options, other than the model's, that no patient noticed: " (idle.join("; ")) "." } }
                @if !dominated.is_empty() { li { "Dominated options: " (dominated.join("; ")) "." } }
                @if !unasked.is_empty() { li { "Questions that never opened, or that nobody answered: " (unasked.join(", ")) "." } }
                @for line in &contradicted { li { (line) } }
            }
        }
    }
}

/// "graft: b28, b32": a question's options that cost and end as the model's answer does, and are judged lower.
pub fn idle(a: &AskCount) -> Option<String> {
    let idle = a.options.iter().filter(|o| o.idle && o.tier < Tier::Preferred);
    let ids: Vec<&str> = idle.map(|o| o.id.as_str()).collect();
    (!ids.is_empty()).then(|| format!("{}: {}", a.id, ids.join(", ")))
}

/// "graft: b40 (by b30)": a question's options with which no patient fared better than with another one, and some worse.
pub fn dominated(a: &AskCount) -> Option<String> {
    let by = |o: &OptionCount| o.dominated_by.as_ref().map(|by| format!("{} (by {by})", o.id));
    let ids: Vec<String> = a.options.iter().filter_map(by).collect();
    (!ids.is_empty()).then(|| format!("{}: {}", a.id, ids.join(", ")))
}

/// Where the model's patients and the case's judgement disagree.
fn contradictions(a: &AskCount) -> Vec<String> {
    let tier = |id: &str| a.options.iter().find(|o| o.id == id).map(|o| o.tier);
    let mut out = Vec::new();
    for o in a.options.iter().filter(|o| o.n > 0) {
        if let Some(better) = &o.dominated_by
            && tier(better).is_some_and(|t| t < o.tier)
        {
            out.push(format!(
                "{}: no patient fared worse with \u{201c}{better}\u{201d} than with \u{201c}{}\u{201d}, and some better; yet it is judged lower.",
                a.id, o.id
            ));
        }
        if o.tier == Tier::Unsafe && o.idle {
            out.push(format!(
                "{}: \u{201c}{}\u{201d} is judged unsafe, and no patient of this sweep was the worse for it.",
                a.id, o.id
            ));
        }
    }
    out
}

/// "12 % (8 to 17)".
fn share(hits: usize, n: usize) -> String {
    if n == 0 {
        return "\u{2013}".into();
    }
    let (low, high) = wilson(hits, n);
    format!("{:.0} % ({:.0} to {:.0})", 100.0 * hits as f64 / n as f64, 100.0 * low, 100.0 * high)
}

fn outcomes(case: &Case, s: &Summary) -> Markup {
    html! {
        section {
            h2 { "Outcomes" }
            (plots::outcomes(case, &s.players))
            table {
                caption { "Share of rehearsals by ending, with the 95 % interval" }
                thead { tr { th scope="col" { "ending" } th scope="col" { "for the patient" } @for p in &s.players { th scope="col" { (p.kind.name()) " (" (p.n) ")" } } } }
                tbody {
                    @for e in &case.endings { tr { th scope="row" { (e.title) " " span.sub { (e.id) } } td { (tone_word(e.tone)) } @for p in &s.players { td.n { (share(of(p, &e.id), p.n)) } } } }
                    tr { th scope="row" { "Not ended" } td { "\u{2013}" } @for p in &s.players { td.n { (share(of(p, ""), p.n)) } } }
                }
            }
        }
    }
}

fn of(p: &PlayerCount, ending: &str) -> usize {
    p.endings.iter().find(|(id, _)| id == ending).map_or(0, |e| e.1)
}

fn harm(players: &[PlayerCount]) -> Markup {
    let quantile = |p: &PlayerCount, q: f64| {
        let i = (q * p.harm_min.len() as f64) as usize;
        p.harm_min.get(i).map_or("\u{2013}".into(), |m| format!("{m:.1} min"))
    };
    html! {
        section {
            h2 { "First irreversible harm" }
            p.sub { "Death, or the first moment at which more than " (HARM_PERCENT) " % of an organ will not recover." }
            (plots::harm(players))
            table {
                caption { "Of those who were harmed" }
                thead { tr { th scope="col" { "player" } th scope="col" { "harmed" } th scope="col" { "a quarter by" } th scope="col" { "half by" } th scope="col" { "three quarters by" } } }
                tbody { @for p in players { tr {
                    th scope="row" { (p.kind.name()) } td.n { (share(p.harm_min.len(), p.n)) }
                    @for q in [0.25, 0.5, 0.75] { td.n { (quantile(p, q)) } }
                } } }
            }
        }
    }
}

fn difficulty(asks: &[AskCount]) -> Markup {
    html! {
        section {
            h2 { "Difficulty of the questions" }
            p.sub { "Share of players who chose a defensible option or better, judged at that moment. Novices slip as often as a published table expects of beginners, whatever the question: real trainees' logs tell more." }
            (plots::difficulty(asks))
            table {
                caption { "Defensible or better" }
                thead { tr { th scope="col" { "question" } th scope="col" { "novices" } th scope="col" { "by chance" } th scope="col" { "left to the clock, all players" } } }
                tbody { @for a in asks { tr {
                    th scope="row" { (a.id) } td.n { (share(a.novices.0, a.novices.1)) } td.n { (share(a.guessers.0, a.guessers.1)) } td.n { (share(a.by_clock.0, a.by_clock.1)) }
                } } }
            }
        }
    }
}

fn choices(case: &Case, asks: &[AskCount]) -> Markup {
    let shown: Vec<&AskCount> = asks.iter().filter(|a| a.options.iter().any(|o| o.n > 0)).collect();
    html! {
        @if !shown.is_empty() { section {
            h2 { "What each choice does" }
            p.sub { "The model play with this one answer, against the model play with the same seed. Worse: share of patients with a worse ending, with the 95 % interval. Costs: mean beyond the model\u{2019}s, with least and greatest. Dominated: with another option of the same question no patient fared worse and some fared better." }
            @for a in shown {
                table {
                    caption { (a.id) @if a.matters == Some(false) { " \u{2013} makes no difference to the patient" } }
                    thead { tr { th scope="col" { "option" } th scope="col" { "judged" } th scope="col" { "better / alike / worse" } th scope="col" { "worse" } th scope="col" { "costs beyond the model" } th scope="col" { "endings" } th scope="col" { "reading" } } }
                    tbody { @for o in &a.options { (choice(case, &a.id, o)) } }
                }
            }
        } }
    }
}

fn choice(case: &Case, ask: &str, o: &OptionCount) -> Markup {
    let say = case.asks.iter().find(|a| a.id == ask).and_then(|a| a.options.iter().find(|x| x.id == o.id));
    let endings: Vec<String> = o
        .endings
        .iter()
        .map(|(id, n)| format!("{} {n}", if id.is_empty() { "not ended" } else { id.as_str() }))
        .collect();
    let [better, alike, worse] = o.against_model;
    let reading = match &o.dominated_by {
        Some(by) => format!("dominated by {by}"),
        None if o.idle => "no difference".into(),
        None => String::new(),
    };
    html! { tr {
        th scope="row" { (o.id) " " span.sub { (say.map_or("", |s| s.say.as_str())) } }
        td { (tier_word(o.tier)) }
        @if o.n == 0 { td colspan="5" { "never taken: the question did not open" } } @else {
            td.n { (better) " / " (alike) " / " (worse) }
            td.n { (share(worse, better + alike + worse)) }
            td { (costs(&o.more)) }
            td { (endings.join(", ")) }
            td { (reading) }
        }
    } }
}

/// Those measures that differ, in words.
fn costs(more: &More) -> String {
    let told = |(cost, s): (&Cost, &Spread)| {
        let shown = s.mean.abs() > cost.alike || s.greatest - s.least > cost.alike;
        let digits = usize::from(cost.alike < 1.0);
        let Cost { name, unit, .. } = cost;
        shown.then(|| {
            format!("{name} {:+.digits$} {unit} ({:+.digits$} to {:+.digits$})", s.mean, s.least, s.greatest)
        })
    };
    let told: Vec<String> = COSTS.iter().zip(more).filter_map(told).collect();
    if told.is_empty() { "none".into() } else { told.join(", ") }
}

fn players(players: &[PlayerCount]) -> Markup {
    html! {
        section {
            h2 { "The players" }
            table {
                caption { "Who they are" }
                thead { tr { th scope="col" { "player" } th scope="col" { "what it does" } th scope="col" { "rehearsals" } th scope="col" { "credit for decisions" } th scope="col" { "orders refused, mean" } } }
                tbody { @for p in players { tr {
                    th scope="row" { (p.kind.name()) } td { (p.kind.about()) } td.n { (p.n) }
                    td.n { @match p.score { Some(s) => { (format!("{:.0} %", 100.0 * s)) } None => "\u{2013}" } }
                    td.n { (format!("{:.1}", p.refused)) }
                } } }
            }
            p.sub { "Slips of novices: HEART (Williams, Bradford 1986), generic tasks C (0.16) and D (0.09) times 3 for inexperience; which task a question is, is our judgement." }
        }
    }
}
