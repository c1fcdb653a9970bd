//! The long step: the pulse is sampled, the slow life runs on.
//!
//! A burst of the 1 kHz model over about one breath finds the beat. Its means are then held while fluids, organs, drugs, heat
//! and holes run on in whole seconds, by the same code as in the short step; blood that is lost meanwhile comes out of the veins.
//! A leap ends when something that the beat depends on has moved, or when the case changes something; while nothing moves, leaps
//! grow to minutes and outlive the call.

use super::Circulation;
use super::body::{Body, Means};
use super::drugs::Effects;

/// A coarse patient who loses less than this is not bleeding as far as leaps go, ml/s (assumed).
const BLEEDS_ML_S: f64 = 0.2;
/// Blood that a bleeding one may lose in the theatre before the pulse is looked at again, ml: a quarter of a mmHg of mean pressure
/// (assumed; with 12 mL a torn descending aorta loses a tenth more by its repair).
const LOSES_ML: f64 = 6.0;
/// Changes of openings that a coarse patient is held over until they add up to this part of one (assumed).
const RESHAPES: f64 = 0.05;
/// Means are taken this often within a burst, ms.
const LOOK_MS: u64 = 100;

/// How far a leap may reach.
#[derive(Clone, Copy, Debug)]
struct Reach {
    /// First leap after a change, s.
    first_s: f64,
    /// Longest leap, s.
    leap_s: f64,
    /// How much longer a leap may be than the last one.
    growth: f64,
    /// Blood that may move within one, ml.
    moves_ml: f64,
    /// Drugs' effects that may come or go within one, parts of the strongest.
    drugs: f64,
    /// Seconds of the slow life that are taken at once.
    at_once_s: u32,
    /// Burst after a leap that moved blood, ms: nerves and veins take some 20 s to follow.
    follow_ms: u64,
    /// Slowest breath that a burst waits for, /min.
    breath_per_min: f64,
}

const FINE: Reach = Reach {
    first_s: 8.0,
    leap_s: 240.0,
    growth: 1.7,
    moves_ml: 12.0,
    drugs: 0.03,
    at_once_s: 1,
    follow_ms: 8_000,
    breath_per_min: 12.0,
};
/// For sweeps of a thousand patients (assumed); the sweeps' tests hold it to the endings of the fine one.
const COARSE: Reach = Reach {
    first_s: 20.0,
    leap_s: 7200.0,
    growth: 3.0,
    moves_ml: 120.0,
    drugs: 0.06,
    at_once_s: 5,
    follow_ms: 5_000,
    breath_per_min: 20.0,
};

/// What is held, and for how long.
#[derive(Clone, Debug)]
pub(super) struct Hold {
    reach: Reach,
    /// Seconds for which the means may still be held.
    left_s: f64,
    /// Length of the last leap that was allowed, s.
    allowed_s: f64,
    /// Blood moved since the last burst, ml.
    moved_ml: f64,
    /// Parts by which openings have changed since the last burst, added up.
    reshaped: f64,
    /// Mean pressure and rate of the last burst.
    map_mmhg: f64,
    rate_bpm: f64,
    /// Drugs' effects and flow out of all holes at the last burst.
    effects: Effects,
    bleeds_ml_s: f64,
    /// The burst that is being walked.
    burst: Burst,
    /// Milliseconds that a coarse patient has still to be followed.
    owed_ms: u64,
}

/// What a burst has seen so far, added up.
#[derive(Clone, Debug)]
struct Burst {
    looks: u32,
    sum: Means,
    map_mmhg: f64,
    rate_bpm: f64,
}

impl Default for Burst {
    fn default() -> Self {
        let sum = Means {
            p: [0.0; super::network::NODES],
            pipe: [0.0; super::network::PIPES],
            link: [0.0; super::network::LINKS],
            output_ml_s: 0.0,
        };
        Self { looks: 0, sum, map_mmhg: 0.0, rate_bpm: 0.0 }
    }
}

impl Default for Hold {
    fn default() -> Self {
        Self {
            reach: FINE,
            left_s: 0.0,
            allowed_s: FINE.first_s,
            moved_ml: 0.0,
            reshaped: 0.0,
            map_mmhg: 0.0,
            rate_bpm: 0.0,
            effects: Effects::default(),
            bleeds_ml_s: 0.0,
            burst: Burst::default(),
            owed_ms: 0,
        }
    }
}

