//! The aorta's course in space, from lengths, an arch type and a few angles.
//!
//! The ascending aorta and the arch lie in one oblique plane and are drawn by their curvature; below the arch
//! the aorta follows the spine from its left side to its front. Patient axes are DICOM's (x left, y back, z
//! head).

use super::VesselName;
use super::normal;
use super::spec::{AnatomySpec, ArchType, Landmark, Stretch};
use crate::math::{Curve, Vec3, interp, ops, spline::Spline};
use std::f64::consts::{FRAC_PI_2, PI};

/// Centreline of the aorta and the arc length of each place along it, mm.
#[derive(Clone, Debug)]
pub(super) struct Course {
    pub(super) curve: Curve,
    pub(super) innominate: f64,
    pub(super) left_carotid: f64,
    pub(super) left_subclavian: f64,
    pub(super) coeliac: f64,
    pub(super) sma: f64,
    pub(super) upper_renal: f64,
    pub(super) lower_renal: f64,
    pub(super) ima: f64,
    pub(super) bifurcation: f64,
}

/// Horizontal direction of the arch, ascending to descending limb: seen in profile at about 59 degrees LAO.
const ALONG: Vec3 = Vec3::new(0.518, 0.855, 0.0);
/// Where the arch meets the descending limb.
const HINGE: Vec3 = Vec3::new(28.0, 46.0, -6.0);
/// Length over which the arch's curvature fades, mm.
const FADE_MM: f64 = 24.0;
const STEP_MM: f64 = 1.0;
/// Spacing of the spline's knots, mm.
const KNOT_MM: f64 = 7.0;

impl Course {
    pub(super) fn new(spec: &AnatomySpec) -> Result<Self, String> {
        let stretch = |s| {
            let written = spec.aorta.lengths_mm.get(&s).copied();
            written.unwrap_or_else(|| normal::stretch_mm(s, spec.age_years, spec.height_cm))
        };
        let innominate = stretch(Stretch::Ascending);
        let left_carotid = innominate + stretch(Stretch::InnominateToLeftCarotid);
        let left_subclavian = left_carotid + stretch(Stretch::LeftCarotidToLeftSubclavian);
        let coeliac = left_subclavian + stretch(Stretch::Descending);
        let sma = coeliac + stretch(Stretch::CoeliacToSma);
        let upper_renal = sma + stretch(Stretch::SmaToRenal);
        let lower_renal = upper_renal + stretch(Stretch::BetweenRenals);
        let bifurcation = lower_renal + stretch(Stretch::Infrarenal);
        let ima = lower_renal + normal::ima_fraction() * (bifurcation - lower_renal);

        let arch = Arch::new(spec, innominate);
        let mut points = arch.points()?;
        let hinge_s = arch.length_mm();
        if coeliac < hinge_s + 60.0 {
            return Err(format!(
                "anatomy, aorta: the coeliac artery lies {coeliac:.0} mm from the valve, but the arch alone takes \
                 {hinge_s:.0}; \
                 lengthen \"descending\" or make inner_radius_mm smaller"
            ));
        }
        let spine = Spine::new(bifurcation - hinge_s)?;
        let thorax =
            Limb { wave: Wave::Snake, from: 0.0, bend: spec.aorta.thoracic_tortuosity.map(Bend::Tortuosity) };
        let depth_coeliac = thorax.lay(&spine, coeliac - hinge_s, &mut points)?;
        let bend = match (spec.aorta.neck_angle_deg, spec.aorta.abdominal_tortuosity) {
            (Some(deg), _) => Some(Bend::Angle(deg.to_radians(), lower_renal - coeliac)),
            (None, ti) => ti.map(Bend::Tortuosity),
        };
        let wave = if spec.aorta.neck_angle_deg.is_some() { Wave::Knee } else { Wave::Snake };
        Limb { wave, from: depth_coeliac, bend }.lay(&spine, bifurcation - coeliac, &mut points)?;

        let knots = respace(&points, KNOT_MM);
        let curve = Curve::through(&knots)
            .ok_or("anatomy, aorta: the course folds onto itself; soften its angles")?;
        // The spline through the knots is as long as the polyline to a fraction of a millimetre; the ends
        // then meet.
        let fit = curve.length_mm() / bifurcation;
        let [innominate, left_carotid, left_subclavian, coeliac, sma, upper_renal, lower_renal, ima] =
            [innominate, left_carotid, left_subclavian, coeliac, sma, upper_renal, lower_renal, ima]
                .map(|s| s * fit);
        let bifurcation = curve.length_mm();
        Ok(Self {
            curve,
            innominate,
            left_carotid,
            left_subclavian,
            coeliac,
            sma,
            upper_renal,
            lower_renal,
            ima,
            bifurcation,
        })
    }

