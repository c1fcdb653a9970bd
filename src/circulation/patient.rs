//! Who lies on the table, and in what state the case finds them.

use super::bleed::Space;
use serde::{Deserialize, Serialize};

/// A disease of a valve.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ValveDisease {
    /// Aortic stenosis.
    AorticStenosis,
    /// Aortic regurgitation.
    AorticRegurgitation,
    /// Mitral regurgitation.
    MitralRegurgitation,
}

/// How far a disease has gone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is its grade")]
pub enum Grade {
    Mild,
    Moderate,
    Severe,
}

/// A person before the emergency. Every field has a default: a healthy man of 50.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Patient {
    /// Age, years.
    pub age_years: f64,
    /// Male.
    pub male: bool,
    /// Body mass, kg.
    pub mass_kg: f64,
    /// Height, cm.
    pub height_cm: f64,
    /// Own heart rate at rest, per minute.
    pub heart_rate_rest_bpm: f64,
    /// Own mean pressure at rest, mmHg; a hypertensive's reflexes and organs are set to it.
    pub map_rest_mmhg: f64,
    /// Arterial stiffness relative to the usual for the age (1 = usual; pulse-wave velocity times its root).
    pub stiffness: f64,
    /// Takes a beta-blocker.
    pub beta_blocked: bool,
    /// Coronary disease: flow reserve is small and a low diastolic pressure hurts.
    pub ischaemic_heart: bool,
    /// Contractility of the left ventricle relative to normal (1 = normal).
    pub contractility: f64,
    /// Valve disease and its grade.
    pub valve: Option<(ValveDisease, Grade)>,
    /// Circle of Willis and cord network relative to a full one, 0 to 1.
    pub collaterals: f64,
    /// Posterior communicating arteries relative to full ones, 0 to 1: in many people one or both are threads.
    pub posterior_communicating: f64,
    /// Share of the posterior brain's own supply that comes from the left vertebral, 0 to 1.
    pub left_vertebral_share: f64,
    /// Haemoglobin, g/l.
    pub haemoglobin_g_l: f64,
    /// Creatinine, umol/l.
    pub creatinine_umol_l: f64,
    /// Core temperature, Celsius.
    pub temperature_c: f64,
    /// Takes an anticoagulant or has a clotting disease: clotting activity relative to normal.
    pub clotting: f64,
    /// Cerebrospinal fluid pressure at rest, mmHg.
    pub csf_mmhg: f64,
    /// How strongly clot is dissolved at the call, before shock adds to it: 0.1 is usual, 1 melts a fresh clot within an hour. What an
    /// injury has set free wears off within hours.
    pub fibrinolysis: f64,
}

impl Default for Patient {
    fn default() -> Self {
        Self {
            age_years: 50.0,
            male: true,
            mass_kg: 75.0,
            height_cm: 175.0,
            heart_rate_rest_bpm: 70.0,
            map_rest_mmhg: 93.0,
            stiffness: 1.0,
            beta_blocked: false,
            ischaemic_heart: false,
            contractility: 1.0,
            valve: None,
            collaterals: 1.0,
            posterior_communicating: 1.0,
            left_vertebral_share: 0.55,
            haemoglobin_g_l: 145.0,
            creatinine_umol_l: 80.0,
            temperature_c: 36.8,
            clotting: 1.0,
            csf_mmhg: 10.0,
            fibrinolysis: 0.1,
        }
    }
}

