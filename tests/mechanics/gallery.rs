//! Sweeps that a person looks at, drawn into `assets/gallery/mechanics`.

use super::phantom::{EDGE, Neck, Stick, at};
use super::plot::{Chart, Curve, sheet};
use super::rods::advance;
use overwire::kit::WireGrade;
use overwire::mechanics::leak::{Film, network};
use overwire::mechanics::place::CELLS_ROUND;
use overwire::mechanics::{Corridor, Placed, Pressures, Rod, Route, lay, place};

const CLAMPED: Pressures = Pressures { proximal_mmhg: 80.0, distal_mmhg: 78.0, sac_mmhg: 40.0 };
const BENDS: [(Option<f64>, &str); 4] =
    [(None, "straight"), (Some(60.0), "R 60"), (Some(45.0), "R 45"), (Some(35.0), "R 35")];

/// Leak, leak of a patient with a contained rupture, seal, inner contact, beak, fold: the mean of three walls.
fn measure(neck: &Neck, oversize: f64) -> [f64; 6] {
    let mut sum = [0.0; 6];
    for seed in 1..=3 {
        let neck = Neck { seed, ..*neck };
        let mut graft = neck.graft(oversize);
        // A bend takes fabric: without this the far end would lose its landing.
        graft.length_mm += 40.0;
        let placed = place(&neck.tree(), &graft, &at(EDGE), &[], &neck.case());
        let report = network(std::slice::from_ref(&placed), &CLAMPED, &[], &Film::default());
        let sac = report.steady_sac_mmhg(&CLAMPED, 3.0, 10.0);
        let held = report.at(&Pressures { sac_mmhg: sac, ..CLAMPED });
        let e = &placed.ends[0];
        let now = [report.ia_ml_min, held.ia_ml_min, e.seal_mm, e.inner_seal_mm, e.beak_mm, e.fold_mm2];
        sum.iter_mut().zip(now).for_each(|(s, v)| *s += v / 3.0);
    }
    sum
}

