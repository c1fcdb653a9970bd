//! The theatre: the picture large, the monitor and the talk beside it, the orders, and across the foot the rail.

use super::carm::CarmPanel;
use super::orders::OrdersPanel;
use super::rail::RailPanel;
use super::seat::{Bedside, Seat};
use super::theme::{self, Look, gap};
use crate::session::view::View;
use egui::{CentralPanel, Frame, Margin, Panel, RichText, ScrollArea};

/// The panels of the theatre.
#[derive(Default)]
pub struct TheatreScreen {
    orders: OrdersPanel,
    rail: RailPanel,
    carm: CarmPanel,
    side: Side,
    /// Questions that were open at the last look.
    asked: usize,
    on_rail: bool,
}

/// What stands beside the picture where there is room for one thing only.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Side {
    Questions,
    #[default]
    Orders,
    Talk,
    Monitor,
    Carm,
}

/// Room that all panels together need, points; with less they take turns.
const ROOM: egui::Vec2 = egui::vec2(1160.0, 600.0);
/// Height that picture and rail together need, points.
const HIGH: f32 = 460.0;

impl TheatreScreen {
    /// Shows it; what was ordered is added to `at.given`.
    pub fn ui(&mut self, ui: &mut egui::Ui, at: &mut Bedside<'_>) {
        let view = at.seat.moment();
        let room = ui.available_size();
        if room.x >= ROOM.x && room.y >= ROOM.y {
            self.whole(ui, at, &view);
        } else {
            self.by_turns(ui, at, &view);
        }
    }

    /// Everything at once.
    fn whole(&mut self, ui: &mut egui::Ui, at: &mut Bedside<'_>, view: &View) {
        let look = &{ at.look };
        let wide = ui.available_width() > 1500.0;
        Panel::bottom("rail").frame(pane()).resizable(false).show_separator_line(false).show(ui, |ui| {
            at.given.extend(self.rail.ui(ui, look, &view.rail));
        });
        let side = if wide { 380.0 } else { 304.0 };
        column(Panel::left("orders"), side, pane()).show(ui, |ui| {
            // A question never covers the picture.
            at.questions(ui, 0.68 * ui.available_height());
            at.given.extend(self.orders.ui(ui, look, view));
        });
        let side = if wide { 440.0 } else { 344.0 };
        column(Panel::right("monitor"), side, pane()).show(ui, |ui| {
            at.seat.monitor.ui(ui, look, &view.vitals, &view.alarms);
            ui.add_space(gap::S);
            at.seat.talk.ui(ui, look, view);
        });
        CentralPanel::default().frame(pane()).show(ui, |ui| {
            let beside = Frame::new().inner_margin(Margin { left: 12, ..Margin::ZERO });
            column(Panel::right("c-arm"), 208.0, beside).show(ui, |ui| self.carm_and_tallies(ui, at, view));
            let measured = at.seat.picture_ui(ui, look);
            at.given.extend(measured);
        });
    }

    /// The picture, and beside it one thing at a time; the rail under it where it fits, else in its place.
    fn by_turns(&mut self, ui: &mut egui::Ui, at: &mut Bedside<'_>, view: &View) {
        let look = &{ at.look };
        let w = look.words;
        let high = ui.available_height() >= HIGH;
        let side = (0.44 * ui.available_width()).clamp(220.0, 320.0);
        if high {
            Panel::bottom("rail").frame(tight()).resizable(false).show_separator_line(false).show(ui, |ui| {
                at.given.extend(self.rail.ui(ui, look, &view.rail));
            });
        }
        column(Panel::left("by turns"), side, tight()).show(ui, |ui| self.side(ui, at, view));
        CentralPanel::default().frame(tight()).show(ui, |ui| {
            if !high {
                ui.horizontal(|ui| {
                    ui.spacing_mut().item_spacing.x = 2.0;
                    ui.selectable_value(&mut self.on_rail, false, w.picture);
                    ui.selectable_value(&mut self.on_rail, true, w.rail);
                });
            }
            if self.on_rail && !high {
                ScrollArea::vertical().id_salt("rail").auto_shrink([false, false]).show(ui, |ui| {
                    at.given.extend(self.rail.ui(ui, look, &view.rail));
                });
            } else {
                let measured = at.seat.picture_ui(ui, look);
                at.given.extend(measured);
            }
        });
    }

    /// What stands beside the picture, and what it could be instead.
    fn side(&mut self, ui: &mut egui::Ui, at: &mut Bedside<'_>, view: &View) {
        let look = &{ at.look };
        let w = look.words;
        let asked = view.asks.len() + usize::from(at.seat.lesson().is_some());
        // A new question comes forward by itself, but takes nobody's words away while they write.
        if asked > self.asked && !ui.ctx().egui_wants_keyboard_input() {
            self.side = Side::Questions;
        } else if asked == 0 && self.side == Side::Questions {
            self.side = Side::Orders;
        }
        self.asked = asked;
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing = egui::vec2(2.0, 2.0);
            ui.spacing_mut().button_padding.x = 7.0;
            if asked > 0 {
                let name = RichText::new(format!("{} {asked}", w.questions)).font(theme::bold(16.0));
                ui.selectable_value(&mut self.side, Side::Questions, name);
            }
            let sides = [
                (Side::Orders, w.orders),
                (Side::Talk, w.talk),
                (Side::Monitor, w.monitor),
                (Side::Carm, w.carm),
            ];
            for (side, name) in sides {
                ui.selectable_value(&mut self.side, side, name);
            }
        });
        match self.side {
            Side::Questions => at.questions(ui, f32::INFINITY),
            Side::Orders => at.given.extend(self.orders.ui(ui, look, view)),
            Side::Talk => at.seat.talk.ui(ui, look, view),
            Side::Monitor => {
                ScrollArea::vertical().id_salt("monitor").auto_shrink([false, false]).show(ui, |ui| {
                    at.seat.monitor.ui(ui, look, &view.vitals, &view.alarms);
                });
            }
            Side::Carm => self.carm_and_tallies(ui, at, view),
        }
    }

    fn carm_and_tallies(&mut self, ui: &mut egui::Ui, at: &mut Bedside<'_>, view: &View) {
        ScrollArea::vertical().id_salt("c-arm and tallies").auto_shrink([false, false]).show(ui, |ui| {
            let blocked = view.offers.iter().find(|o| o.verb == "aim").and_then(|o| o.blocked.as_deref());
            at.given.extend(self.carm.ui(ui, &at.look, &view.carm, blocked));
            tallies(ui, &at.look, view);
        });
    }
}

/// A panel of one width down the side.
fn column(panel: Panel, width: f32, frame: Frame) -> Panel {
    panel.frame(frame).resizable(false).exact_size(width).show_separator_line(false)
}

/// As [`pane`], where room is dear.
fn tight() -> Frame {
    Frame::new().inner_margin(Margin::symmetric(8, 4))
}

/// The ground itself, with room around. The window is painted in its colour: to paint it again costs a software renderer
/// a third of its frame.
fn pane() -> Frame {
    Frame::new().inner_margin(Margin { left: 14, right: 14, top: 8, bottom: 8 })
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
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            ui.label(RichText::new(format!("{value} {unit}")).font(theme::bold(13.0)));
            ui.add_space(gap::S);
            ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                let text = RichText::new(name).size(13.0).color(look.ink.soft);
                ui.add(egui::Label::new(text).truncate()).on_hover_text(name);
            });
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
