//! The debrief on the screen: how it ended, the curve of the whole session, and each decision with what stood behind it.

use super::plot;
use super::seat::Seat;
use super::theme::{self, Look, gap};
use crate::scenario::Order;
use crate::scenario::case::{Tier, Tone};
use crate::session::event::{EventKind, Tick};
use egui::{RichText, ScrollArea};

/// What the trainee asked for on this screen.
#[derive(Default)]
pub struct Asked {
    /// Orders, such as ending the case.
    pub orders: Vec<Order>,
    /// Back to the shelf.
    pub leave: bool,
}

/// One decision, as it is shown.
struct Decision {
    at: Tick,
    question: String,
    said: String,
    tier: Tier,
    because: String,
    why: String,
    by_clock: bool,
}

/// Shows the debrief.
pub fn ui(ui: &mut egui::Ui, look: &Look, seat: &Seat) -> Asked {
    let mut asked = Asked::default();
    let w = look.words;
    let view = seat.view();
    let Some(end) = &view.ended else {
        ui.label(theme::title(w.debrief));
        ui.label(RichText::new(w.debrief_not_yet).color(look.ink.soft));
        ui.add_space(gap::M);
        if ui.button(w.stop_here).clicked() {
            asked.orders.push(Order::Finish);
        }
        return asked;
    };
    ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
        let (words, ink) = match end.tone {
            Tone::Good => (w.ended_good, look.ink.accent),
            Tone::Mixed => (w.ended_mixed, look.ink.medium),
            Tone::Bad => (w.ended_bad, look.ink.lesion),
        };
        ui.label(RichText::new(words).font(theme::bold(14.0)).color(ink));
        ui.label(theme::title(&end.title));
        super::parts::prose(ui, look, &end.text);
        ui.add_space(gap::M);
        ui.horizontal(|ui| {
            if ui.button(w.back_to_shelf).clicked() {
                asked.leave = true;
            }
        });
        ui.add_space(gap::M);
        plot::vitals(ui, look, seat.keeper().session(), 220.0);
        ui.add_space(gap::L);
        ui.label(theme::heading(w.what_was_decided));
        for decision in decisions(seat) {
            card(ui, look, &decision);
            ui.add_space(gap::S);
        }
    });
    asked
}

fn card(ui: &mut egui::Ui, look: &Look, d: &Decision) {
    let w = look.words;
    theme::sheet(look).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.horizontal(|ui| {
            ui.label(RichText::new(d.at.to_string()).size(13.0).color(look.ink.soft));
            let (words, ink) = tier(d.tier, look);
            ui.label(RichText::new(words).font(theme::bold(14.0)).color(ink));
            if d.by_clock {
                ui.label(RichText::new(w.by_clock).size(13.0).color(look.ink.soft));
            }
        });
        ui.label(RichText::new(&d.question).color(look.ink.soft));
        ui.label(RichText::new(&d.said).font(theme::bold(16.0)));
        if !d.why.is_empty() {
            ui.label(format!("“{}”", d.why));
        }
        ui.label(&d.because);
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

fn decisions(seat: &Seat) -> Vec<Decision> {
    let session = seat.keeper().session();
    let case = &session.case().case;
    let of = |kind: &EventKind, at| {
        let EventKind::Chosen { ask, option, tier, why, by_clock, .. } = kind else { return None };
        let ask = case.asks.iter().find(|a| a.id == *ask)?;
        let option = ask.options.iter().find(|o| o.id == *option)?;
        Some(Decision {
            at,
            question: ask.question.clone(),
            said: option.say.clone(),
            tier: *tier,
            because: option.because.clone(),
            why: why.clone(),
            by_clock: *by_clock,
        })
    };
    session.events().iter().filter_map(|e| of(&e.kind, e.at)).collect()
}
