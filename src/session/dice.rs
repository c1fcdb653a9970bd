//! Dice: every throw has a name, is made once and has few sides, and what fell is kept.
//!
//! So two seeds whose dice fell alike so far have had the same session, and [`Session::with_seed`] can tell. That is why nothing that
//! acts is drawn finer than in eighths: a wall in one of eight ways, a size in the middle of one of eight equal parts of its range.

use super::Session;
use super::log::Line;
use crate::math::Streams;

/// In how many ways something falls that is not a yes or no.
pub const SIDES: u32 = 8;

#[derive(Clone, Copy, Debug)]
enum Die {
    /// Falls on 1 with this probability, else on 0.
    Chance(f64),
    /// Falls on each of [`SIDES`] alike.
    Even,
}

impl Die {
    fn fall(self, streams: Streams, name: &str) -> u32 {
        let mut stream = streams.named(name);
        match self {
            Self::Chance(p) => u32::from(stream.chance(p)),
            Self::Even => stream.below(SIDES),
        }
    }
}

#[derive(Clone, Debug)]
struct Throw {
    name: String,
    die: Die,
    fell: u32,
}

/// A seed's dice, with what was thrown so far.
#[derive(Clone, Debug)]
pub struct Dice {
    streams: Streams,
    thrown: Vec<Throw>,
}

impl Dice {
    /// Of a seed; nothing thrown yet.
    pub fn new(seed: u64) -> Self {
        Self { streams: Streams::new(seed), thrown: Vec::new() }
    }

    /// Yes with probability `p`.
    pub fn chance(&mut self, name: String, p: f64) -> bool {
        self.throw(name, Die::Chance(p)) == 1
    }

    /// One of [`SIDES`], from 0.
    pub fn side(&mut self, name: String) -> u32 {
        self.throw(name, Die::Even)
    }

    /// In a range, by an even die.
    pub fn range(&mut self, name: String, low: f64, high: f64) -> f64 {
        low + (high - low) * middle(self.side(name))
    }

    /// What [`Self::side`] will bring, without throwing.
    pub fn foreseen(&self, name: &str) -> u32 {
        Die::Even.fall(self.streams, name)
    }

    fn throw(&mut self, name: String, die: Die) -> u32 {
        let fell = die.fall(self.streams, &name);
        self.thrown.push(Throw { name, die, fell });
        fell
    }

    /// The first throw from the n-th on that falls otherwise with another seed, and how it falls then.
    fn unlike(&self, seed: u64, from: usize) -> Option<(usize, u32)> {
        let other = Streams::new(seed);
        let mut throws = self.thrown.iter().enumerate().skip(from);
        throws.find_map(|(i, t)| {
            let fell = t.die.fall(other, &t.name);
            (fell != t.fell).then_some((i, fell))
        })
    }
}

/// The middle of a side of an even die, 0 to 1.
pub fn middle(side: u32) -> f64 {
    (f64::from(side) + 0.5) / f64::from(SIDES)
}

/// How many dice were thrown: the world's and the story's.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Thrown {
    world: usize,
    story: usize,
}

/// Where the way of another seed parts from a session's: the throw, and how it falls there.
pub type Parting = (bool, usize, u32);

impl Session {
    /// How many dice were thrown so far.
    pub fn thrown(&self) -> Thrown {
        Thrown { world: self.world.dice.thrown.len(), story: self.story.dice.thrown.len() }
    }

    /// Where another seed's dice part from this session's, of those thrown since `from`; none while they fall alike.
    pub fn parting(&self, seed: u64, from: Thrown) -> Option<Parting> {
        let world = self.world.dice.unlike(seed, from.world).map(|(i, fell)| (false, i, fell));
        world.or_else(|| self.story.dice.unlike(seed, from.story).map(|(i, fell)| (true, i, fell)))
    }

    /// This moment with the dice of another seed, as if it had been so from the start; none when those fell otherwise.
    pub fn with_seed(&self, seed: u64) -> Option<Self> {
        if self.parting(seed, Thrown::default()).is_some() {
            return None;
        }
        let mut other = self.clone();
        other.reseed(seed);
        Some(other)
    }

    fn reseed(&mut self, seed: u64) {
        self.seed = seed;
        let streams = Streams::new(seed);
        self.world.dice.streams = streams;
        self.story.dice.streams = streams;
        if let Some(Line::Head(head)) = self.outbox.first_mut() {
            head.seed = seed;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seeds_part_at_the_first_throw_that_falls_otherwise() {
        let mut dice = Dice::new(1);
        let fell: Vec<u32> = (0..4).map(|i| dice.side(format!("d{i}"))).collect();
        let rare = dice.chance("rare".into(), 1e-4);
        for seed in 2..400 {
            let mut other = Dice::new(seed);
            let theirs: Vec<u32> = (0..4).map(|i| other.side(format!("d{i}"))).collect();
            let theirs_rare = other.chance("rare".into(), 1e-4);
            let first = (0..4).find(|&i| theirs[i] != fell[i]).map(|i| (i, theirs[i]));
            let last = (theirs_rare != rare).then_some((4, u32::from(theirs_rare)));
            assert_eq!(dice.unlike(seed, 0), first.or(last));
            assert_eq!(dice.unlike(seed, 4), last);
        }
    }

    /// Mean 1/2, variance that of the middles: (1 - 1/64)/12. Five standard errors.
    #[test]
    fn a_range_is_met_evenly() {
        let n = 20_000;
        let all: Vec<f64> = (0..n).map(|seed| Dice::new(seed).range("x".into(), 2.0, 4.0)).collect();
        let mean = all.iter().sum::<f64>() / n as f64;
        let var = all.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n as f64;
        let sd = (4.0 * (1.0 - 1.0 / 64.0) / 12.0_f64).sqrt();
        assert!((mean - 3.0).abs() < 5.0 * sd / (n as f64).sqrt() && (var / (sd * sd) - 1.0).abs() < 0.05);
    }
}
