//! Everything about one patient that is slower than a pulse, and its hands on the network.

mod beat;
mod beds;
mod belly;
mod chest;
mod fluids;
mod life;
mod nerves;
mod spinal;
mod start;
mod vessels;

use super::anaesthesia::Anaesthesia;
use super::bleed::{self, Holes};
use super::blood::{Blood, Product};
use super::breathing::{Airway, Breathing};
use super::drugs::{self, Drug, Effects, Pharmacy};
use super::heart::Pacer;
use super::lab::{self, Test};
use super::long::Hold;
use super::network::{LINKS, NODES, Network, PIPES};
use super::organs::{Organ, Organs};
use super::patient::Patient;
use super::plumbing::{Map, node};
use super::reflex::Reflex;
use super::territory::BEDS;
use super::traces::{Recorder, SAMPLE_MS};
use super::vitals::{Death, Vitals};
use crate::math::ops;
pub use spinal::SpinalDrain;

/// Sites whose pulse is watched: aortic root, right and left radial, right and left femoral.
const WATCHED: [usize; 5] = [node::AORTA, node::R_RADIAL, node::L_RADIAL, node::R_FEMORAL, node::L_FEMORAL];

/// Means over the last whole beat.
#[derive(Clone, Debug)]
pub(super) struct Means {
    pub p: [f64; NODES],
    pub pipe: [f64; PIPES],
    pub link: [f64; LINKS],
    pub output_ml_s: f64,
}

/// Something running into a vein.
#[derive(Clone, Copy, Debug)]
struct Drip {
    product: Product,
    left_ml: f64,
    ml_s: f64,
}

#[derive(Clone, Debug)]
pub(super) struct Body {
    pub patient: Patient,
    pub map: Map,
    pub ms: u64,
    pub pacer: Pacer,
    pub reflex: Reflex,
    pub breathing: Breathing,
    pub blood: Blood,
    pub organs: Organs,
    pub pharmacy: Pharmacy,
    pub effects: Effects,
    pub holes: Holes,
    pub recorder: Recorder,
    pub vitals: Vitals,
    pub means: Means,
    pub death: Option<Death>,
    drips: Vec<Drip>,
    patency: [f64; 21],
    segmental: [f64; 3],
    occlusions: Vec<(usize, f64)>,
    pub anaesthesia: Anaesthesia,
    volatile: f64,
    pub csf_drain: Option<SpinalDrain>,
    pub csf_drained_ml: f64,
    /// The belly lies open: nothing presses in it.
    pub belly_open: bool,
    pub warming: bool,
    pub compressions: bool,
    /// Log of the resting factor on resistance that settling found.
    pub r_rest: f64,
    /// Added to venous unstressed volume, ml: what settling found, so that the resting output is the patient's.
    pub slack_ml: f64,
    /// Pain, fear: sympathetic drive that no reflex asks for.
    pub distress: f64,
    /// Log of a factor on resistance that only the case's start needed (for example an unmodelled hypertensive urge).
    pub steer: f64,
    /// How far arterioles and veins answer the nerves that ask them to tighten, 0 to 1: less in the old, the drugged and the
    /// long shocked. The case's start finds it; it comes back over hours.
    pub answer: f64,
    /// Blood pooled in slack veins at the case's start, ml; they tighten again over hours.
    pub pooled_ml: f64,
    /// How far the sinus node answers the nerves that ask it to hurry, 0 to 1; found and lost again as `answer` is.
    pub rate_answer: f64,
    /// Log of a factor on the sinus rate that only the case's start needed (a rate below what a calm node gives).
    pub rate_steer: f64,
    cvp_rest: f64,
    /// Length of a step of the network, ms: 1 or 2.
    pub step_ms: u32,
    beat_steps: u32,
    low: [f64; 5],
    high: [f64; 5],
    last_root: f64,
    dpdt: f64,
    auto: [f64; BEDS],
    pub tone: [f64; BEDS],
    /// Pressure before each bed, smoothed over a beat's part, mmHg.
    p_bed: [f64; BEDS],
    heart_work: f64,
    starved_s: f64,
    still_s: f64,
    contractility: f64,
    heart_rest_ml: f64,
    /// Pericardial pressure, smoothed over a beat, mmHg.
    squeeze_mmhg: f64,
    spaces_ml: f64,
    discarded_ml: f64,
    poured_ml: f64,
    start_ml: f64,
    urine_ml_s: f64,
    /// How long the long step may go on holding its means.
    pub hold: Hold,
    /// Fluids, organs and holes act. Off while the resting state is sought.
    pub living: bool,
}

