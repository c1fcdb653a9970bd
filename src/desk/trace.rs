//! A moving trace: samples go in at 250 Hz, and a bright edge sweeps across them from left to right.

use super::theme::Look;
use egui::{Color32, Pos2, Rect, Shape, Stroke, pos2};

/// Samples in one second.
pub const RATE_HZ: usize = 250;

/// The last seconds of one signal, written round and round.
pub struct Trace {
    ring: Vec<f32>,
    head: usize,
    filled: bool,
}

impl Trace {
    /// A trace that shows so many seconds.
    pub fn new(seconds: f32) -> Self {
        let samples = (seconds * RATE_HZ as f32) as usize;
        Self { ring: vec![f32::NAN; samples.max(2)], head: 0, filled: false }
    }

    /// Adds a sample.
    pub fn push(&mut self, value: f32) {
        self.ring[self.head] = value;
        self.head += 1;
        if self.head == self.ring.len() {
            self.head = 0;
            self.filled = true;
        }
    }

    /// Least and greatest value shown; none while there is nothing.
    pub fn range(&self) -> Option<(f32, f32)> {
        let seen = self.ring.iter().copied().filter(|v| v.is_finite());
        seen.fold(None, |r, v| Some(r.map_or((v, v), |(a, b): (f32, f32)| (a.min(v), b.max(v)))))
    }

    /// Draws it into `rect` with `low` at the bottom and `high` at the top.
    ///
    /// One point for each pixel column: a column shows the sample farthest from the one before it, so that a narrow
    /// QRS complex is never skipped.
    pub fn paint(&self, painter: &egui::Painter, rect: Rect, low: f32, high: f32, ink: Color32, look: &Look) {
        let n = self.ring.len();
        let columns = (rect.width() as usize).clamp(2, n);
        let y = |v: f32| rect.bottom() - ((v - low) / (high - low)).clamp(0.0, 1.0) * rect.height();
        let gap = n / 28;
        let mut line: Vec<Pos2> = Vec::with_capacity(columns);
        let mut last = f32::NAN;
        for column in 0..columns {
            let (from, to) =
                (column * n / columns, ((column + 1) * n / columns).max(column * n / columns + 1));
            // The gap runs ahead of the newest sample.
            let ahead = (from + n - self.head) % n;
            let mut pick = f32::NAN;
            for &v in &self.ring[from..to] {
                if v.is_finite() && (pick.is_nan() || last.is_nan() || (v - last).abs() > (pick - last).abs())
                {
                    pick = v;
                }
            }
            if ahead < gap || pick.is_nan() {
                stroke(painter, &mut line, ink);
                last = f32::NAN;
                continue;
            }
            line.push(pos2(rect.left() + (column as f32 + 0.5) * rect.width() / columns as f32, y(pick)));
            last = pick;
        }
        stroke(painter, &mut line, ink);
        if !look.still && (self.filled || self.head > 0) {
            let newest = self.ring[(self.head + n - 1) % n];
            if newest.is_finite() {
                let x = rect.left() + self.head as f32 / n as f32 * rect.width();
                painter.circle_filled(pos2(x, y(newest)), 2.2, look.ink.text);
            }
        }
    }
}

fn stroke(painter: &egui::Painter, line: &mut Vec<Pos2>, ink: Color32) {
    if line.len() > 1 {
        painter.add(Shape::line(std::mem::take(line), Stroke::new(1.6, ink)));
    }
    line.clear();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ring_forgets_the_oldest() {
        let mut t = Trace::new(1.0);
        assert_eq!(t.range(), None);
        for i in 0..RATE_HZ + 10 {
            t.push(i as f32);
        }
        assert_eq!(t.range(), Some((10.0, (RATE_HZ + 9) as f32)));
    }
}
