//! The gallery of traces, drawn anew by `UPDATE_REFERENCE=1 cargo test --no-default-features circulation::gallery`.

use super::healthy;
use overwire::anatomy::VesselName;
use overwire::circulation::{
    Bleed, Circulation, Drug, Layout, Patient, Pressure, Site, Space, Start, TraceSample,
};
use std::fmt::Write;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/traces");

type Scene = (&'static str, &'static str, fn() -> (Circulation, u32));

/// File, title, and the patient some seconds before the end of what is drawn.
const SCENES: [Scene; 7] = [
    ("normal", "Healthy adult at rest", || (healthy(), 10)),
    ("bleed_30", "Thirty per cent of the blood lost", || (bled(0.30), 10)),
    ("class_4", "Class IV haemorrhage, forty-five per cent lost", || (bled(0.45), 10)),
    ("tamponade", "Tamponade: 280 ml in the pericardium", tamponade),
    ("rapid_pacing", "Ventricular pacing at 180 for ten seconds", pacing),
    (
        "dissection_beta_blocked",
        "Type B dissection, a quarter of an hour of esmolol and nicardipine",
        dissection,
    ),
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
    c.infuse(Drug::Esmolol, 200.0);
    c.infuse(Drug::Nicardipine, 5.0);
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

/// The pictures are the same bits on every machine: they are drawn in every run and must be those that are kept.
#[test]
fn the_gallery_is_hung() {
    let drawn: Vec<(&str, String)> = std::thread::scope(|s| {
        let draw = |(file, title, scene): Scene| {
            let (mut c, more) = scene();
            c.set_tracing(true);
            wait(&mut c, more);
            let readings = readings(&c);
            (file, svg(title, &readings, &c.traces()))
        };
        let halves = SCENES.split_at(4);
        let one = s.spawn(move || halves.0.iter().copied().map(draw).collect::<Vec<_>>());
        let other = s.spawn(move || halves.1.iter().copied().map(draw).collect::<Vec<_>>());
        one.join().unwrap().into_iter().chain(other.join().unwrap()).collect()
    });
    let mut stale = Vec::new();
    for (file, svg) in drawn {
        let path = format!("{FOLDER}/{file}.svg");
        if std::env::var_os("UPDATE_REFERENCE").is_some() {
            std::fs::create_dir_all(FOLDER).unwrap();
            std::fs::write(&path, &svg).unwrap();
        }
        if std::fs::read_to_string(&path).unwrap_or_default() != svg {
            stale.push(path);
        }
    }
    assert!(stale.is_empty(), "not as drawn now, run with UPDATE_REFERENCE=1: {stale:?}");
}

/// What the monitor says at the end.
fn readings(c: &Circulation) -> String {
    let v = c.vitals();
    let pair = |p: &Pressure| format!("{:.0}/{:.0}", p.systolic_mmhg, p.diastolic_mmhg);
    format!(
        "at the end: rate {:.0}, right radial {} ({:.0}), femoral {}, central venous {:.0}, output {:.1} l/min",
        v.heart_rate_bpm,
        pair(&v.right_radial),
        v.right_radial.mean_mmhg,
        pair(&v.right_femoral),
        v.cvp_mmhg,
        v.output_l_min
    )
}

type Channel = (&'static str, &'static str, f64, f64, fn(&TraceSample) -> f64);

/// Name, colour, range, value.
const CHANNELS: [Channel; 6] = [
    ("ECG II, mV", "#2e7d32", -1.0, 2.0, |s| s.ecg_mv),
    ("right radial, mmHg", "#b3261e", 0.0, 200.0, |s| s.art_mmhg),
    ("femoral, mmHg", "#7b3fa0", 0.0, 200.0, |s| s.femoral_mmhg),
    ("central venous, mmHg", "#1f5fa8", -5.0, 25.0, |s| s.cvp_mmhg),
    ("pulse", "#00707a", -2.0, 3.0, |s| s.pleth),
    ("carbon dioxide, mmHg", "#7a5c00", 0.0, 50.0, |s| s.co2_mmhg),
];

const WIDTH: f64 = 1000.0;
const LEFT: f64 = 190.0;
const ROW: f64 = 100.0;
const TOP: f64 = 60.0;

fn svg(title: &str, readings: &str, samples: &[TraceSample]) -> String {
    let height = TOP + ROW * CHANNELS.len() as f64 + 40.0;
    let (t0, t1) = (samples.first().map_or(0, |s| s.t_ms), samples.last().map_or(1, |s| s.t_ms));
    let x = |t: u64| LEFT + (WIDTH - LEFT - 10.0) * (t - t0) as f64 / (t1 - t0).max(1) as f64;
    let bottom = height - 34.0;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" font-family=\"sans-serif\" \
         font-size=\"12\">\n<rect width=\"100%\" height=\"100%\" fill=\"#fbfaf7\"/>\n\
         <text x=\"10\" y=\"24\" font-size=\"18\">{title}</text>\n\
         <text x=\"10\" y=\"44\" fill=\"#444\">{readings}</text>\n\
         <text x=\"10\" y=\"{:.0}\" fill=\"#555\">Model output, {:.0} s, a line each second. Training only: not for \
         decisions on real patients; follow local protocol and licensed practice.</text>\n<path stroke=\"#eeeae2\" d=\"",
        height - 12.0,
        (t1 - t0) as f64 * 1e-3
    );
    for t in (t0..=t1).step_by(1000) {
        write!(svg, "M{:.1} {TOP}V{bottom}", x(t)).unwrap();
    }
    svg += "\"/>\n";
    for (i, (name, colour, low, high, value)) in CHANNELS.into_iter().enumerate() {
        let top = TOP + ROW * i as f64;
        let y = |v: f64| top + (ROW - 14.0) * (1.0 - (v - low) / (high - low)).clamp(-0.1, 1.1);
        for mark in [low, 0.5 * (low + high), high] {
            let (y, right, at) = (y(mark), WIDTH - 10.0, LEFT - 6.0);
            writeln!(
                svg,
                "<path d=\"M{LEFT} {y:.1}H{right}\" stroke=\"#ddd8cf\"/><text x=\"{at}\" y=\"{:.1}\" fill=\"#777\" \
                 text-anchor=\"end\" font-size=\"10\">{mark}</text>",
                y + 4.0
            )
            .unwrap();
        }
        writeln!(svg, "<text x=\"10\" y=\"{:.1}\" fill=\"{colour}\">{name}</text>", top + 12.0).unwrap();
        write!(svg, "<path fill=\"none\" stroke-width=\"1.3\" stroke=\"{colour}\" d=\"").unwrap();
        // Every other sample, in tenths of a unit from the one before.
        let tenths =
            |s: &TraceSample| ((x(s.t_ms) * 10.0).round() as i64, (y(value(s)) * 10.0).round() as i64);
        let mut before = (0, 0);
        for (j, s) in samples.iter().step_by(2).enumerate() {
            let now = tenths(s);
            let (dx, dy) = ((now.0 - before.0) as f64 / 10.0, (now.1 - before.1) as f64 / 10.0);
            write!(svg, "{}{dx} {dy}", if j == 0 { "M" } else { "l" }).unwrap();
            before = now;
        }
        svg += "\"/>\n";
    }
    svg + "</svg>\n"
}
