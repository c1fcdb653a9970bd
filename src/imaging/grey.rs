//! What the monitor shows: readings turned to 8-bit grey, as an angiography room's wall does.

use super::ImagingError;
use super::detector::{blur3, shrink};
use super::fast::{exp_neg, grey};
use super::lettering;
use super::picture::{enlarge, gaussian, percentile};

/// An 8-bit grey picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grey {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Row by row from the top.
    pub pixels: Vec<u8>,
}

/// The line that every exported picture carries.
pub const CAPTION: &str = "SIMULATED, TRAINING ONLY";

impl Grey {
    /// A black picture.
    pub fn black(width: usize, height: usize) -> Self {
        Self { width, height, pixels: vec![0; width * height] }
    }
    /// The picture with the training-only line burned into its lower edge.
    pub fn captioned(mut self) -> Self {
        let scale = (self.width / 512).max(1);
        let (w, h) = lettering::size(CAPTION, scale);
        let at = (self.width.saturating_sub(w) / 2, self.height.saturating_sub(h + 3 * scale));
        // On a plate of its own: it must be read on whatever lies under it.
        let pad = 2 * scale;
        for y in at.1.saturating_sub(pad)..(at.1 + h + pad).min(self.height) {
            let row = y * self.width;
            self.pixels[row + at.0.saturating_sub(pad)..row + (at.0 + w + pad).min(self.width)].fill(12);
        }
        lettering::write(&mut self, at, CAPTION, scale, 215);
        self
    }
    /// The picture with a label whose middle lies at a place.
    pub fn labelled(mut self, at: (f64, f64), text: &str, grey: u8) -> Self {
        let scale = (self.width / 400).max(1);
        let (w, h) = lettering::size(text, scale);
        let clamp = |v: f64, most: usize| v.max(0.0).min(most as f64) as usize;
        let x = clamp(at.0 - w as f64 / 2.0, self.width.saturating_sub(w));
        let y = clamp(at.1 - h as f64 / 2.0, self.height.saturating_sub(h));
        lettering::write(&mut self, (x, y), text, scale, grey);
        self
    }
    /// The picture at a `by`th of its size, each pixel the mean of those that it stands for.
    pub fn smaller(&self, by: usize) -> Self {
        let by = by.max(1);
        let mut out = Self::black(self.width / by, self.height / by);
        let many = (by * by) as u32;
        for y in 0..out.height {
            for x in 0..out.width {
                let rows = (y * by..(y + 1) * by).map(|row| row * self.width + x * by);
                let sum: u32 = rows.flat_map(|at| &self.pixels[at..at + by]).map(|p| u32::from(*p)).sum();
                out.pixels[y * out.width + x] = ((sum + many / 2) / many) as u8;
            }
        }
        out
    }
    /// Several pictures of one size side by side in rows of `columns`.
    pub fn sheet(pictures: &[Self], columns: usize) -> Self {
        let (w, h) = pictures.first().map_or((0, 0), |p| (p.width, p.height));
        let columns = columns.clamp(1, pictures.len().max(1));
        let mut out = Self::black(w * columns, h * pictures.len().div_ceil(columns));
        for (k, p) in pictures.iter().enumerate() {
            let (x0, y0) = ((k % columns) * w, (k / columns) * h);
            for y in 0..p.height.min(h) {
                let to = (y0 + y) * out.width + x0;
                let n = p.width.min(w);
                out.pixels[to..to + n].copy_from_slice(&p.pixels[y * p.width..y * p.width + n]);
            }
        }
        out
    }
    /// PNG with the training-only line as its description. The picture itself should be [`Self::captioned`] first.
    pub fn png(&self) -> Result<Vec<u8>, ImagingError> {
        let fail = |e: png::EncodingError| ImagingError::Encoding(e.to_string());
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, self.width as u32, self.height as u32);
        encoder.set_color(png::ColorType::Grayscale);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.add_text_chunk("Description".into(), CAPTION.into()).map_err(fail)?;
        let mut writer = encoder.write_header().map_err(fail)?;
        writer.write_image_data(&self.pixels).map_err(fail)?;
        writer.finish().map_err(fail)?;
        Ok(bytes)
    }
    /// An animated PNG of pictures of one size, each shown for `1 / fps` seconds, looping for ever.
    pub fn animated_png(frames: &[Self], fps: f64) -> Result<Vec<u8>, ImagingError> {
        let fail = |e: png::EncodingError| ImagingError::Encoding(e.to_string());
        let Some(first) = frames.first() else {
            return Err(ImagingError::Encoding("the run has no frames".into()));
        };
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, first.width as u32, first.height as u32);
        encoder.set_color(png::ColorType::Grayscale);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.add_text_chunk("Description".into(), CAPTION.into()).map_err(fail)?;
        encoder.set_animated(frames.len() as u32, 0).map_err(fail)?;
        encoder.set_frame_delay((1000.0 / fps.clamp(0.1, 60.0)).round() as u16, 1000).map_err(fail)?;
        let mut writer = encoder.write_header().map_err(fail)?;
        for f in frames {
            writer.write_image_data(&f.pixels).map_err(fail)?;
        }
        writer.finish().map_err(fail)?;
        Ok(bytes)
    }
}

