//! Recovery: three days on the ward, in hours. Time is let pass on purpose, and questions and orders come as before.

use super::orders::OrdersPanel;
use super::plot;
use super::question::{self, QuestionPanel};
use super::seat::Seat;
use super::theme::{self, Look, gap};
use crate::scenario::Order;
use crate::session::view::View;
use egui::{Panel, RichText, ScrollArea};

/// The panels of the ward.
#[derive(Default)]
pub struct RecoveryScreen {
    orders: OrdersPanel,
}

/// Width that orders, ward and talk together need, points.
const ROOM: f32 = 1060.0;

impl RecoveryScreen {
    /// Shows it and returns what was ordered.
    pub fn ui(
        &mut self,
        ui: &mut egui::Ui,
        look: &Look,
        seat: &mut Seat,
        questions: &mut QuestionPanel,
    ) -> Vec<Order> {
        let mut given = Vec::new();
        let view = seat.view().clone();
        let beside =
            |panel: Panel, width: f32| panel.resizable(false).exact_size(width).show_separator_line(false);
        let wide = ui.available_width() >= ROOM;
        let side = (0.42 * ui.available_width()).clamp(220.0, 300.0);
        beside(Panel::left("ward orders"), side).show(ui, |ui| {
            given.extend(self.orders.ui(ui, look, &view));
        });
        if wide {
            beside(Panel::right("ward talk"), 360.0).show(ui, |ui| seat.talk.ui(ui, look, &view));
        }
        egui::CentralPanel::default().show(ui, |ui| {
            ScrollArea::vertical().id_salt("ward").auto_shrink([false, false]).show(ui, |ui| {
                ward(ui, look, seat, &view, &mut given);
                given.extend(question::standing(ui, look, seat, questions, f32::INFINITY));
                plot::vitals(ui, look, seat.keeper().session(), 260.0);
                ui.add_space(gap::M);
                ui.label(theme::eyebrow(look, look.words.laboratory));
                for (test, value, unit, at) in view.labs.iter().rev() {
                    ui.label(format!("{at}  {test}: {value:.1} {unit}"));
                }
                if !wide {
                    ui.add_space(gap::M);
                    ui.push_id("talk below", |ui| {
                        ui.set_max_height(320.0);
                        seat.talk.ui(ui, look, &view);
                    });
                }
            });
        });
        given
    }
}

/// What the ward is, and the buttons that let its time pass.
fn ward(ui: &mut egui::Ui, look: &Look, seat: &Seat, view: &View, given: &mut Vec<Order>) {
    let w = look.words;
    let on_ward = seat.on_ward();
    ui.label(theme::title(w.recovery));
    let about = match (on_ward, view.ended.is_some()) {
        (true, _) => w.recovery_about,
        (false, true) => w.recovery_over,
        (false, false) => w.recovery_not_yet,
    };
    ui.label(RichText::new(about).color(look.ink.soft));
    ui.add_space(gap::M);
    ui.horizontal_wrapped(|ui| {
        ui.label(w.let_time_pass);
        for (hours, text) in [(6.0, w.hours_6), (12.0, w.hours_12), (24.0, w.day)] {
            if ui.add_enabled(on_ward, egui::Button::new(text)).clicked() {
                given.push(Order::Recover { hours });
            }
        }
    });
    ui.add_space(gap::M);
}
