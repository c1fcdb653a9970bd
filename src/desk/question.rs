//! A question put to the trainee: a card with its options, "why?" and "how sure?" where the case wants them, once.

use super::parts::accent_button;
use super::seat::Seat;
use super::theme::{self, Look, gap};
use crate::scenario::Order;
use crate::session::event::Tick;
use crate::session::view::AskView;
use egui::{RichText, ScrollArea};
use std::collections::BTreeMap;

/// What the trainee has written so far, by question.
#[derive(Default)]
pub struct QuestionPanel {
    drafts: BTreeMap<String, Draft>,
}

struct Draft {
    option: Option<String>,
    why: String,
    sure: f64,
}

impl Default for Draft {
    fn default() -> Self {
        // The middle of 50 (a coin) and 100, so that the scale itself does not suggest an answer.
        Self { option: None, why: String::new(), sure: 75.0 }
    }
}

impl QuestionPanel {
    /// Shows the open questions, the oldest first, and returns answers.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, asks: &[AskView], now: Tick) -> Vec<Order> {
        self.drafts.retain(|id, _| asks.iter().any(|a| a.id == *id));
        let mut orders = Vec::new();
        for ask in asks {
            let draft = self.drafts.entry(ask.id.clone()).or_default();
            if let Some(order) = card(ui, look, ask, draft, now) {
                orders.push(order);
            }
            ui.add_space(gap::S);
        }
        orders
    }
}

/// What stands over any screen of a case: in guided mode the reasons for the last decision, then the open questions.
/// Returns answers.
pub fn standing(
    ui: &mut egui::Ui,
    look: &Look,
    seat: &mut Seat,
    panel: &mut QuestionPanel,
    most: f32,
) -> Vec<Order> {
    if seat.view().asks.is_empty() && seat.lesson().is_none() {
        return Vec::new();
    }
    let mut given = Vec::new();
    ScrollArea::vertical().id_salt("questions").max_height(most).auto_shrink([false, true]).show(ui, |ui| {
        if let Some(lesson) = seat.lesson() {
            super::outcome::card(ui, look, lesson);
            ui.add_space(gap::S);
            if ui.button(look.words.understood).clicked() {
                seat.understood();
            }
            ui.add_space(gap::M);
        }
        let view = seat.view();
        given = panel.ui(ui, look, &view.asks, view.now);
    });
    given
}

fn card(ui: &mut egui::Ui, look: &Look, ask: &AskView, draft: &mut Draft, now: Tick) -> Option<Order> {
    let w = look.words;
    let mut answer = None;
    let frame = theme::card(look).stroke(egui::Stroke::new(1.5, look.ink.accent));
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.push_id(&ask.id, |ui| {
            ui.horizontal(|ui| {
                ui.label(theme::eyebrow(look, &said_by(&ask.who, w.narrator)));
                if let Some(closes) = ask.closes {
                    let left = (closes.seconds() - now.seconds()).max(0.0);
                    ui.label(
                        RichText::new(format!("{} {left:.0} s", w.closes_in))
                            .font(theme::bold(13.0))
                            .color(look.ink.medium),
                    );
                }
            });
            ui.add(
                egui::Label::new(RichText::new(&ask.question).font(theme::serif(18.0)).color(look.ink.text))
                    .wrap(),
            );
            let plain = !ask.why && !ask.confidence;
            for (id, words) in &ask.options {
                let chosen = draft.option.as_ref() == Some(id);
                let button = egui::Button::new(words.as_str()).selected(chosen).wrap();
                if ui.add(button.min_size(egui::vec2(ui.available_width(), 32.0))).clicked() {
                    draft.option = Some(id.clone());
                    if plain {
                        answer = Some(id.clone());
                    }
                }
            }
            if draft.option.is_some() && !plain {
                if ask.why {
                    let label = ui.label(w.why);
                    ui.add(
                        egui::TextEdit::multiline(&mut draft.why)
                            .desired_rows(2)
                            .desired_width(f32::INFINITY),
                    )
                    .labelled_by(label.id);
                }
                if ask.confidence {
                    let label = ui.label(w.how_sure);
                    ui.add(egui::Slider::new(&mut draft.sure, 50.0..=100.0).suffix(" %").step_by(5.0))
                        .labelled_by(label.id);
                }
                if ui.add(accent_button(look, w.commit)).clicked() {
                    answer.clone_from(&draft.option);
                }
            }
        });
    });
    answer.map(|option| Order::Answer {
        ask: ask.id.clone(),
        option,
        why: draft.why.trim().to_owned(),
        sure_percent: ask.confidence.then_some(draft.sure.round() as u8),
    })
}

fn said_by(who: &str, narrator: &str) -> String {
    if who == "narrator" { narrator.to_owned() } else { who.to_owned() }
}
