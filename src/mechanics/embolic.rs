//! Embolisation: coils that must hold in their vessel, plugs, and particles that go where the blood goes.

use super::Refusal;
use super::hazard::{Hazard, HazardKind};
use crate::kit::{Coil, Particles, Plug};
use crate::math::ops;

/// Viscosity of blood, Pa s.
const MU: f64 = 3.5e-3;
const PA_PER_MMHG: f64 = 133.322;

/// A stretch of vessel that is being closed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Inner diameter, mm.
    pub vessel_mm: f64,
    /// Flow in it now, mL/s.
    pub flow_ml_s: f64,
    /// Part of that flow that goes to the lesion and nowhere else, 0 to 1: how selective the tip is.
    pub lesion_share: f64,
    /// Diameter of the vessels of the lesion, micrometres.
    pub lesion_um: f64,
    /// Distance of the tip from the origin, mm.
    pub depth_mm: f64,
    /// Ability to clot, 1 normal, 0 none.
    pub clotting: f64,
}

/// What lies in the vessel.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Packing {
    /// Volume of metal, mm³.
    pub metal_mm3: f64,
    /// Length of vessel that it fills, mm.
    pub length_mm: f64,
    /// Thickness of the metal, mm.
    pub thread_mm: f64,
    /// Part of the lesion's own bed that particles have closed, 0 to 1.
    pub bed_closed: f64,
    /// Part of the bed that was not meant, and is closed, 0 to 1.
    pub other_closed: f64,
}

impl Packing {
    /// Part of the filled stretch that is metal.
    pub fn density(&self, vessel_mm: f64) -> f64 {
        let space = 0.25 * std::f64::consts::PI * vessel_mm * vessel_mm * self.length_mm;
        if space > 0.0 { (self.metal_mm3 / space).min(0.7) } else { 0.0 }
    }
    /// Resistance of the nest, mmHg s/mL: a bed of fibres (Davies, Proc Inst Mech Eng B 1:185, 1952: permeability
    /// d² / (64 f^1.5 (1 + 56 f³))), made tighter by clot in its meshes.
    pub fn resistance_mmhg_s_ml(&self, vessel_mm: f64, clotting: f64) -> f64 {
        let f = self.density(vessel_mm);
        if f <= 0.0 {
            return 0.0;
        }
        // Clot fills most of the meshes once a tenth of the space is metal (assumed).
        let f = f + (0.85 - f).max(0.0) * clotting.clamp(0.0, 1.0) * (1.0 - ops::exp(-f / 0.10));
        let d = self.thread_mm * 1e-3;
        let k = d * d / (64.0 * ops::powf(f, 1.5) * (1.0 + 56.0 * f * f * f));
        let area = 0.25e-6 * std::f64::consts::PI * vessel_mm * vessel_mm;
        MU * self.length_mm * 1e-3 / (k * area) * 1e-6 / PA_PER_MMHG
    }
}

/// How a coil went.
#[derive(Clone, Debug, PartialEq)]
pub struct CoilLaid {
    /// It holds where it was put.
    pub holds: bool,
    /// What may go wrong with it.
    pub hazard: Hazard,
    /// Coil diameter over vessel diameter.
    pub ratio: f64,
}

/// Next size of coil up from a fifth more than the vessel, of those that a shelf has, mm.
pub fn coil_for(vessel_mm: f64, shelf_mm: &[f64]) -> Option<f64> {
    let want = 1.2 * vessel_mm;
    shelf_mm.iter().copied().filter(|&d| d >= want).min_by(f64::total_cmp)
}

/// Lays a coil. 20 to 30 % more than the vessel holds; smaller ones swim on, larger ones push the catheter back.
pub fn coil(coil: &Coil, target: &Target, packing: &mut Packing) -> CoilLaid {
    let ratio = coil.diameter_mm / target.vessel_mm.max(0.1);
    let crowded = packing.density(target.vessel_mm) > 0.05;
    // A nest holds what is put into it, so only the first coils must be wider than the vessel.
    let swims = ops::logistic((1.05 - ratio) / 0.04) * if crowded { 0.1 } else { 1.0 };
    let backs_out = ops::logistic((ratio - 1.6) / 0.12) * ops::exp(-target.depth_mm / 40.0);
    let p = (swims + backs_out - swims * backs_out).clamp(1e-4, 0.95);
    let why = if swims > backs_out {
        "coil against vessel: too small (assumed curve)"
    } else {
        "coil against vessel: too large (assumed curve)"
    };
    let hazard = Hazard::base(HazardKind::NonTargetEmbolus, p, why)
        .times_if(!coil.detachable, 1.5, "cannot be taken back (assumed)")
        .capped(0.95);
    let holds = hazard.probability < 0.5;
    if holds {
        let stretched = 10.0 * coil.length_cm;
        packing.metal_mm3 += 0.25 * std::f64::consts::PI * coil.thickness_mm * coil.thickness_mm * stretched;
        // A nest grows longer only when it is dense.
        packing.thread_mm = packing.thread_mm.max(coil.thickness_mm);
        let least = target.vessel_mm;
        packing.length_mm = packing.length_mm.max(least);
        while packing.density(target.vessel_mm) > 0.25 {
            packing.length_mm *= 1.1;
        }
    }
    CoilLaid { holds, hazard, ratio }
}

