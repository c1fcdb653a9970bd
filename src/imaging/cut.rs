//! What is looked at of a CT: a slice as the scanner lies, a section across the vessel, the vessel stretched out along its
//! centreline (curved reformat), or the brightest value of a slab (maximum-intensity projection).

use super::ct::{Plane, Scan, Slice};
use super::scene::{ImagingError, in_range};
use crate::anatomy::{Rail, Site, Tree};
use crate::math::rng::Stream;
use crate::math::{Vec3, ops};

/// The sort of picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum View {
    /// As the scanner cut it.
    #[default]
    Axial,
    /// At right angles to the centreline.
    Across,
    /// The vessel straightened: down the picture is along the centreline.
    Stretched,
    /// The brightest value of a slab, looked at from the front or any side.
    Brightest,
}

impl View {
    /// All, in the order of the reading.
    pub const ALL: [Self; 4] = [Self::Axial, Self::Across, Self::Stretched, Self::Brightest];
}

/// One picture of a CT: which, where and how large.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// Which.
    pub view: View,
    /// Its middle, mm along the rail from the aortic valve.
    pub at_mm: f64,
    /// The groin that the rail leads to.
    pub leg: Site,
    /// Edge of the square picture, mm.
    pub field_mm: f64,
    /// Its middle is the vessel's; else the patient's.
    pub on_vessel: bool,
    /// Stretched: about the centreline; brightest: about the patient's long axis, 0 from the front. Degrees.
    pub turn_deg: f64,
    /// Thickness of the slab, mm.
    pub slab_mm: f64,
}

/// How far from a straightened vessel's centreline is shown, mm: farther out neighbouring rows cross each other.
const BESIDE_MM: f64 = 60.0;

impl Cut {
    /// Edge of a pixel, mm.
    pub fn pixel_mm(&self, pixels: usize) -> f64 {
        self.field_mm / pixels as f64
    }

    /// Cuts it, `pixels` on each edge. Below the rail's end a stretched vessel is dark.
    ///
    /// # Errors
    /// If the rail does not lead there, or a number is out of its range.
    pub fn of(
        &self,
        tree: &Tree,
        scan: &Scan<'_>,
        pixels: usize,
        stream: &mut Stream,
    ) -> Result<Slice, ImagingError> {
        let what = "the way to the groin";
        let rail = Rail::for_access(tree, self.leg).ok_or(ImagingError::NoSuchVessel {
            what,
            index: 0,
            count: 0,
        })?;
        in_range("place (mm)", self.at_mm, 0.0, rail.length_mm())?;
        in_range("field (mm)", self.field_mm, 20.0, 600.0)?;
        in_range("turn (degrees)", self.turn_deg, -360.0, 360.0)?;
        in_range("slab (mm)", self.slab_mm, 1.0, 300.0)?;
        let frame = rail.frame(tree, self.at_mm);
        let pixel_mm = self.pixel_mm(pixels);
        let (x, y) = if self.on_vessel { (frame.at.x, frame.at.y) } else { (0.0, 0.0) };
        match self.view {
            View::Axial => scan.slice(&Plane::axial(frame.at.z, x, y, pixels, pixel_mm), stream),
            View::Across => scan.slice(&Plane::orthogonal(&frame, pixels, pixel_mm), stream),
            View::Brightest => {
                let (sin, cos) = ops::sin_cos(self.turn_deg.to_radians());
                let plane = Plane {
                    middle: Vec3::new(x, y, frame.at.z),
                    right: Vec3::new(cos, sin, 0.0),
                    down: Vec3::new(0.0, 0.0, -1.0),
                    size: (pixels, pixels),
                    pixel_mm,
                };
                scan.brightest(&plane, self.slab_mm, stream)
            }
            View::Stretched => self.stretched(tree, &rail, scan, pixels, stream),
        }
    }

    fn stretched(
        &self,
        tree: &Tree,
        rail: &Rail,
        scan: &Scan<'_>,
        pixels: usize,
        stream: &mut Stream,
    ) -> Result<Slice, ImagingError> {
        let pixel_mm = self.pixel_mm(pixels);
        let top_mm = self.at_mm - 0.5 * self.field_mm;
        let width = ((2.0 * BESIDE_MM / pixel_mm) as usize).clamp(1, pixels);
        let (first, last) = (0.0, rail.length_mm());
        // The direction to the right is carried along the whole way, so that the same turn means the same side everywhere.
        let turn = self.turn_deg.to_radians();
        let start = rail.frame(tree, first);
        let mut right = start.radial(turn);
        let mut at_mm = first;
        let mut rows = Vec::new();
        let mut blank = 0;
        for row in 0..pixels {
            let s = top_mm + (row as f64 + 0.5) * pixel_mm;
            if s < first {
                blank += 1;
                continue;
            }
            if s > last {
                break;
            }
            while at_mm < s {
                at_mm = (at_mm + CARRY_MM).min(s);
                right = right.reject(rail.frame(tree, at_mm).tangent).unit();
            }
            let frame = rail.frame(tree, s);
            rows.push((frame.at, right, frame.tangent));
        }
        let strip = scan.rows(&rows, width, pixel_mm, stream)?;
        let mut hu = vec![DARK_HU; pixels * pixels];
        let from = (pixels - width) / 2;
        for row in 0..rows.len() {
            let to = (blank + row) * pixels + from;
            hu[to..to + width].copy_from_slice(&strip.hu[row * width..(row + 1) * width]);
        }
        Ok(Slice { size: (pixels, pixels), pixel_mm, hu })
    }
}

/// Step in which a direction is carried along a curve, mm.
const CARRY_MM: f64 = 2.0;
/// Where nothing is shown, HU: air.
const DARK_HU: f32 = -1000.0;
