//! The axis of time that every plot of a page shares: where a moment lies, its marks, and the numbered moments along the top.

use super::plot::Moment;
use crate::session::event::Tick;
use std::fmt::Write;

/// Width of a plot, and what it leaves at both sides, in its own units.
pub const W: f64 = 960.0;
/// Left edge of the axis.
pub const LEFT: f64 = 66.0;
/// What is left at the right of it.
pub const RIGHT: f64 = 10.0;

/// From when to when.
#[derive(Clone, Copy, Debug)]
pub struct Axis {
    /// From when.
    pub from: Tick,
    /// To when.
    pub to: Tick,
}

impl Axis {
    /// Where a moment lies.
    pub fn x(&self, t: Tick) -> f64 {
        let span = (self.to.seconds() - self.from.seconds()).max(1.0);
        LEFT + (t.seconds() - self.from.seconds()) / span * (W - LEFT - RIGHT)
    }

    /// Is the moment on it?
    pub fn holds(&self, t: Tick) -> bool {
        self.from <= t && t <= self.to
    }

    /// Times, on the line `y`.
    pub fn times(&self, y: f64) -> String {
        let mut out = String::new();
        for (i, t) in ticks(self.from, self.to).into_iter().enumerate() {
            let anchor = if i == 0 { "start" } else { "middle" };
            let _ = write!(
                out,
                "<text x=\"{:.1}\" y=\"{y:.0}\" class=\"tick\" text-anchor=\"{anchor}\">{}</text>",
                self.x(t),
                short(t, self.to)
            );
        }
        out
    }

    /// Two rows of numbers over lines down to `bottom`; where even these would lie on each other a number is left out, its line is
    /// not.
    pub fn numbers(&self, moments: &[Moment], bottom: f64) -> String {
        let mut out = String::new();
        let mut last = [f64::NEG_INFINITY; 2];
        for m in moments.iter().filter(|m| self.holds(m.at)) {
            let x = self.x(m.at);
            let _ = write!(
                out,
                "<line x1=\"{x:.1}\" x2=\"{x:.1}\" y1=\"22\" y2=\"{bottom:.0}\" class=\"moment\"/>"
            );
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
