//! How far the drawn spine, and the belly with it, lie beside where they were drawn, so that no blood runs in bone: the aorta
//! lies on the left of the thoracic spine and on the front of the lumbar one, and a sac bulges away from it (textbook).
//!
//! The patient's vessels are where they are; it is the drawing that gives way: in the belly to the back, with all that lies
//! within, and the skin by half; in the chest the spine alone, to the right.

use super::Tissues;
use super::skeleton;
use super::stature::Stature;
use crate::anatomy::{Tree, Vessel, VesselName};
use crate::imaging::solid::Solid;
use crate::math::Vec3;
use crate::math::interp::smooth_step;
use std::f64::consts::TAU;

/// Below this the aorta lies on the front of the spine, mm on the drawing: the tenth thoracic vertebra.
const FRONT_FROM_MM: f64 = -140.0;
/// Thoracic vertebrae that an aorta can lie beside: the fourth to the tenth, by their middles, mm on the drawing.
const BESIDE_MM: (f64, f64) = (-150.0, 45.0);
/// Wall and fat between an artery's blood or clot and the lumbar bone, mm (a wall of 1.6 mm; the fat is assumed).
const APART_MM: f64 = 2.5;
/// Between the blood in the chest and the bone: a wall. Its clot drapes over the vertebra; were the spine to give way to that
/// too, it would be crooked.
const APART_CHEST_MM: f64 = 1.6;
/// Farthest that the thoracic spine gives way, mm.
const MOST_ASIDE_MM: u32 = 22;

/// By how much the drawing gives way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lean {
    back: Sway,
    aside: Sway,
}

/// Millimetres by height on the drawing, smooth, and nothing at both ends.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Sway {
    top_mm: f64,
    pitch_mm: f64,
    by_mm: [f64; KNOTS],
}

const KNOTS: usize = 33;
/// Over so much the spine comes back to where it was drawn, and its bends are rounded, mm: it has no step.
const FADES_MM: f64 = 110.0;
const ROUNDED_MM: f64 = 22.0;
/// Near an end nothing is left of it, mm.
const END_MM: f64 = 50.0;

impl Default for Lean {
    fn default() -> Self {
        Self {
            // From the eighth thoracic vertebra to the femoral heads, which stay.
            back: Sway { top_mm: -90.0, pitch_mm: 12.5625, by_mm: [0.0; KNOTS] },
            // From the first thoracic vertebra to the last.
            aside: Sway { top_mm: 92.0, pitch_mm: 9.0, by_mm: [0.0; KNOTS] },
        }
    }
}

impl Lean {
    /// What the patient's arteries need, whose points less `shift` are trunk coordinates.
    pub fn of(tree: &Tree, shift: Vec3, tissues: &Tissues, stature: &Stature) -> Self {
        let mut out = Self::default();
        out.give_backward(tree, shift, stature);
        out.give_rightward(tree, shift, tissues, stature);
        out.back.soften();
        out.aside.soften();
        out
    }

    fn give_backward(&mut self, tree: &Tree, shift: Vec3, stature: &Stature) {
        use VesselName::{Aorta, FalseLumen, LeftCommonIliac, RightCommonIliac};
        let front = skeleton::Front::of(stature);
        let on_spine = [Aorta, FalseLumen, RightCommonIliac, LeftCommonIliac];
        for vessel in tree.vessels.iter().filter(|v| on_spine.contains(&v.name)) {
            for p in wall(vessel, true).map(|p| p - shift) {
                let drawn_mm = stature.drawn(p).z;
                if drawn_mm < FRONT_FROM_MM
                    && let Some(bone_mm) = front.at(p.x, p.z)
                {
                    self.back.need(drawn_mm, p.y + APART_MM - bone_mm);
                }
            }
        }
    }

