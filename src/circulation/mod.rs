//! The patient: pressure, flow, bleeding, reflexes, drugs, blood and organs.
//!
//! One closed loop at 1 kHz. Build it once from a [`Patient`], a [`Layout`] and a [`Start`]; then, in turn, change the
//! world (`set_bleed`, `set_patency`, `give`, ...), let time pass (`advance_ms`), and read (`vitals`, `flow_ml_s`,
//! `organs`, `lab`, `traces`). Nothing here draws chance: the same calls give the same bits.
//!
//! From the ground up: [`network`] is the engine and knows no medicine; [`plumbing`] lays a person out on it, with the beds of
//! [`territory`]; `body` holds what is slower than a pulse ([`reflex`], [`breathing`], [`blood`], [`drugs`], [`organs`],
//! [`bleed`] and its `clot`) and puts its hands on the network fifty times a second; `settle` finds the case's first moment, `long`
//! passes days, `batch` steps many patients at once; this file is the door.
//!
//! ```
//! use overwire::circulation::*;
//! let mut patient = Circulation::new(&Patient::default(), &Layout::adult(), &Start::default());
//! patient.set_bleed("tear", Bleed { from: Site::AortaMm(200.0), into: Space::LeftPleura, area_mm2: 4.0, clots: false });
//! patient.advance_ms(60_000);
//! assert!(patient.lost_ml(Space::LeftPleura) > 300.0);
//! ```

pub mod anaesthesia;
mod batch;
pub mod bleed;
pub mod blood;
mod body;
pub mod breathing;
mod clot;
pub mod drugs;
pub mod heart;
pub mod lab;
pub mod layout;
mod long;
pub mod network;
pub mod organs;
pub mod patient;
pub mod plumbing;
pub mod reflex;
mod settle;
pub mod territory;
pub mod traces;
pub mod vitals;

pub use anaesthesia::Anaesthesia;
pub use batch::advance_together;
pub use bleed::{Bleed, Feed, FeedFlow, Sac, Site, Space};
pub use blood::{Blood, Product};
pub use breathing::Airway;
pub use drugs::{Drug, LOW_MOLECULAR_PART};
pub use heart::Rhythm;
pub use lab::Test;
pub use layout::{Branch, Layout, Segment};
pub use organs::{Account, Organ, Organs};
pub use patient::{Grade, Patient, Start, StartDoubt, ValveDisease};
pub use traces::TraceSample;
pub use vitals::{Awareness, Death, Pressure, Vitals};

use crate::anatomy::VesselName;
use body::{Body, SpinalDrain};
use network::{Activation, Network};
use plumbing::{Map, node};

/// Slower than this, fluid moves no pressure within minutes, ml/min (assumed).
const SLOW_ML_MIN: f64 = 5.0;

/// One patient's circulation.
#[derive(Clone, Debug)]
pub struct Circulation {
    net: Box<Network<1>>,
    body: Box<Body>,
    doubts: Vec<StartDoubt>,
}

impl Circulation {
    /// Builds the patient at rest, then brings the start state about: blood already lost, reflexes settled, and the
    /// pressure and rate of the case's first moment. Deterministic; takes some minutes of simulated time.
    pub fn new(patient: &Patient, layout: &Layout, start: &Start) -> Self {
        Self::found(patient, layout, start, |_| {})
    }

    /// The same for a patient in whom something has changed since the rest that is their own and before the emergency, such as
    /// branches under an earlier graft.
    pub fn found(patient: &Patient, layout: &Layout, start: &Start, changed: impl FnOnce(&mut Self)) -> Self {
        let patient = patient.clamped();
        let (mut net, map) = plumbing::build::<1>(&patient, layout, 1e-3);
        let body = Body::new(&patient, map, &mut net, 0);
        let mut c = Self { net: Box::new(net), body: Box::new(body), doubts: Vec::new() };
        c.settle(start, changed);
        c
    }

    /// What the start asked for and could not be met; empty when all was.
    pub fn start_doubts(&self) -> &[StartDoubt] {
        &self.doubts
    }

    // --- time ---

