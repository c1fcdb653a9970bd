//! The gallery of traces: `UPDATE_GALLERY=1 cargo test --no-default-features --test tests circulation::gallery`.

use super::healthy;
use overwire::anatomy::VesselName;
use overwire::circulation::{Bleed, Circulation, Drug, Layout, Patient, Site, Space, Start, TraceSample};
use std::fmt::Write;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/assets/gallery/circulation");

type Scene = (&'static str, &'static str, fn() -> (Circulation, u32));

/// File, title, and the patient some seconds before the end of what is drawn.
const SCENES: [Scene; 7] = [
    ("normal", "Healthy adult at rest", || (healthy(), 10)),
    ("bleed_30", "Thirty per cent of the blood lost", || (bled(0.30), 10)),
    ("class_4", "Class IV haemorrhage, forty-five per cent lost", || (bled(0.45), 10)),
    ("tamponade", "Tamponade: 280 ml in the pericardium", tamponade),
    ("rapid_pacing", "Ventricular pacing at 180 for ten seconds", pacing),
    ("dissection_beta_blocked", "Type B dissection on esmolol", dissection),
    ("balloon_up_and_down", "Occlusion balloon in the descending aorta, up for twelve seconds", balloon),
];

fn wait(c: &mut Circulation, s: u32) {
    c.advance_ms(s * 1000);
}

fn bled(part: f64) -> Circulation {
    let mut c = healthy();
    let due = part * Patient::default().blood_volume_ml();
    let hole = |area_mm2| Bleed {
        from: Site::Vessel(VesselName::RightExternalIliac),
        into: Space::Outside,
        area_mm2,
        clots: false,
    };
    c.set_bleed("line", hole(7.0));
    while c.lost_ml(Space::Outside) < due {
        c.advance_ms(200);
        if c.lost_ml(Space::Outside) > 0.85 * due {
            c.set_bleed("line", hole(3.0));
        }
    }
    c.remove_bleed("line");
    wait(&mut c, 240);
    c
}

fn tamponade() -> (Circulation, u32) {
    let mut c = healthy();
    c.set_bleed(
        "tear",
        Bleed { from: Site::AortaMm(10.0), into: Space::PericardialSac, area_mm2: 0.5, clots: false },
    );
    while c.lost_ml(Space::PericardialSac) < 280.0 && c.t_ms() < 1_500_000 {
        c.advance_ms(200);
    }
    c.remove_bleed("tear");
    wait(&mut c, 60);
    (c, 10)
}

fn pacing() -> (Circulation, u32) {
    let mut c = healthy();
    c.set_tracing(true);
    wait(&mut c, 4);
    c.set_pacing(Some(180.0));
    wait(&mut c, 10);
    c.set_pacing(None);
    (c, 10)
}

fn dissection() -> (Circulation, u32) {
    let patient = Patient { age_years: 56.0, mass_kg: 88.0, map_rest_mmhg: 108.0, ..Patient::default() };
    let start = Start { sbp_mmhg: Some(188.0), heart_rate_bpm: Some(104.0), ..Start::default() };
    let mut c = Circulation::new(&patient, &Layout::adult(), &start);
    c.set_tracing(false);
    c.give(Drug::Esmolol, 88.0);
    c.infuse(Drug::Esmolol, 250.0);
    c.give(Drug::Fentanyl, 100.0);
    wait(&mut c, 900);
    (c, 10)
}

fn balloon() -> (Circulation, u32) {
    let mut c = healthy();
    c.set_tracing(true);
    wait(&mut c, 4);
    c.set_occlusion(160.0, 1.0);
    wait(&mut c, 12);
    c.set_occlusion(160.0, 0.0);
    (c, 10)
}

/// Writes the pictures when asked; otherwise asks that all are there.
#[test]
fn the_gallery_is_hung() {
    for (file, title, scene) in SCENES {
        let path = format!("{FOLDER}/{file}.svg");
        if std::env::var_os("UPDATE_GALLERY").is_some() {
            let (mut c, more) = scene();
            c.set_tracing(true);
            wait(&mut c, more);
            std::fs::create_dir_all(FOLDER).unwrap();
            std::fs::write(&path, draw(title, &c.traces())).unwrap();
        }
        let svg = std::fs::read_to_string(&path).unwrap_or_default();
        assert!(svg.contains(title), "{path} is missing: run with UPDATE_GALLERY=1");
    }
}

type Channel = (&'static str, &'static str, f64, f64, fn(&TraceSample) -> f64);

/// Name, colour, range, value.
const CHANNELS: [Channel; 6] = [
    ("ECG II, mV", "#2e7d32", -1.0, 2.0, |s| s.ecg_mv),
    ("right radial, mmHg", "#b3261e", 0.0, 200.0, |s| s.art_mmhg),
    ("femoral, mmHg", "#7b3fa0", 0.0, 200.0, |s| s.femoral_mmhg),
    ("central venous, mmHg", "#1f5fa8", -5.0, 25.0, |s| s.cvp_mmhg),
    ("pulse", "#00707a", -1.5, 2.0, |s| s.pleth),
    ("carbon dioxide, mmHg", "#7a5c00", 0.0, 50.0, |s| s.co2_mmhg),
];

fn draw(title: &str, samples: &[TraceSample]) -> String {
    let (width, row, left) = (1000.0, 100.0, 190.0);
    let height = row * CHANNELS.len() as f64 + 70.0;
    let (t0, t1) = (samples.first().map_or(0, |s| s.t_ms), samples.last().map_or(1, |s| s.t_ms));
    let x = |t: u64| left + (width - left - 10.0) * (t - t0) as f64 / (t1 - t0).max(1) as f64;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" font-family=\"sans-serif\" \
         font-size=\"13\"><rect width=\"100%\" height=\"100%\" fill=\"#fbfaf7\"/>\
         <text x=\"10\" y=\"24\" font-size=\"18\">{title}</text>\
         <text x=\"10\" y=\"{}\" fill=\"#555\">Model output, {:.0} s. Training only: not for decisions on real patients; \
         follow local protocol and licensed practice.</text>",
        height - 12.0,
        (t1 - t0) as f64 * 1e-3
    );
    for (i, (name, colour, low, high, value)) in CHANNELS.into_iter().enumerate() {
        let top = 40.0 + row * i as f64;
        let y = |v: f64| top + (row - 14.0) * (1.0 - (v - low) / (high - low)).clamp(-0.1, 1.1);
        for mark in [low, high] {
            write!(svg, "<path d=\"M{left} {0:.1}H{1}\" stroke=\"#e4e0d8\"/><text x=\"{2}\" y=\"{3:.1}\" fill=\"#777\" text-anchor=\"end\" font-size=\"10\">{mark:.0}</text>", y(mark), width - 10.0, left - 6.0, y(mark) + 4.0).unwrap();
        }
        write!(
            svg,
            "<text x=\"10\" y=\"{:.1}\" fill=\"{colour}\" font-size=\"11\">{name}</text>",
            top + 10.0
        )
        .unwrap();
        svg += "<path fill=\"none\" stroke-width=\"1.3\" stroke=\"";
        svg += colour;
        svg += "\" d=\"";
        for (j, s) in samples.iter().enumerate() {
            write!(svg, "{}{:.1} {:.1}", if j == 0 { 'M' } else { 'L' }, x(s.t_ms), y(value(s))).unwrap();
        }
        svg += "\"/>";
    }
    svg + "</svg>\n"
}
