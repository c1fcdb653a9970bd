//! Flow through an opening that resists by friction and by its jet.

/// The flow that solves `R q + K q|q| = d`, whatever its units; `d` may be negative, and the flow is then too.
#[inline(always)]
pub fn through(d: f64, r: f64, k: f64) -> f64 {
    2.0 * d / (r + (r * r + 4.0 * k * d.abs()).sqrt())
}