    /// Lets whole milliseconds pass.
    pub fn advance_ms(&mut self, ms: u32) {
        self.body.hold.end();
        self.walk(ms);
    }
    /// The same within the long step, which goes on holding what it holds.
    fn walk(&mut self, ms: u32) {
        let half_s = 0.5e-3 * f64::from(self.body.step_ms);
        for _ in 0..ms / self.body.step_ms {
            let (v0, a0) = self.body.pacer.activation(0.0);
            let (v1, a1) = self.body.pacer.activation(half_s);
            self.net.step(
                &Activation { ventricles: [v0], atria: [a0] },
                &Activation { ventricles: [v1], atria: [a1] },
            );
            self.body.after(&mut self.net, 0);
        }
    }
    /// Milliseconds since the start.
    pub fn t_ms(&self) -> u64 {
        self.body.ms
    }

    // --- what the world does to the patient ---

    /// Whatever is done ends what the long step holds.
    fn touch(&mut self) -> &mut Body {
        self.body.hold.end();
        &mut self.body
    }

    /// What acts over minutes. A coarse patient goes on being held until it does: the long step watches drugs and flows.
    fn nudge(&mut self) -> &mut Body {
        if !self.body.hold.is_coarse() {
            self.body.hold.end();
        }
        &mut self.body
    }

