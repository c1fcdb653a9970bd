//! The real window under a virtual display: it opens, walks every screen of a case, saves a picture of each, and closes.
//! Pictures are checked as pictures (PNG, the size that was asked for, not one colour), not against stored ones.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_overwire");
const SCREENS: [&str; 9] = [
    "1-cases",
    "2-settings",
    "3-briefing",
    "4-reading",
    "5-theatre",
    "6-theatre-lines",
    "7-theatre-later",
    "8-recovery",
    "9-debrief",
];

/// A virtual display of our own, ended when it is dropped.
struct Display {
    server: std::process::Child,
    name: String,
}

impl Display {
    /// Starts Xvfb on a free number, which it writes to its standard output (`-displayfd`, X.Org manual Xserver(1)).
    fn start(size: &str) -> Option<Self> {
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", &format!("{size}x24"), "-nolisten", "tcp"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .ok()?;
        let mut line = String::new();
        let out = server.stdout.take()?;
        std::io::BufRead::read_line(&mut std::io::BufReader::new(out), &mut line).ok()?;
        Some(Self { server, name: format!(":{}", line.trim()) })
    }
}

impl Drop for Display {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// The display, or the printed reason why this test says nothing here.
fn display(size: &str) -> Option<Display> {
    if std::env::var_os("OVERWIRE_WINDOW").is_none() && std::env::var_os("OVERWIRE_REQUIRE_DISPLAY").is_none()
    {
        eprintln!(
            "skipped: the window's walk takes minutes on a software renderer. OVERWIRE_WINDOW=1 runs it."
        );
        return None;
    }
    let found = Display::start(size);
    if found.is_none() {
        let how = "no Xvfb here: the window was not opened. Debian and Ubuntu: apt install xvfb mesa-vulkan-drivers";
        assert!(std::env::var_os("OVERWIRE_REQUIRE_DISPLAY").is_none(), "{how}");
        eprintln!("skipped: {how}. OVERWIRE_REQUIRE_DISPLAY=1 makes this a failure.");
    }
    found
}

/// The program in a home of its own, so that no test sees another's logs or settings.
fn program(home: &Path, display: Option<&str>) -> Command {
    let mut command = Command::new(PROGRAM);
    command
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("DISPLAY")
        .env("HOME", home)
        .env("XDG_DATA_HOME", home.join("data"))
        .env("XDG_CONFIG_HOME", home.join("config"))
        .stdin(Stdio::null());
    if let Some(display) = display {
        command.env("DISPLAY", display);
    }
    command
}

fn home(name: &str) -> std::path::PathBuf {
    let home = std::env::temp_dir().join(format!("overwire-desk-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&home).unwrap();
    home
}

#[test]
fn the_window_walks_through_every_screen() {
    let Some(display) = display("1280x800") else { return };
    let home = home("walk");
    let out = home.join("screens");
    let mut child = program(&home, Some(&display.name))
        .args(["screens", "--size", "1280x800", "--out"])
        .arg(&out)
        .stdout(Stdio::null())
        .stderr(Stdio::inherit())
        .spawn()
        .unwrap();
    let started = Instant::now();
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if started.elapsed() > Duration::from_secs(900) {
            let _ = child.kill();
            panic!("the walk did not end");
        }
        std::thread::sleep(Duration::from_millis(100));
    };
    assert!(status.success(), "{status}");
    for screen in SCREENS {
        let file = out.join(format!("{screen}.png"));
        let decoder = png::Decoder::new(std::io::BufReader::new(std::fs::File::open(&file).unwrap()));
        let mut reader = decoder.read_info().unwrap();
        let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut pixels).unwrap();
        assert_eq!((info.width, info.height), (1280, 800), "{screen}");
        let colours: std::collections::BTreeSet<&[u8]> = pixels.chunks_exact(3).collect();
        assert!(colours.len() > 40, "{screen} shows only {} colours", colours.len());
    }
    let logs = std::fs::read_dir(home.join("data/overwire/logs")).unwrap().count();
    assert_eq!(logs, 1, "the case's log was kept");
    std::fs::remove_dir_all(&home).unwrap();
}

#[test]
fn without_a_display_it_says_so_and_does_not_panic() {
    let home = home("blind");
    for display in [None, Some(":987"), Some("nonsense")] {
        let out = program(&home, display).args(["screens", "--out"]).arg(home.join("none")).output().unwrap();
        let said = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(2), "{said}");
        assert!(said.contains("display") && !said.contains("panicked"), "{said}");
    }
    std::fs::remove_dir_all(&home).unwrap();
}
