//! Margins along the time axis: for each measured rule a strip that says, moment by moment, by how much what it asks for held (above
//! the line) or did not (below it).

use crate::assess::MarkResult;
use crate::debrief::axis::{Axis, LEFT, RIGHT, W};
use crate::debrief::plot::Moment;
use crate::debrief::words;
use crate::session::event::Tick;
use maud::{Markup, PreEscaped, html};
use std::fmt::Write;

/// Strips shown; the rest held more clearly and stands in the table.
const MOST: usize = 9;

const TOP: f64 = 26.0;
/// A strip's words, then its curve above and below its line.
const WORDS: f64 = 16.0;
const HALF: f64 = 17.0;
const PITCH: f64 = WORDS + 2.0 * HALF + 6.0;
const FOOT: f64 = 22.0;

/// The strips of the rules that came closest to failing, or failed; nothing where no rule measures anything.
pub(super) fn figure(marks: &[MarkResult], moments: &[Moment], end: Tick) -> Markup {
    let mut list: Vec<(&MarkResult, f64)> = marks.iter().filter_map(|m| Some((m, least(m)?))).collect();
    // Each on its own scale: a rule is close when its least margin is a small part of its usual one.
    list.sort_by(|(a, x), (b, y)| {
        (a.met, x / full(a)).partial_cmp(&(b.met, y / full(b))).unwrap_or(std::cmp::Ordering::Equal)
    });
    list.truncate(MOST);
    if list.is_empty() {
        return html! {};
    }
    let axis = Axis { from: Tick(0), to: end };
    let bottom = TOP + PITCH * list.len() as f64;
    let mut body = String::new();
    for (i, (mark, _)) in list.iter().enumerate() {
        strip(&mut body, axis, mark, TOP + PITCH * i as f64);
    }
    let twin: Vec<String> = list.iter().map(|(m, x)| format!("{}: {}", m.text, told(m, *x))).collect();
    html! {
        figure.plot tabindex="0" {
            svg viewBox=(format!("0 0 {W} {}", bottom + FOOT)) role="img" aria-label={ "Margins of rules: " (twin.join("; ")) } {
                (PreEscaped(axis.numbers(moments, bottom)))
                (PreEscaped(&body))
                @for (i, (m, x)) in list.iter().enumerate() {
                    @let y = TOP + PITCH * i as f64 + WORDS - 4.0;
                    text.tick x=(LEFT) y=(y) { (m.text) }
                    text.tick x=(W - RIGHT) y=(y) text-anchor="end" { (told(m, *x)) }
                }
                (PreEscaped(axis.times(bottom + 15.0)))
            }
            figcaption { "Above its line a rule held at that moment, below it (filled) it did not; each strip has its own scale, and the numbers along the top are the decisions. A rule about one moment asks only that its curve be above the line once." }
        }
    }
}

fn least(mark: &MarkResult) -> Option<f64> {
    mark.course.points.iter().map(|p| p.1).min_by(f64::total_cmp)
}

/// Half a strip's height stands for this.
fn full(mark: &MarkResult) -> f64 {
    let sizes = || mark.course.points.iter().map(|p| p.1.abs());
    let most = sizes().fold(0.0, f64::max);
    // A curve that is far from its line for most of the time is cut, so that the close moments can be seen.
    let close = 4.0 * least(mark).map_or(0.0, f64::abs);
    if close > 0.0 { most.min(close) } else { most }.max(1e-9)
}

fn told(mark: &MarkResult, least: f64) -> String {
    let when = mark.course.points.iter().find(|p| p.1 == least).map_or(Tick(0), |p| p.0);
    let how = if least < 0.0 { "below" } else { "above" };
    match words::by(least, &mark.course.unit).as_str() {
        "" | "just" => format!("at its line at {when}"),
        by => format!("{how} its line {by} at {when}"),
    }
}

fn strip(out: &mut String, axis: Axis, mark: &MarkResult, top: f64) {
    let (zero, full) = (top + WORDS + HALF, full(mark));
    let y = |m: f64| zero - (m / full).clamp(-1.0, 1.0) * HALF;
    let thin = (mark.course.points.len() / 700).max(1);
    // A failure of a second must not fall between two of the points that are drawn.
    let points: Vec<(f64, f64)> = mark
        .course
        .points
        .chunks(thin)
        .filter_map(|c| c.iter().min_by(|a, b| a.1.total_cmp(&b.1)))
        .map(|(at, m)| (axis.x(*at), *m))
        .collect();
    // A gap is where another clause of the rule had the word.
    let gap = axis.x(Tick(axis.from.0 + 3 * thin as u64 * Tick::PER_SECOND)) - LEFT;
    let (mut line, mut fill) = (String::new(), String::new());
    let mut before = f64::NEG_INFINITY;
    for &(x, m) in &points {
        let up = if x - before > gap { "M" } else { "L" };
        let _ = write!(line, "{up}{x:.1} {:.1}", y(m));
        if m < 0.0 {
            let _ = write!(fill, "M{x:.1} {zero:.1}V{:.1}", y(m));
        }
        before = x;
    }
    let _ = write!(
        out,
        "<line x1=\"{LEFT}\" x2=\"{:.0}\" y1=\"{zero:.1}\" y2=\"{zero:.1}\" class=\"zero\"/><path d=\"{fill}\" class=\"short\"/><path d=\"{line}\" class=\"line p4\"/>",
        W - RIGHT
    );
}
