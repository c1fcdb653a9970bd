//! Symmetric positive definite systems that are narrow: rings in a row, nodes of a rod, cells of a film.

/// Lower triangle of a symmetric matrix, each row kept from its first column that can be filled (a "skyline").
#[derive(Clone, Debug)]
pub(super) struct Skyline {
    first: Vec<usize>,
    start: Vec<usize>,
    a: Vec<f64>,
}

impl Skyline {
    /// `first[i]` is the lowest column that row `i` will ever hold (at most `i`).
    pub(super) fn new(first: Vec<usize>) -> Self {
        let mut start = Vec::with_capacity(first.len() + 1);
        let mut total = 0;
        for (i, &f) in first.iter().enumerate() {
            start.push(total);
            total += i + 1 - f.min(i);
        }
        start.push(total);
        let first = first.iter().enumerate().map(|(i, &f)| f.min(i)).collect();
        Self { first, start, a: vec![0.0; total] }
    }

    /// The same band for every row.
    pub(super) fn banded(n: usize, band: usize) -> Self {
        Self::new((0..n).map(|i| i.saturating_sub(band)).collect())
    }

    /// All entries to zero.
    pub(super) fn clear(&mut self) {
        self.a.fill(0.0);
    }

    /// Adds to the entry of an unordered pair.
    pub(super) fn add(&mut self, i: usize, j: usize, value: f64) {
        let (i, j) = if i >= j { (i, j) } else { (j, i) };
        let k = self.start[i] + j - self.first[i];
        self.a[k] += value;
    }

    /// Replaces the matrix by its Cholesky factor. A pivot that is not positive is lifted to `floor`: the matrix is
    /// then a damped one, which a descent method can live with.
    pub(super) fn factor(&mut self, floor: f64) {
        let n = self.first.len();
        for i in 0..n {
            let fi = self.first[i];
            let si = self.start[i];
            for j in fi..i {
                let fj = self.first[j];
                let sj = self.start[j];
                let from = fi.max(fj);
                let sum = dot(&self.a[si + from - fi..si + j - fi], &self.a[sj + from - fj..sj + j - fj]);
                let pivot = self.a[sj + j - fj];
                self.a[si + j - fi] = (self.a[si + j - fi] - sum) / pivot;
            }
            let row = &self.a[si..si + i - fi];
            let pivot = self.a[si + i - fi] - dot(row, row);
            self.a[si + i - fi] = pivot.max(floor).sqrt();
        }
    }

    /// Solves with the factor, in place.
    pub(super) fn solve(&self, x: &mut [f64]) {
        let n = self.first.len();
        for i in 0..n {
            let (fi, si) = (self.first[i], self.start[i]);
            let sum = dot(&self.a[si..si + i - fi], &x[fi..i]);
            x[i] = (x[i] - sum) / self.a[si + i - fi];
        }
        for i in (0..n).rev() {
            let (fi, si) = (self.first[i], self.start[i]);
            let v = x[i] / self.a[si + i - fi];
            x[i] = v;
            for (xj, a) in x[fi..i].iter_mut().zip(&self.a[si..si + i - fi]) {
                *xj -= a * v;
            }
        }
    }
}

/// Four running sums in a fixed order: the same bits everywhere, and wide enough for the processor.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().min(b.len());
    let mut s = [0.0; 4];
    for (x, y) in a[..n].chunks_exact(4).zip(b[..n].chunks_exact(4)) {
        for k in 0..4 {
            s[k] += x[k] * y[k];
        }
    }
    let mut tail = 0.0;
    for k in n - n % 4..n {
        tail += a[k] * b[k];
    }
    (s[0] + s[1]) + (s[2] + s[3]) + tail
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Second difference with unit load: x = i (n - i) / 2 in closed form.
    #[test]
    fn second_difference() {
        let n = 41;
        let mut m = Skyline::banded(n, 3);
        for i in 0..n {
            m.add(i, i, 2.0);
            if i > 0 {
                m.add(i - 1, i, -1.0);
            }
        }
        m.factor(1e-30);
        let mut x = vec![1.0; n];
        m.solve(&mut x);
        for (i, v) in x.iter().enumerate() {
            let k = (i + 1) as f64;
            let exact = 0.5 * k * ((n + 1) as f64 - k);
            assert!((v - exact).abs() < 1e-9 * exact, "{v} {exact}");
        }
    }
}
