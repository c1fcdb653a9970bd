//! The fingerprint of a session: equal on every platform and in every build, or the promise is broken.

use super::Session;
use std::fmt;

/// Sizes beside digests, because a size alone often tells where a difference lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Golden {
    /// Bytes of the event sequence as JSON lines.
    pub event_bytes: usize,
    /// BLAKE3 of it.
    pub events: String,
    /// Number of sampled values.
    pub values: usize,
    /// BLAKE3 of their bits, little-endian.
    pub samples: String,
}

impl Golden {
    /// Of all that a session has recorded.
    pub fn of(session: &Session) -> Self {
        let mut events = blake3::Hasher::new();
        let mut event_bytes = 0;
        for event in session.events() {
            let line = serde_json::to_string(event).unwrap_or_default();
            events.update(line.as_bytes());
            events.update(b"\n");
            event_bytes += line.len() + 1;
        }
        let mut samples = blake3::Hasher::new();
        let mut values = 0;
        for row in session.trace() {
            samples.update(&row.at.0.to_le_bytes());
            for v in &row.values {
                samples.update(&v.to_bits().to_le_bytes());
                values += 1;
            }
        }
        Self { event_bytes, events: short(&events), values, samples: short(&samples) }
    }
}

fn short(h: &blake3::Hasher) -> String {
    h.finalize().to_hex().as_str()[..32].to_string()
}

impl fmt::Display for Golden {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {} {} {}", self.event_bytes, self.events, self.values, self.samples)
    }
}
