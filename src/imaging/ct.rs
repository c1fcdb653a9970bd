//! Reading a CT: slices in any plane, in Hounsfield units, with noise.
//!
//! Lumen, thrombus, calcium and sizes are those of the anatomy's own rings, looked up in the frame of the nearest
//! centreline point. Around them lies the same trunk, and in them lie the same fabric and metal, that the fluoroscopy looks
//! through.

mod lined;
mod metal;
mod trunk;
mod tube;

use super::body::Body;
use super::flows::LeakFlow;
use super::grey::Grey;
use super::noise::{Gauss, value_noise};
use super::scene::{ImagingError, Scene, in_range};
use super::solid::Solid;
use crate::anatomy::{Lumen, Tree};
use crate::math::rng::Stream;
use crate::math::{Frame, Vec3};
use lined::Lined;
use metal::Metal;
use trunk::LAYERS;
use tube::{PLAQUE_MM, Tube};

/// A plane of pixels.
#[derive(Clone, Debug, PartialEq)]
pub struct Slice {
    /// Columns and rows.
    pub size: (usize, usize),
    /// Edge of a pixel, mm.
    pub pixel_mm: f64,
    /// Hounsfield units, row by row.
    pub hu: Vec<f32>,
}

impl Slice {
    /// Shown at a window's level and width, HU.
    pub fn window(&self, level: f32, width: f32) -> Grey {
        let low = level - 0.5 * width;
        let grey = |h: f32| ((h - low) / width.max(1.0) * 255.0).clamp(0.0, 255.0) as u8;
        Grey { width: self.size.0, height: self.size.1, pixels: self.hu.iter().map(|h| grey(*h)).collect() }
    }
    /// Value at a pixel.
    pub fn at(&self, column: usize, row: usize) -> f32 {
        self.hu[row * self.size.0 + column]
    }
}

/// Usual windows: level and width, HU (common practice, no source).
pub const ANGIO: (f32, f32) = (200.0, 800.0);
/// See [`ANGIO`].
pub const SOFT: (f32, f32) = (40.0, 400.0);
/// See [`ANGIO`].
pub const LUNG: (f32, f32) = (-600.0, 1500.0);

/// How a plane is cut from the patient.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    /// Its middle, mm.
    pub middle: Vec3,
    /// Unit vector along rising columns.
    pub right: Vec3,
    /// Unit vector along rising rows.
    pub down: Vec3,
    /// Columns and rows.
    pub size: (usize, usize),
    /// Edge of a pixel, mm.
    pub pixel_mm: f64,
}

impl Plane {
    /// An axial slice at a height, seen from the feet: the patient's left on the right, front up.
    pub fn axial(z_mm: f64, middle_x_mm: f64, middle_y_mm: f64, pixels: usize, pixel_mm: f64) -> Self {
        Self {
            middle: Vec3::new(middle_x_mm, middle_y_mm, z_mm),
            right: Vec3::new(1.0, 0.0, 0.0),
            down: Vec3::new(0.0, 1.0, 0.0),
            size: (pixels, pixels),
            pixel_mm,
        }
    }
    /// A section at right angles to a vessel, front or head up as far as its course allows.
    pub fn orthogonal(frame: &Frame, pixels: usize, pixel_mm: f64) -> Self {
        let mut up = Vec3::new(0.0, -1.0, 0.0).reject(frame.tangent);
        if up.norm() < 0.3 {
            up = Vec3::new(0.0, 0.0, 1.0).reject(frame.tangent);
        }
        let down = up.unit() * -1.0;
        let mut right = down.cross(frame.tangent).unit();
        if right.x < 0.0 {
            right = right * -1.0;
        }
        Self { middle: frame.at, right, down, size: (pixels, pixels), pixel_mm }
    }
    /// Point of a pixel.
    pub fn point(&self, column: f64, row: f64) -> Vec3 {
        let (u, v) = (column - (self.size.0 as f64 - 1.0) / 2.0, row - (self.size.1 as f64 - 1.0) / 2.0);
        self.middle + self.right * (u * self.pixel_mm) + self.down * (v * self.pixel_mm)
    }
}

