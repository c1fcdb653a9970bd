//! What lies on one access, in order, and what may be put on it next.
//!
//! A refusal is what cannot be done with these things at all, in plain words with the remedy. What can be done but
//! should not be, such as a catheter pushed without a wire, is a warning: the act goes on and its hazard counts.

use super::rod::Rod;
use crate::kit::{Device, MM_PER_FR, Wire, WireTip};

/// Something on a line.
#[derive(Clone, Copy, Debug)]
pub struct Laid<'a> {
    /// As said aloud.
    pub label: &'a str,
    /// What it is.
    pub device: &'a Device,
    /// Length inside the patient, from the puncture to its tip, mm.
    pub inserted_mm: f64,
}

/// All that lies on one access.
#[derive(Clone, Debug, Default)]
pub struct Stack<'a> {
    /// In the order in which it was put there.
    pub items: Vec<Laid<'a>>,
}

/// What may be wrong with an act that is possible.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Warning {
    /// A catheter, sheath or delivery system is pushed with no wire ahead of it.
    NoWireAhead,
    /// A stiff wire is pushed by itself, not through a catheter.
    StiffWireBare,
    /// A large sheath or delivery system rides on a wire that is not stiff.
    SoftRail,
    /// The wire would be lost: its end is inside the device.
    WireEndInside,
    /// Taking this out leaves an open hole.
    OpenHole,
    /// Taking the wire out gives up the position.
    PositionLost,
}

impl Warning {
    /// Said aloud.
    pub fn text(self) -> &'static str {
        match self {
            Self::NoWireAhead => "no wire leads it",
            Self::StiffWireBare => "a stiff wire goes through a catheter, not by itself",
            Self::SoftRail => "the wire under it is not stiff",
            Self::WireEndInside => "the wire's tip is inside the device",
            Self::OpenHole => "nothing closes the hole behind it",
            Self::PositionLost => "without the wire the position is lost",
        }
    }
}

/// An act that cannot be done, and what to do instead.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Refusal(pub String);

/// EI above which a wire counts as stiff, N mm²: the third grade of Harrison 2011.
pub const STIFF_N_MM2: f64 = 500.0;
/// Least length of wire that a hand needs outside the device, mm.
const GRIP_MM: f64 = 80.0;
/// Bending stiffness of a balloon or stent catheter, N mm² (assumed).
const BALLOON_EI_N_MM2: f64 = 300.0;
/// Length of a delivery system, mm: from hub to tip, common practice.
const DELIVERY_MM: f64 = 1000.0;

/// Outer diameter of a device, mm.
pub fn outer_mm(device: &Device) -> f64 {
    match device {
        Device::Wire(w) => w.diameter_mm,
        Device::Catheter(c) => c.outer_mm(),
        Device::Sheath(s) => s.outer_mm(),
        Device::Graft(g) => g.delivery_mm(),
        Device::Balloon(b) => b.sheath_fr * MM_PER_FR,
        Device::Stent(s) => s.sheath_fr * MM_PER_FR,
        Device::Plug(p) => p.sheath_fr * MM_PER_FR,
        Device::Coil(c) => c.thickness_mm,
        Device::Particles(p) => 1e-3 * p.to_um,
        Device::Closure(_) => 0.0,
    }
}

/// Length of a device, mm.
pub fn length_mm(device: &Device) -> f64 {
    match device {
        Device::Wire(w) => 10.0 * w.length_cm,
        Device::Catheter(c) => 10.0 * c.length_cm,
        Device::Sheath(s) => 10.0 * s.length_cm,
        Device::Balloon(b) => 10.0 * b.catheter_cm,
        Device::Graft(_) => DELIVERY_MM,
        Device::Stent(_) => 900.0,
        _ => 1000.0,
    }
}

