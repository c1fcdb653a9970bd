//! Vital signs over the whole session, with the trainee's decisions on them.

use super::theme::{self, Look};
use crate::scenario::rule::Signals;
use crate::session::Session;
use crate::session::event::EventKind;
use egui::{Align2, Color32, Pos2, Sense, Shape, Stroke, pos2, vec2};

/// Draws pressure and rate; the text twin says least, greatest and last.
pub fn vitals(ui: &mut egui::Ui, look: &Look, session: &Session, height: f32) {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    let ink = &look.ink;
    let rows = session.trace();
    let end = session.now().seconds().max(1.0);
    let film = rect.shrink2(vec2(34.0, 18.0));
    let at = |seconds: f64, value: f64| {
        pos2(
            film.left() + (seconds / end) as f32 * film.width(),
            film.bottom() - (value / 200.0).clamp(0.0, 1.0) as f32 * film.height(),
        )
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
