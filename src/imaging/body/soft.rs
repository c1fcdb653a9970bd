//! Soft tissue at a point: skin, fat, muscle, lung, heart, mediastinum, diaphragm, upper abdomen.
//!
//! Coordinates are the drawn trunk's own: x to the left, y to the back, z to the head, zero at the disc below the fourth
//! thoracic vertebra.

use super::Tissues;
use super::clear::Clear;
use super::spill::Filled;
use super::stature::Stature;
use crate::anatomy::Tree;
use crate::imaging::noise::{quirk, value_noise};
use crate::math::interp::smooth_step;
use crate::math::{Vec3, ops};

/// Half width and half depth of the trunk at heart level, mm.
pub const HALF_AXES_MM: (f64, f64) = (164.0, 118.0);

/// The trunk's soft tissue with the patient's own aorta in its mediastinum.
#[derive(Clone, Debug)]
pub struct Anatomy {
    /// Points of the aorta in trunk coordinates with the radius of its outer wall, mm.
    aorta: Vec<(Vec3, f64)>,
    pub(crate) tissues: Tissues,
    /// What stretches everything below the chest.
    pub(super) stature: Stature,
    /// Blood outside the vessels.
    pub(super) spilled: Vec<Filled>,
    /// Gas in the bowel, on the drawing: middles and half lengths, mm.
    bubbles: Vec<(Vec3, [f64; 3])>,
    /// Where the mediastinum is not.
    clear: Option<Clear>,
}

/// What is at a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Here {
    /// Attenuation, 1/cm.
    pub mu: f64,
    /// How much of it is aerated lung, 0 to 1.
    pub lung: f64,
    /// Within the belly.
    pub belly: bool,
}

/// What a place lies near.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Near {
    /// Distance to the inside of the chest wall, negative inside, mm.
    pub wall_mm: f64,
    /// Height of the diaphragm above or below it, mm.
    pub dome_mm: f64,
    /// How much of it is aerated lung, 0 to 1.
    pub lung: f64,
}

/// A distance from the mediastinum beyond which it makes no difference, mm.
const BESIDE_MM: f64 = 4.0;

impl Anatomy {
    /// Around a patient's aorta, whose points less `shift` are trunk coordinates.
    pub fn new(tree: &Tree, shift: Vec3, tissues: Tissues, stature: Stature) -> Self {
        let aorta = tree.aorta();
        let n = (aorta.curve.length_mm() / 4.5) as usize;
        let points = (0..=n).map(|i| {
            let s = i as f64 * 4.5;
            (aorta.curve.point(s) - shift, aorta.lumen.diameter_mm(s) / 2.0 + 2.0)
        });
        let bubbles = (0..BUBBLES).map(bubble).collect();
        let mut out =
            Self { aorta: points.collect(), tissues, stature, spilled: Vec::new(), bubbles, clear: None };
        out.clear = Some(Clear::of(|p| out.mediastinum(p)));
        out
    }

    /// Whether heart and great vessels are surely some way off.
    pub(crate) fn beside(&self, p: Vec3) -> bool {
        self.clear.as_ref().is_some_and(|c| c.at(p))
    }

    /// Tissue at a point, spilled blood in its place.
    pub fn at(&self, p: Vec3) -> Here {
        let (mut here, near) = self.dry(p);
        if here.mu > 0.0 {
            let blood = self.blood_near(p, &near);
            here.mu += (self.tissues.blood - here.mu) * blood;
            here.lung *= 1.0 - blood;
        }
        here
    }

    /// How much of a place is spilled blood, 0 to 1.
    pub(super) fn blood(&self, p: Vec3) -> f64 {
        self.blood_near(p, &self.dry(p).1)
    }

    fn blood_near(&self, p: Vec3, near: &Near) -> f64 {
        self.spilled.iter().map(|s| s.at(p, self, near)).fold(0.0, f64::max)
    }

