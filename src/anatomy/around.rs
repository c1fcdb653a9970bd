//! Directions round a section: clock hours, and the inner and outer side of a bend.

use super::spec::Toward;
use crate::math::{Curve, Frame, Vec3, ops};
use std::f64::consts::{PI, TAU};

/// Curvature below which a stretch counts as straight, 1/mm (a radius of 5 m).
const STRAIGHT: f64 = 2e-4;

/// Angle of the inner side of the bend at `s_mm`, rad in the curve's frame; `None` where it is straight.
pub fn inner_theta(curve: &Curve, s_mm: f64) -> Option<f64> {
    let k = curve.curvature(s_mm);
    (k.norm() > STRAIGHT).then(|| curve.frame(s_mm).angle_of(k))
}

/// Angle of the outer side of the bend at `s_mm`, rad in the curve's frame; `None` where it is straight.
pub fn outer_theta(curve: &Curve, s_mm: f64) -> Option<f64> {
    inner_theta(curve, s_mm).map(|t| wrap(t + PI))
}

/// Angle of a side at `s_mm`, rad in the curve's frame. In a straight stretch the outer side is taken as 12
/// o'clock.
pub fn theta_of(curve: &Curve, s_mm: f64, toward: Toward) -> f64 {
    let frame = curve.frame(s_mm);
    match toward {
        Toward::Clock(hours) => frame.angle_of(clock_direction(&frame, hours)),
        Toward::Outer => {
            outer_theta(curve, s_mm).unwrap_or_else(|| frame.angle_of(clock_direction(&frame, 12.0)))
        }
        Toward::Inner => {
            inner_theta(curve, s_mm).unwrap_or_else(|| frame.angle_of(clock_direction(&frame, 6.0)))
        }
    }
}

/// Clock hour of an angle in the section at `s_mm`, in (0, 12].
pub fn clock_of(curve: &Curve, s_mm: f64, theta_rad: f64) -> f64 {
    let frame = curve.frame(s_mm);
    let dir = frame.radial(theta_rad);
    let (noon, three) = (clock_direction(&frame, 12.0), clock_direction(&frame, 3.0));
    let hours = ops::atan2(dir.dot(three), dir.dot(noon)) * 12.0 / TAU;
    if hours <= 0.0 { hours + 12.0 } else { hours }
}

/// Direction of a clock hour: an axial CT image seen from the feet has the front at 12 and the patient's left
/// at 3. Where the vessel runs level, 12 is up.
fn clock_direction(frame: &Frame, hours: f64) -> Vec3 {
    let level = frame.tangent.z.abs() < 0.6;
    let up = if level { Vec3::new(0.0, 0.0, 1.0) } else { Vec3::new(0.0, -1.0, 0.0) };
    let noon = up.reject(frame.tangent).unit();
    let across = noon.cross(frame.tangent);
    // Seen from the feet whichever way the blood runs.
    let three = if frame.tangent.z > 0.6 { -across } else { across };
    let (s, c) = ops::sin_cos(TAU * hours / 12.0);
    noon * c + three * s
}

/// An angle brought into (-pi, pi].
pub fn wrap(theta_rad: f64) -> f64 {
    let t = theta_rad - TAU * (theta_rad / TAU).round();
    if t <= -PI { t + TAU } else { t }
}