    /// Arc length of a landmark.
    pub(super) fn landmark(&self, landmark: Landmark) -> f64 {
        use Landmark::*;
        match landmark {
            Annulus => 0.0,
            Sinus => 14.0,
            Ascending => 0.5 * self.innominate,
            PreInnominate => self.innominate - 10.0,
            ProximalArch => 0.5 * (self.innominate + self.left_carotid),
            DistalArch => 0.5 * (self.left_carotid + self.left_subclavian),
            Isthmus => self.left_subclavian + 20.0,
            MidDescending => 0.5 * (self.left_subclavian + self.coeliac),
            Diaphragm => self.coeliac - 30.0,
            Coeliac => self.coeliac,
            Suprarenal => 0.5 * (self.sma + self.upper_renal),
            Infrarenal => self.lower_renal + 10.0,
            Bifurcation => self.bifurcation,
        }
    }

    /// Arc length of the origin of a branch of the aorta.
    pub(super) fn origin(&self, name: VesselName) -> Option<f64> {
        use VesselName::*;
        Some(match name {
            Innominate => self.innominate,
            LeftCarotid => self.left_carotid,
            LeftSubclavian => self.left_subclavian,
            Intercostals => 0.5 * (self.left_subclavian + self.coeliac),
            Coeliac => self.coeliac,
            Sma => self.sma,
            // The left renal artery usually leaves a little higher, as in the benchmark tree.
            LeftRenal => self.upper_renal,
            RightRenal => self.lower_renal,
            Ima => self.ima,
            RightCommonIliac | LeftCommonIliac => self.bifurcation,
            _ => return None,
        })
    }
}

/// Ascending aorta and arch, drawn in their plane from the top both ways.
struct Arch {
    radius_mm: f64,
    /// Centreline length from the valve to the top, mm.
    valve_to_top_mm: f64,
}

impl Arch {
    fn new(spec: &AnatomySpec, innominate_mm: f64) -> Self {
        let diameter = |l: Landmark| {
            let written = spec.aorta.diameters_mm.get(&l).copied();
            written.unwrap_or_else(|| normal::aorta_mm(l, spec.age_years, spec.sex))
        };
        let arch_mm = 0.5 * (diameter(Landmark::ProximalArch) + diameter(Landmark::DistalArch));
        let inner = spec.aorta.inner_radius_mm.unwrap_or_else(|| normal::inner_radius_mm(spec.age_years));
        let radius_mm = inner + 0.5 * arch_mm;
        let carotid = spec.branches.iter().find(|b| b.vessel == VesselName::LeftCarotid);
        let carotid_mm = carotid
            .and_then(|b| b.diameter_mm)
            .unwrap_or_else(|| normal::branch_mm(VesselName::LeftCarotid, spec.sex, spec.height_cm).0);
        let drop = spec.aorta.innominate_drop_mm.unwrap_or_else(|| {
            let kind = spec.aorta.arch.unwrap_or_else(|| normal::arch_type(spec.age_years));
            // The middle of each class; the third is open.
            carotid_mm
                * match kind {
                    ArchType::I => 0.5,
                    ArchType::II => 1.5,
                    ArchType::III => 2.5,
                }
        });
        // On the outer curve the origin lies outer (1 - cos angle) below the top.
        let outer = radius_mm + 0.5 * diameter(Landmark::PreInnominate);
        let angle = ops::acos((1.0 - drop / outer).clamp(0.0, 1.0));
        Self { radius_mm, valve_to_top_mm: innominate_mm + radius_mm * angle }
    }

    /// From the top to where the descending limb begins.
    fn top_to_hinge_mm(&self) -> f64 {
        self.radius_mm * FRAC_PI_2 + 0.5 * FADE_MM
    }

    fn length_mm(&self) -> f64 {
        self.valve_to_top_mm + self.top_to_hinge_mm()
    }

