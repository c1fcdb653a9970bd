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
    gauss: Gauss,
}

impl Panel {
    /// A panel whose automatic exposure is set by `line` (nats): the mean signal over the open middle of the field.
    pub fn new(pixels: usize, mode: Detector, shutter: Shutter, line: &[f32]) -> Self {
        let shutter = shutter_mask(pixels, shutter);
        let gain = exposure(line, &shutter, pixels);
        // A coarser pixel counts more quanta, a finer one fewer.
        let quanta = mode.quanta.map(|q| q * (512.0 / pixels as f32) * (512.0 / pixels as f32));
        Self { pixels, mode: Detector { quanta, ..mode }, shutter, gain, gauss: Gauss::new() }
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
            for four in signal.chunks_mut(4) {
                for (v, g) in four.iter_mut().zip(self.gauss.four(stream)) {
                    let mean = *v * q;
                    *v = (mean + g * mean.max(0.0).sqrt()).max(0.5) / q;
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
    if w <= 0.0 {
        return;
    }
    let c = 1.0 - 2.0 * w;
    let mut above = vec![0.0f32; n];
    let mut row = vec![0.0f32; n];
    let rows = a.len() / n;
    for y in 0..rows {
        let (head, tail) = a.split_at_mut(y * n + n);
        let here = &mut head[y * n..];
        row.copy_from_slice(here);
        if y == 0 {
            above.copy_from_slice(&row);
        }
        let below: &[f32] = if y + 1 < rows { &tail[..n] } else { &row };
        for x in 0..n {
            here[x] = c * row[x] + w * (above[x] + below[x]);
        }
        above.copy_from_slice(&row);
    }
    for line in a.chunks_mut(n) {
        let mut left = line[0];
        for x in 0..line.len() - 1 {
            let here = line[x];
            line[x] = c * here + w * (left + line[x + 1]);
            left = here;
        }
        line[n - 1] = c * line[n - 1] + w * (left + line[n - 1]);
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

/// Mean over blocks.
pub fn shrink(a: &[f32], n: usize, m: usize) -> Vec<f32> {
    let mut out = vec![0.0f32; m * m];
    let mut count = vec![0.0f32; m * m];
    for y in 0..n {
        let row = (y * m / n) * m;
        for x in 0..n {
            let k = row + x * m / n;
            out[k] += a[y * n + x];
            count[k] += 1.0;
        }
    }
    out.iter_mut().zip(&count).for_each(|(v, c)| *v /= c.max(1.0));
    out
}
