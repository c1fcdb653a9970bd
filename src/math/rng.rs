//! Chance with names: one ChaCha8 stream for each concern, and our own draws on it.
//!
//! `rand` does not promise that its distributions give the same values across versions, so the draws are ours.
//! A stream is found by name, never by order of use: adding a draw to one concern moves no other.

use super::ops;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A session's seed, from which every named stream is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Streams {
    seed: u64,
}

impl Streams {
    /// All streams of one seed.
    pub fn new(seed: u64) -> Self {
        Self { seed }
    }

    /// The stream for one concern, always from its start.
    pub fn named(&self, name: &str) -> Stream {
        let mut key = [0u8; 32];
        key[..8].copy_from_slice(&self.seed.to_le_bytes());
        let mut rng = ChaCha8Rng::from_seed(key);
        let hash = blake3::hash(name.as_bytes());
        let mut id = [0u8; 8];
        id.copy_from_slice(&hash.as_bytes()[..8]);
        rng.set_stream(u64::from_le_bytes(id));
        Stream { rng }
    }
}

/// One named sequence of draws.
#[derive(Clone, Debug)]
pub struct Stream {
    rng: ChaCha8Rng,
}

impl Stream {
    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.rng.next_u64()
    }
    /// Uniform in [0, 1), on the grid of 2^-53.
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
    }
    /// Uniform in [`lo`, `hi`).
    pub fn range(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * self.uniform()
    }
    /// Whole number below `n`, without bias; 0 when `n` is 0.
    pub fn below(&mut self, n: u32) -> u32 {
        if n == 0 {
            return 0;
        }
        // Lemire's rejection (ACM TOMACS 29:3, 2019).
        let threshold = n.wrapping_neg() % n;
        loop {
            let m = u64::from((self.bits() >> 32) as u32) * u64::from(n);
            if m as u32 >= threshold {
                return (m >> 32) as u32;
            }
        }
    }
    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.uniform() < p
    }
    /// Normal with mean 0 and standard deviation 1 (Box-Muller, one of the pair: no state is kept between draws).
    pub fn normal(&mut self) -> f64 {
        let u = 1.0 - self.uniform();
        let v = self.uniform();
        (-2.0 * ops::ln(u)).sqrt() * ops::cos(std::f64::consts::TAU * v)
    }
    /// Exponential with mean 1.
    pub fn exponential(&mut self) -> f64 {
        -ops::ln(1.0 - self.uniform())
    }
    /// Poisson with mean `lambda`: exact inversion below 30, a rounded normal above.
    pub fn poisson(&mut self, lambda: f64) -> u32 {
        if lambda > 30.0 {
            return (lambda + lambda.sqrt() * self.normal()).round().max(0.0) as u32;
        }
        let (mut p, mut k) = (ops::exp(-lambda), 0);
        let mut u = self.uniform();
        while u > p && k < 200 {
            u -= p;
            k += 1;
            p *= lambda / f64::from(k);
        }
        k
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha20Rng;

    /// RFC 8439, section 2.3.2 (block function) uses a nonce and counter that the 64-bit layout reaches as below;
    /// appendix A.1, test vector 1 is the all-zero key. Same core as ChaCha8, more rounds.
    #[test]
    fn chacha_is_the_published_one() {
        let mut rng = ChaCha20Rng::from_seed([0; 32]);
        let mut out = [0u8; 16];
        rng.fill_bytes(&mut out);
        assert_eq!(
            out,
            [0x76, 0xb8, 0xe0, 0xad, 0xa0, 0xf1, 0x3d, 0x90, 0x40, 0x5d, 0x6a, 0xe5, 0x53, 0x86, 0xbd, 0x28]
        );
        // Section 2.3.2: key 00..1f, block counter 1, nonce 000000090000004a00000000.
        let mut key = [0u8; 32];
        for (i, b) in key.iter_mut().enumerate() {
            *b = i as u8;
        }
        let mut rng = ChaCha20Rng::from_seed(key);
        // Words 12..16 are counter (64 bits) and stream (64 bits): 1 | 0x09000000 << 32, then 0x4a000000.
        rng.set_stream(0x0000_0000_4a00_0000);
        rng.set_word_pos(u128::from(0x0900_0000_0000_0001u64) * 16);
        let mut out = [0u8; 16];
        rng.fill_bytes(&mut out);
        assert_eq!(
            out,
            [0x10, 0xf1, 0xe7, 0xe4, 0xd1, 0x3b, 0x59, 0x15, 0x50, 0x0f, 0xdd, 0x1f, 0xa3, 0x20, 0x71, 0xc4]
        );
    }

    /// Moments against their closed forms; five standard errors.
    #[test]
    fn draws_have_the_right_moments() {
        let mut s = Streams::new(7).named("test");
        let n = 200_000;
        let (mut u, mut z, mut z2, mut e, mut p) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for _ in 0..n {
            u += s.uniform();
            let x = s.normal();
            z += x;
            z2 += x * x;
            e += s.exponential();
            p += f64::from(s.poisson(3.0));
        }
        let n = f64::from(n);
        let close = |got: f64, want: f64, sd: f64| (got / n - want).abs() < 5.0 * sd / n.sqrt();
        assert!(close(u, 0.5, 0.2887) && close(z, 0.0, 1.0) && close(z2, 1.0, 1.414));
        assert!(close(e, 1.0, 1.0) && close(p, 3.0, 1.732));
    }

    #[test]
    fn streams_are_independent_of_order() {
        let s = Streams::new(42);
        let a = s.named("leak").bits();
        let _ = s.named("other").bits();
        assert_eq!(a, s.named("leak").bits());
        assert_ne!(a, s.named("Leak").bits());
        assert_ne!(a, Streams::new(43).named("leak").bits());
    }
}
