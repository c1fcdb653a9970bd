//! Two ends on a picture and what they span: laid by a drag or a button, moved by hand or by the arrow keys.

use super::theme::{self, Look};
use egui::{Color32, Key, Pos2, Rect, Response, Sense, vec2};

/// The ends, in pixels of the picture that they lie on.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Callipers {
    /// None while they are not laid.
    pub ends: Option<[(f64, f64); 2]>,
}

/// A picture on the screen: where it is painted, and how many pixels it has across.
#[derive(Clone, Copy)]
pub struct Film {
    /// Where.
    pub rect: Rect,
    /// Columns.
    pub columns: f64,
}

impl Film {
    fn points_per_pixel(&self) -> f32 {
        self.rect.width() / self.columns as f32
    }
    fn pixel(&self, p: Pos2) -> (f64, f64) {
        let scale = f64::from(self.points_per_pixel());
        (f64::from(p.x - self.rect.left()) / scale, f64::from(p.y - self.rect.top()) / scale)
    }
    fn point(&self, (column, row): (f64, f64)) -> Pos2 {
        self.rect.min + vec2(column as f32, row as f32) * self.points_per_pixel()
    }
    fn rows(&self) -> f64 {
        self.columns * f64::from(self.rect.height() / self.rect.width())
    }
}

impl Callipers {
    /// Lays them across the middle of a picture, so many pixels apart.
    pub fn lay(&mut self, columns: f64, rows: f64, apart: f64) {
        let (x, y) = (0.5 * columns, 0.5 * rows);
        self.ends = Some([(x - 0.5 * apart, y), (x + 0.5 * apart, y)]);
    }

    /// A drag over the picture lays them anew.
    pub fn drag(&mut self, ui: &egui::Ui, response: &Response, film: Film) {
        if response.drag_started()
            && let Some(from) = ui.input(|i| i.pointer.press_origin())
        {
            self.ends = Some([film.pixel(from); 2]);
        }
        if response.dragged()
            && let (Some(to), Some(ends)) = (response.interact_pointer_pos(), &mut self.ends)
        {
            ends[1] = film.pixel(to.clamp(film.rect.min, film.rect.max));
        }
    }

    /// Draws them with what they span, and moves their ends: dragged, or by the arrow keys by half a pixel, with Shift by ten
    /// times that.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, film: Film, name: &str, ink: Color32, span: &str) {
        let Some(ends) = &mut self.ends else { return };
        let scale = film.points_per_pixel();
        let stroke = egui::Stroke::new(1.6, ink);
        ui.painter().line_segment([film.point(ends[0]), film.point(ends[1])], stroke);
        for (i, end) in ends.iter_mut().enumerate() {
            let id = ui.id().with((name, i));
            let handle = Rect::from_center_size(film.point(*end), vec2(20.0, 20.0));
            let response = ui.interact(handle, id, Sense::click_and_drag());
            let says = format!("{name} {}", i + 1);
            response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Slider, true, &says));
            if response.dragged() {
                let by = response.drag_delta() / scale;
                *end = (end.0 + f64::from(by.x), end.1 + f64::from(by.y));
            }
            if response.clicked() {
                response.request_focus();
            }
            if response.has_focus() {
                let filter = egui::EventFilter {
                    horizontal_arrows: true,
                    vertical_arrows: true,
                    ..egui::EventFilter::default()
                };
                ui.memory_mut(|m| m.set_focus_lock_filter(id, filter));
                let by = arrows(ui);
                *end = (end.0 + by.0, end.1 + by.1);
            }
            *end = (end.0.clamp(0.0, film.columns), end.1.clamp(0.0, film.rows()));
            let radius = if response.has_focus() || response.hovered() { 6.0 } else { 4.0 };
            ui.painter().circle_stroke(film.point(*end), radius, stroke);
        }
        if !span.is_empty() {
            let middle = film.point(ends[0]).lerp(film.point(ends[1]), 0.5) + vec2(0.0, -12.0);
            let text = ui.painter().layout_no_wrap(span.to_owned(), theme::bold(14.0), look.ink.text);
            let back = Rect::from_center_size(middle, text.size() + vec2(8.0, 2.0));
            ui.painter().rect_filled(back, 3.0, look.ink.film.gamma_multiply(0.8));
            ui.painter().galley(middle - 0.5 * text.size(), text, look.ink.text);
        }
    }
}

/// Half pixels asked for by the arrow keys in this frame.
fn arrows(ui: &egui::Ui) -> (f64, f64) {
    ui.input(|i| {
        let step = if i.modifiers.shift { 5.0 } else { 0.5 };
        let pressed = |key| {
            let hit =
                |e: &&egui::Event| matches!(e, egui::Event::Key { key: k, pressed: true, .. } if *k == key);
            i.events.iter().filter(hit).count() as f64
        };
        (
            (pressed(Key::ArrowRight) - pressed(Key::ArrowLeft)) * step,
            (pressed(Key::ArrowDown) - pressed(Key::ArrowUp)) * step,
        )
    })
}
