//! The session watched once more: a cursor over its time, and for that moment the monitor's numbers, what was done, the rail and
//! the newest run's picture. Pictures come from the log, played again beside the window's own work; without a log there are
//! none, and everything else is there.

use super::aside::aside;
use super::parts;
use super::plot::{self, Scale};
use super::rail_paint::{Ruler, paint_lane, paint_vessel};
use super::theme::{self, Look, gap};
use crate::debrief::film::{self, Film, Still};
use crate::records::keeper::read_lines;
use crate::scenario::rule::Signals;
use crate::session::Session;
use crate::session::event::{EventKind, Tick};
use crate::session::record::Record;
use egui::{ColorImage, Rect, RichText, Sense, TextureHandle, TextureOptions, pos2, vec2};
use std::path::Path;
use std::sync::mpsc::Receiver;

/// Patient seconds that pass in a second while it plays.
const SPEEDS: [f64; 3] = [5.0, 20.0, 60.0];
/// Edge of the picture, points, and of a small one.
const PICTURE: f32 = 300.0;
const THUMB: f32 = 64.0;

/// What the thread that plays the log again sends: the record with its film, or why there is none.
type Played = Result<(Record, Option<Film>), String>;

/// The session with a cursor in it.
pub struct Again {
    record: Record,
    film: Film,
    coming: Option<Receiver<Played>>,
    /// Why there are no pictures.
    without: Option<String>,
    moments: Vec<Moment>,
    at_s: f64,
    playing: bool,
    speed: f64,
    /// One for each still of the film that has a picture.
    textures: Vec<(u32, TextureHandle)>,
}

/// A decision, a run or a release.
struct Moment {
    at: Tick,
    /// As it is told.
    told: String,
}

impl Again {
    /// Of a session that has ended; `path` is its log.
    pub fn of(session: &Session, path: Option<&Path>, ctx: &egui::Context, look: &Look) -> Self {
        let record = Record::of(session);
        let coming = match path.map(Path::to_owned) {
            Some(path) => aside("again", ctx, move || played(&path)).map_err(|e| e.to_string()),
            None => Err(look.words.again_no_log.to_owned()),
        };
        let (coming, without) = match coming {
            Ok(coming) => (Some(coming), None),
            Err(why) => (None, Some(why)),
        };
        let moments = moments(&record);
        let at_s = moments.first().map_or(0.0, |m| m.at.seconds());
        Self {
            record,
            film: Film::default(),
            coming,
            without,
            moments,
            at_s,
            playing: false,
            speed: SPEEDS[1],
            textures: Vec::new(),
        }
    }

    /// Is it moving?
    pub fn playing(&self) -> bool {
        self.playing
    }

    /// Are its pictures still to come?
    pub fn busy(&self) -> bool {
        self.coming.is_some()
    }

    /// The record.
    pub fn record(&self) -> &Record {
        &self.record
    }

    /// Its film, once that is there.
    pub fn film(&self) -> Option<&Film> {
        (!self.film.stills.is_empty()).then_some(&self.film)
    }

    fn now(&self) -> Tick {
        Tick((self.at_s * Tick::PER_SECOND as f64).round() as u64)
    }

    /// The end of the axis: what follows in the theatre's hours is watched, the ward's days stand in the curve.
    fn end_s(&self) -> f64 {
        self.record.theatre_end().seconds().max(1.0)
    }

