//! What the case begins with beside the patient: the shelf, what lies in the vessels already, the team.

use crate::anatomy::{Place, Site};
use crate::scenario::order::{CtExtent, Guide};
use crate::scenario::quantity::Span;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The shelf: the built-in one, with changes.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ShelfSpec {
    /// Only these devices, if any are named.
    pub only: Vec<String>,
    /// How many of a device there are, where it differs from the built-in shelf.
    pub stock: BTreeMap<String, u32>,
}

/// What lies in the patient when the case begins.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct InPlace {
    /// Grafts of an earlier operation, first placed first: a later one lies inside an earlier one where they overlap.
    pub grafts: Vec<EarlierGraft>,
    /// Accesses that are open, with what lies on them.
    pub lines: Vec<OpenLine>,
    /// How much of a CT has been read already.
    pub ct: Option<CtExtent>,
    /// The spinal drain lies, open at this pressure, mmHg.
    pub csf_drain_mmhg: Option<f64>,
    /// A spinal needle drew blood within the last day: an anticoagulant may make the canal bleed.
    pub bloody_puncture: bool,
    /// The patient lies on the ward, handed over with these targets.
    pub ward: Option<WardTargets>,
}

/// A graft of an earlier operation. How it lies, seals and overlaps follows from its place in the vessels as they are now.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EarlierGraft {
    /// Shelf id. Its stock may be nought; with `shelf: (only: ...)` it must be named there.
    pub device: String,
    /// Where the upper edge of its fabric lies today: mm from the aortic valve, or past a branch.
    pub edge: Place,
    /// The side that it was brought up from: which iliac artery a graft that reaches below the bifurcation lies in. The right when left out.
    #[serde(default)]
    pub side: Option<Site>,
    /// It is on the planning CT, as a graft of years ago is and one of tonight's is not. `false` when left out.
    #[serde(default)]
    pub on_ct: bool,
}

/// An access that is open when the case begins.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OpenLine {
    /// Where.
    pub site: Site,
    /// How it was opened.
    #[serde(default)]
    pub guide: Guide,
    /// What lies on it.
    #[serde(default)]
    pub items: Vec<Lying>,
    /// The artery is torn at its narrowest place, by this area, mm²; a sheath that fills it hides that until it is drawn out. 0 when left out.
    #[serde(default)]
    pub torn_mm2: f64,
}

/// A device that lies on a line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lying {
    /// Shelf id.
    pub device: String,
    /// Where its tip lies, mm from the aortic valve along the rail.
    pub tip_mm: f64,
}

/// What the ward was told to keep.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WardTargets {
    /// Lowest mean pressure to keep, mmHg.
    pub map_low_mmhg: f64,
    /// Highest systolic pressure to allow, mmHg.
    pub sbp_high_mmhg: f64,
}

/// Somebody in the room or on call.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Member {
    /// Role, such as "anaesthetist".
    pub role: String,
    /// How long after being called they arrive; nothing when they are there already.
    #[serde(default)]
    pub arrives: Option<Span>,
    /// What they say on arrival.
    #[serde(default)]
    pub says: String,
}
