//! The educator's own panel beside a running case: stop and start the patient's time, let something happen, add a note.
//!
//! What an educator lets happen is an order like any other, given in the educator's name: it goes into the log, takes its
//! time, and changes the patient through the same models. In an examination there is no such panel.

use super::orders::OrdersPanel;
use super::pace::Pace;
use super::theme::{self, Look, gap};
use crate::scenario::Order;
use crate::session::view::View;
use egui::RichText;

/// The panel with what is being written on it.
#[derive(Default)]
pub struct EducatorPanel {
    orders: OrdersPanel,
    note: String,
}

impl EducatorPanel {
    /// Shows it; returns the educator's orders.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, view: &View, pace: &mut Pace) -> Vec<Order> {
        let mut given = Vec::new();
        let w = look.words;
        ui.label(RichText::new(w.educator_about).size(14.0).color(look.ink.soft));
        ui.horizontal(|ui| {
            let stands = *pace == Pace::Paused;
            let text = if stands { w.educator_go } else { w.educator_stop };
            if ui.add_enabled(view.ended.is_none(), egui::Button::new(text)).clicked() {
                *pace = if stands { Pace::Real } else { Pace::Paused };
            }
            ui.label(RichText::new(view.now.to_string()).font(theme::bold(16.0)));
        });
        ui.add_space(gap::S);
        let label = ui.label(theme::eyebrow(look, w.educator_note));
        ui.add(egui::TextEdit::multiline(&mut self.note).desired_rows(2).desired_width(f32::INFINITY))
            .labelled_by(label.id);
        let written = !self.note.trim().is_empty();
        if ui.add_enabled(written, egui::Button::new(w.educator_add_note)).clicked() {
            given.push(Order::Note { text: std::mem::take(&mut self.note).trim().to_owned() });
        }
        ui.add_space(gap::M);
        ui.push_id("educator", |ui| given.extend(self.orders.titled(ui, look, view, w.educator_happens)));
        given
    }
}
