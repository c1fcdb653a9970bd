//! The picture as it is painted: the frame that is shown as the tools have it, the marks on the glass, and words over it.

use super::tools::Laid;
use super::{Painted, PicturePanel, Showing};
use crate::desk::carm;
use crate::desk::say;
use crate::desk::theme::{self, Look};
use crate::imaging::{Grey, NativeDisplay, Run, SubtractionDisplay};
use crate::session::event::Tick;
use crate::session::view::View;
use egui::{Align2, Color32, ColorImage, FontId, Pos2, Rect, Stroke, TextureOptions, pos2, vec2};
use std::sync::Arc;

impl PicturePanel {
    /// Paints it into its room, with what it is over it.
    pub(super) fn paint(&mut self, ui: &egui::Ui, look: &Look, view: &View, rect: Rect, film: Rect) {
        let w = look.words;
        if !self.paint_texture(ui.ctx()) {
            let text = if self.busy() { w.drawing } else { self.fault.as_deref().unwrap_or(w.no_picture) };
            let hint =
                ui.painter().layout(text.to_owned(), theme::plain(16.0), look.ink.soft, rect.width() - 60.0);
            ui.painter().galley(rect.center() - 0.5 * hint.size(), hint, look.ink.soft);
            return;
        }
        let Some(texture) = &self.texture else { return };
        let p = ui.painter();
        let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        p.image(texture.id(), film, whole, Color32::WHITE);
        marks(p, look, view, film);
        let title = match self.showing {
            Showing::Run(number) => format!("{} {number}{}", w.run, self.tools.of_run(look)),
            _ => w.fluoroscopy.to_owned(),
        };
        let pose = match (self.run(), &self.live) {
            (Some(run), _) => run.spec.pose,
            (None, Some(live)) => live.pose,
            (None, None) => return,
        };
        let inside = rect.shrink(8.0);
        plate(p, look, inside.left_top(), Align2::LEFT_TOP, &title, theme::bold(15.0), look.ink.text);
        let pose = carm::pose(pose.primary_deg, pose.secondary_deg);
        plate(p, look, inside.right_top(), Align2::RIGHT_TOP, &pose, theme::bold(15.0), look.ink.text);
        if self.showing == Showing::Live {
            let (text, ink) = match view.carm.screening {
                true => (w.screening_on, look.ink.accent),
                false => (w.last_held, look.ink.soft),
            };
            plate(p, look, inside.left_bottom(), Align2::LEFT_BOTTOM, text, theme::plain(13.0), ink);
            let (laid, ink) = match self.elsewhere() {
                true => (w.reference_elsewhere.to_owned(), look.ink.lesion),
                false => (self.laid_words(look), look.ink.soft),
            };
            if !laid.is_empty() {
                let at = inside.right_bottom();
                plate(p, look, at, Align2::RIGHT_BOTTOM, &laid, theme::plain(13.0), ink);
            }
        }
    }

    /// Brings the texture up to date; false when there is nothing to be seen.
    fn paint_texture(&mut self, ctx: &egui::Context) -> bool {
        let at = match (self.showing, &self.live) {
            (Showing::Run(_), _) => Tick(0),
            (_, Some(live)) => live.at,
            _ => return false,
        };
        let wanted = Painted { showing: self.showing, frame: self.frame, at, tools: self.tools.clone() };
        if self.painted.as_ref() == Some(&wanted) {
            return true;
        }
        let Some(grey) = self.shown() else { return false };
        let image = ColorImage::from_gray([grey.width, grey.height], &grey.pixels);
        match &mut self.texture {
            Some(texture) => texture.set(image, TextureOptions::LINEAR),
            None => self.texture = Some(ctx.load_texture("picture", image, TextureOptions::LINEAR)),
        }
        self.painted = Some(wanted);
        true
    }

