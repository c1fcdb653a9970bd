//! The 12-state loop of Ursino 1998 (effectors frozen), 100 beats: our fixed 1 ms step against diffsol's Tsit45, both with
//! output every millisecond. Prints speed in simulated seconds per second, and the root mean square error of
//! arterial pressure over the last beat against a step of 0.05 ms.

#[expect(dead_code, reason = "the tests use the rest")]
#[path = "../../circulation/loops.rs"]
mod loops;

use diffsol::{NalgebraMat, OdeBuilder, OdeSolverMethod};
use loops::{URSINO_T, ursino, ursino_phi, ursino_step};
use std::time::Instant;

const END_S: f64 = 100.0 * URSINO_T;
const ROUNDS: usize = 5;

/// Milliseconds of the last beat, over which arterial pressure is compared.
const LAST: usize = 833;

fn main() {
    let (reference, _) = ours(0.05e-3, 20);
    for _ in 0..ROUNDS {
        let (p, wall) = ours(1e-3, 1);
        println!("ours 1 ms:            {:8.0} x, error {:.1e} mmHg", END_S / wall, rms(&p, &reference));
        for tolerance in [1e-3, 1e-4, 1e-5, 1e-6, 5e-7, 2e-7] {
            match theirs(tolerance) {
                Ok((p, wall)) => println!(
                    "Tsit45 {tolerance:.0e} 1 ms out: {:8.0} x, error {:.1e} mmHg",
                    END_S / wall,
                    rms(&p, &reference)
                ),
                Err(e) => println!("Tsit45 {tolerance:.0e}: {e}"),
            }
        }
    }
}

fn rms(a: &[f64], b: &[f64]) -> f64 {
    (a.iter().zip(b).map(|(x, y)| (x - y) * (x - y)).sum::<f64>() / b.len() as f64).sqrt()
}

/// Arterial pressure by the millisecond over the last beat, and wall time. Every `per_ms`-th step ends a millisecond.
fn ours(dt_s: f64, per_ms: u64) -> (Vec<f64>, f64) {
    let mut n = ursino::<1>(dt_s);
    let mut p = Vec::with_capacity((END_S * 1e3) as usize + 1);
    let start = Instant::now();
    for k in 0..(END_S / dt_s).round() as u64 {
        ursino_step(&mut n, k);
        if (k + 1) % per_ms == 0 {
            p.push(n.v_ml[9][0] / 0.28);
        }
    }
    let wall = start.elapsed().as_secs_f64();
    (p.split_off(p.len() - LAST), wall)
}

/// The same by the peer. Its own right-hand side, written out by hand.
fn theirs(tolerance: f64) -> Result<(Vec<f64>, f64), String> {
    let fail = |e: &dyn std::fmt::Display| e.to_string();
    let problem = OdeBuilder::<NalgebraMat<f64>>::new()
        .rtol(tolerance)
        .atol([tolerance])
        .rhs_implicit(
            |x: &[f64], _p: &[f64], t: f64, y: &mut [f64]| y.copy_from_slice(&rhs(t, x)),
            |_x: &[f64], _p: &[f64], _t: f64, _v: &[f64], y: &mut [f64]| y.fill(0.0),
        )
        .init(|_p: &[f64], _t: f64, y: &mut [f64]| y.copy_from_slice(&START), 12)
        .build()
        .map_err(|e| fail(&e))?;
    let grid: Vec<f64> = (1..=(END_S * 1e3).round() as u64).map(|k| k as f64 * 1e-3).collect();
    let start = Instant::now();
    let mut solver = problem.tsit45().map_err(|e| fail(&e))?;
    let (all, _) = solver.solve_dense(&grid).map_err(|e| fail(&e))?;
    let wall = start.elapsed().as_secs_f64();
    let p = (grid.len() - LAST..grid.len()).map(|k| all[(0, k)]).collect();
    Ok((p, wall))
}

const START: [f64; 12] = [90., 80., 85., 6., 16., 80., 14., 9., 7., 120., 5., 120.];

fn rhs(t: f64, y: &[f64]) -> [f64; 12] {
    let (psa, fsa, psp, pev, ppa, fpa) = (y[0], y[1], y[2], y[3], y[4], y[5]);
    let (ppp, ppv, pla, vlv, pra, vrv) = (y[6], y[7], y[8], y[9], y[10], y[11]);
    let phi = ursino_phi(t);
    let pml = phi * 2.95 * (vlv - 16.77) + (1.0 - phi) * 1.5 * ((0.014 * vlv).exp() - 1.0);
    let pmr = phi * 1.75 * (vrv - 40.8) + (1.0 - phi) * 1.5 * ((0.011 * vrv).exp() - 1.0);
    let fol = if pml > psa { (pml - psa) / (3.75e-4 * pml) } else { 0.0 };
    let f_or = if pmr > ppa { (pmr - ppa) / (1.4e-3 * pmr) } else { 0.0 };
    let (plv, prv) = (pml - 3.75e-4 * pml * fol, pmr - 1.4e-3 * pmr * f_or);
    let fil = if pla > plv { (pla - plv) / 2.5e-3 } else { 0.0 };
    let fir = if pra > prv { (pra - prv) / 2.5e-3 } else { 0.0 };
    let unstressed = 274.4 + 336.6 + 1121.0 + 1375.0 + 123.0 + 120.0 + 25.0 + 25.0;
    let held = 0.28 * psa + 3.72 * psp + 50.0 * pev + 31.25 * pra + vrv + 0.76 * ppa + 5.8 * ppp + 25.37 * ppv + 19.23 * pla + vlv;
    let psv = (5300.0 - held - unstressed) / 61.11;
    [
        (fol - fsa) / 0.28,
        (psa - psp - 0.06 * fsa) / 0.22e-3,
        (fsa - (psp - psv) / 3.307 - (psp - pev) / 1.407) / 3.72,
        ((psp - pev) / 1.407 - (pev - pra) / 0.016) / 50.0,
        (f_or - fpa) / 0.76,
        (ppa - ppp - 0.023 * fpa) / 0.18e-3,
        (fpa - (ppp - ppv) / 0.0894) / 5.8,
        ((ppp - ppv) / 0.0894 - (ppv - pla) / 0.0056) / 25.37,
        ((ppv - pla) / 0.0056 - fil) / 19.23,
        fil - fol,
        ((psv - pra) / 0.038 + (pev - pra) / 0.016 - fir) / 31.25,
        fir - f_or,
    ]
}