/// Lays a plug, which wants 30 to 50 % more than the vessel.
pub fn plug(plug: &Plug, target: &Target, packing: &mut Packing) -> CoilLaid {
    let ratio = plug.diameter_mm / target.vessel_mm.max(0.1);
    let p = ops::logistic((1.15 - ratio) / 0.05).max(1e-4);
    let hazard =
        Hazard::base(HazardKind::NonTargetEmbolus, p, "plug against vessel (assumed curve)").capped(0.9);
    let holds = hazard.probability < 0.5;
    if holds {
        packing.thread_mm = packing.thread_mm.max(0.1);
        packing.length_mm = packing.length_mm.max(plug.length_mm);
        packing.metal_mm3 +=
            0.12 * 0.25 * std::f64::consts::PI * target.vessel_mm * target.vessel_mm * plug.length_mm;
    }
    CoilLaid { holds, hazard, ratio }
}

/// What a portion of particles did.
#[derive(Clone, Debug, PartialEq)]
pub struct Injected {
    /// Part that ran back past the tip.
    pub refluxed: f64,
    /// Part that reached the lesion's vessels and stuck there.
    pub in_lesion: f64,
    /// Part that went through to the veins.
    pub through: f64,
    /// What may go wrong.
    pub hazard: Hazard,
}

/// Volume of particles that closes a whole small bed, mL (assumed).
const BED_ML: f64 = 3.0;

/// Injects particles at a rate. What the stream cannot carry runs back; the stream slows as the bed closes.
pub fn inject(
    particles: &Particles,
    volume_ml: f64,
    rate_ml_s: f64,
    target: &Target,
    packing: &mut Packing,
) -> Result<Injected, Refusal> {
    if !(volume_ml > 0.0 && volume_ml <= 50.0 && rate_ml_s > 0.0 && rate_ml_s <= 20.0) {
        return Err(Refusal("give a volume up to 50 mL and a rate up to 20 mL/s".to_owned()));
    }
    let (mut refluxed, mut in_lesion, mut through) = (0.0, 0.0, 0.0);
    let steps = 20;
    let dose = volume_ml / f64::from(steps);
    let mean_um = 0.5 * (particles.from_um + particles.to_um);
    // Particles smaller than the vessels pass; larger ones stop before them and close more than was meant.
    let passes = ops::logistic((target.lesion_um / mean_um - 1.3) / 0.15);
    let stops_early = ops::logistic((mean_um / target.lesion_um - 4.0) / 0.6);
    for _ in 0..steps {
        let open = target.lesion_share * (1.0 - packing.bed_closed)
            + (1.0 - target.lesion_share) * (1.0 - packing.other_closed);
        let flow = target.flow_ml_s * open;
        let back = (1.0 - flow / rate_ml_s).max(0.0);
        refluxed += back * dose;
        let on = (1.0 - back) * dose;
        let to_lesion =
            if open > 1e-9 { target.lesion_share * (1.0 - packing.bed_closed) / open } else { 0.0 };
        through += on * passes;
        let stuck = on * (1.0 - passes);
        in_lesion += stuck * to_lesion * (1.0 - stops_early);
        let share = |part: f64, of: f64| if of > 1e-9 { part / (BED_ML * of) } else { 0.0 };
        let lesion_bed = stuck * to_lesion * (1.0 - 0.5 * stops_early);
        packing.bed_closed = (packing.bed_closed + share(lesion_bed, target.lesion_share)).min(1.0);
        let other = stuck * (1.0 - to_lesion) + stuck * to_lesion * 0.5 * stops_early;
        packing.other_closed = (packing.other_closed + share(other, 1.0 - target.lesion_share)).min(1.0);
    }
    let p = (refluxed / volume_ml).clamp(1e-4, 0.95);
    let hazard = Hazard::base(HazardKind::NonTargetEmbolus, p, "part that ran back past the tip")
        .times(1.0 / (1.0 + target.depth_mm / 20.0), "distance of the tip from the origin (assumed)")
        .times(
            1.0 + 2.0 * (1.0 - target.lesion_share),
            "part of the bed that is not the lesion (assumed, up to 3)",
        )
        .capped(0.95);
    Ok(Injected {
        refluxed: refluxed / volume_ml,
        in_lesion: in_lesion / volume_ml,
        through: through / volume_ml,
        hazard,
    })
}
