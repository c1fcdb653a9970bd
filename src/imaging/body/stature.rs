//! How the drawing below the chest becomes the patient's: vertebrae, belly and pelvis are stretched until the femoral heads lie
//! behind the patient's own common femoral arteries, and lie as far back as the arteries before them need.

use super::Tissues;
use super::lean::Lean;
use crate::anatomy::{Rail, Site, Tree};
use crate::math::Vec3;

/// The border of the eighth and ninth thoracic vertebrae, above which nothing is stretched, and the middle of the drawn
/// femoral heads: their height, and their distance from the midline; mm in trunk coordinates.
const CHEST_MM: f64 = -96.0;
const HIPS_MM: f64 = -492.0;
const HIP_ASIDE_MM: f64 = 88.0;
/// How far the common femoral artery runs inward of the femoral head's middle, mm (usual: over its inner third).
const INWARD_MM: f64 = 9.0;
/// Least and most stretch.
const LEAST: f64 = 0.72;
const MOST: f64 = 1.12;

/// The stretch of a patient's lower trunk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stature {
    /// Along the body, below the chest.
    tall: f64,
    /// Across the pelvis.
    wide: f64,
    /// Towards the back.
    lean: Lean,
}

impl Stature {
    /// Of a patient whose points less `shift` are trunk coordinates; as drawn where no artery leads to the groins.
    pub fn of(tree: &Tree, shift: Vec3, tissues: &Tissues) -> Self {
        let groins = [Site::RightFemoral, Site::LeftFemoral].map(|site| {
            let rail = Rail::for_access(tree, site)?;
            Some(rail.frame(tree, rail.length_mm()).at - shift)
        });
        let lean = Lean::default();
        let [Some(a), Some(b)] = groins else { return Self { tall: 1.0, wide: 1.0, lean } };
        let tall = (0.5 * (a.z + b.z) - CHEST_MM) / (HIPS_MM - CHEST_MM);
        let wide = (0.5 * (a.x - b.x).abs() + INWARD_MM) / HIP_ASIDE_MM;
        let upright = Self { tall: tall.clamp(LEAST, MOST), wide: wide.clamp(0.85, 1.1), lean };
        Self { lean: Lean::of(tree, shift, tissues, &upright), ..upright }
    }

    /// Height in the patient of a drawn height, both in trunk coordinates, mm.
    pub fn z(&self, drawn_mm: f64) -> f64 {
        if drawn_mm > CHEST_MM { drawn_mm } else { CHEST_MM + (drawn_mm - CHEST_MM) * self.tall }
    }
    /// The way back: where on the drawing a place of the patient lies.
    pub fn drawn(&self, p: Vec3) -> Vec3 {
        let z = if p.z > CHEST_MM { p.z } else { CHEST_MM + (p.z - CHEST_MM) / self.tall };
        Vec3::new(p.x, p.y - self.lean.back_mm(z), z)
    }
    /// How far the drawing gives way to the arteries.
    pub fn lean(&self) -> &Lean {
        &self.lean
    }
    /// How much longer than drawn things at a height are.
    pub fn stretch(&self, drawn_mm: f64) -> f64 {
        if drawn_mm > CHEST_MM { 1.0 } else { self.tall }
    }
    /// A drawn place of the pelvis in the patient.
    pub fn pelvic(&self, drawn: Vec3) -> Vec3 {
        Vec3::new(drawn.x * self.wide, drawn.y + self.lean.back_mm(drawn.z), self.z(drawn.z))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Back and forth is the same place, and nothing of the chest moves.
    #[test]
    fn stretching_comes_back() {
        let stature = Stature { tall: 0.8, wide: 1.0, lean: Lean::default() };
        for z in [50.0, -95.0, -97.0, -300.0, -492.0] {
            let p = Vec3::new(3.0, -4.0, stature.z(z));
            assert!((stature.drawn(p).z - z).abs() < 1e-9, "{z}");
        }
        assert_eq!(stature.z(-90.0), -90.0);
    }
}