fn save(name: &str, charts: &[Chart<'_>]) {
    let dir = concat!(env!("CARGO_MANIFEST_DIR"), "/assets/gallery/mechanics");
    std::fs::create_dir_all(dir).unwrap();
    std::fs::write(format!("{dir}/{name}.svg"), sheet(charts)).unwrap();
}

fn charts_of(xs: &[f64], x: &'static str, cases: &[(String, Vec<[f64; 6]>)]) -> Vec<Chart<'static>> {
    let curve = |i: usize| -> Vec<Curve> {
        cases
            .iter()
            .map(|(name, rows)| (name.clone(), xs.iter().zip(rows).map(|(x, r)| (*x, r[i])).collect()))
            .collect()
    };
    vec![
        Chart { title: "Type Ia, sac held at 40 mmHg", x, y: "mL/min", log: true, curves: curve(0) },
        Chart {
            title: "Type Ia into a contained rupture (3 mm²)",
            x,
            y: "mL/min",
            log: true,
            curves: curve(1),
        },
        Chart { title: "Seal round the whole circumference", x, y: "mm", log: false, curves: curve(2) },
        Chart { title: "Contact along the inner side", x, y: "mm", log: false, curves: curve(3) },
        Chart { title: "Beak at the edge", x, y: "mm", log: false, curves: curve(4) },
        Chart { title: "Fold's channel", x, y: "mm²", log: false, curves: curve(5) },
    ]
}

#[test]
fn oversize() {
    let xs = [
        -10.0, -5.0, 0.0, 2.5, 5.0, 7.5, 10.0, 12.5, 15.0, 17.5, 20.0, 22.5, 25.0, 27.5, 30.0, 32.5, 35.0,
        40.0,
    ];
    let cases: Vec<_> = BENDS
        .iter()
        .map(|&(radius_of_bend, name)| {
            let neck = Neck { radius_of_bend, ..Neck::default() };
            let rows: Vec<_> = xs.iter().map(|&os| measure(&neck, os)).collect();
            for (x, r) in xs.iter().zip(&rows) {
                println!("{name} OS {x}: {r:.1?}");
            }
            (name.to_owned(), rows)
        })
        .collect();
    save("oversize", &charts_of(&xs, "oversize %", &cases));
}

#[test]
fn landing_length() {
    let xs = [5.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0];
    let mut cases = Vec::new();
    for (radius_of_bend, name) in [BENDS[0], BENDS[1], BENDS[3]] {
        for os in [5.0, 15.0] {
            let rows: Vec<_> = xs
                .iter()
                .map(|&landing| measure(&Neck { radius_of_bend, landing, ..Neck::default() }, os))
                .collect();
            for (x, r) in xs.iter().zip(&rows) {
                println!("{name} OS {os} landing {x}: {r:.1?}");
            }
            cases.push((format!("{name}, {os:.0} %"), rows));
        }
    }
    save("landing", &charts_of(&xs, "landing on the centreline, mm", &cases));
}

#[test]
fn arch_and_wire() {
    let grades = WireGrade::ALL;
    let names: Vec<f64> = grades.iter().map(|g| g.ei_n_mm2(0.889)).collect();
    let mut curves: [Vec<Curve>; 4] = Default::default();
    // Arch types differ here by the radius that a wire must turn: I wide, III tight.
    for (radius, name) in [(45.0, "type I, R 45"), (35.0, "type II, R 35"), (25.0, "type III, R 25")] {
        let stick = Stick { arch_radius: radius, ..Stick::default() };
        let tree = stick.tree();
        let route = Route::aorta(&tree);
        let corridor = Corridor::new(&tree, &route, route.length_mm() - 5.0, true);
        let (a, b) = stick.arch();
        let mut rows: [Vec<(f64, f64)>; 4] = Default::default();
        for &ei in &names {
            let s = advance(&corridor, |l| Rod::even(ei, 0.45, l), route.length_mm() - 30.0);
            println!(
                "{name} EI {ei:.0}: wall {:.2} N, shift {:.1} mm, turn {:.2}, push {:.2}",
                s.wall_n,
                s.shift_mm,
                s.turn_rad(a, b),
                s.push_n
            );
            for (row, v) in
                rows.iter_mut().zip([s.wall_n, s.shift_mm, s.turn_rad(a, b).to_degrees(), s.push_n])
            {
                row.push((ei, v));
            }
        }
        for (c, r) in curves.iter_mut().zip(rows) {
            c.push((name.to_owned(), r));
        }
    }
    let [force, shift, turn, push] = curves;
    let x = "bending stiffness of the wire, N mm²";
    save(
        "arch_and_wire",
        &[
            Chart { title: "Force on the arch's wall", x, y: "N", log: false, curves: force },
            Chart { title: "The wall is moved by", x, y: "mm", log: false, curves: shift },
            Chart { title: "The wire turns in the arch by", x, y: "degrees", log: false, curves: turn },
            Chart { title: "Force to push it on", x, y: "N", log: false, curves: push },
        ],
    );
}

/// Gap (red) and contact (blue) on the unrolled fabric, proximal edge on top, round the vessel to the right.
fn map(placed: &Placed, title: &str, x0: f64) -> String {
    let n = CELLS_ROUND;
    let rows = placed.rows.len().min(34);
    let mut s =
        format!("<g transform=\"translate({x0},24)\"><text x=\"0\" y=\"-8\" font-size=\"11\">{title}</text>");
    for i in 0..rows {
        for k in 0..n {
            let c = placed.cell(i, k);
            let tone = |v: f64| (255.0 * (1.0 - v.clamp(0.0, 1.0))) as u8;
            let colour = if c.sac {
                "#444444".to_owned()
            } else if c.gap_mm > 0.0 {
                let t = tone(c.gap_mm.sqrt() / 2.0);
                format!("#ff{t:02x}{t:02x}")
            } else {
                let t = tone(c.contact_kpa / 4.0);
                format!("#{t:02x}{t:02x}ff")
            };
            s += &format!(
                "<rect x=\"{}\" y=\"{}\" width=\"6.1\" height=\"6.1\" fill=\"{colour}\"/>",
                6 * k,
                6 * i
            );
        }
    }
    s + "</g>"
}

#[test]
fn maps() {
    let mut out = String::new();
    let list = [(None, 3.0), (None, 15.0), (Some(60.0), 15.0), (Some(35.0), 15.0), (None, 33.0)];
    for (i, (radius_of_bend, os)) in list.into_iter().enumerate() {
        let neck = Neck { radius_of_bend, ..Neck::default() };
        let placed = lay(&neck.tree(), &neck.graft(os), &at(EDGE), &[], &neck.case(), &[], None);
        let name = radius_of_bend.map_or("straight".to_owned(), |r| format!("R {r:.0}"));
        out += &map(
            &placed,
            &format!("{name}, oversize {os:.0} %: gap red, contact blue"),
            12.0 + 236.0 * i as f64,
        );
    }
    let dir = concat!(env!("CARGO_MANIFEST_DIR"), "/assets/gallery/mechanics");
    std::fs::create_dir_all(dir).unwrap();
    let svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"1200\" height=\"256\" font-family=\"sans-serif\"><rect width=\"100%\" height=\"100%\" fill=\"white\"/>{out}<text x=\"12\" y=\"250\" font-size=\"10\" fill=\"#666\">Training only: model output, not for decisions on real patients.</text></svg>"
    );
    std::fs::write(format!("{dir}/maps.svg"), svg).unwrap();
}
