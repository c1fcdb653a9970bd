//! What was said and done in the room, newest at the bottom, and above it what each pair of hands is doing now.

use super::say;
use super::theme::{self, Look, gap};
use crate::scenario::order::Worker;
use crate::session::Session;
use crate::session::event::{EventKind, Giver, Tick};
use crate::session::log::Mode;
use crate::session::view::{JobView, View};
use egui::{RichText, ScrollArea};

/// How a line is to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Voice {
    /// The trainee's own order.
    Own,
    /// Somebody in the room.
    Team,
    /// What is seen or told.
    Plain,
    /// It could not be done.
    Refused,
    /// The monitor, with its priority.
    Alarm(u8),
}

/// One line.
#[derive(Clone, Debug, PartialEq)]
pub struct Spoken {
    /// When.
    pub at: Tick,
    /// Who or what.
    pub voice: Voice,
    /// The words.
    pub text: String,
}

/// The strip with everything so far.
#[derive(Default)]
pub struct TalkPanel {
    lines: Vec<Spoken>,
    read: usize,
    decided: usize,
}

impl TalkPanel {
    /// Takes in what has happened since the last call; returns the new lines.
    pub fn listen(&mut self, session: &Session) -> &[Spoken] {
        let from = self.lines.len();
        let examined = session.mode() == Mode::Examination;
        for event in session.events().iter().skip(self.read) {
            self.decided += usize::from(matches!(event.kind, EventKind::Chosen { .. }));
            // In an examination a run is for the examined to read.
            if examined && matches!(event.kind, EventKind::Ran(_)) {
                continue;
            }
            if let Some(text) = session.tell(event) {
                let voice = match &event.kind {
                    EventKind::Ordered { by: Giver::Trainee | Giver::Option(_), .. }
                    | EventKind::Chosen { .. } => Voice::Own,
                    EventKind::Refused { .. } => Voice::Refused,
                    EventKind::Alarm { priority, .. } => Voice::Alarm(*priority),
                    EventKind::Said { who, .. } if who != "narrator" => Voice::Team,
                    _ => Voice::Plain,
                };
                self.lines.push(Spoken { at: event.at, voice, text });
            }
        }
        self.read = session.events().len();
        &self.lines[from..]
    }

    /// How many questions have been answered or have closed.
    pub fn decided(&self) -> usize {
        self.decided
    }

    /// A line of the desk itself, such as a log that could not be written.
    pub fn note(&mut self, at: Tick, text: String) {
        self.lines.push(Spoken { at, voice: Voice::Refused, text });
    }

    /// Shows it.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, view: &View) {
        ui.label(theme::eyebrow(look, look.words.talk));
        for worker in [Worker::Operator, Worker::Anaesthetist, Worker::Runner] {
            let mut theirs = view.jobs.iter().filter(|j| j.worker == worker);
            if let Some(job) = theirs.next() {
                let waiting: Vec<&str> = theirs.map(|j| j.text.as_str()).collect();
                hands(ui, look, job, &waiting, view.now);
            }
        }
        ScrollArea::vertical().auto_shrink([false, false]).stick_to_bottom(true).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 6.0;
            let first = self.lines.len().saturating_sub(200);
            for line in &self.lines[first..] {
                spoken(ui, look, line);
            }
        });
    }
}

/// One line of talk: time, then words in the voice's ink.
fn spoken(ui: &mut egui::Ui, look: &Look, line: &Spoken) {
    let ink = &look.ink;
    let (colour, bold) = match line.voice {
        Voice::Own => (ink.accent, false),
        Voice::Team => (ink.text, false),
        Voice::Plain => (ink.soft, false),
        Voice::Refused => (ink.lesion, true),
        Voice::Alarm(p) => (ink.alarm(p), true),
    };
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.x = gap::M;
        ui.label(RichText::new(line.at.to_string()).size(12.0).color(ink.faint));
        let font = if bold { theme::bold(15.0) } else { theme::plain(15.0) };
        ui.add(egui::Label::new(RichText::new(&line.text).font(font).color(colour)).wrap());
    });
}

/// What one pair of hands is doing, how far it has come, and how much waits behind it.
fn hands(ui: &mut egui::Ui, look: &Look, job: &JobView, waiting: &[&str], now: Tick) {
    let w = look.words;
    let part = match (job.began, job.until) {
        (Some(began), Some(until)) if until > began => {
            Some((now.seconds() - began.seconds()) / (until.seconds() - began.seconds()))
        }
        _ => None,
    };
    let mut left = match (job.began, job.until) {
        (None, _) => w.waits.to_owned(),
        (_, Some(until)) => format!("{:.0} s", (until.seconds() - now.seconds()).max(0.0)),
        _ => String::new(),
    };
    if !waiting.is_empty() {
        left = format!("{left}  +{}", waiting.len());
    }
    let who = say::worker(job.worker, w);
    let queue: String = waiting.iter().map(|text| format!("\n{}: {text}", w.waits)).collect();
    let says = format!("{who}: {} {left}{queue}", job.text);
    let width = ui.available_width();
    let (rect, response) = ui.allocate_exact_size(egui::vec2(width, 26.0), egui::Sense::hover());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::ProgressIndicator, true, &says));
    response.on_hover_text(&says);
    ui.painter().rect_filled(rect, 5.0, look.ink.raised);
    if let Some(part) = part {
        let mut done = rect;
        done.set_width(rect.width() * (part as f32).clamp(0.0, 1.0));
        ui.painter().rect_filled(done, 5.0, look.ink.lifted);
    }
    let inside = rect.shrink2(egui::vec2(8.0, 0.0));
    let right = ui.painter().layout_no_wrap(left, theme::bold(13.0), look.ink.soft);
    let room = inside.width() - right.size().x - 10.0;
    let mut job_text = egui::text::LayoutJob::simple_singleline(
        format!("{who}: {}", job.text),
        theme::plain(13.0),
        look.ink.text,
    );
    job_text.wrap = egui::text::TextWrapping::truncate_at_width(room);
    let galley = ui.painter().layout_job(job_text);
    ui.painter().galley(
        egui::pos2(inside.left(), inside.center().y - 0.5 * galley.size().y),
        galley,
        look.ink.text,
    );
    let at = egui::pos2(inside.right() - right.size().x, inside.center().y - 0.5 * right.size().y);
    ui.painter().galley(at, right, look.ink.soft);
}
