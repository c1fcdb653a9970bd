//! Balloons: from millilitres to a diameter, a pressure, a stretched wall, and what may tear.

use super::forces::{FABRIC_FRICTION, aneurysm_wall_stress_kpa, windsock_n};
use super::hazard::{Disease, Hazard, HazardKind};
use super::place::Moulding;
use super::tube::WALL_KPA_PER_MM;
use super::{KPA_PER_MMHG, Refusal};
use crate::kit::{Balloon, BalloonKind};
use crate::math::ops;

/// Volume beyond the largest that a compliant balloon stands, as a part of it (assumed).
const BURST_OVER: f64 = 0.25;
/// Pull that a balloon's shaft and a supporting sheath hold, N (assumed).
const SHAFT_N: f64 = 2.0;
const SHEATHED_N: f64 = 8.0;

/// What surrounds a balloon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Around {
    /// Ruler position of its middle, mm.
    pub s_mm: f64,
    /// Diameter of the lumen, or of the fabric inside it, mm.
    pub lumen_mm: f64,
    /// Disease of the wall.
    pub disease: Disease,
    /// Part of the balloon's length that lies on bare wall, not on fabric, 0 to 1.
    pub bare: f64,
    /// Calcified part of the circumference, 0 to 1.
    pub calcium: f64,
    /// Pressure above it less pressure below it, mmHg, when it closes the lumen.
    pub drop_mmhg: f64,
    /// A long sheath stands behind it.
    pub supported: bool,
}

/// An inflated balloon.
#[derive(Clone, Debug, PartialEq)]
pub struct Inflated {
    /// Volume, mL.
    pub volume_ml: f64,
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// Length that touches the wall, mm.
    pub contact_mm: f64,
    /// Pressure on the wall, mmHg.
    pub wall_mmhg: f64,
    /// Stretch that it adds to the wall, 1 for none.
    pub stretch: f64,
    /// Stress in the wall, kPa.
    pub stress_kpa: f64,
    /// Part of the lumen that it closes, 0 to 1.
    pub closes: f64,
    /// How far the stream pushes it, mm.
    pub shift_mm: f64,
    /// What the stream pulls on the wall or fabric that it grips, beyond what shaft and sheath hold, N.
    pub pull_n: f64,
    /// What may go wrong.
    pub hazards: Vec<Hazard>,
}

/// Volume of the balloon's form at a free diameter, mL: a ball, or a cylinder with half balls.
fn form_ml(balloon: &Balloon, diameter_mm: f64) -> f64 {
    let d = diameter_mm;
    std::f64::consts::PI * (d * d * d / 6.0 + 0.25 * d * d * balloon.length_mm) * 1e-3
}

/// Free diameter for a volume, mm. The form is scaled to hold `max_ml` at `max_mm`.
pub fn free_diameter_mm(balloon: &Balloon, volume_ml: f64) -> f64 {
    let scale = balloon.max_ml / form_ml(balloon, balloon.max_mm).max(1e-9);
    let want = volume_ml.max(0.0) / scale.max(1e-9);
    let (mut lo, mut hi) = (0.0, 4.0 * balloon.max_mm);
    for _ in 0..60 {
        let mid = 0.5 * (lo + hi);
        if form_ml(balloon, mid) < want { lo = mid } else { hi = mid }
    }
    0.5 * (lo + hi)
}

