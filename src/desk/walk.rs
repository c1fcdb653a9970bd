//! A walk through every screen of a case by the real window: for the manual's pictures, for tests, and for figures.
//!
//! Nothing is staged: a play gives the orders, the session computes, and the pictures show it. A walk's steps wait for
//! what can be seen (the CT has been read, a run was taken), so that any play can be walked through; where a play ends
//! early, the screens are shown as it left them.

use super::gauge;
use super::room::{Desk, Screen};
use super::seat::Seat;
use super::shell::{SEEN, with_desk};
use super::unseen::Canvas;
use crate::scenario::Order;
use crate::session::event::EventKind;
use crate::session::log::Mode;
use crate::session::player::Player;
use bevy::prelude::*;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::time::Real;
use bevy::window::{PrimaryWindow, RequestRedraw, WindowCloseRequested};
use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::Duration;

/// What to show, and what for.
#[derive(Clone)]
pub struct Walk {
    /// What is wanted of it.
    pub errand: Errand,
    /// Size of the window, pixels.
    pub window: (u32, u32),
    /// Drawn into memory, without a window.
    pub unseen: bool,
    /// Size of everything in it, per cent.
    pub size_percent: u16,
    /// The case.
    pub case: std::sync::Arc<crate::scenario::Loaded>,
    /// Who gives the orders.
    pub player: Player,
}

/// What a walk is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Errand {
    /// A picture of every screen in this folder, which must exist.
    Pictures(PathBuf),
    /// First paint, processor time at rest, frames a second in session.
    Figures,
}

/// How the walk went.
#[derive(Default)]
pub struct Report {
    frames: u32,
    seconds: f64,
    said: Vec<String>,
    saved: Vec<String>,
    faults: Vec<String>,
}

impl Report {
    /// In words, or the first thing that went wrong.
    ///
    /// # Errors
    /// When a step failed or a picture could not be saved.
    pub fn into_result(self, renderer: &str) -> Result<String, String> {
        if let Some(fault) = self.faults.into_iter().next() {
            return Err(fault);
        }
        let mut lines = self.said;
        if !self.saved.is_empty() {
            lines.push(format!("{} pictures: {}", self.saved.len(), self.saved.join(", ")));
        }
        lines.push(format!("{} frames in {:.1} s; drawn by {renderer}", self.frames, self.seconds));
        Ok(lines.join("\n"))
    }
}

/// The report, shared with whoever opened the window.
struct Shared(Rc<RefCell<Report>>);

/// The walk under way.
#[derive(Resource)]
pub struct Walking {
    walk: Walk,
    steps: &'static [Step],
    step: usize,
    /// Frames since the step began.
    frames: u32,
    /// A picture has been asked for and has not come yet.
    waiting: bool,
    began: Duration,
    /// Processor time at the step's beginning, s.
    cpu_s: f64,
}

impl Walking {
    /// Should frames come only when something happens?
    pub fn rests(&self) -> bool {
        matches!(self.steps.get(self.step), Some(Step::Rest(_)))
    }
}

