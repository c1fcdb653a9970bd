//! Piecewise-linear tables.

/// Value at `x` of the table of (abscissa, value) pairs in rising order; constant beyond its ends.
///
/// An empty table gives 0.
pub fn linear(table: &[(f64, f64)], x: f64) -> f64 {
    let Some((&(x0, y0), rest)) = table.split_first() else { return 0.0 };
    if x <= x0 {
        return y0;
    }
    let (mut xa, mut ya) = (x0, y0);
    for &(xb, yb) in rest {
        if x <= xb {
            return if xb > xa { ya + (yb - ya) * (x - xa) / (xb - xa) } else { yb };
        }
        (xa, ya) = (xb, yb);
    }
    ya
}

/// 0 below `a`, 1 above `b`, a cubic with flat ends between.
pub fn smooth_step(a: f64, b: f64, x: f64) -> f64 {
    let t = ((x - a) / (b - a)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}
