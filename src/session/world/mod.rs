//! The world of one session: the patient, the vessels, what lies in them, the picture, and what the room keeps count of.
//!
//! Orders reach it through [`World::carry_out`]; time through [`World::step`]. It reports by events with the numbers that they
//! were computed from; nothing here knows the case's questions or phases.

mod access;
mod alarms;
mod closed;
mod deploy;
mod earlier;
mod embolise;
mod fabric;
mod fetch;
mod gate;
mod hazards;
pub mod lines;
mod look;
mod mouth;
mod orders;
mod patient;
pub mod picture;
mod risk;
mod scanned;
pub mod scene;
pub mod seal;
mod septum;
mod signals;
mod slip;
mod stents;
mod torn;
#[cfg(test)]
mod trial;
mod trunk;
mod ward;

pub use scanned::{Scanned, planned};
pub use signals::{crystalloid_ml, products_ml};
pub use trunk::planned_body;

use super::dice::Dice;
use super::event::{EventKind, Tick};
use crate::anatomy::{Rail, Site, Tree, VesselName};
use crate::circulation::{Bleed, Circulation, Layout, Test};
use crate::mechanics::Deployment;
use crate::mechanics::embolic::Packing;
use crate::mechanics::hazard::ArchWork;
use crate::scenario::case::BleedSpec;
use crate::scenario::order::{BriefItem, CtExtent, Measured, Plane};
use crate::scenario::{Loaded, Order};
use alarms::Alarms;
use lines::Lines;
use patient::Regulator;
use picture::Picture;
use risk::Risks;
use seal::Seal;
use std::collections::BTreeMap;
use std::sync::Arc;

/// What can narrow a vessel. Each is remembered by itself, so that one does not lift the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Narrows {
    /// The case says so.
    Case,
    /// Fabric over its mouth.
    Fabric,
    /// A lifted intima.
    Flap,
    /// Coils, plugs, particles.
    Packing,
    /// A balloon in it.
    Balloon,
    /// A covered stent over its mouth.
    Stent,
    /// The septum of a dissection.
    Septum,
    /// A mouth that is torn or clotted itself.
    Mouth,
}

/// An event of the world: what, its cause, and what it was computed from.
pub type Happened = (EventKind, Option<u32>, Vec<(String, f64)>);

/// See the module.
#[derive(Clone)]
pub struct World {
    case: Arc<Loaded>,
    /// The patient.
    pub patient: Circulation,
    /// The vessels as the CT showed them; the calibre of now follows from the pressure of now.
    tree: Arc<Tree>,
    /// All chance that acts.
    pub(super) dice: Dice,
    /// Accesses.
    pub lines: Lines,
    stock: BTreeMap<String, u32>,
    /// Grafts and their leaks.
    pub seal: Seal,
    /// C-arm, runs, marks, dose.
    pub picture: Picture,
    trunk: trunk::Trunk,
    corridors: lines::Corridors,
    /// Risks as accrued.
    pub risks: Risks,
    /// Does a spinal drain lie in the back, open or closed?
    spinal_drain_in: bool,
    /// When the drained spinal fluid was last weighed, and how much it was by then, mL.
    spinal_asked: (Tick, f64),
    /// Seconds above a pressure on a fresh upper edge since they were last counted, and how often they were.
    edge_strained: (f64, u8),
    pub(super) alarms: Alarms,
    /// What was covered in briefings.
    briefed: Vec<BriefItem>,
    /// Measurements as committed.
    pub measured: BTreeMap<Measured, (f64, Plane)>,
    /// CT read so far.
    pub ct: Option<CtExtent>,
    /// People on their way, and those who came.
    calls: Vec<(Tick, String, bool)>,
    /// Tests on their way.
    labs: Vec<(Tick, Test)>,
    /// Results.
    pub results: Vec<(Test, f64, Tick)>,
    regulator: Regulator,
    /// Mean pressure of late, mmHg: what a minute of pacing hardly moves.
    late_map_mmhg: f64,
    /// Rate of fast pacing, while it lasts.
    pub pacing: Option<f64>,
    /// Breath held?
    pub breath_held: bool,
    asleep: bool,
    holes: BTreeMap<String, Bleed>,
    /// The vessels of a dissected aorta as they were before it tore.
    whole: Option<Arc<Tree>>,
    /// How far a dissected aorta's true lumen is open, of its width at the CT.
    true_open: f64,
    /// Grafts that were let go in the false lumen.
    false_grafts: u32,
    /// Branches whose mouth a stent holds open.
    held_mouths: Vec<VesselName>,
    /// The opening of a body's short leg.
    gate: Option<gate::Gate>,
    /// Stents outside the aorta.
    stents: Vec<stents::Stented>,
    /// Tears that the work made.
    torn: Vec<torn::Torn>,
    /// Punctures that somebody presses on until they are pressed shut or sewn.
    under_hand: Vec<Site>,
    /// What narrows a vessel, by its sort: part left open.
    narrowed: BTreeMap<(VesselName, Narrows), f64>,
    bypassed: Vec<VesselName>,
    arch: ArchWork,
    deployments: BTreeMap<Site, Deployment>,
    packings: BTreeMap<VesselName, Packing>,
    /// Coils and plugs that hold, and stents in branch mouths, as they were laid.
    held: Vec<closed::Held>,
    vessels: Vec<VesselName>,
    /// After the hand-over.
    pub on_ward: bool,
    /// Ward time still to pass, s.
    pub ward_left_s: f64,
    ward: ward::Ward,
    now: Tick,
    out: Vec<Happened>,
}

