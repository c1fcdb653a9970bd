//! Landing zones 0 to 11, the ostia that bound them, and the type of the arch.

use super::spec::ArchType;
use super::{Tree, VesselName};
use serde::{Deserialize, Serialize};

/// A landing zone of the map of the Society for Vascular Surgery and the Society of Thoracic Surgeons (as in
/// the ACC/AHA guideline on aortic disease, 2022): 0 to 9 on the aorta, 10 common iliac, 11 external iliac
/// arteries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Zone(pub u8);

impl Zone {
    /// What it spans.
    pub fn label(self) -> &'static str {
        match self.0 {
            0 => "zone 0: ascending aorta to the innominate artery",
            1 => "zone 1: innominate to left carotid artery",
            2 => "zone 2: left carotid to left subclavian artery",
            3 => "zone 3: first 2 cm beyond the left subclavian artery",
            4 => "zone 4: to the middle of the descending aorta",
            5 => "zone 5: to the coeliac artery",
            6 => "zone 6: coeliac to superior mesenteric artery",
            7 => "zone 7: superior mesenteric to renal arteries",
            8 => "zone 8: renal arteries",
            9 => "zone 9: infrarenal aorta",
            10 => "zone 10: common iliac artery",
            _ => "zone 11: external iliac artery",
        }
    }
}

impl Tree {
    /// Ends of zones 0 to 9 on the aorta, mm: zone `i` runs from entry `i - 1` (or the valve) to entry `i`.
    ///
    /// Arch zones end at the distal edge of their branch, visceral zones at the proximal edge of the next;
    /// zone 4 ends halfway from the left subclavian to the coeliac artery. A missing branch gives its zone no
    /// length.
    pub fn zone_ends_mm(&self) -> [f64; 10] {
        let length = self.aorta().curve.length_mm();
        let edge = |name: VesselName, side: f64| {
            Some(self.aortic_s_mm(name)? + side * self.get(name)?.root?.radius_mm)
        };
        let distal = |name, or| edge(name, 1.0).unwrap_or(or);
        let proximal = |name, or| edge(name, -1.0).unwrap_or(or);
        use VesselName::*;
        let z0 = distal(Innominate, 0.17 * length);
        let z1 = distal(LeftCarotid, z0);
        let z2 = distal(LeftSubclavian, z1);
        let z3 = z2 + 20.0;
        let z5 = proximal(Coeliac, 0.7 * length).max(z3);
        let from = self.aortic_s_mm(LeftSubclavian).unwrap_or(z2);
        let to = self.aortic_s_mm(Coeliac).unwrap_or(z5);
        let z4 = (0.5 * (from + to)).clamp(z3, z5);
        let z6 = proximal(Sma, z5).max(z5);
        let (right, left) = (proximal(RightRenal, length), proximal(LeftRenal, length));
        let z7 = if right.min(left) < length { right.min(left).max(z6) } else { z6 };
        let z8 = distal(RightRenal, z7).max(distal(LeftRenal, z7)).max(z7);
        [z0, z1, z2, z3, z4, z5, z6, z7, z8, length]
    }

    /// Zone of a place on the aorta.
    pub fn zone_at(&self, s_mm: f64) -> Zone {
        let ends = self.zone_ends_mm();
        Zone(ends.iter().position(|&end| s_mm <= end).unwrap_or(9) as u8)
    }

    /// Extent of an aortic zone, mm; `None` for the iliac zones.
    pub fn zone_bounds_mm(&self, zone: Zone) -> Option<(f64, f64)> {
        let ends = self.zone_ends_mm();
        let i = usize::from(zone.0);
        let from = if i == 0 { 0.0 } else { *ends.get(i - 1)? };
        Some((from, *ends.get(i)?))
    }

    /// Vertical distance from the top of the arch's outer wall to the innominate artery's origin, mm.
    pub fn innominate_drop_mm(&self) -> Option<f64> {
        let root = self.get(VesselName::Innominate)?.root?;
        let aorta = self.aorta();
        let wall_z = |s: f64, theta: f64| {
            let f = aorta.curve.frame(s);
            (f.at + f.radial(theta) * aorta.lumen.radius(s, theta)).z
        };
        let end = self.zone_ends_mm()[3];
        let mut top = f64::NEG_INFINITY;
        let mut s = 0.0;
        while s < end {
            for k in 0..aorta.lumen.n_theta() {
                let theta = std::f64::consts::TAU * k as f64 / aorta.lumen.n_theta() as f64;
                top = top.max(wall_z(s, theta));
            }
            s += 1.0;
        }
        Some((top - wall_z(root.s_mm, root.theta_rad)).max(0.0))
    }

    /// Type of the arch: the drop in diameters of the left common carotid artery, below one I, to two II,
    /// above III (the definition used for carotid stenting; common practice).
    pub fn arch_type(&self) -> Option<ArchType> {
        let carotid = 2.0 * self.get(VesselName::LeftCarotid)?.root?.radius_mm;
        let ratio = self.innominate_drop_mm()? / carotid;
        Some(match ratio {
            r if r < 1.0 => ArchType::I,
            r if r <= 2.0 => ArchType::II,
            _ => ArchType::III,
        })
    }
}
