//! From line integrals to what a flat detector reports: blur, veil, quantum noise, logarithm.

use super::fast::{exp_neg, ln};
use super::noise::Gauss;
use super::pose::Shutter;
use crate::math::rng::Stream;

/// How a detector is driven.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Detector {
    /// Mean quanta that a pixel counts in the middle of the field at 512 x 512; `None`: no noise.
    pub quanta: Option<f32>,
    /// Part of the signal that is a broad veil of scatter and glare.
    pub veil: f32,
    /// Standard deviation of the blur before and after the noise, pixels (at most 0.8).
    pub blur_px: (f32, f32),
}

impl Detector {
    /// One frame of fluoroscopy, after the temporal filter that every set applies (counts assumed: 40 nGy per frame at
    /// some 30 000 quanta/mm²/uGy, times the filter's gain).
    pub const FLUORO: Self = Self { quanta: Some(900.0), veil: 0.40, blur_px: (0.45, 0.55) };
    /// One frame of a subtracted run (assumed: about 3 uGy at the detector).
    pub const RUN: Self = Self { quanta: Some(22_000.0), veil: 0.35, blur_px: (0.45, 0.50) };
    /// No blur, no veil, no noise.
    pub const IDEAL: Self = Self { quanta: None, veil: 0.0, blur_px: (0.0, 0.0) };
}

/// One exposure's reading: `-ln(signal / reference)` by pixel, nats.
pub type Reading = Vec<f32>;

/// A square detector with its shutter and its gain.
#[derive(Clone, Debug)]
pub struct Panel {
    /// Pixels on each edge.
    pub pixels: usize,
    mode: Detector,
    shutter: Vec<f32>,
    gain: f32,
}

impl Panel {
    /// A panel whose automatic exposure is set by `line` (nats): the mean signal over the open middle of the field.
    pub fn new(pixels: usize, mode: Detector, shutter: Shutter, line: &[f32]) -> Self {
        let shutter = shutter_mask(pixels, shutter);
        let gain = exposure(line, &shutter, pixels);
        // A coarser pixel counts more quanta, a finer one fewer.
        let quanta = mode.quanta.map(|q| q * (512.0 / pixels as f32) * (512.0 / pixels as f32));
        Self { pixels, mode: Detector { quanta, ..mode }, shutter, gain }
    }
    /// Open (1) and shut (0) parts of the field.
    pub fn shutter(&self) -> &[f32] {
        &self.shutter
    }
    /// Mean transmission that the exposure was set by.
    pub fn transmission(&self) -> f32 {
        self.gain
    }

    /// Reads the panel once.
    pub fn expose(&self, line: &[f32], stream: &mut Stream) -> Reading {
        let n = self.pixels;
        let inv = 1.0 / self.gain;
        let mut signal: Vec<f32> = line
            .iter()
            .zip(&self.shutter)
            .map(|(l, s)| exp_neg(*l) * (BLADE_LEAK + (1.0 - BLADE_LEAK) * s) * inv)
            .collect();
        blur3(&mut signal, n, self.mode.blur_px.0);
        if self.mode.veil > 0.0 {
            veil(&mut signal, n, self.mode.veil);
        }
        if let Some(q) = self.mode.quanta {
            let (gauss, per) = (Gauss::table(), 1.0 / q);
            for four in signal.chunks_mut(4) {
                for (v, g) in four.iter_mut().zip(gauss.four(stream)) {
                    let mean = (*v * q).max(0.0);
                    *v = (mean + g * mean.sqrt()).max(0.5) * per;
                }
            }
        }
        blur3(&mut signal, n, self.mode.blur_px.1);
        signal.iter_mut().for_each(|v| *v = -ln(v.max(1e-7)));
        signal
    }
}

/// What lead blades let through.
const BLADE_LEAK: f32 = 0.003;

fn shutter_mask(n: usize, s: Shutter) -> Vec<f32> {
    let edge = n as f64;
    let (x0, x1) = (s.left * edge + MARGIN * edge, edge * (1.0 - s.right - MARGIN));
    let (y0, y1) = (s.top * edge + MARGIN * edge, edge * (1.0 - s.bottom - MARGIN));
    let (cx, cy, hx, hy) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0, (x1 - x0) / 2.0, (y1 - y0) / 2.0);
    let round = CORNER * edge;
    let soft = SOFT_EDGE * edge;
    (0..n * n)
        .map(|i| {
            let (x, y) = ((i % n) as f64 + 0.5, (i / n) as f64 + 0.5);
            let (qx, qy) = (((x - cx).abs() - hx + round).max(0.0), ((y - cy).abs() - hy + round).max(0.0));
            crate::math::interp::smooth_step(soft, -soft, (qx * qx + qy * qy).sqrt() - round) as f32
        })
        .collect()
}

