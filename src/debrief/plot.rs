//! Plots as SVG, drawn by hand so that the page needs nothing from outside. Every plot carries its text twin as its label.

use super::words::unit_words;
use crate::scenario::rule::Signals;
use crate::session::Row;
use crate::session::event::Tick;
use maud::{Markup, PreEscaped, html};
use std::fmt::Write;

/// A line of a plot.
pub struct Series<'a> {
    /// The rows that it is read from.
    pub rows: &'a [Row],
    /// Signal.
    pub signal: &'a str,
    /// As printed.
    pub label: String,
    /// Its unit.
    pub unit: &'a str,
    /// One of the pens of the style sheet, `p1` to `p4`: each has its own colour and dash.
    pub pen: &'static str,
}

/// A numbered moment.
#[derive(Clone, Debug)]
pub struct Moment {
    /// When.
    pub at: Tick,
    /// Its number.
    pub label: String,
}

/// A row of ticks under the plot: when something of its sort happened.
pub struct Lane {
    /// As printed.
    pub label: &'static str,
    /// When.
    pub at: Vec<Tick>,
}

/// What is drawn.
pub struct Plot<'a> {
    /// From when.
    pub from: Tick,
    /// To when.
    pub to: Tick,
    /// Top of the scale; it begins at 0.
    pub top: f64,
    /// Its lines.
    pub series: Vec<Series<'a>>,
    /// Numbered moments along the top.
    pub moments: &'a [Moment],
    /// Rows of ticks underneath.
    pub lanes: Vec<Lane>,
    /// What the plot is of, for those who cannot see it.
    pub about: &'a str,
}

const W: f64 = 960.0;
const H: f64 = 240.0;
const LEFT: f64 = 66.0;
const RIGHT: f64 = 10.0;
const TOP: f64 = 26.0;
const LANE: f64 = 14.0;
const AXIS: f64 = 22.0;

