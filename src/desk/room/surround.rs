//! What stands round every screen: the head with the way through the case and the clock, the foot with what every screen
//! says, and what lies over a screen: the settings and the educator's panel.

use super::super::seat::Seat;
use super::super::settings::Settings;
use super::super::sound::speaker::{Silence, Speaker};
use super::super::theatre;
use super::super::theme::{self, Look, gap};
use super::{Desk, NARROW, Screen};
use crate::session::event::Giver;
use crate::session::log::Mode;
use egui::{Frame, Key, Margin, Modifiers, Panel, RichText, ScrollArea};

impl Desk {
    /// The head: name, the way through the case, the patient in one line, and the clock.
    pub(super) fn head(&mut self, ui: &mut egui::Ui, look: &Look) {
        let narrow = ui.available_width() < NARROW;
        let frame = Frame::new()
            .fill(look.ink.panel)
            .inner_margin(Margin::symmetric(if narrow { 8 } else { 16 }, if narrow { 4 } else { 7 }));
        Panel::top("head").frame(frame).resizable(false).show_separator_line(false).show(ui, |ui| {
            if narrow {
                self.narrow_head(ui, look);
            } else {
                self.wide_head(ui, look);
            }
        });
    }

    fn wide_head(&mut self, ui: &mut egui::Ui, look: &Look) {
        ui.horizontal(|ui| {
            ui.label(RichText::new(look.words.name).font(theme::serif(21.0)).color(look.ink.accent));
            ui.add_space(gap::M);
            if self.seat.is_some() {
                let bench = self.bench.as_ref().map(|_| Screen::Workbench);
                for screen in bench.into_iter().chain(Screen::OF_A_CASE) {
                    if ui.selectable_label(self.screen == screen, screen.name(look)).clicked() {
                        self.screen = screen;
                    }
                }
            }
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                if ui.button(look.words.settings).clicked() {
                    self.settings_open = !self.settings_open;
                }
                ui.add_space(gap::S);
                let Some(seat) = &mut self.seat else { return };
                ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                    ui.add_space(gap::L);
                    let now = seat.view().now;
                    seat.clock.ui(ui, look, now, seat.mode() != Mode::Examination);
                    if self.screen != Screen::Theatre {
                        ui.add_space(gap::M);
                        let room = ui.available_width() - 90.0;
                        theatre::strip(ui, look, seat, room);
                    }
                });
            });
        });
    }

    /// Two lines: the screens as a list and the clock, then the patient.
    fn narrow_head(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        ui.spacing_mut().item_spacing = egui::vec2(4.0, 2.0);
        ui.spacing_mut().button_padding.x = 8.0;
        ui.horizontal(|ui| {
            let Some(seat) = &mut self.seat else {
                ui.label(RichText::new(w.name).font(theme::serif(21.0)).color(look.ink.accent));
                ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                    if ui.button(w.settings).clicked() {
                        self.settings_open = !self.settings_open;
                    }
                });
                return;
            };
            egui::ComboBox::from_id_salt("screens")
                .selected_text(self.screen.name(look))
                .width(96.0)
                .show_ui(ui, |ui| {
                    let bench = self.bench.as_ref().map(|_| Screen::Workbench);
                    for screen in bench.into_iter().chain(Screen::OF_A_CASE) {
                        ui.selectable_value(&mut self.screen, screen, screen.name(look));
                    }
                })
                .response
                .widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::ComboBox, true, w.screens));
            ui.add_space(gap::S);
            let now = seat.view().now;
            seat.clock.ui(ui, look, now, seat.mode() != Mode::Examination);
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                if ui.button("⚙").on_hover_text(w.settings).clicked() {
                    self.settings_open = !self.settings_open;
                }
            });
        });
        if let Some(seat) = &self.seat {
            ui.horizontal(|ui| {
                let room = ui.available_width();
                theatre::strip(ui, look, seat, room);
            });
        }
    }

    /// The foot: what every screen says, and the desk's own notices.
    pub(super) fn foot(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        let frame = Frame::new().fill(look.ink.panel).inner_margin(Margin::symmetric(16, 1));
        Panel::bottom("foot").frame(frame).resizable(false).show_separator_line(false).show(ui, |ui| {
            let seat = self.seat.as_ref();
            // What endangers the log is said in full, over everything else.
            let trouble = seat.and_then(Seat::trouble).map(|why| format!("■ {}: {why}", w.log_trouble));
            let unlogged = seat.filter(|s| s.keeper().path().is_none()).map(|_| w.no_log.to_owned());
            if let Some(text) = trouble.or(unlogged) {
                let text = RichText::new(text).font(theme::bold(13.0)).color(look.ink.lesion);
                ui.add(egui::Label::new(text).wrap());
            }
            ui.horizontal(|ui| {
                let phase = seat.map(|s| s.view().phase.join(" · ")).unwrap_or_default();
                if !phase.is_empty() {
                    ui.label(RichText::new(phase).font(theme::bold(13.0)).color(look.ink.text));
                    ui.add_space(gap::M);
                }
                let text = match &self.notice {
                    Some(notice) => format!("{} {notice}", w.training_short),
                    None => w.training_only.to_owned(),
                };
                let label = egui::Label::new(RichText::new(&text).size(12.5).color(look.ink.soft)).truncate();
                ui.add(label).on_hover_text(text);
            });
        });
    }

    /// The educator's panel, over the right edge.
    pub(super) fn educator_window(&mut self, ui: &mut egui::Ui, look: &Look) {
        let Some(seat) = self.seat.as_mut().filter(|s| s.mode() != Mode::Examination) else { return };
        let mut open = self.educator_open;
        if ui.input_mut(|i| i.consume_key(Modifiers::NONE, Key::F9)) {
            open = !open;
        }
        let high = 0.8 * ui.ctx().content_rect().height();
        let view = seat.view().clone();
        let mut given = Vec::new();
        egui::Window::new(look.words.educator)
            .open(&mut open)
            .frame(theme::card(look))
            .default_width(320.0)
            .max_height(high)
            .anchor(egui::Align2::RIGHT_TOP, [-12.0, 60.0])
            .collapsible(false)
            .resizable(false)
            .show(ui.ctx(), |ui| {
                ui.set_max_height(high - 60.0);
                given = self.educator.ui(ui, look, &view, &mut seat.clock.pace);
            });
        self.educator_open = open;
        seat.give_as(&Giver::Educator, given);
    }

    pub(super) fn settings_sheet(&mut self, ui: &mut egui::Ui, look: &Look) {
        let before = self.settings.clone();
        let modal = egui::Modal::new(egui::Id::new("settings")).frame(theme::card(look).inner_margin(24));
        let room = ui.ctx().content_rect().size() - egui::vec2(80.0, 90.0);
        let response = modal.show(ui.ctx(), |ui| {
            ui.set_width(room.x.min(460.0));
            // It takes the height that it needs before it scrolls.
            let scroll = ScrollArea::vertical().max_height(room.y).min_scrolled_height(room.y);
            scroll.show(ui, |ui| self.settings_page(ui, look)).inner
        });
        if response.inner || response.should_close() {
            self.settings_open = false;
        }
        if before != self.settings
            && let Err(why) = self.settings.save()
        {
            self.notice = Some(why);
        }
    }

    /// What can be set; true when it is to be closed.
    fn settings_page(&mut self, ui: &mut egui::Ui, look: &Look) -> bool {
        let w = look.words;
        ui.label(theme::heading(w.settings));
        ui.add_space(gap::S);
        ui.label(w.text_size);
        ui.horizontal_wrapped(|ui| {
            for size in Settings::SIZES {
                ui.selectable_value(&mut self.settings.size_percent, size, format!("{size} %"));
            }
        });
        ui.checkbox(&mut self.settings.contrast, w.high_contrast);
        ui.checkbox(&mut self.settings.still, w.reduced_motion);
        ui.checkbox(&mut self.settings.sound, w.sound);
        let (about, ink) = match self.speaker.as_ref().and_then(Speaker::silence) {
            None => (w.sound_about.to_owned(), look.ink.soft),
            Some(Silence::NoPlayer(names)) => {
                (format!("{} {}", w.no_player, names.join(", ")), look.ink.lesion)
            }
            Some(Silence::Failed(why) | Silence::NoFolder(why)) => {
                (format!("{} {why}", w.sound_failed), look.ink.lesion)
            }
        };
        ui.label(RichText::new(about).size(14.0).color(ink));
        ui.add_space(gap::S);
        ui.label(theme::eyebrow(look, w.keys));
        ui.label(RichText::new(w.keys_text).size(14.0).color(look.ink.soft));
        ui.add_space(gap::M);
        ui.horizontal_wrapped(|ui| {
            let close = ui.button(w.close).clicked();
            let taught = self.seat.as_ref().is_some_and(|s| s.mode() != Mode::Examination);
            if taught && ui.button(w.educator).clicked() {
                (self.educator_open, self.settings_open) = (!self.educator_open, false);
            }
            if self.seat.is_some() && ui.button(w.leave).clicked() {
                self.settings_open = false;
                if let Err(why) = self.leave() {
                    self.cases.trouble = Some(why);
                }
            }
            close
        })
        .inner
    }
}
