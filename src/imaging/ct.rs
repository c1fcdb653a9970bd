//! Reading the planning CT: slices in any plane, in Hounsfield units, with noise.
//!
//! Lumen, thrombus, calcium and sizes are those of the anatomy's own rings, looked up in the frame of the nearest
//! centreline point. Around them lies the same trunk that the fluoroscopy looks through.

use super::attenuation::{Beam, Material};
use super::body::{Body, soft};
use super::grey::Grey;
use super::noise::{Gauss, value_noise};
use super::scene::{ImagingError, Pool, in_range};
use super::solid::Solid;
use crate::anatomy::Tree;
use crate::math::rng::Stream;
use crate::math::{Frame, Vec3};

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

/// One patient's CT.
#[derive(Clone, Debug)]
pub struct Scan<'a> {
    tree: &'a Tree,
    pools: &'a [Pool],
    body: Option<&'a Body>,
    /// Enhancement of arterial blood, HU.
    pub arterial_hu: f64,
    /// Standard deviation of the noise, HU.
    pub noise_hu: f32,
    tubes: Vec<Tube>,
}

/// A vessel as a coarse polyline for finding what is near, and its wall.
#[derive(Clone, Debug)]
struct Tube {
    points: Vec<Vec3>,
    step_mm: f64,
    /// Farthest that the outer wall reaches from the axis.
    reach_mm: f64,
    wall_mm: f64,
}

/// What is on the planes of a CT, HU (usual values; enhancement and thrombus assumed).
const BLOOD_HU: f64 = 45.0;
const THROMBUS_HU: f64 = 35.0;
const HAEMATOMA_HU: f64 = 60.0;
const WALL_HU: f64 = 55.0;
const CALCIUM_HU: f64 = 950.0;
/// Thickness of a large vessel's wall, and of a calcified plaque, mm.
const WALL_MM: f64 = 1.6;
const PLAQUE_MM: f64 = 1.8;

impl<'a> Scan<'a> {
    /// An arterial-phase scan with usual noise.
    pub fn new(tree: &'a Tree, pools: &'a [Pool], body: Option<&'a Body>) -> Self {
        let tubes = tree.vessels.iter().map(|v| {
            let n = (v.curve.length_mm() / 3.0).ceil().max(1.0) as usize;
            let step_mm = v.curve.length_mm() / n as f64;
            let thickest = v.wall.thrombus_mm.iter().copied().fold(0.0, f64::max);
            let widest = (0..v.lumen.stations()).flat_map(|i| v.lumen.ring(i)).copied().fold(0.0, f64::max);
            let wall_mm = if widest > 6.0 { WALL_MM } else { 0.6 };
            Tube {
                points: (0..=n).map(|i| v.curve.point(step_mm * i as f64)).collect(),
                step_mm,
                reach_mm: widest + thickest + wall_mm + PLAQUE_MM,
                wall_mm,
            }
        });
        Self { tree, pools, body, arterial_hu: 330.0, noise_hu: 14.0, tubes: tubes.collect() }
    }

    /// Cuts a plane.
    pub fn slice(&self, plane: &Plane, stream: &mut Stream) -> Result<Slice, ImagingError> {
        in_range("pixels", plane.size.0.max(plane.size.1) as f64, 1.0, 1024.0)?;
        in_range("pixel (mm)", plane.pixel_mm, 0.05, 10.0)?;
        let (w, h) = plane.size;
        let reader = Reader::new(self, |c, r| plane.point(c, r), w, h);
        let mut hu = Vec::with_capacity(w * h);
        for row in 0..h {
            for column in 0..w {
                hu.push(reader.hu(plane.point(column as f64, row as f64)) as f32);
            }
        }
        self.grain(&mut hu, w, plane.pixel_mm, stream);
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
        let v = self.tree.vessels.get(vessel).ok_or(ImagingError::NoSuchVessel {
            what: "the curved reformat",
            index: vessel,
            count,
        })?;
        in_range("pixel (mm)", pixel_mm, 0.05, 10.0)?;
        let rows = ((v.curve.length_mm() / pixel_mm) as usize + 1).min(2048);
        let frames: Vec<(Frame, Vec3)> = (0..rows)
            .map(|r| {
                let f = v.curve.frame(r as f64 * pixel_mm);
                (f, f.radial(theta_rad))
            })
            .collect();
        let point = |c: f64, r: f64| {
            let (f, dir) = &frames[(r as usize).min(rows - 1)];
            f.at + *dir * ((c - (width as f64 - 1.0) / 2.0) * pixel_mm)
        };
        let mut hu = Vec::with_capacity(width * rows);
        // In bands, so that only what is near is asked.
        for band in 0..rows.div_ceil(BAND) {
            let (a, b) = (band * BAND, ((band + 1) * BAND).min(rows));
            let reader = Reader::new(self, |c, r| point(c, r + a as f64), width, b - a);
            for r in a..b {
                hu.extend((0..width).map(|c| reader.hu(point(c as f64, r as f64)) as f32));
            }
        }
        self.grain(&mut hu, width, pixel_mm, stream);
        Ok(Slice { size: (width, rows), pixel_mm, hu })
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
        let mut best: Option<Slice> = None;
        for k in 0..n {
            let at = plane.middle + normal * ((k as f64 - (n as f64 - 1.0) / 2.0) * step);
            let s = self.slice(&Plane { middle: at, ..*plane }, stream)?;
            match &mut best {
                Some(b) => b.hu.iter_mut().zip(&s.hu).for_each(|(a, v)| *a = a.max(*v)),
                None => best = Some(s),
            }
        }
        best.ok_or(ImagingError::OutOfRange { what: "slab (mm)", value: depth_mm, low: step, high: 1000.0 })
    }

