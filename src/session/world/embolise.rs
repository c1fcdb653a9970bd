//! Closing a vessel from inside: what coils, plugs and particles do to its flow, to the holes that it feeds, and elsewhere.

use super::closed::Held;
use super::{Narrows, World};
use crate::anatomy::{Site, VesselName};
use crate::circulation::{Organ, Test};
use crate::kit::Device;
use crate::mechanics::Hazard;
use crate::mechanics::embolic::{Target, coil, inject, plug};
use std::sync::Arc;

/// Part of an organ that one stray coil or plug starves (assumed), and how many mL of stray particles starve the whole of it
/// (assumed, as the bed of `mechanics::embolic`).
const STRAY_COIL: f64 = 0.1;
const STRAY_ML: f64 = 6.0;

impl World {
    /// Embolics into a vessel: how far they close it, and where else they go.
    pub(super) fn embolise(
        &mut self,
        site: Site,
        device: &str,
        vessel: VesselName,
        amount: f64,
    ) -> Result<(), String> {
        let case = Arc::clone(&self.case);
        let stocked = case.shelf.get(device).ok_or("it is not on the shelf")?;
        self.line_refusal(site)?;
        let target = self.target(vessel).ok_or("this patient has no such vessel")?;
        let mut packing = self.packings.get(&vessel).copied().unwrap_or_default();
        let before = packing.bed_closed;
        // What swims on is not seen where it was meant to be.
        let mut held = 0;
        // Each hazard with the part of an organ that it costs when it strikes.
        let mut hazards: Vec<(Hazard, f64)> = Vec::new();
        match &stocked.device {
            Device::Coil(c) => {
                for _ in 0..amount.round() as u32 {
                    let laid = coil(c, &target, &mut packing);
                    held += usize::from(laid.holds);
                    hazards.push((laid.hazard, STRAY_COIL));
                }
            }
            Device::Plug(p) => {
                let laid = plug(p, &target, &mut packing);
                held += usize::from(laid.holds);
                hazards.push((laid.hazard, STRAY_COIL));
            }
            Device::Particles(p) => {
                // Pulsed by hand, about a tenth of a mL each second (common practice, no source).
                let gone = inject(p, amount, 0.1, &target, &mut packing).map_err(|r| r.0)?;
                let stray_ml = gone.refluxed * amount;
                hazards.push((gone.hazard, (stray_ml / STRAY_ML).clamp(0.02, 0.6)));
            }
            _ => return Err(format!("{} is no embolic", stocked.label)),
        }
        if let Some(n) = self.stock.get_mut(device) {
            *n = n.saturating_sub(amount.ceil() as u32);
        }
        let closed = packing.resistance_mmhg_s_ml(target.vessel_mm, target.clotting);
        // The bed behind carries a mL or so each second at 80 mmHg: what is left of it in series with the packing.
        let bed = 80.0 / target.flow_ml_s.max(0.1);
        self.narrow(vessel, Narrows::Packing, bed / (bed + closed));
        // Particles that reached the torn vessels close them, whatever feeds them from the other side.
        let newly = 1.0 - (1.0 - packing.bed_closed) / (1.0 - before).max(1e-6);
        for tear in self.torn.iter_mut().filter(|t| t.vessel == vessel) {
            tear.left *= 1.0 - newly.clamp(0.0, 1.0);
        }
        self.packings.insert(vessel, packing);
        self.held.extend((0..held).map(|_| Held { vessel, device: device.into() }));
        for (hazard, share) in hazards {
            if self.face(&hazard)
                && let Some(organ) = astray(vessel)
            {
                self.patient.injure(organ, share);
            }
        }
        Ok(())
    }

    /// Resistance of what was packed into a vessel, mmHg s/mL.
    pub(super) fn packed_mmhg_s_ml(&self, vessel: VesselName) -> f64 {
        let target = self.target(vessel);
        let packed = self.packings.get(&vessel).zip(target);
        packed.map_or(0.0, |(p, t)| p.resistance_mmhg_s_ml(t.vessel_mm, t.clotting))
    }

    /// The stretch that is closed: half way along, with the share of its flow that the holes which it feeds take.
    fn target(&self, vessel: VesselName) -> Option<Target> {
        let found = self.tree.get(vessel)?;
        let act = self.patient.lab(Test::Act);
        let flow_ml_s = self.patient.flow_ml_s(vessel).abs();
        let fed = self.torn.iter().filter(|t| t.vessel == vessel);
        let lost: f64 = fed.filter_map(|t| self.patient.bleed_ml_s(&t.id)).map(|(q, _)| q.max(0.0)).sum();
        let share = if lost > 0.0 { (lost / flow_ml_s.max(lost)).clamp(0.1, 0.95) } else { 0.5 };
        Some(Target {
            vessel_mm: found.lumen.diameter_mm(0.5 * found.curve.length_mm()),
            flow_ml_s,
            lesion_share: share,
            lesion_um: 500.0,
            depth_mm: 0.5 * found.curve.length_mm(),
            clotting: (135.0 / act.max(60.0)).min(1.0),
        })
    }
}

/// Where what runs back out of a vessel goes next: the organ that lies down the stream from its origin.
fn astray(from: VesselName) -> Option<Organ> {
    use VesselName as V;
    Some(match from {
        V::RightInternalIliac | V::RightCommonIliac | V::RightExternalIliac => Organ::RightLeg,
        V::LeftInternalIliac | V::LeftCommonIliac | V::LeftExternalIliac => Organ::LeftLeg,
        V::Coeliac | V::Sma => Organ::Gut,
        V::Ima => Organ::Colon,
        V::RightRenal => Organ::RightKidney,
        V::LeftRenal => Organ::LeftKidney,
        V::LeftSubclavian => Organ::LeftArm,
        V::RightSubclavian => Organ::RightArm,
        V::Innominate | V::RightCarotid => Organ::RightBrain,
        V::LeftCarotid => Organ::LeftBrain,
        V::RightVertebral | V::LeftVertebral => Organ::PosteriorBrain,
        V::Intercostals => Organ::Cord,
        V::Aorta | V::FalseLumen => return None,
    })
}
