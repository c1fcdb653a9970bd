//! Smooth random fields and fast Gaussian draws, the same on every machine.

use crate::math::rng::Stream;
use crate::math::{Streams, Vec3};

/// Smooth noise in [-1, 1] with features one unit across: random values on a whole-number grid, blended with flat ends.
pub fn value_noise(p: Vec3) -> f32 {
    let split = |x: f64| {
        let i = x.floor();
        let t = (x - i) as f32;
        (i as i64 as u32, t * t * (3.0 - 2.0 * t))
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

/// Normal deviates from a table: one 64-bit draw of a stream gives four.
#[derive(Clone, Debug)]
pub struct Gauss {
    table: Vec<f32>,
}

impl Gauss {
    /// The table, always the same one: 65536 quantile-like draws whose mean is taken out and whose variance is one.
    pub fn new() -> Self {
        let mut stream = Streams::new(0).named("imaging/gauss-table");
        let mut draws: Vec<f64> = (0..32768).map(|_| stream.normal()).collect();
        let power = draws.iter().map(|z| z * z).sum::<f64>() / draws.len() as f64;
        let scale = 1.0 / power.sqrt();
        draws.iter_mut().for_each(|z| *z *= scale);
        let table = draws.iter().flat_map(|&z| [z as f32, -z as f32]).collect();
        Self { table }
    }
    /// Four deviates.
    pub fn four(&self, stream: &mut Stream) -> [f32; 4] {
        let b = stream.bits();
        [0, 16, 32, 48].map(|k| self.table[((b >> k) & 0xffff) as usize])
    }
}

impl Default for Gauss {
    fn default() -> Self {
        Self::new()
    }
}