    /// Points from the valve to the hinge, each `STEP_MM`.
    fn points(&self) -> Result<Vec<Vec3>, String> {
        // Back from the top: a tight quarter turn, then a slow lean so that the root points to the left
        // ventricle.
        let quarter = self.radius_mm * FRAC_PI_2 - 0.5 * FADE_MM;
        let left = self.valve_to_top_mm - quarter - FADE_MM;
        let lean = if left > 10.0 { (26f64.to_radians() / left).min(1.0 / self.radius_mm) } else { 0.0 };
        let tight = 1.0 / self.radius_mm;
        let back = |s: f64| tight + (lean - tight) * interp::smooth_step(quarter, quarter + FADE_MM, s);
        let down = self.radius_mm * FRAC_PI_2 - 0.5 * FADE_MM;
        let fore = |s: f64| tight * (1.0 - interp::smooth_step(down, down + FADE_MM, s));
        let mut points: Vec<(f64, f64)> =
            walk(self.valve_to_top_mm, back).into_iter().map(|(u, z)| (-u, z)).collect();
        points.reverse();
        points.extend(walk(self.top_to_hinge_mm(), fore).into_iter().skip(1));
        let &(u_end, z_end) = points.last().ok_or("anatomy, aorta: the arch has no length")?;
        Ok(points
            .into_iter()
            .map(|(u, z)| HINGE + ALONG.unit() * (u - u_end) + Vec3::new(0.0, 0.0, z - z_end))
            .collect())
    }
}

/// A plane curve from the top of the arch, heading level and turning downward with the given curvature.
fn walk(length_mm: f64, curvature: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    let n = (length_mm / STEP_MM).ceil() as usize;
    let h = length_mm / n as f64;
    let (mut u, mut z, mut down) = (0.0, 0.0, 0.0);
    let mut out = vec![(u, z)];
    for i in 0..n {
        let turn = h * curvature(h * (i as f64 + 0.5));
        let (s, c) = ops::sin_cos(down + 0.5 * turn);
        u += h * c;
        z -= h * s;
        down += turn;
        out.push((u, z));
    }
    out
}

/// Offset of the aorta from the hinge's vertical as it follows the spine, by depth.
struct Spine {
    x: Spline,
    y: Spline,
    depth_mm: f64,
}

/// (part of the depth from hinge to bifurcation, left mm, back mm): from beside the spine to its front.
const SPINE: [(f64, f64, f64); 9] = [
    (0.0, 0.0, 0.0),
    (0.08, 0.0, 0.0),
    (0.19, -3.5, -1.0),
    (0.35, -10.0, -9.0),
    (0.50, -18.0, -20.0),
    (0.60, -22.0, -27.0),
    (0.72, -24.0, -31.0),
    (0.86, -25.0, -34.0),
    (1.00, -26.0, -33.0),
];

impl Spine {
    fn new(length_mm: f64) -> Result<Self, String> {
        // Depth is a little less than length; the offsets need no better.
        let depth_mm = 0.985 * length_mm;
        let t: Vec<f64> = SPINE.iter().map(|k| k.0 * depth_mm).collect();
        let axis = |f: fn(&(f64, f64, f64)) -> f64| Spline::new(&t, &SPINE.iter().map(f).collect::<Vec<_>>());
        let bad = "anatomy, aorta: the descending aorta has no length; write lengths greater than zero";
        Ok(Self { x: axis(|k| k.1).ok_or(bad)?, y: axis(|k| k.2).ok_or(bad)?, depth_mm })
    }

    fn at(&self, depth_mm: f64) -> Vec3 {
        let d = depth_mm.clamp(0.0, 1.05 * self.depth_mm);
        HINGE + Vec3::new(self.x.eval(d)[0], self.y.eval(d)[0], -depth_mm)
    }
}

/// How a stretch departs from the spine.
#[derive(Clone, Copy)]
enum Bend {
    /// To reach this ratio of length to chord.
    Tortuosity(f64),
    /// To lean by this angle, rad, beginning this far along the stretch, mm.
    Angle(f64, f64),
}

/// Shape of the departure over its part of the stretch, 0 to 1.
#[derive(Clone, Copy)]
enum Wave {
    /// Once to each side, fading at both ends.
    Snake,
    /// Out to one side and back.
    Knee,
}

impl Wave {
    fn at(self, t: f64) -> f64 {
        let t = t.clamp(0.0, 1.0);
        let fade = ops::sin(PI * t);
        match self {
            Self::Snake => fade * fade * ops::sin(2.0 * PI * t),
            Self::Knee => fade * fade,
        }
    }
}

