//! A walk through every screen of a case by the real window, saving a picture of each: for the manual and for tests.
//!
//! Nothing is staged: the case's own model play gives the orders, the session computes, and the pictures show it.

use super::room::{Desk, Screen};
use super::shell::with_desk;
use crate::session::log::Mode;
use bevy::prelude::*;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::time::Real;
use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::Duration;

/// What to show and where to save it.
#[derive(Clone, Debug)]
pub struct Walk {
    /// Folder of the pictures; it must exist.
    pub folder: PathBuf,
    /// Size of the window, pixels.
    pub window: (u32, u32),
    /// Size of everything in it, per cent.
    pub size_percent: u16,
    /// Built-in name or file of the case.
    pub case: String,
    /// Play that gives the orders.
    pub play: String,
}

/// How the walk went.
#[derive(Default)]
pub struct Report {
    frames: u32,
    seconds: f64,
    /// Frames and seconds of the theatre left to run by itself.
    theatre: (u32, f64),
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
        let (frames, seconds) = self.theatre;
        Ok(format!(
            "{} pictures: {}\n{} frames in {:.1} s; theatre at its own pace: {:.1} frames/s; drawn by {renderer}",
            self.saved.len(),
            self.saved.join(", "),
            self.frames,
            self.seconds,
            f64::from(frames) / seconds.max(1e-9),
        ))
    }
}

/// The report, shared with whoever opened the window.
struct Shared(Rc<RefCell<Report>>);

/// The walk under way.
#[derive(Resource)]
pub struct Walking {
    walk: Walk,
    step: usize,
    /// Frames since the step began.
    frames: u32,
    /// A picture has been asked for and has not come yet.
    waiting: bool,
    began: Duration,
}

/// One step of the walk.
enum Step {
    /// Turn to a screen.
    Turn(Screen),
    /// Open the case and let its play give the orders.
    Open,
    /// Let the play's time pass as fast as it can be computed, ticks.
    Pass(u64),
    /// Look on at the clock's own pace, s, and count frames.
    Look(f64),
    /// Open or shut the settings.
    Settings(bool),
    /// Save a picture.
    Shot(&'static str),
}

const STEPS: &[Step] = &[
    Step::Shot("1-cases"),
    Step::Settings(true),
    Step::Shot("2-settings"),
    Step::Settings(false),
    Step::Open,
    Step::Shot("3-briefing"),
    Step::Turn(Screen::Reading),
    Step::Pass(12_000),
    Step::Shot("4-reading"),
    Step::Turn(Screen::Theatre),
    Step::Look(8.0),
    Step::Shot("5-theatre"),
    Step::Pass(9_000),
    Step::Look(3.0),
    Step::Shot("6-theatre-lines"),
    Step::Pass(18_000),
    Step::Look(3.0),
    Step::Shot("7-theatre-later"),
    Step::Pass(60_000),
    Step::Turn(Screen::Recovery),
    Step::Shot("8-recovery"),
    Step::Pass(u64::MAX),
    Step::Turn(Screen::Debrief),
    Step::Shot("9-debrief"),
];

/// Ticks stepped in one frame while time is only passed.
const STRIDE: u64 = 600;
/// Frames that a screen is shown before its picture is taken.
const SETTLE: u32 = 12;

/// Adds the walk to the app.
pub fn plugin(app: &mut App, walk: Walk, report: Rc<RefCell<Report>>) {
    let walking = Walking { walk, step: 0, frames: 0, waiting: false, began: Duration::ZERO };
    app.insert_resource(walking).insert_non_send(Shared(report)).add_systems(Last, go);
}

fn go(world: &mut World) {
    let now = world.resource::<Time<Real>>().elapsed();
    let Some(report) = world.get_non_send::<Shared>().map(|s| Rc::clone(&s.0)) else { return };
    world.resource_scope(|world, mut w: Mut<Walking>| {
        let mut report = report.borrow_mut();
        report.frames += 1;
        report.seconds = now.as_secs_f64();
        if w.frames == 0 {
            w.began = now;
        }
        w.frames += 1;
        let Some(step) = STEPS.get(w.step) else {
            world.write_message(AppExit::Success);
            return;
        };
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
            Step::Pass(ticks) => with_desk(world, |desk| {
                let Some(seat) = desk.seat_mut() else { return true };
                seat.step(STRIDE.min(*ticks));
                u64::from(w.frames) * STRIDE >= *ticks || seat.view().ended.is_some() || !seat.watched()
            })
            .unwrap_or(true),
            Step::Look(seconds) => {
                let so_far = (now - w.began).as_secs_f64();
                report.theatre = (w.frames, so_far);
                so_far >= *seconds
            }
            Step::Shot(name) => {
                let drawing =
                    with_desk(world, |d| d.seat().is_some_and(|s| s.picture.busy())).unwrap_or(false);
                if w.frames >= SETTLE && !w.waiting && !drawing {
                    w.waiting = true;
                    take(world, w.walk.folder.join(format!("{name}.png")));
                }
                false
            }
        };
        if done {
            w.step += 1;
            w.frames = 0;
        }
    });
}

fn open(desk: &mut Desk, walk: &Walk) -> Result<(), String> {
    let case = crate::records::library::case(&walk.case)?;
    desk.open(case, Mode::Free, None)?;
    desk.seat_mut().map_or(Ok(()), |seat| seat.watch(&walk.play))
}

/// Asks for a picture of the window; when it comes it is saved and the walk goes on.
fn take(world: &mut World, path: PathBuf) {
    world.spawn(Screenshot::primary_window()).observe(
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

/// Writes a picture as PNG.
fn save(image: &Image, path: &Path) -> Result<(), String> {
    let image = image.clone().try_into_dynamic().map_err(|e| e.to_string())?.to_rgb8();
    image.save(path).map_err(|e| e.to_string())
}