    /// Tissue at a point of the trunk without spilled blood, and what it lies near.
    pub(super) fn dry(&self, p: Vec3) -> (Here, Near) {
        let drawn = self.stature.drawn(p);
        // Skin and wall give way half as far as what lies within.
        let skin = Vec3::new(p.x, 0.5 * (p.y + drawn.y), drawn.z);
        let depth = outline(skin);
        if depth > 2.0 {
            return (
                Here { mu: 0.0, lung: 0.0, belly: false },
                Near { wall_mm: 1e3, dome_mm: 0.0, lung: 0.0 },
            );
        }
        let (w, d, yc) = thorax(drawn.z);
        let wall = excess(p.x / w, (skin.y - yc) / d) * w.min(d);
        let dome = diaphragm(p.x, p.y);
        let mut lung = 0.0;
        let mut mediastinum = 0.0;
        if wall < 6.0 && p.z > -225.0 && p.z < 100.0 {
            mediastinum = if self.beside(p) { BESIDE_MM } else { self.mediastinum(p) };
            let outside = wall.max(-mediastinum).max((dome - p.z) * 0.75);
            lung = (0.5 - outside / 3.2).clamp(0.0, 1.0);
        }
        // What is all lung or all belly need not ask what the chest wall would be here.
        let belly = p.z < dome - 2.0 && wall < 0.0;
        let mut mu = if belly {
            self.abdomen(drawn)
        } else if lung >= 1.0 {
            self.air(p)
        } else {
            self.wall(drawn, depth, lung, mediastinum)
        };
        mu *= self.gas(drawn);
        mu *= (0.5 - depth / 3.0).clamp(0.0, 1.0);
        (Here { mu, lung, belly }, Near { wall_mm: wall, dome_mm: dome, lung })
    }

    /// Contrast in heart, great vessels and organs in the arterial phase, mg/ml of iodine at a place; for CT only.
    pub(crate) fn enhanced(&self, p: Vec3, here: &Here) -> f64 {
        if here.belly {
            return enhanced_organs(self.stature.drawn(p));
        }
        if here.lung >= 0.5 || self.beside(p) { 0.0 } else { enhanced_pools(p) }
    }

    /// Aerated lung.
    fn air(&self, p: Vec3) -> f64 {
        self.tissues.lung * (1.0 + 0.25 * (p.y / 90.0) + 0.35 * noise(p, 0.10) + 0.25 * noise(p, 0.25))
    }

    /// Skin, fat, muscle and mediastinum, and so much lung among them.
    fn wall(&self, p: Vec3, depth: f64, lung: f64, mediastinum: f64) -> f64 {
        let t = &self.tissues;
        let n = 0.6 * noise(p, 0.055) + 0.4 * noise(p + Vec3::new(64.0, 21.0, 7.0), 0.14);
        let mut mu = t.soft * (1.0 + 0.035 * n);
        // The seat is better padded.
        let fat_mm = 13.0 + 3.0 * n + 8.0 * smooth_step(-360.0, -450.0, p.z);
        if depth > -fat_mm {
            mu = t.fat + (mu - t.fat) * smooth_step(-fat_mm + 4.0, -fat_mm - 1.0, depth);
            if depth > -2.0 {
                mu = t.soft;
            }
        }
        if depth < -14.0 && mu > 0.95 * t.soft {
            mu = self.muscle_planes(p, depth, mu);
        }
        if lung > 0.0 {
            mu = mu * (1.0 - lung) + self.air(p) * lung;
        }
        if lung < 0.3 && mediastinum < 0.0 && heart(p) > 2.0 {
            mu = mu.min(t.fat + 0.02 + 0.012 * n);
        }
        mu
    }

    /// Thin sheets of fat between muscles.
    fn muscle_planes(&self, p: Vec3, depth: f64, mu: f64) -> f64 {
        let f = f64::from(value_noise(Vec3::new(p.x * 0.035 + 5.0, p.y * 0.035 + 1.0, p.z * 0.018 + 2.0)))
            + 0.5 * f64::from(value_noise(Vec3::new(depth * 0.22, p.x * 0.02, p.y * 0.02)));
        let broad = 0.75 * smooth_step(0.28, 0.48, f.abs().min(0.6));
        let sheet = smooth_step(0.12, 0.03, (f - 0.05).abs());
        mu + (self.tissues.fat - mu) * (0.5 * broad + 0.75 * sheet).min(0.9)
    }

