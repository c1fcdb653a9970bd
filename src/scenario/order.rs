//! Orders: what a clinician would say or do. They are the only way into a session, and all that a log must keep.
//!
//! The same type serves a case's options and plays (RON), the log (JSON) and every desk.

mod parts;

pub use parts::{BriefItem, Closure, CtExtent, Guide, Mark, Measured, Plane};

use super::quantity::{Dose, Rate, Span};
use crate::anatomy::{Site, VesselName};
use crate::circulation::{Anaesthesia, Product, Test};
use serde::{Deserialize, Serialize};

/// One order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Order {
    /// Commit to an option of an open question; its orders follow at once.
    Answer {
        /// The question.
        ask: String,
        /// The option.
        option: String,
        /// The reason in the trainee's own words, asked before the result is seen.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        why: String,
        /// How sure, 50 to 100 %, where the case asks.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        sure_percent: Option<u8>,
    },
    /// Rehearse the coming steps aloud with the team.
    Brief {
        /// What was covered.
        items: Vec<BriefItem>,
    },
    /// Ask somebody to come.
    Call {
        /// A role of the case's team.
        who: String,
    },
    /// Write something down; changes nothing.
    Note {
        /// The note.
        text: String,
    },
    /// Read a CT over the given extent.
    ReadCt {
        /// How much of the patient it shows.
        extent: CtExtent,
    },
    /// Commit a measurement of one's own.
    Measure {
        /// What was measured.
        what: Measured,
        /// The value, mm.
        mm: f64,
        /// In which plane.
        #[serde(default)]
        plane: Plane,
        /// The number of the run that it was taken on; the newest when left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        run: Option<u32>,
    },
    /// Open an access.
    Puncture {
        /// Where.
        site: Site,
        /// How it is found.
        #[serde(default)]
        guide: Guide,
    },
    /// Put a device from the shelf on a line, its tip at the entry.
    Insert {
        /// Which line.
        site: Site,
        /// Shelf id.
        device: String,
    },
    /// Move the tip of a device along the rail.
    Move {
        /// Which line.
        site: Site,
        /// Shelf id.
        device: String,
        /// Where its tip (a graft: the first edge of its fabric) is to lie: mm from the aortic valve along the rail.
        to_mm: f64,
    },
    /// Take one device out and put another in its place without losing the position.
    Exchange {
        /// Which line.
        site: Site,
        /// What comes out.
        out: String,
        /// What goes in.
        put: String,
    },
    /// Take a device out.
    Remove {
        /// Which line.
        site: Site,
        /// Shelf id.
        device: String,
    },
    /// Turn the C-arm.
    Aim {
        /// Detector towards the patient's left, positive (DICOM primary positioner angle), degrees.
        primary_deg: f64,
        /// Detector towards the head, positive (DICOM secondary positioner angle), degrees.
        secondary_deg: f64,
    },
    /// Fluoroscopy on or off.
    Screen {
        /// On?
        on: bool,
    },
    /// Lock the table, so that the picture and the marks stay true.
    LockTable {
        /// Locked?
        on: bool,
    },
    /// Move the table under the C-arm, so that the picture shows another part of the patient. A locked table stays.
    Pan {
        /// The picture goes towards the patient's left by so much, mm; negative towards the right.
        #[serde(default)]
        left_mm: f64,
        /// Towards the head by so much, mm; negative towards the feet.
        #[serde(default)]
        head_mm: f64,
    },
    /// Size of the field: a smaller one magnifies, at a higher dose to the skin.
    Field {
        /// Edge of the square field at the detector, mm.
        edge_mm: f64,
    },
    /// Close the shutters: how far each covers the picture. What is covered gets no radiation.
    Collimate {
        /// From the picture's left.
        #[serde(default)]
        left_percent: f64,
        /// From its right.
        #[serde(default)]
        right_percent: f64,
        /// From the top.
        #[serde(default)]
        top_percent: f64,
        /// From the bottom.
        #[serde(default)]
        bottom_percent: f64,
    },
    /// How many pictures are taken each second.
    FrameRate {
        /// Pulses of fluoroscopy.
        screening_per_s: f64,
        /// Frames of a subtracted run.
        runs_per_s: f64,
    },
    /// A subtracted run with contrast.
    Run {
        /// Line of the catheter that injects.
        site: Site,
        /// mL/s.
        rate_ml_s: f64,
        /// mL.
        volume_ml: f64,
        /// How long frames are taken, s.
        seconds: f64,
        /// With the breath held?
        #[serde(default)]
        breath_hold: bool,
    },
    /// Mark a place on the reference picture.
    Mark {
        /// What it stands for.
        name: Mark,
        /// Where, mm along the rail, as read by the trainee.
        at_mm: f64,
    },
    /// Draw back the cover of a graft.
    Unsheathe {
        /// Which line.
        site: Site,
        /// By how much, mm; the whole graft when left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        by_mm: Option<f64>,
    },
    /// Let go of a captured tip.
    ReleaseTip {
        /// Which line.
        site: Site,
    },
    /// Fill a balloon.
    Inflate {
        /// Which line.
        site: Site,
        /// Shelf id.
        device: String,
        /// Volume in all, mL.
        ml: f64,
    },
    /// Empty a balloon.
    Deflate {
        /// Which line.
        site: Site,
        /// Shelf id.
        device: String,
    },
    /// Close off a vessel with coils, a plug or particles from a catheter that lies there.
    Embolise {
        /// Which line.
        site: Site,
        /// Shelf id.
        device: String,
        /// Vessel to close.
        vessel: VesselName,
        /// Pieces, or mL of suspension.
        amount: f64,
    },
    /// Hold a branch's mouth open with a stent from a catheter that lies at it.
    StentBranch {
        /// Which line.
        site: Site,
        /// Shelf id.
        device: String,
        /// Branch of the aorta.
        vessel: VesselName,
    },
    /// A single dose.
    Give {
        /// What.
        drug: crate::circulation::Drug,
        /// How much.
        dose: Dose,
    },
    /// A running dose.
    Infuse {
        /// What.
        drug: crate::circulation::Drug,
        /// How fast; zero stops it.
        rate: Rate,
    },
    /// Blood and fluids.
    Transfuse {
        /// What.
        product: Product,
        /// How much, mL.
        ml: f64,
        /// Over how long.
        over: Span,
    },
    /// The anaesthetist titrates to a systolic pressure.
    KeepSystolic {
        /// Not below, mmHg.
        low_mmhg: f64,
        /// Not above, mmHg.
        high_mmhg: f64,
    },
    /// The anaesthetist gives the usual drugs their own way again.
    FreeSystolic,
    /// Fast pacing of the right ventricle, or its end.
    Pace {
        /// Beats per minute; none stops it.
        bpm: Option<f64>,
    },
    /// Hold the breath, or breathe on.
    BreathHold {
        /// Held?
        on: bool,
    },
    /// Change the anaesthetic.
    Anaesthetise {
        /// To what.
        kind: Anaesthesia,
    },
    /// Cerebrospinal fluid drain: open at a pressure, or closed.
    CsfDrain {
        /// Opening pressure, mmHg; none closes it.
        at_mmhg: Option<f64>,
        /// Closed for the rest of each hour after so much, mL; none: as it comes.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        most_ml_h: Option<f64>,
    },
    /// A chest drain on the left.
    ChestDrain,
    /// Open a tight belly and leave it open under a dressing.
    OpenBelly,
    /// Warm the patient and the fluids.
    Warm {
        /// On?
        on: bool,
    },
    /// Send blood to the laboratory.
    Lab {
        /// Which test.
        test: Test,
    },
    /// Surgical or endovascular bypass to a branch before or after it is covered.
    Revascularise {
        /// Which branch.
        vessel: VesselName,
    },
    /// Close an access.
    Close {
        /// Which.
        site: Site,
        /// How.
        how: Closure,
    },
    /// Hand the patient over to the ward with written targets.
    HandOver {
        /// Lowest mean pressure to keep, mmHg.
        map_low_mmhg: f64,
        /// Highest systolic pressure to allow, mmHg.
        sbp_high_mmhg: f64,
        /// Legs examined every hour?
        hourly_neuro: bool,
        /// Image the repair after this many hours; none leaves it open.
        ct_hours: Option<f64>,
    },
    /// Let the ward's time pass.
    Recover {
        /// How long.
        hours: f64,
    },
    /// Stop here.
    Finish,
}