    /// Opens or changes a hole. False when every hole is in use (24).
    pub fn set_bleed(&mut self, id: &str, bleed: Bleed) -> bool {
        self.touch();
        let body = &mut *self.body;
        body.holes.set(&mut *self.net, 0, &body.map, id, bleed)
    }
    /// Closes a hole for good.
    pub fn remove_bleed(&mut self, id: &str) {
        self.touch();
        self.body.holes.remove(&mut *self.net, 0, id);
    }
    /// Declares or changes an aneurysm sac. False when there is no room (two sacs).
    pub fn set_sac(&mut self, id: &str, sac: &Sac) -> bool {
        self.touch();
        let body = &mut *self.body;
        body.holes.set_sac(&mut *self.net, 0, &body.map, id, sac)
    }
    /// Part of a named origin that is open, 0 to 1.
    pub fn set_patency(&mut self, name: VesselName, open: f64) {
        let mut by = 0.0_f64;
        for row in Map::rows(name) {
            by = by.max(self.body.set_patency(&mut self.net, 0, row, open));
        }
        self.body.hold.reshape(by);
    }
    /// A branch of the aorta is fed by the first sac from now on: the false lumen of a dissection.
    pub fn feed_from_sac(&mut self, name: VesselName) {
        self.touch();
        for row in Map::rows(name) {
            self.net.lead_from(self.body.map.named_pipe + row, node::SAC);
        }
    }
    /// Stretches of aorta whose paired intercostals and lumbars are covered, mm from the valve.
    pub fn set_segmental_cover(&mut self, covered: &[(f64, f64)]) {
        let whole = self.body.map.layout.length_mm();
        // Fourth to eighth, ninth to twelfth, lumbars: stretches of the descending aorta, assumed by proportion.
        let groups =
            [(0.33 * whole, 0.52 * whole), (0.52 * whole, 0.72 * whole), (0.80 * whole, 0.98 * whole)];
        let open = groups.map(|(a, b)| {
            let hidden: f64 = covered.iter().map(|&(c, d)| (d.min(b) - c.max(a)).max(0.0)).sum();
            (1.0 - hidden / (b - a)).clamp(0.0, 1.0)
        });
        self.touch();
        self.body.set_segmentals(&mut self.net, 0, open);
    }
    /// Blocks part of the aortic lumen at `s_mm` (balloon, half-open graft); 0 frees it. What changes the open part by less than a
    /// hundredth of it changes nothing.
    pub fn set_occlusion(&mut self, s_mm: f64, fraction: f64) {
        let by = self.body.set_occlusion(&mut self.net, 0, s_mm, fraction);
        if by > 0.0 {
            self.body.hold.reshape(by);
        }
    }
    /// The aortic valve leaks through an orifice of this area, cm², from now on; a smaller one than it has changes nothing.
    pub fn set_aortic_regurgitation(&mut self, orifice_cm2: f64) {
        if orifice_cm2.is_finite() && orifice_cm2 > 0.0 {
            self.touch();
            let k = plumbing::orifice_cm2(orifice_cm2.min(2.0));
            let back = &mut self.net.valves[3].k_back[0];
            *back = back.min(k);
        }
    }
    /// Ventricular pacing at a rate, or none.
    pub fn set_pacing(&mut self, bpm: Option<f64>) {
        self.touch().pacer.pacing_bpm = bpm.filter(|b| b.is_finite()).map(|b| b.clamp(30.0, 220.0));
    }
    /// Holds the breath, or lets go.
    pub fn set_breath_hold(&mut self, held: bool) {
        self.touch().breathing.held = held;
    }
    /// Anaesthesia; a general one takes over the breathing.
    pub fn set_anaesthesia(&mut self, a: Anaesthesia) {
        self.touch().anaesthesia = a;
        if let Anaesthesia::General(_) = a {
            self.body.set_airway(Airway::Ventilated);
        }
    }
    /// Who breathes.
    pub fn set_airway(&mut self, a: Airway) {
        self.body.set_airway(a);
    }
    /// Inspired oxygen fraction, 0.21 to 1.
    pub fn set_fio2(&mut self, fio2: f64) {
        self.nudge().breathing.fio2 = if fio2.is_finite() { fio2.clamp(0.15, 1.0) } else { 0.21 };
    }
    /// Drains cerebrospinal fluid above this pressure, mmHg, and no more than so much in an hour, mL; none clamps the drain.
    pub fn set_csf_drain(&mut self, level_mmhg: Option<f64>, most_ml_h: Option<f64>) {
        self.body.csf_drain = level_mmhg.filter(|l| l.is_finite()).map(|level| SpinalDrain {
            at_mmhg: level.clamp(0.0, 30.0),
            most_ml_h: most_ml_h.filter(|ml| ml.is_finite()).map(|ml| ml.clamp(0.0, 200.0)),
        });
    }
    /// Opens the belly and leaves it open: nothing presses in it any more.
    pub fn open_belly(&mut self) {
        self.touch().belly_open = true;
    }
    /// Forced-air and fluid warming.
    pub fn set_warming(&mut self, on: bool) {
        self.body.warming = on;
    }
    /// Chest compressions.
    pub fn set_compressions(&mut self, on: bool) {
        self.touch().compressions = on;
    }
    /// A shock: fibrillation becomes a rhythm again if the heart has oxygen enough.
    pub fn defibrillate(&mut self) {
        let heart = self.body.organs.of(Organ::Heart);
        if self.body.pacer.rhythm == Rhythm::Fibrillation && heart.debt < 1.3 {
            self.touch().pacer.rhythm = Rhythm::Sinus;
        }
    }
    /// Extra sympathetic drive by pain and fear (0 none, 1 severe).
    pub fn set_distress(&mut self, drive: f64) {
        self.touch().distress = if drive.is_finite() { drive.clamp(0.0, 2.0) } else { 0.0 };
    }
    /// A bolus, in the drug's own unit.
    pub fn give(&mut self, drug: Drug, amount: f64) {
        self.touch().pharmacy.give(drug, amount);
    }
    /// An infusion, in the drug's rate unit; 0 stops it.
    pub fn infuse(&mut self, drug: Drug, rate: f64) {
        if self.body.pharmacy.infuse(drug, rate) {
            self.nudge();
        }
    }
    /// Fluid or a blood product as fast as a pressure bag gives it (150 ml/min).
    pub fn transfuse(&mut self, product: Product, ml: f64) {
        self.touch().drip(product, ml, ml / 150.0);
    }
    /// The same over some minutes (at most 600 ml/min).
    pub fn transfuse_over(&mut self, product: Product, ml: f64, minutes: f64) {
        let slow = ml < SLOW_ML_MIN * minutes;
        let body = if slow { self.nudge() } else { self.touch() };
        body.drip(product, ml, minutes);
    }
    /// The long step leaps further, also in the theatre ([`Self::follow_ms`]), what acts slowly does not end what it holds, and the
    /// pulse itself goes in steps twice as long: coarser, for sweeps of many patients. To be called on a whole second.
    pub fn set_coarse(&mut self) {
        const STEP_MS: u32 = 2;
        self.body.hold.reach_further();
        self.body.step_ms = STEP_MS;
        self.net.lengthen_step(1e-3 * f64::from(STEP_MS));
    }
    /// Is that so?
    pub fn is_coarse(&self) -> bool {
        self.body.hold.is_coarse()
    }
    /// Stops all running fluids.
    pub fn stop_fluids(&mut self) {
        self.touch().stop_drips();
    }
    /// Whether traces are recorded.
    pub fn set_tracing(&mut self, on: bool) {
        self.body.recorder.on = on;
    }

