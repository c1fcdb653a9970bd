//! Vital signs over the whole session, with the trainee's decisions on them. Where days on the ward follow, theatre keeps
//! most of the width: an axis of two scales, with a line between them.

use super::theme::{self, Look};
use crate::scenario::Order;
use crate::scenario::rule::Signals;
use crate::session::Session;
use crate::session::event::{Event, EventKind};
use egui::{Align2, Color32, Pos2, Rect, Sense, Shape, Stroke, pos2, vec2};

/// Where the moments of a session lie on its plot.
pub struct Scale {
    /// The plot without its margins.
    pub film: Rect,
    axis: Axis,
}

impl Scale {
    /// Where a second lies.
    pub fn x(&self, seconds: f64) -> f32 {
        self.film.left() + self.axis.part(seconds) as f32 * self.film.width()
    }
}

/// Draws pressure and rate; the text twin says least, greatest and last.
pub fn vitals(ui: &mut egui::Ui, look: &Look, session: &Session, height: f32) -> Scale {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    let ink = &look.ink;
    let rows = session.trace();
    let end = session.now().seconds().max(1.0);
    let film = rect.shrink2(vec2(34.0, 18.0));
    let scale = Scale { film, axis: Axis::of(session, end) };
    let axis = &scale.axis;
    let at = |seconds: f64, value: f64| {
        pos2(scale.x(seconds), film.bottom() - (value / 200.0).clamp(0.0, 1.0) as f32 * film.height())
    };
    ui.painter().rect_filled(rect, 8.0, ink.film);
    for level in [50.0, 100.0, 150.0] {
        let y = at(0.0, level).y;
        ui.painter().hline(film.x_range(), y, Stroke::new(1.0, ink.line.gamma_multiply(0.5)));
        ui.painter().text(
            pos2(rect.left() + 28.0, y),
            Align2::RIGHT_CENTER,
            format!("{level:.0}"),
            theme::plain(12.0),
            ink.soft,
        );
    }
    for (seconds, name) in axis.ticks() {
        let at = pos2(at(seconds, 0.0).x, rect.bottom() - 2.0);
        ui.painter().text(at, Align2::CENTER_BOTTOM, name, theme::plain(12.0), ink.soft);
    }
    if let Some(ward) = axis.ward_s {
        let x = at(ward, 0.0).x;
        ui.painter().vline(x, rect.y_range(), Stroke::new(1.5, ink.soft));
        let name = look.words.recovery;
        ui.painter().text(
            pos2(x + 6.0, film.bottom() - 2.0),
            Align2::LEFT_BOTTOM,
            name,
            theme::plain(12.0),
            ink.soft,
        );
    }
    let mut says = String::new();
    for (signal, name, colour, dashed) in [
        ("sbp", look.words.arterial_pressure, ink.trace, false),
        ("hr", look.words.heart_rate, ink.accent, true),
    ] {
        let points = line(rows.iter().filter_map(|r| Some((r.at.seconds(), r.value(signal)?))), &at);
        let values: Vec<f64> =
            rows.iter().filter_map(|r| r.value(signal)).filter(|v| v.is_finite()).collect();
        let (low, high) = values.iter().fold((f64::MAX, f64::MIN), |r, v| (r.0.min(*v), r.1.max(*v)));
        if let Some(last) = values.last() {
            says.push_str(&format!("{name}: {low:.0} – {high:.0}, {last:.0}. "));
        }
        draw(ui.painter(), points, colour, dashed);
    }
    for event in session.events() {
        if let EventKind::Chosen { .. } = event.kind {
            let x = at(event.at.seconds(), 0.0).x;
            ui.painter().vline(x, film.y_range(), Stroke::new(1.0, ink.line));
            ui.painter().circle_filled(pos2(x, film.bottom()), 3.5, ink.accent);
        }
    }
    let legend = film.right_top() + vec2(-4.0, 0.0);
    ui.painter().text(
        legend,
        Align2::RIGHT_TOP,
        format!("— {}", look.words.arterial_pressure),
        theme::plain(12.0),
        ink.trace,
    );
    let second = legend + vec2(0.0, 15.0);
    ui.painter().text(
        second,
        Align2::RIGHT_TOP,
        format!("- - {}", look.words.heart_rate),
        theme::plain(12.0),
        ink.accent,
    );
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &says));
    scale
}

