//! Everything about one patient that is slower than a pulse, and its hands on the network.

use super::bleed::{self, Holes, Space};
use super::blood::{Blood, Product};
use super::breathing::{Airway, Breathing};
use super::drugs::{self, Drug, Effects, Pharmacy};
use super::heart::{Pacer, Rhythm};
use super::lab::{self, Test};
use super::long::Hold;
use super::network::{LA, LINKS, LV, NODES, Network, PIPES, RA, RV};
use super::organs::{Organ, Organs};
use super::patient::Patient;
use super::plumbing::{BED_KINDS, BEDS, Bed, Map, RHO_CGS, node};
use super::reflex::{Reflex, Senses};
use super::traces::{Recorder, SAMPLE_MS, Scene};
use super::vitals::{Awareness, Death, Pressure, Vitals};
use crate::math::ops;

/// Sites whose pulse is watched: aortic root, right and left radial, right and left femoral.
const WATCHED: [usize; 5] = [node::AORTA, node::R_RADIAL, node::L_RADIAL, node::R_FEMORAL, node::L_FEMORAL];

/// Anaesthesia other than by injected drugs.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Anaesthesia {
    /// Nothing.
    None,
    /// Local at the groin: takes the pain of the wound, nothing else.
    Local,
    /// Volatile at this depth (1 = surgical), intubated and ventilated.
    General(f64),
}

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
    pub csf_drain_mmhg: Option<f64>,
    pub csf_drained_ml: f64,
    pub warming: bool,
    pub compressions: bool,
    /// Log of the resting factor on resistance that settling found.
    pub r_rest: f64,
    /// Added to venous unstressed volume, ml: what settling found, so that the resting output is the patient's.
    pub slack_ml: f64,
    /// The same at rest, before the case's start was met.
    pub slack_rest_ml: f64,
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
            csf_drain_mmhg: None,
            csf_drained_ml: 0.0,
            warming: false,
            compressions: false,
            r_rest: 0.0,
            slack_ml: 0.0,
            slack_rest_ml: 0.0,
            distress: 0.0,
            steer: 0.0,
            answer: 1.0,
            pooled_ml: 0.0,
            rate_answer: 1.0,
            rate_steer: 0.0,
            cvp_rest: 5.0,
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
        self.ms += 1;
        self.beat_steps += 1;
        for (i, &n) in WATCHED.iter().enumerate() {
            let p = net.p_mmhg[n][lane];
            self.low[i] = self.low[i].min(p);
            self.high[i] = self.high[i].max(p);
        }
        let root = net.p_lv_mmhg[lane];
        self.dpdt = self.dpdt.max((root - self.last_root) * 1e3);
        self.last_root = root;
        if self.pacer.tick() {
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
            self.control(net, lane, 0.02);
        }
        if self.ms.is_multiple_of(100) {
            let flow = (self.means.output_ml_s * 60e-3 / self.patient.output_rest_l_min()).clamp(0.1, 1.5);
            self.pharmacy.step(flow.sqrt());
            self.antagonise();
            self.effects = self.pharmacy.effects();
        }
        if self.ms.is_multiple_of(1000) {
            self.second(net, lane, 1.0);
        }
    }

    /// Beta receptors that this patient's own tablets leave open.
    fn beta_open_rest(&self) -> f64 {
        if self.patient.beta_blocked { 0.45 } else { 1.0 }
    }

    /// What the heart feels of a sympathetic drive, over what it feels at rest, where some tone is already there. A blocker
    /// competes: a strong drive wins back a part (assumed: a drive of 2 takes a third of its odds).
    fn beta_seen(&self, drive: f64, tone: f64) -> f64 {
        let at_rest = self.beta_open_rest();
        if drive < -tone {
            return drive + tone - tone * at_rest;
        }
        let odds = self.effects.beta_block / (1.0 - self.effects.beta_block).max(0.02);
        let open = 1.0 / (1.0 + odds / (1.0 + 0.2 * drive.max(0.0)));
        (drive + tone) * open * at_rest - tone * at_rest
    }

    /// The sinus node's rate now, per minute.
    fn sinus_bpm(&self) -> f64 {
        let d = &self.reflex.drive;
        let sympathetic = self.beta_seen(d.rate, RATE_TONE);
        let open = (1.0 - self.effects.beta_block) * self.beta_open_rest();
        // The old heart answers less (assumed: a third less at 80 than at 30).
        let youth = 1.0 - 0.0067 * (self.patient.age_years - 30.0).clamp(0.0, 60.0);
        let nerves = 0.85 * youth * early(sympathetic) + 0.17 * d.vagal;
        let nerves = if nerves > 0.0 { nerves * self.rate_answer } else { nerves };
        let log = nerves + self.effects.rate * open.max(0.1) + self.rate_steer;
        // Age sets the ceiling (Tanaka, JACC 2001); it is approached, not hit.
        let top = 208.0 - 0.7 * self.patient.age_years;
        let rest = self.patient.heart_rate_rest_bpm;
        let asked = rest * ops::exp(log);
        // A vagus in full tone alone halves the rate of a node; it does not stop it for long (textbook).
        let floor = 0.5 * rest;
        let end = if asked > rest { top } else { floor };
        let reached = end - (end - rest) * ops::exp(-(asked - rest) / (end - rest));
        let heat = 1.0 + 0.07 * (self.blood.temperature_c - self.patient.temperature_c);
        let starved = ops::exp(-(self.starved_s - 60.0).max(0.0) / 50.0);
        (reached * heat.clamp(0.3, 1.4)).min(top) * starved
    }

    fn beat_end<const W: usize>(&mut self, net: &mut Network<W>, lane: usize) {
        let n = f64::from(self.beat_steps.max(1));
        for (to, from) in self.means.p.iter_mut().zip(&net.sums.p) {
            *to = from[lane] / n;
        }
        for (to, from) in self.means.pipe.iter_mut().zip(&net.sums.pipe) {
            *to = from[lane] / n;
        }
        for (e, to) in self.means.link.iter_mut().enumerate().take(self.map.links) {
            *to = net.link_flow_ml_s(e, lane, &self.means.p);
        }
        self.means.output_ml_s = net.sums.valve[3][lane] / n;
        net.clear_sums(lane);
        let pressure = |i: usize| Pressure {
            systolic_mmhg: self.high[i],
            diastolic_mmhg: self.low[i],
            mean_mmhg: self.means.p[WATCHED[i]],
        };
        let v = &mut self.vitals;
        v.root = pressure(0);
        v.right_radial = pressure(1);
        v.left_radial = pressure(2);
        v.right_femoral = pressure(3);
        v.left_femoral = pressure(4);
        v.rhythm = self.pacer.rhythm;
        v.heart_rate_bpm = match self.pacer.rhythm {
            Rhythm::Asystole | Rhythm::Fibrillation | Rhythm::AvBlock => 0.0,
            _ => 60e3 / n,
        };
        v.cvp_mmhg = self.means.p[RA];
        v.left_atrial_mmhg = self.means.p[LA];
        v.output_l_min = self.means.output_ml_s * 0.06;
        v.stroke_ml = self.means.output_ml_s * n * 1e-3;
        v.dp_dt_mmhg_s = self.dpdt;
        self.dpdt = 0.0;
        self.low = [1e9; 5];
        self.high = [-1e9; 5];
        self.beat_steps = 0;
    }

    fn sample<const W: usize>(&mut self, net: &Network<W>, lane: usize) {
        let p = |n: usize| net.p_mmhg[n][lane];
        let heart = self.organs.of(Organ::Heart);
        let short = (1.0 - heart.delivery / (0.55 * self.heart_work).max(0.05)).clamp(0.0, 1.0);
        let scene = Scene {
            pacer: &self.pacer,
            breathing: &self.breathing,
            st_mv: -0.25 * short,
            potassium: self.blood.potassium_mmol_l,
            hand: (self.map.bed_r[Bed::RightArm as usize] * net.link_g[Bed::RightArm as usize][lane])
                .clamp(0.0, 1.5)
                .sqrt(),
        };
        let pressures = [p(node::R_RADIAL), p(node::L_RADIAL), p(node::R_FEMORAL), p(RA)];
        self.recorder.sample(self.ms, pressures, &scene);
    }

    /// Squeezes the heart by the pericardium, and by hands on the chest.
    fn pericardium<const W: usize>(&mut self, net: &mut Network<W>, lane: usize) {
        let chest = self.vitals.chest_mmhg;
        let fluid_node = Map::space_node(Space::PericardialSac);
        let fluid = net.v_ml[fluid_node][lane];
        let heart: f64 = [RA, RV, LA, LV].iter().map(|&i| net.v_ml[i][lane]).sum();
        if !self.reflex.closed {
            self.heart_rest_ml += (heart - self.heart_rest_ml) * (0.004 / 5.0);
        }
        let p = bleed::pericardial_mmhg(heart, self.heart_rest_ml, fluid);
        // Chest compressions: 100 a minute, 60 mmHg at the bottom. Assumed.
        self.squeeze_mmhg += (p - self.squeeze_mmhg) * (0.004 / 0.5);
        let hands = if self.compressions {
            let t = (self.ms % 600) as f64 / 600.0;
            if t < 0.5 { 60.0 * ops::sin(std::f64::consts::TAU * t) } else { 0.0 }
        } else {
            0.0
        };
        for i in [RA, RV, LA, LV] {
            net.p_ext_mmhg[i][lane] = chest + p + hands;
        }
        // The fluid has no compliance of its own: it is squeezed by what squeezes the heart, as long as there is any.
        net.set_node(fluid_node, lane, 1e6, 0.0);
        net.p_ext_mmhg[fluid_node][lane] = (p + chest + hands) * (fluid / 20.0).clamp(0.0, 1.0);
    }

    /// Nerves, breath and tone, fifty times a second.
    pub fn control<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, dt_s: f64) {
        let chest = self.breathing.chest_mmhg(dt_s);
        self.vitals.chest_mmhg = chest;
        for i in [node::PA, node::PULM, node::PV] {
            net.p_ext_mmhg[i][lane] = chest;
        }
        let fx = self.effects;
        let asleep = (self.volatile + fx.sedation).min(1.3);
        let pain = self.distress
            * (1.0 - fx.analgesia)
            * (1.0 - asleep).clamp(0.0, 1.0)
            * if self.anaesthesia == Anaesthesia::Local { 0.85 } else { 1.0 };
        // Stretch is what the receptors feel: pressure across the wall, not the chamber's own.
        let filling = 0.5 * (self.means.p[RA] + self.means.p[LA]) - self.squeeze_mmhg;
        let brain = self.organs.brain_delivery();
        self.reflex.step(&Senses {
            p_mmhg: net.p_mmhg[node::AORTA + 2][lane],
            filling,
            brain,
            distress: pain,
            depression: 1.0 - (1.0 - fx.reflex) * (1.0 - 0.45 * self.volatile.min(1.2)),
            vagal_block: fx.vagal_block,
        });
        let d = self.reflex.drive;
        // Contractility.
        let ph = self.blood.ph(self.breathing.paco2_mmhg);
        let heart = self.organs.of(Organ::Heart);
        let acid = crate::math::interp::linear(&[(6.8, 0.4), (7.0, 0.65), (7.2, 0.9), (7.35, 1.0)], ph);
        let calcium = crate::math::interp::linear(
            &[(0.4, 0.5), (0.8, 0.85), (1.1, 1.0), (1.6, 1.1)],
            self.blood.calcium_mmol_l,
        );
        let starved = ops::exp(-(self.starved_s - 30.0).max(0.0) / 120.0);
        let alive = (1.0 - heart.dead) * (1.0 - 0.8 * heart.stunned);
        let sympathetic = self.beta_seen(d.contractility, FORCE_TONE);
        let pacing = if self.pacer.rhythm == Rhythm::Paced { 0.8 } else { 1.0 };
        let anaesthetic = 1.0 - 0.08 * self.volatile.min(1.5);
        let target = (1.0 + 0.28 * sympathetic).max(0.3)
            * ops::exp(fx.contractility)
            * acid
            * calcium
            * starved
            * alive
            * pacing
            * anaesthetic;
        if (target - self.contractility).abs() > 1e-9 {
            let f = target / self.contractility;
            for c in [RV, LV] {
                net.chambers[c].e_max[lane] *= f;
            }
            self.contractility = target;
        }
        // Veins.
        let v = if d.venous > 0.0 { d.venous * self.answer } else { d.venous };
        let squeeze = if v > 0.0 { 1.0 - ops::exp(-0.9 * v) } else { 0.7 * v };
        let size = self.blood_rest_ml() / 5300.0;
        let relax = fx.venous + 0.03 * self.volatile;
        let pool = |rest: f64, reach: f64| (rest - reach * squeeze + rest * relax) * size;
        net.v_u_ml[node::SPLANCHNIC][lane] = pool(1121.0, 800.0) + 0.45 * (self.slack_ml + self.pooled_ml);
        net.v_u_ml[node::SYSTEMIC][lane] = pool(1375.0, 600.0) + 0.55 * (self.slack_ml + self.pooled_ml);
        self.beds(net, lane, dt_s);
    }

    /// Resistance of each bed: nerves, drugs, its own regulation, viscosity.
    fn beds<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, dt_s: f64) {
        let fx = self.effects;
        let asked = self.reflex.drive.resistance;
        // Arterioles give in later than veins. Assumed.
        let log = 0.42 * if asked > 0.0 { asked * (0.5 + 0.5 * self.answer) } else { asked };
        let drug = fx.resistance - 0.08 * self.volatile;
        // After long shock the vessels no longer answer (vasoplegia by acid and debt). Assumed slope.
        let ph = self.blood.ph(self.breathing.paco2_mmhg);
        let answer = crate::math::interp::linear(&[(6.9, 0.35), (7.1, 0.7), (7.25, 1.0)], ph);
        let viscosity =
            self.blood.viscosity() / ops::exp(2.0 * (self.patient.haemoglobin_g_l / 340.0 - 0.43));
        let common = ops::exp(self.r_rest + self.steer) * viscosity;
        let p_vein = self.means.p[node::SYSTEMIC];
        let belly = net.p_mmhg[Map::space_node(Space::Peritoneum)][lane];
        let content = self.breathing.content(self.blood.haemoglobin_g_l())
            / (1.36e-3 * self.patient.haemoglobin_g_l).max(1e-6);
        let content = content.clamp(0.3, 1.2);
        let rest = self.patient.map_rest_mmhg - 4.0;
        let per_rest = 1.0 / (rest - 5.8);
        for (i, kind) in BED_KINDS.iter().enumerate() {
            let p = self.means.p[kind.artery];
            let outside = match kind.bed {
                Bed::Cord => self.organs.csf_mmhg,
                Bed::RightBrain | Bed::LeftBrain | Bed::PosteriorBrain => self.organs.csf_mmhg,
                Bed::RightKidney | Bed::LeftKidney | Bed::Gut | Bed::Colon | Bed::Liver => belly,
                _ => 0.0,
            };
            let back = outside.max(p_vein);
            let (floor, ceiling) = match kind.bed {
                Bed::Heart if self.patient.ischaemic_heart => (0.55, 2.0),
                Bed::Heart => (0.22, 2.0),
                _ => (0.6, 1.6),
            };
            let mut want = (p - back) * per_rest;
            if kind.bed == Bed::Heart {
                want = (p - back) / (0.5 * rest) / self.heart_work.max(0.2);
            }
            // A bed poor in oxygen opens further.
            let want = (want * content).clamp(floor, ceiling);
            self.auto[i] += dt_s / 6.0 * (1.0 + kind.autoregulation * (want - 1.0) - self.auto[i]);
            let reach = 0.3 + 0.7 * kind.sympathetic;
            let reach = if matches!(kind.bed, Bed::Heart | Bed::Cord) || kind.autoregulation > 0.8 {
                0.0
            } else {
                reach
            };
            let tone = ops::exp((log * kind.sympathetic + drug * reach) * answer) * self.auto[i];
            self.tone[i] = tone;
            // The bed empties against the highest of vein, squeeze from outside, and its arterioles' own closing.
            self.p_bed[i] += (net.p_mmhg[kind.artery][lane] - self.p_bed[i]) * (dt_s / 0.4);
            let p_now = self.p_bed[i];
            let back = back.max(CLOSES_MMHG * tone.sqrt());
            let (drives, falls) = ((p_now - back).max(0.0), (p_now - p_vein).max(1.0));
            net.link_g[self.map.bed_link + i][lane] =
                drives.min(falls) / (falls * self.map.bed_r[i] * tone * common);
        }
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
        let heparin = self.pharmacy.level(Drug::Heparin);
        let clotting = self.blood.clotting(ph, heparin);
        let shock = self.organs.of(Organ::Gut).debt + (self.blood.lactate_mmol_l - 3.0).max(0.0) * 0.05;
        let tranexamic = self.pharmacy.level(Drug::TranexamicAcid);
        self.blood.lysis = (0.1 + 0.8 * shock.min(2.0)) * (1.0 - 0.9 * tranexamic);
        self.holes.second(net, lane, &self.means.p, clotting, self.blood.lysis, dt_s);
        self.shade();
    }

    /// What has left the vessels since the last look takes its cells with it.
    pub fn settle_accounts<const W: usize>(&mut self, net: &Network<W>, lane: usize) {
        let now: f64 = Space::ALL.iter().map(|&s| net.v_ml[Map::space_node(s)][lane]).sum();
        self.blood.shed(now - self.spaces_ml);
        self.spaces_ml = now;
        self.blood.volume_ml = net.total_ml(lane) - now;
    }

    fn fluids<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, dt_s: f64) {
        let mut in_ml = 0.0;
        let ms = (dt_s * 1e3).round();
        for i in 0..self.drips.len() {
            let d = self.drips[i];
            let mut ml = (d.ml_s * dt_s).min(d.left_ml);
            if d.product == Product::SalvagedCells {
                ml = self.salvage(net, lane, ml);
            }
            self.drips[i].left_ml -= ml.max(1e-9);
            self.blood.pour(d.product, ml);
            in_ml += ml;
        }
        self.drips.retain(|d| d.left_ml > 1e-6);
        let capillary = self.capillary_over_rest_mmhg();
        let held = net.v_ml[node::SYSTEMIC][lane];
        let filtered = (self.blood.filtration_ml_s(capillary) * dt_s).min(0.02 * held);
        self.blood.filter(filtered);
        let urine = (self.urine(net, lane) * dt_s).min(0.01 * held).max(0.0);
        self.urine_ml_s = urine / dt_s;
        self.blood.urine_ml += urine;
        self.poured_ml += in_ml - filtered - urine;
        net.source_ml_s[node::SYSTEMIC][lane] = (in_ml - filtered - urine) / (ms * 1e-3);
        let calcium = self.pharmacy.in_body(Drug::CalciumChloride);
        if calcium > 0.0 {
            // Ionised calcium spreads in about 15 l and is buffered: half counts.
            let part = calcium * (1.0 - ops::exp(-dt_s / 20.0));
            self.pharmacy.remove(Drug::CalciumChloride, part);
            self.blood.calcium_mmol_l += 0.5 * part / 15.0;
        }
        let base = self.pharmacy.in_body(Drug::Bicarbonate);
        if base > 0.0 {
            let part = base * (1.0 - ops::exp(-dt_s / 30.0));
            self.pharmacy.remove(Drug::Bicarbonate, part);
            self.blood.other_base_mmol_l += part / (0.8 * self.blood.litres_of_water());
            self.breathing.paco2_mmhg += 0.05 * part;
        }
        self.blood.drift(dt_s, self.organs.filtration);
    }

    /// Capillary pressure less that at rest, mmHg: falls with the flow and with the veins.
    fn capillary_over_rest_mmhg(&self) -> f64 {
        let rest = self.patient.output_rest_l_min() * 1e3 / 60.0;
        11.2 * (self.means.output_ml_s / rest - 1.0) + self.means.p[node::SYSTEMIC] - (self.cvp_rest + 0.8)
    }

    /// Urine, ml/s: half a millilitre to one per kilogram and hour at rest; falls with kidney pressure and sympathetic drive.
    fn urine<const W: usize>(&self, net: &Network<W>, lane: usize) -> f64 {
        let rest = 0.9 * self.patient.mass_kg / 3600.0;
        let p = 0.5 * (self.means.p[node::R_RENAL] + self.means.p[node::L_RENAL]);
        let belly = net.p_mmhg[Map::space_node(Space::Peritoneum)][lane];
        let pressure = ((p - 2.0 * belly - 40.0) / (self.patient.map_rest_mmhg - 44.0)).clamp(0.0, 1.6);
        let nerves = ops::exp(-1.5 * self.reflex.drive.resistance.max(-0.3));
        let wet =
            ((self.blood.interstitial_ml / (160.0 * self.patient.mass_kg) - 1.0) * 6.0).clamp(-0.6, 3.0);
        let water = 1.0 + 4.0 * self.pharmacy.level(Drug::Furosemide) + wet;
        rest * pressure * nerves * water * self.organs.filtration.sqrt()
    }

    /// Sucks shed blood out of the open spaces; 2.2 ml of it make 1 ml of washed cells. Returns what there is.
    fn salvage<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, ml: f64) -> f64 {
        let mut left = 2.2 * ml;
        let mut got = 0.0;
        for s in [Space::Outside, Space::Peritoneum, Space::LeftPleura, Space::RightPleura] {
            let v = &mut net.v_ml[Map::space_node(s)][lane];
            let take = left.min(*v).max(0.0);
            *v -= take;
            left -= take;
            got += take;
        }
        self.spaces_ml -= got;
        self.discarded_ml += got;
        got / 2.2
    }

    pub fn oxygen<const W: usize>(&mut self, net: &Network<W>, lane: usize, dt_s: f64) {
        let blood_in = |s: Space| net.v_ml[Map::space_node(s)][lane];
        let lungs = (blood_in(Space::LeftPleura) + blood_in(Space::RightPleura)) / 9000.0;
        let wet = ((self.means.p[LA] - 20.0) / 30.0).max(0.0);
        self.breathing.shunt = (lungs + wet).clamp(0.0, 0.7);
        let output = self.means.output_ml_s * 0.06 / self.patient.output_rest_l_min();
        let brain = self.organs.brain_delivery();
        let acid = 0.05 * (-self.blood.base_excess_mmol_l()).max(0.0);
        let drive = acid + 0.6 * self.reflex.drive.resistance.max(0.0);
        let heat = ops::exp(0.07 * (self.blood.temperature_c - 37.0));
        let depression = self.effects.breathing + 0.6 * self.volatile;
        self.breathing.second(output, depression, brain, drive, heat, dt_s);
        let content = self.breathing.content(self.blood.haemoglobin_g_l());
        let mut q = [0.0; BEDS];
        q.copy_from_slice(&self.means.link[self.map.bed_link..self.map.bed_link + BEDS]);
        let v = &self.vitals;
        let product = v.heart_rate_bpm * v.root.systolic_mmhg;
        let rest = self.patient.heart_rate_rest_bpm * self.patient.map_rest_mmhg * 1.3;
        self.heart_work = (0.3 + 0.7 * product / rest).clamp(0.25, 3.0);
        let calm = 1.0 - 0.35 * (self.volatile + self.effects.sedation).min(1.0);
        self.organs.step(&q, content, self.heart_work, calm, &mut self.blood, dt_s);
        // Cord.
        let production = 0.35 / 60.0 * dt_s;
        let csf_rest = self.patient.csf_mmhg + 0.7 * (self.means.p[RA] - self.cvp_rest);
        let o = &mut self.organs;
        o.csf_mmhg += (csf_rest - o.csf_mmhg) * (1.0 - ops::exp(-dt_s / 600.0));
        if let Some(level) = self.csf_drain_mmhg
            && o.csf_mmhg > level
        {
            // Drips to the level of the chamber; a millilitre of fluid is about a mmHg. Assumed.
            let ml = (o.csf_mmhg - level).min(dt_s * 0.02);
            o.csf_mmhg -= ml;
            self.csf_drained_ml += ml + production.min(ml);
        }
        o.cord_perfusion_mmhg = self.means.p[node::CORD] - o.csf_mmhg.max(self.means.p[RA]);
        let contrast = self.pharmacy.in_body(Drug::Contrast) / self.patient.egfr_ml_min().max(5.0);
        let dose = (contrast - 1.8).max(0.0) * 1e-6 * dt_s;
        o.contrast_harm = (o.contrast_harm + dose).min(0.8);
    }

    fn heat(&mut self, dt_s: f64) {
        // A covered patient holds; anaesthesia and shock lose 0.5-1 C/h; a forced-air blanket and warmed fluid give back
        // about 0.5 C/h (Sessler, Lancet 2016; rounded).
        let t = self.blood.temperature_c;
        let shock = (1.0 - self.means.output_ml_s * 0.06 / self.patient.output_rest_l_min()).clamp(0.0, 1.0);
        let asleep = (self.volatile + self.effects.sedation).min(1.0);
        let loss = 0.15 + 0.55 * asleep + 0.5 * shock;
        let gain = if self.warming { 0.9 } else { 0.0 }
            + if asleep < 0.3 { 0.3 * (36.8 - t).clamp(0.0, 1.0) } else { 0.0 };
        let rest = 0.15 * ((t - 30.0) / 7.0).clamp(0.0, 1.0);
        let slope = if t > 36.9 { (36.9 - t) * 0.5 } else { rest - loss * ((t - 22.0) / 15.0) + gain };
        let slope = if t > 36.6 && slope > 0.0 { slope * ((36.9 - t) / 0.3).clamp(0.0, 1.0) } else { slope };
        self.blood.temperature_c += slope * dt_s / 3600.0;
    }

    /// Vessels that had given in at the start answer again over some hours. Assumed: four.
    fn recover(&mut self, dt_s: f64) {
        let part = dt_s / 14_400.0;
        self.answer += (1.0 - self.answer) * part;
        self.rate_answer += (1.0 - self.rate_answer) * part;
        self.rate_steer -= self.rate_steer * part;
        self.pooled_ml -= self.pooled_ml * part;
        if self.steer < 0.0 {
            self.steer -= self.steer * part;
        }
    }

    fn arrest(&mut self, dt_s: f64) {
        let heart = *self.organs.of(Organ::Heart);
        let short = (1.0 - heart.delivery / (0.55 * self.heart_work).max(0.02)).clamp(0.0, 1.0);
        self.starved_s = (self.starved_s + dt_s * if short > 0.55 { short } else { -1.5 }).clamp(0.0, 600.0);
        let beating = !matches!(self.pacer.rhythm, Rhythm::Asystole | Rhythm::Fibrillation);
        if beating && self.starved_s > 240.0 {
            self.pacer.rhythm = Rhythm::Asystole;
        }
        let fibrillates = self.blood.temperature_c < 27.5 || (heart.debt > 1.3 && self.heart_work > 1.0);
        if beating && fibrillates {
            self.pacer.rhythm = Rhythm::Fibrillation;
        }
        if beating && self.blood.potassium_mmol_l > 8.5 {
            self.pacer.rhythm = Rhythm::Asystole;
        }
        let still = self.means.output_ml_s * 0.06 < 0.15 * self.patient.output_rest_l_min();
        self.still_s = if still { self.still_s + dt_s } else { (self.still_s - dt_s).max(0.0) };
        if self.death.is_none() {
            let o = &self.organs;
            let brain = [Organ::RightBrain, Organ::LeftBrain, Organ::PosteriorBrain];
            let dead = brain.iter().map(|&x| o.of(x).dead).sum::<f64>() / 3.0;
            let cause = if self.still_s > 900.0 {
                Some(match self.pacer.rhythm {
                    Rhythm::Fibrillation => "ventricular fibrillation",
                    _ if self.spaces_ml > 0.3 * self.start_ml => "exsanguination",
                    _ => "cardiac arrest",
                })
            } else if dead > 0.8 {
                Some("brain death")
            } else {
                None
            };
            self.death = cause.map(|cause| Death { at_ms: self.ms, cause });
        }
    }

    /// Fills in the slow vital signs.
    fn shade(&mut self) {
        let asleep = self.volatile + self.effects.sedation;
        let brain = self.organs.brain_delivery();
        let v = &mut self.vitals;
        v.spo2 = self.breathing.saturation();
        v.etco2_mmhg = self.breathing.etco2_mmhg;
        v.breaths_per_min = self.breathing.rate_per_min;
        v.temperature_c = self.blood.temperature_c;
        v.urine_ml_h = self.urine_ml_s * 3600.0;
        v.awareness = if self.death.is_some() {
            Awareness::Dead
        } else if brain < 0.45 {
            Awareness::Unconscious
        } else if asleep > 0.8 {
            Awareness::Asleep
        } else if brain < 0.62 || asleep > 0.4 {
            Awareness::Drowsy
        } else if brain < 0.78 {
            Awareness::Anxious
        } else {
            Awareness::Alert
        };
    }

    fn blood_rest_ml(&self) -> f64 {
        self.start_ml
    }

    /// Takes the present state as the patient's own rest.
    pub fn mark_rest(&mut self) {
        self.cvp_rest = self.means.p[RA];
        self.slack_rest_ml = self.slack_ml;
        self.map.bed_q.copy_from_slice(&self.means.link[..BEDS]);
        let content = self.breathing.content(self.patient.haemoglobin_g_l);
        let p = &self.patient;
        self.organs = Organs::new(
            &self.map.bed_q,
            content,
            p.creatinine_umol_l,
            p.egfr_ml_min(),
            p.mass_kg,
            p.csf_mmhg,
        );
    }

    /// How far the patient's compensation has given in at the start: up to 0.8 the vessels answer the nerves less and less
    /// (frozen, a fifth of the blood lost is a mean pressure near 45 mmHg), beyond it veins pool blood (15 % for each 1) and arterioles
    /// slacken. Below 0 arterioles are tighter than the nerves make them.
    pub fn give_in(&mut self, x: f64) {
        let beyond = (x - 0.8).max(0.0);
        self.answer = 1.0 - x.clamp(0.0, 0.8);
        self.pooled_ml = 0.15 * self.start_ml * beyond;
        self.steer = if x < 0.0 { -0.4 * x } else { -0.25 * beyond };
    }

    /// What the start's rate needs: above 0 pain and fear, below it a sinus node that answers less, and last a slower one.
    pub fn urge(&mut self, x: f64) {
        self.distress = x.max(0.0);
        self.rate_answer = 1.0 + x.clamp(-0.9, 0.0);
        self.rate_steer = (x + 0.9).min(0.0);
    }

    /// Some seconds of the time before the case: tissue water follows the lost blood into the vessels.
    pub fn refill_before<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, dt_s: f64) {
        let held = net.v_ml[node::SYSTEMIC][lane];
        let filtered = (self.blood.filtration_ml_s(self.capillary_over_rest_mmhg()) * dt_s).min(0.02 * held);
        self.blood.filter(filtered);
        net.v_ml[node::SYSTEMIC][lane] -= filtered;
        self.poured_ml -= filtered;
        self.blood.volume_ml -= filtered;
    }

    /// Crystalloid that ran in before the case: a quarter is still in the vessels, the rest in the tissue (common practice).
    pub fn poured_before<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, ml: f64) {
        net.v_ml[node::SYSTEMIC][lane] += 0.25 * ml;
        self.poured_ml += 0.25 * ml;
        self.blood.volume_ml += 0.25 * ml;
        self.blood.pour(Product::Crystalloid, ml);
        self.blood.filter(0.75 * ml);
    }
    pub fn drip(&mut self, product: Product, ml: f64, minutes: f64) {
        if ml.is_finite() && ml > 0.0 {
            let ml = ml.min(50_000.0);
            let minutes = if minutes.is_finite() { minutes.max(0.05) } else { 5.0 };
            // No line carries more than about 600 ml/min (rapid infuser).
            self.drips.push(Drip { product, left_ml: ml, ml_s: (ml / minutes / 60.0).min(10.0) });
        }
    }
    pub fn stop_drips(&mut self) {
        self.drips.clear();
    }
    /// Blood that is not where the ledger says, ml: 0 but for rounding.
    pub fn ledger_error_ml<const W: usize>(&self, net: &Network<W>, lane: usize) -> f64 {
        // The source of the running second has been booked in full but has entered only in part.
        let waiting = net.source_ml_s[node::SYSTEMIC][lane] * (1000 - self.ms % 1000) as f64 * 1e-3;
        net.total_ml(lane) + waiting + self.discarded_ml
            - self.start_ml
            - self.holes.found_ml
            - self.poured_ml
    }
    /// Puts blood from the great veins into a space (before the case begins).
    pub fn displace<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, space: Space, ml: f64) {
        net.v_ml[node::SYSTEMIC][lane] -= ml;
        net.v_ml[Map::space_node(space)][lane] += ml;
    }

    /// Named origin open by this part of its area.
    pub fn set_patency<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, row: usize, open: f64) {
        let open = if open.is_finite() { open.clamp(0.0, 1.0) } else { 1.0 };
        self.patency[row] = open;
        self.apply_patency(net, lane, row);
    }
    /// Part of the upper intercostals, lower intercostals and lumbars that is left open.
    pub fn set_segmentals<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, open: [f64; 3]) {
        self.segmental = open;
        for row in 7..10 {
            self.apply_patency(net, lane, row);
        }
    }
    fn apply_patency<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, row: usize) {
        let mut open = self.patency[row];
        if (7..10).contains(&row) {
            open *= self.segmental[row - 7].clamp(0.0, 1.0);
        }
        let (l, r, area_cm2) = self.map.named[row];
        let e = self.map.named_pipe + row;
        let (r, k) = narrowed(r, area_cm2, open);
        net.set_pipe(e, lane, l, r, k);
    }
    /// Blocks part of the aortic lumen at a place; 0 frees it.
    pub fn set_occlusion<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        s_mm: f64,
        fraction: f64,
    ) {
        let fraction = if fraction.is_finite() { fraction.clamp(0.0, 1.0) } else { 0.0 };
        let layout = &self.map.layout;
        let step = layout.length_mm() / self.map.segments as f64;
        let i = ((s_mm / step - 0.5).round().max(0.0) as usize).min(self.map.segments - 2);
        self.occlusions.retain(|o| o.0 != i);
        if fraction > 0.0 {
            self.occlusions.push((i, fraction));
        }
        let (l, r, area) = self.map.aortic[i];
        let (r, k) = narrowed(r, area, 1.0 - fraction);
        net.set_pipe(self.map.aorta_pipe + i, lane, l, r, k);
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
    pub fn lost_ml<const W: usize>(&self, net: &Network<W>, lane: usize, space: Space) -> f64 {
        net.v_ml[Map::space_node(space)][lane]
    }
}