impl Plane {
    /// Columns and rows within `reach_mm` of any of the points' feet on the plane.
    fn window(
        &self,
        points: impl Iterator<Item = Vec3>,
        reach_mm: f64,
    ) -> Option<(std::ops::Range<usize>, std::ops::Range<usize>)> {
        let (mut low, mut high) = ((f64::MAX, f64::MAX), (f64::MIN, f64::MIN));
        for p in points {
            let q = p - self.middle;
            let (u, v) = (q.dot(self.right), q.dot(self.down));
            low = (low.0.min(u), low.1.min(v));
            high = (high.0.max(u), high.1.max(v));
        }
        let span = |a: f64, b: f64, n: usize| {
            let half = (n as f64 - 1.0) / 2.0;
            let from = ((a - reach_mm) / self.pixel_mm + half).ceil().max(0.0);
            let to = ((b + reach_mm) / self.pixel_mm + half).floor().min(n as f64 - 1.0);
            (from <= to).then(|| from as usize..to as usize + 1)
        };
        Some((span(low.0, high.0, self.size.0)?, span(low.1, high.1, self.size.1)?))
    }
}

/// One patient's CT.
#[derive(Clone, Debug)]
pub struct Scan<'a> {
    tree: &'a Tree,
    body: Option<&'a Body>,
    /// Enhancement of arterial blood, HU.
    pub arterial_hu: f64,
    /// Standard deviation of the noise, HU.
    pub noise_hu: f32,
    tubes: Vec<Tube>,
    pools: Vec<Tube>,
    /// Of each vessel, what fabric shuts off.
    lined: Vec<Option<Lined>>,
    metal: Metal,
    /// Bounding spheres of the bones and of the lung vessels.
    bones: Vec<(Vec3, f64)>,
    lung_vessels: Vec<(Vec3, f64)>,
}

/// What is on the planes of a CT, HU (usual values; enhancement and thrombus assumed).
const BLOOD_HU: f64 = 45.0;
const THROMBUS_HU: f64 = 35.0;
const HAEMATOMA_HU: f64 = 60.0;
const WALL_HU: f64 = 55.0;
const CALCIUM_HU: f64 = 950.0;
impl<'a> Scan<'a> {
    /// An arterial-phase scan with usual noise. Behind fabric no contrast has come: see [`Self::leaking`].
    pub fn new(scene: &Scene<'a>) -> Self {
        let Scene { tree, pools, body, .. } = *scene;
        let tubes = tree.vessels.iter().map(|v| {
            let thickest = v.wall.thrombus_mm.iter().copied().fold(0.0, f64::max);
            Tube::new(&v.curve, &v.lumen, thickest)
        });
        let pools = pools.iter().map(|p| Tube::new(&p.curve, &p.lumen, 0.0)).collect();
        Self {
            tree,
            body,
            arterial_hu: 330.0,
            noise_hu: 14.0,
            tubes: tubes.collect(),
            pools,
            lined: (0..tree.vessels.len()).map(|v| Lined::new(scene, v)).collect(),
            metal: Metal::new(scene.devices),
            bones: body.map_or(Vec::new(), |b| b.bones().map(Solid::ball).collect()),
            lung_vessels: body.map_or(Vec::new(), |b| b.lung_vessels().iter().map(Solid::ball).collect()),
        }
    }

    /// With the contrast that has come behind fabric by these ways.
    pub fn leaking(mut self, leaks: &[LeakFlow]) -> Self {
        for (v, lined) in self.lined.iter_mut().enumerate() {
            if let Some(lined) = lined {
                lined.fill(&self.tree.vessels[v].curve, leaks.iter().filter(|l| l.vessel == v));
            }
        }
        self
    }