/// One step of a walk.
enum Step {
    /// Turn to a screen.
    Turn(Screen),
    /// Open the case and let the play give the orders.
    Open,
    /// Let the play's time pass as fast as it can be computed, until this can be seen or the play is over.
    Pass(fn(&Seat) -> bool),
    /// Look on at the clock's own pace, s, and count frames.
    Watch(f64),
    /// Frames as fast as in session, so that what starting up left to do is done, s.
    Wait(f64),
    /// Nothing is done for so many seconds; the processor time is counted.
    Rest(f64),
    /// End the case by an order.
    Finish,
    /// Open or shut the settings.
    Settings(bool),
    /// Show vessels and devices in three dimensions, or the picture again.
    Inside(bool),
    /// Stop the newest run's loop where the vessels are fullest.
    Hold,
    /// Save a picture.
    Shot(&'static str),
}

const PICTURES: &[Step] = &[
    Step::Shot("1-cases"),
    Step::Settings(true),
    Step::Shot("2-settings"),
    Step::Settings(false),
    Step::Open,
    Step::Shot("3-briefing"),
    Step::Turn(Screen::Reading),
    Step::Pass(sized),
    Step::Shot("4-reading"),
    Step::Turn(Screen::Theatre),
    Step::Pass(screening),
    Step::Watch(2.0),
    Step::Shot("5-theatre"),
    Step::Pass(ran),
    Step::Hold,
    Step::Shot("6-run"),
    Step::Pass(placed),
    Step::Hold,
    Step::Shot("7-graft"),
    Step::Inside(true),
    Step::Shot("11-inside"),
    Step::Inside(false),
    Step::Turn(Screen::Recovery),
    Step::Pass(second_day),
    Step::Shot("8-recovery"),
    Step::Pass(|_| false),
    Step::Finish,
    Step::Turn(Screen::Debrief),
    Step::Shot("9-debrief"),
];

const FIGURES: &[Step] = &[
    Step::Wait(3.0),
    Step::Rest(15.0),
    Step::Open,
    Step::Rest(15.0),
    Step::Turn(Screen::Theatre),
    Step::Watch(10.0),
    Step::Pass(screening),
    Step::Watch(10.0),
    Step::Pass(ran),
    Step::Watch(10.0),
];

/// The sizing sheet has its first three values.
fn sized(seat: &Seat) -> bool {
    let measured = |e: &&crate::session::event::Event| matches!(&e.kind, EventKind::Done { verb, .. } if verb == "measure");
    seat.keeper().session().events().iter().filter(measured).count() >= 3
}

/// Screening is on, and something lies in the vessel to be seen.
fn screening(seat: &Seat) -> bool {
    seat.view().carm.screening && seat.view().rail.lines.iter().any(|l| l.items.len() > 1)
}

fn ran(seat: &Seat) -> bool {
    !seat.view().runs.is_empty()
}

/// A graft lies in the vessel, and a run after that shows it.
fn placed(seat: &Seat) -> bool {
    !seat.view().rail.grafts.is_empty() && seat.view().runs.len() > 1
}

fn second_day(seat: &Seat) -> bool {
    seat.view().now.seconds() > 20.0 * 3600.0
}

/// Ticks stepped in one frame while time is only passed.
const STRIDE: u64 = 100;
/// Frames that a screen is shown before its picture is taken.
const SETTLE: u32 = 6;

/// Adds the walk to the app.
pub fn plugin(app: &mut App, walk: Walk, report: Rc<RefCell<Report>>) {
    let steps = if walk.errand == Errand::Figures { FIGURES } else { PICTURES };
    let walking =
        Walking { walk, steps, step: 0, frames: 0, waiting: false, began: Duration::ZERO, cpu_s: 0.0 };
    app.insert_resource(walking).insert_non_send(Shared(report)).add_systems(Last, go);
    app.add_systems(Update, step_aside);
}

/// Puts the pointer into a corner, so that it lights nothing up in a picture.
fn step_aside(mut window: Single<&mut Window, With<PrimaryWindow>>, mut done: Local<bool>) {
    if window.visible && !*done {
        let corner = window.size() - Vec2::ONE;
        window.set_cursor_position(Some(corner));
        *done = true;
    }
}

fn go(world: &mut World) {
    let now = world.resource::<Time<Real>>().elapsed();
    let Some(report) = world.get_non_send::<Shared>().map(|s| Rc::clone(&s.0)) else { return };
    world.resource_scope(|world, mut w: Mut<Walking>| {
        let mut report = report.borrow_mut();
        report.frames += 1;
        report.seconds = now.as_secs_f64();
        if report.frames == SEEN && w.walk.errand == Errand::Figures {
            report.said.push(first_paint());
        }
        if w.frames == 0 {
            w.began = now;
            w.cpu_s = gauge::cpu_s().unwrap_or_default();
        }
        w.frames += 1;
        let steps = w.steps;
        let Some(step) = steps.get(w.step) else {
            close(world);
            return;
        };
        let so_far_s = (now - w.began).as_secs_f64();
        let done = match step {
            Step::Turn(screen) => with_desk(world, |d| d.turn_to(*screen)).is_some(),
            Step::Settings(open) => with_desk(world, |d| d.show_settings(*open)).is_some(),
            Step::Open => {
                if let Some(Err(why)) = with_desk(world, |desk| open(desk, &w.walk)) {
                    report.faults.push(why);
                    world.write_message(AppExit::Success);
                }
                true
            }
            Step::Pass(seen) => with_seat(world, |seat| pass(seat, *seen)),
            Step::Finish => with_seat(world, |seat| {
                if seat.view().ended.is_none() {
                    seat.give(vec![Order::Finish]);
                }
                true
            }),
            Step::Inside(on) => with_seat(world, |seat| {
                seat.picture.show_inside(*on);
                true
            }),
            Step::Hold => with_seat(world, |seat| seat.picture.hold_fullest()),
            Step::Watch(seconds) => {
                let over = so_far_s >= *seconds;
                with_seat(world, |seat| {
                    seat.run_clock(!over);
                    true
                });
                if over && w.walk.errand == Errand::Figures {
                    report.said.push(format!(
                        "in session: {:.1} frames/s, {}",
                        f64::from(w.frames - 1) / so_far_s,
                        share(w.cpu_s, so_far_s)
                    ));
                }
                over
            }
            Step::Wait(seconds) => so_far_s >= *seconds,
            // Rest is a window's: without one, frames are drawn as fast as they can be.
            Step::Rest(_) if w.walk.unseen => true,
            Step::Rest(seconds) => {
                let over = so_far_s >= *seconds;
                if over {
                    let what = format!("at rest: {}, {} frames", share(w.cpu_s, so_far_s), w.frames);
                    report.said.push(format!("{what} in {so_far_s:.1} s"));
                }
                over
            }
            Step::Shot(name) => {
                if with_desk(world, |d| d.drawing()).unwrap_or(false) {
                    // What has just been drawn must have been shown for some frames too.
                    w.frames = 1;
                }
                if let (Errand::Pictures(folder), false) = (&w.walk.errand, w.waiting)
                    && w.frames >= SETTLE
                {
                    let path = folder.join(format!("{name}.png"));
                    w.waiting = true;
                    take(world, path);
                }
                false
            }
        };
        if done {
            w.step += 1;
            w.frames = 0;
            // The next step begins now and not when a resting window wakes.
            world.write_message(RequestRedraw);
        }
    });
}

/// Closes the window as a person does; without one, ends the app.
fn close(world: &mut World) {
    if world.contains_resource::<Canvas>() {
        world.write_message(AppExit::Success);
        return;
    }
    let mut windows = world.query_filtered::<Entity, With<PrimaryWindow>>();
    match windows.single(world) {
        Ok(window) => {
            world.write_message(WindowCloseRequested { window });
        }
        Err(_) => {
            world.write_message(AppExit::error());
        }
    }
}

/// When the window's first picture could be seen.
fn first_paint() -> String {
    match gauge::age_s() {
        Some(s) => format!("first paint: {s:.2} s after the start of the program"),
        None => "first paint: this system does not say when a program began".into(),
    }
}

/// Part of one core that was used since.
fn share(from_cpu_s: f64, seconds: f64) -> String {
    match gauge::cpu_s() {
        Some(cpu) => format!("{:.1} % of a core", 100.0 * (cpu - from_cpu_s) / seconds),
        None => "this system does not say how much processor time was used".into(),
    }
}

/// Steps the session a little; true when what was waited for can be seen, or nothing more will come.
fn pass(seat: &mut Seat, seen: fn(&Seat) -> bool) -> bool {
    let over = |seat: &Seat| {
        seen(seat) || seat.view().ended.is_some() || !seat.watched() && seat.keeper().session().hands_idle()
    };
    if !over(seat) {
        seat.step(STRIDE);
    }
    over(seat)
}

fn open(desk: &mut Desk, walk: &Walk) -> Result<(), String> {
    desk.open(std::sync::Arc::clone(&walk.case), Mode::Free, None)?;
    if let Some(seat) = desk.seat_mut() {
        seat.watch(walk.player.clone());
        seat.run_clock(false);
    }
    Ok(())
}

/// Does something with the seat; done at once when there is none.
fn with_seat(world: &mut World, f: impl FnOnce(&mut Seat) -> bool) -> bool {
    with_desk(world, |desk| desk.seat_mut().is_none_or(f)).unwrap_or(true)
}

/// Asks for a picture of what is drawn; when it comes it is saved and the walk goes on.
fn take(world: &mut World, path: PathBuf) {
    let shot = match world.get_resource::<Canvas>() {
        Some(canvas) => Screenshot::image(canvas.0.clone()),
        None => Screenshot::primary_window(),
    };
    world.spawn(shot).observe(
        move |shot: On<ScreenshotCaptured>, mut walking: ResMut<Walking>, report: NonSend<Shared>| {
            let mut report = report.0.borrow_mut();
            match save(&shot.image, &path) {
                Ok(()) => {
                    report.saved.push(path.file_stem().unwrap_or_default().to_string_lossy().into_owned())
                }
                Err(why) => report.faults.push(format!("{}: {why}", path.display())),
            }
            walking.waiting = false;
            walking.step += 1;
            walking.frames = 0;
        },
    );
}

/// Writes a picture as PNG, as small as it gets: these go into the manual.
fn save(image: &Image, path: &Path) -> Result<(), String> {
    let image = image.clone().try_into_dynamic().map_err(|e| e.to_string())?.to_rgb8();
    let file = std::fs::File::create(path).map_err(|e| e.to_string())?;
    let mut encoder = png::Encoder::new(std::io::BufWriter::new(file), image.width(), image.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    let written = encoder.write_header().and_then(|mut w| w.write_image_data(image.as_raw()));
    written.map_err(|e| e.to_string())
}
