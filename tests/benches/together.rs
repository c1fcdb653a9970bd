//! A run of 1024 x 1024 pixels at 15 frames a second while a session goes on in real time, each on a core of its own:
//! `cargo bench --no-default-features --bench together`.
//!
//! Prints how much of real time each of the two needs: below 100 % it keeps up.

#![allow(clippy::disallowed_methods, reason = "a bench reads the clock")]
#![allow(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

#[path = "../imaging/patient.rs"]
#[expect(dead_code, reason = "the checks use more of the drawn adult than the bench does")]
mod patient;

use overwire::imaging::*;
use overwire::math::Streams;
use overwire::records::library;
use overwire::session::Session;
use overwire::session::event::Tick;
use overwire::session::log::Mode;

/// Length of the run, s.
const RUN_S: f64 = 6.0;
const FPS: f64 = 15.0;
const PIXELS: usize = 1024;

fn main() {
    for round in 1..=3 {
        let session = std::thread::spawn(live);
        let (pose_s, frames_s) = run();
        let session_s = session.join().unwrap();
        let percent = |s: f64| 100.0 * s / RUN_S;
        println!(
            "round {round}: the session needs {:.1} % of real time, the run {:.1} % (pose and mask {:.0} ms at its start)",
            percent(session_s),
            percent(frames_s),
            pose_s * 1e3
        );
    }
}

/// A session of the built-in rupture for as long as the run: its seconds on a core.
fn live() -> f64 {
    let case = library::case("descending_rupture").unwrap();
    let mut session = Session::new(case, 1, Mode::Free);
    let start = seconds();
    for _ in 0..(RUN_S * Tick::PER_SECOND as f64) as u64 {
        session.advance(1);
        std::hint::black_box(session.take_traces());
    }
    seconds() - start
}

/// A run from the pedal to the last picture on the wall: seconds on a core before the first frame, and for all frames.
fn run() -> (f64, f64) {
    let adult = patient::adult(26.0);
    let body = Body::new(&adult.tree, &Beam::default());
    let devices = adult.wire_and_pigtail();
    let scene = Scene { tree: &adult.tree, linings: &[], pools: &[], body: Some(&body), devices: &devices };
    let pose = Pose { primary_deg: 45.0, isocentre: patient::v(10.0, 10.0, -2.0), ..Pose::default() };
    let spec = RunSpec {
        pixels: PIXELS,
        fps: FPS,
        duration_s: RUN_S,
        ..RunSpec::new(pose, adult.flush(), "together")
    };
    let flows = adult.flows();
    let start = seconds();
    let mut run = Acquisition::begin(&scene, &flows, &spec, Streams::new(7)).unwrap();
    let begun = seconds();
    // The patient's flows change under the run once a second; each frame is shown as it comes.
    let display = SubtractionDisplay::default();
    let mut shown = 0;
    while let Some(picture) = run.next_shown(&display) {
        std::hint::black_box(&picture);
        shown += 1;
        if shown % FPS as usize == 0 {
            run.set_flows(&scene, &flows).unwrap();
        }
    }
    (begun - start, seconds() - begun)
}

/// Time that this thread has spent on a core, so that a busy machine does not count; the wall clock where the system does
/// not tell.
fn seconds() -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    match told.and_then(|t| t.split_whitespace().next().and_then(|ns| ns.parse::<f64>().ok())) {
        Some(ns) => ns * 1e-9,
        None => std::time::UNIX_EPOCH.elapsed().map_or(0.0, |d| d.as_secs_f64()),
    }
}
