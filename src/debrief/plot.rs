//! Plots as SVG, drawn by hand so that the page needs nothing from outside. Every plot carries its text twin as its label.

use super::axis::{Axis, LEFT, RIGHT, W};
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

/// A small picture at its moment.
pub struct Thumb {
    /// When.
    pub at: Tick,
    /// The picture, as the address of an image.
    pub url: String,
}

/// What is drawn.
pub struct Plot<'a> {
    /// Its time.
    pub axis: Axis,
    /// Top of the scale; it begins at 0.
    pub top: f64,
    /// Its lines.
    pub series: Vec<Series<'a>>,
    /// Numbered moments along the top.
    pub moments: &'a [Moment],
    /// Rows of ticks underneath.
    pub lanes: Vec<Lane>,
    /// Pictures under the rows, each as near to its moment as its neighbours let it.
    pub pictures: Vec<Thumb>,
    /// What the plot is of, for those who cannot see it.
    pub about: &'a str,
}

const H: f64 = 240.0;
const TOP: f64 = 26.0;
const LANE: f64 = 14.0;
const AXIS: f64 = 22.0;
/// Edge of a small picture where there is room for it, and what leads to it.
const THUMB: f64 = 76.0;
const LEAD: f64 = 9.0;

impl Plot<'_> {
    fn y(&self, v: f64) -> f64 {
        H - (v / self.top).clamp(0.0, 1.0) * (H - TOP)
    }

    /// The drawing with its legend. The page's script finds its scale in `data-` attributes and moves the cursor in it.
    pub fn figure(&self) -> Markup {
        let lanes = H + AXIS + LANE * self.lanes.len() as f64;
        let thumbs = self.thumbs();
        let height = lanes + thumbs.first().map_or(0.0, |t| LEAD + t.2 + 2.0);
        let (from, to) = (self.axis.from.seconds(), self.axis.to.seconds());
        html! {
            figure.plot tabindex="0" {
                svg viewBox=(format!("0 0 {W} {height}")) role="img" aria-label={ (self.about) ": " (self.twin()) }
                    data-from=(from) data-to=(to) data-left=(LEFT) data-right=(W - RIGHT) {
                    (PreEscaped(self.grid()))
                    (PreEscaped(self.lines()))
                    (PreEscaped(self.ticks_under()))
                    @for (thumb, x, edge) in &thumbs {
                        path.lane d=(format!("M{:.1} {:.1}L{:.1} {:.1}", self.axis.x(thumb.at), lanes - 3.0, x + 0.5 * edge, lanes + LEAD)) {}
                        image href=(thumb.url) x=(format!("{x:.1}")) y=(format!("{:.1}", lanes + LEAD)) width=(format!("{edge:.1}")) height=(format!("{edge:.1}")) {}
                    }
                    rect.curtain x=(W) y="0" width="0" height=(height) {}
                    (PreEscaped(self.axis.times(H + 15.0)))
                    (PreEscaped(self.axis.numbers(self.moments, H)))
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
            let rows: Vec<&Row> = s.rows.iter().filter(|r| self.axis.holds(r.at)).collect();
            let thin = (rows.len() / 700).max(1);
            let mut d = String::new();
            let mut pen = false;
            for row in rows.iter().step_by(thin) {
                match row.value(s.signal) {
                    Some(v) => {
                        let up = if pen { "L" } else { "M" };
                        let _ = write!(d, "{up}{:.1} {:.1}", self.axis.x(row.at), self.y(v));
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
            for t in lane.at.iter().filter(|t| self.axis.holds(**t)) {
                let _ = write!(d, "M{:.1} {:.1}v{:.1}", self.axis.x(*t), y + 2.0, LANE - 5.0);
            }
            let _ = write!(out, "<path d=\"{d}\" class=\"lane\"/>");
        }
        out
    }

    /// The small pictures in order, with left edge and size: under their moments, moved aside where two would lie on each other.
    fn thumbs(&self) -> Vec<(&Thumb, f64, f64)> {
        let shown: Vec<&Thumb> = self.pictures.iter().filter(|t| self.axis.holds(t.at)).collect();
        let edge = THUMB.min((W - LEFT - RIGHT) / shown.len().max(1) as f64 - 2.0);
        let mut lefts: Vec<f64> = Vec::new();
        for thumb in &shown {
            let free = lefts.last().map_or(LEFT, |l| l + edge + 2.0);
            lefts.push((self.axis.x(thumb.at) - 0.5 * edge).max(free));
        }
        let mut most = W - RIGHT - edge;
        for left in lefts.iter_mut().rev() {
            *left = left.min(most);
            most = *left - edge - 2.0;
        }
        shown.into_iter().zip(lefts).map(|(thumb, left)| (thumb, left, edge)).collect()
    }

    /// First, last, lowest and highest of each line, in words.
    pub fn twin(&self) -> String {
        let mut parts = Vec::new();
        for s in &self.series {
            let rows = s.rows.iter().filter(|r| self.axis.holds(r.at));
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