    /// Cuts a plane.
    pub fn slice(&self, plane: &Plane, stream: &mut Stream) -> Result<Slice, ImagingError> {
        in_range("pixels", plane.size.0.max(plane.size.1) as f64, 1.0, 1024.0)?;
        in_range("pixel (mm)", plane.pixel_mm, 0.05, 10.0)?;
        let mut hu = self.still(plane);
        self.grain(&mut hu, plane.size.0, plane.pixel_mm, stream);
        Ok(Slice { size: plane.size, pixel_mm: plane.pixel_mm, hu })
    }

    /// The vessel stretched out along its centreline: rows are arc length, columns lie along the ring's angle
    /// `theta_rad` through the axis.
    pub fn stretched(
        &self,
        vessel: usize,
        theta_rad: f64,
        width: usize,
        pixel_mm: f64,
        stream: &mut Stream,
    ) -> Result<Slice, ImagingError> {
        let count = self.tree.vessels.len();
        let what = "the curved reformat";
        let v =
            self.tree.vessels.get(vessel).ok_or(ImagingError::NoSuchVessel { what, index: vessel, count })?;
        in_range("pixel (mm)", pixel_mm, 0.05, 10.0)?;
        let count = ((v.curve.length_mm() / pixel_mm) as usize + 1).min(2048);
        let row = |r: usize| {
            let frame = v.curve.frame(r as f64 * pixel_mm);
            (frame.at, frame.radial(theta_rad), frame.tangent)
        };
        self.rows(&(0..count).map(row).collect::<Vec<_>>(), width, pixel_mm, stream)
    }

    /// Rows cut one by one: the middle of each, its unit vector along rising columns and the one towards the next row.
    pub(super) fn rows(
        &self,
        rows: &[(Vec3, Vec3, Vec3)],
        width: usize,
        pixel_mm: f64,
        stream: &mut Stream,
    ) -> Result<Slice, ImagingError> {
        in_range("pixels", width as f64, 1.0, 1024.0)?;
        in_range("pixel (mm)", pixel_mm, 0.05, 10.0)?;
        let mut hu = Vec::with_capacity(width * rows.len());
        for &(middle, right, down) in rows {
            hu.extend(self.still(&Plane { middle, right, down, size: (width, 1), pixel_mm }));
        }
        self.grain(&mut hu, width, pixel_mm, stream);
        Ok(Slice { size: (width, rows.len()), pixel_mm, hu })
    }

    /// Brightest value across a slab, seen along `plane`'s normal: `depth_mm` thick in steps of two pixels.
    pub fn brightest(
        &self,
        plane: &Plane,
        depth_mm: f64,
        stream: &mut Stream,
    ) -> Result<Slice, ImagingError> {
        let normal = plane.right.cross(plane.down);
        let step = plane.pixel_mm * 2.0;
        let n = ((depth_mm / step) as usize).clamp(1, 400);
        let mut best = Slice { size: plane.size, pixel_mm: plane.pixel_mm, hu: Vec::new() };
        for k in 0..n {
            let middle = plane.middle + normal * ((k as f64 - (n as f64 - 1.0) / 2.0) * step);
            let s = self.slice(&Plane { middle, ..*plane }, stream)?;
            if best.hu.is_empty() {
                best.hu = s.hu;
            } else {
                best.hu.iter_mut().zip(&s.hu).for_each(|(a, v)| *a = a.max(*v));
            }
        }
        Ok(best)
    }

