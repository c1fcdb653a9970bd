//! Small operations on square pictures of `f32`.

use crate::math::ops::single;

/// Gaussian blur of standard deviation `sigma` pixels; edges repeat.
pub fn gaussian(a: &[f32], n: usize, sigma: f32) -> Vec<f32> {
    if sigma < 0.05 {
        return a.to_vec();
    }
    let r = (sigma * 3.0).ceil() as usize;
    let mut kernel: Vec<f32> = (0..=2 * r)
        .map(|i| i as f32 - r as f32)
        .map(|d| single::exp(-d * d / (2.0 * sigma * sigma)))
        .collect();
    let sum: f32 = kernel.iter().sum();
    kernel.iter_mut().for_each(|k| *k /= sum);
    let mut b = vec![0.0f32; n * n];
    let mut line = vec![0.0f32; n + 2 * r];
    for y in 0..n {
        for (i, v) in line.iter_mut().enumerate() {
            *v = a[y * n + i.saturating_sub(r).min(n - 1)];
        }
        let out = &mut b[y * n..(y + 1) * n];
        for (i, k) in kernel.iter().enumerate() {
            out.iter_mut().zip(&line[i..]).for_each(|(o, v)| *o += k * v);
        }
    }
    let mut c = vec![0.0f32; n * n];
    for y in 0..n {
        for (i, k) in kernel.iter().enumerate() {
            let from = (y + i).saturating_sub(r).min(n - 1);
            let (src, out) = (&b[from * n..(from + 1) * n], &mut c[y * n..(y + 1) * n]);
            out.iter_mut().zip(src).for_each(|(o, v)| *o += k * v);
        }
    }
    c
}

/// Bilinear enlargement of an `m` picture to `n`, each value handed to `put(index, value)`.
pub fn enlarge_onto(a: &[f32], m: usize, n: usize, mut put: impl FnMut(usize, f32)) {
    let ratio = m as f32 / n as f32;
    let place = |x: usize| {
        let at = ((x as f32 + 0.5) * ratio - 0.5).clamp(0.0, m as f32 - 1.001);
        (at as usize, at - at.floor())
    };
    let columns: Vec<(usize, f32)> = (0..n).map(place).collect();
    let mut line = vec![0.0f32; m];
    for y in 0..n {
        let (j, v) = place(y);
        let j1 = (j + 1).min(m - 1);
        for (i, l) in line.iter_mut().enumerate() {
            *l = a[j * m + i] + (a[j1 * m + i] - a[j * m + i]) * v;
        }
        for (x, &(i, u)) in columns.iter().enumerate() {
            let i1 = (i + 1).min(m - 1);
            put(y * n + x, line[i] + (line[i1] - line[i]) * u);
        }
    }
}

/// Bilinear enlargement.
pub fn enlarge(a: &[f32], m: usize, n: usize) -> Vec<f32> {
    let mut out = vec![0.0f32; n * n];
    enlarge_onto(a, m, n, |i, v| out[i] = v);
    out
}

/// The picture moved by `(dx, dy)` pixels (to the right and down), bilinear; edges repeat.
pub fn shifted(a: &[f32], n: usize, dx: f32, dy: f32) -> Vec<f32> {
    if dx == 0.0 && dy == 0.0 {
        return a.to_vec();
    }
    let last = n as f32 - 1.0;
    let place = |x: usize, d: f32| {
        let at = (x as f32 - d).clamp(0.0, last);
        let i = (at as usize).min(n - 2);
        (i, at - i as f32)
    };
    let columns: Vec<(usize, f32)> = (0..n).map(|x| place(x, dx)).collect();
    let mut out = Vec::with_capacity(n * n);
    for y in 0..n {
        let (j, v) = place(y, dy);
        let (top, bottom) = (&a[j * n..(j + 1) * n], &a[(j + 1) * n..(j + 2) * n]);
        out.extend(columns.iter().map(|&(i, u)| {
            let (p, q) = (top[i] + (top[i + 1] - top[i]) * u, bottom[i] + (bottom[i + 1] - bottom[i]) * u);
            p + (q - p) * v
        }));
    }
    out
}

/// The value below which a fraction `q` of the picture lies, of every seventh pixel that `keep` accepts.
pub fn percentile(a: &[f32], q: f32, keep: impl Fn(usize) -> bool) -> f32 {
    let mut some: Vec<f32> = (0..a.len()).step_by(7).filter(|&i| keep(i)).map(|i| a[i]).collect();
    if some.is_empty() {
        return 0.0;
    }
    let k = ((some.len() - 1) as f32 * q) as usize;
    *some.select_nth_unstable_by(k, f32::total_cmp).1
}
