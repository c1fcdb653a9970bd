//! Blood outside the vessels: where in the trunk so much of it lies.
//!
//! A hollow fills in the order of a *key*, mm: the place with the least key first. How much of the hollow lies below each
//! key is counted on a coarse grid, so that the blood drawn is the blood lost. Shapes are drawn for a patient on the back
//! (assumed): blood in a pleura lies along the back wall and climbs at the sides, blood in the mediastinum sheathes the
//! aorta and is thickest at the tear, blood in the pericardium wraps the heart, blood behind the peritoneum follows kidney
//! and psoas. Blood free in the belly or in the soft tissue of a limb is not drawn.

use super::soft::{Anatomy, Near, capsule, heart};
use super::volume;
use crate::anatomy::Cavity;
use crate::math::Vec3;
use crate::math::interp::smooth_step;

/// Blood in one hollow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spill {
    /// Where.
    pub into: Cavity,
    /// How much, ml.
    pub ml: f64,
    /// The place that it bled from, mm.
    pub from: Vec3,
}

/// A hollow filled up to a key.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Filled {
    into: Cavity,
    from: Vec3,
    key_mm: f64,
    /// Corners of the box that holds it.
    pub(super) within: (Vec3, Vec3),
}

/// Spacing of the grid on which a hollow is measured, mm.
const GRID_MM: f64 = 6.0;
/// Half width of the border between blood and what is beside it, mm.
const BORDER_MM: f64 = 1.5;
/// A clot thins with the distance from its source by this much, mm per mm.
const THINS: f64 = 0.12;
/// Forward of this depth, mm, blood behind the peritoneum spreads this much less, mm per mm.
const FRONT_MM: f64 = 20.0;
const FORWARD: f64 = 1.5;
/// How far blood climbs at the wall of a pleura, as a part of the distance from it, and up to which distance, mm.
const CLIMBS: f64 = 0.8;
const CLIMB_MM: f64 = 40.0;

impl Filled {
    /// Fills a hollow of the dry trunk; `from` in trunk coordinates. `None` when there is nothing to draw.
    pub(super) fn new(anatomy: &Anatomy, into: Cavity, from: Vec3, ml: f64) -> Option<Self> {
        let mut open = Self { into, from, key_mm: f64::INFINITY, within: (Vec3::ZERO, Vec3::ZERO) };
        // What fills when, and how much of its grid cell is hollow: at a lung's border not all of it is air.
        let mut keys: Vec<(f64, f64, Vec3)> = volume::grid(GRID_MM)
            .filter_map(|p| {
                let near = anatomy.dry(p).1;
                let share =
                    if matches!(into, Cavity::LeftPleura | Cavity::RightPleura) { near.lung } else { 1.0 };
                Some((open.key(p, anatomy, &near)?, share, p))
            })
            .collect();
        keys.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut left = ml * 1000.0 / (GRID_MM * GRID_MM * GRID_MM);
        let count = keys.iter().take_while(|k| {
            left -= k.1;
            left > 0.0
        });
        let last = *keys.get(count.count().min(keys.len().checked_sub(1)?))?;
        open.key_mm = last.0;
        let inside = keys.iter().take_while(|k| k.0 <= open.key_mm + 2.0 * BORDER_MM);
        let (mut low, mut high) = (last.2, last.2);
        for (_, _, p) in inside {
            low = Vec3::new(low.x.min(p.x), low.y.min(p.y), low.z.min(p.z));
            high = Vec3::new(high.x.max(p.x), high.y.max(p.y), high.z.max(p.z));
        }
        let edge = Vec3::new(GRID_MM, GRID_MM, GRID_MM);
        open.within = (low - edge, high + edge);
        Some(open)
    }

    /// How much of a place is blood, 0 to 1.
    pub(super) fn at(&self, p: Vec3, anatomy: &Anatomy, near: &Near) -> f64 {
        let (low, high) = self.within;
        let inside = |v: f64, a: f64, b: f64| v >= a && v <= b;
        if !(inside(p.x, low.x, high.x) && inside(p.y, low.y, high.y) && inside(p.z, low.z, high.z)) {
            return 0.0;
        }
        let border = |key| smooth_step(self.key_mm + BORDER_MM, self.key_mm - BORDER_MM, key);
        self.key(p, anatomy, near).map_or(0.0, border)
    }

    /// When a place of the hollow fills; `None` outside it.
    fn key(&self, p: Vec3, anatomy: &Anatomy, near: &Near) -> Option<f64> {
        let in_chest = near.wall_mm < 0.0 && p.z > near.dome_mm;
        match self.into {
            Cavity::LeftPleura | Cavity::RightPleura => {
                let side = if self.into == Cavity::LeftPleura { p.x } else { -p.x };
                let here = near.lung > 0.05 && side > 0.0;
                // Low in the chest a little before high up.
                here.then(|| CLIMBS * (-near.wall_mm).clamp(0.0, CLIMB_MM) - p.y + 0.05 * p.z)
            }
            Cavity::Mediastinum => {
                if !in_chest || heart(p) < 0.0 {
                    return None;
                }
                let wall = anatomy.to_aorta(p);
                (wall > 0.0).then(|| wall + THINS * p.distance(self.from))
            }
            Cavity::PericardialSac => {
                let d = heart(p);
                (in_chest && d > 0.0).then_some(d)
            }
            Cavity::Retroperitoneum => {
                if p.z > near.dome_mm - 4.0 || near.wall_mm > 0.0 {
                    return None;
                }
                let side = if self.from.x < 0.0 { -1.0 } else { 1.0 };
                let drawn = anatomy.stature.drawn(p);
                let kidney = Vec3::new(side * 55.0, 46.0, -225.0);
                let groin = Vec3::new(side * 62.0, 24.0, -400.0);
                let along = capsule(drawn, kidney, groin, 18.0);
                // The muscle keeps its place.
                // Forward of them the bowel's root stands against it.
                let forward = FORWARD * (FRONT_MM - drawn.y).max(0.0);
                (along > 0.0).then(|| along + forward + 0.5 * THINS * p.distance(self.from))
            }
            Cavity::Peritoneum | Cavity::SoftTissue => None,
        }
    }
}
