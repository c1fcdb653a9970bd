//! Looks before the window is opened: is there a display, and something that can draw? Bevy would end the program
//! otherwise; this says what is missing and what helps, and the caller falls back to the terminal.

use std::path::PathBuf;

/// What will draw the window.
#[derive(Clone, Debug)]
pub struct Renderer {
    /// Its own name.
    pub name: String,
    /// Drawn by the processor, not by a graphics card.
    pub software: bool,
    /// Only a fallback adapter was found.
    pub fallback: bool,
}

/// Looks for a display and a renderer.
///
/// # Errors
/// A plain sentence with the remedy.
pub fn look() -> Result<Renderer, String> {
    display()?;
    renderer()
}

/// Is there a display that answers?
///
/// # Errors
/// A plain sentence with the remedy.
pub fn display() -> Result<(), String> {
    if !cfg!(all(unix, not(target_os = "macos"))) {
        return Ok(());
    }
    let set = |name: &str| std::env::var(name).ok().filter(|v| !v.is_empty());
    let (wayland, x11) = (set("WAYLAND_DISPLAY"), set("DISPLAY"));
    if let Some(name) = &wayland {
        let runtime = set("XDG_RUNTIME_DIR").map(PathBuf::from).unwrap_or_default();
        if answers(&runtime.join(name)) {
            return Ok(());
        }
    }
    match (&x11, &wayland) {
        (None, None) => Err("there is no display (neither WAYLAND_DISPLAY nor DISPLAY is set)".into()),
        (Some(name), _) if x11_answers(name) => Ok(()),
        (Some(name), _) => {
            Err(format!("the display {name} does not answer; is it running, and may this user open it?"))
        }
        (None, Some(name)) => Err(format!("the Wayland display {name} does not answer; is it running?")),
    }
}

/// Is there an adapter that can draw?
///
/// # Errors
/// A plain sentence with the remedy.
pub fn renderer() -> Result<Renderer, String> {
    let instance = wgpu::Instance::new(wgpu::InstanceDescriptor::new_without_display_handle_from_env());
    for force_fallback_adapter in [false, true] {
        let options = wgpu::RequestAdapterOptions {
            power_preference: wgpu::PowerPreference::LowPower,
            force_fallback_adapter,
            ..Default::default()
        };
        if let Ok(adapter) = bevy::tasks::block_on(instance.request_adapter(&options)) {
            let info = adapter.get_info();
            let software = info.device_type == wgpu::DeviceType::Cpu;
            return Ok(Renderer { name: info.name, software, fallback: force_fallback_adapter });
        }
    }
    Err("nothing can draw a window here (no Vulkan and no OpenGL driver answers). On Debian or Ubuntu a software driver \
         comes with: sudo apt install mesa-vulkan-drivers"
        .into())
}

#[cfg(unix)]
fn answers(socket: &std::path::Path) -> bool {
    std::os::unix::net::UnixStream::connect(socket).is_ok()
}

#[cfg(not(unix))]
fn answers(_: &std::path::Path) -> bool {
    true
}

/// A local display's socket is tried; a display on another machine is left to the window library.
fn x11_answers(display: &str) -> bool {
    let Some((host, rest)) = display.rsplit_once(':') else { return false };
    let number = rest.split('.').next().unwrap_or_default();
    if !(host.is_empty() || host == "unix") {
        return true;
    }
    answers(&PathBuf::from(format!("/tmp/.X11-unix/X{number}"))) || abstract_answers(number)
}

/// X servers also listen on a socket that has no file (Linux's abstract namespace).
#[cfg(target_os = "linux")]
fn abstract_answers(number: &str) -> bool {
    use std::os::linux::net::SocketAddrExt;
    use std::os::unix::net::{SocketAddr, UnixStream};
    SocketAddr::from_abstract_name(format!("/tmp/.X11-unix/X{number}"))
        .and_then(|address| UnixStream::connect_addr(&address))
        .is_ok()
}

#[cfg(not(target_os = "linux"))]
fn abstract_answers(_: &str) -> bool {
    false
}
