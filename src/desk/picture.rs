//! The picture: what the C-arm shows, large. Screening is drawn again and again while it is on; each run is kept as a
//! loop that can be stopped and stepped; words say what can be seen on it.
//!
//! A picture takes longer than a frame of the window, so it is computed beside it, from a copy of the session: nothing
//! that is drawn can change what happens.

use super::carm;
use super::theme::{self, Look, gap};
use crate::imaging::{Grey, SubtractionDisplay};
use crate::session::Session;
use crate::session::event::Tick;
use crate::session::log::Mode;
use crate::session::view::View;
use egui::{
    Align2, Color32, ColorImage, FontId, Pos2, Rect, RichText, Sense, TextureHandle, TextureOptions, pos2,
    vec2,
};
use std::collections::BTreeMap;
use std::sync::mpsc::{Receiver, channel};

/// Pixels across a picture.
const PIXELS: usize = 384;
/// Frames of a loop shown in one second.
const FPS: f64 = 3.0;
/// Between two pictures of screening the worker rests so many times as long as the last one took: a machine that draws
/// them fast shows more of them, and a slow one keeps its processor for the window.
const REST: f64 = 2.5;
/// It rests at least this long, s: pulsed fluoroscopy at 7.5 pictures a second (common practice, no source).
const LEAST_S: f64 = 1.0 / 7.5;
/// ... and at most this long: what is on the screen must not be old.
const MOST_S: f64 = 1.0;
/// Runs that are kept as loops.
const KEPT: usize = 6;

/// What a worker brings back.
enum Drawn {
    Live(Grey),
    Run(u32, Vec<Grey>),
    Fault(String),
}

/// What is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Showing {
    #[default]
    Nothing,
    Live,
    Run(u32),
}

/// The picture with its loops.
#[derive(Default)]
pub struct PicturePanel {
    texture: Option<TextureHandle>,
    /// What the texture holds: showing and frame.
    painted: Option<(Showing, usize, Tick)>,
    showing: Showing,
    live: Option<(Grey, Tick)>,
    runs: BTreeMap<u32, Vec<Grey>>,
    asked: u32,
    worker: Option<Receiver<Drawn>>,
    asked_live: Tick,
    /// Real time of the window, s; when the picture being drawn was asked for, and before when no other is.
    clock_s: f64,
    asked_s: f64,
    rest_until_s: f64,
    frame: usize,
    playing: bool,
    part: f64,
    fault: Option<String>,
    /// In an examination nobody says what a run shows.
    silent: bool,
}

impl PicturePanel {
    /// The picture as a mode wants it.
    pub fn of(mode: Mode) -> Self {
        Self { silent: mode == Mode::Examination, ..Self::default() }
    }

    /// Takes in what was drawn meanwhile, and asks for what is wanted next.
    pub fn refresh(&mut self, ctx: &egui::Context, session: &Session, view: &View) {
        if let Some(drawn) = self.worker.as_ref().and_then(|w| w.try_recv().ok()) {
            self.worker = None;
            match drawn {
                Drawn::Live(grey) => {
                    let took_s = self.clock_s - self.asked_s;
                    self.rest_until_s = self.clock_s + (REST * took_s).clamp(LEAST_S, MOST_S);
                    self.live = Some((grey, self.asked_live));
                    if self.showing == Showing::Nothing {
                        self.showing = Showing::Live;
                    }
                }
                Drawn::Run(number, frames) => {
                    self.runs.insert(number, frames);
                    if self.runs.len() > KEPT {
                        self.runs.pop_first();
                    }
                    (self.showing, self.frame, self.playing) = (Showing::Run(number), 0, true);
                }
                Drawn::Fault(why) => self.fault = Some(why),
            }
        }
        if self.worker.is_some() {
            return;
        }
        let newest = view.runs.last().map_or(0, |r| r.number);
        if newest > self.asked {
            self.asked = newest;
            self.draw(ctx, session, move |s| run(s, newest));
        } else if view.carm.screening && view.now > self.asked_live && self.clock_s >= self.rest_until_s {
            (self.asked_live, self.asked_s) = (view.now, self.clock_s);
            self.draw(ctx, session, |s| match s.fluoroscopy(&s.pose(), PIXELS) {
                Ok(grey) => Drawn::Live(grey),
                Err(why) => Drawn::Fault(why),
            });
        }
    }