    fn give_rightward(&mut self, tree: &Tree, shift: Vec3, tissues: &Tissues, stature: &Stature) {
        let beside = |v: &&Vessel| matches!(v.name, VesselName::Aorta | VesselName::FalseLumen);
        let lumen: Vec<Vec3> =
            tree.vessels.iter().filter(beside).flat_map(|v| wall(v, false)).map(|p| p - shift).collect();
        for (middle, solids) in skeleton::vertebrae(tissues, stature) {
            let drawn_mm = stature.drawn(middle).z;
            if drawn_mm < BESIDE_MM.0 || drawn_mm > BESIDE_MM.1 {
                continue;
            }
            let near = |p: &&Vec3| (p.z - middle.z).abs() < 40.0 && (p.x - middle.x).abs() < 60.0;
            let mut meets: Vec<Vec3> = lumen.iter().filter(near).copied().collect();
            let held = |p: &Vec3, aside: u32| {
                let apart = [0.0, 0.5, 1.0].map(|part| {
                    let wall = Vec3::new(-1.0, 1.0 - part, 0.0) * (part * APART_CHEST_MM);
                    *p + wall + Vec3::new(f64::from(aside), 0.0, 0.0)
                });
                solids.iter().any(|s: &Solid| apart.iter().any(|q| s.holds(*q)))
            };
            let mut aside = 0;
            while aside < MOST_ASIDE_MM {
                meets.retain(|p| held(p, aside));
                if meets.is_empty() {
                    break;
                }
                aside += 1;
            }
            self.aside.need(drawn_mm, f64::from(aside));
        }
    }

    /// Towards the back at a height of the drawing, mm.
    pub fn back_mm(&self, drawn_mm: f64) -> f64 {
        self.back.at(drawn_mm)
    }
    /// Of the thoracic spine to the right, mm.
    pub fn aside_mm(&self, drawn_mm: f64) -> f64 {
        self.aside.at(drawn_mm)
    }
}

impl Sway {
    /// No less than this at a height; nothing beyond the ends.
    fn need(&mut self, drawn_mm: f64, by_mm: f64) {
        let part = (self.top_mm - drawn_mm) / self.pitch_mm;
        if part < 0.0 || part >= KNOTS as f64 - 1.0 {
            return;
        }
        // Between two knots nothing is less than the lesser of them.
        for knot in [part as usize, part as usize + 1] {
            self.by_mm[knot] = self.by_mm[knot].max(by_mm);
        }
    }

    /// Widens what is needed by the length over which bends are rounded, lets it fade, and rounds it.
    fn soften(&mut self) {
        let reach = |mm: f64| (mm / self.pitch_mm) as usize;
        let (flat, fades) = (reach(ROUNDED_MM), reach(FADES_MM));
        let needed = self.by_mm;
        let fade = |away: usize| {
            let part = away.saturating_sub(flat) as f64 / (fades - flat) as f64;
            1.0 - smooth_step(0.0, 1.0, part)
        };
        let wide: [f64; KNOTS] = std::array::from_fn(|k| {
            needed.iter().enumerate().map(|(i, mm)| mm * fade(k.abs_diff(i))).fold(0.0, f64::max)
        });
        let length_mm = self.pitch_mm * (KNOTS - 1) as f64;
        self.by_mm = std::array::from_fn(|k| {
            let about = &wide[k.saturating_sub(flat)..(k + flat + 1).min(KNOTS)];
            let from_top_mm = self.pitch_mm * k as f64;
            let from_end_mm = from_top_mm.min(length_mm - from_top_mm);
            about.iter().sum::<f64>() / about.len() as f64 * smooth_step(0.0, END_MM, from_end_mm)
        });
    }

    fn at(&self, drawn_mm: f64) -> f64 {
        let part = ((self.top_mm - drawn_mm) / self.pitch_mm).clamp(0.0, KNOTS as f64 - 1.0);
        let k = (part as usize).min(KNOTS - 2);
        let (a, b) = (self.by_mm[k], self.by_mm[k + 1]);
        a + (b - a) * (part - k as f64)
    }
}

/// Places on a vessel's wall: around its blood, with or without its clot.
fn wall(vessel: &Vessel, with_clot: bool) -> impl Iterator<Item = Vec3> {
    let lumen = &vessel.lumen;
    let clot: &[f64] = if with_clot { &vessel.wall.thrombus_mm } else { &[] };
    let n = lumen.n_theta();
    (0..lumen.stations()).flat_map(move |i| {
        let frame = vessel.curve.frame(lumen.step_mm() * i as f64);
        (0..n).map(move |k| {
            let r_mm = lumen.ring(i)[k] + clot.get(i * n + k).copied().unwrap_or(0.0);
            frame.at + frame.radial(TAU * k as f64 / n as f64) * r_mm
        })
    })
}