    /// Liver, spleen, kidneys, psoas, and the muscles and hollow organs of the pelvis, in fat; a place of the drawing.
    fn abdomen(&self, p: Vec3) -> f64 {
        let t = &self.tissues;
        let [liver, spleen] = organs(p);
        let base = t.fat + 0.012 + 0.016 * noise(p, 0.06);
        let organ = smooth_step(2.0, -2.0, liver.min(spleen));
        let mut out = base + (t.soft * 1.035 - base) * organ;
        for side in [-1.0, 1.0] {
            let kidney = kidney(p, side);
            let psoas =
                capsule(p, Vec3::new(side * 26.0, 42.0, -230.0), Vec3::new(side * 62.0, 20.0, -390.0), 18.0);
            if kidney < 0.0 {
                out = t.soft * 1.02;
            }
            if psoas < 0.0 {
                out = t.soft;
            }
        }
        if p.z < -360.0 {
            out = self.pelvic(p, out);
        }
        out
    }

    /// What lies in the pelvis: iliac muscles, bladder, rectum; else `fat`.
    fn pelvic(&self, p: Vec3, fat: f64) -> f64 {
        let x = p.x.abs();
        let q = Vec3::new(x, p.y, p.z);
        let iliacus = capsule(q, Vec3::new(106.0, 26.0, -376.0), Vec3::new(78.0, -12.0, -470.0), 17.0);
        let psoas = capsule(q, Vec3::new(62.0, 20.0, -390.0), Vec3::new(84.0, -16.0, -484.0), 16.0);
        let rectum = capsule(p, Vec3::new(6.0, 60.0, -440.0), Vec3::new(0.0, 44.0, -530.0), 16.0);
        let bladder = ellipsoid(p, Vec3::new(0.0, -20.0, -484.0), [40.0, 30.0, 26.0]);
        let organ = smooth_step(1.5, -1.5, iliacus.min(psoas).min(rectum).min(bladder));
        fat + (self.tissues.soft * if bladder < 0.0 { 0.985 } else { 1.0 } - fat) * organ
    }

    /// What gas leaves of the tissue: airways, stomach, bowel.
    fn gas(&self, p: Vec3) -> f64 {
        let mut left = 1.0;
        let mut take = |distance: f64, soft: f64| {
            if distance < soft {
                left *= (0.5 + distance / soft).clamp(0.02, 1.0);
            }
        };
        // The airways all lie between these bounds.
        if p.z > -60.0 && (p.x + 2.5).abs() < 52.5 && (p.y - 21.0).abs() < 17.0 {
            let carina = Vec3::new(2.0, 26.0, 2.0);
            let right = Vec3::new(-32.0, 24.0, -24.0);
            take(capsule(p, Vec3::new(0.0, 16.0, 110.0), carina, 8.3), 2.5);
            take(capsule(p, carina, Vec3::new(40.0, 22.0, -28.0), 5.8), 2.5);
            take(capsule(p, carina, right, 6.6), 2.5);
            take(capsule(p, right, Vec3::new(-46.0, 22.0, -52.0), 4.5), 2.5);
        } else if p.z <= -60.0 && p.z > -200.0 {
            take(
                ellipsoid(p, Vec3::new(58.0, -30.0, -158.0), [30.0, 26.0, 20.0]) + 3.0 * noise(p, 0.07),
                3.0,
            );
        }
        if p.z < -195.0 {
            for (at, half) in &self.bubbles {
                if (p.z - at.z).abs() < 30.0 && at.distance(p) < 40.0 {
                    take(ellipsoid(p, *at, *half) + 5.0 * noise(p, 0.11), 5.0);
                }
            }
        }
        left
    }

    /// Distance to the mediastinum's border, negative inside, mm.
    fn mediastinum(&self, p: Vec3) -> f64 {
        let mut d = heart(p);
        let e = ((p.x - 14.0) * (p.x - 14.0) / 3600.0 + (p.y + 40.0) * (p.y + 40.0) / 2500.0).sqrt();
        d = blend(d, ((e - 1.0) * 45.0).max(p.z + 125.0), 14.0);
        for (a, b, r, k) in GREAT_VESSELS {
            d = blend(d, capsule(p, a, b, r), k);
        }
        let column = Vec3::new(p.x - 2.0, (p.y + 22.0) / 2.6, 0.0).norm()
            - (23.0 + 4.0 * smooth_step(20.0, 80.0, p.z));
        d = blend(d, column, 10.0);
        d = blend(d, Vec3::new(p.x, (p.y - 75.0) * 0.55, 0.0).norm() - 25.0, 6.0);
        if d > -3.0 {
            d = blend(d, self.to_aorta(p), 3.0);
        }
        d
    }

