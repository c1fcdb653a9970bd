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
    ///
    /// Compiled twice, for the registers that every processor has and for wider ones where they are found; the order of every sum is
    /// fixed and no product is fused with one, so both give the same bits.
    pub(super) fn factor(&mut self, floor: f64) {
        pulp::Arch::new().dispatch(Factor { of: self, floor });
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

/// Cholesky's method as the compiler is to make it for each sort of registers.
struct Factor<'a> {
    of: &'a mut Skyline,
    floor: f64,
}

impl pulp::WithSimd for Factor<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) {
        let Skyline { first, start, a } = self.of;
        for i in 0..first.len() {
            let (fi, si) = (first[i], start[i]);
            let (above, row) = a.split_at_mut(si);
            for j in fi..i {
                let (fj, sj) = (first[j], start[j]);
                // Rows above end where this one begins; its own columns so far stand in it.
                let from = fi.max(fj);
                let sum = dot(&row[from - fi..j - fi], &above[sj + from - fj..sj + j - fj]);
                row[j - fi] = (row[j - fi] - sum) / above[sj + j - fj];
            }
            let pivot = row[i - fi] - dot(&row[..i - fi], &row[..i - fi]);
            row[i - fi] = pivot.max(self.floor).sqrt();
        }
    }
}

/// Four running sums in a fixed order: the same bits everywhere, and wide enough for the processor.
#[inline(always)]
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