impl World {
    /// At the call.
    pub fn new(case: &Arc<Loaded>, mut dice: Dice) -> Self {
        let tree = Arc::new(case.tree.clone());
        // A torn aorta takes up the pulse with both its lumens.
        let whole = septum::before(case);
        let layout = Layout::from_tree(whole.as_deref().unwrap_or(&tree));
        let mut seal = Seal::new(case);
        seal.lay_earlier(&mut dice, case, &tree.at_pressure(case.case.patient.map_rest_mmhg));
        // What earlier grafts cover was covered before the emergency began.
        let mut patient =
            Circulation::found(&case.case.patient, &layout, &case.case.start, |p| seal.cover(p, &[]));
        // The patient's seconds and the session's end together.
        patient.advance_ms(((1000 - patient.t_ms() % 1000) % 1000) as u32);
        seal.declare(&mut patient);
        let stock = case.shelf.items.iter().map(|s| (s.id.clone(), s.count)).collect();
        let mut world = Self {
            case: Arc::clone(case),
            patient,
            tree,
            dice,
            lines: Lines::new(),
            stock,
            seal,
            picture: Picture::of(&case.case.patient, &case.tree),
            trunk: trunk::Trunk::default(),
            corridors: lines::Corridors::default(),
            risks: Risks::default(),
            spinal_drain_in: false,
            spinal_asked: (Tick(0), 0.0),
            edge_strained: (0.0, 0),
            alarms: Alarms::default(),
            briefed: Vec::new(),
            measured: BTreeMap::new(),
            ct: None,
            calls: Vec::new(),
            labs: Vec::new(),
            results: Vec::new(),
            regulator: Regulator::default(),
            late_map_mmhg: 0.0,
            pacing: None,
            breath_held: false,
            asleep: case.case.start.asleep,
            holes: BTreeMap::new(),
            whole,
            true_open: 1.0,
            false_grafts: 0,
            held_mouths: Vec::new(),
            gate: None,
            stents: Vec::new(),
            torn: Vec::new(),
            under_hand: Vec::new(),
            narrowed: BTreeMap::new(),
            bypassed: Vec::new(),
            arch: ArchWork::default(),
            deployments: BTreeMap::new(),
            packings: BTreeMap::new(),
            held: Vec::new(),
            vessels: Self::named_vessels(),
            on_ward: false,
            ward_left_s: 0.0,
            ward: ward::Ward::default(),
            now: Tick(0),
            out: Vec::new(),
        };
        world.late_map_mmhg = world.patient.vitals().right_radial.mean_mmhg;
        world.split();
        world.take_up();
        world
    }

    /// The rail of an access, where this patient has its vessels.
    pub fn rail(&self, site: Site) -> Option<Rail> {
        Rail::for_access(&self.tree, site)
    }

    /// How many of a device are left.
    pub fn left(&self, device: &str) -> u32 {
        self.stock.get(device).copied().unwrap_or(0)
    }

    /// Distance that an order moves something, mm.
    pub fn travel_mm(&self, order: &Order) -> f64 {
        match order {
            Order::Move { site, device, to_mm } => {
                self.lines.get(site).and_then(|l| l.item(device)).map_or(0.0, |i| (i.tip_mm - to_mm).abs())
            }
            Order::Insert { site, .. } | Order::Exchange { site, .. } | Order::Remove { site, .. } => {
                self.lines.get(site).map_or(0.0, |_| 0.0)
            }
            _ => 0.0,
        }
    }

