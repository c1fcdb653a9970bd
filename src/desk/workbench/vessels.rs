//! The vessels in three dimensions, to turn by hand: each as a chain of short tubes, the farther ones first and darker.

use crate::anatomy::Tree;
use crate::desk::theme::{self, Look};
use crate::math::Vec3;
use crate::math::ops::single as ops;
use egui::{Align2, Color32, Sense, Stroke, pos2, vec2};

/// From where they are seen.
pub struct VesselsPanel {
    /// About the patient's long axis, radians: 0 from the front.
    turn: f32,
    /// Toward the head, radians.
    tilt: f32,
}

impl Default for VesselsPanel {
    fn default() -> Self {
        // As an aortic arch is best seen: from the patient's left front.
        Self { turn: 0.8, tilt: 0.1 }
    }
}

/// A short tube.
struct Tube {
    from: egui::Vec2,
    to: egui::Vec2,
    depth: f32,
    width_mm: f32,
    lesion: bool,
}

impl VesselsPanel {
    /// Shows them.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, tree: &Tree) {
        let w = look.words;
        let size = vec2(ui.available_width(), ui.available_height().max(240.0));
        let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
        response
            .widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Other, true, w.bench_vessels_about));
        if response.dragged() {
            let moved = response.drag_delta();
            self.turn += 0.01 * moved.x;
            self.tilt = (self.tilt + 0.01 * moved.y).clamp(-1.5, 1.5);
        }
        if response.has_focus() || response.hovered() {
            ui.input(|i| {
                let step = |less, more| f32::from(i.key_down(more)) - f32::from(i.key_down(less));
                self.turn += 0.04 * step(egui::Key::ArrowLeft, egui::Key::ArrowRight);
                self.tilt =
                    (self.tilt + 0.04 * step(egui::Key::ArrowUp, egui::Key::ArrowDown)).clamp(-1.5, 1.5);
            });
        }
        let (tubes, names) = self.seen(tree);
        let (mut low, mut high) = (vec2(f32::MAX, f32::MAX), vec2(f32::MIN, f32::MIN));
        for t in &tubes {
            (low, high) = (low.min(t.from.min(t.to)), high.max(t.from.max(t.to)));
        }
        let room = rect.size() - vec2(120.0, 40.0);
        let scale = (room.x / (high.x - low.x).max(1.0)).min(room.y / (high.y - low.y).max(1.0)).max(0.01);
        let middle = 0.5 * (low + high);
        let at = |p: egui::Vec2| rect.center() + (p - middle) * scale;
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 6.0, look.ink.film);
        let (near, far) =
            tubes.iter().fold((f32::MIN, f32::MAX), |(n, f), t| (n.max(t.depth), f.min(t.depth)));
        for t in &tubes {
            let light = 0.45 + 0.55 * (t.depth - far) / (near - far).max(1.0);
            let ink = if t.lesion { look.ink.lesion } else { shade(look.ink.vessel, 1.6) };
            painter.line_segment(
                [at(t.from), at(t.to)],
                Stroke::new((t.width_mm * scale).max(1.0), shade(ink, light)),
            );
        }
        let mut taken: Vec<egui::Rect> = Vec::new();
        for (name, end) in names {
            let place = at(end) + vec2(4.0, 0.0);
            let galley = painter.layout_no_wrap(name, theme::plain(11.0), look.ink.soft);
            let spot = Align2::LEFT_CENTER.anchor_size(pos2(place.x, place.y), galley.size());
            if taken.iter().all(|t| !t.intersects(spot)) && rect.contains_rect(spot) {
                painter.galley(spot.min, galley, look.ink.soft);
                taken.push(spot);
            }
        }
    }

    /// Tubes from back to front, and where each branch ends.
    fn seen(&self, tree: &Tree) -> (Vec<Tube>, Vec<(String, egui::Vec2)>) {
        let (mut tubes, mut names) = (Vec::new(), Vec::new());
        for (i, vessel) in tree.vessels.iter().enumerate() {
            let length = vessel.curve.length_mm();
            // Far ends of branches say nothing about the case.
            let shown = if i == 0 { length } else { length.min(90.0) };
            let n = (shown / 4.0).ceil().max(1.0) as usize;
            let point = |k: usize| self.project(vessel.curve.point(shown * k as f64 / n as f64));
            for k in 0..n {
                let s = shown * (k as f64 + 0.5) / n as f64;
                let ((from, a), (to, b)) = (point(k), point(k + 1));
                let lesion = i == 0 && vessel.wall.lesions.iter().any(|l| (l.from_mm..l.to_mm).contains(&s));
                let width_mm = vessel.lumen.diameter_mm(s) as f32;
                tubes.push(Tube { from, to, depth: 0.5 * (a + b), width_mm, lesion });
            }
            if i > 0 {
                names.push((vessel.name.label().to_owned(), point(n).0));
            }
        }
        tubes.sort_by(|a, b| a.depth.total_cmp(&b.depth));
        (tubes, names)
    }

    /// A point of the patient on the page (right, down), and how near it is.
    fn project(&self, p: Vec3) -> (egui::Vec2, f32) {
        let (x, y, z) = (p.x as f32, p.y as f32, p.z as f32);
        let (s, c) = (ops::sin(self.turn), ops::cos(self.turn));
        // Seen from the front the patient's left is on the right of the page, and the front is near.
        let (right, near) = (x * c + y * s, x * s - y * c);
        let (st, ct) = (ops::sin(self.tilt), ops::cos(self.tilt));
        (vec2(right, -(z * ct - near * st)), near * ct + z * st)
    }
}

fn shade(c: Color32, by: f32) -> Color32 {
    let part = |x: u8| (f32::from(x) * by).clamp(0.0, 255.0) as u8;
    Color32::from_rgb(part(c.r()), part(c.g()), part(c.b()))
}
