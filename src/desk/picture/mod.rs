//! The picture: what the C-arm shows, large. Screening is drawn again and again while it is on; each run is kept as a
//! loop that can be stopped, stepped, shifted and measured on; words say what can be seen on it.
//!
//! A picture takes longer than a frame of the window, so it is computed beside it, from a copy of the session: nothing
//! that is drawn can change what happens. What the trainee makes of it ([`tools`]) is done to the picture that is there.

mod inside;
mod ruler;
mod tools;

use super::carm;
use super::say;
use super::theme::{self, Look, gap};
use crate::imaging::{Grey, NativeDisplay, Run, Screening, SubtractionDisplay};
use crate::kit::Device;
use crate::scenario::Order;
use crate::session::Session;
use crate::session::event::Tick;
use crate::session::log::Mode;
use crate::session::view::View;
use egui::{
    Align2, Color32, ColorImage, FontId, Key, Modifiers, Pos2, Rect, Sense, Stroke, TextureHandle,
    TextureOptions, pos2, vec2,
};
use inside::Inside;
use ruler::Ruler;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};
use tools::{Laid, Tools};

/// Pixels across a picture.
const PIXELS: usize = 384;
/// Between two pictures of screening the worker rests so many times as long as the last one took: a machine that draws
/// them fast shows more of them, and a slow one keeps its processor for the window.
const REST: f64 = 2.5;
/// It rests at least this long, s: pulsed fluoroscopy at 7.5 pictures a second (common practice, no source).
const LEAST_S: f64 = 1.0 / 7.5;
/// ... and at most this long: what is on the screen must not be old.
const MOST_S: f64 = 1.0;
/// Frames of runs that are kept; a run beyond them pushes the oldest out.
const KEPT_FRAMES: usize = 160;

/// What a worker brings back.
enum Drawn {
    Live(Box<Screening>),
    Mask(Box<Screening>),
    Run(u32, Box<Run>),
    Fault(String),
}

/// What is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Showing {
    #[default]
    Nothing,
    Live,
    Run(u32),
    /// The teaching view: vessels and devices in three dimensions.
    Inside,
}

/// One frame of fluoroscopy: when it was taken, and from where.
#[derive(Clone)]
struct Live {
    seen: Arc<Screening>,
    at: Tick,
    pose: crate::imaging::Pose,
}

/// What the texture holds.
#[derive(Clone, Debug, PartialEq)]
struct Painted {
    showing: Showing,
    frame: usize,
    at: Tick,
    tools: Tools,
}

/// The picture with its loops.
#[derive(Default)]
pub struct PicturePanel {
    texture: Option<TextureHandle>,
    painted: Option<Painted>,
    showing: Showing,
    live: Option<Live>,
    runs: BTreeMap<u32, Arc<Run>>,
    asked: u32,
    worker: Option<Receiver<Drawn>>,
    asked_live: Tick,
    asked_pose: crate::imaging::Pose,
    /// Real time of the window, s; when the picture being drawn was asked for, and before when no other is.
    clock_s: f64,
    asked_s: f64,
    rest_until_s: f64,
    frame: usize,
    playing: bool,
    part: f64,
    fault: Option<String>,
    /// In an examination nobody says what a run shows, and nobody shows the vessels from inside.
    silent: bool,
    tools: Tools,
    /// What a roadmap is subtracted from: fluoroscopy without devices, as it was when the roadmap was begun.
    mask: Option<Arc<Screening>>,
    /// The most contrast of the run that is laid over, kept with its number.
    reference: Option<(u32, Arc<Vec<f32>>)>,
    ruler: Ruler,
    inside: Inside,
    /// Has the picture little height?
    low: bool,
    /// Spacing of the bands of a catheter that lies in a vessel, mm.
    bands_mm: Option<f64>,
}

impl PicturePanel {
    /// The picture as a mode wants it.
    pub fn of(mode: Mode) -> Self {
        Self { silent: mode == Mode::Examination, ..Self::default() }
    }

