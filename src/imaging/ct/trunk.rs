//! What lies around the vessels on a plane: soft tissue, enhanced heart and organs, bones, lung vessels.

use super::{Plane, Scan};
use crate::imaging::attenuation::{Beam, Material};
use crate::imaging::body::Body;
use crate::imaging::noise::value_noise;
use crate::imaging::solid::Solid;
use crate::math::Vec3;

/// Pixels between places where soft tissue is asked in full; filled in between where their values agree, HU.
const COARSE: usize = 4;
const AGREE_HU: f32 = 60.0;

impl Scan<'_> {
    /// Soft tissue, enhanced heart, bones and lung vessels on a plane, and in how many of the slice's layers each pixel is bone.
    pub(super) fn trunk(&self, body: &Body, plane: &Plane) -> (Vec<f32>, Vec<u8>) {
        let (w, h) = plane.size;
        let water = Beam::default().mu(Material::Water);
        let ct = Beam { kvp: 120.0 };
        let per_mg_ml = 1000.0 * ct.mu_iodine() / ct.mu(Material::Water);
        let soft = |x: usize, y: usize| {
            let p = plane.point(x as f64, y as f64) - body.shift();
            let here = body.anatomy().at(p);
            let mut hu = 1000.0 * (here.mu / water - 1.0);
            let pool = body.anatomy().enhanced(p, &here);
            if pool > 0.0 {
                hu += pool * per_mg_ml * (1.0 + 0.08 * f64::from(value_noise(p * 0.11)));
            }
            (hu.max(-1000.0) as f32, here.lung as f32)
        };
        let (cw, ch) = ((w - 1).div_ceil(COARSE) + 1, (h - 1).div_ceil(COARSE) + 1);
        let nodes: Vec<(f32, f32)> = (0..cw * ch)
            .map(|i| soft(((i % cw) * COARSE).min(w - 1), ((i / cw) * COARSE).min(h - 1)))
            .collect();
        let (mut hu, mut lung) = (vec![0.0f32; w * h], vec![0.0f32; w * h]);
        for cy in 0..(ch - 1).max(1) {
            for cx in 0..(cw - 1).max(1) {
                let (right, below) = ((cx + 1).min(cw - 1), (cy + 1).min(ch - 1));
                let four =
                    [cy * cw + cx, cy * cw + right, below * cw + cx, below * cw + right].map(|i| nodes[i]);
                let low = four.iter().fold(f32::MAX, |a, n| a.min(n.0));
                let high = four.iter().fold(f32::MIN, |a, n| a.max(n.0));
                for y in cy * COARSE..((cy + 1) * COARSE).min(h) {
                    for x in cx * COARSE..((cx + 1) * COARSE).min(w) {
                        let (u, v) = (
                            (x - cx * COARSE) as f32 / COARSE as f32,
                            (y - cy * COARSE) as f32 / COARSE as f32,
                        );
                        let mix = |k: fn(&(f32, f32)) -> f32| {
                            let (a, b, c, d) = (k(&four[0]), k(&four[1]), k(&four[2]), k(&four[3]));
                            (a + (b - a) * u) * (1.0 - v) + (c + (d - c) * u) * v
                        };
                        (hu[y * w + x], lung[y * w + x]) =
                            if high - low < AGREE_HU { (mix(|n| n.0), mix(|n| n.1)) } else { soft(x, y) };
                    }
                }
            }
        }
        let inside = self.bones_into(body, plane, &mut hu);
        for (solid, ball) in body.lung_vessels().iter().zip(&self.lung_vessels) {
            each_inside(solid, ball, plane, |i, _| {
                if lung[i] > 0.5 && inside[i] == 0 {
                    hu[i] = LUNG_VESSEL_HU as f32;
                }
            });
        }
        (hu, inside)
    }
}

impl Scan<'_> {
    /// Lays the bones over soft tissue, as the mean of a slice as thick as usual; returns in how many of the slice's layers
    /// each pixel is bone.
    fn bones_into(&self, body: &Body, plane: &Plane, hu: &mut [f32]) -> Vec<u8> {
        let tissues = body.anatomy().tissues;
        let water = Beam::default().mu(Material::Water);
        let mut count = vec![0u8; hu.len()];
        let mut sum = vec![0.0f32; hu.len()];
        let mut bone = vec![0.0f32; hu.len()];
        // Which layer last met each pixel, and the pixels that this one meets.
        let mut met = vec![0u8; hu.len()];
        let mut hit: Vec<usize> = Vec::new();
        for (layer, plane) in (1..=LAYERS).zip(layers(plane)) {
            for (solid, ball) in body.bones().zip(&self.bones) {
                each_inside(solid, ball, &plane, |i, p| {
                    let mottle =
                        if solid.mottle > 0.0 { solid.mottle * f64::from(value_noise(p * 0.9)) } else { 0.0 };
                    if met[i] != layer {
                        (met[i], bone[i]) = (layer, 0.0);
                        hit.push(i);
                    }
                    bone[i] += (solid.mu_per_cm * (1.0 + mottle)) as f32;
                });
            }
            for i in hit.drain(..) {
                // Bones are drawn as what they add to soft tissue at 60 keV; at CT energies that is a fifth less.
                let mu = (tissues.soft + f64::from(bone[i])).clamp(tissues.fat, tissues.cortical);
                sum[i] += (1000.0 * ((tissues.soft + 0.8 * (mu - tissues.soft)) / water - 1.0)) as f32;
                count[i] += 1;
            }
        }
        for ((h, n), s) in hu.iter_mut().zip(&count).zip(&sum) {
            *h += (s - f32::from(*n) * *h) / f32::from(LAYERS);
        }
        count
    }
}

/// A vessel of the lung in the arterial phase, HU (assumed).
const LUNG_VESSEL_HU: f64 = 215.0;
/// Thickness of a slice, mm (usual for an angiographic CT), and the layers that it is the mean of.
const SLICE_MM: f64 = 1.5;
pub(super) const LAYERS: u8 = 6;

/// The planes that a slice as thick as usual is the mean of.
pub(super) fn layers(plane: &Plane) -> impl Iterator<Item = Plane> + use<> {
    let (plane, normal) = (*plane, plane.right.cross(plane.down));
    (0..LAYERS).map(move |layer| {
        let off = SLICE_MM * ((f64::from(layer) + 0.5) / f64::from(LAYERS) - 0.5);
        Plane { middle: plane.middle + normal * off, ..plane }
    })
}

/// Calls `put` for each pixel inside a solid.
pub(super) fn each_inside(
    solid: &Solid,
    &(middle, reach): &(Vec3, f64),
    plane: &Plane,
    mut put: impl FnMut(usize, Vec3),
) {
    let normal = plane.right.cross(plane.down);
    if (middle - plane.middle).dot(normal).abs() > reach {
        return;
    }
    let Some((columns, rows)) = plane.window(std::iter::once(middle), reach) else { return };
    let step = plane.right * plane.pixel_mm;
    for row in rows {
        let Some((from, to)) = solid.span(plane.point(0.0, row as f64), step) else { continue };
        let (from, to) = (from.max(columns.start as f64).ceil(), to.min(columns.end as f64 - 1.0));
        let mut x = from;
        while x <= to {
            put(row * plane.size.0 + x as usize, plane.point(x, row as f64));
            x += 1.0;
        }
    }
}
