//! Measuring: sections at right angles to the centreline, lengths along it and along the curves, angles and
//! views.

use super::around::{inner_theta, outer_theta};
use super::{Tree, Vessel, VesselName};
use crate::math::{Curve, Vec3, ops};
use serde::Serialize;
use std::f64::consts::{PI, TAU};

/// One section at right angles to the centreline.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Section {
    /// Arc length, mm.
    pub s_mm: f64,
    /// Smallest calliper width, mm.
    pub min_mm: f64,
    /// Largest calliper width, mm.
    pub max_mm: f64,
    /// Area, mm².
    pub area_mm2: f64,
    /// Perimeter, mm.
    pub perimeter_mm: f64,
}

impl Section {
    /// Of a ring of radii at equal angles.
    pub fn of_ring(s_mm: f64, ring: &[f64]) -> Self {
        let n = ring.len();
        let corner = |k: usize| {
            let (s, c) = ops::sin_cos(TAU * (k % n) as f64 / n as f64);
            (ring[k % n] * c, ring[k % n] * s)
        };
        let corners: Vec<(f64, f64)> = (0..n).map(corner).collect();
        let width = |angle: f64| {
            let (s, c) = ops::sin_cos(angle);
            let along = corners.iter().map(|p| p.0 * c + p.1 * s);
            let (lo, hi) =
                along.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), x| (lo.min(x), hi.max(x)));
            hi - lo
        };
        let (mut min_mm, mut max_mm) = (f64::INFINITY, 0.0_f64);
        for i in 0..180 {
            let w = width(PI * f64::from(i) / 180.0);
            (min_mm, max_mm) = (min_mm.min(w), max_mm.max(w));
        }
        let (mut area_mm2, mut perimeter_mm) = (0.0, 0.0);
        for k in 0..n {
            let (a, b) = (corners[k], corners[(k + 1) % n]);
            area_mm2 += 0.5 * (a.0 * b.1 - a.1 * b.0);
            perimeter_mm += ((b.0 - a.0) * (b.0 - a.0) + (b.1 - a.1) * (b.1 - a.1)).sqrt();
        }
        Self { s_mm, min_mm, max_mm, area_mm2, perimeter_mm }
    }

    /// Diameter of the circle of equal area, mm.
    pub fn area_diameter_mm(&self) -> f64 {
        2.0 * (self.area_mm2 / PI).sqrt()
    }
    /// Diameter of the circle of equal perimeter, mm.
    pub fn perimeter_diameter_mm(&self) -> f64 {
        self.perimeter_mm / PI
    }
    /// Mean of the smallest and the largest diameter, mm.
    pub fn mean_mm(&self) -> f64 {
        0.5 * (self.min_mm + self.max_mm)
    }
}

/// Length of one stretch along its centreline and along the two sides of its bends, mm.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Lengths {
    /// Along the centreline.
    pub centre_mm: f64,
    /// Along the inner side of each bend.
    pub inner_mm: f64,
    /// Along the outer side of each bend.
    pub outer_mm: f64,
}

impl Vessel {
    /// The section at `s_mm`.
    pub fn section(&self, s_mm: f64) -> Section {
        let n = self.lumen.n_theta();
        let ring: Vec<f64> = (0..n).map(|k| self.lumen.radius(s_mm, TAU * k as f64 / n as f64)).collect();
        Section::of_ring(s_mm, &ring)
    }

    /// Lengths between two stations. A line on the wall at radius r on the inner side of a bend of curvature
    /// k is 1 - k r times as long as the centreline, on the outer side 1 + k r.
    pub fn lengths(&self, from_mm: f64, to_mm: f64) -> Lengths {
        let (a, b) = (from_mm.clamp(0.0, self.curve.length_mm()), to_mm.clamp(0.0, self.curve.length_mm()));
        let n = ((b - a).abs().ceil() as usize).max(1) * 2;
        let h = (b - a).abs() / n as f64;
        let mut out = Lengths { centre_mm: (b - a).abs(), ..Lengths::default() };
        for i in 0..n {
            let s = a.min(b) + h * (i as f64 + 0.5);
            let k = self.curve.curvature(s).norm();
            let radius = |theta: Option<f64>| theta.map_or(0.0, |t| self.lumen.radius(s, t));
            out.inner_mm += h * (1.0 - k * radius(inner_theta(&self.curve, s))).max(0.0);
            out.outer_mm += h * (1.0 + k * radius(outer_theta(&self.curve, s)));
        }
        out
    }

