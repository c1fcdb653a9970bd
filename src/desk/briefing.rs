//! The briefing: the call, what is known, how this works, and the team that is told what is coming.

use super::cases::bullet;
use super::parts::{abreast, accent_button, prose};
use super::say;
use super::seat::Seat;
use super::theme::{self, Look, gap};
use crate::scenario::Order;
use crate::scenario::case::Case;
use crate::scenario::order::BriefItem;
use egui::{RichText, ScrollArea};

/// Where the trainee goes from here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Onward {
    /// To the CT.
    Reading,
    /// To theatre.
    Theatre,
}

/// What has been ticked of the briefing so far.
#[derive(Default)]
pub struct BriefingScreen {
    covered: Vec<BriefItem>,
}

impl BriefingScreen {
    /// Shows it; returns orders and where to go.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, seat: &Seat) -> (Vec<Order>, Option<Onward>) {
        let (mut orders, mut onward) = (Vec::new(), None);
        let w = look.words;
        let session = seat.keeper().session();
        let case = std::sync::Arc::clone(session.case());
        let case = &case.case;
        let frame = egui::Frame::new().inner_margin(egui::Margin { top: 10, ..egui::Margin::ZERO });
        egui::Panel::bottom("onward").frame(frame).show_separator_line(false).show(ui, |ui| {
            ui.horizontal(|ui| {
                if ui.add(accent_button(look, w.go_reading)).clicked() {
                    onward = Some(Onward::Reading);
                }
                if ui.button(w.go_theatre).clicked() {
                    onward = Some(Onward::Theatre);
                }
                if !seat.begun() {
                    ui.label(RichText::new(w.start_clock).color(look.ink.soft));
                }
            });
        });
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            let covered = &mut self.covered;
            let mut told = |ui: &mut egui::Ui| the_call(ui, look, case);
            let mut team = |ui: &mut egui::Ui| the_team(ui, look, case, covered, &mut orders);
            abreast(ui, 330.0, &mut [(1.0, &mut told), (1.0, &mut team)]);
        });
        (orders, onward)
    }
}

/// What is known before anybody has seen the patient.
fn the_call(ui: &mut egui::Ui, look: &Look, case: &Case) {
    let w = look.words;
    theme::sheet(look).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.label(theme::eyebrow(look, w.the_call));
        let call = RichText::new(&case.story.call).font(theme::serif(20.0)).line_height(Some(29.0));
        ui.add(egui::Label::new(call).wrap());
        ui.add_space(gap::L);
        ui.label(theme::eyebrow(look, w.history));
        case.story.history.iter().for_each(|line| bullet(ui, look, line));
    });
    ui.add_space(gap::M);
    theme::sheet(look).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.label(theme::eyebrow(look, w.before_start));
        prose(ui, look, &case.about.prebrief);
    });
}

/// Who is there, and what they are told before it begins.
fn the_team(
    ui: &mut egui::Ui,
    look: &Look,
    case: &Case,
    covered: &mut Vec<BriefItem>,
    orders: &mut Vec<Order>,
) {
    let w = look.words;
    theme::sheet(look).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.label(theme::heading(w.team));
        ui.spacing_mut().interact_size.y = 22.0;
        ui.spacing_mut().item_spacing.y = 2.0;
        for member in &case.team {
            let when = match member.arrives {
                None => w.here_now.to_owned(),
                Some(span) => format!("{} {span}", w.on_call),
            };
            ui.horizontal(|ui| {
                ui.label(&member.role);
                ui.label(RichText::new(when).size(14.0).color(look.ink.soft));
            });
        }
    });
    ui.add_space(gap::M);
    theme::sheet(look).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.label(theme::heading(w.team_briefing));
        ui.label(RichText::new(w.team_briefing_about).color(look.ink.soft));
        ui.spacing_mut().interact_size.y = 26.0;
        ui.spacing_mut().item_spacing.y = 3.0;
        for item in BriefItem::ALL {
            let mut said = covered.contains(&item);
            if ui.checkbox(&mut said, say::brief(item, look.words)).changed() {
                covered.retain(|i| *i != item);
                if said {
                    covered.push(item);
                }
            }
        }
        let brief = ui.add_enabled(!covered.is_empty(), egui::Button::new(w.brief_team));
        if brief.clicked() {
            let mut items = std::mem::take(covered);
            items.sort();
            orders.push(Order::Brief { items });
        }
    });
}