    /// The picture as the tools have it; none while there is none.
    pub fn shown(&mut self) -> Option<Grey> {
        if let Some(run) = self.run().cloned() {
            let tools = &self.tools;
            let display = SubtractionDisplay::default();
            let grey = match () {
                () if tools.native => run.native(self.frame, &NativeDisplay::default()),
                () if tools.peak => run.peak_image(tools.shift_px, &display),
                () => run.subtracted(self.frame, tools.shift_px, &display),
            };
            return Some(grey.captioned());
        }
        let seen = Arc::clone(&self.live.as_ref()?.seen);
        let over = match self.tools.laid {
            Laid::Nothing => None,
            _ => self.reference(),
        };
        let Some(contrast) = over else { return Some(seen.image.clone().captioned()) };
        let grey = match (self.tools.laid, &self.mask) {
            (Laid::Roadmap, Some(mask)) => {
                let faded: Vec<f32> = contrast.iter().map(|v| self.tools.fade * v).collect();
                seen.roadmap(mask, &faded)
            }
            (Laid::Roadmap, None) => seen.image.clone(),
            _ => seen.over(&contrast, self.tools.fade, &NativeDisplay::default()),
        };
        Some(grey.captioned())
    }

    /// The run that is laid over: the one that was chosen, else the newest.
    pub(super) fn over(&self) -> Option<(u32, &Arc<Run>)> {
        let chosen = self.tools.over.and_then(|n| self.runs.get_key_value(&n));
        chosen.or_else(|| self.runs.last_key_value()).map(|(n, run)| (*n, run))
    }

    fn reference(&mut self) -> Option<Arc<Vec<f32>>> {
        let (number, run) = self.over().map(|(n, run)| (n, Arc::clone(run)))?;
        if self.reference.as_ref().is_none_or(|r| r.0 != number) {
            self.reference = Some((number, Arc::new(run.peak_opacity(self.tools.shift_px))));
        }
        self.reference.as_ref().map(|r| Arc::clone(&r.1))
    }

    /// Is something laid over the live picture that was taken from elsewhere?
    pub(super) fn elsewhere(&self) -> bool {
        let laid = self.tools.laid != Laid::Nothing;
        match (&self.live, self.over()) {
            (Some(live), Some((_, run))) => laid && !run.spec.pose.matches(&live.pose),
            _ => false,
        }
    }

    pub(super) fn laid_words(&self, look: &Look) -> String {
        match (self.tools.laid, self.over()) {
            (Laid::Nothing, _) | (_, None) => String::new(),
            (laid, Some((number, _))) => format!("{}: {} {number}", laid.name(look), look.words.run),
        }
    }
}

/// The marks as they stand on the glass: dashed where the picture under them has moved.
fn marks(p: &egui::Painter, look: &Look, view: &View, film: Rect) {
    let at = |e: [f64; 2]| film.min + vec2(e[0] as f32, e[1] as f32) * film.width();
    let p = p.with_clip_rect(film);
    let mut taken: Vec<Rect> = Vec::new();
    for mark in &view.drawn {
        let [a, b] = mark.ends.map(at);
        let ink = if mark.holds { look.ink.accent } else { look.ink.lesion };
        let stroke = Stroke::new(1.6, ink);
        if mark.holds {
            p.line_segment([a, b], stroke);
        } else {
            p.extend(egui::Shape::dashed_line(&[a, b], stroke, 5.0, 4.0));
        }
        // Names beside each other are moved down until each can be read.
        let mut end = if a.x > b.x { a } else { b } + vec2(3.0, 0.0);
        let name = say::mark_short(mark.name, look.words);
        let size = p.layout_no_wrap(name.to_owned(), theme::plain(11.0), ink).size() + vec2(12.0, 4.0);
        let mut spot = Align2::LEFT_CENTER.anchor_size(end, size);
        while taken.iter().any(|t| t.intersects(spot)) {
            end.y += 3.0;
            spot = Align2::LEFT_CENTER.anchor_size(end, size);
        }
        taken.push(spot);
        plate(&p, look, end, Align2::LEFT_CENTER, name, theme::plain(11.0), ink);
    }
}

/// Words over a picture, on a plate of their own: a picture can be as bright as they are.
fn plate(p: &egui::Painter, look: &Look, at: Pos2, align: Align2, text: &str, font: FontId, ink: Color32) {
    let galley = p.layout_no_wrap(text.to_owned(), font, ink);
    let ground = align.anchor_size(at, galley.size() + vec2(12.0, 4.0));
    p.rect_filled(ground, 5.0, look.ink.film);
    p.galley(ground.min + vec2(6.0, 2.0), galley, ink);
}