/// The blades' rest position, corner radius and penumbra, as fractions of the field.
const MARGIN: f64 = 0.012;
const CORNER: f64 = 0.045;
const SOFT_EDGE: f64 = 0.0028;

/// Mean transmission over the open part of the middle of the field.
fn exposure(line: &[f32], shutter: &[f32], n: usize) -> f32 {
    let h = n as f32 * 0.5;
    let (mut sum, mut count) = (0.0f64, 0.0f64);
    for y in (0..n).step_by(4) {
        for x in (0..n).step_by(4) {
            let (dx, dy) = (x as f32 - h, y as f32 - h);
            let i = y * n + x;
            if shutter[i] > 0.5 && dx * dx + dy * dy < 0.3 * h * h {
                sum += f64::from(exp_neg(line[i]));
                count += 1.0;
            }
        }
    }
    if count > 0.0 { (sum / count).max(1e-6) as f32 } else { 1.0 }
}

/// Separable three-point blur, of rows of `n`, of standard deviation `sigma` pixels: the weights that give that variance.
pub fn blur3(a: &mut [f32], n: usize, sigma: f32) {
    let w = (0.5 * sigma * sigma).min(0.32);
    if w <= 0.0 || a.is_empty() {
        return;
    }
    let c = 1.0 - 2.0 * w;
    let mut above = a[..n].to_vec();
    let mut row = vec![0.0f32; n];
    // One place more on each side, where the edge repeats.
    let mut mixed = vec![0.0f32; n + 2];
    let rows = a.len() / n;
    for y in 0..rows {
        let (head, tail) = a.split_at_mut(y * n + n);
        let here = &mut head[y * n..];
        row.copy_from_slice(here);
        let below: &[f32] = if y + 1 < rows { &tail[..n] } else { &row };
        for ((m, r), (u, d)) in mixed[1..].iter_mut().zip(&row).zip(above.iter().zip(below)) {
            *m = c * r + w * (u + d);
        }
        (mixed[0], mixed[n + 1]) = (mixed[1], mixed[n]);
        for (h, m) in here.iter_mut().zip(mixed.windows(3)) {
            *h = c * m[1] + w * (m[0] + m[2]);
        }
        std::mem::swap(&mut above, &mut row);
    }
}

/// Widths of the veil's two parts, as fractions of the field, and their weights.
const VEIL: [(f32, f32); 2] = [(0.137, 0.7), (0.051, 0.3)];
/// Cells along an edge that the veil is computed on.
const VEIL_CELLS: usize = 64;

fn veil(signal: &mut [f32], n: usize, part: f32) {
    let m = VEIL_CELLS.min(n);
    let coarse = shrink(signal, n, m);
    let mut sum = vec![0.0f32; m * m];
    for (width, weight) in VEIL {
        let b = super::picture::gaussian(&coarse, m, width * m as f32);
        sum.iter_mut().zip(&b).for_each(|(s, v)| *s += weight * v);
    }
    super::picture::enlarge_onto(&sum, m, n, |i, v| signal[i] = signal[i] * (1.0 - part) + part * v);
}

/// Mean over blocks: an `n` picture to `m`.
pub fn shrink(a: &[f32], n: usize, m: usize) -> Vec<f32> {
    // Where each block begins; the last entry is where all end.
    let edge: Vec<usize> = (0..=m).map(|k| (k * n).div_ceil(m)).collect();
    let mut out = vec![0.0f32; m * m];
    let mut line = vec![0.0f32; n];
    for (rows, out) in edge.windows(2).zip(out.chunks_mut(m)) {
        line.fill(0.0);
        for row in a[rows[0] * n..rows[1] * n].chunks(n) {
            line.iter_mut().zip(row).for_each(|(l, v)| *l += v);
        }
        for (o, columns) in out.iter_mut().zip(edge.windows(2)) {
            let block = &line[columns[0]..columns[1]];
            let count = block.len() * (rows[1] - rows[0]);
            *o = block.iter().sum::<f32>() / count.max(1) as f32;
        }
    }
    out
}
