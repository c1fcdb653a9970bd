//! The picture: what the C-arm shows, large. Screening is drawn again and again while it is on; each run is kept as a
//! loop that can be stopped, stepped, shifted and measured on; words say what can be seen on it.
//!
//! A picture takes longer than a frame of the window, so it is computed beside it, from a copy of the session: nothing
//! that is drawn can change what happens. What the trainee makes of it ([`tools`]) is done to the picture that is there.

mod film;
mod inside;
mod ruler;
mod tools;

use super::theme::{Look, gap};
use crate::desk::aside::aside;
use crate::imaging::{Run, Screening};
use crate::kit::Device;
use crate::scenario::Order;
use crate::session::Session;
use crate::session::event::Tick;
use crate::session::log::Mode;
use crate::session::view::View;
use egui::{Key, Modifiers, Rect, Sense, TextureHandle, vec2};
use inside::Inside;
use ruler::Ruler;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::mpsc::Receiver;
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
        let copy = session.clone();
        match aside("picture", ctx, move || work(&copy)) {
            Ok(receive) => self.worker = Some(receive),
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
