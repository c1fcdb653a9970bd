//! The orders: a list that can be searched, grouped by intent. What the state allows is lit; the rest says why not.

use super::edit;
use super::theme::{self, Look, gap};
use crate::scenario::Order;
use crate::session::view::{Offer, View};
use egui::{Key, Modifiers, RichText, ScrollArea};

/// Groups in the order of the day.
const GROUPS: [&str; 6] = ["team", "access", "lines", "picture", "deploy", "patient"];

/// The list with its search and the order that is being written.
#[derive(Default)]
pub struct OrdersPanel {
    search: String,
    open: Option<&'static str>,
    draft: Option<Order>,
}

impl OrdersPanel {
    /// Shows what can be ordered and returns what was.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, view: &View) -> Vec<Order> {
        self.titled(ui, look, view, look.words.orders)
    }

    /// The same under another heading.
    pub fn titled(&mut self, ui: &mut egui::Ui, look: &Look, view: &View, title: &str) -> Vec<Order> {
        let mut orders = Vec::new();
        let w = look.words;
        ui.label(theme::heading(title));
        let hint = RichText::new(w.search_hint).color(look.ink.faint);
        let search =
            ui.add(egui::TextEdit::singleline(&mut self.search).hint_text(hint).desired_width(f32::INFINITY));
        search.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::TextEdit, true, w.search));
        if ui.input_mut(|i| i.consume_key(Modifiers::COMMAND, Key::K)) {
            search.request_focus();
        }
        let found: Vec<&Offer> = view.offers.iter().filter(|o| matches(o, &self.search)).collect();
        // Enter in the search opens the first that can be given.
        if search.lost_focus()
            && ui.input(|i| i.key_pressed(Key::Enter))
            && let Some(first) = found.iter().find(|o| o.blocked.is_none()).or(found.first())
        {
            self.turn_to(first.verb);
        }
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            for group in GROUPS {
                let offers: Vec<&&Offer> = found.iter().filter(|o| o.group == group).collect();
                if offers.is_empty() {
                    continue;
                }
                ui.add_space(gap::S);
                ui.label(theme::eyebrow(look, super::say::group(group, w)));
                for offer in offers {
                    self.row(ui, look, view, offer, &mut orders);
                }
            }
            if found.is_empty() {
                ui.label(RichText::new(w.nothing_found).color(look.ink.soft));
            }
        });
        orders
    }

    /// Opens an order, as a key or another panel asks.
    pub fn turn_to(&mut self, verb: &'static str) {
        self.open = Some(verb);
        self.draft = None;
    }

    fn row(&mut self, ui: &mut egui::Ui, look: &Look, view: &View, offer: &Offer, orders: &mut Vec<Order>) {
        let open = self.open == Some(offer.verb);
        let lit = offer.blocked.is_none();
        let ink = if lit { look.ink.text } else { look.ink.faint };
        let says = match &offer.blocked {
            None => offer.label.clone(),
            Some(why) => format!("{} ({} {why})", offer.label, look.words.not_now),
        };
        ui.spacing_mut().item_spacing.y = 2.0;
        let text = RichText::new(&offer.label).color(ink).strong();
        let button = egui::Button::new(text)
            .frame_when_inactive(open)
            .min_size(egui::vec2(ui.available_width(), 28.0));
        let response = ui
            .add(button.right_text(RichText::new(if lit { "•" } else { "" }).color(look.ink.accent)).wrap());
        response.widget_info(|| egui::WidgetInfo::selected(egui::WidgetType::Button, true, open, &says));
        let response = match &offer.blocked {
            Some(why) => response.on_hover_text(why),
            None => response,
        };
        if response.clicked() {
            self.open = if open { None } else { Some(offer.verb) };
            self.draft = None;
        }
        if self.open != Some(offer.verb) {
            return;
        }
        ui.spacing_mut().item_spacing.y = gap::M;
        theme::card(look).inner_margin(10).show(ui, |ui| {
            ui.set_width(ui.available_width());
            if let Some(why) = &offer.blocked {
                ui.label(RichText::new(format!("{} {why}", look.words.not_now)).color(look.ink.soft));
            }
            for (words, order) in &offer.ready {
                let button =
                    egui::Button::new(words.as_str()).wrap().min_size(egui::vec2(ui.available_width(), 0.0));
                if ui.add_enabled(lit, button).clicked() {
                    orders.push(order.clone());
                    self.open = None;
                }
            }
            if self.draft.is_none() {
                self.draft =
                    offer.ready.first().map(|r| r.1.clone()).or_else(|| edit::blank(offer.verb, view));
            }
            if let Some(draft) = &mut self.draft
                && edit::has_form(draft)
            {
                if !offer.ready.is_empty() {
                    ui.separator();
                    ui.label(theme::eyebrow(look, look.words.own_values));
                }
                edit::form(ui, look, view, draft);
                if ui.add_enabled(lit, super::parts::accent_button(look, look.words.give_order)).clicked() {
                    orders.push(draft.clone());
                    self.open = None;
                }
            } else if offer.ready.is_empty()
                && let Some(draft) = &self.draft
                && ui.add_enabled(lit, super::parts::accent_button(look, look.words.give_order)).clicked()
            {
                orders.push(draft.clone());
                self.open = None;
            }
        });
    }
}

/// Every word of the search occurs in the offer's label, verb, group or ready words.
fn matches(offer: &Offer, search: &str) -> bool {
    let hay = format!(
        "{} {} {} {}",
        offer.label,
        offer.verb,
        offer.group,
        offer.ready.iter().map(|r| r.0.as_str()).collect::<Vec<_>>().join(" ")
    )
    .to_lowercase();
    search.to_lowercase().split_whitespace().all(|word| hay.contains(word))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_search_takes_words_in_any_order() {
        let offer = Offer {
            verb: "run",
            label: "Subtracted run".into(),
            group: "picture",
            blocked: None,
            ready: vec![("20 mL at 15 mL/s".into(), Order::Finish)],
        };
        assert!(matches(&offer, ""));
        assert!(matches(&offer, "run sub"));
        assert!(matches(&offer, "15 ml"));
        assert!(!matches(&offer, "heparin"));
    }
}