impl Hold {
    /// Leaps reach further.
    pub fn reach_further(&mut self) {
        self.reach = COARSE;
    }
    /// Is that so?
    pub fn is_coarse(&self) -> bool {
        self.reach.leap_s > FINE.leap_s
    }
    /// Something was done to the patient: look again before the next leap.
    pub fn end(&mut self) {
        (self.left_s, self.allowed_s, self.reshaped) = (0.0, self.reach.first_s, 0.0);
        // Every step of a fine patient ends what is held: only a burst that was begun is put back.
        if self.burst.looks > 0 {
            self.burst = Burst::default();
        }
    }
    /// An opening has changed by this part of itself. Ends what is held, for a coarse patient when such changes add up.
    pub fn reshape(&mut self, by: f64) {
        self.reshaped += by;
        if !self.is_coarse() || self.reshaped > RESHAPES {
            self.end();
        }
    }
    /// Takes time that a coarse patient is to be followed for; the whole seconds that are due. Means of a part of a beat are none.
    fn due_s(&mut self, ms: u64) -> u64 {
        self.owed_ms += ms;
        let due_s = self.owed_ms / 1000;
        self.owed_ms %= 1000;
        due_s
    }
    /// Enough blood has moved since the last burst that nerves and veins have yet to follow.
    fn moved_much(&self) -> bool {
        self.moved_ml > 0.3 * self.reach.moves_ml
    }
}

impl Circulation {
    /// Lets `seconds` pass with beat-averaged leaps. Traces are not recorded.
    pub fn advance_long(&mut self, seconds: f64) {
        if !(seconds.is_finite() && seconds > 0.0) {
            return;
        }
        let tracing = std::mem::replace(&mut self.body.recorder.on, false);
        let mut ms = (seconds * 1e3).round() as u64;
        if self.body.hold.is_coarse() {
            ms = 1000 * self.body.hold.due_s(ms);
        }
        let end = self.body.ms + ms;
        // A leap is made of whole seconds of the slow life's clock.
        self.walk(((1000 - self.body.ms % 1000) % 1000).min(end - self.body.ms) as u32);
        while self.body.ms < end {
            let left_ms = end - self.body.ms;
            // What has moved much is walked to its end, so that nerves and veins end where they belong.
            let walks = self.body.hold.moved_much() && left_ms <= self.body.hold.reach.follow_ms;
            if self.holds() && !walks && left_ms >= 1000 {
                self.leap(left_ms / 1000);
            } else {
                self.burst(left_ms);
            }
        }
        self.body.recorder.on = tracing;
    }

    /// Lets milliseconds of the theatre pass. A coarse patient is followed in whole seconds, and in one whom nothing moves most of
    /// them are leapt; any other is walked.
    pub fn follow_ms(&mut self, ms: u32) {
        if !self.body.hold.is_coarse() {
            return self.advance_ms(ms);
        }
        for _ in 0..self.body.hold.due_s(u64::from(ms)) {
            // Held means go on bleeding at a pressure that has fallen: whoever bleeds is looked at often.
            let b = &*self.body;
            let still = b.holes.flow_ml_s() < BLEEDS_ML_S || b.hold.moved_ml < LOSES_ML;
            if b.death.is_some() || still && self.holds() {
                self.leap(1);
                continue;
            }
            self.look(1000);
            if u64::from(self.body.hold.burst.looks) * LOOK_MS >= self.burst_ms() {
                self.take_hold();
            }
        }
    }

    /// Whether the next second can be leapt on what is held.
    fn holds(&self) -> bool {
        let b = &self.body;
        b.death.is_some() || b.hold.left_s >= 1.0 && b.vitals.heart_rate_bpm > 0.0
    }

    /// How long a burst looks, ms: about a breath, or until nerves and veins have followed what moved.
    fn burst_ms(&self) -> u64 {
        if self.body.hold.moved_much() {
            return self.body.hold.reach.follow_ms;
        }
        let slowest = self.body.hold.reach.breath_per_min;
        let breath_ms = 60e3 / self.body.breathing.rate_per_min.clamp(slowest, 20.0);
        (breath_ms / 1e3).ceil() as u64 * 1000
    }