/// Part of the width that theatre keeps.
const THEATRE: f64 = 0.62;

/// Where a second lies between the ends of the plot, 0 to 1.
struct Axis {
    end_s: f64,
    /// When the ward's hours began, if they are long enough to need a scale of their own.
    ward_s: Option<f64>,
}

impl Axis {
    fn of(session: &Session, end_s: f64) -> Self {
        let hours = |e: &&Event| matches!(&e.kind, EventKind::Ordered { order: Order::Recover { .. }, .. });
        let ward_s = session.events().iter().find(hours).map(|e| e.at.seconds());
        Self { end_s, ward_s: ward_s.filter(|w| *w > 60.0 && end_s > 2.0 * w) }
    }

    fn part(&self, seconds: f64) -> f64 {
        match self.ward_s {
            None => seconds / self.end_s,
            Some(ward) if seconds <= ward => THEATRE * seconds / ward,
            Some(ward) => THEATRE + (1.0 - THEATRE) * (seconds - ward) / (self.end_s - ward),
        }
    }

    /// Round times to write under the plot, with their names.
    fn ticks(&self) -> Vec<(f64, String)> {
        let first_s = self.ward_s.unwrap_or(self.end_s);
        let step_min =
            [1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0].into_iter().find(|m| first_s / 60.0 / m <= 6.0);
        let step_s = 60.0 * step_min.unwrap_or(240.0);
        let every = |from: f64, to: f64, step: f64| {
            (1..200).map(move |n| from + f64::from(n) * step).take_while(move |t| *t <= to)
        };
        // The last of theatre must not touch the line to the ward.
        let mut ticks: Vec<_> =
            every(0.0, first_s - 0.4 * step_s, step_s).map(|t| (t, format!("{:.0} min", t / 60.0))).collect();
        if self.ward_s.is_some() {
            let step_s = 3600.0 * if self.end_s > 60.0 * 3600.0 { 24.0 } else { 6.0 };
            let name = |t: f64| {
                if step_s > 80_000.0 {
                    format!("{:.0} d", t / 86_400.0)
                } else {
                    format!("{:.0} h", t / 3600.0)
                }
            };
            ticks.extend(
                every(0.0, self.end_s, step_s).filter(|t| *t > first_s + 0.3 * step_s).map(|t| (t, name(t))),
            );
        }
        ticks
    }
}

/// At most one point for two pixels.
fn line(samples: impl Iterator<Item = (f64, f64)>, at: &dyn Fn(f64, f64) -> Pos2) -> Vec<Pos2> {
    let mut points: Vec<Pos2> = Vec::new();
    for (t, v) in samples {
        let p = at(t, v);
        if v.is_finite() && points.last().is_none_or(|l| p.x - l.x >= 1.5) {
            points.push(p);
        }
    }
    points
}

fn draw(painter: &egui::Painter, points: Vec<Pos2>, colour: Color32, dashed: bool) {
    if points.len() < 2 {
        return;
    }
    let stroke = Stroke::new(1.8, colour);
    if dashed {
        painter.extend(Shape::dashed_line(&points, stroke, 6.0, 3.0));
    } else {
        painter.add(Shape::line(points, stroke));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn theatre_keeps_its_width_before_days_on_the_ward() {
        let axis = Axis { end_s: 3.0 * 86_400.0, ward_s: Some(3000.0) };
        assert!((axis.part(0.0), axis.part(3.0 * 86_400.0)) == (0.0, 1.0));
        assert!((axis.part(3000.0) - THEATRE).abs() < 1e-12);
        let ticks = axis.ticks();
        assert!(ticks.windows(2).all(|w| axis.part(w[1].0) - axis.part(w[0].0) > 0.05), "{ticks:?}");
        assert_eq!(ticks.last().unwrap().1, "3 d");
        let short = Axis { end_s: 600.0, ward_s: None };
        assert!((short.part(300.0) - 0.5).abs() < 1e-12 && short.ticks().len() >= 4);
    }
}
