//! Readings: the subtraction's identity, noise, motion.

use super::patient::{adult, straight, v};
use overwire::anatomy::Tree;
use overwire::imaging::detector::Panel;
use overwire::imaging::*;
use overwire::math::{Streams, Vec3};

fn scene(tree: &Tree) -> Scene<'_> {
    Scene { tree, linings: &[], pools: &[], body: None, devices: &[] }
}
fn steady(ml_s: f64) -> Flows {
    let beat = Beat { period_s: 1.0, shape: vec![(0.0, 1.0), (1.0, 1.0)] };
    Flows { root_ml_s: vec![ml_s], beat, leaks: vec![], bleeds: vec![], collaterals: vec![] }
}

/// ln(mask) - ln(fill) is mu c l: without noise or motion, exactly, and exactly zero where there is no vessel.
#[test]
fn subtraction_is_mu_c_l() {
    let tree = straight(300.0, 11.0);
    let s = scene(&tree);
    let injection = Injection {
        vessel: 0,
        s_mm: 40.0,
        start_s: 0.1,
        rate_ml_s: 15.0,
        volume_ml: 140.0,
        rise_s: 0.3,
        iodine_mg_ml: 350.0,
        end_hole: false,
    };
    let pose = Pose { field_mm: 200.0, isocentre: v(0.0, 0.0, -40.0), ..Pose::default() };
    let spec = RunSpec {
        detector: Detector::IDEAL,
        pixels: 129,
        fps: 0.5,
        duration_s: 4.0,
        ..RunSpec::new(pose, injection, "identity")
    };
    let run = acquire(&s, &steady(83.333), &spec, Streams::new(1)).unwrap();
    let last = run.subtraction(1, (0.0, 0.0));
    let mu = spec.beam.mu_iodine();
    let want = mu * 53.390 * 2.2;
    let got = f64::from(last[64 * 129 + 64]);
    assert!((got / want - 1.0).abs() < 0.01, "{got} {want}");
    let beside: f32 = (0..129).map(|y| last[y * 129 + 10].abs()).sum();
    assert_eq!(beside, 0.0);
}

/// Variance of a uniformly lit reading is one over the counts, less what the blur averages: for a separable three-point
/// kernel (w, 1 - 2w, w) white noise keeps ((1 - 2w)² + 2w²)² of its variance (closed form).
#[test]
fn noise_variance_is_one_over_counts() {
    let n = 256;
    for (quanta, sigma) in [(900.0f32, 0.0f32), (22_000.0, 0.0), (5_000.0, 0.5)] {
        let mode = Detector { quanta: Some(quanta), veil: 0.0, blur_px: (0.0, sigma) };
        let line = vec![2.0f32; n * n];
        let panel = Panel::new(n, mode, Shutter::default(), &line);
        let a = panel.expose(&line, &mut Streams::new(5).named("a"));
        let inner: Vec<f64> = (0..n * n)
            .filter(|i| i % n > 20 && i % n < 236 && i / n > 20 && i / n < 236)
            .map(|i| f64::from(a[i]))
            .collect();
        let mean = inner.iter().sum::<f64>() / inner.len() as f64;
        let var = inner.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / inner.len() as f64;
        let w = f64::from(0.5 * sigma * sigma);
        let kept = ((1.0 - 2.0 * w) * (1.0 - 2.0 * w) + 2.0 * w * w).powi(2);
        // A 256-pixel detector's pixels are four times as large.
        let want = kept / (4.0 * f64::from(quanta));
        assert!((var / want - 1.0).abs() < 0.03, "{quanta} {sigma}: {var} {want}");
    }
}

/// A patient who breathes spoils the mask: the subtraction leaves more behind, and so does a table that drifts.
#[test]
fn breathing_and_a_drifting_table_misregister() {
    let a = adult(0.0);
    let beam = Beam::default();
    let body = Body::new(&a.tree, &beam);
    let s = Scene { body: Some(&body), ..scene(&a.tree) };
    let rms = |breath_held: bool, table_mm_s: Vec3| {
        let spec = RunSpec {
            pixels: 128,
            duration_s: 2.0,
            fps: 1.0,
            injection: None,
            detector: Detector { quanta: None, ..Detector::RUN },
            breath_held,
            table_mm_s,
            ..RunSpec::new(Pose { isocentre: v(0.0, 0.0, -100.0), ..Pose::default() }, a.flush(), "breath")
        };
        let run = acquire(&s, &a.flows(), &spec, Streams::new(2)).unwrap();
        let d = run.subtraction(1, (0.0, 0.0));
        (d.iter().map(|x| f64::from(x * x)).sum::<f64>() / d.len() as f64).sqrt()
    };
    let (held, free, drifted) = (rms(true, Vec3::ZERO), rms(false, Vec3::ZERO), rms(true, v(1.5, 0.0, 0.0)));
    assert!(free > 4.0 * held, "{held} {free}");
    assert!(drifted > 2.0 * held, "{held} {drifted}");
}

/// Moving the mask back by the known shift brings the background's residue down again.
#[test]
fn pixel_shift_repairs_a_shift() {
    let a = adult(0.0);
    let beam = Beam::default();
    let body = Body::new(&a.tree, &beam);
    let s = Scene { body: Some(&body), ..scene(&a.tree) };
    let pose = Pose { isocentre: v(0.0, 0.0, -20.0), ..Pose::default() };
    let spec = RunSpec {
        pixels: 128,
        duration_s: 1.0,
        fps: 1.0,
        injection: None,
        detector: Detector { quanta: None, ..Detector::RUN },
        table_mm_s: v(4.0, 0.0, 0.0),
        ..RunSpec::new(pose, a.flush(), "shift")
    };
    let run = acquire(&s, &a.flows(), &spec, Streams::new(2)).unwrap();
    let rms = |shift| {
        let d = run.subtraction(0, shift);
        let inner = (0..128 * 128).filter(|i| i % 128 > 16 && i % 128 < 112 && i / 128 > 16 && i / 128 < 112);
        inner.map(|i| f64::from(d[i] * d[i])).sum::<f64>().sqrt()
    };
    let by = pose.view(128).shift_px(v(4.0, 0.0, 0.0));
    let (before, after) = (rms((0.0, 0.0)), rms((by.0 as f32, by.1 as f32)));
    assert!(after < 0.35 * before, "{before} {after}");
}

/// PNG files decode to the same pixels and carry the training line (PNG, W3C recommendation; decoder: png crate).
#[test]
fn png_round_trips_with_its_caption() {
    let mut g = Grey::black(40, 30);
    g.pixels.iter_mut().enumerate().for_each(|(i, p)| *p = (i % 251) as u8);
    let bytes = g.png().unwrap();
    let mut reader = png::Decoder::new(std::io::Cursor::new(&bytes)).read_info().unwrap();
    let mut out = vec![0; 40 * 30];
    reader.next_frame(&mut out).unwrap();
    assert_eq!(out, g.pixels);
    assert!(reader.info().uncompressed_latin1_text.iter().any(|t| t.text.contains("TRAINING ONLY")));
}