    /// Walks about a breath and takes its means.
    fn burst(&mut self, left_ms: u64) {
        self.body.hold.burst = Burst::default();
        self.look(self.burst_ms().min(left_ms));
        self.take_hold();
    }

    /// Walks and adds up what it sees.
    fn look(&mut self, ms: u64) {
        for _ in 0..(ms / LOOK_MS).max(1) {
            self.walk(LOOK_MS.min(ms) as u32);
            let b = &mut *self.body;
            let burst = &mut b.hold.burst;
            burst.looks += 1;
            burst.sum.add(&b.means);
            burst.map_mmhg += b.vitals.root.mean_mmhg;
            burst.rate_bpm += b.vitals.heart_rate_bpm;
        }
    }

    /// Holds the means of the burst from here on.
    fn take_hold(&mut self) {
        let b = &mut *self.body;
        let burst = std::mem::take(&mut b.hold.burst);
        let part = 1.0 / f64::from(burst.looks.max(1));
        b.means = burst.sum.times(part);
        let (map, rate) = (burst.map_mmhg * part, burst.rate_bpm * part);
        let flow = b.holes.flow_ml_s();
        let hold = &mut b.hold;
        // Breath and the slow waves of the reflex move a burst by some mmHg: only more than that is a drift.
        let moved = ((map - hold.map_mmhg) / 6.0).abs() + ((rate - hold.rate_bpm) / 8.0).abs();
        hold.allowed_s = if moved > 1.0 {
            (0.5 * hold.allowed_s).max(4.0)
        } else {
            (hold.reach.growth * hold.allowed_s).min(hold.reach.leap_s)
        };
        hold.left_s = hold.allowed_s;
        (hold.moved_ml, hold.reshaped) = (0.0, 0.0);
        (hold.map_mmhg, hold.rate_bpm, hold.effects) = (map, rate, b.effects);
        hold.bleeds_ml_s = flow;
    }

    /// Runs the slow life for at most so many whole seconds on held means.
    fn leap(&mut self, whole_s: u64) {
        let mut left_s = whole_s;
        while left_s > 0 {
            let b = &mut *self.body;
            // Who bleeds is followed second by second.
            let at_once = if b.holes.flow_ml_s() < BLEEDS_ML_S { b.hold.reach.at_once_s } else { 1 };
            let seconds = at_once.min(left_s as u32);
            left_s -= u64::from(seconds);
            let moved = b.leap_seconds(&mut self.net, 0, seconds);
            b.hold.moved_ml += moved;
            b.hold.left_s -= f64::from(seconds);
            if b.death.is_none() && (b.hold.left_s < 1.0 || b.outgrown()) {
                b.hold.left_s = 0.0;
                break;
            }
        }
    }
}

impl Body {
    /// Whether the means have been held for too long.
    fn outgrown(&self) -> bool {
        let (was, is) = (&self.hold.effects, &self.effects);
        let drugs = (was.resistance - is.resistance).abs()
            + 4.0 * (was.venous - is.venous).abs()
            + (was.rate - is.rate).abs()
            + (was.contractility - is.contractility).abs()
            + (was.beta_block - is.beta_block).abs()
            + (was.vagal_block - is.vagal_block).abs()
            + (was.sedation - is.sedation).abs();
        let flow = self.holes.flow_ml_s();
        self.hold.moved_ml > self.hold.reach.moves_ml
            || drugs > self.hold.reach.drugs
            || is.av_block > 0.1
            || (flow - self.hold.bleeds_ml_s).abs() > 0.02 + 0.15 * flow
    }
}

impl Means {
    fn add(&mut self, other: &Self) {
        let both = self.p.iter_mut().zip(&other.p);
        let both =
            both.chain(self.pipe.iter_mut().zip(&other.pipe)).chain(self.link.iter_mut().zip(&other.link));
        for (sum, x) in both {
            *sum += x;
        }
        self.output_ml_s += other.output_ml_s;
    }
    fn times(mut self, part: f64) -> Self {
        for x in self.p.iter_mut().chain(&mut self.pipe).chain(&mut self.link) {
            *x *= part;
        }
        self.output_ml_s *= part;
        self
    }
}
