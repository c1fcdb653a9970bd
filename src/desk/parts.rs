//! Small parts that several screens share.

use super::theme::{self, Look};
use egui::{Align2, RichText, Sense, vec2};

/// The one button on a screen that leads on.
pub fn accent_button(look: &Look, text: &str) -> egui::Button<'static> {
    egui::Button::new(RichText::new(text.to_owned()).font(theme::bold(16.0)).color(look.ink.on_accent))
        .fill(look.ink.accent)
}

/// A figure with its name over it and its unit behind it.
pub fn figure(ui: &mut egui::Ui, look: &Look, name: &str, value: &str, unit: &str) {
    let says = format!("{name} {value} {unit}");
    let value = ui.painter().layout_no_wrap(value.to_owned(), theme::bold(20.0), look.ink.text);
    let unit = ui.painter().layout_no_wrap(unit.to_owned(), theme::plain(12.0), look.ink.soft);
    let name = ui.painter().layout_no_wrap(name.to_owned(), theme::plain(12.0), look.ink.soft);
    let width = name.size().x.max(value.size().x + 4.0 + unit.size().x);
    let (rect, response) = ui.allocate_exact_size(vec2(width + 14.0, 40.0), Sense::hover());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Label, true, &says));
    let base = rect.bottom() - 2.0;
    let next = value.size().x + 4.0;
    ui.painter().galley(rect.min, name, look.ink.soft);
    ui.painter().galley(egui::pos2(rect.left(), base - value.size().y), value, look.ink.text);
    ui.painter().galley(egui::pos2(rect.left() + next, base - unit.size().y - 2.0), unit, look.ink.soft);
}

/// An alarm's mark: a filled shape with its exclamation marks, so that priority never rests on colour alone
/// (triangle with three for high, diamond with two for medium, disc with one for low).
pub fn alarm_mark(painter: &egui::Painter, centre: egui::Pos2, size: f32, priority: u8, look: &Look) {
    let ink = look.ink.alarm(priority);
    let r = 0.5 * size;
    match priority {
        3.. => {
            let points = vec![centre + vec2(0.0, -r), centre + vec2(r, 0.8 * r), centre + vec2(-r, 0.8 * r)];
            painter.add(egui::Shape::convex_polygon(points, ink, egui::Stroke::NONE));
        }
        2 => {
            let points = vec![
                centre + vec2(0.0, -r),
                centre + vec2(r, 0.0),
                centre + vec2(0.0, r),
                centre + vec2(-r, 0.0),
            ];
            painter.add(egui::Shape::convex_polygon(points, ink, egui::Stroke::NONE));
        }
        _ => {
            painter.circle_filled(centre, 0.85 * r, ink);
        }
    }
    let marks = ["!", "!", "!!", "!!!"][usize::from(priority).min(3)];
    let lift = if priority >= 3 { 0.15 * r } else { 0.0 };
    painter.text(
        centre + vec2(0.0, lift),
        Align2::CENTER_CENTER,
        marks,
        theme::bold(0.5 * size),
        look.ink.on_alarm,
    );
}

/// A paragraph that wraps at a comfortable width.
pub fn prose(ui: &mut egui::Ui, look: &Look, text: &str) {
    ui.add(
        egui::Label::new(RichText::new(text).color(look.ink.text).size(17.0).line_height(Some(25.0))).wrap(),
    );
}

/// The line that every screen carries.
pub fn training_only(ui: &mut egui::Ui, look: &Look) {
    ui.label(RichText::new(look.words.training_only).size(13.0).color(look.ink.soft));
}

/// Parts of a page side by side, each with its share of the width, in which text keeps its ragged edge (egui's own
/// columns stretch it). Where a part would become narrower than `least`, they stand one below the other.
pub fn abreast(ui: &mut egui::Ui, least: f32, parts: &mut [(f32, Part<'_>)]) {
    let whole = ui.available_rect_before_wrap();
    let gap = theme::gap::L - theme::gap::S;
    let room = whole.width() - gap * (parts.len() as f32 - 1.0);
    let shares: f32 = parts.iter().map(|p| p.0).sum();
    if parts.iter().any(|p| room * p.0 / shares < least) {
        for (_, part) in parts {
            ui.vertical(|ui| part(ui));
            ui.add_space(gap);
        }
        return;
    }
    let (mut left, mut foot) = (whole.left(), whole.top());
    for (share, part) in parts {
        let right = left + room * *share / shares;
        let rect = egui::Rect::from_min_max(egui::pos2(left, whole.top()), egui::pos2(right, whole.bottom()));
        let layout = egui::Layout::top_down(egui::Align::Min);
        let mut column = ui.new_child(egui::UiBuilder::new().max_rect(rect).layout(layout));
        part(&mut column);
        foot = foot.max(column.min_rect().bottom());
        left = right + gap;
    }
    ui.advance_cursor_after_rect(egui::Rect::from_min_max(whole.min, egui::pos2(whole.right(), foot)));
}

/// One part of a page.
pub type Part<'a> = &'a mut dyn FnMut(&mut egui::Ui);
