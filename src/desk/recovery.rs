//! Recovery: three days on the ward, in hours. Time is let pass on purpose, and questions and orders come as before.

use super::orders::OrdersPanel;
use super::plot;
use super::question::QuestionPanel;
use super::seat::Seat;
use super::theme::{self, Look, gap};
use crate::scenario::Order;
use egui::{RichText, ScrollArea};

/// The panels of the ward.
#[derive(Default)]
pub struct RecoveryScreen {
    orders: OrdersPanel,
    questions: QuestionPanel,
}

impl RecoveryScreen {
    /// Shows it and returns what was ordered.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, seat: &mut Seat) -> Vec<Order> {
        let mut given = Vec::new();
        let w = look.words;
        let view = seat.view().clone();
        let on_ward = seat.on_ward();
        egui::Panel::left("ward orders").resizable(false).exact_size(300.0).show_separator_line(false).show(
            ui,
            |ui| {
                given.extend(self.orders.ui(ui, look, &view));
            },
        );
        egui::Panel::right("ward talk").resizable(false).exact_size(360.0).show_separator_line(false).show(
            ui,
            |ui| {
                seat.talk.ui(ui, look, &view);
            },
        );
        egui::CentralPanel::default().show(ui, |ui| {
            ui.label(theme::title(w.recovery));
            ui.label(
                RichText::new(if on_ward { w.recovery_about } else { w.recovery_not_yet })
                    .color(look.ink.soft),
            );
            ui.add_space(gap::M);
            ui.horizontal(|ui| {
                ui.label(w.let_time_pass);
                for (hours, text) in [(6.0, w.hours_6), (12.0, w.hours_12), (24.0, w.day)] {
                    if ui.add_enabled(on_ward, egui::Button::new(text)).clicked() {
                        given.push(Order::Recover { hours });
                    }
                }
            });
            ui.add_space(gap::M);
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                given.extend(self.questions.ui(ui, look, &view.asks, view.now));
                plot::vitals(ui, look, seat.keeper().session(), 260.0);
                ui.add_space(gap::M);
                ui.label(theme::eyebrow(look, w.laboratory));
                for (test, value, unit, at) in view.labs.iter().rev() {
                    ui.label(format!("{at}  {test}: {value:.1} {unit}"));
                }
            });
        });
        given
    }
}
