//! The case's phases as a picture, with the state where a session of this case stands, or the one that was chosen, lit.

use crate::cli::chart::CaseWords;
use crate::desk::theme::{self, Look};
use crate::scenario::Loaded;
use crate::scenario::chart::StateKind;
use crate::scenario::chart::export::{Picture, Point, layout};
use egui::{Align2, Pos2, Rect, ScrollArea, Sense, Shape, Stroke, StrokeKind, pos2, vec2};

/// What the chart remembers between frames.
#[derive(Default)]
pub struct ChartPanel {
    edition: u64,
    picture: Option<Picture>,
}

impl ChartPanel {
    /// Shows it. A state that is pressed becomes the chosen one; those in `lit` are where a session stands.
    pub fn ui(
        &mut self,
        ui: &mut egui::Ui,
        look: &Look,
        (case, edition): (&Loaded, u64),
        lit: &[String],
        chosen: &mut Option<String>,
    ) {
        if self.edition != edition {
            self.edition = edition;
            self.picture = Some(layout(&case.chart, &CaseWords { case }));
        }
        let Some(picture) = &self.picture else { return };
        ScrollArea::both().auto_shrink([false, false]).id_salt("chart").show(ui, |ui| {
            let size = vec2(picture.size.width as f32 + 16.0, picture.size.height as f32 + 16.0);
            let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
            let at = |p: Point| rect.min + vec2(8.0 + p.x as f32, 8.0 + p.y as f32);
            for shape in &picture.shapes {
                let corner = at(shape.corner);
                let area =
                    Rect::from_min_size(corner, vec2(shape.size.width as f32, shape.size.height as f32));
                let Some(state) = shape.state else {
                    ui.painter().circle_filled(area.center(), 0.5 * area.width(), look.ink.soft);
                    continue;
                };
                let name = case.chart.name(state);
                let response = ui.interact(area, ui.id().with(("state", name)), Sense::click());
                let is_lit = lit.iter().any(|l| l == name);
                let is_chosen = chosen.as_deref() == Some(name);
                response.widget_info(|| {
                    egui::WidgetInfo::selected(egui::WidgetType::Button, true, is_lit || is_chosen, name)
                });
                let fill = if is_lit { look.ink.lifted } else { look.ink.panel };
                let edge = match (is_lit || is_chosen, response.has_focus() || response.hovered()) {
                    (true, _) => Stroke::new(2.5, look.ink.accent),
                    (false, true) => Stroke::new(1.5, look.ink.text),
                    (false, false) => Stroke::new(1.0, look.ink.line),
                };
                ui.painter().rect(
                    area,
                    if case.chart.kind(state) == StateKind::Parallel { 0.0 } else { 6.0 },
                    fill,
                    edge,
                    StrokeKind::Inside,
                );
                for (i, line) in shape.lines.iter().enumerate() {
                    let place = pos2(area.center().x, area.top() + 6.0 + 15.0 * i as f32);
                    let ink = if i == 0 { look.ink.text } else { look.ink.soft };
                    ui.painter().text(place, Align2::CENTER_TOP, line, theme::plain(12.0), ink);
                }
                // Never by colour alone.
                if is_lit {
                    ui.painter().text(
                        area.right_top() + vec2(-6.0, 4.0),
                        Align2::RIGHT_TOP,
                        "▶",
                        theme::plain(12.0),
                        look.ink.accent,
                    );
                }
                if response.clicked() {
                    *chosen = Some(name.to_owned());
                }
            }
            for arrow in &picture.arrows {
                let points: Vec<Pos2> = arrow.points.iter().map(|p| at(*p)).collect();
                let [.., before, end] = points.as_slice() else { continue };
                let back = (*before - *end).normalized();
                let side = vec2(-back.y, back.x);
                let head = vec![*end, *end + 7.0 * back + 3.5 * side, *end + 7.0 * back - 3.5 * side];
                ui.painter().add(Shape::convex_polygon(head, look.ink.soft, Stroke::NONE));
                ui.painter().add(Shape::line(points, Stroke::new(1.2, look.ink.soft)));
            }
            for arrow in &picture.arrows {
                let text = arrow.label.join("\n");
                let galley = ui.painter().layout_no_wrap(text, theme::plain(10.5), look.ink.soft);
                let spot = Align2::CENTER_CENTER.anchor_size(at(arrow.label_centre), galley.size());
                ui.painter().rect_filled(spot, 2.0, look.ink.ground.gamma_multiply(0.85));
                ui.painter().galley(spot.min, galley, look.ink.soft);
            }
        });
    }
}