/// A sinus node answers the first of a drive more than the last. Assumed, so that the rates of haemorrhage classes II and III
/// both come out.
fn early(drive: f64) -> f64 {
    if drive > 0.0 { 1.5 * drive / (1.0 + 0.5 * drive) } else { 1.5 * drive }
}

/// Sympathetic tone of a resting sinus node and a resting ventricle, in units of drive. Assumed, so that full blockade slows
/// a resting adult by a seventh.
const RATE_TONE: f64 = 0.35;
const FORCE_TONE: f64 = 0.35;

/// Pressure at which arterioles of normal tone close, mmHg. Assumed from arrest studies, in which arterial pressure lingers
/// near 20-30 mmHg while venous pressure is below 15.
const CLOSES_MMHG: f64 = 18.0;

/// Resistance and orifice term of a lumen of which a part is open: `dp = rho/2 (q / (Cc A_open))²` less what the full
/// lumen would lose, Cc = 0.7 (contraction of a jet behind a blunt block; hydraulics handbook).
fn narrowed(r: f64, area_cm2: f64, open: f64) -> (f64, f64) {
    if open > 0.999 {
        return (r, 0.0);
    }
    if open < 0.003 {
        return (1e7, 0.0);
    }
    let a = 0.7 * open * area_cm2;
    (r / (open * open), (RHO_CGS / 2.0 * (1.0 / (a * a) - 1.0 / (area_cm2 * area_cm2))).max(0.0))
}

