//! Smooth random fields and fast Gaussian draws, the same on every machine.

use crate::math::rng::Stream;
use crate::math::{Vec3, ops};
use std::sync::OnceLock;

/// Smooth noise in [-1, 1] with features one unit across: random values on a whole-number grid, blended with flat ends.
pub fn value_noise(p: Vec3) -> f32 {
    let split = |x: f64| {
        // The whole number below, without a call.
        let i = x as i64 - i64::from(x < (x as i64) as f64);
        let t = (x - i as f64) as f32;
        (i as u32, t * t * (3.0 - 2.0 * t))
    };
    let ((i, a), (j, b), (k, c)) = (split(p.x), split(p.y), split(p.z));
    let mix = |s: f32, t: f32, u: f32| s + (t - s) * u;
    let line = |j: u32, k: u32| mix(corner(i, j, k), corner(i.wrapping_add(1), j, k), a);
    let (j1, k1) = (j.wrapping_add(1), k.wrapping_add(1));
    mix(mix(line(j, k), line(j1, k), b), mix(line(j, k1), line(j1, k1), b), c)
}

fn corner(i: u32, j: u32, k: u32) -> f32 {
    let h = scramble(i.wrapping_mul(73_856_093) ^ j.wrapping_mul(19_349_663) ^ k.wrapping_mul(83_492_791));
    (h & 0xffff) as f32 / 32768.0 - 1.0
}

/// A whole-number hash with good avalanche.
pub fn scramble(mut x: u32) -> u32 {
    x ^= x >> 16;
    x = x.wrapping_mul(0x7feb_352d);
    x ^= x >> 15;
    x = x.wrapping_mul(0x846c_a68b);
    x ^ (x >> 16)
}

/// A number in [-1, 1] from a label and a part of it.
pub fn quirk(label: u32, part: u32) -> f64 {
    f64::from(scramble(label.wrapping_mul(31).wrapping_add(part)) & 0xffff) / 32768.0 - 1.0
}

/// Normal deviates by the method of Box and Muller (Ann. Math. Stat. 29:610, 1958) with its radius and its angle from tables
/// small enough to stay near the processor: one 64-bit draw of a stream gives four.
#[derive(Debug)]
pub struct Gauss {
    radius: [f32; RADII],
    /// Cosines of one turn and a quarter: a sine is the cosine a quarter before.
    turn: [f32; TURN + TURN / 4],
}

const RADII: usize = 4096;
const TURN: usize = 1024;

impl Gauss {
    /// The table, always the same one, scaled so that its variance is one.
    pub fn table() -> &'static Self {
        static TABLE: OnceLock<Gauss> = OnceLock::new();
        TABLE.get_or_init(|| {
            let square = |i: usize| -2.0 * ops::ln((i as f64 + 0.5) / RADII as f64);
            let mean = (0..RADII).map(square).sum::<f64>() / RADII as f64;
            let angle = |i: usize| std::f64::consts::TAU * (i as f64 + 0.5) / TURN as f64;
            Self {
                radius: std::array::from_fn(|i| (square(i) * 2.0 / mean).sqrt() as f32),
                turn: std::array::from_fn(|i| ops::cos(angle(i)) as f32),
            }
        })
    }
    /// Four deviates.
    pub fn four(&self, stream: &mut Stream) -> [f32; 4] {
        let bits = stream.bits();
        let ([a, b], [c, d]) = (self.pair(bits as u32), self.pair((bits >> 32) as u32));
        [a, b, c, d]
    }
    fn pair(&self, bits: u32) -> [f32; 2] {
        let r = self.radius[bits as usize % RADII];
        let at = (bits >> 12) as usize % TURN;
        [r * self.turn[at], r * self.turn[at + TURN / 4]]
    }
}
