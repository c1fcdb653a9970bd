//! A question put to the trainee: a card with its options, "why?" and "how sure?" where the case wants them, once.
//!
//! Of several open questions one lies open, the others are folded to a line that opens them, so that none pushes another
//! off the screen. Where the window is narrow they stand in front of the page when asked for, else one line says that they
//! wait.

use super::parts::accent_button;
use super::seat::Seat;
use super::theme::{self, Look, gap};
use crate::scenario::Order;
use crate::session::event::Tick;
use crate::session::view::AskView;
use egui::{RichText, ScrollArea};
use std::collections::BTreeMap;

/// What the trainee has written so far, by question, and which question lies open.
#[derive(Default)]
pub struct QuestionPanel {
    drafts: BTreeMap<String, Draft>,
    open: Option<String>,
    /// Where the window is narrow: do they stand in front of the page?
    in_front: bool,
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
    /// Shows the questions and returns answers.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, asks: &[AskView], now: Tick) -> Vec<Order> {
        self.drafts.retain(|id, _| asks.iter().any(|a| a.id == *id));
        if !asks.iter().any(|a| Some(&a.id) == self.open.as_ref()) {
            self.open = pressing(asks).map(|a| a.id.clone());
        }
        // The folded lines stand over the open card, where no length of it can push them out of sight.
        let mut next = None;
        for ask in asks.iter().filter(|a| Some(&a.id) != self.open.as_ref()) {
            if folded(ui, look, ask, now) {
                next = Some(ask.id.clone());
            }
            ui.add_space(gap::S);
        }
        let mut orders = Vec::new();
        if let Some(ask) = asks.iter().find(|a| Some(&a.id) == self.open.as_ref()) {
            let draft = self.drafts.entry(ask.id.clone()).or_default();
            orders.extend(card(ui, look, ask, draft, now));
            ui.add_space(gap::S);
        }
        if next.is_some() {
            self.open = next;
        }
        orders
    }

    /// Over a narrow page: one line says that something is asked, and the questions themselves come in front of the page
    /// when they are wanted. Returns answers, and whether the page is covered.
    pub fn over_the_page(&mut self, ui: &mut egui::Ui, look: &Look, seat: &mut Seat) -> (Vec<Order>, bool) {
        if quiet(seat) {
            self.in_front = false;
            return (Vec::new(), false);
        }
        let w = look.words;
        let frame = theme::card(look).inner_margin(egui::Margin::symmetric(12, 5));
        frame.stroke(egui::Stroke::new(1.5, look.ink.accent)).show(ui, |ui| {
            ui.horizontal(|ui| {
                let view = seat.view();
                let text = match (pressing(&view.asks), view.asks.len()) {
                    (Some(ask), 1) => format!("{} {}", said_by(&ask.who, w.narrator), w.asks),
                    (Some(_), n) => format!("{n} {}", w.questions_wait),
                    (None, _) => w.told_why.to_owned(),
                };
                ui.label(RichText::new(text).font(theme::bold(15.0)));
                if let Some(ask) = pressing(&view.asks) {
                    closes_in(ui, look, ask, view.now);
                }
                ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                    let name = if self.in_front { w.back_to_page } else { w.see_questions };
                    if ui.add(accent_button(look, name)).clicked() {
                        self.in_front = !self.in_front;
                    }
                });
            });
        });
        ui.add_space(gap::S);
        let given = if self.in_front { standing(ui, look, seat, self, f32::INFINITY) } else { Vec::new() };
        (given, self.in_front)
    }
}

/// Nothing is asked, and nothing has to be read.
pub fn quiet(seat: &Seat) -> bool {
    seat.view().asks.is_empty() && seat.lesson().is_none()
}

/// The question that closes first, else the oldest.
fn pressing(asks: &[AskView]) -> Option<&AskView> {
    asks.iter().min_by_key(|a| a.closes.map_or(u64::MAX, |t| t.0))
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
    if quiet(seat) {
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

/// How long a question stays open, where it closes.
fn closes_in(ui: &mut egui::Ui, look: &Look, ask: &AskView, now: Tick) {
    let Some(closes) = ask.closes else { return };
    let left = (closes.seconds() - now.seconds()).max(0.0);
    let text = RichText::new(format!("{} {left:.0} s", look.words.closes_in));
    ui.label(text.font(theme::bold(13.0)).color(look.ink.medium));
}

/// A question that waits behind the open one, as a button that opens it; true when it was pressed.
fn folded(ui: &mut egui::Ui, look: &Look, ask: &AskView, now: Tick) -> bool {
    let who = said_by(&ask.who, look.words.narrator);
    ui.horizontal(|ui| {
        ui.label(theme::eyebrow(look, &who));
        closes_in(ui, look, ask, now);
    });
    let text = RichText::new(&ask.question).font(theme::serif(16.0)).color(look.ink.soft);
    let button = egui::Button::new(text).wrap().min_size(egui::vec2(ui.available_width(), 32.0));
    let response = ui.add(button.stroke(egui::Stroke::new(1.0, look.ink.accent)));
    let says = format!("{who}: {}", ask.question);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, &says));
    response.clicked()
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
                closes_in(ui, look, ask, now);
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
