//! How the patient moves while a picture is taken.

use super::noise::value_noise;
use super::picture::enlarge;
use super::pose::View;
use crate::math::{Vec3, interp, ops};

/// Breathing, heartbeat and table at one moment, relative to the mask or reference.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Motion {
    /// How far the diaphragm has moved towards the feet, mm.
    pub breath_mm: f64,
    /// Displacement of the heart, mm.
    pub heart_mm: Vec3,
    /// Displacement of the whole patient on the table, mm.
    pub table_mm: Vec3,
}

/// Quiet breathing of a supine adult: excursion, mm, and period, s (usual textbook values; assumed sine squared).
const BREATH_MM: f64 = 12.0;
const BREATH_S: f64 = 4.2;
/// What is left of it when a patient is told to hold, mm.
const HELD_MM: f64 = 0.25;
/// How far the heart's border travels, mm (assumed; smaller than life because a frame is gated by nothing but chance).
const HEART_MM: f64 = 1.5;
/// Part of it that is left in the pelvis (assumed).
const PELVIC: f64 = 0.1;
/// Part of the diaphragm's travel that the aorta follows.
const AORTA_FOLLOWS: f64 = 0.12;

impl Motion {
    /// At a time of a run, with the heart's phase (cycles).
    pub fn at(t_s: f64, beats: f64, breath_held: bool, table_mm: Vec3) -> Self {
        let phase = ops::sin(std::f64::consts::PI * t_s / BREATH_S);
        let breath_mm = if breath_held {
            HELD_MM * f64::from(value_noise(Vec3::new(t_s * 0.7, 3.1, 0.4)))
        } else {
            BREATH_MM * phase * phase
        };
        let beat = ops::sin(std::f64::consts::TAU * beats);
        Self { breath_mm, heart_mm: Vec3::new(0.7, -0.35, 0.62) * (HEART_MM * beat), table_mm }
    }
    /// The change since another moment.
    pub fn since(&self, other: &Self) -> Self {
        Self {
            breath_mm: self.breath_mm - other.breath_mm,
            heart_mm: self.heart_mm - other.heart_mm,
            table_mm: self.table_mm - other.table_mm,
        }
    }
    /// Displacement of the aorta and what lies in it, mm; `pulse` is how strongly it follows the beat.
    pub fn of_vessels(&self, pulse: f64) -> Vec3 {
        self.table_mm + self.heart_mm * (0.16 * pulse) - Vec3::new(0.0, 0.0, AORTA_FOLLOWS * self.breath_mm)
    }
}

/// The moving layer of a background, held at half the resolution and drawn displaced.
#[derive(Clone, Debug)]
pub struct MovingLayer {
    m: usize,
    nats: Vec<f32>,
    /// By row of the full picture: how much of the breath shows there.
    breath: Vec<f32>,
    /// By pixel of the full picture: how much of the heartbeat shows there.
    heart: Vec<f32>,
    view: View,
}

impl MovingLayer {
    /// A layer of `m` x `m` nats drawn onto `view`; `heart` is the heart's middle. From the first to the second height of
    /// `breathes_mm` breathing grows from nothing to all, from the third to the fourth it fades again.
    pub fn new(nats: Vec<f32>, m: usize, view: View, heart: Vec3, breathes_mm: [f64; 4]) -> Self {
        let [top, full, fades, low] = breathes_mm;
        let n = view.pixels;
        let mm = view.pixel_at_isocentre_mm();
        let iso_z = (view.source + view.axis * view.sod_mm).z;
        let height = |row: f64| iso_z - view.up.z * (row - (n as f64 - 1.0) / 2.0) * mm;
        let moves = |z: f64| {
            interp::smooth_step(top, full, z) * (1.0 - (1.0 - PELVIC) * interp::smooth_step(fades, low, z))
        };
        let breath = (0..n).map(|y| moves(height(y as f64)) as f32).collect();
        let coarse = view.resampled(m);
        let (hx, hy, _) = coarse.project(heart);
        let px = coarse.pixel_at_isocentre_mm();
        let heart: Vec<f32> = (0..m * m)
            .map(|i| {
                let (dx, dy) = ((i % m) as f64 - hx, (i / m) as f64 - hy);
                interp::smooth_step(95.0, 35.0, (dx * dx + dy * dy).sqrt() * px) as f32
            })
            .collect();
        Self { m, nats, breath, heart: enlarge(&heart, m, n), view }
    }

    /// Adds the layer to a picture.
    pub fn add_to(&self, out: &mut [f32], motion: &Motion) {
        let n = self.view.pixels;
        if *motion == Motion::default() {
            super::picture::enlarge_onto(&self.nats, self.m, n, |i, v| out[i] += v);
            return;
        }
        let (bx, by) = self.view.shift_px(Vec3::new(0.0, 0.25, -1.0) * motion.breath_mm);
        let (hx, hy) = self.view.shift_px(motion.heart_mm);
        let (tx, ty) = self.view.shift_px(motion.table_mm);
        let ratio = self.m as f32 / n as f32;
        let last = self.m as f32 - 1.001;
        let m = self.m;
        for y in 0..n {
            let w = self.breath[y];
            let (rx, ry) = (bx as f32 * w + tx as f32, by as f32 * w + ty as f32);
            for x in 0..n {
                let h = self.heart[y * n + x];
                let fx = ((x as f32 - rx - hx as f32 * h + 0.5) * ratio - 0.5).clamp(0.0, last);
                let fy = ((y as f32 - ry - hy as f32 * h + 0.5) * ratio - 0.5).clamp(0.0, last);
                let (i, j) = (fx as usize, fy as usize);
                let (u, v) = (fx - i as f32, fy - j as f32);
                let k = j * m + i;
                let p = self.nats[k] + (self.nats[k + 1] - self.nats[k]) * u;
                let q = self.nats[k + m] + (self.nats[k + m + 1] - self.nats[k + m]) * u;
                out[y * n + x] += p + (q - p) * v;
            }
        }
    }
}
