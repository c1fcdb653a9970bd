//! Speed of the picture on one core: `cargo bench --no-default-features --bench imaging`.
//!
//! Prints milliseconds and megapixels a second, the best of several rounds, at 512 x 512. What is promised stands in
//! capitals.

#![allow(clippy::disallowed_methods, reason = "a bench reads the clock")]
#![allow(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

#[path = "../imaging/patient.rs"]
#[expect(dead_code, reason = "the checks use more of the drawn adult than the bench does")]
mod patient;

use overwire::imaging::detector::Panel;
use overwire::imaging::*;
use overwire::math::Streams;

const N: usize = 512;

fn main() {
    let adult = patient::adult(26.0);
    let beam = Beam::default();
    let body = time("build the trunk (once a case)", 1, 0, || Body::new(&adult.tree, &beam));
    let devices = adult.wire_and_pigtail();
    let scene = Scene { tree: &adult.tree, linings: &[], pools: &[], body: Some(&body), devices: &devices };
    let pose = Pose { primary_deg: 45.0, isocentre: patient::v(10.0, 10.0, -2.0), ..Pose::default() };
    let view = pose.view(N);
    let cells = Cells::of(&scene).expect("the drawn adult fits");
    println!("{} cells", cells.len());
    time("trunk from a new pose", 5, N * N, || body.background(&view));
    let matrix = time("path matrix from a new pose", 5, N * N, || PathMatrix::new(&view, &cells));
    println!("{} path lengths", matrix.entries());
    time("devices", 5, N * N, || run::device_layer(&scene, &view, &beam));
    time("NEW POSE: trunk, path matrix, devices", 5, N * N, || {
        let trunk = body.background(&view);
        let cells = Cells::of(&scene).expect("the drawn adult fits");
        (trunk, PathMatrix::new(&view, &cells), run::device_layer(&scene, &view, &beam))
    });
    let mut out = vec![0.0; N * N];
    let c = vec![50.0; cells.len()];
    time("contrast product", 5, N * N, || matrix.project(&c, &mut out));
    let line: Vec<f32> = out.iter().map(|v| 2.5 + 0.0083 * v).collect();
    let panel = Panel::new(N, Detector::RUN, Shutter::default(), &line);
    let mut stream = Streams::new(1).named("bench");
    let mask = panel.expose(&line, &mut stream);
    time("exposure: blur, veil, noise, logarithm", 5, N * N, || panel.expose(&line, &mut stream));
    time("subtraction display", 5, N * N, || SubtractionDisplay::default().show(&mask, N, panel.shutter()));
    time("native display", 5, N * N, || NativeDisplay::default().show(&mask, N, panel.shutter()));
    time("CONTRAST FRAME: product, exposure, subtraction, display", 5, N * N, || {
        matrix.project(&c, &mut out);
        let line: Vec<f32> = out.iter().map(|v| 2.5 + 0.0083 * v).collect();
        let reading = panel.expose(&line, &mut stream);
        let nats: Vec<f32> = reading.iter().zip(&mask).map(|(r, m)| r - m).collect();
        SubtractionDisplay::default().show(&nats, N, panel.shutter())
    });
    time("FLUOROSCOPY: new pose to picture", 5, N * N, || {
        screen(&scene, &pose, N, &beam, 1.0, 78.0, true, Streams::new(3)).map(|s| s.image)
    })
    .expect("a usual pose");
    let spec = RunSpec { duration_s: 4.0, ..RunSpec::new(pose, adult.flush(), "bench") };
    let run = time("whole run of 4 s, 12 frames, with transport", 2, 13 * N * N, || {
        acquire(&scene, &adult.flows(), &spec, Streams::new(7)).expect("a usual run")
    });
    println!("{} mg given, {} mg found", run.given_mg, run.total_mg);
    let trace = RunSpec { pixels: 96, fps: 2.0, ..spec };
    let bare = Scene { body: None, devices: &[], ..scene };
    time("what a run would show, no picture", 2, 0, || {
        acquire(&bare, &adult.flows(), &trace, Streams::new(7))
    })
    .expect("a usual run");
    let scan = Scan::new(&adult.tree, &[], Some(&body));
    let plane = Plane::orthogonal(&adult.tree.aorta().curve.frame(adult.marks.lesion), N, 0.35);
    let mut stream = Streams::new(1).named("ct");
    time("ORTHOGONAL CT SECTION", 5, N * N, || scan.slice(&plane, &mut stream)).expect("a usual plane");
}

/// Work is repeated until a round has taken this long, since a busy machine tells a thread's time in coarse steps, s.
const ROUND_S: f64 = 0.25;

fn time<T>(what: &str, rounds: usize, pixels: usize, mut work: impl FnMut() -> T) -> T {
    let mut best = f64::MAX;
    let mut last = work();
    // A word after the bench's name picks what is timed.
    if std::env::args().skip(1).any(|a| !a.starts_with('-') && !what.contains(&a)) {
        return last;
    }
    for _ in 0..rounds {
        let (start, mut turns) = (seconds(), 0.0);
        let mut spent = 0.0;
        while spent < ROUND_S {
            last = work();
            turns += 1.0;
            spent = seconds() - start;
        }
        best = best.min(spent / turns);
    }
    let rate = if pixels > 0 { format!("{:8.1} Mpx/s", pixels as f64 / best / 1e6) } else { String::new() };
    println!("{what:56} {:9.2} ms {rate}", best * 1e3);
    last
}

/// Time that this thread has spent on a core, so that a busy machine does not count; the wall clock where the system does
/// not tell.
fn seconds() -> f64 {
    let told = std::fs::read_to_string("/proc/self/schedstat").ok();
    match told.and_then(|t| t.split_whitespace().next().and_then(|ns| ns.parse::<f64>().ok())) {
        Some(ns) => ns * 1e-9,
        None => std::time::UNIX_EPOCH.elapsed().map_or(0.0, |d| d.as_secs_f64()),
    }
}
