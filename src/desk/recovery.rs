//! Recovery: three days on the ward, in hours. Time is let pass on purpose, and questions and orders come as before.

use super::orders::OrdersPanel;
use super::plot;
use super::seat::Bedside;
use super::theme::{self, gap};
use crate::scenario::Order;
use egui::{Panel, RichText, ScrollArea};

/// The panels of the ward.
#[derive(Default)]
pub struct RecoveryScreen {
    orders: OrdersPanel,
}

/// Width that orders, ward and talk together need, points.
const ROOM: f32 = 1060.0;

impl RecoveryScreen {
    /// Shows it; what was ordered is added to `at.given`.
    pub fn ui(&mut self, ui: &mut egui::Ui, at: &mut Bedside<'_>) {
        let (look, view) = (at.look, at.seat.moment());
        let bare = egui::Frame::new().inner_margin(egui::Margin::symmetric(8, 2));
        let beside = |panel: Panel, width: f32| {
            panel.frame(bare).resizable(false).exact_size(width).show_separator_line(false)
        };
        let wide = ui.available_width() >= ROOM;
        let side = (0.42 * ui.available_width()).clamp(220.0, 300.0);
        beside(Panel::left("ward orders"), side).show(ui, |ui| {
            at.given.extend(self.orders.ui(ui, &look, &view));
        });
        if wide {
            beside(Panel::right("ward talk"), 360.0).show(ui, |ui| at.seat.talk.ui(ui, &look, &view));
        }
        egui::CentralPanel::default().frame(bare).show(ui, |ui| {
            ScrollArea::vertical().id_salt("ward").auto_shrink([false, false]).show(ui, |ui| {
                ward(ui, at);
                at.questions(ui, f32::INFINITY);
                plot::vitals(ui, &look, at.seat.keeper().session(), 260.0);
                ui.add_space(gap::M);
                ui.label(theme::eyebrow(&look, look.words.laboratory));
                for (test, value, unit, at) in view.labs.iter().rev() {
                    ui.label(format!("{at}  {test}: {value:.1} {unit}"));
                }
                if !wide {
                    ui.add_space(gap::M);
                    ui.push_id("talk below", |ui| {
                        ui.set_max_height(320.0);
                        at.seat.talk.ui(ui, &look, &view);
                    });
                }
            });
        });
    }
}

/// What the ward is, and the buttons that let its time pass.
fn ward(ui: &mut egui::Ui, at: &mut Bedside<'_>) {
    let w = at.look.words;
    let on_ward = at.seat.on_ward();
    ui.label(theme::title(w.recovery));
    let about = match (on_ward, at.seat.view().ended.is_some()) {
        (true, _) => w.recovery_about,
        (false, true) => w.recovery_over,
        (false, false) => w.recovery_not_yet,
    };
    ui.label(RichText::new(about).color(at.look.ink.soft));
    ui.add_space(gap::M);
    ui.horizontal_wrapped(|ui| {
        ui.label(w.let_time_pass);
        for (hours, text) in [(6.0, w.hours_6), (12.0, w.hours_12), (24.0, w.day)] {
            if ui.add_enabled(on_ward, egui::Button::new(text)).clicked() {
                at.given.push(Order::Recover { hours });
            }
        }
    });
    ui.add_space(gap::M);
}
