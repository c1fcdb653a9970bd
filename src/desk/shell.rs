//! The window: Bevy opens it, wakes the desk when something happened or time is due, and closes it in good order.
//!
//! 1. [`run`] looks whether a window is possible at all, then builds the desk, then the app.
//! 2. The window stays hidden until its first frames are painted, so that it never flashes white.
//! 3. While the patient's time runs, frames come at the pace of the traces; otherwise only when somebody does something.
//! 4. A walk may go without a window: the same app then draws into memory (`unseen`).
//! 5. Closing the window ends the log in good order. When the picture is lost, the log stands and is named.

use super::preflight;
use super::room::{Desk, Options};
use super::settings::Settings;
use super::unseen;
use super::walk::{self, Walk};
use bevy::a11y::ActionRequest;
use bevy::diagnostic::FrameCount;
use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::settings::{PowerPreference, RenderCreation, WgpuSettings, WgpuSettingsPriority};
use bevy::time::Real;
use bevy::window::{ExitCondition, PrimaryWindow, WindowCloseRequested, WindowResolution};
use bevy::winit::{UpdateMode, WinitPlugin, WinitSettings};
use bevy_egui::input::EguiInputEvent;
use bevy_egui::{
    EguiContexts, EguiInput, EguiInputSet, EguiPlugin, EguiPreUpdateSet, EguiPrimaryContextPass,
    PrimaryEguiContext,
};
use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::rc::Rc;
use std::time::Duration;

/// Frames while the patient's time runs: 60 a second on a graphics card, 30 where the processor draws them.
const RUNNING: [Duration; 2] = [Duration::from_millis(16), Duration::from_millis(33)];
/// A frame at the latest when nothing happens.
const RESTING: Duration = Duration::from_secs(5);
/// The frame after which the window may be seen.
const PAINTED: u32 = 3;
/// The frame at which it has been seen: drawing runs one frame behind.
pub(super) const SEEN: u32 = PAINTED + 2;

/// The desk, shared with whoever opened the window, so that its log can be ended when the window is gone.
struct Shared(Rc<RefCell<Desk>>);

/// Opens the desk's window and returns when it is closed.
///
/// # Errors
/// A plain sentence when there is no display, nothing to draw with, or the case cannot be opened: nothing has then been
/// started. Also when the picture was lost on the way: the log is then sound and named.
pub fn run(options: Options) -> Result<(), String> {
    open(options, None).map(drop)
}

/// Opens the window, goes through every screen of a case by itself, and closes. Returns how it went.
///
/// # Errors
/// As for [`run`].
pub fn walk_through(walk: Walk) -> Result<String, String> {
    open(Options::default(), Some(walk))
}

fn open(options: Options, walk: Option<Walk>) -> Result<String, String> {
    let renderer = match &walk {
        Some(w) if w.unseen => preflight::renderer()?,
        Some(_) => preflight::look().map_err(|why| format!("{why}. With --no-window none is needed"))?,
        None => preflight::look()?,
    };
    let mut settings = if walk.is_some() { Settings::default() } else { Settings::load() };
    if let Some(walk) = &walk {
        settings.size_percent = walk.size_percent;
    }
    let mut desk = Desk::new(options, settings)?;
    if renderer.software && walk.is_none() {
        desk.notice = Some(super::words::ENGLISH.software_renderer.to_owned());
    }
    desk.on_ground = true;
    let desk = Rc::new(RefCell::new(desk));
    let size = walk.as_ref().map_or((1280, 800), |w| w.window);
    let shared = Shared(Rc::clone(&desk));
    let report = Rc::new(RefCell::new(walk::Report::default()));
    let written = Rc::clone(&report);
    // Bevy ends the program where its own parts fail; that must not take the terminal desk with it.
    let outcome =
        catch_unwind(AssertUnwindSafe(|| app(shared, size, &renderer, walk.map(|w| (w, written))).run()));
    let closed = desk.borrow_mut().leave();
    let report = report.take();
    match outcome {
        Ok(exit) if exit.is_success() => closed.and(report.into_result(&renderer.name)),
        Ok(_) => {
            Err("the picture was lost. The session stands in its log: overwire resume LOG takes it up".into())
        }
        Err(_) => {
            Err("the window failed. The session stands in its log: overwire resume LOG takes it up".into())
        }
    }
}