    /// Correlated noise, as a reconstruction kernel leaves it, with the same variance at any pixel size.
    fn grain(&self, hu: &mut [f32], width: usize, pixel_mm: f64, stream: &mut Stream) {
        if self.noise_hu <= 0.0 {
            return;
        }
        let gauss = Gauss::new();
        let mut noise: Vec<f32> = Vec::with_capacity(hu.len() + 4);
        while noise.len() < hu.len() {
            noise.extend(gauss.four(stream));
        }
        // Each pixel keeps a part of the one before it in its row and its column; the variance stays.
        let keep = (0.7 - 0.45 * pixel_mm as f32).clamp(0.0, 0.6);
        for i in 0..hu.len() {
            if i % width > 0 {
                noise[i] = keep * noise[i - 1] + (1.0 - keep * keep).sqrt() * noise[i];
            }
        }
        for i in width..hu.len() {
            noise[i] = keep * noise[i - width] + (1.0 - keep * keep).sqrt() * noise[i];
        }
        hu.iter_mut().zip(&noise).for_each(|(h, n)| *h += self.noise_hu * n);
    }
}

/// Rows of a stretched vessel that are read together.
const BAND: usize = 24;

/// What can matter to a set of points: the vessels' pieces, bones and lung vessels near it.
struct Reader<'a> {
    scan: &'a Scan<'a>,
    /// Vessels with the range of their points that is near; small vessels first, since they lie over the aorta's wall.
    near: Vec<(usize, std::ops::Range<usize>)>,
    bones: Vec<&'a Solid>,
    lung_vessels: Vec<&'a Solid>,
    water: f64,
    per_mg_ml: f64,
}

impl<'a> Reader<'a> {
    fn new(scan: &'a Scan<'a>, point: impl Fn(f64, f64) -> Vec3, w: usize, h: usize) -> Self {
        let mut low = point(0.0, 0.0);
        let mut high = low;
        let steps = 8;
        for i in 0..=steps {
            for j in 0..=steps {
                let p = point(
                    (w - 1) as f64 * f64::from(i) / f64::from(steps),
                    (h - 1) as f64 * f64::from(j) / f64::from(steps),
                );
                low = Vec3::new(low.x.min(p.x), low.y.min(p.y), low.z.min(p.z));
                high = Vec3::new(high.x.max(p.x), high.y.max(p.y), high.z.max(p.z));
            }
        }
        let slack = 2.0;
        let outside = |p: Vec3, r: f64| {
            p.x < low.x - r
                || p.x > high.x + r
                || p.y < low.y - r
                || p.y > high.y + r
                || p.z < low.z - r
                || p.z > high.z + r
        };
        let mut near = Vec::new();
        for (k, tube) in scan.tubes.iter().enumerate().rev() {
            let reach = tube.reach_mm + tube.step_mm + slack;
            let mut start = None;
            for (i, p) in tube.points.iter().enumerate() {
                match (outside(*p, reach), start) {
                    (false, None) => start = Some(i),
                    (true, Some(a)) => {
                        near.push((k, a..i));
                        start = None;
                    }
                    _ => {}
                }
            }
            if let Some(a) = start {
                near.push((k, a..tube.points.len()));
            }
        }
        let touches = |s: &&Solid| {
            let (a, b) = s.bounds();
            a.x <= high.x + slack
                && b.x >= low.x - slack
                && a.y <= high.y + slack
                && b.y >= low.y - slack
                && a.z <= high.z + slack
                && b.z >= low.z - slack
        };
        let beam = Beam { kvp: 120.0 };
        Self {
            scan,
            near,
            bones: scan.body.map_or(Vec::new(), |b| b.bones().filter(touches).collect()),
            lung_vessels: scan.body.map_or(Vec::new(), |b| b.lung_vessels().iter().filter(touches).collect()),
            water: Beam::default().mu(Material::Water),
            per_mg_ml: 1000.0 * beam.mu_iodine() / beam.mu(Material::Water),
        }
    }

