//! Where the C-arm stands, and how it sees: DICOM positioner angles to a pinhole view.
//!
//! Both angles say where the detector is (DICOM PS3.3 C.8.7.5): primary positive towards LAO, secondary positive cranial.

use crate::math::{Vec3, ops};

/// A C-arm position with its table and shutters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pose {
    /// Primary angle, degrees: LAO positive, RAO negative.
    pub primary_deg: f64,
    /// Secondary angle, degrees: cranial positive, caudal negative.
    pub secondary_deg: f64,
    /// Source to detector, mm.
    pub sid_mm: f64,
    /// Source to isocentre, mm.
    pub sod_mm: f64,
    /// Edge of the square field at the detector, mm.
    pub field_mm: f64,
    /// Patient point that the table has brought to the isocentre, mm.
    pub isocentre: Vec3,
    /// Shutters.
    pub shutter: Shutter,
}

/// Collimator blades: how far each is closed, as a fraction of the field's edge.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shutter {
    /// From the image's left.
    pub left: f64,
    /// From the image's right.
    pub right: f64,
    /// From the top.
    pub top: f64,
    /// From the bottom.
    pub bottom: f64,
}

impl Shutter {
    /// Open part of the field, 0 to 1.
    pub fn open_fraction(&self) -> f64 {
        (1.0 - self.left - self.right).max(0.0) * (1.0 - self.top - self.bottom).max(0.0)
    }
}

impl Default for Pose {
    fn default() -> Self {
        Self {
            primary_deg: 0.0,
            secondary_deg: 0.0,
            sid_mm: 1100.0,
            sod_mm: 760.0,
            field_mm: 380.0,
            isocentre: Vec3::ZERO,
            shutter: Shutter::default(),
        }
    }
}

/// Gantry speed, degrees per second (assumed; a motorised arm turns at 15 to 25).
const TURN_DEG_S: f64 = 20.0;
/// Table speed, mm per second (assumed: a hand on a floating table).
const PAN_MM_S: f64 = 100.0;

impl Pose {
    /// The same position turned to other angles.
    pub fn turned(self, primary_deg: f64, secondary_deg: f64) -> Self {
        Self { primary_deg, secondary_deg, ..self }
    }
    /// Magnification at the isocentre.
    pub fn magnification(&self) -> f64 {
        self.sid_mm / self.sod_mm
    }
    /// How long the move to `to` takes, s: turning, lifting the detector and panning run side by side.
    pub fn move_time_s(&self, to: &Self) -> f64 {
        let turn =
            (to.primary_deg - self.primary_deg).abs().max((to.secondary_deg - self.secondary_deg).abs());
        let pan = self.isocentre.distance(to.isocentre).max((to.sid_mm - self.sid_mm).abs());
        (turn / TURN_DEG_S).max(pan / PAN_MM_S)
    }
    /// Whether a picture taken at `other` lies true over one taken here (a reference or roadmap): same angles within half
    /// a degree, same place within a millimetre, same distances and field.
    pub fn matches(&self, other: &Self) -> bool {
        (self.primary_deg - other.primary_deg).abs() < 0.5
            && (self.secondary_deg - other.secondary_deg).abs() < 0.5
            && self.isocentre.distance(other.isocentre) < 1.0
            && (self.sid_mm - other.sid_mm).abs() < 1.0
            && (self.field_mm - other.field_mm).abs() < 1.0
    }
    /// Unit direction from source to detector.
    pub fn beam_axis(&self) -> Vec3 {
        let (sp, cp) = ops::sin_cos(self.primary_deg.to_radians());
        let (ss, cs) = ops::sin_cos(self.secondary_deg.to_radians());
        Vec3::new(sp * cs, -cp * cs, ss)
    }
    /// The pinhole view on a square of `pixels` x `pixels`.
    pub fn view(&self, pixels: usize) -> View {
        let (sp, cp) = ops::sin_cos(self.primary_deg.to_radians());
        let (ss, cs) = ops::sin_cos(self.secondary_deg.to_radians());
        let axis = self.beam_axis();
        View {
            pixels,
            pitch_mm: self.field_mm / pixels as f64,
            sid_mm: self.sid_mm,
            sod_mm: self.sod_mm,
            source: self.isocentre - axis * self.sod_mm,
            axis,
            right: Vec3::new(cp, sp, 0.0),
            up: Vec3::new(-sp * ss, cp * ss, cs),
        }
    }
}

/// A pinhole: the image as if facing the patient (patient's left on the right of an AP image, head up).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Pixels on each edge.
    pub pixels: usize,
    /// Pixel spacing at the detector, mm.
    pub pitch_mm: f64,
    /// Source to detector, mm.
    pub sid_mm: f64,
    /// Source to isocentre, mm.
    pub sod_mm: f64,
    /// Focal spot.
    pub source: Vec3,
    /// Unit vector towards the detector.
    pub axis: Vec3,
    /// Unit vector along rising columns.
    pub right: Vec3,
    /// Unit vector against rising rows.
    pub up: Vec3,
}

impl View {
    /// Column and row (pixel centres are whole numbers) and depth along the axis, mm.
    pub fn project(&self, p: Vec3) -> (f64, f64, f64) {
        let q = p - self.source;
        let depth = q.dot(self.axis);
        let k = self.sid_mm / (depth * self.pitch_mm);
        let half = self.centre();
        (half + q.dot(self.right) * k, half - q.dot(self.up) * k, depth)
    }
    /// Vector from the source to a pixel's place on the detector plane, not normalised.
    pub fn ray(&self, column: f64, row: f64) -> Vec3 {
        let (dx, dy) = ((column - self.centre()) * self.pitch_mm, (row - self.centre()) * self.pitch_mm);
        self.axis * self.sid_mm + self.right * dx - self.up * dy
    }
    /// Size of a pixel in the plane of the isocentre, mm.
    pub fn pixel_at_isocentre_mm(&self) -> f64 {
        self.pitch_mm * self.sod_mm / self.sid_mm
    }
    /// Image shift, in pixels, of a small displacement at the isocentre.
    pub fn shift_px(&self, displacement: Vec3) -> (f64, f64) {
        let k = 1.0 / self.pixel_at_isocentre_mm();
        (displacement.dot(self.right) * k, -displacement.dot(self.up) * k)
    }
    fn centre(&self) -> f64 {
        (self.pixels as f64 - 1.0) / 2.0
    }
    /// The same view on another pixel count.
    pub fn resampled(&self, pixels: usize) -> Self {
        Self { pixels, pitch_mm: self.pitch_mm * self.pixels as f64 / pixels as f64, ..*self }
    }
}
