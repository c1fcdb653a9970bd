//! Which pixels of a plane lie in or about a vessel, and where in its own coordinates.

use super::Plane;
use crate::anatomy::Lumen;
use crate::math::{Curve, Frame, Vec3};

/// A centreline as closely spaced frames, for finding what is near.
#[derive(Clone, Debug)]
pub(super) struct Tube {
    frames: Vec<Frame>,
    step_mm: f64,
    lumen: Lumen,
    /// Farthest that anything of it reaches from the axis, by frame.
    reach_mm: Vec<f64>,
    pub wall_mm: f64,
}

/// Thickness of a large vessel's wall, of a small one's, and of a calcified plaque, mm.
const WALL_MM: f64 = 1.6;
const WALL_SMALL_MM: f64 = 0.6;
pub(super) const PLAQUE_MM: f64 = 1.8;
/// Spacing of the frames along a vessel, mm: between them a straight line errs by some hundredths of a millimetre.
const FRAME_MM: f64 = 1.5;

/// A pixel's place in a vessel's own coordinates.
pub(super) struct Place {
    pub p: Vec3,
    pub s_mm: f64,
    pub theta_rad: f64,
    pub r_mm: f64,
    pub lumen_mm: f64,
}

impl Tube {
    pub fn new(curve: &Curve, lumen: &Lumen, lining_mm: f64) -> Self {
        let n = (curve.length_mm() / FRAME_MM).ceil().max(1.0) as usize;
        let step_mm = curve.length_mm() / n as f64;
        let widest = |i: usize| lumen.ring(i).iter().copied().fold(0.0, f64::max);
        let most = (0..lumen.stations()).map(widest).fold(0.0, f64::max);
        let wall_mm = if most > 6.0 { WALL_MM } else { WALL_SMALL_MM };
        let beyond = lining_mm + wall_mm.max(PLAQUE_MM);
        let reach_mm: Vec<f64> = (0..=n)
            .map(|k| {
                let i = (step_mm * k as f64 / lumen.step_mm()) as usize;
                // The rings on both sides count.
                beyond
                    + (i.saturating_sub(1)..i + 3)
                        .map(|j| widest(j.min(lumen.stations() - 1)))
                        .fold(0.0, f64::max)
            })
            .collect();
        Self {
            frames: (0..=n).map(|i| curve.frame(step_mm * i as f64)).collect(),
            step_mm,
            lumen: lumen.clone(),
            reach_mm,
            wall_mm,
        }
    }

    /// Calls `put` for each pixel of the plane within reach of the axis, once.
    pub fn each_pixel(&self, plane: &Plane, mut put: impl FnMut(usize, Place)) {
        let normal = plane.right.cross(plane.down);
        let near = |i: usize| {
            (self.frames[i].at - plane.middle).dot(normal).abs() <= self.reach_mm[i] + self.step_mm
        };
        let mut i = 0;
        // Each stretch of the axis that comes near the plane has its own window of pixels.
        while i < self.frames.len() {
            if !near(i) {
                i += 1;
                continue;
            }
            let start = i;
            while i < self.frames.len() && near(i) {
                i += 1;
            }
            let stretch = &self.frames[start..i];
            let reach = self.reach_mm[start..i].iter().copied().fold(0.0, f64::max);
            let Some((columns, rows)) = plane.window(stretch.iter().map(|f| f.at), reach) else { continue };
            let mut nearest = Nearest::of(stretch, self.step_mm);
            for row in rows {
                let mut column = columns.start;
                while column < columns.end {
                    let p = plane.point(column as f64, row as f64);
                    let (k, d) = nearest.to(p);
                    if d <= self.reach_mm[start + k] + self.step_mm
                        && let Some(place) = self.place(start + k, p)
                    {
                        put(row * plane.size.0 + column, place);
                    }
                    // Nothing is in reach before the distance has been walked off.
                    column += 1 + ((d - reach - self.step_mm).max(0.0) / plane.pixel_mm) as usize;
                }
            }
        }
    }

    fn place(&self, k: usize, p: Vec3) -> Option<Place> {
        let f = &self.frames[k];
        let along = (p - f.at).dot(f.tangent);
        let last = self.frames.len() - 1;
        // Beyond the ends there is nothing.
        if (k == 0 && along < -0.5) || (k == last && along > 0.5) {
            return None;
        }
        let j = if along < 0.0 { k.saturating_sub(1) } else { (k + 1).min(last) };
        let g = &self.frames[j];
        let u = (along / self.step_mm).abs().min(1.0);
        let at = f.at.lerp(g.at, u);
        let tangent = f.tangent.lerp(g.tangent, u).unit();
        let normal = f.normal.lerp(g.normal, u).reject(tangent).unit();
        let frame = Frame { at, tangent, normal, binormal: tangent.cross(normal) };
        let q = p - at;
        let s_mm = self.step_mm * k as f64 + along.clamp(-self.step_mm, self.step_mm);
        let (r_mm, theta_rad) = (q.reject(tangent).norm(), frame.angle_of(q));
        Some(Place { p, s_mm, theta_rad, r_mm, lumen_mm: self.lumen.radius(s_mm, theta_rad) })
    }
}

/// The frame nearest to a point that moves by small steps.
struct Nearest<'a> {
    frames: &'a [Frame],
    step_mm: f64,
    best: usize,
    /// Where the whole stretch was last searched, what was best there, and the least distance there of any frame far along
    /// from that.
    searched: Vec3,
    found: usize,
    elsewhere_mm: f64,
}

/// Frames on each side of the best that are tried at every step.
const ABOUT: usize = 8;
/// How much farther than the best a frame may be for a search of the whole stretch to measure it, mm.
const MARGIN_MM: f64 = 8.0;

impl<'a> Nearest<'a> {
    fn of(frames: &'a [Frame], step_mm: f64) -> Self {
        Self {
            frames,
            step_mm,
            best: 0,
            searched: Vec3::new(f64::MAX, 0.0, 0.0),
            found: 0,
            elsewhere_mm: 0.0,
        }
    }

    /// Index and distance.
    fn to(&mut self, p: Vec3) -> (usize, f64) {
        let moved = p.distance(self.searched);
        let mut here = (self.best, self.frames[self.best].at.distance(p));
        // Downhill along the axis.
        for up in [true, false] {
            loop {
                let next = if up { here.0 + 1 } else { here.0.wrapping_sub(1) };
                let Some(f) = self.frames.get(next) else { break };
                let d = f.at.distance(p);
                if d >= here.1 {
                    break;
                }
                here = (next, d);
            }
        }
        if here.1 > self.elsewhere_mm - moved || here.0.abs_diff(self.found) > ABOUT / 2 {
            here = self.search(p);
        }
        self.best = here.0;
        here
    }

    /// Over the whole stretch, leaping over what cannot be near.
    fn search(&mut self, p: Vec3) -> (usize, f64) {
        let mut best = (self.best, self.frames[self.best].at.distance(p));
        let mut seen = Vec::with_capacity(self.frames.len());
        let mut i = 0;
        while let Some(f) = self.frames.get(i) {
            let d = f.at.distance(p);
            if d < best.1 {
                best = (i, d);
            }
            seen.push((i, d));
            i += (((d - best.1 - MARGIN_MM) / self.step_mm) as usize).max(1);
        }
        let far = seen.iter().filter(|s| s.0.abs_diff(best.0) > ABOUT).map(|s| s.1);
        self.elsewhere_mm = far.fold(best.1 + MARGIN_MM, f64::min);
        (self.searched, self.found) = (p, best.0);
        best
    }
}