    /// Distance to the aorta's outer wall, mm.
    pub(super) fn to_aorta(&self, p: Vec3) -> f64 {
        let mut best = 1e9;
        let mut i = 0;
        while let Some((at, r)) = self.aorta.get(i) {
            let d = p.distance(*at) - r;
            best = f64::min(best, d);
            i += ((d / 4.5) as usize).max(1);
        }
        best
    }
}

/// How far a place lies outside the skin, mm: the trunk, hips below it, two thighs below those.
fn outline(p: Vec3) -> f64 {
    let hips = smooth_step(-350.0, -490.0, p.z);
    let half_x = HALF_AXES_MM.0 + (p.z - 45.0).max(0.0) * 0.8 - (-p.z - 230.0).max(0.0) * 0.03 + 20.0 * hips;
    let seat = smooth_step(-490.0, -570.0, p.z);
    let half_y = HALF_AXES_MM.1 - (p.z - 40.0).max(0.0) * 0.28 - (-p.z - 200.0).max(0.0) * 0.04 - 16.0 * seat;
    let trunk = excess(p.x / half_x, (p.y - 2.0) / half_y) * half_y;
    if p.z > -520.0 {
        return trunk;
    }
    // The thighs come out of the trunk as they widen.
    let round = smooth_step(-520.0, -570.0, p.z);
    let (half, thin) = (70.0 + 14.0 * round, (-520.0 - p.z) * 0.06);
    let thigh = excess((p.x.abs() - 89.0) / (half - thin), (p.y - 2.0) / (half + 4.0 - thin)) * half;
    // The seat ends a hand below the hips, higher in the middle.
    trunk.max(-562.0 - 0.12 * p.x.abs() - p.z).min(thigh)
}

/// Pulmonary arteries, both caval veins: ends, radius, and how softly they join the rest, mm.
const GREAT_VESSELS: [(Vec3, Vec3, f64, f64); 4] = [
    (Vec3::new(24.0, -14.0, -12.0), Vec3::new(50.0, 12.0, -8.0), 10.5, 5.0),
    (Vec3::new(-8.0, -10.0, -20.0), Vec3::new(-46.0, 8.0, -26.0), 10.5, 5.0),
    (Vec3::new(-27.0, -14.0, 75.0), Vec3::new(-27.0, -24.0, -60.0), 9.0, 5.0),
    (Vec3::new(-24.0, 0.0, -115.0), Vec3::new(-22.0, 8.0, -200.0), 12.0, 6.0),
];

/// Distance to the heart's surface, negative inside, mm.
pub fn heart(p: Vec3) -> f64 {
    let mut d = ellipsoid(cardiac(p, LEFT_VENTRICLE), Vec3::ZERO, [60.0, 40.0, 37.0]);
    d = blend(d, ellipsoid(p, Vec3::new(6.0, -60.0, -114.0), [52.0, 32.0, 40.0]), 24.0);
    d = blend(d, ellipsoid(p, Vec3::new(-22.0, -30.0, -104.0), [30.0, 36.0, 48.0]), 22.0);
    d = blend(d, ellipsoid(p, Vec3::new(6.0, 4.0, -74.0), [40.0, 28.0, 32.0]), 22.0);
    blend(d, capsule(p, Vec3::new(12.0, -46.0, -60.0), Vec3::new(26.0, -18.0, -16.0), 14.0), 18.0)
}

const LEFT_VENTRICLE: Vec3 = Vec3::new(38.0, -42.0, -108.0);

/// A point in the left ventricle's own axes, the first towards the apex.
pub fn cardiac(p: Vec3, centre: Vec3) -> Vec3 {
    let q = p - centre;
    let a = Vec3::new(0.72, -0.40, -0.567);
    let b = Vec3::new(0.0, 0.817, -0.577);
    Vec3::new(q.dot(a), q.dot(b), q.dot(a.cross(b)))
}

