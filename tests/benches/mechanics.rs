//! Time of the two acts that a trainee waits for: `cargo bench --no-default-features --bench mechanics`.

#[path = "../mechanics/phantom.rs"]
#[allow(dead_code, clippy::unwrap_used, reason = "shared with the tests, which use all of it")]
mod phantom;

use overwire::kit::WireGrade;
use overwire::mechanics::leak::{Film, network};
use overwire::mechanics::{Corridor, Pressures, Rod, Route, place, settle};
use phantom::{EDGE, Neck, Stick, at, tube};
use std::hint::black_box;
use std::time::Instant;

/// Median and least time of some runs, ms.
fn time(mut run: impl FnMut(usize)) -> (f64, f64) {
    let mut all: Vec<f64> = (0..25)
        .map(|i| {
            #[expect(clippy::disallowed_methods, reason = "a bench reads the clock")]
            let start = Instant::now();
            run(i);
            1e3 * start.elapsed().as_secs_f64()
        })
        .collect();
    all.sort_by(f64::total_cmp);
    (all[all.len() / 2], all[0])
}

fn main() {
    let pressures = Pressures { proximal_mmhg: 80.0, distal_mmhg: 78.0, sac_mmhg: 40.0 };
    for (name, bend, os) in
        [("straight", None, 15.0), ("bend of 35 mm", Some(35.0), 15.0), ("bend, folded", Some(35.0), 33.0)]
    {
        let neck = Neck { radius_of_bend: bend, ..Neck::default() };
        let (tree, case) = (neck.tree(), neck.case());
        let graft = tube(30.0 * (1.0 + os / 100.0), 150.0);
        let (median, least) = time(|_| {
            let placed = place(&tree, &graft, &at(EDGE), &[], &case);
            black_box(network(&[placed], &pressures, &[], &Film::default()));
        });
        println!(
            "graft of 150 mm and its leak, {name}: median {median:.1} ms, least {least:.1} ms (target 150)"
        );
    }
    let stick = Stick::default();
    let tree = stick.tree();
    let route = Route::aorta(&tree);
    let corridor = Corridor::new(&tree, &route, route.length_mm() - 5.0, true);
    let ei = WireGrade::AorticExchange.ei_n_mm2(0.889);
    let mut shape = settle(&corridor, &Rod::even(ei, 0.45, 350.0), None);
    let (median, least) = time(|i| {
        shape = settle(&corridor, &Rod::even(ei, 0.45, 350.0 + 10.0 * i as f64), Some(&shape));
    });
    println!("rod after 1 cm: median {median:.2} ms, least {least:.2} ms (target 5)");
}
