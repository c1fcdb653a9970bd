//! The text with its line numbers, and under it everything that is to be said about it; each thing leads to its line.

use super::source::Source;
use crate::desk::theme::{self, Look, gap};
use crate::scenario::Level;
use crate::scenario::diagnostic::line_column;
use egui::{Align2, RichText, ScrollArea, Sense, pos2, vec2};

/// Height of a line, points.
const LINE: f32 = 17.0;

/// What the text remembers between frames.
#[derive(Default)]
pub struct TextPanel {
    edition: u64,
    /// The lines' bytes.
    lines: Vec<std::ops::Range<usize>>,
    /// For each line the gravest thing said about it.
    marked: Vec<Option<Level>>,
    /// The line to be scrolled to.
    wanted: Option<usize>,
    /// The line that was last led to.
    shown: usize,
}

impl TextPanel {
    /// Shows both.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, source: &Source) {
        if self.edition != source.edition {
            self.edition = source.edition;
            self.read(source);
        }
        let told = if source.found.is_empty() { 0.0 } else { 0.34 * ui.available_height() };
        let high = (ui.available_height() - told - gap::S).max(160.0);
        theme::sheet(look).show(ui, |ui| {
            ui.set_min_size(vec2(ui.available_width(), high - 24.0));
            ui.set_max_height(high - 24.0);
            self.lines_ui(ui, look, source);
        });
        if told > 0.0 {
            ui.add_space(gap::S);
            self.told(ui, look, source);
        }
    }

    fn read(&mut self, source: &Source) {
        let text = source.text();
        let mut start = 0;
        self.lines.clear();
        for line in text.split_inclusive('\n') {
            let bare = line.trim_end_matches(['\n', '\r']).len();
            self.lines.push(start..start + bare);
            start += line.len();
        }
        self.marked = vec![None; self.lines.len()];
        for d in &source.found {
            let (line, _) = line_column(text, d.span.start);
            if let Some(mark) = self.marked.get_mut(line - 1) {
                *mark = Some(mark.map_or(d.level, |m| m.min(d.level)));
            }
        }
        self.shown = self.shown.min(self.lines.len());
    }

    fn lines_ui(&mut self, ui: &mut egui::Ui, look: &Look, source: &Source) {
        let mut area = ScrollArea::both().auto_shrink([false, false]).id_salt("text");
        if let Some(line) = self.wanted.take() {
            area = area.vertical_scroll_offset(((line as f32) - 6.0).max(0.0) * LINE);
            self.shown = line;
        }
        ui.spacing_mut().item_spacing.y = 0.0;
        area.show_rows(ui, LINE, self.lines.len(), |ui, rows| {
            for i in rows {
                let text = source.text().get(self.lines[i].clone()).unwrap_or_default();
                let galley = ui.painter().layout_no_wrap(text.to_owned(), theme::mono(13.0), look.ink.text);
                let width = (60.0 + galley.size().x).max(ui.available_width());
                let (rect, response) = ui.allocate_exact_size(vec2(width, LINE), Sense::hover());
                response.widget_info(|| {
                    egui::WidgetInfo::labeled(egui::WidgetType::Label, true, format!("{}: {text}", i + 1))
                });
                if self.shown == i + 1 {
                    ui.painter().rect_filled(rect, 2.0, look.ink.raised);
                }
                let number = pos2(rect.left() + 34.0, rect.center().y);
                ui.painter().text(number, Align2::RIGHT_CENTER, i + 1, theme::mono(11.0), look.ink.faint);
                if let Some(level) = self.marked.get(i).copied().flatten() {
                    let (sign, ink) = sign(level, look);
                    ui.painter().text(
                        pos2(rect.left() + 46.0, rect.center().y),
                        Align2::CENTER_CENTER,
                        sign,
                        theme::bold(11.0),
                        ink,
                    );
                    let foot = rect.bottom() - 1.0;
                    ui.painter().hline(
                        rect.left() + 58.0..=rect.left() + 58.0 + galley.size().x,
                        foot,
                        egui::Stroke::new(1.0, ink),
                    );
                }
                ui.painter().galley(
                    pos2(rect.left() + 58.0, rect.center().y - 0.5 * galley.size().y),
                    galley,
                    look.ink.text,
                );
            }
        });
    }

    fn told(&mut self, ui: &mut egui::Ui, look: &Look, source: &Source) {
        let count = |level| source.found.iter().filter(|d| d.level == level).count();
        let w = look.words;
        let head = format!(
            "{} {} · {} {} · {} {}",
            count(Level::Fault),
            w.bench_faults,
            count(Level::Doubt),
            w.bench_doubts,
            count(Level::Advice),
            w.bench_advice
        );
        ui.label(theme::eyebrow(look, &head));
        ScrollArea::vertical().auto_shrink([false, false]).id_salt("told").show(ui, |ui| {
            for d in &source.found {
                let (line, _) = line_column(source.text(), d.span.start);
                let (mark, ink) = sign(d.level, look);
                let mut said = format!("{mark} {line}: {}", d.message);
                if !d.expected.is_empty() {
                    said += &format!(" (expected {})", d.expected);
                }
                let label =
                    egui::Label::new(RichText::new(&said).color(ink).size(14.0)).wrap().sense(Sense::click());
                let response = ui.add(label);
                response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Link, true, &said));
                if response.clicked() {
                    self.wanted = Some(line);
                }
                if !d.hint.is_empty() {
                    ui.horizontal_top(|ui| {
                        ui.add_space(gap::M);
                        if ui.small_button(w.bench_copy).on_hover_text(w.bench_copy_about).clicked() {
                            ui.ctx().copy_text(d.hint.clone());
                        }
                        ui.add(
                            egui::Label::new(RichText::new(&d.hint).size(13.0).color(look.ink.soft)).wrap(),
                        );
                    });
                }
            }
        });
    }
}

/// A level by its shape and its colour.
fn sign(level: Level, look: &Look) -> (&'static str, egui::Color32) {
    match level {
        Level::Fault => ("■", look.ink.lesion),
        Level::Doubt => ("△", look.ink.trace),
        Level::Advice => ("·", look.ink.soft),
    }
}