    /// Takes in what was drawn meanwhile, and asks for what is wanted next.
    pub fn refresh(&mut self, ctx: &egui::Context, session: &Session, view: &View) {
        self.bands_mm = bands_mm(session, view);
        if self.showing == Showing::Inside {
            self.inside.refresh(ctx, session);
        }
        if let Some(drawn) = self.worker.as_ref().and_then(|w| w.try_recv().ok()) {
            self.worker = None;
            self.take_in(drawn);
        }
        if self.worker.is_some() {
            return;
        }
        let newest = view.runs.last().map_or(0, |r| r.number);
        let pose = session.pose();
        if newest > self.asked {
            self.asked = newest;
            self.draw(ctx, session, move |s| match s.angiogram(&s.pose(), PIXELS) {
                Ok(run) => Drawn::Run(newest, Box::new(run)),
                Err(why) => Drawn::Fault(why),
            });
        } else if self.tools.laid == Laid::Roadmap && self.mask.is_none() {
            self.draw(ctx, session, |s| match s.screening(&s.pose(), PIXELS, false) {
                Ok(mask) => Drawn::Mask(Box::new(mask)),
                Err(why) => Drawn::Fault(why),
            });
        } else if view.carm.screening && view.now > self.asked_live && self.clock_s >= self.rest_until_s {
            (self.asked_live, self.asked_s, self.asked_pose) = (view.now, self.clock_s, pose);
            self.draw(ctx, session, |s| match s.screening(&s.pose(), PIXELS, true) {
                Ok(seen) => Drawn::Live(Box::new(seen)),
                Err(why) => Drawn::Fault(why),
            });
        }
    }

    fn take_in(&mut self, drawn: Drawn) {
        match drawn {
            Drawn::Live(seen) => {
                let took_s = self.clock_s - self.asked_s;
                self.rest_until_s = self.clock_s + (REST * took_s).clamp(LEAST_S, MOST_S);
                let seen = Arc::from(seen);
                self.live = Some(Live { seen, at: self.asked_live, pose: self.asked_pose });
                if self.showing == Showing::Nothing {
                    self.showing = Showing::Live;
                }
            }
            Drawn::Mask(mask) => self.mask = Some(Arc::from(mask)),
            Drawn::Run(number, run) => {
                self.runs.insert(number, Arc::from(run));
                let frames =
                    |runs: &BTreeMap<u32, Arc<Run>>| runs.values().map(|r| r.frames.len()).sum::<usize>();
                while self.runs.len() > 1 && frames(&self.runs) > KEPT_FRAMES {
                    self.runs.pop_first();
                }
                self.turn_to_run(number, true);
            }
            Drawn::Fault(why) => self.fault = Some(why),
        }
    }

    fn turn_to_run(&mut self, number: u32, playing: bool) {
        if self.showing != Showing::Run(number) {
            // What was measured belongs to its picture.
            self.ruler.clear();
        }
        (self.showing, self.frame, self.playing, self.part) = (Showing::Run(number), 0, playing, 0.0);
    }

    /// Is something being drawn?
    pub fn busy(&self) -> bool {
        self.worker.is_some()
    }

    /// Is the newest picture still to come?
    pub fn behind(&self, view: &View) -> bool {
        let inside = self.shows_inside() && self.inside.busy();
        inside || self.busy() || view.carm.screening && view.now > self.asked_live
    }

    /// Does a loop run?
    pub fn playing(&self) -> bool {
        self.playing
    }

    /// Shows vessels and devices in three dimensions, or the picture again. An examination has no such view.
    pub fn show_inside(&mut self, on: bool) {
        if on && !self.silent {
            (self.showing, self.playing) = (Showing::Inside, false);
        } else if self.showing == Showing::Inside {
            self.showing = if self.live.is_some() { Showing::Live } else { Showing::Nothing };
        }
    }

    /// Is the teaching view on?
    pub fn shows_inside(&self) -> bool {
        self.showing == Showing::Inside
    }

    /// Stops the newest run's loop where most is filled, and shows its peak opacity. False while it is still being drawn.
    pub fn hold_fullest(&mut self) -> bool {
        if self.busy() {
            return false;
        }
        if let Some((&number, run)) = self.runs.last_key_value() {
            let fullest = fullest(run);
            self.turn_to_run(number, false);
            (self.frame, self.tools.peak) = (fullest, true);
        }
        true
    }

