//! Plots as SVG, drawn by hand so that the page needs nothing from outside.

use crate::scenario::rule::Signals;
use crate::session::Row;
use crate::session::event::Tick;
use std::fmt::Write;

/// A line of a plot.
pub struct Series {
    /// Signal.
    pub signal: &'static str,
    /// As printed.
    pub label: &'static str,
    /// Stroke colour, and a dash pattern so that colour is not the only sign.
    pub stroke: (&'static str, &'static str),
}

/// A numbered moment.
pub struct Moment {
    /// When.
    pub at: Tick,
    /// Its number.
    pub label: String,
}

const W: f64 = 960.0;
const H: f64 = 300.0;
const LEFT: f64 = 44.0;
const BOTTOM: f64 = 34.0;
const TOP: f64 = 26.0;

/// Lines over time from `from` to `to`, with numbered moments along the top. Every plot carries its text twin as `desc`.
pub fn over_time(
    rows: &[Row],
    from: Tick,
    to: Tick,
    series: &[Series],
    moments: &[Moment],
    top: f64,
) -> String {
    let span = (to.seconds() - from.seconds()).max(1.0);
    let x = |t: Tick| LEFT + (t.seconds() - from.seconds()) / span * (W - LEFT - 8.0);
    let y = |v: f64| H - BOTTOM - (v / top).clamp(0.0, 1.0) * (H - BOTTOM - TOP);
    let rows: Vec<&Row> = rows.iter().filter(|r| r.at >= from && r.at <= to).collect();
    let mut out = String::new();
    let _ = write!(out, "<svg viewBox=\"0 0 {W} {H}\" role=\"img\" aria-label=\"{}\">", twin(&rows, series));
    let step = if top > 100.0 { 40.0 } else { top / 5.0 };
    let mut v = 0.0;
    while v <= top {
        let _ = write!(
            out,
            "<line x1=\"{LEFT}\" x2=\"{:.0}\" y1=\"{1:.1}\" y2=\"{1:.1}\" class=\"grid\"/><text x=\"{2:.0}\" y=\"{3:.1}\" class=\"tick\" text-anchor=\"end\">{v:.0}</text>",
            W - 8.0,
            y(v),
            LEFT - 6.0,
            y(v) + 4.0
        );
        v += step;
    }
    for (i, t) in ticks(from, to).into_iter().enumerate() {
        let anchor = if i == 0 { "start" } else { "middle" };
        let _ = write!(
            out,
            "<text x=\"{:.1}\" y=\"{:.0}\" class=\"tick\" text-anchor=\"{anchor}\">{t}</text>",
            x(t),
            H - 12.0
        );
    }
    let thin = (rows.len() / 700).max(1);
    for s in series {
        let mut d = String::new();
        let mut pen = false;
        for row in rows.iter().step_by(thin) {
            match row.value(s.signal) {
                Some(v) => {
                    let _ = write!(d, "{}{:.1} {:.1}", if pen { "L" } else { "M" }, x(row.at), y(v));
                    pen = true;
                }
                None => pen = false,
            }
        }
        let _ = write!(
            out,
            "<path d=\"{d}\" fill=\"none\" stroke=\"{}\" stroke-width=\"1.6\" stroke-dasharray=\"{}\"/>",
            s.stroke.0, s.stroke.1
        );
    }
    for (i, m) in moments.iter().filter(|m| m.at >= from && m.at <= to).enumerate() {
        let up = if i % 2 == 0 { 9.0 } else { 19.0 };
        let _ = write!(
            out,
            "<line x1=\"{0:.1}\" x2=\"{0:.1}\" y1=\"{1:.0}\" y2=\"{2:.0}\" class=\"moment\"/><text x=\"{0:.1}\" y=\"{1:.0}\" class=\"num\" text-anchor=\"middle\">{3}</text>",
            x(m.at),
            up,
            H - BOTTOM,
            m.label
        );
    }
    out.push_str("</svg>");
    out
}

/// First, last, lowest and highest of each line, in words.
pub fn twin(rows: &[&Row], series: &[Series]) -> String {
    let mut parts = Vec::new();
    for s in series {
        let values: Vec<f64> = rows.iter().filter_map(|r| r.value(s.signal)).collect();
        let (Some(first), Some(last)) = (values.first(), values.last()) else { continue };
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        parts.push(format!(
            "{}: {first:.0} at first, {last:.0} at last, lowest {low:.0}, highest {high:.0}",
            s.label
        ));
    }
    parts.join("; ")
}

fn ticks(from: Tick, to: Tick) -> Vec<Tick> {
    let span = to.seconds() - from.seconds();
    let steps = [60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 21_600.0, 43_200.0, 86_400.0];
    let step = steps.into_iter().find(|s| span / s <= 10.0).unwrap_or(86_400.0);
    let mut out = Vec::new();
    let mut t = (from.seconds() / step).ceil() * step;
    while t <= to.seconds() {
        out.push(Tick((t * Tick::PER_SECOND as f64) as u64));
        t += step;
    }
    out
}