    /// Shows curve, cursor and moment.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, session: &Session) {
        self.take_in(ui.ctx());
        let scale = plot::vitals(ui, look, session, 200.0);
        self.thumbs(ui, look, &scale);
        let cursor = scale.x(self.at_s);
        ui.painter().vline(cursor, scale.film.y_range(), egui::Stroke::new(2.0, look.ink.text));
        ui.add_space(gap::S);
        self.controls(ui, look);
        self.numbers(ui, look);
        ui.add_space(gap::S);
        let (rail, picture) = (self.rail(), self.picture());
        let has_picture = picture.is_some() || self.without.is_some() || self.busy();
        let mut left = |ui: &mut egui::Ui| {
            self.told(ui, look);
            match rail {
                Some(still) => draw_rail(ui, look, still),
                None => drop(ui.label(RichText::new(look.words.again_no_rail).color(look.ink.soft))),
            }
        };
        let mut right = |ui: &mut egui::Ui| self.show(ui, look, picture);
        if has_picture {
            parts::abreast(ui, 280.0, &mut [(2.2, &mut left), (1.0, &mut right)]);
        } else {
            left(ui);
        }
    }

    /// What the thread has sent meanwhile.
    fn take_in(&mut self, ctx: &egui::Context) {
        let Some(played) = self.coming.as_ref().and_then(|c| c.try_recv().ok()) else { return };
        self.coming = None;
        match played {
            Ok((record, Some(film))) => {
                self.textures =
                    film.stills.iter().filter_map(|s| Some((s.event, texture(ctx, s)?))).collect();
                (self.record, self.film) = (record, film);
                self.moments = moments(&self.record);
            }
            Ok((record, None)) => {
                if let crate::session::record::Origin::Recalled(why) = &record.origin {
                    self.without = Some(why.clone());
                }
            }
            Err(why) => self.without = Some(why),
        }
    }

    /// The runs, small, each under its moment; a press goes there.
    fn thumbs(&mut self, ui: &mut egui::Ui, look: &Look, scale: &Scale) {
        if self.textures.is_empty() {
            return;
        }
        let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), THUMB + 4.0), Sense::hover());
        let edge = THUMB.min(scale.film.width() / self.textures.len() as f32 - 2.0);
        let mut free = scale.film.left();
        let mut go = None;
        let count = self.textures.len();
        for (i, (event, texture)) in self.textures.iter().enumerate() {
            let Some(happened) = self.record.events.get(*event as usize) else { continue };
            // As far right as its time, and never so far that those behind it have no room.
            let most = scale.film.right() - (count - i) as f32 * (edge + 2.0);
            let left = (scale.x(happened.at.seconds()) - 0.5 * edge).max(free).min(most.max(free));
            free = left + edge + 2.0;
            let place = Rect::from_min_size(pos2(left, rect.top() + 4.0), vec2(edge, edge));
            let response = ui.interact(place, ui.id().with(("again", event)), Sense::click());
            let says = format!("{} {}", look.words.run, happened.at);
            response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, &says));
            let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
            ui.painter().image(texture.id(), place, whole, egui::Color32::WHITE);
            let now = happened.at.seconds() <= self.at_s + 0.05;
            let ink = if response.has_focus() || response.hovered() {
                look.ink.accent
            } else if now {
                look.ink.text
            } else {
                look.ink.line
            };
            ui.painter().rect_stroke(place, 2.0, egui::Stroke::new(1.5, ink), egui::StrokeKind::Outside);
            if response.clicked() {
                go = Some(happened.at);
            }
        }
        if let Some(at) = go {
            self.go_to(at);
        }
    }

    fn go_to(&mut self, at: Tick) {
        (self.at_s, self.playing) = (at.seconds(), false);
    }

    fn controls(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        let end_s = self.end_s();
        if self.playing {
            let passed = ui.input(|i| f64::from(i.stable_dt.min(0.2)));
            self.at_s = (self.at_s + passed * self.speed).min(end_s);
            self.playing = self.at_s < end_s;
            ui.ctx().request_repaint();
        }
        ui.horizontal(|ui| {
            ui.label(theme::heading(w.again));
            ui.add_space(gap::M);
            let now = self.now();
            if ui.button(w.again_back).clicked()
                && let Some(at) = self.moments.iter().rev().map(|m| m.at).find(|at| *at < now)
            {
                self.go_to(at);
            }
            if ui.button(w.again_next).clicked()
                && let Some(at) = self.moments.iter().map(|m| m.at).find(|at| *at > now)
            {
                self.go_to(at);
            }
            if ui.button(if self.playing { w.again_pause } else { w.again_play }).clicked() {
                self.playing = !self.playing && self.at_s < end_s;
            }
            for speed in SPEEDS {
                ui.selectable_value(&mut self.speed, speed, format!("{speed:.0} ×"));
            }
            ui.spacing_mut().slider_width = (ui.available_width() - 90.0).max(80.0);
            let slider = egui::Slider::new(&mut self.at_s, 0.0..=end_s).show_value(false);
            let slider = ui.add(slider);
            let label = format!("{} {}", w.again_time, self.now());
            slider.widget_info(|| egui::WidgetInfo::slider(true, self.at_s, &label));
            if slider.changed() {
                self.playing = false;
            }
            ui.label(RichText::new(self.now().to_string()).font(theme::bold(15.0)));
        });
    }

    /// The monitor at that moment.
    fn numbers(&self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        let Some(row) = self.record.row_at(self.now()) else { return };
        ui.horizontal(|ui| {
            let value = |name: &str| row.value(name).map_or_else(|| "--".to_owned(), |v| format!("{v:.0}"));
            let pressure = format!("{}/{} ({})", value("sbp"), value("dbp"), value("map"));
            parts::figure(ui, look, w.arterial_pressure, &pressure, "mmHg");
            parts::figure(ui, look, w.heart_rate, &value("hr"), "/min");
            parts::figure(ui, look, w.saturation, &value("spo2"), "%");
        });
    }

    /// The last moment that had come by then.
    fn told(&self, ui: &mut egui::Ui, look: &Look) {
        let now = self.now();
        let Some((n, moment)) = self.moments.iter().enumerate().rev().find(|(_, m)| m.at <= now) else {
            return;
        };
        let count = format!("{} · {} / {}", moment.at, n + 1, self.moments.len());
        ui.label(RichText::new(count).size(13.0).color(look.ink.soft));
        ui.add(egui::Label::new(RichText::new(&moment.told).size(15.0)).wrap());
        ui.add_space(gap::S);
    }

    fn past(&self) -> impl Iterator<Item = &Still> {
        let now = self.now();
        let at = |s: &Still| self.record.events.get(s.event as usize).map(|e| e.at);
        self.film.stills.iter().rev().filter(move |s| at(s).is_some_and(|at| at <= now))
    }

    fn rail(&self) -> Option<&Still> {
        self.past().next()
    }

    fn picture(&self) -> Option<u32> {
        self.past().find(|s| s.picture.is_some()).map(|s| s.event)
    }

    fn show(&self, ui: &mut egui::Ui, look: &Look, event: Option<u32>) {
        let texture = event.and_then(|e| self.textures.iter().find(|t| t.0 == e));
        let Some((event, texture)) = texture else {
            let waiting = self.busy().then_some(look.words.again_comes);
            let none = Some(look.words.again_no_run).filter(|_| self.film().is_some());
            if let Some(text) = waiting.or(self.without.as_deref()).or(none) {
                ui.add(egui::Label::new(RichText::new(text).color(look.ink.soft)).wrap());
            }
            return;
        };
        let side = PICTURE.min(ui.available_width());
        let (rect, response) = ui.allocate_exact_size(vec2(side, side), Sense::hover());
        let event = self.record.events.get(*event as usize);
        let says = event.and_then(|e| self.record.words().tell(e)).unwrap_or_default();
        response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &says));
        let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        ui.painter().image(texture.id(), rect, whole, egui::Color32::WHITE);
    }
}

