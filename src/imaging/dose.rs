//! Radiation: air kerma, kerma-area product, and where on the skin it went.
//!
//! Reference point: 15 cm from the isocentre towards the tube (IEC 60601-2-43). The kerma at the detector is what the
//! automatic exposure holds; the patient's transmission and the inverse square law give the rest.

use super::attenuation::{Beam, Material};
use super::body::soft::HALF_AXES_MM;
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

/// Pulses of fluoroscopy and frames of a subtracted run, per second (usual settings for the aorta, no source).
pub const FLUORO_PER_S: f64 = 15.0;
/// See [`FLUORO_PER_S`].
pub const RUN_PER_S: f64 = 3.0;
/// Kerma at the detector is held at its stated value down to this field; a smaller one takes more in proportion, so that
/// the magnified picture is no noisier (assumed: between none and the inverse square, as makers differ).
const FULL_FIELD_MM: f64 = 380.0;

/// A quantity with published levels: the operator is told at the first, the second calls for follow-up of the skin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// What it is.
    pub quantity: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// First notification.
    pub notify: f64,
    /// Substantial dose.
    pub substantial: f64,
}

/// NCRP report 168 (2010), tables of first notification and of substantial radiation dose; from memory.
pub const LEVELS: [Level; 4] = [
    Level { quantity: "peak skin dose", unit: "Gy", notify: 2.0, substantial: 3.0 },
    Level { quantity: "air kerma at the reference point", unit: "Gy", notify: 3.0, substantial: 5.0 },
    Level { quantity: "kerma-area product", unit: "Gy cm2", notify: 300.0, substantial: 500.0 },
    Level { quantity: "fluoroscopy time", unit: "min", notify: 30.0, substantial: 60.0 },
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

/// See [`trunk_transmission`].
pub const CHEST_OF_WATER: f64 = 0.69;

/// Half width and half depth of a patient's trunk, mm: the drawn adult's, scaled as the radius of the cylinder of the same
/// mass and height (Lindskoug, Br. J. Radiol. 65:431, 1992; from memory), against 75 kg and 175 cm.
pub fn trunk_half_axes_mm(mass_kg: f64, height_cm: f64) -> (f64, f64) {
    let scale = ((mass_kg / 75.0) * (175.0 / height_cm.max(50.0))).max(0.1).sqrt();
    (HALF_AXES_MM.0 * scale, HALF_AXES_MM.1 * scale)
}

/// Transmission of the primary beam through a trunk of the given half axes (left-right, front-back), mm, along the view's
/// axis: for dose when no picture is drawn. So much of water is the drawn adult's chest in seven views from the front to the
/// side, 0.66 to 0.73 in each: the automatic exposure looks through spine and mediastinum.
pub fn trunk_transmission(pose: &Pose, half_axes_mm: (f64, f64), beam: &Beam) -> f64 {
    let d = pose.beam_axis();
    let (u, v) = (d.x / half_axes_mm.0, d.y / half_axes_mm.1);
    let chord_cm = 0.2 / (u * u + v * v).sqrt().max(1e-3);
    ops::exp(-CHEST_OF_WATER * beam.mu(Material::Water) * chord_cm)
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
    /// How many pictures are taken from here on.
    pub rates: Rates,
}

/// Pictures each second. A pulse costs the same at any rate (assumed: some machines give slower pulses more each).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rates {
    /// Pulses of fluoroscopy, /s.
    pub screening_per_s: f64,
    /// Frames of a subtracted run, /s.
    pub runs_per_s: f64,
}

impl Default for Rates {
    fn default() -> Self {
        Self { screening_per_s: FLUORO_PER_S, runs_per_s: RUN_PER_S }
    }
}

impl DoseRecord {
    /// Nothing yet, on a trunk of the given half axes (left-right, front-back), mm.
    pub fn new(half_width_mm: f64, half_depth_mm: f64) -> Self {
        let skin = SkinMap::new(half_width_mm, half_depth_mm);
        Self {
            reference_mgy: 0.0,
            kap_gy_cm2: 0.0,
            fluoro_s: 0.0,
            run_frames: 0,
            skin,
            rates: Rates::default(),
        }
    }
    /// Adds `frames` exposures at one pose.
    pub fn add(&mut self, pose: &Pose, each: Exposure, frames: f64) {
        self.reference_mgy += each.reference_mgy * frames;
        self.kap_gy_cm2 += each.kap_gy_cm2 * frames;
        self.skin.add(pose, each.reference_mgy * frames);
    }
    /// Fluoroscopy for so long.
    pub fn screen(&mut self, pose: &Pose, beam: &Beam, seconds: f64) {
        self.fluoro_s += seconds;
        self.add(pose, self.held(pose, beam, FLUORO_UGY), self.rates.screening_per_s * seconds);
    }
    /// A subtracted run of so long, its mask included.
    pub fn run(&mut self, pose: &Pose, beam: &Beam, seconds: f64) {
        let frames = 1 + (self.rates.runs_per_s * seconds.max(0.0)) as u32;
        self.run_frames += frames;
        self.add(pose, self.held(pose, beam, RUN_UGY), f64::from(frames));
    }
    /// One exposure as the automatic exposure holds it behind this trunk.
    fn held(&self, pose: &Pose, beam: &Beam, detector_ugy: f64) -> Exposure {
        let detector_ugy = detector_ugy * (FULL_FIELD_MM / pose.field_mm).max(1.0);
        frame(pose, detector_ugy, trunk_transmission(pose, self.skin.half_axes_mm(), beam))
    }
    /// The quantities of [`LEVELS`], in their order and units.
    pub fn quantities(&self) -> [f64; 4] {
        [self.skin.peak_mgy() / 1000.0, self.reference_mgy / 1000.0, self.kap_gy_cm2, self.fluoro_s / 60.0]
    }
}

