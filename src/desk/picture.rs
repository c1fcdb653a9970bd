//! The picture: what the C-arm shows, large, with its pose, its number and the words that say what can be seen on it.

use super::carm;
use super::theme::{self, Look, gap};
use crate::imaging::Grey;
use crate::session::view::View;
use egui::{Align2, ColorImage, Rect, RichText, Sense, TextureHandle, TextureOptions, pos2, vec2};

/// The picture and its texture.
#[derive(Default)]
pub struct PicturePanel {
    texture: Option<TextureHandle>,
    /// Number of the run that the texture shows; none for fluoroscopy.
    of: String,
}

impl PicturePanel {
    /// Takes in a new picture.
    pub fn show(&mut self, ctx: &egui::Context, picture: &Grey, of: String) {
        let image = ColorImage::from_gray([picture.width, picture.height], &picture.pixels);
        match &mut self.texture {
            Some(texture) => texture.set(image, TextureOptions::LINEAR),
            None => self.texture = Some(ctx.load_texture("picture", image, TextureOptions::LINEAR)),
        }
        self.of = of;
    }

    /// Shows the last picture as large as the room allows.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, view: &View) {
        let w = look.words;
        let seen = view.runs.last();
        let foot = if seen.is_some() { 46.0 } else { 0.0 };
        let size = vec2(ui.available_width(), (ui.available_height() - foot).max(80.0));
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        let says = match seen {
            Some(run) => format!("{} {}: {}", w.run, run.number, run.seen.join("; ")),
            None => w.no_picture.to_owned(),
        };
        response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &says));
        ui.painter().rect_filled(rect, 8.0, look.ink.film);
        let Some(texture) = &self.texture else {
            let hint = ui.painter().layout(
                w.no_picture.to_owned(),
                theme::plain(16.0),
                look.ink.soft,
                rect.width() - 60.0,
            );
            ui.painter().galley(rect.center() - 0.5 * hint.size(), hint, look.ink.soft);
            return;
        };
        let [tw, th] = texture.size();
        let scale = (rect.width() / tw as f32).min(rect.height() / th as f32);
        let at = Rect::from_center_size(rect.center(), vec2(tw as f32, th as f32) * scale);
        let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        ui.painter().image(texture.id(), at, whole, egui::Color32::WHITE);
        let pose = carm::pose(view.carm.primary_deg, view.carm.secondary_deg);
        let p = ui.painter();
        let ink = look.ink.text;
        p.text(rect.left_top() + vec2(12.0, 10.0), Align2::LEFT_TOP, &self.of, theme::bold(15.0), ink);
        p.text(rect.right_top() + vec2(-12.0, 10.0), Align2::RIGHT_TOP, pose, theme::bold(15.0), ink);
        let live = if view.carm.screening { w.screening_on } else { w.screening_off };
        let colour = if view.carm.screening { look.ink.accent } else { look.ink.soft };
        p.text(rect.left_bottom() + vec2(12.0, -10.0), Align2::LEFT_BOTTOM, live, theme::plain(13.0), colour);
        p.text(
            rect.right_bottom() + vec2(-12.0, -10.0),
            Align2::RIGHT_BOTTOM,
            w.training_short,
            theme::plain(12.0),
            look.ink.soft,
        );
        if let Some(run) = seen {
            ui.add_space(gap::S);
            let text = format!("{} {}: {}", w.run, run.number, run.seen.join("; "));
            ui.add(egui::Label::new(RichText::new(text).size(14.0).color(look.ink.soft)).truncate())
                .on_hover_text(run.seen.join("\n"));
        }
    }
}