impl Body {
    pub fn new<const W: usize>(patient: &Patient, map: Map, net: &mut Network<W>, lane: usize) -> Self {
        let p = patient.clone();
        let volume = p.blood_volume_ml();
        bleed::fill_spaces(net, lane);
        for i in 0..2 {
            net.v_ml[node::SAC + i][lane] = 0.0;
        }
        // The network starts near rest; the rest of the blood goes to the great veins.
        net.v_ml[node::SYSTEMIC][lane] += volume - net.total_ml(lane);
        let blood = Blood::new(&p, volume);
        let breathing = Breathing::new(p.age_years);
        let content = breathing.content(p.haemoglobin_g_l);
        let organs =
            Organs::new(&map.bed_q, content, p.creatinine_umol_l, p.egfr_ml_min(), p.mass_kg, p.csf_mmhg);
        let map_rest = p.map_rest_mmhg;
        let vitals = Vitals { temperature_c: p.temperature_c, ..Vitals::default() };
        Self {
            reflex: Reflex::new(map_rest),
            pharmacy: Pharmacy::new(p.mass_kg),
            map,
            ms: 0,
            pacer: Pacer::default(),
            breathing,
            blood,
            organs,
            effects: Effects::default(),
            holes: Holes::default(),
            recorder: Recorder::default(),
            vitals,
            means: Means {
                p: [0.0; NODES],
                pipe: [0.0; PIPES],
                link: [0.0; LINKS],
                output_ml_s: p.output_rest_l_min() * 1000.0 / 60.0,
            },
            death: None,
            drips: Vec::with_capacity(8),
            patency: [1.0; 21],
            segmental: [1.0; 3],
            occlusions: Vec::new(),
            anaesthesia: Anaesthesia::None,
            volatile: 0.0,
            csf_drain: None,
            csf_drained_ml: 0.0,
            belly_open: false,
            warming: false,
            compressions: false,
            r_rest: 0.0,
            slack_ml: 0.0,
            distress: 0.0,
            steer: 0.0,
            answer: 1.0,
            pooled_ml: 0.0,
            rate_answer: 1.0,
            rate_steer: 0.0,
            cvp_rest: 5.0,
            step_ms: 1,
            beat_steps: 0,
            low: [1e9; 5],
            high: [-1e9; 5],
            last_root: map_rest,
            dpdt: 0.0,
            auto: [1.0; BEDS],
            tone: [1.0; BEDS],
            p_bed: [map_rest; BEDS],
            heart_work: 1.0,
            starved_s: 0.0,
            still_s: 0.0,
            contractility: 1.0,
            heart_rest_ml: 330.0 * p.output_rest_l_min() / 5.4,
            squeeze_mmhg: 1.0,
            spaces_ml: 0.0,
            discarded_ml: 0.0,
            poured_ml: 0.0,
            start_ml: volume,
            urine_ml_s: 0.0,
            hold: Hold::default(),
            living: false,
            patient: p,
        }
    }

    /// After each step of the network: watch, and act when it is time.
    pub fn after<const W: usize>(&mut self, net: &mut Network<W>, lane: usize) {
        self.ms += u64::from(self.step_ms);
        self.beat_steps += 1;
        for (i, &n) in WATCHED.iter().enumerate() {
            let p = net.p_mmhg[n][lane];
            self.low[i] = self.low[i].min(p);
            self.high[i] = self.high[i].max(p);
        }
        let root = net.p_lv_mmhg[lane];
        self.dpdt = self.dpdt.max((root - self.last_root) * 1e3 / f64::from(self.step_ms));
        self.last_root = root;
        if self.pacer.tick(self.step_ms) {
            self.pacer.next(self.sinus_bpm(), self.effects.av_block);
            self.beat_end(net, lane);
        }
        if self.ms.is_multiple_of(SAMPLE_MS) {
            if self.recorder.on {
                self.sample(net, lane);
            }
            self.pericardium(net, lane);
        }
        if self.ms.is_multiple_of(20) {
            self.holes.look(net, lane);
            self.control(net, lane, 0.02);
        }
        if self.ms.is_multiple_of(100) {
            self.medicate(1);
        }
        if self.ms.is_multiple_of(1000) {
            self.second(net, lane, 1.0);
        }
    }

    /// Some steps of the pharmacy; liver and kidney clear with the root of the flow that they get (assumed).
    fn medicate(&mut self, steps: u32) {
        let flow = (self.means.output_ml_s * 60e-3 / self.patient.output_rest_l_min()).clamp(0.1, 1.5);
        let mut left = steps;
        while left > 0 {
            // What reacts is followed step by step, the rest goes its way at once.
            let reacts = self.pharmacy.holds(Drug::Protamine) && self.pharmacy.holds(Drug::Heparin);
            let n = if reacts { 1 } else { left };
            self.pharmacy.steps(n, flow.sqrt());
            self.antagonise();
            left -= n;
        }
        self.effects = self.pharmacy.effects();
    }

