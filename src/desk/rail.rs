//! The rail: one ruler of the aorta from the valve to the groin, and on it everything that lies in the patient.
//!
//! Above the vessel stand the ostia, in it the zones, the lesion and the released grafts, below it one lane for each
//! line with its devices nested as they lie. A tip is moved by dragging it, with the arrow keys once it has the
//! focus (1 mm, with Shift 10 mm), or by typing where it should lie; nothing moves in the patient before "Advance".

use super::rail_paint::{Ruler, paint_lane, paint_vessel};
use super::say;
use super::theme::{self, Look, gap};
use crate::anatomy::Site;
use crate::scenario::Order;
use crate::scenario::order::Mark;
use crate::session::view::{ItemView, LineView, RailView};
use egui::{EventFilter, Key, Rect, Sense, pos2, vec2};

/// The rail with what is about to be ordered on it.
#[derive(Default)]
pub struct RailPanel {
    /// The tip that was taken hold of: line, device, and where it should go.
    held: Option<(Site, String, f64)>,
    /// A place that was pointed at, mm.
    caret: Option<f64>,
    /// Part of the ruler that is shown, mm; none shows all of it.
    span: Option<(f64, f64)>,
}

impl RailPanel {
    /// Shows the rail and returns what was ordered on it.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, rail: &RailView) -> Vec<Order> {
        let mut orders = Vec::new();
        self.forget_what_is_gone(rail);
        self.bar(ui, look, rail, &mut orders);
        let lanes = rail.lines.len().max(1) as f32;
        let height = Ruler::HEAD + Ruler::BAND + Ruler::FOOT + lanes * Ruler::LANE + Ruler::FLAGS;
        let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
        let (from, to) = self.span.unwrap_or((0.0, rail.length_mm.max(1.0)));
        let ruler = Ruler::new(rect, from, to);
        self.point(ui, look, rail, &ruler);
        paint_vessel(ui.painter(), &ruler, rail, self.caret, look);
        if rail.lines.is_empty() {
            let at = pos2(ruler.x0(), ruler.lane(0).center().y);
            let hint = look.words.no_lines;
            ui.painter().text(at, egui::Align2::LEFT_CENTER, hint, theme::plain(15.0), look.ink.soft);
        }
        for (i, line) in rail.lines.iter().enumerate() {
            let held = self.held.as_ref().filter(|h| h.0 == line.site).map(|h| (h.1.as_str(), h.2));
            paint_lane(ui.painter(), &ruler, i, line, held, look);
            self.tips(ui, look, &ruler, i, line);
        }
        orders
    }

    /// A tip that was taken hold of may have come out meanwhile.
    fn forget_what_is_gone(&mut self, rail: &RailView) {
        let lies = |site: Site, device: &str| {
            rail.lines.iter().any(|l| l.site == site && l.items.iter().any(|i| i.device == device))
        };
        if self.held.as_ref().is_some_and(|h| !lies(h.0, &h.1)) {
            self.held = None;
        }
    }

    /// The line above the ruler: what is held or pointed at, and what can be done with it.
    fn bar(&mut self, ui: &mut egui::Ui, look: &Look, rail: &RailView, orders: &mut Vec<Order>) {
        let w = look.words;
        let handle = self.held.as_ref().map(|(site, device, _)| tip_id(ui, *site, device));
        ui.horizontal(|ui| {
            ui.label(theme::heading(w.rail));
            ui.add_space(gap::M);
            if let Some((site, device, to)) = &mut self.held {
                let item = rail
                    .lines
                    .iter()
                    .filter(|l| l.site == *site)
                    .flat_map(|l| &l.items)
                    .find(|i| i.device == *device);
                let now = item.map_or(*to, |i| i.tip_mm);
                let name = ui
                    .label(format!("{} · {now:.0} mm →", item.map_or(device.as_str(), |i| i.label.as_str())));
                ui.add(
                    egui::DragValue::new(to)
                        .range(0.0..=rail.length_mm)
                        .suffix(" mm")
                        .speed(1.0)
                        .fixed_decimals(0),
                )
                .labelled_by(name.id);
                let advance = ui.add_enabled((*to - now).abs() >= 0.5, egui::Button::new(w.advance));
                // Enter is the rail's only while nothing else has the keyboard: in a search or on an answer it moves no tip.
                let focused = ui.memory(egui::Memory::focused);
                let enter = advance.enabled()
                    && ui.input(|i| i.key_pressed(Key::Enter) && i.modifiers.is_none())
                    && (focused.is_none() || focused == handle);
                if advance.clicked() || enter {
                    orders.push(Order::Move { site: *site, device: device.clone(), to_mm: *to });
                    self.held = None;
                } else if ui.button(w.let_go).clicked() || ui.input(|i| i.key_pressed(Key::Escape)) {
                    self.held = None;
                }
            } else if let Some(at) = self.caret {
                ui.label(format!("{at:.0} mm"));
                egui::ComboBox::from_id_salt("mark here").selected_text(w.mark_here).show_ui(ui, |ui| {
                    for mark in Mark::ALL {
                        if ui.selectable_label(false, say::mark(mark, look.words)).clicked() {
                            orders.push(Order::Mark { name: mark, at_mm: at.round() });
                            self.caret = None;
                        }
                    }
                });
                if ui.button(w.let_go).clicked() {
                    self.caret = None;
                }
            } else {
                ui.label(egui::RichText::new(w.rail_hint).color(look.ink.soft).size(14.0));
            }
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| self.zoom(ui, look, rail));
        });
    }

    /// Whole aorta, or the part around what matters.
    fn zoom(&mut self, ui: &mut egui::Ui, look: &Look, rail: &RailView) {
        let w = look.words;
        let whole = self.span.is_none();
        // Round the marks if there are any, else the lesion, else the arch.
        let focus = rail.marks.iter().map(|m| (m.1, m.1)).chain(rail.lesions.iter().map(|l| (l.1, l.2)));
        let (from, to) = focus.fold((f64::MAX, f64::MIN), |r, s| (r.0.min(s.0), r.1.max(s.1)));
        let near = if from > to { (0.0, 0.4 * rail.length_mm) } else { (from - 60.0, to + 60.0) };
        if ui.selectable_label(!whole, w.rail_near).clicked() {
            self.span = Some((near.0.max(0.0), near.1.min(rail.length_mm)));
        }
        if ui.selectable_label(whole, w.rail_whole).clicked() {
            self.span = None;
        }
    }

    /// Pointing at the vessel sets the caret.
    fn point(&mut self, ui: &mut egui::Ui, look: &Look, rail: &RailView, ruler: &Ruler) {
        let id = ui.id().with("vessel");
        let response = ui.interact(ruler.band(), id, Sense::click());
        let twin = say::rail(rail, look.words);
        response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &twin));
        if response.clicked() {
            let at = response.interact_pointer_pos().map(|p| ruler.mm(p.x)).unwrap_or(0.5 * rail.length_mm);
            self.caret = Some(at.clamp(0.0, rail.length_mm).round());
            self.held = None;
        }
        if response.has_focus() {
            keep_arrows(ui, id);
            let caret = self.caret.unwrap_or(0.5 * rail.length_mm);
            if let Some(step) = arrows(ui) {
                self.caret = Some((caret + step).clamp(0.0, rail.length_mm).round());
                self.held = None;
            }
            ui.painter().rect_stroke(
                ruler.band().expand(2.0),
                8.0,
                (2.0, look.ink.accent),
                egui::StrokeKind::Outside,
            );
        }
    }

    /// A handle on each tip.
    fn tips(&mut self, ui: &mut egui::Ui, look: &Look, ruler: &Ruler, lane: usize, line: &LineView) {
        for item in &line.items {
            let held = self.held.as_ref().filter(|h| h.0 == line.site && h.1 == item.device).map(|h| h.2);
            let x = ruler.x(held.unwrap_or(item.tip_mm));
            if x < ruler.x0() - 1.0 || x > ruler.x1() + 1.0 {
                continue;
            }
            let rect =
                Rect::from_center_size(pos2(x, ruler.lane(lane).center().y), vec2(18.0, Ruler::LANE - 6.0));
            let id = tip_id(ui, line.site, &item.device);
            let response = ui.interact(rect, id, Sense::click_and_drag());
            let says = tip_says(line, item, held);
            response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Slider, true, &says));
            let (top, bottom) = (rect.top() + 4.0, rect.bottom() - 4.0);
            let ink = if held.is_some() || response.hovered() { look.ink.accent } else { look.ink.metal };
            ui.painter().line_segment([pos2(x, top), pos2(x, bottom)], egui::Stroke::new(2.5, ink));
            if response.has_focus() {
                ui.painter().rect_stroke(rect, 5.0, (2.0, look.ink.accent), egui::StrokeKind::Inside);
                keep_arrows(ui, id);
                if let Some(step) = arrows(ui) {
                    let to = (held.unwrap_or(item.tip_mm) + step).round();
                    self.held = Some((line.site, item.device.clone(), to.max(0.0)));
                }
            }
            if response.dragged()
                && let Some(p) = response.interact_pointer_pos()
            {
                self.held = Some((line.site, item.device.clone(), ruler.mm(p.x).max(0.0).round()));
            } else if response.clicked() {
                self.held = Some((line.site, item.device.clone(), item.tip_mm.round()));
                response.request_focus();
            }
            response.on_hover_cursor(egui::CursorIcon::ResizeHorizontal).on_hover_text(&item.label);
        }
    }
}