/// Tortuosity leans mostly sideways.
const SNAKE_SIDE: Vec3 = Vec3::new(0.94, -0.34, 0.0);
/// A neck leans forward and to the left over the sac.
const KNEE_SIDE: Vec3 = Vec3::new(0.6, -0.8, 0.0);

/// A stretch of the aorta below the arch.
struct Limb {
    wave: Wave,
    /// Depth at its start, mm.
    from: f64,
    bend: Option<Bend>,
}

impl Limb {
    /// Appends points until the stretch has its length; returns the depth reached.
    fn lay(&self, spine: &Spine, length_mm: f64, points: &mut Vec<Vec3>) -> Result<f64, String> {
        let plain = |depth: f64| arc(&self.points(spine, depth, 0.0, 0.0));
        let straight = bisect(0.2 * length_mm, length_mm, |d| plain(d) - length_mm);
        let (depth, sway, skip) = match self.bend {
            None => (straight, 0.0, 0.0),
            Some(Bend::Tortuosity(ti)) => {
                let chord = |d: f64| spine.at(self.from).distance(spine.at(self.from + d));
                let depth = bisect(0.2 * length_mm, straight, |d| chord(d) - length_mm / ti);
                let longest = arc(&self.points(spine, depth, 0.5 * length_mm, 0.0));
                if plain(depth) > length_mm + 1e-6 || longest < length_mm {
                    let least = length_mm / chord(straight);
                    return Err(format!(
                        "anatomy, aorta: tortuosity {ti} cannot be drawn here; write a number from {least:.2} to 1.8"
                    ));
                }
                (
                    depth,
                    bisect(0.0, 0.5 * length_mm, |a| arc(&self.points(spine, depth, a, 0.0)) - length_mm),
                    0.0,
                )
            }
            Some(Bend::Angle(angle, skip)) => {
                // The knee a sin² (pi t) is steepest a quarter of the way along: slope pi a / length.
                let sway = |depth: f64| (depth - skip).max(1.0) * ops::tan(angle) / PI;
                let depth = bisect(0.2 * length_mm, straight, |d| {
                    arc(&self.points(spine, d, sway(d), skip)) - length_mm
                });
                (depth, sway(depth), skip)
            }
        };
        points.extend(self.points(spine, depth, sway, skip).into_iter().skip(1));
        Ok(self.from + depth)
    }

    fn points(&self, spine: &Spine, depth_mm: f64, sway_mm: f64, skip_mm: f64) -> Vec<Vec3> {
        let n = (depth_mm / STEP_MM).ceil().max(2.0) as usize;
        let side = match self.wave {
            Wave::Snake => SNAKE_SIDE,
            Wave::Knee => KNEE_SIDE,
        };
        let point = |i: usize| {
            let d = depth_mm * i as f64 / n as f64;
            let t = (d - skip_mm) / (depth_mm - skip_mm).max(1.0);
            spine.at(self.from + d) + side * (sway_mm * self.wave.at(t))
        };
        (0..=n).map(point).collect()
    }
}

/// Length of a polyline.
pub(super) fn arc(points: &[Vec3]) -> f64 {
    points.windows(2).map(|w| w[0].distance(w[1])).sum()
}

/// A root of a rising or falling function between `lo` and `hi`, or the nearer end.
pub(super) fn bisect(lo: f64, hi: f64, f: impl Fn(f64) -> f64) -> f64 {
    let (mut a, mut b) = (lo, hi);
    let rising = f(b) > f(a);
    for _ in 0..60 {
        let m = 0.5 * (a + b);
        if (f(m) > 0.0) == rising {
            b = m;
        } else {
            a = m;
        }
    }
    0.5 * (a + b)
}

/// Points at equal distances along a polyline, ends kept, about `spacing_mm` apart.
pub(super) fn respace(points: &[Vec3], spacing_mm: f64) -> Vec<Vec3> {
    let total = arc(points);
    let n = (total / spacing_mm).round().max(3.0) as usize;
    let (mut out, mut walked, mut next) = (Vec::with_capacity(n + 1), 0.0, 0);
    for w in points.windows(2) {
        let step = w[0].distance(w[1]);
        while next < n && total * next as f64 / n as f64 <= walked + step {
            let t = (total * next as f64 / n as f64 - walked) / step;
            out.push(w[0].lerp(w[1], t));
            next += 1;
        }
        walked += step;
    }
    out.extend(points.last());
    out
}