/// Dose on the skin of an elliptic trunk, in patches of about 1 cm.
#[derive(Clone, Debug, PartialEq)]
pub struct SkinMap {
    half_width_mm: f64,
    half_depth_mm: f64,
    /// By poses before this one: row (z) by row, then angle; mGy.
    dose_mgy: Vec<f64>,
    peak_mgy: f64,
    /// By this pose.
    entry: Option<Entry>,
}

/// Where the beam of a pose enters.
#[derive(Clone, Debug, PartialEq)]
struct Entry {
    pose: Pose,
    /// Patches, with their dose for each unit at the reference point.
    patches: Vec<(usize, f64)>,
    /// Dose at the reference point, mGy.
    reference_mgy: f64,
}

/// Patches around the trunk and along it, and the span of z that they cover, mm.
const AROUND: usize = 90;
const ALONG: usize = 80;
const Z_MM: (f64, f64) = (-500.0, 300.0);

impl SkinMap {
    fn new(half_width_mm: f64, half_depth_mm: f64) -> Self {
        let dose_mgy = vec![0.0; AROUND * ALONG];
        Self { half_width_mm, half_depth_mm, dose_mgy, peak_mgy: 0.0, entry: None }
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
        if let Some(entry) = self.entry.as_mut().filter(|e| e.pose == *pose) {
            entry.reference_mgy += reference_mgy;
            return;
        }
        (self.dose_mgy, self.peak_mgy) = (self.patches_mgy(), self.peak_mgy());
        self.entry = Some(Entry { pose: *pose, patches: self.entered(pose), reference_mgy });
    }
    /// Patches of this pose's beam, and the dose there.
    fn under_beam(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        let of = |e: &Entry, &(k, factor): &(usize, f64)| (k, self.dose_mgy[k] + e.reference_mgy * factor);
        self.entry.iter().flat_map(move |e| e.patches.iter().map(move |p| of(e, p)))
    }
    fn patches_mgy(&self) -> Vec<f64> {
        let mut all = self.dose_mgy.clone();
        self.under_beam().for_each(|(k, mgy)| all[k] = mgy);
        all
    }
    /// Patches that the beam enters by, and the dose there for each unit of air kerma at the reference point.
    fn entered(&self, pose: &Pose) -> Vec<(usize, f64)> {
        let view: View = pose.view(100);
        let open = |x: f64, y: f64| {
            let (u, v) = ((x + 0.5) / 100.0, (y + 0.5) / 100.0);
            let s = pose.shutter;
            u > s.left && u < 1.0 - s.right && v > s.top && v < 1.0 - s.bottom
        };
        let dose = |k: usize| {
            let (at, normal) = self.patch(k);
            let (x, y, depth) = view.project(at);
            let entered = depth > 0.0 && open(x, y) && normal.dot(at - view.source) < 0.0;
            let r = (pose.sod_mm - REFERENCE_MM) / at.distance(view.source);
            entered.then_some((k, r * r * BACKSCATTER * TABLE * SKIN_TO_AIR))
        };
        (0..self.dose_mgy.len()).filter_map(dose).collect()
    }
    /// Half width and half depth of the trunk, mm.
    pub fn half_axes_mm(&self) -> (f64, f64) {
        (self.half_width_mm, self.half_depth_mm)
    }
    /// Highest skin dose, mGy.
    pub fn peak_mgy(&self) -> f64 {
        self.under_beam().fold(self.peak_mgy, |most, (_, mgy)| most.max(mgy))
    }
    /// Patches along and around, and their doses (row of z by row; angle from the left side towards the back), mGy.
    pub fn patches(&self) -> (usize, usize, Vec<f64>) {
        (ALONG, AROUND, self.patches_mgy())
    }
}

/// Contrast volume over filtration rate, ml per ml/min, above which acute kidney injury was more frequent after coronary
/// work (Laskey et al., J. Am. Coll. Cardiol. 50:584, 2007; from memory).
pub const CONTRAST_PER_EGFR: f64 = 3.7;

/// Contrast volume against kidney function.
pub fn contrast_over_egfr(volume_ml: f64, egfr_ml_min: f64) -> f64 {
    volume_ml / egfr_ml_min.max(1.0)
}