/// Of the handle of a tip; `ui` is the rail's own.
fn tip_id(ui: &egui::Ui, site: Site, device: &str) -> egui::Id {
    ui.id().with(("tip", site.label(), device))
}

fn tip_says(line: &LineView, item: &ItemView, held: Option<f64>) -> String {
    let going = held.map_or(String::new(), |to| format!(", to go to {to:.0} mm"));
    format!("{}, {}: tip at {:.0} mm{going}", say::site(line.site), item.label, item.tip_mm)
}

/// Arrow keys stay with the rail while a part of it has the focus.
fn keep_arrows(ui: &egui::Ui, id: egui::Id) {
    let filter = EventFilter { horizontal_arrows: true, ..EventFilter::default() };
    ui.memory_mut(|m| m.set_focus_lock_filter(id, filter));
}

/// Millimetres asked for by the arrow keys in this frame.
fn arrows(ui: &egui::Ui) -> Option<f64> {
    ui.input(|i| {
        let step = if i.modifiers.shift { 10.0 } else { 1.0 };
        let presses = |key| {
            i.events
                .iter()
                .filter(|e| matches!(e, egui::Event::Key { key: k, pressed: true, .. } if *k == key))
                .count() as f64
        };
        let by = (presses(Key::ArrowRight) - presses(Key::ArrowLeft)) * step;
        (by != 0.0).then_some(by)
    })
}
