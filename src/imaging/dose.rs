//! Radiation: air kerma, kerma-area product, and where on the skin it went.
//!
//! Reference point: 15 cm from the isocentre towards the tube (IEC 60601-2-43). The kerma at the detector is what the
//! automatic exposure holds; the patient's transmission and the inverse square law give the rest.

use super::attenuation::{Beam, Material};
use super::pose::{Pose, View};
use crate::math::{Vec3, ops};

/// Reference point's distance from the isocentre towards the tube, mm.
const REFERENCE_MM: f64 = 150.0;
/// Part of the primary beam that the anti-scatter grid and table leave at the detector (assumed).
const GRID_AND_TABLE: f64 = 0.55;
/// Back-scatter factor, table transmission and the ratio of skin to air kerma (Jones and Pasciak, J. Appl. Clin. Med.
/// Phys. 12:231, 2011; the last from memory).
const BACKSCATTER: f64 = 1.3;
const TABLE: f64 = 0.75;
const SKIN_TO_AIR: f64 = 1.06;

/// Kerma at the detector per frame, uGy: pulsed fluoroscopy, and a subtracted run (assumed, usual orders).
pub const FLUORO_UGY: f64 = 0.040;
/// See [`FLUORO_UGY`].
pub const RUN_UGY: f64 = 3.0;

/// Levels that call for a look (NCRP report 168, 2010; from memory): peak skin dose 3 Gy, reference kerma 5 Gy, product
/// 500 Gy cm², fluoroscopy 60 min.
pub const ALERTS: [(&str, f64); 4] = [
    ("peak skin dose (Gy)", 3.0),
    ("reference air kerma (Gy)", 5.0),
    ("kerma-area product (Gy cm2)", 500.0),
    ("fluoroscopy time (min)", 60.0),
];

/// One exposure.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Exposure {
    /// Air kerma at the reference point, mGy.
    pub reference_mgy: f64,
    /// Kerma-area product, Gy cm².
    pub kap_gy_cm2: f64,
}

/// Air kerma of `mas` milliampere-seconds at a distance from the source, uGy: inverse square from the yield at 1 m.
pub fn kerma_ugy(yield_ugy_per_mas_at_1m: f64, mas: f64, distance_mm: f64) -> f64 {
    yield_ugy_per_mas_at_1m * mas * (1000.0 / distance_mm) * (1000.0 / distance_mm)
}

/// One frame that puts `detector_ugy` on a detector behind a patient of the given transmission.
pub fn frame(pose: &Pose, detector_ugy: f64, transmission: f64) -> Exposure {
    let free_ugy = detector_ugy / (transmission.max(1e-4) * GRID_AND_TABLE);
    let d = pose.sod_mm - REFERENCE_MM;
    let reference_ugy = free_ugy * (pose.sid_mm / d) * (pose.sid_mm / d);
    // Kerma falls and the field grows with the square of the distance: their product is the same everywhere.
    let edge_cm = pose.field_mm * 0.1 * d / pose.sid_mm;
    let area_cm2 = edge_cm * edge_cm * pose.shutter.open_fraction();
    Exposure { reference_mgy: reference_ugy * 1e-3, kap_gy_cm2: reference_ugy * 1e-6 * area_cm2 }
}

/// Transmission of the primary beam through a trunk of the given half axes (left-right, front-back), mm, along the view's
/// axis: for dose when no picture is drawn. The chest is taken as 0.6 of water on average (assumed).
pub fn trunk_transmission(pose: &Pose, half_axes_mm: (f64, f64), beam: &Beam) -> f64 {
    let d = pose.beam_axis();
    let (u, v) = (d.x / half_axes_mm.0, d.y / half_axes_mm.1);
    let chord_cm = 0.2 / (u * u + v * v).sqrt().max(1e-3);
    ops::exp(-0.6 * beam.mu(Material::Water) * chord_cm)
}

/// All radiation so far.
#[derive(Clone, Debug, PartialEq)]
pub struct DoseRecord {
    /// Cumulative air kerma at the reference point, mGy.
    pub reference_mgy: f64,
    /// Cumulative kerma-area product, Gy cm².
    pub kap_gy_cm2: f64,
    /// Time with the pedal down for fluoroscopy, s.
    pub fluoro_s: f64,
    /// Frames of subtracted runs.
    pub run_frames: u32,
    /// Skin.
    pub skin: SkinMap,
}