    /// Curvature of the inner wall at `s_mm`, 1/mm: 1 / (R - r). Zero where straight.
    pub fn inner_curvature(&self, s_mm: f64) -> f64 {
        let k = self.curve.curvature(s_mm).norm();
        let r = inner_theta(&self.curve, s_mm).map_or(0.0, |t| self.lumen.radius(s_mm, t));
        k / (1.0 - k * r).max(1e-3)
    }

    /// Inner curvature times diameter: about 1.0 in arches without, 1.4 with a bird-beak (Frohlich et al., J
    /// Vasc Surg 2020).
    pub fn curvature_times_diameter(&self, s_mm: f64) -> f64 {
        self.inner_curvature(s_mm) * self.lumen.diameter_mm(s_mm)
    }
}

/// Length along a curve over the straight distance between two of its stations.
pub fn tortuosity(curve: &Curve, from_mm: f64, to_mm: f64) -> f64 {
    (to_mm - from_mm).abs() / curve.point(from_mm).distance(curve.point(to_mm)).max(1e-9)
}

/// Angle between the directions of a curve at two stations, degrees.
pub fn turn_deg(curve: &Curve, from_mm: f64, to_mm: f64) -> f64 {
    between_deg(curve.tangent(from_mm), curve.tangent(to_mm))
}

/// Angle between the chords that meet at the middle of three stations, degrees: 0 when they lie on a line.
pub fn angulation_deg(curve: &Curve, before_mm: f64, at_mm: f64, after_mm: f64) -> f64 {
    let p = curve.point(at_mm);
    between_deg(p - curve.point(before_mm), curve.point(after_mm) - p)
}

fn between_deg(a: Vec3, b: Vec3) -> f64 {
    ops::atan2(a.cross(b).norm(), a.dot(b)).to_degrees()
}

/// A C-arm position by DICOM positioner angles, and how true it shows what it was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct View {
    /// Primary angle, degrees: left anterior oblique positive.
    pub lao_deg: f64,
    /// Secondary angle, degrees: cranial positive.
    pub cranial_deg: f64,
    /// Seen over true length of the vessel at the station, 0 to 1.
    pub foreshortening: f64,
}

/// How far a C-arm leans, degrees (assumed; common gantries reach 45 to 55 cranially and caudally).
pub const MOST_CRANIAL_DEG: f64 = 45.0;
/// How far it turns, degrees (assumed).
pub const MOST_LAO_DEG: f64 = 100.0;

/// Direction from source to detector, unit vector in patient axes, for DICOM positioner angles in degrees.
pub fn beam(lao_deg: f64, cranial_deg: f64) -> Vec3 {
    let ((sp, cp), (ss, cs)) = (ops::sin_cos(lao_deg.to_radians()), ops::sin_cos(cranial_deg.to_radians()));
    Vec3::new(sp * cs, -cp * cs, ss)
}

