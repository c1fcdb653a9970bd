//! The desk drawn into a picture in memory: the same app without a window or a display, for pictures of the screens and
//! for the frame rate of a graphics card that shows nothing.
//!
//! A window paces its frames by its display. Here the next frame begins when the card has finished the last one, so that a
//! count of frames is a count of frames drawn and not of frames asked for.

use super::shell::eye;
use bevy::app::ScheduleRunnerPlugin;
use bevy::camera::RenderTarget;
use bevy::prelude::*;
use bevy::render::render_resource::{PollType, TextureFormat};
use bevy::render::renderer::RenderDevice;
use bevy::render::{Render, RenderApp, RenderSystems};
use std::time::Duration;

/// The picture in memory that stands for the window.
#[derive(Resource)]
pub struct Canvas(pub Handle<Image>);

/// Adds a runner without a window's events, and a canvas of this size in pixels with the camera that draws on it.
pub fn plugin(app: &mut App, (width, height): (u32, u32)) {
    let picture = Image::new_target_texture(width, height, TextureFormat::Rgba8UnormSrgb, None);
    let handle = app.world_mut().resource_mut::<Assets<Image>>().add(picture);
    app.add_plugins(ScheduleRunnerPlugin::run_loop(Duration::ZERO))
        .insert_resource(Canvas(handle))
        .add_systems(Startup, camera);
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render.add_systems(Render, wait_for_the_card.in_set(RenderSystems::Cleanup));
    }
}

fn camera(mut commands: Commands, canvas: Res<Canvas>) {
    commands.spawn((eye(), RenderTarget::Image(canvas.0.clone().into())));
}

fn wait_for_the_card(device: Res<RenderDevice>) {
    if let Err(why) = device.poll(PollType::wait_indefinitely()) {
        error!("the graphics card did not finish a frame: {why}");
    }
}