impl Order {
    /// The same order with devices named otherwise: old name, new name.
    pub fn renamed(&self, swaps: &[(String, String)]) -> Self {
        let mut order = self.clone();
        let swap = |name: &mut String| {
            if let Some((_, new)) = swaps.iter().find(|(old, _)| old == name) {
                name.clone_from(new);
            }
        };
        match &mut order {
            Self::Insert { device, .. }
            | Self::Move { device, .. }
            | Self::Remove { device, .. }
            | Self::Inflate { device, .. }
            | Self::Deflate { device, .. }
            | Self::Embolise { device, .. }
            | Self::StentBranch { device, .. } => swap(device),
            Self::Exchange { out, put, .. } => {
                swap(out);
                swap(put);
            }
            _ => {}
        }
        order
    }

    /// The order's verb, as rules and charts name it: `done(run)`, `order(give)`.
    pub fn verb(&self) -> &'static str {
        match self {
            Self::Answer { .. } => "answer",
            Self::Brief { .. } => "brief",
            Self::Call { .. } => "call",
            Self::Note { .. } => "note",
            Self::ReadCt { .. } => "read_ct",
            Self::Measure { .. } => "measure",
            Self::Puncture { .. } => "puncture",
            Self::Insert { .. } => "insert",
            Self::Move { .. } => "move",
            Self::Exchange { .. } => "exchange",
            Self::Remove { .. } => "remove",
            Self::Aim { .. } => "aim",
            Self::Screen { .. } => "screen",
            Self::LockTable { .. } => "lock_table",
            Self::Pan { .. } => "pan",
            Self::Field { .. } => "field",
            Self::Collimate { .. } => "collimate",
            Self::FrameRate { .. } => "frame_rate",
            Self::Run { .. } => "run",
            Self::Mark { .. } => "mark",
            Self::Unsheathe { .. } => "unsheathe",
            Self::ReleaseTip { .. } => "release_tip",
            Self::Inflate { .. } => "inflate",
            Self::Deflate { .. } => "deflate",
            Self::Embolise { .. } => "embolise",
            Self::StentBranch { .. } => "stent_branch",
            Self::Give { .. } => "give",
            Self::Infuse { .. } => "infuse",
            Self::Transfuse { .. } => "transfuse",
            Self::KeepSystolic { .. } => "keep_systolic",
            Self::FreeSystolic => "free_systolic",
            Self::Pace { .. } => "pace",
            Self::BreathHold { .. } => "breath_hold",
            Self::Anaesthetise { .. } => "anaesthetise",
            Self::CsfDrain { .. } => "csf_drain",
            Self::ChestDrain => "chest_drain",
            Self::OpenBelly => "open_belly",
            Self::Warm { .. } => "warm",
            Self::Lab { .. } => "lab",
            Self::Revascularise { .. } => "revascularise",
            Self::Close { .. } => "close",
            Self::HandOver { .. } => "hand_over",
            Self::Recover { .. } => "recover",
            Self::Finish => "finish",
        }
    }

    /// All verbs, in the order of the day.
    pub const VERBS: &[&str] = &[
        "answer",
        "brief",
        "call",
        "note",
        "read_ct",
        "measure",
        "puncture",
        "insert",
        "move",
        "exchange",
        "remove",
        "aim",
        "screen",
        "lock_table",
        "pan",
        "field",
        "collimate",
        "frame_rate",
        "run",
        "mark",
        "unsheathe",
        "release_tip",
        "inflate",
        "deflate",
        "embolise",
        "stent_branch",
        "give",
        "infuse",
        "transfuse",
        "keep_systolic",
        "free_systolic",
        "pace",
        "breath_hold",
        "anaesthetise",
        "csf_drain",
        "chest_drain",
        "open_belly",
        "warm",
        "lab",
        "revascularise",
        "close",
        "hand_over",
        "recover",
        "finish",
    ];

    /// Who carries it out, and so what it waits for.
    pub fn worker(&self) -> Worker {
        match self {
            Self::Answer { .. }
            | Self::Note { .. }
            | Self::Measure { .. }
            | Self::Mark { .. }
            | Self::Finish => Worker::Nobody,
            Self::Give { .. }
            | Self::Infuse { .. }
            | Self::Transfuse { .. }
            | Self::KeepSystolic { .. }
            | Self::FreeSystolic
            | Self::Pace { .. }
            | Self::BreathHold { .. }
            | Self::Anaesthetise { .. }
            | Self::CsfDrain { .. }
            | Self::Warm { .. } => Worker::Anaesthetist,
            Self::Call { .. } | Self::Lab { .. } => Worker::Runner,
            _ => Worker::Operator,
        }
    }
}

/// The hands that an order needs. Orders for the same hands wait for each other; different hands work at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Worker {
    /// Done as soon as it is said.
    Nobody,
    /// The trainee and the scrub nurse.
    Operator,
    /// The anaesthetist.
    Anaesthetist,
    /// Whoever carries messages and blood.
    Runner,
}
