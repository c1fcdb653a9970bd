//! The debrief on the screen: how it ended, the curve of the whole session, each decision with what stood behind it, the
//! marks, and the risks as they were computed. It shows the same judgement as the written debrief.

use super::again::Again;
use super::seat::Seat;
use super::theme::{self, Look, gap};
use super::what_if::WhatIfs;
use crate::assess::{Decision, Judgement, MarkResult, RiskLine};
use crate::scenario::Order;
use crate::scenario::case::{Ledger, Tier, Tone};
use egui::{RichText, ScrollArea};

/// What the trainee asked for on this screen.
#[derive(Default)]
pub struct Asked {
    /// Orders, such as ending the case.
    pub orders: Vec<Order>,
    /// Write the whole debrief beside the log.
    pub write: bool,
    /// Back to the shelf.
    pub leave: bool,
}

/// The debrief with its judgement, made once when the case has ended.
#[derive(Default)]
pub struct DebriefScreen {
    judgement: Option<Judgement>,
    again: Option<Again>,
    what_ifs: WhatIfs,
    /// Where the whole debrief was written, or why it was not.
    pub written: Option<String>,
}

impl DebriefScreen {
    /// Is something being played beside the window's own work?
    pub fn busy(&self) -> bool {
        self.what_ifs.busy() || self.again.as_ref().is_some_and(Again::busy)
    }

    /// The session as it is watched again, once the screen was shown.
    pub fn again(&self) -> Option<&Again> {
        self.again.as_ref()
    }

    /// Shows it.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, seat: &Seat) -> Asked {
        let mut asked = Asked::default();
        let w = look.words;
        let Some(end) = &seat.view().ended else {
            ui.label(theme::title(w.debrief));
            ui.label(RichText::new(w.debrief_not_yet).color(look.ink.soft));
            ui.add_space(gap::M);
            if ui.button(w.stop_here).clicked() {
                asked.orders.push(Order::Finish);
            }
            return asked;
        };
        let session = seat.keeper().session();
        let judgement = self.judgement.get_or_insert_with(|| Judgement::of(session));
        self.what_ifs.take_in();
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            let (words, ink) = match end.tone {
                Tone::Good => (w.ended_good, look.ink.accent),
                Tone::Mixed => (w.ended_mixed, look.ink.medium),
                Tone::Bad => (w.ended_bad, look.ink.lesion),
            };
            ui.label(RichText::new(words).font(theme::bold(14.0)).color(ink));
            ui.label(theme::title(&end.title));
            super::parts::prose(ui, look, &end.text);
            ui.add_space(gap::S);
            ui.horizontal(|ui| {
                asked.write = ui.add(super::parts::accent_button(look, w.write_debrief)).clicked();
                asked.leave = ui.button(w.back_to_shelf).clicked();
                if let Some(written) = &self.written {
                    ui.add(egui::Label::new(RichText::new(written).size(14.0).color(look.ink.soft)).wrap());
                }
            });
            ui.add_space(gap::M);
            let again =
                self.again.get_or_insert_with(|| Again::of(session, seat.keeper().path(), ui.ctx(), look));
            again.ui(ui, look, session);
            ui.add_space(gap::M);
            let (what_ifs, record) = (&mut self.what_ifs, again.record());
            let mut decided = |ui: &mut egui::Ui| {
                ui.label(theme::heading(w.what_was_decided));
                for decision in &judgement.decisions {
                    card(ui, look, decision);
                    what_ifs.under(ui, look, decision, record, seat.keeper().path());
                }
            };
            let mut judged = |ui: &mut egui::Ui| {
                dangers(ui, look, judgement);
                ui.label(theme::heading(w.marks));
                judgement.marks.iter().for_each(|m| mark(ui, look, m));
                ui.add_space(gap::M);
                ui.label(theme::heading(w.risks));
                ui.label(RichText::new(w.risks_about).size(14.0).color(look.ink.soft));
                judgement.risks.iter().for_each(|r| risk(ui, look, r));
            };
            super::parts::abreast(ui, 330.0, &mut [(1.0, &mut decided), (1.0, &mut judged)]);
        });
        asked
    }
}

/// A decision: what was asked and said, how it is judged, and why.
pub(super) fn card(ui: &mut egui::Ui, look: &Look, d: &Decision) {
    let w = look.words;
    theme::sheet(look).inner_margin(12).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.spacing_mut().item_spacing.y = gap::S;
        ui.spacing_mut().interact_size.y = 18.0;
        ui.horizontal(|ui| {
            ui.label(RichText::new(d.at.to_string()).size(13.0).color(look.ink.soft));
            let (words, ink) = tier(d.tier, look);
            ui.label(RichText::new(words).font(theme::bold(14.0)).color(ink));
            if d.by_clock {
                ui.label(RichText::new(w.by_clock).size(13.0).color(look.ink.soft));
            }
        });
        ui.label(RichText::new(&d.question).size(14.0).color(look.ink.soft));
        ui.label(RichText::new(&d.said).font(theme::bold(16.0)));
        if !d.why.is_empty() {
            ui.label(format!("“{}”", d.why));
        }
        ui.label(&d.because);
    });
}

/// What endangered the patient, first and apart.
fn dangers(ui: &mut egui::Ui, look: &Look, judgement: &Judgement) {
    let dangers = judgement.dangers();
    if dangers.is_empty() {
        return;
    }
    let frame = theme::card(look).stroke(egui::Stroke::new(1.5, look.ink.high));
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.label(
            RichText::new(format!("■ {}", look.words.dangers)).font(theme::bold(16.0)).color(look.ink.high),
        );
        for danger in dangers {
            super::cases::bullet(ui, look, &danger);
        }
    });
    ui.add_space(gap::M);
}

fn mark(ui: &mut egui::Ui, look: &Look, m: &MarkResult) {
    let w = look.words;
    let (sign, ink) = match (m.met, m.ledger) {
        (true, Ledger::Step) => (w.step_done, look.ink.accent),
        (true, Ledger::Error { .. }) => (w.error_avoided, look.ink.accent),
        (false, Ledger::Step) => (w.step_missed, look.ink.medium),
        (false, Ledger::Error { .. }) => (w.error_made, look.ink.high),
    };
    ui.horizontal_top(|ui| {
        ui.add_sized([92.0, 18.0], egui::Label::new(RichText::new(sign).font(theme::bold(13.0)).color(ink)));
        ui.add(egui::Label::new(RichText::new(&m.text).size(15.0)).wrap()).on_hover_text(&m.why);
    });
}

fn risk(ui: &mut egui::Ui, look: &Look, r: &RiskLine) {
    let struck = if r.struck { look.words.struck } else { look.words.spared };
    let factors: Vec<String> = r.because.iter().map(|(name, times)| format!("{name} ×{times:.2}")).collect();
    ui.horizontal_top(|ui| {
        let part = RichText::new(format!("{:.1} %", 100.0 * r.probability)).font(theme::bold(15.0));
        ui.add_sized([64.0, 18.0], egui::Label::new(part));
        let text = format!("{} ({struck})", r.id.replace('_', " "));
        ui.add(egui::Label::new(RichText::new(text).size(15.0)).wrap()).on_hover_text(factors.join("\n"));
    });
}

fn tier(tier: Tier, look: &Look) -> (&'static str, egui::Color32) {
    let w = look.words;
    match tier {
        Tier::Preferred => (w.tier_preferred, look.ink.accent),
        Tier::Defensible => (w.tier_defensible, look.ink.accent),
        Tier::Suboptimal => (w.tier_suboptimal, look.ink.medium),
        Tier::Unsafe => (w.tier_unsafe, look.ink.high),
    }
}