impl Plot<'_> {
    fn x(&self, t: Tick) -> f64 {
        let span = (self.to.seconds() - self.from.seconds()).max(1.0);
        LEFT + (t.seconds() - self.from.seconds()) / span * (W - LEFT - RIGHT)
    }
    fn y(&self, v: f64) -> f64 {
        H - (v / self.top).clamp(0.0, 1.0) * (H - TOP)
    }

    /// The drawing with its legend. The page's script finds its scale in `data-` attributes and moves the cursor in it.
    pub fn figure(&self) -> Markup {
        let height = H + AXIS + LANE * self.lanes.len() as f64;
        let (from, to) = (self.from.seconds(), self.to.seconds());
        html! {
            figure.plot tabindex="0" {
                svg viewBox=(format!("0 0 {W} {height}")) role="img" aria-label={ (self.about) ": " (self.twin()) }
                    data-from=(from) data-to=(to) data-left=(LEFT) data-right=(W - RIGHT) {
                    (PreEscaped(self.grid()))
                    (PreEscaped(self.lines()))
                    (PreEscaped(self.ticks_under()))
                    rect.curtain x=(W) y="0" width="0" height=(height) {}
                    (PreEscaped(self.times()))
                    (PreEscaped(self.numbers()))
                    line.cursor x1=(LEFT) x2=(LEFT) y1=(TOP) y2=(height) {}
                }
                figcaption {
                    @for s in &self.series {
                        span.key { svg.key viewBox="0 0 30 8" aria-hidden="true" { line x1="0" x2="30" y1="4" y2="4" class=(s.pen) {} } (s.label) @if !s.unit.is_empty() { ", " (unit_words(s.unit)) } }
                    }
                }
            }
        }
    }

    fn grid(&self) -> String {
        let mut out = String::new();
        let step = step_of(self.top);
        let mut v = 0.0;
        while v <= self.top + 1e-9 {
            let y = self.y(v);
            let text = if step < 1.0 { format!("{v:.1}") } else { format!("{v:.0}") };
            let _ = write!(
                out,
                "<line x1=\"{LEFT}\" x2=\"{:.0}\" y1=\"{y:.1}\" y2=\"{y:.1}\" class=\"grid\"/><text x=\"{:.0}\" y=\"{:.1}\" class=\"tick\" text-anchor=\"end\">{text}</text>",
                W - RIGHT,
                LEFT - 6.0,
                y + 4.0
            );
            v += step;
        }
        out
    }

    fn lines(&self) -> String {
        let mut out = String::new();
        for s in &self.series {
            let rows: Vec<&Row> = s.rows.iter().filter(|r| r.at >= self.from && r.at <= self.to).collect();
            let thin = (rows.len() / 700).max(1);
            let mut d = String::new();
            let mut pen = false;
            for row in rows.iter().step_by(thin) {
                match row.value(s.signal) {
                    Some(v) => {
                        let up = if pen { "L" } else { "M" };
                        let _ = write!(d, "{up}{:.1} {:.1}", self.x(row.at), self.y(v));
                        pen = true;
                    }
                    None => pen = false,
                }
            }
            let _ = write!(out, "<path d=\"{d}\" class=\"line {}\"/>", s.pen);
        }
        out
    }

    fn ticks_under(&self) -> String {
        let mut out = String::new();
        for (i, lane) in self.lanes.iter().enumerate() {
            let y = H + AXIS + LANE * i as f64;
            let _ = write!(
                out,
                "<text x=\"{:.0}\" y=\"{:.1}\" class=\"tick\" text-anchor=\"end\">{}</text>",
                LEFT - 6.0,
                y + LANE - 4.0,
                lane.label
            );
            let mut d = String::new();
            for t in lane.at.iter().filter(|t| **t >= self.from && **t <= self.to) {
                let _ = write!(d, "M{:.1} {:.1}v{:.1}", self.x(*t), y + 2.0, LANE - 5.0);
            }
            let _ = write!(out, "<path d=\"{d}\" class=\"lane\"/>");
        }
        out
    }

    /// Times along the axis.
    fn times(&self) -> String {
        let mut out = String::new();
        for (i, t) in ticks(self.from, self.to).into_iter().enumerate() {
            let anchor = if i == 0 { "start" } else { "middle" };
            let _ = write!(
                out,
                "<text x=\"{:.1}\" y=\"{:.0}\" class=\"tick\" text-anchor=\"{anchor}\">{}</text>",
                self.x(t),
                H + 15.0,
                short(t, self.to)
            );
        }
        out
    }

    /// Two rows of numbers; where even these would lie on each other a number is left out, its line is not.
    fn numbers(&self) -> String {
        let mut out = String::new();
        let mut last = [f64::NEG_INFINITY; 2];
        for m in self.moments.iter().filter(|m| m.at >= self.from && m.at <= self.to) {
            let x = self.x(m.at);
            let _ =
                write!(out, "<line x1=\"{x:.1}\" x2=\"{x:.1}\" y1=\"22\" y2=\"{H:.0}\" class=\"moment\"/>");
            let room = 6.0 * m.label.len() as f64 + 3.0;
            if let Some(row) = (0..2).find(|&r| x - last[r] >= room) {
                let y = [9.0, 20.0][row];
                last[row] = x;
                let _ = write!(
                    out,
                    "<text x=\"{x:.1}\" y=\"{y:.0}\" class=\"num\" text-anchor=\"middle\">{}</text>",
                    m.label
                );
            }
        }
        out
    }

    /// First, last, lowest and highest of each line, in words.
    pub fn twin(&self) -> String {
        let mut parts = Vec::new();
        for s in &self.series {
            let rows = s.rows.iter().filter(|r| r.at >= self.from && r.at <= self.to);
            let values: Vec<f64> = rows.filter_map(|r| r.value(s.signal)).collect();
            let (Some(first), Some(last)) = (values.first(), values.last()) else { continue };
            let low = values.iter().copied().fold(f64::INFINITY, f64::min);
            let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            parts.push(format!(
                "{} {first:.0} at first, {last:.0} at last, lowest {low:.0}, highest {high:.0} {}",
                s.label,
                unit_words(s.unit)
            ));
        }
        parts.join("; ")
    }
}

/// A scale that holds `most` with a little room.
pub fn top_for(most: f64) -> f64 {
    let step = step_of(most.max(1e-6) * 1.05);
    (most.max(1e-6) * 1.05 / step).ceil() * step
}

fn step_of(top: f64) -> f64 {
    let rough = top / 5.0;
    let steps = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 50.0, 100.0, 200.0, 500.0, 1000.0];
    steps.into_iter().find(|s| *s >= rough).unwrap_or(2000.0)
}

/// A time along the axis: minutes and seconds, or hours where the axis is long.
fn short(t: Tick, end: Tick) -> String {
    if end.seconds() < 7200.0 {
        return t.to_string();
    }
    format!("{:.0} h", t.seconds() / 3600.0)
}

fn ticks(from: Tick, to: Tick) -> Vec<Tick> {
    let span = to.seconds() - from.seconds();
    let minutes = [60.0, 120.0, 300.0, 600.0, 900.0, 1800.0];
    let hours = [3600.0, 7200.0, 21_600.0, 43_200.0, 86_400.0];
    let long = to.seconds() >= 7200.0;
    let mut steps = minutes.into_iter().filter(|_| !long).chain(hours);
    let step = steps.find(|s| span / s <= 10.0).unwrap_or(86_400.0);
    let mut out = Vec::new();
    let mut t = (from.seconds() / step).ceil() * step;
    while t <= to.seconds() {
        out.push(Tick((t * Tick::PER_SECOND as f64) as u64));
        t += step;
    }
    out
}
