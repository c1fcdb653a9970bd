//! The drawings of the page: plain SVG, each with its text twin as its label.

use super::count::{AskCount, PlayerCount, wilson};
use crate::math::ops;
use crate::scenario::case::{Case, Tone};
use maud::{Markup, html};

const W: f64 = 900.0;
const LEFT: f64 = 150.0;
const RIGHT: f64 = 20.0;
const ROW: f64 = 26.0;

fn x(share: f64) -> f64 {
    LEFT + share.clamp(0.0, 1.0) * (W - LEFT - RIGHT)
}

fn px(v: f64) -> String {
    format!("{v:.1}")
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// A scale of shares along the bottom.
fn shares(height: f64) -> Markup {
    html! {
        @for i in 0..=4 {
            @let share = f64::from(i) / 4.0;
            line.grid x1=(px(x(share))) x2=(px(x(share))) y1="4" y2=(px(height - 18.0)) {}
            text.tick x=(px(x(share))) y=(px(height - 4.0)) text-anchor="middle" { (percent(share)) }
        }
    }
}

/// For each kind of player, how it went for the patient; the whisker is the interval of the good share.
pub fn outcomes(case: &Case, players: &[PlayerCount]) -> Markup {
    let tones = [
        (Some(Tone::Good), "good", "whole"),
        (Some(Tone::Mixed), "mixed", "mixed"),
        (None, "open", "not ended"),
        (Some(Tone::Bad), "bad", "dead or gravely harmed"),
    ];
    let tone_of = |id: &str| case.endings.iter().find(|e| e.id == id).map(|e| e.tone);
    let count = |p: &PlayerCount, tone: Option<Tone>| -> usize {
        p.endings.iter().filter(|(id, _)| tone_of(id) == tone).map(|(_, n)| n).sum()
    };
    let height = ROW * players.len() as f64 + 28.0;
    let twin: Vec<String> = players
        .iter()
        .map(|p| {
            let parts: Vec<String> = tones
                .iter()
                .map(|(tone, _, word)| {
                    format!("{word} {}", percent(count(p, *tone) as f64 / p.n.max(1) as f64))
                })
                .collect();
            format!("{}: {}", p.kind.name(), parts.join(", "))
        })
        .collect();
    html! {
        figure tabindex="0" {
            svg viewBox=(format!("0 0 {W} {height}")) role="img" aria-label=(format!("Outcomes by player. {}", twin.join("; "))) {
                (shares(height))
                @for (i, p) in players.iter().enumerate() {
                    @let y = ROW * i as f64 + 6.0;
                    text.name x=(px(LEFT - 8.0)) y=(px(y + 13.0)) text-anchor="end" { (p.kind.name()) }
                    @for (k, (tone, class, _)) in tones.iter().enumerate() {
                        @let before: usize = tones[..k].iter().map(|t| count(p, t.0)).sum();
                        @let n = p.n.max(1) as f64;
                        @let (from, to) = (before as f64 / n, (before + count(p, *tone)) as f64 / n);
                        @if to > from { rect class=(class) x=(px(x(from))) y=(px(y)) width=(px(x(to) - x(from))) height="18" {} }
                    }
                    @let (low, high) = wilson(count(p, Some(Tone::Good)), p.n);
                    line.whisker x1=(px(x(low))) x2=(px(x(high))) y1=(px(y + 9.0)) y2=(px(y + 9.0)) {}
                }
            }
            figcaption {
                @for (_, class, word) in tones { span.key { svg.swatch viewBox="0 0 14 10" aria-hidden="true" { rect class=(class) width="14" height="10" {} } (word) } }
                "The line is the 95 % interval (Wilson) of the first share."
            }
        }
    }
}

/// For each question, how many novices chose a defensible option, with its interval, and what guessing gives.
pub fn difficulty(asks: &[AskCount]) -> Markup {
    let shown: Vec<&AskCount> = asks.iter().filter(|a| a.novices.1 > 0 || a.guessers.1 > 0).collect();
    let height = ROW * shown.len() as f64 + 28.0;
    let share = |(hits, n): (usize, usize)| hits as f64 / n.max(1) as f64;
    let twin: Vec<String> = shown.iter().map(|a| format!("{} {}", a.id, percent(share(a.novices)))).collect();
    html! {
        figure tabindex="0" {
            svg viewBox=(format!("0 0 {W} {height}")) role="img" aria-label=(format!("Novices who chose a defensible option. {}", twin.join("; "))) {
                (shares(height))
                @for (i, a) in shown.iter().enumerate() {
                    @let y = ROW * i as f64 + 15.0;
                    text.name x=(px(LEFT - 8.0)) y=(px(y + 4.0)) text-anchor="end" { (a.id) }
                    @if a.novices.1 > 0 {
                        @let (low, high) = wilson(a.novices.0, a.novices.1);
                        line.whisker x1=(px(x(low))) x2=(px(x(high))) y1=(px(y)) y2=(px(y)) {}
                        circle.dot cx=(px(x(share(a.novices)))) cy=(px(y)) r="4.5" {}
                    }
                    @if a.guessers.1 > 0 {
                        @let g = x(share(a.guessers));
                        line.guess x1=(px(g)) x2=(px(g)) y1=(px(y - 8.0)) y2=(px(y + 8.0)) {}
                    }
                }
            }
            figcaption { "Dot: novices, with the 95 % interval. Upright line: players who answer by chance." }
        }
    }
}

/// For each kind of player, the share with irreversible harm against time.
pub fn harm(players: &[PlayerCount]) -> Markup {
    const HEIGHT: f64 = 260.0;
    const PENS: [&str; 6] = ["q1", "q2", "q3", "q4", "q5", "q6"];
    let last = players.iter().flat_map(|p| p.harm_min.last()).fold(100.0_f64, |a, b| a.max(*b));
    // Minutes in the theatre and days on the ward do not share a plain scale.
    let (low, high) = (ops::ln(1.0), ops::ln(last.max(10.0)));
    let at = |min: f64| x((ops::ln(min.max(1.0)) - low) / (high - low));
    let y = |share: f64| 12.0 + (1.0 - share) * (HEIGHT - 44.0);
    let path = |p: &PlayerCount| {
        let mut d = format!("M{} {}", px(x(0.0)), px(y(0.0)));
        for (i, min) in p.harm_min.iter().enumerate() {
            let n = p.n.max(1) as f64;
            d.push_str(&format!(" H{} V{}", px(at(*min)), px(y((i + 1) as f64 / n))));
        }
        d.push_str(&format!(" H{}", px(x(1.0))));
        d
    };
    let twin: Vec<String> = players
        .iter()
        .map(|p| format!("{} {}", p.kind.name(), percent(p.harm_min.len() as f64 / p.n.max(1) as f64)))
        .collect();
    html! {
        figure tabindex="0" {
            svg viewBox=(format!("0 0 {W} {HEIGHT}")) role="img" aria-label=(format!("Share with irreversible harm over time; at the end: {}", twin.join("; "))) {
                @for share in [0.0, 0.25, 0.5, 0.75, 1.0] {
                    line.grid x1=(px(LEFT)) x2=(px(W - RIGHT)) y1=(px(y(share))) y2=(px(y(share))) {}
                    text.tick x=(px(LEFT - 6.0)) y=(px(y(share) + 4.0)) text-anchor="end" { (percent(share)) }
                }
                @for (min, word) in [(1.0, "1 min"), (10.0, "10 min"), (60.0, "1 h"), (360.0, "6 h"), (1440.0, "1 d"), (4320.0, "3 d")] {
                    @if min <= last {
                        line.grid x1=(px(at(min))) x2=(px(at(min))) y1="12" y2=(px(HEIGHT - 32.0)) {}
                        text.tick x=(px(at(min))) y=(px(HEIGHT - 16.0)) text-anchor="middle" { (word) }
                    }
                }
                @for (p, pen) in players.iter().zip(PENS) { path class={ "line " (pen) } d=(path(p)) {} }
            }
            figcaption { @for (p, pen) in players.iter().zip(PENS) { span.key { svg.pen viewBox="0 0 30 8" aria-hidden="true" { line x1="0" x2="30" y1="4" y2="4" class=(pen) {} } (p.kind.name()) } } }
        }
    }
}