impl DoseRecord {
    /// Nothing yet, on a trunk of the given half axes (left-right, front-back), mm.
    pub fn new(half_width_mm: f64, half_depth_mm: f64) -> Self {
        let skin = SkinMap::new(half_width_mm, half_depth_mm);
        Self { reference_mgy: 0.0, kap_gy_cm2: 0.0, fluoro_s: 0.0, run_frames: 0, skin }
    }
    /// Adds `frames` exposures at one pose.
    pub fn add(&mut self, pose: &Pose, each: Exposure, frames: f64) {
        self.reference_mgy += each.reference_mgy * frames;
        self.kap_gy_cm2 += each.kap_gy_cm2 * frames;
        self.skin.add(pose, each.reference_mgy * frames);
    }
    /// Levels that have been passed, in words, with the value.
    pub fn alerts(&self) -> Vec<(&'static str, f64)> {
        let values = [
            self.skin.peak_mgy() / 1000.0,
            self.reference_mgy / 1000.0,
            self.kap_gy_cm2,
            self.fluoro_s / 60.0,
        ];
        ALERTS
            .iter()
            .zip(values)
            .filter(|((_, level), v)| v >= level)
            .map(|((name, _), v)| (*name, v))
            .collect()
    }
}

/// Dose on the skin of an elliptic trunk, in patches of about 1 cm.
#[derive(Clone, Debug, PartialEq)]
pub struct SkinMap {
    half_width_mm: f64,
    half_depth_mm: f64,
    /// Row (z) by row, then angle; mGy.
    dose_mgy: Vec<f64>,
}

/// Patches around the trunk and along it, and the span of z that they cover, mm.
const AROUND: usize = 90;
const ALONG: usize = 80;
const Z_MM: (f64, f64) = (-500.0, 300.0);

impl SkinMap {
    fn new(half_width_mm: f64, half_depth_mm: f64) -> Self {
        Self { half_width_mm, half_depth_mm, dose_mgy: vec![0.0; AROUND * ALONG] }
    }
    /// Position of a patch and its outward normal.
    fn patch(&self, k: usize) -> (Vec3, Vec3) {
        let theta = std::f64::consts::TAU * (k % AROUND) as f64 / AROUND as f64;
        let (s, c) = ops::sin_cos(theta);
        let z = Z_MM.0 + (Z_MM.1 - Z_MM.0) * ((k / AROUND) as f64 + 0.5) / ALONG as f64;
        let normal = Vec3::new(c / self.half_width_mm, s / self.half_depth_mm, 0.0).unit();
        (Vec3::new(c * self.half_width_mm, s * self.half_depth_mm, z), normal)
    }
    fn add(&mut self, pose: &Pose, reference_mgy: f64) {
        let view: View = pose.view(100);
        let open = |x: f64, y: f64| {
            let (u, v) = ((x + 0.5) / 100.0, (y + 0.5) / 100.0);
            let s = pose.shutter;
            u > s.left && u < 1.0 - s.right && v > s.top && v < 1.0 - s.bottom
        };
        for k in 0..self.dose_mgy.len() {
            let (at, normal) = self.patch(k);
            let (x, y, depth) = view.project(at);
            if depth > 0.0 && open(x, y) && normal.dot(at - view.source) < 0.0 {
                let d = at.distance(view.source);
                let r = (pose.sod_mm - REFERENCE_MM) / d;
                self.dose_mgy[k] += reference_mgy * r * r * BACKSCATTER * TABLE * SKIN_TO_AIR;
            }
        }
    }
    /// Highest skin dose, mGy.
    pub fn peak_mgy(&self) -> f64 {
        self.dose_mgy.iter().copied().fold(0.0, f64::max)
    }
    /// Patches along and around, and their doses (row of z by row; angle from the left side towards the back), mGy.
    pub fn patches(&self) -> (usize, usize, &[f64]) {
        (ALONG, AROUND, &self.dose_mgy)
    }
}

/// Contrast volume against kidney function.
///
/// Volume over eGFR above 3.7 went with acute kidney injury after coronary work (Laskey et al., J. Am. Coll. Cardiol.
/// 50:584, 2007).
pub fn contrast_over_egfr(volume_ml: f64, egfr_ml_min: f64) -> f64 {
    volume_ml / egfr_ml_min.max(1.0)
}