/// The log, played again.
fn played(path: &Path) -> Played {
    film::watched(&read_lines(path).map_err(|e| e.to_string())?)
}

fn texture(ctx: &egui::Context, still: &Still) -> Option<TextureHandle> {
    let grey = still.picture.as_ref()?;
    let image = ColorImage::from_gray([grey.width, grey.height], &grey.pixels);
    Some(ctx.load_texture(format!("still {}", still.event), image, TextureOptions::LINEAR))
}

fn moments(record: &Record) -> Vec<Moment> {
    let shown = |kind: &EventKind| {
        matches!(kind, EventKind::Chosen { .. } | EventKind::Ran(_) | EventKind::Placed(_))
    };
    let end = record.theatre_end();
    let of = record.events.iter().filter(|e| shown(&e.kind) && e.at <= end);
    of.filter_map(|e| Some(Moment { at: e.at, told: record.words().tell(e)? })).collect()
}

fn draw_rail(ui: &mut egui::Ui, look: &Look, still: &Still) {
    let rail = &still.rail;
    let lanes = rail.lines.len().max(1) as f32;
    let height = Ruler::HEAD + Ruler::BAND + Ruler::FOOT + lanes * Ruler::LANE + Ruler::FLAGS;
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    let says = crate::debrief::rail::told(rail);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &says));
    let ruler = Ruler::new(rect, 0.0, rail.length_mm.max(1.0));
    paint_vessel(ui.painter(), &ruler, rail, None, look);
    for (i, line) in rail.lines.iter().enumerate() {
        paint_lane(ui.painter(), &ruler, i, line, None, look);
    }
}
