//! Events: everything that happens, with its time, its cause and what was read when it happened.

use crate::anatomy::{Site, VesselName};
use crate::circulation::Test;
use crate::scenario::Order;
use crate::scenario::case::Tier;
use serde::{Deserialize, Serialize};

/// Time in a session: whole ticks of a tenth of a second since the call.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Tick(pub u64);

impl Tick {
    /// Milliseconds in one tick.
    pub const MS: u64 = 100;
    /// Ticks in one second.
    pub const PER_SECOND: u64 = 10;

    /// The first tick at or after so many milliseconds.
    pub fn from_ms(ms: u64) -> Self {
        Self(ms.div_ceil(Self::MS))
    }
    /// Seconds since the call.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / Self::PER_SECOND as f64
    }
    /// `ticks` later.
    pub fn after(self, ticks: u64) -> Self {
        Self(self.0 + ticks)
    }
}

/// As on a wall clock: `03:12` or `1 d 02:10:05`.
impl std::fmt::Display for Tick {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let s = self.0 / Self::PER_SECOND;
        let (d, h, m, s) = (s / 86_400, s / 3600 % 24, s / 60 % 60, s % 60);
        if d > 0 {
            write!(f, "{d} d {h:02}:{m:02}:{s:02}")
        } else if h > 0 {
            write!(f, "{h}:{m:02}:{s:02}")
        } else {
            write!(f, "{m:02}:{s:02}")
        }
    }
}

/// One thing that happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// Running number from 0.
    pub seq: u32,
    /// When.
    pub at: Tick,
    /// The event that brought it about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cause: Option<u32>,
    /// What.
    pub kind: EventKind,
    /// Numbers that it was computed from: signal or quantity, value.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub read: Vec<(String, f64)>,
}

/// What happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EventKind {
    /// An order was taken.
    Ordered {
        /// The order.
        order: Order,
        /// Who gave it.
        by: Giver,
    },
    /// An order was not carried out.
    Refused {
        /// Its verb.
        verb: String,
        /// Why not, and what would do.
        why: String,
    },
    /// Hands began on an order.
    Began {
        /// Its verb.
        verb: String,
    },
    /// An order was carried out.
    Done {
        /// Its verb.
        verb: String,
        /// What it was done to: device, drug, vessel, test.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        to: String,
    },
    /// Somebody spoke.
    Said {
        /// Role, or "narrator".
        who: String,
        /// Words.
        text: String,
    },
    /// A question opened.
    Asked {
        /// Which.
        ask: String,
    },
    /// A question was answered, or closed by itself.
    Chosen {
        /// Which.
        ask: String,
        /// Option.
        option: String,
        /// The tier at that moment, frozen.
        tier: Tier,
        /// The trainee's reason.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        why: String,
        /// How sure, per cent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        sure_percent: Option<u8>,
        /// Closed by the clock?
        #[serde(default)]
        by_clock: bool,
    },
    /// The chart entered a state.
    Entered {
        /// Which.
        state: String,
    },
    /// A laboratory result came back.
    Lab {
        /// Which test.
        test: Test,
        /// Value in the test's unit.
        value: f64,
    },
    /// A called person arrived.
    Arrived {
        /// Role.
        who: String,
    },
    /// A subtracted run was taken: what it shows, computed from the transported contrast.
    Ran(RunFacts),
    /// A graft was let go.
    Placed(PlacedFacts),
    /// A balloon reached its size.
    Ballooned {
        /// Device.
        device: String,
        /// Diameter, mm.
        diameter_mm: f64,
    },
    /// A stent was let go outside the aorta.
    Stented {
        /// Shelf id.
        device: String,
        /// Upper and lower end, mm along its rail.
        span_mm: [f64; 2],
        /// Against the artery, %.
        oversize_percent: f64,
    },
    /// A graft slipped down the stream.
    Slipped {
        /// Shelf id.
        device: String,
        /// How far, mm.
        by_mm: f64,
    },
    /// A chance was drawn.
    Risk {
        /// Which risk.
        id: String,
        /// Its probability as computed, 0 to 1.
        probability: f64,
        /// What it was made of: factor and odds multiplier.
        because: Vec<(String, f64)>,
        /// Did it happen in this session?
        struck: bool,
    },
    /// The leak changed class or came above or below the threshold.
    Leak {
        /// Type Ia, Ib, II, III, mL/min.
        ml_min: [f64; 4],
    },
    /// An alarm of the monitor began.
    Alarm {
        /// Signal.
        signal: String,
        /// 1 low, 2 medium, 3 high (IEC 60601-1-8).
        priority: u8,
        /// Value.
        value: f64,
    },
    /// The case ended.
    Ended {
        /// Ending's id.
        ending: String,
    },
}

/// Who gave an order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Giver {
    /// The trainee, or the play.
    Trainee,
    /// An option of this question.
    Option(String),
    /// The case or the team of itself.
    Case,
    /// An educator during the session.
    Educator,
}

/// What a run shows.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RunFacts {
    /// Running number of the run, from 1.
    pub number: u32,
    /// Injected from where, mm from the valve.
    pub from_mm: f64,
    /// Primary and secondary angle, degrees.
    pub pose_deg: [f64; 2],
    /// Angle off a true side view of the landing zone, degrees.
    pub off_profile_deg: f64,
    /// Peak opacity of the sac relative to the aorta, 0 to 1, and the time from aortic arrival to its first filling, s.
    pub sac_opacity: f64,
    /// See `sac_opacity`; negative when it never fills.
    pub sac_delay_s: f64,
    /// Where in the sac contrast was seen first: "above", "below", "the side", "all over"; empty when nowhere.
    pub sac_from: String,
    /// Leak flows at that moment, mL/min: Ia, Ib, II, III.
    pub leak_ml_min: [f64; 4],
    /// Vessels that filled.
    pub filled: Vec<VesselName>,
    /// Most iodine at once in the blood outside the vessels, mg.
    #[serde(default)]
    pub outside_mg: f64,
    /// Did breathing or a moved table blur the subtraction (mm)?
    pub motion_mm: f64,
}

/// What a placed graft does.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PlacedFacts {
    /// Shelf id.
    pub device: String,
    /// Line.
    pub site: Option<Site>,
    /// Where the trainee meant its upper edge to lie, mm from the valve.
    pub meant_mm: f64,
    /// Upper and lower edge of the fabric, mm from the valve.
    pub edges_mm: [f64; 2],
    /// Moved downstream while opening, mm.
    pub shift_mm: f64,
    /// Oversizing above and below, %.
    pub oversize_percent: [f64; 2],
    /// All-round contact above and below the lesion, mm.
    pub seal_mm: [f64; 2],
    /// Contact on the inner curve above, mm.
    pub inner_mm: f64,
    /// Beak height, mm.
    pub beak_mm: f64,
    /// Fold mouth, mm².
    pub fold_mm2: f64,
    /// Widest gap, mm, and its angle from the outer curve, degrees.
    pub gap_mm: f64,
    /// See `gap_mm`.
    pub gap_angle_deg: f64,
    /// Branches covered: open fraction left.
    pub covered: Vec<(VesselName, f64)>,
    /// It opened in the false lumen: it covers and seals nothing.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub in_false_lumen: bool,
}