/// Height of the diaphragm above a place in the section, mm.
fn diaphragm(x: f64, y: f64) -> f64 {
    let dome = |cx: f64, cy: f64, top: f64, rx: f64, ry: f64| {
        let (u, v) = ((x - cx) / rx, (y - cy) / ry);
        top - 105.0 * (1.0 - (1.0 - (u * u + v * v).min(1.0)).sqrt())
    };
    let a = dome(-58.0, -12.0, -108.0, 80.0, 112.0);
    let b = dome(60.0, -8.0, -120.0, 74.0, 110.0);
    a.max(b) + 6.0 * ops::exp(-(a - b).abs() / 12.0)
}

/// Inner half width, half depth and middle of chest, belly and pelvis by height, mm.
fn thorax(z: f64) -> (f64, f64, f64) {
    // Below the ribs it is the wall of the belly, and then that of the pelvis.
    const ROWS: [(f64, f64, f64, f64); 16] = [
        (-585.0, 4.0, 4.0, 6.0),
        (-550.0, 30.0, 34.0, 6.0),
        (-500.0, 54.0, 54.0, 6.0),
        (-450.0, 66.0, 62.0, 4.0),
        (-405.0, 100.0, 74.0, -2.0),
        (-340.0, 117.0, 84.0, 4.0),
        (-260.0, 118.0, 86.0, 8.0),
        (-190.0, 122.0, 91.0, 3.0),
        (-130.0, 124.0, 94.0, -2.0),
        (-80.0, 122.0, 93.0, -3.0),
        (-30.0, 116.0, 88.0, -2.0),
        (10.0, 103.0, 80.0, 1.0),
        (40.0, 85.0, 68.0, 6.0),
        (62.0, 62.0, 52.0, 12.0),
        (80.0, 38.0, 34.0, 18.0),
        (92.0, 14.0, 16.0, 20.0),
    ];
    let k = ROWS.partition_point(|r| r.0 <= z);
    if k == 0 || k == ROWS.len() {
        let r = ROWS[k.min(ROWS.len() - 1)];
        return (r.1, r.2, r.3);
    }
    let (a, b) = (ROWS[k - 1], ROWS[k]);
    let t = (z - a.0) / (b.0 - a.0);
    (a.1 + (b.1 - a.1) * t, a.2 + (b.2 - a.2) * t, a.3 + (b.3 - a.3) * t)
}

/// Gas in the bowel: so many bubbles.
const BUBBLES: u32 = 22;

/// Middle and half lengths of one, mm. On the back gas rises into the transverse colon and the small bowel's front loops; the
/// flanks hold less, the sigmoid and the rectum some.
fn bubble(i: u32) -> (Vec3, [f64; 3]) {
    let h = |k| quirk(i * 7 + 100, k);
    let (at, size) = match i {
        0..=8 => {
            let x = 24.0 * (f64::from(i) - 4.0);
            (Vec3::new(x, -72.0, -238.0 - 20.0 * (1.0 - x * x / 9000.0)), 11.0)
        }
        9..=11 => (Vec3::new(-98.0, -28.0, -262.0 - 34.0 * f64::from(i - 9)), 13.0),
        12..=13 => (Vec3::new(100.0, -20.0, -268.0 - 52.0 * f64::from(i - 12)), 9.0),
        14..=17 => (Vec3::new(62.0 * h(7), -58.0, -322.0 - 12.0 * f64::from(i - 14)), 9.0),
        18..=19 => {
            (Vec3::new(66.0 - 34.0 * f64::from(i - 18), -20.0, -392.0 - 22.0 * f64::from(i - 18)), 9.0)
        }
        _ => (Vec3::new(4.0, 52.0, -452.0 - 26.0 * f64::from(i - 20)), 9.0),
    };
    let at = at + Vec3::new(8.0 * h(1), 8.0 * h(2), 10.0 * h(3));
    let a = size * (1.0 + 0.35 * h(4));
    (at, [a * (1.15 + 0.35 * h(5)), 0.75 * a, a * (0.95 + 0.3 * h(6))])
}

fn noise(p: Vec3, per_mm: f64) -> f64 {
    f64::from(value_noise(p * per_mm))
}

/// How far outside a superellipse of power 9/4 a place lies, as a part of its radius: exact at the border, and needing
/// no more than square roots.
fn excess(x: f64, y: f64) -> f64 {
    let power = |x: f64| x * x * x.abs().sqrt().sqrt();
    (power(x) + power(y) - 1.0) / 2.25
}