    /// Is something being drawn?
    pub fn busy(&self) -> bool {
        self.worker.is_some()
    }

    /// Is the newest picture still to come?
    pub fn behind(&self, view: &View) -> bool {
        self.busy() || view.carm.screening && view.now > self.asked_live
    }

    /// Does a loop run?
    pub fn playing(&self) -> bool {
        self.playing
    }

    /// Stops the newest run's loop where most has changed since its first frame: the vessels are fullest there. False
    /// while it is still being drawn.
    pub fn hold_fullest(&mut self) -> bool {
        if self.busy() {
            return false;
        }
        if let Some((number, frames)) = self.runs.last_key_value()
            && let Some(first) = frames.first()
        {
            let change = |f: &Grey| -> u64 {
                f.pixels.iter().zip(&first.pixels).map(|(a, b)| u64::from(a.abs_diff(*b))).sum()
            };
            let fullest = (0..frames.len()).max_by_key(|i| change(&frames[*i])).unwrap_or_default();
            (self.showing, self.frame, self.playing) = (Showing::Run(*number), fullest, false);
        }
        true
    }

    /// Moves a running loop on by real time; it stops after one turn.
    pub fn tick(&mut self, seconds: f64) {
        self.clock_s += seconds;
        let Showing::Run(number) = self.showing else { return };
        if !self.playing {
            return;
        }
        self.part += seconds.min(0.5) * FPS;
        while self.part >= 1.0 {
            self.part -= 1.0;
            self.frame += 1;
        }
        if self.frame >= self.frames(number) {
            self.frame = self.frames(number).saturating_sub(1);
            self.playing = false;
        }
    }

    fn frames(&self, number: u32) -> usize {
        self.runs.get(&number).map_or(0, Vec::len)
    }

    /// Starts a worker on a copy of the session.
    fn draw(
        &mut self,
        ctx: &egui::Context,
        session: &Session,
        work: impl FnOnce(&Session) -> Drawn + Send + 'static,
    ) {
        let (send, receive) = channel();
        let (copy, ctx) = (session.clone(), ctx.clone());
        let started = std::thread::Builder::new().name("picture".into()).spawn(move || {
            // Nobody waits for it when the case was left meanwhile.
            let _ = send.send(work(&copy));
            ctx.request_repaint();
        });
        match started {
            Ok(_) => self.worker = Some(receive),
            Err(why) => self.fault = Some(why.to_string()),
        }
    }

