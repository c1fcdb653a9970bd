//! What a desk may show at one moment: plain data, built by the session, read by the window and the terminal alike.
//!
//! A desk never reaches past this into the state: what is not here cannot be known by the trainee.

use super::event::Tick;
use crate::anatomy::{Site, VesselName};
use crate::circulation::Vitals;
use crate::scenario::Order;
use crate::scenario::case::Tone;
use crate::scenario::order::{Mark, Worker};

/// Everything that can be seen and heard now.
#[derive(Clone, Debug)]
pub struct View {
    /// Time since the call.
    pub now: Tick,
    /// Titles of the active phases, outermost first.
    pub phase: Vec<String>,
    /// What the monitor shows.
    pub vitals: Vitals,
    /// What alarms now.
    pub alarms: Vec<AlarmView>,
    /// What is being done, by whose hands.
    pub jobs: Vec<JobView>,
    /// The ruler with all that lies on it.
    pub rail: RailView,
    /// Open questions.
    pub asks: Vec<AskView>,
    /// What can be ordered, and why the rest cannot.
    pub offers: Vec<Offer>,
    /// The C-arm.
    pub carm: CarmView,
    /// Marks as they stand on the screen.
    pub drawn: Vec<DrawnMark>,
    /// Runs taken so far, newest last.
    pub runs: Vec<RunView>,
    /// Devices on the shelf.
    pub shelf: Vec<ShelfView>,
    /// Figures kept by the room: contrast, dose, fluids, blood.
    pub tally: Vec<Tally>,
    /// Laboratory results, newest last: test, value, unit, time.
    pub labs: Vec<(String, f64, &'static str, Tick)>,
    /// How it ended, if it has.
    pub ended: Option<EndView>,
}

/// An alarm of the monitor.
#[derive(Clone, Debug, PartialEq)]
pub struct AlarmView {
    /// Signal.
    pub signal: &'static str,
    /// 1 low, 2 medium, 3 high (IEC 60601-1-8).
    pub priority: u8,
    /// Since when.
    pub since: Tick,
}

/// Something being done.
#[derive(Clone, Debug, PartialEq)]
pub struct JobView {
    /// Whose hands.
    pub worker: Worker,
    /// What, in words.
    pub text: String,
    /// Since when; none while it waits for hands.
    pub began: Option<Tick>,
    /// Until when, as far as is known.
    pub until: Option<Tick>,
}

/// The rail: one ruler from the aortic valve to the groin, mm.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RailView {
    /// From 0 to here.
    pub length_mm: f64,
    /// Zones: label, from, to.
    pub zones: Vec<(String, f64, f64)>,
    /// Ostia: vessel, where.
    pub ostia: Vec<(VesselName, f64)>,
    /// The lesion, once the CT was read: label, from, to.
    pub lesions: Vec<(String, f64, f64)>,
    /// Reference marks, where the trainee put them.
    pub marks: Vec<(Mark, f64)>,
    /// Released grafts: label, upper and lower edge.
    pub grafts: Vec<(String, f64, f64)>,
    /// What lies on each line.
    pub lines: Vec<LineView>,
}

/// One line.
#[derive(Clone, Debug, PartialEq)]
pub struct LineView {
    /// Which access.
    pub site: Site,
    /// Where its entry lies on the rail.
    pub entry_mm: f64,
    /// Devices, innermost first.
    pub items: Vec<ItemView>,
}

/// One device on a line.
#[derive(Clone, Debug, PartialEq)]
pub struct ItemView {
    /// Shelf id.
    pub device: String,
    /// As said aloud.
    pub label: String,
    /// Its sort, such as "wire".
    pub kind: &'static str,
    /// Where its tip lies, mm along the rail.
    pub tip_mm: f64,
    /// A graft: how much is unsheathed, mm; a balloon: its volume, mL.
    pub state: Option<f64>,
}

/// An open question.
#[derive(Clone, Debug, PartialEq)]
pub struct AskView {
    /// Its id.
    pub id: String,
    /// Who asks.
    pub who: String,
    /// The words.
    pub question: String,
    /// Ask "why?" too.
    pub why: bool,
    /// Ask "how sure?" too.
    pub confidence: bool,
    /// When it closes by itself.
    pub closes: Option<Tick>,
    /// Options: id and words.
    pub options: Vec<(String, String)>,
}

/// A sort of order and whether the state allows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// The order's verb.
    pub verb: &'static str,
    /// What it does, in words.
    pub label: String,
    /// Access, lines, picture, deploy, patient, team.
    pub group: &'static str,
    /// Why not now; none when it can be given.
    pub blocked: Option<String>,
    /// Ready-made orders that make sense now, with their words.
    pub ready: Vec<(String, Order)>,
}

/// The C-arm.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CarmView {
    /// LAO positive, degrees.
    pub primary_deg: f64,
    /// CRA positive, degrees.
    pub secondary_deg: f64,
    /// Fluoroscopy on?
    pub screening: bool,
    /// Table locked?
    pub table_locked: bool,
    /// Edge of the field at the detector, mm.
    pub field_mm: f64,
    /// How far each shutter covers the picture, %: left, right, top, bottom.
    pub shutters_percent: [f64; 4],
    /// Pictures each second: fluoroscopy, subtracted run.
    pub rates_per_s: [f64; 2],
    /// How far the table has brought the picture from where it was at first, mm: to the patient's left, to the head.
    pub panned_mm: [f64; 2],
    /// Do the marks on the reference lie true? None while none is drawn on a picture.
    pub reference_true: Option<bool>,
}

/// A mark as it stands on the glass of the screen: drawn once, and left behind by a picture that moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrawnMark {
    /// What it stands for.
    pub name: Mark,
    /// Both ends, as parts of the picture's edge, to the right and down.
    pub ends: [[f64; 2]; 2],
    /// Is the picture under it still the one that it was drawn on?
    pub holds: bool,
}

/// A run that was taken.
#[derive(Clone, Debug, PartialEq)]
pub struct RunView {
    /// From 1.
    pub number: u32,
    /// When.
    pub at: Tick,
    /// What can be seen on it, in words made from its contrast curves.
    pub seen: Vec<String>,
}

/// A device on the shelf.
#[derive(Clone, Debug, PartialEq)]
pub struct ShelfView {
    /// Shelf id.
    pub id: String,
    /// As said aloud.
    pub label: String,
    /// Its sort, such as "graft".
    pub kind: &'static str,
    /// Left on the shelf.
    pub left: u32,
}

/// A figure with its name.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    /// What.
    pub name: &'static str,
    /// How much.
    pub value: f64,
    /// Unit.
    pub unit: &'static str,
}

/// How a case ended.
#[derive(Clone, Debug, PartialEq)]
pub struct EndView {
    /// Heading.
    pub title: String,
    /// How it is for the patient.
    pub tone: Tone,
    /// What is told.
    pub text: String,
}