/// Inflates. Refuses what the syringe cannot do.
pub fn inflate(balloon: &Balloon, volume_ml: f64, around: &Around) -> Result<Inflated, Refusal> {
    if !(volume_ml >= 0.0 && volume_ml <= 4.0 * balloon.max_ml) {
        return Err(Refusal(format!(
            "{volume_ml} mL cannot be put into it: it takes up to {:.1} mL",
            balloon.max_ml
        )));
    }
    let free = free_diameter_mm(balloon, volume_ml).min(if balloon.kind == BalloonKind::NonCompliant {
        balloon.max_mm
    } else {
        f64::INFINITY
    });
    let touching = free > around.lumen_mm;
    let radius = 0.5 * around.lumen_mm;
    // Once it touches, what is put in mostly makes it longer; the part that stretches the wall is assumed.
    let (diameter_mm, contact_mm) = if touching {
        let scale = balloon.max_ml / form_ml(balloon, balloon.max_mm).max(1e-9);
        let spare = (volume_ml / scale - form_ml(balloon, around.lumen_mm)) * 1e3;
        let length = balloon.length_mm.max(0.35 * around.lumen_mm);
        let grows = match balloon.kind {
            BalloonKind::Moulding => 0.12,
            BalloonKind::Occlusion => 0.2,
            BalloonKind::SemiCompliant | BalloonKind::NonCompliant => 1.0,
        };
        let dr = grows * spare / (std::f64::consts::TAU * radius * length);
        let cap = 0.5 * (free - around.lumen_mm);
        let dr = dr.min(cap);
        (
            around.lumen_mm + 2.0 * dr,
            length + (1.0 - grows) * spare / (std::f64::consts::PI * radius * radius),
        )
    } else {
        (free, 0.0)
    };
    let dr = if touching { 0.5 * (diameter_mm - around.lumen_mm) } else { 0.0 };
    let wall_kpa = WALL_KPA_PER_MM * (1.0 + 2.0 * around.calcium) * dr;
    let stretch = 1.0 + dr / radius;
    // A wall under blood pressure is already stretched; 1.10 is the physiological range of the aneurysm tests.
    let stress_kpa = aneurysm_wall_stress_kpa(1.10 * stretch);
    let closes = (diameter_mm / around.lumen_mm.max(1e-9)).min(1.0);
    let closes = closes * closes;
    let stream = windsock_n(around.lumen_mm, closes, around.drop_mmhg.max(0.0));
    let grip = FABRIC_FRICTION * wall_kpa * 1e-3 * std::f64::consts::PI * around.lumen_mm * contact_mm;
    let shaft = if around.supported { SHEATHED_N } else { SHAFT_N };
    let shift_mm = ((stream - grip - shaft).max(0.0) * 4.0).min(150.0);
    let mut hazards = vec![tear(stress_kpa, around, touching)];
    let over = volume_ml / balloon.max_ml - 1.0;
    if over > 0.0 && balloon.kind.compliant() {
        let p = ops::logistic((over - BURST_OVER) / 0.05);
        hazards.push(Hazard::base(
            HazardKind::BalloonBurst,
            p.min(0.95),
            "volume beyond the balloon's largest (assumed)",
        ));
    }
    Ok(Inflated {
        volume_ml,
        diameter_mm,
        contact_mm,
        wall_mmhg: wall_kpa / KPA_PER_MMHG,
        stretch,
        stress_kpa,
        closes,
        shift_mm,
        pull_n: (stream - shaft).clamp(0.0, grip),
        hazards,
    })
}

/// Tear of the wall: stress against strength. Strength of aneurysm wall 650 to 900 kPa (Raghavan, Webster, Vorp 1996, from
/// memory); a sound aorta about twice that, an acutely dissected one, whose outer third alone holds, about half (assumed).
fn tear(stress_kpa: f64, around: &Around, touching: bool) -> Hazard {
    let strength = match around.disease {
        Disease::Aneurysm => 780.0,
        Disease::Transection => 900.0,
        Disease::ChronicDissection => 600.0,
        Disease::AcuteDissection => 380.0,
        Disease::Sound => 1500.0,
    };
    let p = if touching { ops::logistic((stress_kpa / strength - 1.0) / 0.10) } else { 1e-5 };
    Hazard::base(
        HazardKind::AorticTear,
        p.clamp(1e-5, 0.9),
        "wall stress against strength (Raghavan and Vorp 2000)",
    )
    .times(1.0 + 2.0 * around.bare.clamp(0.0, 1.0), "on bare wall, outside fabric (assumed, up to 3)")
    .times(1.0 + around.calcium.clamp(0.0, 1.0), "calcified (assumed, up to 2)")
    .capped(0.8)
}

impl Inflated {
    /// What it leaves behind on a graft.
    pub fn moulding(&self, s_mm: f64) -> Option<Moulding> {
        let half = 0.5 * self.contact_mm.max(10.0) + 4.0;
        (self.contact_mm > 0.0).then_some(Moulding {
            from_mm: s_mm - half,
            to_mm: s_mm + half,
            diameter_mm: self.diameter_mm,
        })
    }
}