    /// Correlated noise, as a reconstruction kernel leaves it: each pixel keeps a part of the one before it in its row and
    /// its column, so that the variance is the same at any pixel size.
    fn grain(&self, hu: &mut [f32], width: usize, pixel_mm: f64, stream: &mut Stream) {
        super::detector::blur3(hu, width, KERNEL_PX);
        if self.noise_hu <= 0.0 {
            return;
        }
        let gauss = Gauss::table();
        let mut noise: Vec<f32> = Vec::with_capacity(hu.len() + 4);
        while noise.len() < hu.len() {
            noise.extend(gauss.four(stream));
        }
        let keep = (0.7 - 0.45 * pixel_mm as f32).clamp(0.0, 0.6);
        let fresh = (1.0 - keep * keep).sqrt();
        for i in 0..hu.len() {
            if i % width > 0 {
                noise[i] = keep * noise[i - 1] + fresh * noise[i];
            }
        }
        for i in width..hu.len() {
            noise[i] = keep * noise[i - width] + fresh * noise[i];
        }
        hu.iter_mut().zip(&noise).for_each(|(h, n)| *h += self.noise_hu * n);
    }

    /// The plane without noise, painted from the back: soft tissue, bones, lung vessels, escaped blood, vessels, devices.
    fn still(&self, plane: &Plane) -> Vec<f32> {
        let (w, h) = plane.size;
        let (mut hu, bone) = match self.body {
            Some(body) => self.trunk(body, plane),
            None => (vec![-1000.0; w * h], vec![0; w * h]),
        };
        for pool in &self.pools {
            pool.each_pixel(plane, |i, at| {
                if at.r_mm < at.lumen_mm {
                    hu[i] = HAEMATOMA_HU as f32;
                }
            });
        }
        // Walls first, then every lumen: where a branch leaves, blood wins. A sac that grows against the spine is laid upon it:
        // bone shows through its wall and clot.
        let mut lumens = Vec::new();
        for ((tube, vessel), lined) in self.tubes.iter().zip(&self.tree.vessels).zip(&self.lined) {
            tube.each_pixel(plane, |i, at| {
                let open = |l: &Lined| l.open(at.s_mm, at.theta_rad, at.r_mm);
                if at.r_mm < at.lumen_mm && lined.as_ref().is_none_or(open) {
                    lumens.push(i);
                    return;
                }
                if bone[i] > LAYERS / 2 {
                    return;
                }
                let cell = |grid: &[f64]| cell(grid, &vessel.lumen, at.s_mm, at.theta_rad);
                let inner = at.lumen_mm + cell(&vessel.wall.thrombus_mm);
                let calcium = cell(&vessel.wall.calcium);
                let here = if at.r_mm < inner {
                    THROMBUS_HU + 8.0 * f64::from(value_noise(at.p * 0.3))
                } else if calcium > 0.3 && at.r_mm < inner + PLAQUE_MM * calcium.min(1.0) {
                    CALCIUM_HU
                } else if at.r_mm < inner + tube.wall_mm {
                    WALL_HU
                } else {
                    return;
                };
                hu[i] = here as f32;
            });
        }
        let blood = (self.arterial_hu + BLOOD_HU) as f32;
        lumens.into_iter().for_each(|i| hu[i] = blood);
        self.metal.lay_over(plane, &mut hu);
        hu
    }
}

/// Blur of the reconstruction, pixels.
const KERNEL_PX: f32 = 0.5;

/// Value of a wall's grid at a place, nearest cell; zero where the grid is empty.
fn cell(grid: &[f64], lumen: &Lumen, s_mm: f64, theta: f64) -> f64 {
    if grid.is_empty() {
        return 0.0;
    }
    let n = lumen.n_theta();
    let i = ((s_mm / lumen.step_mm()).round().max(0.0) as usize).min(lumen.stations() - 1);
    let turns = theta / std::f64::consts::TAU;
    let k = ((turns - turns.floor()) * n as f64).round() as usize % n;
    grid.get(i * n + k).copied().unwrap_or(0.0)
}

/// A calliper's length between two pixels of a slice, mm.
pub fn calliper_mm(slice: &Slice, a: (f64, f64), b: (f64, f64)) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    (dx * dx + dy * dy).sqrt() * slice.pixel_mm
}