/// The view square to the vessel at `s_mm`. With `profile_theta` the wall at that angle, such as an ostium's,
/// also lies on the edge of the picture; without, the arm stays as near to no cranial tilt as it can.
pub fn best_view(curve: &Curve, s_mm: f64, profile_theta: Option<f64>) -> View {
    let frame = curve.frame(s_mm);
    let t = frame.tangent;
    let wanted = match profile_theta {
        Some(theta) => t.cross(frame.radial(theta)),
        None => t.cross(Vec3::new(0.0, 0.0, 1.0)),
    };
    // A vessel that runs straight up or down looks the same from all sides: take it from the front.
    let wanted = if wanted.norm() < 0.05 { Vec3::new(0.0, -1.0, 0.0) } else { wanted.unit() };
    let toward_front = if wanted.y > 0.0 { -wanted } else { wanted };
    let ideal = angles_of(toward_front);
    if ideal.1.abs() <= MOST_CRANIAL_DEG && ideal.0.abs() <= MOST_LAO_DEG {
        return View { lao_deg: ideal.0, cranial_deg: ideal.1, foreshortening: seen(t, ideal.0, ideal.1) };
    }
    // Out of the gantry's reach: the nearest direction within it.
    let mut best = (f64::NEG_INFINITY, 0.0, 0.0);
    for lao in -50..=50 {
        for cranial in -45..=45 {
            let (lao, cranial) = (2.0 * f64::from(lao), f64::from(cranial));
            let close = beam(lao, cranial).dot(toward_front).abs();
            if close > best.0 {
                best = (close, lao, cranial);
            }
        }
    }
    View { lao_deg: best.1, cranial_deg: best.2, foreshortening: seen(t, best.1, best.2) }
}

/// Seen over true length of a piece along the unit vector `t`: the sine of its angle with the beam.
fn seen(t: Vec3, lao_deg: f64, cranial_deg: f64) -> f64 {
    let along = t.dot(beam(lao_deg, cranial_deg));
    (1.0 - along * along).max(0.0).sqrt()
}

fn angles_of(beam: Vec3) -> (f64, f64) {
    (ops::atan2(beam.x, -beam.y).to_degrees(), ops::asin(beam.z.clamp(-1.0, 1.0)).to_degrees())
}

impl Tree {
    /// Seen over true length of a vessel at a station in a given view, 0 to 1.
    pub fn foreshortening(&self, vessel: usize, s_mm: f64, lao_deg: f64, cranial_deg: f64) -> f64 {
        seen(self.vessels[vessel].curve.tangent(s_mm), lao_deg, cranial_deg)
    }

    /// The view that shows a branch's origin on the edge of its parent.
    pub fn ostium_view(&self, name: VesselName) -> Option<View> {
        let root = self.get(name)?.root?;
        let parent = self.vessels.get(root.parent)?;
        Some(best_view(&parent.curve, root.s_mm, Some(root.theta_rad)))
    }

    /// Distance along the aorta from a station to the near edge of each branch's origin, mm, in order from
    /// the valve; negative when the station lies beyond the origin's far edge, zero within it.
    pub fn ostium_distances_mm(&self, s_mm: f64) -> Vec<(VesselName, f64)> {
        let edge = |s: f64, radius: f64| {
            let gap = s - s_mm;
            if gap.abs() <= radius { 0.0 } else { gap - radius * gap.signum() }
        };
        self.aortic_branches().into_iter().map(|(name, s, root)| (name, edge(s, root.radius_mm))).collect()
    }
}

/// Part of a round ostium that a straight edge leaves open, 0 to 1. `past_mm` is how far the edge reaches
/// beyond the ostium's centre: (acos k - k sqrt(1 - k²)) / pi with k = past / radius.
pub fn ostium_open_fraction(past_mm: f64, radius_mm: f64) -> f64 {
    let k = (past_mm / radius_mm).clamp(-1.0, 1.0);
    (ops::acos(k) - k * (1.0 - k * k).sqrt()) / PI
}

/// Gap under a rigid end of the given length that touches an inner curve of radius `rho_mm` at its foot, mm,
/// and the angle that it opens, rad: sqrt(rho² + l²) - rho, atan(l / rho).
pub fn beak(rho_mm: f64, length_mm: f64) -> (f64, f64) {
    ((rho_mm * rho_mm + length_mm * length_mm).sqrt() - rho_mm, ops::atan2(length_mm, rho_mm))
}

/// What an aorta measured in shock will measure after resuscitation, mm, by the pulse at the CT: nothing
/// below 100, 12.6 % from 130 on, evenly between (Jonker et al., J Vasc Surg 2010, for the growth at 130; the
/// ramp is assumed).
pub fn recovered_mm(measured_mm: f64, pulse_per_min: f64) -> f64 {
    measured_mm * (1.0 + 0.126 * ((pulse_per_min - 100.0) / 30.0).clamp(0.0, 1.0))
}