/// Distance to an ellipsoid, first order, negative inside.
pub fn ellipsoid(p: Vec3, centre: Vec3, half: [f64; 3]) -> f64 {
    let q = p - centre;
    let u = Vec3::new(q.x / half[0], q.y / half[1], q.z / half[2]);
    let g = Vec3::new(u.x / half[0], u.y / half[1], u.z / half[2]).norm();
    let k = u.norm();
    if g < 1e-9 { -half[0] } else { k * (k - 1.0) / g }
}

/// Distance to a rod with round ends, negative inside.
pub fn capsule(p: Vec3, a: Vec3, b: Vec3, radius: f64) -> f64 {
    let along = b - a;
    let t = ((p - a).dot(along) / along.dot(along)).clamp(0.0, 1.0);
    (p - a - along * t).norm() - radius
}

/// Union of two distances, rounded over `k` mm.
fn blend(a: f64, b: f64, k: f64) -> f64 {
    let h = (0.5 + 0.5 * (b - a) / k).clamp(0.0, 1.0);
    b + (a - b) * h - k * h * (1.0 - h)
}

/// Distances to liver and spleen on the drawing, negative inside, mm.
fn organs(p: Vec3) -> [f64; 2] {
    [
        ellipsoid(p, Vec3::new(-55.0, -10.0, -165.0), [85.0, 95.0, 75.0]),
        ellipsoid(p, Vec3::new(95.0, 45.0, -170.0), [28.0, 40.0, 50.0]),
    ]
}

/// The same to a kidney; `side` is 1 on the left.
fn kidney(p: Vec3, side: f64) -> f64 {
    capsule(p, Vec3::new(side * 52.0, 45.0, -215.0), Vec3::new(side * 62.0, 48.0, -275.0), 27.0)
}

/// What the organs of the belly hold of the contrast in the arterial phase, mg/ml of iodine at a place of the drawing; for CT
/// only. The kidney's cortex comes first, the liver hardly yet (usual; the numbers are drawn).
fn enhanced_organs(p: Vec3) -> f64 {
    const CORTEX_MM: f64 = 8.0;
    let inside = |distance: f64| smooth_step(0.8, -0.8, distance);
    let [liver, spleen] = organs(p);
    let kidney = kidney(p, 1.0).min(kidney(p, -1.0));
    let cortex = inside(kidney) * (1.0 - 0.7 * inside(kidney + CORTEX_MM));
    let pulp = 3.0 + 1.2 * noise(p, 0.12);
    (5.5 * cortex).max(pulp * inside(spleen)).max(0.7 * inside(liver))
}

/// Enhanced blood pools of the heart and great veins in the arterial phase, mg/ml of iodine at a point; for CT only.
fn enhanced_pools(p: Vec3) -> f64 {
    let mut best = 0.0;
    let mut pool =
        |distance: f64, mg_ml: f64| best = f64::max(best, mg_ml * smooth_step(0.6, -0.6, distance));
    let lv = cardiac(p, Vec3::new(36.0, -41.0, -106.0));
    pool(ellipsoid(lv, Vec3::ZERO, [47.0, 27.0, 24.0]), 8.0);
    pool(ellipsoid(p, Vec3::new(2.0, -62.0, -114.0), [42.0, 23.0, 31.0]), 4.5);
    pool(ellipsoid(p, Vec3::new(-24.0, -30.0, -104.0), [24.0, 29.0, 40.0]), 5.0);
    pool(ellipsoid(p, Vec3::new(6.0, 4.0, -74.0), [35.0, 22.0, 26.0]), 7.0);
    pool(capsule(p, Vec3::new(12.0, -46.0, -60.0), Vec3::new(26.0, -18.0, -16.0), 12.5), 5.5);
    pool(capsule(p, GREAT_VESSELS[0].0, GREAT_VESSELS[0].1, 9.0), 5.8);
    pool(capsule(p, GREAT_VESSELS[1].0, GREAT_VESSELS[1].1, 9.0), 5.8);
    pool(capsule(p, GREAT_VESSELS[2].0, GREAT_VESSELS[2].1, 8.0), 9.5);
    best
}