    fn hu(&self, p: Vec3) -> f64 {
        if let Some(hu) = self.vessels(p) {
            return hu;
        }
        for pool in self.scan.pools {
            let s = pool.curve.nearest(p);
            let f = pool.curve.frame(s);
            let q = p - f.at;
            if q.norm() < pool.lumen.radius(s, f.angle_of(q)) {
                return HAEMATOMA_HU;
            }
        }
        self.around(p)
    }

    /// Lumen, thrombus, plaque or wall of the vessel that the point lies in.
    fn vessels(&self, p: Vec3) -> Option<f64> {
        let blood = self.scan.arterial_hu + BLOOD_HU;
        let mut wall = None;
        for (k, range) in &self.near {
            let tube = &self.scan.tubes[*k];
            let mut best = (f64::INFINITY, 0);
            let mut i = range.start;
            while i < range.end {
                let d = tube.points[i].distance(p);
                if d < best.0 {
                    best = (d, i);
                }
                // No point nearer than this can follow sooner.
                i += (((d - best.0) / tube.step_mm) as usize).max(1);
            }
            if best.0 > tube.reach_mm + tube.step_mm {
                continue;
            }
            let vessel = &self.scan.tree.vessels[*k];
            let length = vessel.curve.length_mm();
            let mut s = tube.step_mm * best.1 as f64;
            let mut frame = vessel.curve.frame(s);
            for _ in 0..2 {
                s += (p - frame.at).dot(frame.tangent);
                if s < -0.5 || s > length + 0.5 {
                    break;
                }
                frame = vessel.curve.frame(s);
            }
            if s < -0.5 || s > length + 0.5 {
                continue;
            }
            let q = p - frame.at;
            let r = q.reject(frame.tangent).norm();
            let theta = frame.angle_of(q);
            let lumen = vessel.lumen.radius(s, theta);
            if r < lumen {
                return Some(blood);
            }
            let at = |grid: &[f64]| cell(grid, &vessel.lumen, s, theta);
            let thrombus = at(&vessel.wall.thrombus_mm);
            let calcium = at(&vessel.wall.calcium);
            let inner_of_wall = lumen + thrombus;
            let here = if r < inner_of_wall {
                Some(THROMBUS_HU + 8.0 * f64::from(value_noise(p * 0.3)))
            } else if calcium > 0.3 && r < inner_of_wall + PLAQUE_MM * calcium.min(1.0) {
                Some(CALCIUM_HU)
            } else if r < inner_of_wall + tube.wall_mm {
                Some(WALL_HU)
            } else {
                None
            };
            if let Some(h) = here {
                wall = Some(f64::max(wall.unwrap_or(f64::MIN), h));
            }
        }
        wall
    }

    /// Bone, lung vessel, heart or soft tissue.
    fn around(&self, p: Vec3) -> f64 {
        let Some(body) = self.scan.body else { return -1000.0 };
        let tissues = body.anatomy().tissues;
        let q = p - body.shift();
        let soft_here = body.anatomy().at(q);
        let mut bone = 0.0;
        let mut inside = false;
        for b in self.bones.iter().filter(|b| b.contains(p)) {
            inside = true;
            let mottle = if b.mottle > 0.0 { 1.0 + b.mottle * f64::from(value_noise(p * 0.9)) } else { 1.0 };
            bone += b.mu_per_cm * mottle;
        }
        let hu = |mu: f64| 1000.0 * (mu / self.water - 1.0);
        if inside {
            // Bones are drawn as what they add to soft tissue; 60 keV increments stand half as high at CT energies.
            let mu = (tissues.soft + bone).clamp(tissues.fat, tissues.cortical);
            return hu(tissues.soft + (mu - tissues.soft) * 0.8);
        }
        if soft_here.lung > 0.5 && self.lung_vessels.iter().any(|s| s.contains(p)) {
            return BLOOD_HU + 170.0;
        }
        let mut out = hu(soft_here.mu);
        let pool = soft::enhanced_pools(q);
        if pool > 0.0 && soft_here.lung < 0.5 {
            out += pool * self.per_mg_ml * (1.0 + 0.08 * f64::from(value_noise(p * 0.11)));
        }
        out.max(-1000.0)
    }
}

/// Value of a wall's grid at a place, nearest cell; zero where the grid is empty.
fn cell(grid: &[f64], lumen: &crate::anatomy::Lumen, s_mm: f64, theta: f64) -> f64 {
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
