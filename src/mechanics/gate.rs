//! Finding the short leg's opening from the other groin: how many passes of a wire it takes.
//!
//! A wire comes up in the sac and is turned until it falls into the opening. Each pass meets it by the share of the sac's width
//! that the opening takes. Nothing published was found for a pass; the numbers are set so that a 12 mm gate in a 60 mm sac takes
//! about four minutes on average with a steered catheter, and sometimes a quarter of an hour (common practice, no source).

use crate::math::ops;

/// Seconds for one pass.
const PASS_S: f64 = 30.0;
/// Chance of a pass for each part of the sac's width that is gate.
const MEETS: f64 = 0.6;
/// What is left of it without a catheter that steers.
const UNSTEERED: f64 = 0.35;
/// Nobody tries for longer, s.
const LONGEST_S: f64 = 2700.0;

/// Chance that one pass finds the gate.
pub fn pass_finds(gate_mm: f64, sac_mm: f64, steered: bool) -> f64 {
    let p = MEETS * gate_mm / sac_mm.max(gate_mm);
    (p * if steered { 1.0 } else { UNSTEERED }).clamp(0.01, 0.6)
}

/// Seconds until the wire is in, for a draw from 0 to 1: passes until the first that finds it.
pub fn seconds(gate_mm: f64, sac_mm: f64, steered: bool, draw: f64) -> f64 {
    let p = pass_finds(gate_mm, sac_mm, steered);
    let passes = (ops::ln((1.0 - draw).max(1e-9)) / ops::ln(1.0 - p)).ceil().max(1.0);
    (PASS_S * passes).min(LONGEST_S)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Passes until the first success are geometric: their mean is one over the chance.
    #[test]
    fn passes_are_geometric() {
        let n = 2000;
        let mean = |sac: f64, steered| {
            (0..n).map(|i| seconds(12.0, sac, steered, (f64::from(i) + 0.5) / f64::from(n))).sum::<f64>()
                / f64::from(n)
        };
        let p = pass_finds(12.0, 60.0, true);
        assert!((mean(60.0, true) / (PASS_S / p) - 1.0).abs() < 0.02, "{}", mean(60.0, true));
        assert!((200.0..300.0).contains(&mean(60.0, true)));
        assert!(mean(60.0, false) > 2.0 * mean(60.0, true) && mean(80.0, true) > mean(50.0, true));
    }
}