/// Bending stiffness of a device's shaft, N mm².
pub fn ei_n_mm2(device: &Device) -> f64 {
    match device {
        Device::Wire(w) => w.ei_n_mm2,
        Device::Catheter(c) => c.ei_n_mm2,
        Device::Sheath(s) => s.ei_n_mm2,
        Device::Graft(g) => g.delivery_ei_n_mm2,
        _ => BALLOON_EI_N_MM2,
    }
}

/// Thickest wire that a device runs over, mm; `None` if it runs over none.
fn bore_mm(device: &Device) -> Option<f64> {
    match device {
        Device::Catheter(c) => Some(c.inner_mm),
        Device::Sheath(s) => Some(s.inner_mm()),
        Device::Balloon(b) => Some(b.wire_mm),
        Device::Stent(s) => Some(s.wire_mm),
        Device::Graft(_) => Some(0.97),
        _ => None,
    }
}

fn needs_wire(device: &Device) -> bool {
    matches!(device, Device::Graft(_) | Device::Balloon(_) | Device::Stent(_) | Device::Sheath(_))
}

impl<'a> Stack<'a> {
    /// The wire on it.
    pub fn wire(&self) -> Option<(&Laid<'a>, &'a Wire)> {
        self.items.iter().find_map(|i| if let Device::Wire(w) = i.device { Some((i, w)) } else { None })
    }
    /// The sheath on it.
    pub fn sheath(&self) -> Option<&Laid<'a>> {
        self.items.iter().find(|i| matches!(i.device, Device::Sheath(_)))
    }
    /// The innermost catheter, delivery system or balloon.
    pub fn body(&self) -> Option<&Laid<'a>> {
        self.items.iter().rev().find(|i| !matches!(i.device, Device::Wire(_) | Device::Sheath(_)))
    }
    /// Whether a device can be put on the line; warnings for what is unwise.
    pub fn may_take(&self, device: &Device) -> Result<Vec<Warning>, Refusal> {
        let refuse = |text: String| Err(Refusal(text));
        let mut warnings = Vec::new();
        match device {
            Device::Wire(wire) => {
                if let Some((laid, _)) = self.wire() {
                    return refuse(format!("{} is already on this line: take it out first", laid.label));
                }
                for item in &self.items {
                    if let Some(bore) = bore_mm(item.device)
                        && wire.diameter_mm > bore + 0.01
                    {
                        return refuse(format!(
                            "the wire is {:.2} mm thick and {} takes {bore:.2} mm: choose a thinner wire",
                            wire.diameter_mm, item.label
                        ));
                    }
                }
                let led =
                    self.items.iter().any(|i| matches!(i.device, Device::Catheter(_) | Device::Graft(_)));
                if wire.ei_n_mm2 > STIFF_N_MM2 && !led {
                    warnings.push(Warning::StiffWireBare);
                }
                Ok(warnings)
            }
            Device::Closure(_) => Ok(warnings),
            Device::Coil(_) | Device::Plug(_) | Device::Particles(_) => self.may_deliver(device),
            _ => {
                let micro = |d: &Device| matches!(d, Device::Catheter(c) if c.shape == crate::kit::CatheterShape::Micro);
                if !matches!(device, Device::Sheath(_))
                    && let Some(body) = self.body()
                    && !(micro(device) && matches!(body.device, Device::Catheter(_)) && !micro(body.device))
                {
                    return refuse(format!("{} is on the wire: take it off first", body.label));
                }
                if matches!(device, Device::Sheath(_)) {
                    if let Some(old) = self.sheath() {
                        return refuse(format!(
                            "{} is in this access: take it out over the wire first",
                            old.label
                        ));
                    }
                    if let Some(body) = self.body() {
                        return refuse(format!("{} is on the wire: take it off first", body.label));
                    }
                }
                if let Some(Laid { device: Device::Sheath(s), label, .. }) = self.sheath() {
                    let outer = outer_mm(device);
                    if outer > s.inner_mm() + 0.02 {
                        return refuse(format!(
                            "it needs {:.0} Fr and {label} takes {:.0} Fr: change the sheath, or take it out over the wire",
                            outer / MM_PER_FR,
                            s.inner_fr
                        ));
                    }
                }
                if micro(device)
                    && let Some(body) = self.body()
                    && let Some(bore) = bore_mm(body.device)
                    && outer_mm(device) > bore + 0.02
                {
                    return refuse(format!("it is thicker than the bore of {}", body.label));
                }
                let Some((laid, wire)) = self.wire() else {
                    if needs_wire(device) {
                        return refuse(
                            "it runs over a wire and there is none on this line: put a wire in first"
                                .to_owned(),
                        );
                    }
                    warnings.push(Warning::NoWireAhead);
                    return Ok(warnings);
                };
                if let Some(bore) = bore_mm(device)
                    && wire.diameter_mm > bore + 0.01
                {
                    return refuse(format!(
                        "it takes a wire of {bore:.2} mm and {} is {:.2} mm: exchange the wire through a catheter",
                        laid.label, wire.diameter_mm
                    ));
                }
                let outside = 10.0 * wire.length_cm - laid.inserted_mm;
                let needed =
                    length_mm(device) + if matches!(device, Device::Sheath(_)) { 0.0 } else { GRIP_MM };
                if outside < needed {
                    return refuse(format!(
                        "{:.0} cm of {} is outside and it needs {:.0} cm: an exchange wire is longer",
                        outside / 10.0,
                        laid.label,
                        needed / 10.0
                    ));
                }
                if outer_mm(device) > 4.0 && wire.ei_n_mm2 < STIFF_N_MM2 {
                    warnings.push(Warning::SoftRail);
                }
                Ok(warnings)
            }
        }
    }

    /// Embolics go through a catheter whose bore takes them, with no wire in it.
    fn may_deliver(&self, device: &Device) -> Result<Vec<Warning>, Refusal> {
        let Some(body) = self.body() else {
            return Err(Refusal("it goes through a catheter and there is none on this line".to_owned()));
        };
        if self.wire().is_some() && !matches!(device, Device::Plug(_)) {
            return Err(Refusal("the wire is in the catheter: take it out first".to_owned()));
        }
        let (bore, outer) = match (body.device, device) {
            (Device::Catheter(c), Device::Plug(_)) => (c.outer_mm(), outer_mm(device)),
            (Device::Catheter(c), _) => (c.inner_mm, outer_mm(device)),
            _ => return Err(Refusal(format!("it does not go through {}", body.label))),
        };
        if outer > bore {
            return Err(Refusal(format!("it is {outer:.2} mm thick and {} takes {bore:.2} mm", body.label)));
        }
        Ok(Vec::new())
    }

    /// Whether something can be pushed by a length; warnings for what is unwise.
    pub fn may_push(&self, index: usize, by_mm: f64) -> Result<Vec<Warning>, Refusal> {
        let Some(item) = self.items.get(index) else {
            return Err(Refusal("there is no such thing on this line".to_owned()));
        };
        let to = item.inserted_mm + by_mm;
        let length = length_mm(item.device);
        if to > length {
            return Err(Refusal(format!(
                "{} is {:.0} cm long: {:.0} cm of it can still go in",
                item.label,
                length / 10.0,
                (length - item.inserted_mm).max(0.0) / 10.0
            )));
        }
        let mut warnings = Vec::new();
        match (item.device, self.wire()) {
            (Device::Wire(w), _) => {
                let led = self.items.iter().any(|i| {
                    !matches!(i.device, Device::Wire(_) | Device::Sheath(_))
                        && i.inserted_mm + 50.0 > item.inserted_mm
                });
                if w.ei_n_mm2 > STIFF_N_MM2 && !led && by_mm > 0.0 {
                    warnings.push(Warning::StiffWireBare);
                }
            }
            (_, None) if by_mm > 0.0 => warnings.push(Warning::NoWireAhead),
            (_, Some((wire, _))) if by_mm > 0.0 && to > wire.inserted_mm + 1.0 => {
                warnings.push(Warning::NoWireAhead);
            }
            (_, Some((_, w))) if by_mm > 0.0 && outer_mm(item.device) > 4.0 && w.ei_n_mm2 < STIFF_N_MM2 => {
                warnings.push(Warning::SoftRail);
            }
            _ => {}
        }
        Ok(warnings)
    }

    /// Whether something can be taken out; warnings for what is unwise.
    pub fn may_remove(&self, index: usize) -> Result<Vec<Warning>, Refusal> {
        let Some(item) = self.items.get(index) else {
            return Err(Refusal("there is no such thing on this line".to_owned()));
        };
        let mut warnings = Vec::new();
        match item.device {
            Device::Wire(_) => {
                if self.body().is_none() {
                    warnings.push(Warning::PositionLost);
                }
            }
            Device::Sheath(_) => {
                if let Some(body) = self.body() {
                    return Err(Refusal(format!("{} lies in it: take that out first", body.label)));
                }
                warnings.push(Warning::OpenHole);
            }
            device => {
                let inside = self.items[index + 1..]
                    .iter()
                    .find(|i| !matches!(i.device, Device::Wire(_) | Device::Sheath(_)));
                if let Some(inner) = inside {
                    return Err(Refusal(format!("{} lies in it: take that out first", inner.label)));
                }
                if let Some((laid, wire)) = self.wire() {
                    let outside = 10.0 * wire.length_cm - laid.inserted_mm;
                    if outside < length_mm(device) {
                        return Err(Refusal(format!(
                            "{:.0} cm of {} is outside, less than its length: the wire would come with it",
                            outside / 10.0,
                            laid.label
                        )));
                    }
                }
                if self.sheath().is_none() && outer_mm(device) > 3.0 {
                    warnings.push(Warning::OpenHole);
                }
            }
        }
        Ok(warnings)
    }

    /// All that lies inside the patient as one rod, stiffness added where things overlap; `None` when nothing does.
    pub fn rod(&self) -> Option<Rod> {
        let mut items: Vec<&Laid<'_>> = self.items.iter().filter(|i| i.inserted_mm > 1.0).collect();
        // The deepest leads; the others are round it.
        items.sort_by(|a, b| b.inserted_mm.total_cmp(&a.inserted_mm));
        let (first, rest) = items.split_first()?;
        let mut rod = match first.device {
            Device::Wire(w) => {
                let soft = 10.0 * w.tip_cm;
                let mut ei: Vec<(f64, f64)> =
                    (0..=4).map(|k| soft * f64::from(k) / 4.0).map(|d| (d, w.ei_at_n_mm2(d))).collect();
                ei.dedup_by(|a, b| a.0 == b.0);
                Rod { ei, radius: vec![(0.0, 0.5 * w.diameter_mm)], inserted_mm: first.inserted_mm }
            }
            device => Rod::even(ei_n_mm2(device), 0.5 * outer_mm(device), first.inserted_mm),
        };
        for item in rest {
            rod = rod.with(
                first.inserted_mm - item.inserted_mm,
                ei_n_mm2(item.device),
                0.5 * outer_mm(item.device),
            );
        }
        Some(rod)
    }

    /// Radius of the leading tip's rounding, mm, and whether a stiff shaft stands right behind it.
    pub fn leading_tip(&self) -> Option<(f64, bool)> {
        let lead = self.items.iter().max_by(|a, b| a.inserted_mm.total_cmp(&b.inserted_mm))?;
        Some(match lead.device {
            Device::Wire(w) => {
                let blunt = match w.tip {
                    WireTip::Straight => 0.5 * w.diameter_mm,
                    WireTip::Angled => 1.0,
                    WireTip::J { radius_mm } | WireTip::WideCurve { radius_mm } => radius_mm,
                };
                (blunt, w.ei_at_n_mm2(15.0) > STIFF_N_MM2)
            }
            device => (0.5 * outer_mm(device), ei_n_mm2(device) > 2000.0),
        })
    }
}