    /// Shows the picture as large as the room allows.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, view: &View) {
        let size = vec2(ui.available_width(), (ui.available_height() - 44.0).max(80.0));
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        let says = self.words(look, view);
        response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &says));
        ui.painter().rect_filled(rect, 8.0, look.ink.film);
        self.paint(ui, look, view, rect);
        ui.add_space(gap::S);
        self.bar(ui, look, view, &says);
    }

    /// What the picture shows, in words.
    fn words(&self, look: &Look, view: &View) -> String {
        let w = look.words;
        match self.showing {
            Showing::Nothing => w.no_picture.to_owned(),
            Showing::Live => w.fluoroscopy.to_owned(),
            Showing::Run(number) if self.silent => format!("{} {number}", w.run),
            Showing::Run(number) => {
                let seen = view.runs.iter().find(|r| r.number == number).map(|r| r.seen.join("; "));
                format!("{} {number}: {}", w.run, seen.unwrap_or_default())
            }
        }
    }

    fn paint(&mut self, ui: &egui::Ui, look: &Look, view: &View, rect: Rect) {
        let w = look.words;
        let (grey, at) = match self.showing {
            Showing::Run(number) => (self.runs.get(&number).and_then(|f| f.get(self.frame)), Tick(0)),
            _ => (self.live.as_ref().map(|l| &l.0), self.live.as_ref().map_or(Tick(0), |l| l.1)),
        };
        let Some(grey) = grey else {
            let text = if self.busy() { w.drawing } else { self.fault.as_deref().unwrap_or(w.no_picture) };
            let hint =
                ui.painter().layout(text.to_owned(), theme::plain(16.0), look.ink.soft, rect.width() - 60.0);
            ui.painter().galley(rect.center() - 0.5 * hint.size(), hint, look.ink.soft);
            return;
        };
        if self.painted != Some((self.showing, self.frame, at)) {
            let image = ColorImage::from_gray([grey.width, grey.height], &grey.pixels);
            match &mut self.texture {
                Some(texture) => texture.set(image, TextureOptions::LINEAR),
                None => self.texture = Some(ui.ctx().load_texture("picture", image, TextureOptions::LINEAR)),
            }
            self.painted = Some((self.showing, self.frame, at));
        }
        let Some(texture) = &self.texture else { return };
        let side = rect.width().min(rect.height());
        let at = Rect::from_center_size(rect.center(), vec2(side, side));
        let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        ui.painter().image(texture.id(), at, whole, Color32::WHITE);
        let title = match self.showing {
            Showing::Run(number) => format!("{} {number}", w.run),
            _ => w.fluoroscopy.to_owned(),
        };
        let pose = carm::pose(view.carm.primary_deg, view.carm.secondary_deg);
        let p = ui.painter();
        let inside = rect.shrink(8.0);
        plate(p, look, inside.left_top(), Align2::LEFT_TOP, &title, theme::bold(15.0), look.ink.text);
        if self.showing == Showing::Live {
            plate(p, look, inside.right_top(), Align2::RIGHT_TOP, &pose, theme::bold(15.0), look.ink.text);
            let stale = !view.carm.screening;
            let (text, ink) =
                if stale { (w.last_held, look.ink.soft) } else { (w.screening_on, look.ink.accent) };
            plate(p, look, inside.left_bottom(), Align2::LEFT_BOTTOM, text, theme::plain(13.0), ink);
        }
    }

    /// Under the picture: which picture, and the loop's frame; else what was seen.
    fn bar(&mut self, ui: &mut egui::Ui, look: &Look, view: &View, says: &str) {
        let w = look.words;
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = gap::S;
            if self.live.is_some() && ui.selectable_label(self.showing == Showing::Live, w.live).clicked() {
                (self.showing, self.playing) = (Showing::Live, false);
            }
            let numbers: Vec<u32> = self.runs.keys().copied().collect();
            for number in numbers {
                let chosen = self.showing == Showing::Run(number);
                if ui.selectable_label(chosen, format!("{} {number}", w.run)).clicked() {
                    (self.showing, self.frame, self.playing) = (Showing::Run(number), 0, !look.still);
                }
            }
            if let Showing::Run(number) = self.showing {
                let last = self.frames(number).saturating_sub(1);
                let label = format!("{} {}", w.frame, self.frame + 1);
                let slider = ui.add(egui::Slider::new(&mut self.frame, 0..=last).show_value(false));
                slider.widget_info(|| egui::WidgetInfo::slider(true, self.frame as f64, &label));
                if slider.changed() {
                    self.playing = false;
                }
            }
            if !view.runs.is_empty() && !self.silent {
                let text = RichText::new(says).size(13.0).color(look.ink.soft);
                ui.add(egui::Label::new(text).truncate()).on_hover_text(says);
            }
        });
    }
}

/// Words over a picture, on a plate of their own: a picture can be as bright as they are.
fn plate(p: &egui::Painter, look: &Look, at: Pos2, align: Align2, text: &str, font: FontId, ink: Color32) {
    let galley = p.layout_no_wrap(text.to_owned(), font, ink);
    let ground = align.anchor_size(at, galley.size() + vec2(12.0, 4.0));
    p.rect_filled(ground, 5.0, look.ink.film);
    p.galley(ground.min + vec2(6.0, 2.0), galley, ink);
}

/// A whole run as a loop.
fn run(session: &Session, number: u32) -> Drawn {
    match session.angiogram(&session.pose(), PIXELS) {
        Ok(run) => {
            let display = SubtractionDisplay::default();
            let frames = (0..run.frames.len()).map(|i| run.subtracted(i, (0.0, 0.0), &display).captioned());
            Drawn::Run(number, frames.collect())
        }
        Err(why) => Drawn::Fault(why),
    }
}
