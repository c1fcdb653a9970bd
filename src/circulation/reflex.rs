//! Reflexes: what the nerves ask of the heart, the arterioles and the veins, with their delays and limits.
//!
//! The arterial baroreflex keeps the shape of Ursino (Am J Physiol 275:H1733, 1998): a receptor with rate sensitivity, a
//! sigmoid, an exponential to the efferent sympathetic and a sigmoid to the vagus, pure delays, first-order effectors. Its
//! published gains alone let a man die of a 30 % loss; so the cardiopulmonary receptors, the chemoreflex of deep shock
//! and larger effector gains are added. Those are our own calibration to the haemorrhage classes, not published values.

use crate::math::ops;

/// The reflex advances in steps of this length, s.
pub const STEP_S: f64 = 0.02;
/// Longest delay in steps: 5 s.
const RING: usize = 256;

// Ursino 1998, but for the rate sensitivity (6.37 s there): with the added receptors it would swing.
const TAU_P: f64 = 2.076;
const TAU_Z: f64 = 2.6;
/// Smoothing before the receptor, s. Ours: with the pulse let in whole, a rate sensitivity of three saturates the sigmoid in
/// every beat and the reflex answers to the length of systole instead of the pressure.
const TAU_BEAT: f64 = 0.8;
const F_MIN: f64 = 2.51;
const F_MAX: f64 = 47.78;
const K_A: f64 = 11.758;
const FES_INF: f64 = 2.10;
const FES_0: f64 = 16.11;
const FES_MIN: f64 = 2.66;
const K_ES: f64 = 0.0675;
/// Sympathetic drive at rest, `ln(4.90 - 2.66 + 1)`: the operating point that the published table shares.
const S_REST: f64 = 1.1755;

/// What the reflex sees besides the arterial pressure.
#[derive(Clone, Copy, Debug, Default)]
pub struct Senses {
    /// Aortic arch pressure now, mmHg.
    pub p_mmhg: f64,
    /// Mean filling pressure of both atria, mmHg.
    pub filling: f64,
    /// Brain's oxygen delivery as a part of rest.
    pub brain: f64,
    /// Pain, fear and cold: extra sympathetic drive.
    pub distress: f64,
    /// Depression of the reflexes by anaesthesia, 0 to 1.
    pub depression: f64,
    /// Part of the vagus that is shut, 0 to 1.
    pub vagal_block: f64,
}

/// Deviation from rest asked of each effector, after delay and lag. 0 at rest.
#[derive(Clone, Copy, Debug, Default)]
pub struct Drive {
    /// Of arteriolar tone.
    pub resistance: f64,
    /// Of venous tone.
    pub venous: f64,
    /// Of contractility.
    pub contractility: f64,
    /// Of the sinus node, sympathetic.
    pub rate: f64,
    /// Of the sinus node, vagal withdrawal (positive speeds).
    pub vagal: f64,
}

/// The reflex arc of one patient.
#[derive(Clone, Debug)]
pub struct Reflex {
    /// Pressure in the middle of the receptor's range, mmHg.
    pub p_set_mmhg: f64,
    /// Whether effectors follow (off while a resting state is sought).
    pub closed: bool,
    p_seen: f64,
    p_last: f64,
    sympathetic: [f64; RING],
    vagal: [f64; 16],
    at: usize,
    /// What each effector has reached.
    pub drive: Drive,
    /// Raw sympathetic drive asked now, for organs that see it without delay.
    pub asked: f64,
    filling: f64,
    vagal_rest: f64,
    filling_rest: f64,
}

impl Reflex {
    /// At rest around `map_mmhg`.
    pub fn new(map_mmhg: f64) -> Self {
        Self {
            p_set_mmhg: map_mmhg - 6.0,
            closed: false,
            p_seen: map_mmhg,
            p_last: map_mmhg,
            sympathetic: [0.0; RING],
            vagal: [0.0; 16],
            at: 0,
            drive: Drive::default(),
            asked: 0.0,
            filling: 6.0,
            vagal_rest: 6.0,
            filling_rest: 6.0,
        }
    }

    /// One step of `STEP_S`.
    pub fn step(&mut self, s: &Senses) {
        let p = self.p_last + STEP_S / TAU_BEAT * (s.p_mmhg - self.p_last);
        self.p_seen += STEP_S / TAU_P * (p - self.p_seen) + TAU_Z / TAU_P * (p - self.p_last);
        self.p_last = p;
        let x = ((self.p_seen - self.p_set_mmhg) / K_A).clamp(-30.0, 30.0);
        let e = ops::exp(x);
        let fcs = (F_MIN + F_MAX * e) / (1.0 + e);
        let fes = FES_INF + (FES_0 - FES_INF) * ops::exp(-K_ES * fcs);
        let baro = if fes > FES_MIN { ops::ln(fes - FES_MIN + 1.0) } else { 0.0 } - S_REST;
        let w = ops::exp((fcs - 25.0) / 7.06);
        let fev = (3.2 + 6.3 * w) / (1.0 + w) - self.vagal_rest;
        if !self.closed {
            // A resting receptor resets itself to the pressure that it lives at.
            self.p_set_mmhg -= STEP_S * 2.0 * baro;
            self.filling_rest += STEP_S / 6.0 * (s.filling - self.filling_rest);
            self.filling = self.filling_rest;
            self.vagal_rest += STEP_S / 10.0 * fev;
            return;
        }
        self.filling += STEP_S / 2.0 * (s.filling - self.filling);
        let low_volume =
            (1.0 - self.filling / self.filling_rest.max(2.0)).clamp(-0.25, 1.2) * CARDIOPULMONARY;
        // Chemoreflex and cerebral ischaemic response; a brain without blood for long asks for nothing more.
        let chemo = CHEMO * (1.0 - s.brain / 0.7).clamp(0.0, 1.0);
        let awake = 1.0 - s.depression;
        self.asked = (awake * (baro * BARO + low_volume + chemo) + s.distress).clamp(-1.2, 2.6);
        self.at = (self.at + 1) % RING;
        self.sympathetic[self.at] = self.asked;
        self.vagal[self.at % 16] = -fev / 3.0 * (1.0 - 0.5 * s.depression);
        let late = |s: f64| self.sympathetic[(self.at + RING - (s / STEP_S) as usize) % RING];
        let (two, five) = (late(2.0), late(5.0));
        let vagal = self.vagal[(self.at + 16 - 10) % 16];
        let d = &mut self.drive;
        let lag = |x: &mut f64, to: f64, tau: f64| *x += STEP_S / tau * (to - *x);
        lag(&mut d.resistance, two, 6.0);
        lag(&mut d.contractility, two, 8.0);
        lag(&mut d.rate, two, 2.0);
        lag(&mut d.venous, five, 20.0);
        // Atropine takes away what tone is left, and with it a rise of about a third in a resting adult.
        lag(&mut d.vagal, vagal + (1.0 - vagal) * s.vagal_block, 1.5);
    }

    /// The pressure that the receptor sees at rest drifts to the beat's own mean: called once the resting state is found.
    pub fn close(&mut self) {
        self.closed = true;
        self.drive = Drive::default();
        self.sympathetic = [0.0; RING];
        self.vagal = [0.0; 16];
    }
}

/// Weight of the arterial receptors. Assumed.
const BARO: f64 = 0.40;
/// Drive of an empty pair of atria. Assumed.
const CARDIOPULMONARY: f64 = 2.1;
/// Drive of a starved brain. Assumed.
const CHEMO: f64 = 0.8;
