//! The vessels in three dimensions, to turn by hand: each as a chain of short tubes, the farther ones first and darker; over
//! them what lies inside.

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

/// Something that lies in the vessels.
pub struct Rod {
    /// Its axis, mm.
    pub path: Vec<Vec3>,
    /// Half its width, mm.
    pub radius_mm: f64,
    /// Metal, or plastic.
    pub metal: bool,
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
    /// Shows them in so much room, under a name for those who do not see it.
    pub fn ui(
        &mut self,
        ui: &mut egui::Ui,
        look: &Look,
        size: egui::Vec2,
        about: &str,
        tree: &Tree,
        inside: &[Rod],
    ) {
        let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
        response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Other, true, about));
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
        for (from, to, depth, rod) in self.lying(inside) {
            let light = 0.7 + 0.3 * ((depth - far) / (near - far).max(1.0)).clamp(0.0, 1.0);
            let ink = if rod.metal { look.ink.metal } else { look.ink.plastic };
            let width = (2.0 * rod.radius_mm as f32 * scale).max(1.0);
            painter.line_segment([at(from), at(to)], Stroke::new(width, shade(ink, light)));
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

    /// Short pieces of what lies inside, from back to front.
    fn lying<'r>(&self, inside: &'r [Rod]) -> Vec<(egui::Vec2, egui::Vec2, f32, &'r Rod)> {
        let mut pieces = Vec::new();
        for rod in inside {
            for pair in rod.path.windows(2) {
                let ((from, a), (to, b)) = (self.project(pair[0]), self.project(pair[1]));
                pieces.push((from, to, 0.5 * (a + b), rod));
            }
        }
        // Of two at one depth the thinner lies inside, and is shown.
        pieces.sort_by(|a, b| b.3.radius_mm.total_cmp(&a.3.radius_mm).then(a.2.total_cmp(&b.2)));
        pieces
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
