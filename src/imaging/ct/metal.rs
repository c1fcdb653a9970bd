//! Devices on a CT: struts, wires and shafts as the scanner's blur leaves them, bright and wider than they are.

use super::Plane;
use super::trunk::{LAYERS, each_inside, layers};
use crate::imaging::attenuation::{Beam, Material};
use crate::imaging::scene::Shape;
use crate::imaging::solid::Solid;
use crate::math::Vec3;

/// Radius of the scanner's blur, mm: a disc that spreads a point as far as a bell 0.7 mm wide at half its height, as on an
/// angiographic CT (common practice, no source).
const BLUR_MM: f64 = 0.6;
/// The brightest that a CT stores, HU: the top of its twelve bits, of which air takes the lowest.
const BRIGHTEST_HU: f32 = 3071.0;

/// What lies in the vessels, and the ball that holds each part.
#[derive(Clone, Debug)]
pub(super) struct Metal {
    parts: Vec<(Solid, (Vec3, f64))>,
    /// From attenuation beyond blood's, 1/cm, to HU.
    hu_cm: f32,
}

impl Metal {
    pub fn new(devices: &[Shape]) -> Self {
        let beam = Beam { kvp: 120.0 };
        let solids = devices.iter().flat_map(|d| Solid::of_device(d, &beam)).map(|s| s.blurred(BLUR_MM));
        Self {
            parts: solids
                .map(|s| {
                    let ball = s.ball();
                    (s, ball)
                })
                .collect(),
            hu_cm: (1000.0 / beam.mu(Material::Water)) as f32,
        }
    }

    /// Adds them to a plane, as the mean of a slice as thick as usual.
    pub fn lay_over(&self, plane: &Plane, hu: &mut [f32]) {
        for plane in layers(plane) {
            for (solid, ball) in &self.parts {
                let adds = self.hu_cm * solid.mu_per_cm as f32 / f32::from(LAYERS);
                each_inside(solid, ball, &plane, |i, _| hu[i] += adds);
            }
        }
        hu.iter_mut().for_each(|h| *h = h.min(BRIGHTEST_HU));
    }
}