/// How a subtracted picture is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SubtractionDisplay {
    /// Nats from background to black.
    pub window_nats: f32,
    /// Grey of the background, 0 to 1.
    pub background: f32,
    /// Strength of edge enhancement.
    pub edge: f32,
}

impl Default for SubtractionDisplay {
    fn default() -> Self {
        Self { window_nats: 1.05, background: 0.80, edge: 0.6 }
    }
}

impl SubtractionDisplay {
    /// Shows a subtraction (nats of contrast; vessels dark).
    pub fn show(&self, nats: &[f32], n: usize, shutter: &[f32]) -> Grey {
        let (fine, broad) = two_blurs(nats, n, 1.2, 3.5);
        let pixels = nats
            .iter()
            .zip(fine.iter().zip(&broad))
            .zip(shutter)
            .map(|((v, (f, b)), s)| {
                let e = v + self.edge * (0.25 * (v - f) + 0.9 * (f - b));
                let t = e / self.window_nats;
                // A soft knee towards black keeps structure in the densest vessel.
                let knee = 0.65 + 0.35 * (1.0 - exp_neg((t - 0.65) / 0.35));
                let t = if t > 0.65 { knee } else { t };
                grey((self.background * (1.0 - t)).clamp(0.0, 1.0) * 255.0 * s)
            })
            .collect();
        Grey { width: n, height: n, pixels }
    }
}

/// How a native (unsubtracted) picture is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NativeDisplay {
    /// Part of the slow variation that is taken out.
    pub compression: f32,
    /// Strength of edge enhancement.
    pub edge: f32,
}

impl Default for NativeDisplay {
    fn default() -> Self {
        Self { compression: 0.55, edge: 1.1 }
    }
}

impl NativeDisplay {
    /// Shows a reading: dense dark, windowed on what is neither raw air nor shuttered.
    pub fn show(&self, nats: &[f32], n: usize, shutter: &[f32]) -> Grey {
        let open = |i: usize| shutter[i] > 0.9;
        let median = percentile(nats, 0.5, open);
        let slow = lowpass(nats, shutter, n);
        let middle = percentile(&slow, 0.5, open);
        let mut even: Vec<f32> =
            nats.iter().zip(&slow).map(|(v, s)| v - self.compression * (s - middle)).collect();
        let (fine, broad) = two_blurs(&even, n, 1.4, 4.5);
        for (v, (f, b)) in even.iter_mut().zip(fine.iter().zip(&broad)) {
            *v += self.edge * (0.45 * (*v - f).clamp(-0.5, 0.5) + (f - b).clamp(-0.4, 0.4));
        }
        let tissue = |i: usize| open(i) && nats[i] > median - 1.4;
        let (lo, hi) = (percentile(&even, 0.012, tissue), percentile(&even, 0.992, tissue) + 0.10);
        let lo = lo - 0.10 * (hi - lo);
        let span = (hi - lo).max(0.05);
        let pixels = even
            .iter()
            .zip(shutter)
            .map(|(v, s)| {
                let g = (1.0 - (v - lo) / span).clamp(0.0, 1.0);
                let g = 0.55 * g + 0.45 * g * g * (3.0 - 2.0 * g);
                grey((12.0 + 228.0 * g) * s)
            })
            .collect();
        Grey { width: n, height: n, pixels }
    }
}

/// Two Gaussian blurs, the wider made from the narrower on half the pixels.
fn two_blurs(a: &[f32], n: usize, fine: f32, broad: f32) -> (Vec<f32>, Vec<f32>) {
    let f = small_gaussian(a, n, fine);
    let m = n / 2;
    let coarse = shrink(&f, n, m);
    let left = (broad * broad - fine * fine).max(0.0).sqrt() / 2.0;
    let b = enlarge(&small_gaussian(&coarse, m, left), m, n);
    (f, b)
}

/// A Gaussian blur of up to some two pixels as repeated three-point blurs.
fn small_gaussian(a: &[f32], n: usize, sigma: f32) -> Vec<f32> {
    let mut out = a.to_vec();
    let mut left = sigma * sigma;
    while left > 1e-4 {
        let part = left.min(0.6);
        blur3(&mut out, n, part.sqrt());
        left -= part;
    }
    out
}

/// Width of the slow variation as a fraction of the field.
const SLOW: f32 = 0.066;
const SLOW_CELLS: usize = 64;

/// The slow variation, blind to shuttered pixels.
fn lowpass(a: &[f32], shutter: &[f32], n: usize) -> Vec<f32> {
    let m = SLOW_CELLS.min(n);
    let seen: Vec<f32> = a.iter().zip(shutter).map(|(v, s)| v * s).collect();
    let sigma = SLOW * m as f32;
    let top = gaussian(&shrink(&seen, n, m), m, sigma);
    let bottom = gaussian(&shrink(shutter, n, m), m, sigma);
    let ratio: Vec<f32> = top.iter().zip(&bottom).map(|(t, b)| t / b.max(1e-3)).collect();
    enlarge(&ratio, m, n)
}
