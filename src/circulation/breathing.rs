//! Breath: pressure in the chest, carbon dioxide, oxygen in the blood.

use crate::math::ops;
use serde::{Deserialize, Serialize};

/// How the patient breathes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Airway {
    /// On their own.
    Spontaneous,
    /// A ventilator does it.
    Ventilated,
}

/// Breath and gases of one patient.
#[derive(Clone, Debug)]
pub struct Breathing {
    /// Who breathes.
    pub airway: Airway,
    /// The breath is held (asked for, or the ventilator paused).
    pub held: bool,
    /// Breaths per minute now.
    pub rate_per_min: f64,
    /// Inspired oxygen fraction.
    pub fio2: f64,
    /// Arterial carbon dioxide, mmHg.
    pub paco2_mmhg: f64,
    /// Arterial oxygen, mmHg.
    pub pao2_mmhg: f64,
    /// End-tidal carbon dioxide at the last breath, mmHg.
    pub etco2_mmhg: f64,
    /// Place in the breath, 0 to 1: inspiration first.
    pub phase: f64,
    /// Lung lost to blood around it or water in it, 0 to 1.
    pub shunt: f64,
    alveolar_o2_mmhg: f64,
    /// Age and lung: resting difference between alveolus and artery, mmHg.
    gap_mmhg: f64,
}

impl Breathing {
    /// At rest on room air. The alveolar-arterial difference grows with age: age / 4 + 4 mmHg (handbook rule).
    pub fn new(age_years: f64) -> Self {
        let mut b = Self {
            airway: Airway::Spontaneous,
            held: false,
            rate_per_min: 14.0,
            fio2: 0.21,
            paco2_mmhg: 40.0,
            pao2_mmhg: 90.0,
            etco2_mmhg: 36.0,
            phase: 0.0,
            shunt: 0.0,
            alveolar_o2_mmhg: 100.0,
            gap_mmhg: age_years / 4.0 + 4.0,
        };
        b.pao2_mmhg = b.alveolar_o2_mmhg - b.gap_mmhg;
        b
    }
    /// Advances the breath by `dt_s`; the chest's pressure relative to its own mean, mmHg.
    pub fn chest_mmhg(&mut self, dt_s: f64) -> f64 {
        if self.held || self.rate_per_min < 1.0 {
            return if self.airway == Airway::Ventilated { 1.0 } else { 0.0 };
        }
        self.phase += dt_s * self.rate_per_min / 60.0;
        self.phase -= self.phase.floor();
        // Inspiration takes the first 40 % of a breath.
        let x = if self.phase < 0.4 { self.phase / 0.4 } else { (1.0 - self.phase) / 0.6 };
        let swell = x * x * (3.0 - 2.0 * x);
        match self.airway {
            Airway::Spontaneous => -3.0 * (swell - 0.4),
            // About 10 cm water at the end of inspiration, half of it reaching the pleura; mean 1.5 mmHg above rest.
            Airway::Ventilated => 4.0 * swell,
        }
    }

    /// One second of gas exchange. `output` is the cardiac output relative to rest, `depression` of breathing by drugs,
    /// `brain` its delivery, `drive` what acid, pain and shock add.
    pub fn second(&mut self, output: f64, depression: f64, brain: f64, drive: f64, heat: f64, dt_s: f64) {
        let ventilation = if self.held {
            0.0
        } else if self.airway == Airway::Ventilated {
            1.05
        } else {
            // Ventilatory response: about 1.5 l/min per mmHg of carbon dioxide over a rest of 6 l/min.
            let asked =
                1.0 + 0.2 * (self.paco2_mmhg - 40.0) + drive.max(0.0) + 0.9 * (1.0 - brain / 0.8).max(0.0);
            let alive = if brain < 0.12 { 0.0 } else { 1.0 };
            asked.clamp(0.2, 4.5) * (1.0 - depression).max(0.0) * alive
        };
        // Shock and pain breathe fast and shallow: most of it is rate, and a part of that only moves dead space (assumed, to the
        // rates of the haemorrhage classes).
        let shallow = 21.0 * drive.max(0.0) * (1.0 - depression).clamp(0.0, 1.0);
        let rate = 14.0 * (0.15 + 0.85 * ventilation) + shallow;
        self.rate_per_min = if ventilation <= 0.02 {
            0.0
        } else if self.airway == Airway::Ventilated {
            12.0
        } else {
            rate.clamp(4.0, 40.0)
        };
        // Stores: apnoea raises carbon dioxide by 3-4 mmHg a minute after the first (Eger and Severinghaus 1961).
        let steady = 40.0 * heat / ventilation.max(0.02);
        let tau = 240.0 / ventilation.max(0.05);
        let rise = (steady - self.paco2_mmhg) * (1.0 - ops::exp(-dt_s / tau));
        self.paco2_mmhg = (self.paco2_mmhg + rise.min(0.06 * dt_s)).clamp(12.0, 140.0);
        // Dead space grows as flow through the lungs falls; so does what is carried out (end-tidal 18 % below in 30 %).
        let wash = (output.clamp(0.0, 1.2) / (output.clamp(0.0, 1.2) + 0.22)) * 1.22;
        let target = if self.rate_per_min > 0.0 { (self.paco2_mmhg - 4.0) * wash.min(1.0) } else { 0.0 };
        self.etco2_mmhg += (target - self.etco2_mmhg) * (1.0 - ops::exp(-dt_s / 6.0));
        // Oxygen: alveolar gas equation; a held breath uses 250 ml/min out of about 2.5 l of gas.
        let ideal = (self.fio2 * 713.0 - self.paco2_mmhg / 0.8).max(20.0);
        if ventilation > 0.02 {
            self.alveolar_o2_mmhg +=
                (ideal - self.alveolar_o2_mmhg) * (1.0 - ops::exp(-dt_s / (40.0 / ventilation)));
        } else {
            self.alveolar_o2_mmhg =
                (self.alveolar_o2_mmhg - dt_s * 250.0 / 60.0 / 2500.0 * 713.0 * heat).max(12.0);
        }
        let gap = self.gap_mmhg + self.shunt * 90.0 * (self.fio2 / 0.21).min(3.0);
        self.pao2_mmhg = (self.alveolar_o2_mmhg - gap).clamp(8.0, 600.0);
    }
    /// Arterial saturation, 0 to 1 (Severinghaus, J Appl Physiol 1979), with the shunt's venous blood mixed in.
    pub fn saturation(&self) -> f64 {
        let s = severinghaus(self.pao2_mmhg);
        (s * (1.0 - 0.3 * self.shunt)).clamp(0.05, 1.0)
    }
    /// Oxygen in the blood, ml per ml: 1.34 ml/g haemoglobin and 0.003 ml/dl/mmHg dissolved.
    pub fn content(&self, haemoglobin_g_l: f64) -> f64 {
        (1.34 * haemoglobin_g_l * self.saturation() + 0.03 * self.pao2_mmhg) * 1e-3
    }
}

/// Saturation of haemoglobin at a tension (mmHg).
pub fn severinghaus(po2_mmhg: f64) -> f64 {
    let p = po2_mmhg.max(0.1);
    1.0 / (23400.0 / (p * p * p + 150.0 * p) + 1.0)
}
