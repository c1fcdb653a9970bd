//! A covered stent as a sleeve in a round artery: the film that it leaves beside it, and what a hole under it can still let out.
//!
//! The film is that of the aortic network ([`super::leak`]): a gap where the sleeve is narrower than the artery, a film that contact
//! presses thin where it is wider. Round an even tube the film has a closed form, a slot of the circumference's width.

use super::leak::film_mm;
use crate::math::ops;

/// Outward pressure of a stent on an artery at 15 % oversizing, kPa: as the grafts' (assumed).
const OUTWARD_KPA: f64 = 3.0;
/// Viscosity of blood, Pa s, and density, kg/m³ (textbook).
const MU: f64 = 3.5e-3;
const RHO: f64 = 1060.0;
/// Discharge coefficient of a hole's edge (textbook).
const DISCHARGE: f64 = 0.6;
/// Pressure at which the film is likened to a hole, Pa: 60 mmHg.
const AT_PA: f64 = 8000.0;

/// A sleeve over a place of an artery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sleeve {
    /// Diameter to which it has opened, or would open if nothing held it, mm.
    pub stent_mm: f64,
    /// Inner diameter of the artery, mm.
    pub artery_mm: f64,
    /// From the hole to its upper and to its lower end, mm.
    pub reach_mm: [f64; 2],
}

impl Sleeve {
    /// (stent - artery) / artery, percent.
    pub fn oversize_percent(&self) -> f64 {
        100.0 * (self.stent_mm / self.artery_mm.max(0.1) - 1.0)
    }

    /// Thickness of the film between sleeve and wall, mm.
    pub fn film_mm(&self) -> f64 {
        let over = self.oversize_percent() / 15.0;
        let gap = 0.5 * (self.artery_mm - self.stent_mm).max(0.0);
        film_mm(gap, OUTWARD_KPA * over.clamp(0.0, 1.4))
    }

    /// The free hole that would bleed as much as the film lets past both ends, mm².
    pub fn seep_mm2(&self) -> f64 {
        film_as_hole_mm2(self.film_mm(), std::f64::consts::PI * self.artery_mm, self.reach_mm)
    }
}

/// The free hole that would bleed as much as a film round it lets past, mm²: `round_mm` wide, with these ways to its two ends.
/// Laminar between parallel walls (12 mu L / w g³) with a jet's loss where a film is wide.
pub fn film_as_hole_mm2(film_mm: f64, round_mm: f64, reach_mm: [f64; 2]) -> f64 {
    let (g, width) = (film_mm.max(1e-4) * 1e-3, round_mm * 1e-3);
    let area = g * width;
    let k = RHO / (2.0 * DISCHARGE * DISCHARGE * area * area);
    let flow = |reach_mm: f64| {
        let r = 12.0 * MU * reach_mm.max(0.5) * 1e-3 / (width * ops::powi(g, 3));
        2.0 * AT_PA / (r + (r * r + 4.0 * k * AT_PA).sqrt())
    };
    let q = flow(reach_mm[0]) + flow(reach_mm[1]);
    q / (DISCHARGE * (2.0 * AT_PA / RHO).sqrt()) * 1e6
}

/// Diameter of a balloon-opened stent for a volume, mm: its balloon is a cylinder of its length that holds `nominal_mm` at its
/// own volume, and grows by no more than a seventh beyond it before it bursts (common practice: about 1 mm on 7).
pub fn opened_mm(nominal_mm: f64, length_mm: f64, ml: f64) -> f64 {
    let d = (4.0 * ml.max(0.0) * 1e3 / (std::f64::consts::PI * length_mm.max(1.0))).sqrt();
    d.min(nominal_mm * 8.0 / 7.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Laminar flow through a thin annulus is that between plates of the circumference's width: pi D g³ dP / (12 mu L).
    #[test]
    fn a_tight_sleeve_seeps_as_plates_do() {
        let sleeve = Sleeve { stent_mm: 9.0, artery_mm: 8.0, reach_mm: [20.0, 20.0] };
        let g = sleeve.film_mm() * 1e-3;
        let q = 2.0 * std::f64::consts::PI * 8e-3 * ops::powi(g, 3) * AT_PA / (12.0 * MU * 20e-3);
        let hole = q / (DISCHARGE * (2.0 * AT_PA / RHO).sqrt()) * 1e6;
        assert!((sleeve.seep_mm2() / hole - 1.0).abs() < 0.02, "{} {hole}", sleeve.seep_mm2());
        assert!(sleeve.seep_mm2() < 0.05);
    }

    /// Too narrow, it lets past what a ring of gap lets past; at either end too short, more.
    #[test]
    fn narrow_or_short_it_leaks() {
        let of = |stent_mm: f64, reach: f64| {
            Sleeve { stent_mm, artery_mm: 8.0, reach_mm: [reach, 20.0] }.seep_mm2()
        };
        assert!(of(7.0, 20.0) > 5.0 && of(7.0, 20.0) < 2.0 * std::f64::consts::PI * 8.0 * 0.7);
        assert!(of(9.0, 20.0) < of(8.0, 20.0) && of(8.0, 20.0) < of(7.0, 20.0));
        assert!(of(8.0, 1.0) > 3.0 * of(8.0, 20.0));
        assert!((opened_mm(8.0, 38.0, 1.91) - 8.0).abs() < 0.01);
    }
}
