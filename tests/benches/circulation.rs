//! Simulated seconds per second on one core: `cargo bench --no-default-features --bench circulation`.
//! The adaptive solver to compare with is a crate of its own: `cargo run --release --manifest-path tests/peer/Cargo.toml`.

#![allow(clippy::disallowed_methods, reason = "a bench reads the clock")]
#![allow(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

use overwire::circulation::{Circulation, Layout, Patient, Start, advance_together};
use std::time::Instant;

fn main() {
    let mut base = Circulation::new(&Patient::default(), &Layout::adult(), &Start::default());
    base.set_tracing(false);
    for round in 1..=3 {
        let mut one = base.clone();
        let start = Instant::now();
        one.advance_ms(100_000);
        let alone = 100.0 / start.elapsed().as_secs_f64();
        let mut four: Vec<_> = (0..4).map(|_| base.clone()).collect();
        let start = Instant::now();
        advance_together(&mut four, 100_000);
        let together = 400.0 / start.elapsed().as_secs_f64();
        let mut days = base.clone();
        let start = Instant::now();
        days.advance_long(72.0 * 3600.0);
        let long = start.elapsed().as_secs_f64();
        println!(
            "round {round}: alone {alone:.0} x, four together {together:.0} x, three days in {long:.2} s"
        );
    }
}
