//! A smooth curve through a few measured values that never overshoots them.

/// Monotone piecewise-cubic interpolation (Fritsch and Carlson, SIAM J Numer Anal 17:238, 1980).
///
/// A diameter given at landmarks is followed without a bulge that nobody wrote; constant beyond the ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
}

impl Profile {
    /// Through points in strictly rising `x`; equal or falling ones are left out. An empty list gives the
    /// constant 0.
    pub fn new(points: &[(f64, f64)]) -> Self {
        let (mut x, mut y): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
        for &(a, b) in points {
            if x.last().is_none_or(|&last| a > last) {
                x.push(a);
                y.push(b);
            }
        }
        let n = x.len();
        let chord: Vec<f64> = (1..n).map(|i| (y[i] - y[i - 1]) / (x[i] - x[i - 1])).collect();
        let slope = (0..n)
            .map(|i| match (i.checked_sub(1).and_then(|j| chord.get(j)), chord.get(i)) {
                // Weighted harmonic mean inside, flat where the direction turns.
                (Some(&a), Some(&b)) if a * b > 0.0 => {
                    let (h0, h1) = (x[i] - x[i - 1], x[i + 1] - x[i]);
                    let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
                    (w0 + w1) / (w0 / a + w1 / b)
                }
                (Some(_), Some(_)) => 0.0,
                (Some(&a), None) | (None, Some(&a)) => a,
                (None, None) => 0.0,
            })
            .collect();
        Self { x, y, slope }
    }

    /// Value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        let n = self.x.len();
        let Some(&last) = self.x.last() else { return 0.0 };
        if x <= self.x[0] {
            return self.y[0];
        }
        if x >= last {
            return self.y[n - 1];
        }
        let i = self.x.partition_point(|&k| k <= x) - 1;
        let h = self.x[i + 1] - self.x[i];
        let t = (x - self.x[i]) / h;
        let (t2, t3) = (t * t, t * t * t);
        (2.0 * t3 - 3.0 * t2 + 1.0) * self.y[i]
            + (t3 - 2.0 * t2 + t) * h * self.slope[i]
            + (3.0 * t2 - 2.0 * t3) * self.y[i + 1]
            + (t3 - t2) * h * self.slope[i + 1]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_meets_its_points_and_stays_between_them() {
        let points = [(0.0, 25.0), (14.0, 31.0), (60.0, 31.0), (100.0, 24.0), (101.0, 20.0)];
        let p = Profile::new(&points);
        for (x, y) in points {
            assert!((p.at(x) - y).abs() < 1e-12);
        }
        for i in 0..1000 {
            let v = p.at(0.1 * f64::from(i) + 1.0);
            assert!((20.0 - 1e-9..=31.0 + 1e-9).contains(&v));
        }
        assert_eq!(p.at(-5.0), 25.0);
        assert_eq!(p.at(500.0), 20.0);
    }
}