    /// An organ loses a part of itself at once (an embolus).
    pub fn injure(&mut self, organ: Organ, share: f64) {
        let account = &mut self.body.organs.accounts[organ as usize];
        account.dead = 1.0 - (1.0 - account.dead) * (1.0 - share.clamp(0.0, 1.0));
    }
    /// Lets the blood out of a space.
    pub fn drain_space(&mut self, space: Space) {
        self.touch();
        let (from, to) = (Map::space_node(space), Map::space_node(Space::Outside));
        let ml = self.net.v_ml[from][0].max(0.0);
        self.net.v_ml[from][0] -= ml;
        self.net.v_ml[to][0] += ml;
    }

    // --- reading ---

    /// Monitor and bedside values.
    pub fn vitals(&self) -> &Vitals {
        &self.body.vitals
    }
    /// Trace samples since the last call, at most the last minute.
    pub fn traces(&mut self) -> Vec<TraceSample> {
        self.body.recorder.drain()
    }
    /// Mean flow into a named vessel over the last beat, ml/s; negative when it runs backward. The aorta's own is the
    /// cardiac output.
    pub fn flow_ml_s(&self, name: VesselName) -> f64 {
        match name {
            VesselName::Aorta => self.body.means.output_ml_s,
            _ => Map::rows(name).map(|row| self.body.means.pipe[self.body.map.named_pipe + row]).sum(),
        }
    }
    /// Flow into a named vessel now, ml/s.
    pub fn flow_now_ml_s(&self, name: VesselName) -> f64 {
        match name {
            VesselName::Aorta => self.net.valves[3].q[0],
            _ => Map::rows(name).map(|row| self.net.pipe_q_ml_s[self.body.map.named_pipe + row][0]).sum(),
        }
    }
    fn aortic_pipe(&self, s_mm: f64) -> Option<usize> {
        let map = &self.body.map;
        let i = map.layout.segment(s_mm);
        let seg = map.layout.aorta[i];
        let beyond = s_mm > (seg.s0_mm + seg.s1_mm) / 2.0;
        let j = if beyond { i } else { i.checked_sub(1)? };
        Some(map.aorta_pipe + j.min(map.segments - 2))
    }
    /// Mean flow down the aorta at `s_mm` over the last beat, ml/s.
    pub fn aortic_flow_ml_s(&self, s_mm: f64) -> f64 {
        self.aortic_pipe(s_mm).map_or(self.body.means.output_ml_s, |e| self.body.means.pipe[e])
    }
    /// Flow down the aorta at `s_mm` now, ml/s.
    pub fn aortic_flow_now_ml_s(&self, s_mm: f64) -> f64 {
        self.aortic_pipe(s_mm).map_or(self.net.valves[3].q[0], |e| self.net.pipe_q_ml_s[e][0])
    }
    /// Mean aortic pressure at `s_mm` over the last beat, mmHg.
    pub fn pressure_mmhg(&self, s_mm: f64) -> f64 {
        self.body.means.p[self.body.map.aorta_node(s_mm)]
    }
    /// Aortic pressure at `s_mm` now, mmHg.
    pub fn pressure_now_mmhg(&self, s_mm: f64) -> f64 {
        self.net.p_mmhg[self.body.map.aorta_node(s_mm)][0]
    }
    /// Mean pressure beyond a named vessel's origin over the last beat, mmHg.
    pub fn vessel_pressure_mmhg(&self, name: VesselName) -> f64 {
        self.body.means.p[self.body.map.node_of(name)]
    }
    /// Flow through a hole, ml/s (last second), and the part of it that clot holds; none if there is no such hole.
    pub fn bleed_ml_s(&self, id: &str) -> Option<(f64, f64)> {
        self.body.holes.holes.iter().find(|h| h.id == id).map(|h| (h.flow_ml_s, h.clot.cover))
    }
    /// Mean pressure in a sac (mmHg, last beat) and the flow in each of its feeds (last second), in their order.
    pub fn sac(&self, id: &str) -> Option<(f64, Vec<FeedFlow>)> {
        let (n, flows) = self.body.holes.sac_flows(id)?;
        Some((self.body.means.p[n], flows))
    }
    /// Blood in a space, ml.
    pub fn lost_ml(&self, space: Space) -> f64 {
        self.body.lost_ml(&self.net, 0, space)
    }
    /// Pressure in a space, mmHg.
    pub fn space_mmhg(&self, space: Space) -> f64 {
        self.net.p_mmhg[Map::space_node(space)][0]
    }
    /// Pressure in the belly as a probe in the bladder reads it, mmHg.
    pub fn bladder_mmhg(&self) -> f64 {
        self.body.bladder_mmhg(&self.net, 0)
    }
    /// The space into which a space has broken, if it has.
    pub fn broken_into(&self, space: Space) -> Option<Space> {
        self.body.holes.broken_into(space)
    }
    /// Composition and water.
    pub fn blood(&self) -> &Blood {
        &self.body.blood
    }
    /// Compliance of all arteries together, ml/mmHg.
    pub fn arterial_compliance_ml_mmhg(&self) -> f64 {
        let arteries =
            (node::INNOMINATE..node::SPACE).chain(node::AORTA..node::AORTA + self.body.map.segments);
        arteries.map(|i| self.net.compliance(i, 0)).sum()
    }
    /// Blood in the vessels, ml.
    pub fn circulating_ml(&self) -> f64 {
        self.net.total_ml(0) - Space::ALL.iter().map(|&s| self.lost_ml(s)).sum::<f64>()
    }
    /// Blood that is not where the ledger says, ml: 0 but for rounding.
    pub fn ledger_error_ml(&self) -> f64 {
        self.body.ledger_error_ml(&self.net, 0)
    }
    /// Organs' accounts and markers.
    pub fn organs(&self) -> &Organs {
        &self.body.organs
    }
    /// Flow through one bed over the last beat, ml/s.
    pub fn bed_ml_s(&self, bed: territory::Bed) -> f64 {
        self.body.means.link[self.body.map.bed_link + bed as usize]
    }
    /// The true value of a laboratory test, now.
    pub fn lab(&self, test: Test) -> f64 {
        self.body.lab(test)
    }
    /// Amount of a drug in the body, and given so far, in its unit.
    pub fn drug(&self, drug: Drug) -> (f64, f64) {
        (self.body.pharmacy.in_body(drug), self.body.pharmacy.given(drug))
    }
    /// Cerebrospinal fluid drained so far, ml.
    pub fn csf_drained_ml(&self) -> f64 {
        self.body.csf_drained_ml
    }
    /// Mean pressure in the arteries of the right and the left buttock, mmHg.
    pub fn buttocks_mmhg(&self) -> [f64; 2] {
        [node::R_HYPOGASTRIC, node::L_HYPOGASTRIC].map(|n| self.body.means.p[n])
    }
    /// Nobody has found a way to be dead yet.
    pub fn alive(&self) -> bool {
        self.body.death.is_none()
    }
    /// When and of what the patient died.
    pub fn death(&self) -> Option<Death> {
        self.body.death
    }
    /// Pressure at the cord's arteries, mmHg, mean over the last beat.
    pub fn cord_artery_mmhg(&self) -> f64 {
        self.body.means.p[node::CORD]
    }
    /// The first number in the state that is not finite, or volume that is negative; none in a sound state.
    pub fn fault(&self) -> Option<String> {
        for i in 0..self.net.nodes() {
            let (v, p) = (self.net.v_ml[i][0], self.net.p_mmhg[i][0]);
            if !v.is_finite() || v < -1e-6 || !p.is_finite() {
                return Some(format!("node {i}: {v} ml, {p} mmHg"));
            }
        }
        let wild = self.net.pipe_q_ml_s.iter().position(|q| !q[0].is_finite());
        wild.map(|e| format!("pipe {e} carries no number"))
    }
    /// True when every number in the state is finite and no volume is negative.
    pub fn sound(&self) -> bool {
        self.fault().is_none()
    }
}