    fn antagonise(&mut self) {
        let protamine = self.pharmacy.in_body(Drug::Protamine);
        let heparin = self.pharmacy.in_body(Drug::Heparin);
        if protamine > 0.0 && heparin > 0.0 {
            // 1 mg binds 100 IU, within about a minute (common practice).
            let bound_mg = (heparin / 100.0).min(protamine) * (drugs::STEP_S / 20.0);
            self.pharmacy.remove(Drug::Protamine, bound_mg);
            self.pharmacy.remove(Drug::Heparin, bound_mg * 100.0);
        }
    }

    /// Slow life: `dt_s` is one second in the short step.
    pub fn second<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, dt_s: f64) {
        let goal =
            if let Anaesthesia::General(depth) = self.anaesthesia { depth.clamp(0.0, 2.0) } else { 0.0 };
        self.volatile += (goal - self.volatile) * (1.0 - ops::exp(-dt_s / 75.0));
        if !self.living {
            return;
        }
        self.settle_accounts(net, lane);
        self.fluids(net, lane, dt_s);
        self.oxygen(net, lane, dt_s);
        self.heat(dt_s);
        self.recover(dt_s);
        self.arrest(dt_s);
        let ph = self.blood.ph(self.breathing.paco2_mmhg);
        let low = drugs::LOW_MOLECULAR_PART * self.pharmacy.level(Drug::LowMolecularHeparin);
        let heparin = 1.0 - (1.0 - self.pharmacy.level(Drug::Heparin)) * (1.0 - low);
        let clotting = self.blood.clotting(ph, heparin);
        let shock = self.organs.of(Organ::Gut).debt + (self.blood.lactate_mmol_l - 3.0).max(0.0) * 0.05;
        let free = 1.0 - 0.9 * self.pharmacy.level(Drug::TranexamicAcid);
        self.blood.wear_off(dt_s);
        self.blood.lysis = (self.blood.set_free + 0.8 * shock.min(2.0)) * free;
        self.blood.break_down_fibrinogen(free, dt_s);
        self.holes.second(net, lane, &self.means.p, clotting, self.blood.lysis, dt_s);
        self.shade();
    }

    pub fn lab(&self, test: Test) -> f64 {
        let b = &self.blood;
        match test {
            Test::Haemoglobin => b.haemoglobin_g_l(),
            Test::Haematocrit => b.haematocrit(),
            Test::Platelets => b.platelets_e9_l(),
            Test::Inr => b.inr(),
            Test::Fibrinogen => b.fibrinogen_g_l(),
            Test::Act => {
                let iu_kg = self.pharmacy.in_body(Drug::Heparin) / self.patient.mass_kg;
                lab::act_s(iu_kg, b.factors(), b.temperature_c)
            }
            Test::Ph => b.ph(self.breathing.paco2_mmhg),
            Test::CarbonDioxide => self.breathing.paco2_mmhg,
            Test::Oxygen => self.breathing.pao2_mmhg,
            Test::BaseExcess => b.base_excess_mmol_l(),
            Test::Lactate => b.lactate_mmol_l,
            Test::Potassium => b.potassium_mmol_l,
            Test::IonisedCalcium => b.calcium_mmol_l,
            Test::Creatinine => self.organs.creatinine_umol_l,
            Test::Troponin => self.organs.troponin,
        }
    }
    pub fn set_airway(&mut self, airway: Airway) {
        self.breathing.airway = airway;
    }

    /// Some whole seconds of slow life on held means; returns the volume that moved, ml.
    pub fn leap_seconds<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, seconds: u32) -> f64 {
        let dt_s = f64::from(seconds);
        self.ms += 1000 * u64::from(seconds);
        // The running second's source enters whole.
        let source = net.source_ml_s[node::SYSTEMIC][lane];
        net.v_ml[node::SYSTEMIC][lane] += source;
        // Nothing drives blood out of the dead.
        let bled =
            if self.death.is_some() { 0.0 } else { self.holes.leap(net, lane, &mut self.means.p, dt_s) };
        self.medicate(10 * seconds);
        self.second(net, lane, dt_s);
        // So do those that the stretch passed; its last is the next to run.
        let passed = net.source_ml_s[node::SYSTEMIC][lane] * (dt_s - 1.0);
        net.v_ml[node::SYSTEMIC][lane] += passed;
        source.abs() + passed.abs() + bled
    }
}
