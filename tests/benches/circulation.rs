//! Simulated seconds per second on one core: `cargo bench --no-default-features --bench circulation`.
//! The adaptive solver to compare with is a crate of its own: `cargo run --release --manifest-path tests/peer/Cargo.toml`.

#![allow(clippy::disallowed_methods, reason = "a bench reads the clock")]
#![allow(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

use overwire::circulation::{Circulation, Layout, Patient, Start, advance_together};
use std::time::Instant;

fn main() {
    let mut base = Circulation::new(&Patient::default(), &Layout::adult(), &Start::default());
    base.set_tracing(false);
    for round in 1..=5 {
        let mut one = base.clone();
        let start = Instant::now();
        one.advance_ms(200_000);
        let alone = 200.0 / start.elapsed().as_secs_f64();
        let mut four: Vec<_> = (0..4).map(|_| base.clone()).collect();
        let start = Instant::now();
        advance_together(&mut four, 100_000);
        let together = 400.0 / start.elapsed().as_secs_f64();
        let start = Instant::now();
        std::hint::black_box(Circulation::new(&Patient::default(), &Layout::adult(), &Start::default()));
        let born = start.elapsed().as_secs_f64();
        // The ward asks by the minute.
        let mut days = base.clone();
        let start = Instant::now();
        (0..72 * 60).for_each(|_| days.advance_long(60.0));
        let long = start.elapsed().as_secs_f64();
        println!(
            "round {round}: alone {alone:.0} x, four together {together:.0} x (ratio {:.2}), \
             a start in {born:.3} s, three days in {long:.2} s",
            together / alone
        );
    }
}