/// Starting and leaping.
impl Body {
    /// The first moment: fluids, organs and holes begin to act.
    pub fn start_living<const W: usize>(&mut self, net: &mut Network<W>, lane: usize) {
        self.living = true;
        (self.starved_s, self.still_s) = (0.0, 0.0);
        self.ms = 0;
        self.second(net, lane, 1.0);
    }

    /// One second of slow life on held means; returns the volume that moved, ml.
    pub fn leap_second<const W: usize>(&mut self, net: &mut Network<W>, lane: usize) -> f64 {
        self.ms += 1000;
        // The running second's source enters whole.
        let source = net.source_ml_s[node::SYSTEMIC][lane];
        net.v_ml[node::SYSTEMIC][lane] += source;
        // Nothing drives blood out of the dead.
        let bled =
            if self.death.is_some() { 0.0 } else { self.holes.leap(net, lane, &mut self.means.p, 1.0) };
        let moved = source.abs() + bled;
        let flow = (self.means.output_ml_s * 60e-3 / self.patient.output_rest_l_min()).clamp(0.1, 1.5).sqrt();
        for _ in 0..10 {
            self.pharmacy.step(flow);
        }
        self.antagonise();
        self.effects = self.pharmacy.effects();
        self.second(net, lane, 1.0);
        moved
    }
}