    /// Lets the tick that ends at `now` pass.
    pub fn step(&mut self, now: Tick) {
        self.patient.follow_ms(Tick::MS as u32);
        self.now = now;
        self.picture.pass(Tick::MS as f64 / 1000.0);
        if self.now.0.is_multiple_of(Tick::PER_SECOND) {
            self.each_second(1.0);
        }
    }

    /// Lets so many seconds pass on the ward, up to `now`.
    pub fn ward_step(&mut self, now: Tick, seconds: f64) {
        self.patient.advance_long(seconds);
        self.now = now;
        self.ward_left_s = (self.ward_left_s - seconds).max(0.0);
        self.each_second(seconds);
    }

    fn each_second(&mut self, seconds: f64) {
        self.regulate(seconds);
        self.ward_care(seconds);
        self.follow_seal(seconds);
        self.follow_septum(seconds);
        self.deliver();
        self.tell_levels();
        self.follow_trunk();
        self.follow_spinal_drain();
        self.follow_edge(seconds);
        self.follow_pressure(seconds);
        let vitals = self.patient.vitals();
        let alarms = self.alarms.look(vitals, self.now);
        self.out.extend(alarms.into_iter().map(|a| (a, None, Vec::new())));
    }

    /// When the next of those who were called is here.
    pub fn next_arrival(&self) -> Option<Tick> {
        self.calls.iter().filter(|(_, _, here)| !here).map(|(at, ..)| *at).min()
    }

    /// People and results that are due.
    fn deliver(&mut self) {
        let now = self.now;
        let mut here = Vec::new();
        for call in &mut self.calls {
            if !call.2 && call.0 <= now {
                call.2 = true;
                here.push(call.1.clone());
            }
        }
        for who in here {
            let says = self.case.case.team.iter().find(|m| m.role == who).map(|m| m.says.clone());
            self.report(EventKind::Arrived { who: who.clone() });
            if let Some(text) = says.filter(|t| !t.is_empty()) {
                self.report(EventKind::Said { who, text });
            }
        }
        let due: Vec<Test> = self.labs.iter().filter(|(at, _)| *at <= now).map(|(_, t)| *t).collect();
        self.labs.retain(|(at, _)| *at > now);
        for test in due {
            let value = self.patient.lab(test);
            self.results.push((test, value, now));
            self.report(EventKind::Lab { test, value });
        }
    }

    fn report(&mut self, kind: EventKind) {
        self.out.push((kind, None, Vec::new()));
    }

    fn report_with(&mut self, kind: EventKind, read: Vec<(String, f64)>) {
        self.out.push((kind, None, read));
    }

    /// Drains what happened since the last call.
    pub fn take_events(&mut self) -> Vec<Happened> {
        std::mem::take(&mut self.out)
    }

    /// Opens a hole that the case asks for.
    pub fn open_hole(&mut self, hole: &BleedSpec) {
        let length_mm = self.tree.get(hole.from).map_or(100.0, |v| v.curve.length_mm());
        let (vessel, s_mm) = (hole.from, hole.at_mm.unwrap_or(0.5 * length_mm));
        let (id, area_mm2) = (hole.id.clone(), hole.area_mm2);
        self.tear(torn::Torn { id, vessel, s_mm, area_mm2, into: hole.into, left: 1.0 });
    }

    /// Widens or narrows a hole.
    pub fn scale_hole(&mut self, id: &str, factor: f64) {
        if id == seal::SAC {
            self.seal.scale_rupture(factor);
            self.seal.declare(&mut self.patient);
        } else {
            if let Some(tear) = self.torn.iter_mut().find(|t| t.id == id) {
                tear.area_mm2 *= factor.clamp(0.0, 100.0);
            }
            self.refresh_torn();
        }
    }

    /// Narrows a vessel to a part of its opening, by one of the things that can.
    pub fn narrow(&mut self, vessel: VesselName, by: Narrows, open: f64) {
        self.narrowed.insert((vessel, by), open.clamp(0.0, 1.0));
        let of_it = self.narrowed.iter().filter(|((v, _), _)| *v == vessel);
        let open = of_it.map(|(_, open)| open).product();
        self.patient.set_patency(vessel, open);
    }

    fn set_hole(&mut self, id: &str, bleed: Bleed) {
        if self.patient.set_bleed(id, bleed) {
            self.holes.insert(id.into(), bleed);
        }
    }
}
