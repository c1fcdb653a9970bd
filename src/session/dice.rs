//! Other dice: until the first die is cast, every seed has the same past.

use super::event::EventKind;
use super::log::Line;
use super::{Session, Story};
use crate::math::Streams;

impl Session {
    /// This moment with the dice of another seed, as if it had been so from the start. None once chance has had a say: a risk was
    /// drawn, or a graft lies in the patient, whose folds and wall are drawn too.
    pub fn with_seed(&self, seed: u64) -> Option<Self> {
        let cast = |kind: &EventKind| matches!(kind, EventKind::Risk { .. } | EventKind::Placed(_));
        if !self.world.seal.pieces.is_empty() || self.events.iter().any(|e| cast(&e.kind)) {
            return None;
        }
        let mut other = self.clone();
        let streams = Streams::new(seed);
        other.seed = seed;
        other.story.reseed(streams);
        other.world.reseed(&streams);
        if let Some(Line::Head(head)) = other.outbox.first_mut() {
            head.seed = seed;
        }
        Some(other)
    }
}

impl Story {
    fn reseed(&mut self, streams: Streams) {
        self.streams = streams;
        self.chances.clear();
    }
}
