//! Cubic interpolation of one function with continuous second derivative.

/// A cubic spline through `(x, y)` pairs with not-a-knot ends (natural ends below four knots).
#[derive(Clone, Debug, PartialEq)]
pub struct Spline {
    x: Vec<f64>,
    y: Vec<f64>,
    /// Second derivatives at the knots.
    m: Vec<f64>,
}

impl Spline {
    /// Through the given knots. `x` must rise strictly and be as long as `y`, at least two; otherwise `None`.
    pub fn new(x: &[f64], y: &[f64]) -> Option<Self> {
        let n = x.len();
        if n < 2 || n != y.len() || x.windows(2).any(|w| w[1] <= w[0] || !w[1].is_finite()) {
            return None;
        }
        let m = if n < 4 { natural(x, y) } else { not_a_knot(x, y) };
        Some(Self { x: x.to_vec(), y: y.to_vec(), m })
    }

    /// Index of the interval that holds `x`, the ends being extended.
    fn interval(&self, x: f64) -> usize {
        let after = self.x.partition_point(|&k| k <= x);
        after.saturating_sub(1).min(self.x.len() - 2)
    }

    /// Value, first and second derivative at `x`.
    pub fn eval(&self, x: f64) -> [f64; 3] {
        let i = self.interval(x);
        let h = self.x[i + 1] - self.x[i];
        let (a, b) = ((self.x[i + 1] - x) / h, (x - self.x[i]) / h);
        let (ma, mb) = (self.m[i], self.m[i + 1]);
        let value =
            a * self.y[i] + b * self.y[i + 1] + ((a * a * a - a) * ma + (b * b * b - b) * mb) * h * h / 6.0;
        let slope =
            (self.y[i + 1] - self.y[i]) / h + ((3.0 * b * b - 1.0) * mb - (3.0 * a * a - 1.0) * ma) * h / 6.0;
        [value, slope, a * ma + b * mb]
    }

    /// The knots' abscissas.
    pub fn knots(&self) -> &[f64] {
        &self.x
    }
}

fn natural(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    let mut m = vec![0.0; n];
    if n == 3 {
        let (h0, h1) = (x[1] - x[0], x[2] - x[1]);
        m[1] = 3.0 * ((y[2] - y[1]) / h1 - (y[1] - y[0]) / h0) / (h0 + h1);
    }
    m
}

/// Second derivatives when the third derivative is continuous across the first and last inner knots.
fn not_a_knot(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    let h: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let rhs = |i: usize| 6.0 * ((y[i + 1] - y[i]) / h[i] - (y[i] - y[i - 1]) / h[i - 1]);
    // Unknowns m[1..n-1]; m[0] and m[n-1] are eliminated by the end conditions, which keeps the system tridiagonal.
    let k = n - 2;
    let (mut lo, mut di, mut up, mut r) = (vec![0.0; k], vec![0.0; k], vec![0.0; k], vec![0.0; k]);
    for j in 0..k {
        let i = j + 1;
        lo[j] = h[i - 1];
        di[j] = 2.0 * (h[i - 1] + h[i]);
        up[j] = h[i];
        r[j] = rhs(i);
    }
    // m0 = (1 + h0/h1) m1 - (h0/h1) m2, and the mirror image at the far end.
    let q = h[0] / h[1];
    di[0] += h[0] * (1.0 + q);
    up[0] -= h[0] * q;
    let p = h[n - 2] / h[n - 3];
    di[k - 1] += h[n - 2] * (1.0 + p);
    lo[k - 1] -= h[n - 2] * p;
    for j in 1..k {
        let w = lo[j] / di[j - 1];
        di[j] -= w * up[j - 1];
        r[j] -= w * r[j - 1];
    }
    let mut m = vec![0.0; n];
    m[k] = r[k - 1] / di[k - 1];
    for j in (0..k - 1).rev() {
        m[j + 1] = (r[j] - up[j] * m[j + 2]) / di[j];
    }
    m[0] = (1.0 + q) * m[1] - q * m[2];
    m[n - 1] = (1.0 + p) * m[n - 2] - p * m[n - 3];
    m
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cubic_is_reproduced() {
        let f = |x: f64| 1.0 - 2.0 * x + 0.5 * x * x + 0.25 * x * x * x;
        let x = [0.0, 0.7, 1.1, 2.0, 3.5];
        let s = Spline::new(&x, &x.map(f)).unwrap();
        for i in 0..36 {
            let t = 0.1 * f64::from(i);
            assert!((s.eval(t)[0] - f(t)).abs() < 1e-12);
        }
        assert!(Spline::new(&[0.0, 0.0], &[1.0, 2.0]).is_none());
    }
}