fn app(
    desk: Shared,
    (width, height): (u32, u32),
    renderer: &preflight::Renderer,
    walk: Option<(Walk, Rc<RefCell<walk::Report>>)>,
) -> App {
    let mut app = App::new();
    let ground = colour(desk.0.borrow().ground());
    let window = Window {
        title: "Overwire".into(),
        resolution: WindowResolution::new(width, height),
        resize_constraints: WindowResizeConstraints { min_width: 960.0, min_height: 640.0, ..default() },
        visible: false,
        ..default()
    };
    let render = WgpuSettings {
        power_preference: PowerPreference::LowPower,
        // The least that any driver offers is enough for a desk.
        priority: WgpuSettingsPriority::WebGL2,
        force_fallback_adapter: renderer.fallback,
        ..default()
    };
    let unseen = walk.as_ref().is_some_and(|(w, _)| w.unseen);
    let plugins = DefaultPlugins
        .set(WindowPlugin {
            primary_window: (!unseen).then_some(window),
            exit_condition: ExitCondition::DontExit,
            close_when_requested: false,
            ..default()
        })
        .set(RenderPlugin {
            render_creation: RenderCreation::Automatic(Box::new(render)),
            synchronous_pipeline_compilation: true,
            ..default()
        })
        .set(LogPlugin { filter: "error".into(), level: bevy::log::Level::ERROR, ..default() });
    if unseen {
        app.add_plugins(plugins.disable::<WinitPlugin>());
        unseen::plugin(&mut app, (width, height));
    } else {
        app.add_plugins(plugins)
            .insert_resource(WinitSettings { focused_mode: pace(RESTING), unfocused_mode: pace(RESTING) })
            .add_systems(Startup, camera)
            .add_systems(PreUpdate, forward_screen_reader.in_set(EguiInputSet::ReadBevyMessages))
            .add_systems(Update, (govern, show_when_painted).chain().after(pass_time));
    }
    app.add_plugins(EguiPlugin::default())
        .insert_resource(ClearColor(ground))
        .insert_resource(Running(RUNNING[usize::from(renderer.software)]))
        .insert_non_send(desk)
        .add_systems(
            PreUpdate,
            let_rest.after(EguiPreUpdateSet::ProcessInput).before(EguiPreUpdateSet::BeginPass),
        )
        .add_systems(Update, (pass_time, close_in_good_order).chain())
        .add_systems(EguiPrimaryContextPass, paint);
    if let Some((walk, report)) = walk {
        walk::plugin(&mut app, walk, report);
    }
    app
}

/// Time between frames while something moves.
#[derive(Resource)]
struct Running(Duration);

fn pace(wait: Duration) -> UpdateMode {
    UpdateMode::reactive_low_power(wait)
}

/// What looks at the desk. Text and hairlines are smoothed by egui itself; a second smoothing would only cost a software renderer
/// its time.
pub(super) fn eye() -> impl Bundle {
    (Camera2d, Msaa::Off)
}

fn camera(mut commands: Commands) {
    commands.spawn(eye());
}

fn colour(c: egui::Color32) -> Color {
    Color::srgb_u8(c.r(), c.g(), c.b())
}

fn pass_time(desk: NonSend<Shared>, time: Res<Time<Real>>) {
    desk.0.borrow_mut().tick(time.delta_secs_f64());
}

/// Frames at the traces' pace while the patient's time runs, also when another window has the focus: an educator looks on.
fn govern(
    desk: NonSend<Shared>,
    running: Res<Running>,
    walk: Option<Res<walk::Walking>>,
    mut winit: ResMut<WinitSettings>,
) {
    let busy = walk.is_some_and(|w| !w.rests()) || desk.0.borrow().running();
    let mode = pace(if busy { running.0 } else { RESTING });
    if winit.focused_mode != mode {
        winit.focused_mode = mode;
        winit.unfocused_mode = mode;
    }
}

fn show_when_painted(frame: Res<FrameCount>, mut window: Single<&mut Window, With<PrimaryWindow>>) {
    if frame.0 == PAINTED {
        window.visible = true;
    }
}

fn close_in_good_order(
    mut requests: MessageReader<WindowCloseRequested>,
    desk: NonSend<Shared>,
    mut exit: MessageWriter<AppExit>,
) {
    if requests.read().next().is_some() {
        if let Err(why) = desk.0.borrow_mut().leave() {
            error!("{why}");
        }
        exit.write(AppExit::Success);
    }
}

fn paint(mut contexts: EguiContexts, desk: NonSend<Shared>, mut clear: ResMut<ClearColor>) -> Result {
    let ctx = contexts.ctx_mut()?.clone();
    let ground = colour(desk.0.borrow().ground());
    if clear.0 != ground {
        clear.0 = ground;
    }
    let builder = egui::UiBuilder::new().layer_id(egui::LayerId::background()).max_rect(ctx.viewport_rect());
    let mut ui = egui::Ui::new(ctx, "desk".into(), builder);
    desk.0.borrow_mut().ui(&mut ui);
    Ok(())
}

/// bevy_egui publishes the tree of controls but does not take a screen reader's actions back: they are handed on here.
fn forward_screen_reader(
    mut requests: MessageReader<ActionRequest>,
    context: Single<Entity, With<PrimaryEguiContext>>,
    mut events: MessageWriter<EguiInputEvent>,
) {
    for request in requests.read() {
        let event = egui::Event::AccessKitActionRequest(request.0.clone());
        events.write(EguiInputEvent { context: *context, event });
    }
}

/// Lets egui come to rest. bevy_egui 0.42 tells it in every frame which modifier keys are held, egui paints again after
/// every event, and so the window would never stand still. Where nothing else happened and the keys are the same as
/// before, egui is told nothing.
fn let_rest(mut inputs: Query<&mut EguiInput>, mut told: Local<Option<egui::Modifiers>>) {
    for mut input in &mut inputs {
        if let [egui::Event::ModifiersChanged(held)] = input.events[..] {
            if *told == Some(held) {
                input.events.clear();
            }
            *told = Some(held);
        } else if !input.events.is_empty() {
            // Events of another sort can change what egui takes the keys to be, such as the focus that was lost.
            *told = None;
        }
    }
}

impl Shared {
    /// The desk, for the walk.
    pub fn desk(&self) -> std::cell::RefMut<'_, Desk> {
        self.0.borrow_mut()
    }
}

/// What the walk may reach.
pub(super) fn with_desk<R>(world: &mut World, f: impl FnOnce(&mut Desk) -> R) -> Option<R> {
    let shared = world.get_non_send::<Shared>()?;
    let mut desk = shared.desk();
    Some(f(&mut desk))
}