    /// Moves a running loop on by real time; it stops after one turn.
    pub fn tick(&mut self, seconds: f64) {
        self.clock_s += seconds;
        let Some(run) = self.run() else { return };
        if !self.playing {
            return;
        }
        let (fps, frames) = (run.spec.fps, run.frames.len());
        self.part += seconds.min(0.5) * fps;
        self.frame += self.part as usize;
        self.part -= self.part.floor();
        if self.frame >= frames {
            (self.frame, self.playing) = (frames.saturating_sub(1), false);
        }
    }

    /// The run that is shown.
    fn run(&self) -> Option<&Arc<Run>> {
        match self.showing {
            Showing::Run(number) => self.runs.get(&number),
            _ => None,
        }
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

    /// Shows the picture as large as the room allows, its tools under it. A length that was measured comes back as an order.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, view: &View) -> Vec<Order> {
        if !self.silent && ui.input_mut(|i| i.consume_key(Modifiers::NONE, Key::F4)) {
            self.show_inside(!self.shows_inside());
        }
        let size = vec2(ui.available_width(), (ui.available_height() - self.tools_height(ui)).max(80.0));
        let says = self.words(look, view);
        if self.showing == Showing::Inside {
            self.inside.ui(ui, look, size);
        } else {
            let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
            response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &says));
            ui.painter().rect_filled(rect, 8.0, look.ink.film);
            let side = rect.width().min(rect.height());
            let film = Rect::from_center_size(rect.center(), vec2(side, side));
            self.paint(ui, look, view, rect, film);
            if self.run().is_some() {
                self.ruler.over(ui, look, &response, film, PIXELS);
            }
        }
        ui.add_space(gap::S);
        self.bar(ui, look, view, &says)
    }

    /// What the picture shows, in words.
    fn words(&self, look: &Look, view: &View) -> String {
        let w = look.words;
        match self.showing {
            Showing::Nothing => w.no_picture.to_owned(),
            Showing::Inside => w.inside_about.to_owned(),
            Showing::Live => {
                let state = if view.carm.screening { w.screening_on } else { w.last_held };
                let laid = self.laid_words(look);
                let off = if self.elsewhere() { w.reference_elsewhere } else { "" };
                [w.fluoroscopy, state, &laid, off]
                    .iter()
                    .filter(|s| !s.is_empty())
                    .copied()
                    .collect::<Vec<_>>()
                    .join(", ")
            }
            Showing::Run(number) if self.silent => format!("{} {number}", w.run),
            Showing::Run(number) => {
                let seen = view.runs.iter().find(|r| r.number == number).map(|r| r.seen.join("; "));
                format!("{} {number}: {}", w.run, seen.unwrap_or_default())
            }
        }
    }

    fn paint(&mut self, ui: &egui::Ui, look: &Look, view: &View, rect: Rect, film: Rect) {
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
    fn over(&self) -> Option<(u32, &Arc<Run>)> {
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
    fn elsewhere(&self) -> bool {
        let laid = self.tools.laid != Laid::Nothing;
        match (&self.live, self.over()) {
            (Some(live), Some((_, run))) => laid && !run.spec.pose.matches(&live.pose),
            _ => false,
        }
    }

    fn laid_words(&self, look: &Look) -> String {
        match (self.tools.laid, self.over()) {
            (Laid::Nothing, _) | (_, None) => String::new(),
            (laid, Some((number, _))) => format!("{}: {} {number}", laid.name(look), look.words.run),
        }
    }
}

/// What counts as full, nats: more in one place does not make a picture fuller.
const FULL_NATS: f32 = 0.25;

/// The frame in which most is filled.
fn fullest(run: &Run) -> usize {
    let contrast =
        |i: usize| -> f32 { run.subtraction(i, (0.0, 0.0)).iter().map(|v| v.clamp(0.0, FULL_NATS)).sum() };
    let sums: Vec<f32> = (0..run.frames.len()).map(contrast).collect();
    (0..sums.len()).max_by(|a, b| sums[*a].total_cmp(&sums[*b])).unwrap_or_default()
}

/// Spacing of the bands of the first marked catheter that lies on a line, mm.
fn bands_mm(session: &Session, view: &View) -> Option<f64> {
    let lying = view.rail.lines.iter().flat_map(|l| &l.items);
    lying.filter_map(|i| session.case().shelf.get(&i.device)).find_map(|s| match &s.device {
        Device::Catheter(c) => c.bands.as_ref().map(|b| b.spacing_mm),
        _ => None,
    })
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