impl Patient {
    /// The same person with every number inside what the model can carry.
    pub fn clamped(&self) -> Self {
        let sane = |x: f64, lo: f64, hi: f64, otherwise: f64| {
            if x.is_finite() { x.clamp(lo, hi) } else { otherwise }
        };
        Self {
            age_years: sane(self.age_years, 16.0, 105.0, 50.0),
            mass_kg: sane(self.mass_kg, 35.0, 220.0, 75.0),
            height_cm: sane(self.height_cm, 130.0, 215.0, 175.0),
            heart_rate_rest_bpm: sane(self.heart_rate_rest_bpm, 40.0, 120.0, 70.0),
            map_rest_mmhg: sane(self.map_rest_mmhg, 60.0, 140.0, 93.0),
            stiffness: sane(self.stiffness, 0.4, 3.0, 1.0),
            contractility: sane(self.contractility, 0.25, 1.5, 1.0),
            collaterals: sane(self.collaterals, 0.0, 2.0, 1.0),
            posterior_communicating: sane(self.posterior_communicating, 0.0, 1.0, 1.0),
            left_vertebral_share: sane(self.left_vertebral_share, 0.0, 1.0, 0.55),
            haemoglobin_g_l: sane(self.haemoglobin_g_l, 40.0, 210.0, 145.0),
            creatinine_umol_l: sane(self.creatinine_umol_l, 30.0, 900.0, 80.0),
            temperature_c: sane(self.temperature_c, 26.0, 41.0, 36.8),
            clotting: sane(self.clotting, 0.05, 1.5, 1.0),
            csf_mmhg: sane(self.csf_mmhg, 2.0, 40.0, 10.0),
            fibrinolysis: sane(self.fibrinolysis, 0.0, 2.0, 0.1),
            ..self.clone()
        }
    }
    /// Body surface, m² (Mosteller, N Engl J Med 1987).
    pub fn surface_m2(&self) -> f64 {
        (self.mass_kg * self.height_cm / 3600.0).sqrt()
    }
    /// Blood volume, ml: 70 ml/kg in men and 65 in women (common practice), less per kilogram in obesity
    /// (after Lemmens, Obes Surg 2006, whose curve falls with the root of the body-mass index; begun here at 27).
    pub fn blood_volume_ml(&self) -> f64 {
        let bmi = self.mass_kg / (self.height_cm * self.height_cm * 1e-4);
        let per_kg = if self.male { 70.0 } else { 65.0 };
        self.mass_kg * per_kg / (bmi / 27.0).max(1.0).sqrt()
    }
    /// Cardiac output at rest, l/min: an index of 3.2 at 20 years, falling by 0.008 a year
    /// (Brandfonbrener, Circulation 1955: about 1 % a year; slope eased).
    pub fn output_rest_l_min(&self) -> f64 {
        self.surface_m2() * (3.2 - 0.008 * (self.age_years - 20.0)).max(2.2)
    }
    /// Aortic pulse-wave velocity at rest, m/s, by age (reference values of the European collaboration,
    /// Eur Heart J 2010: 6.2 below 30 to 10.9 at 70 and above for normal pressure; rounded).
    pub fn wave_speed_m_s(&self) -> f64 {
        let by_age = crate::math::interp::linear(
            &[(25.0, 5.6), (35.0, 6.2), (45.0, 6.8), (55.0, 7.7), (65.0, 8.9), (75.0, 10.2), (85.0, 11.2)],
            self.age_years,
        );
        // Stiffness rises with the pressure that stretches the wall: about 1 m/s for each 25 mmHg (same source).
        (by_age + (self.map_rest_mmhg - 93.0).max(0.0) * 0.04) * self.stiffness.sqrt()
    }
    /// Glomerular filtration, ml/min/1.73 m² (CKD-EPI 2021 creatinine equation, Inker, N Engl J Med 2021).
    pub fn egfr_ml_min(&self) -> f64 {
        use crate::math::ops::powf;
        let scr = self.creatinine_umol_l / 88.4;
        let (kappa, alpha, sex) = if self.male { (0.9, -0.302, 1.0) } else { (0.7, -0.241, 1.012) };
        let x = scr / kappa;
        142.0 * powf(x.min(1.0), alpha) * powf(x.max(1.0), -1.2) * powf(0.9938, self.age_years) * sex
    }
}

/// The state at the case's first moment. The patient is settled to it, deterministically, before time zero.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Start {
    /// Systolic pressure to start from, mmHg; none: whatever the loss leaves. The loss stays what `lost_ml` says: to meet
    /// the pressure, the patient compensates better or worse.
    pub sbp_mmhg: Option<f64>,
    /// Heart rate to start from, per minute; none: whatever the reflexes make.
    pub heart_rate_bpm: Option<f64>,
    /// Blood lost before the start, and where it lies, ml.
    pub lost_ml: Vec<(Space, f64)>,
    /// Crystalloid given before the start, ml.
    pub crystalloid_ml: f64,
    /// Minutes since the loss began, for the organs' debts and the clotting already spent.
    pub minutes_since: f64,
    /// Already asleep under general anaesthesia.
    pub asleep: bool,
}

/// Something that the start asked for and this patient, with this loss, cannot have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StartDoubt {
    /// The systolic pressure is more than 6 mmHg away.
    Systolic {
        /// Asked, mmHg.
        asked_mmhg: f64,
        /// Reached, mmHg.
        reached_mmhg: f64,
    },
    /// The heart rate is more than 6 a minute away.
    Rate {
        /// Asked, per minute.
        asked_bpm: f64,
        /// Reached, per minute.
        reached_bpm: f64,
    },
}

impl std::fmt::Display for StartDoubt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Systolic { asked_mmhg, reached_mmhg } => write!(
                f,
                "the start asks for a systolic pressure of {asked_mmhg:.0} mmHg; with what is lost, this patient has {reached_mmhg:.0}"
            ),
            Self::Rate { asked_bpm, reached_bpm } => write!(
                f,
                "the start asks for a heart rate of {asked_bpm:.0}; with what is lost, this patient has {reached_bpm:.0}"
            ),
        }
    }
}
