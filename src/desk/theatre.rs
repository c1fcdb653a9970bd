//! The theatre: the picture large, the monitor and the talk beside it, the orders, and across the foot the rail.

use super::carm::CarmPanel;
use super::orders::OrdersPanel;
use super::question::QuestionPanel;
use super::rail::RailPanel;
use super::seat::Seat;
use super::theme::{self, Look, gap};
use crate::scenario::Order;
use crate::session::view::View;
use egui::{Frame, Margin, Panel, RichText, ScrollArea};

/// The panels of the theatre.
#[derive(Default)]
pub struct TheatreScreen {
    orders: OrdersPanel,
    rail: RailPanel,
    carm: CarmPanel,
    questions: QuestionPanel,
}

impl TheatreScreen {
    /// Shows it and returns what was ordered.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, seat: &mut Seat) -> Vec<Order> {
        let mut given = Vec::new();
        let view = seat.view().clone();
        let wide = ui.available_width() > 1500.0;
        Panel::bottom("rail").frame(pane(look)).resizable(false).show_separator_line(false).show(ui, |ui| {
            given.extend(self.rail.ui(ui, look, &view.rail));
        });
        let side = if wide { 340.0 } else { 272.0 };
        Panel::left("orders")
            .frame(pane(look))
            .resizable(false)
            .exact_size(side)
            .show_separator_line(false)
            .show(ui, |ui| {
                given.extend(self.orders.ui(ui, look, &view));
            });
        let side = if wide { 440.0 } else { 344.0 };
        Panel::right("monitor")
            .frame(pane(look))
            .resizable(false)
            .exact_size(side)
            .show_separator_line(false)
            .show(ui, |ui| {
                seat.monitor.ui(ui, look, &view.vitals, &view.alarms);
                ui.add_space(gap::S);
                seat.talk.ui(ui, look, &view);
            });
        egui::CentralPanel::default().frame(pane(look)).show(ui, |ui| {
            self.centre(ui, look, seat, &view, &mut given);
        });
        given
    }

    /// Open questions over the picture; beside it the C-arm and what has been used.
    fn centre(
        &mut self,
        ui: &mut egui::Ui,
        look: &Look,
        seat: &mut Seat,
        view: &View,
        given: &mut Vec<Order>,
    ) {
        if !view.asks.is_empty() {
            let most = 0.6 * ui.available_height();
            ScrollArea::vertical().id_salt("questions").max_height(most).show(ui, |ui| {
                given.extend(self.questions.ui(ui, look, &view.asks, view.now));
            });
        }
        let side = 236.0;
        Panel::right("c-arm")
            .frame(Frame::new().inner_margin(Margin { left: 12, ..Margin::ZERO }))
            .resizable(false)
            .exact_size(side)
            .show_separator_line(false)
            .show(ui, |ui| {
                ScrollArea::vertical().id_salt("c-arm and tallies").auto_shrink([false, false]).show(
                    ui,
                    |ui| {
                        let blocked =
                            view.offers.iter().find(|o| o.verb == "aim").and_then(|o| o.blocked.as_deref());
                        given.extend(self.carm.ui(ui, look, &view.carm, blocked));
                        tallies(ui, look, view);
                    },
                );
            });
        seat.picture_ui(ui, look);
    }
}

/// A sheet without a frame: the ground itself, with room around.
fn pane(look: &Look) -> Frame {
    Frame::new().fill(look.ink.ground).inner_margin(Margin { left: 14, right: 14, top: 8, bottom: 8 })
}

/// What has been used, and the last laboratory results.
fn tallies(ui: &mut egui::Ui, look: &Look, view: &View) {
    let w = look.words;
    ui.add_space(gap::M);
    ui.label(theme::eyebrow(look, w.tallies));
    for t in &view.tally {
        row(ui, look, t.name, &number(t.value), t.unit);
    }
    if !view.labs.is_empty() {
        ui.add_space(gap::S);
        ui.label(theme::eyebrow(look, w.laboratory));
        for (test, value, unit, _) in view.labs.iter().rev().take(8) {
            row(ui, look, test, &number(*value), unit);
        }
    }
}

fn row(ui: &mut egui::Ui, look: &Look, name: &str, value: &str, unit: &str) {
    ui.spacing_mut().interact_size.y = 18.0;
    ui.spacing_mut().item_spacing.y = 3.0;
    ui.horizontal(|ui| {
        ui.label(RichText::new(name).size(13.0).color(look.ink.soft));
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            ui.label(RichText::new(format!("{value} {unit}")).font(theme::bold(13.0)));
        });
    });
}

/// As many digits as mean something.
fn number(value: f64) -> String {
    match value.abs() {
        v if v >= 100.0 => format!("{value:.0}"),
        v if v >= 10.0 => format!("{value:.1}"),
        0.0 => "0".into(),
        _ => format!("{value:.2}"),
    }
}

/// Shows the vital signs of the seat in one line.
pub fn strip(ui: &mut egui::Ui, look: &Look, seat: &Seat, room: f32) {
    seat.monitor.strip(ui, look, &seat.view().vitals, &seat.view().alarms, room);
}
