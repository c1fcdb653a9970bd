//! Reading the planning CT: slices in any plane, in Hounsfield units, with noise.
//!
//! Lumen, thrombus, calcium and sizes are those of the anatomy's own rings, looked up in the frame of the nearest
//! centreline point. Around them lies the same trunk that the fluoroscopy looks through.

use super::attenuation::{Beam, Material};
use super::body::Body;
use super::grey::Grey;
use super::noise::{Gauss, value_noise};
use super::scene::{ImagingError, Pool, in_range};
use super::solid::Solid;
use crate::anatomy::{Lumen, Tree};
use crate::math::rng::Stream;
use crate::math::{Curve, Frame, Vec3};

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
    body: Option<&'a Body>,
    /// Enhancement of arterial blood, HU.
    pub arterial_hu: f64,
    /// Standard deviation of the noise, HU.
    pub noise_hu: f32,
    tubes: Vec<Tube>,
    pools: Vec<Tube>,
    /// Bounding spheres of the bones and of the lung vessels.
    bones: Vec<(Vec3, f64)>,
    lung_vessels: Vec<(Vec3, f64)>,
}

/// A centreline as closely spaced frames, for finding what is near.
#[derive(Clone, Debug)]
struct Tube {
    frames: Vec<Frame>,
    step_mm: f64,
    lumen: Lumen,
    /// Farthest that anything of it reaches from the axis, by frame.
    reach_mm: Vec<f64>,
    wall_mm: f64,
}

/// What is on the planes of a CT, HU (usual values; enhancement and thrombus assumed).
const BLOOD_HU: f64 = 45.0;
const THROMBUS_HU: f64 = 35.0;
const HAEMATOMA_HU: f64 = 60.0;
const WALL_HU: f64 = 55.0;
const CALCIUM_HU: f64 = 950.0;
const LUNG_VESSEL_HU: f64 = 215.0;
/// Thickness of a large vessel's wall, of a small one's, and of a calcified plaque, mm.
const WALL_MM: f64 = 1.6;
const WALL_SMALL_MM: f64 = 0.6;
const PLAQUE_MM: f64 = 1.8;
/// Spacing of the frames along a vessel, mm: between them a straight line errs by some hundredths of a millimetre.
const FRAME_MM: f64 = 1.5;

impl<'a> Scan<'a> {
    /// An arterial-phase scan with usual noise.
    pub fn new(tree: &'a Tree, pools: &'a [Pool], body: Option<&'a Body>) -> Self {
        let tubes = tree.vessels.iter().map(|v| {
            let thickest = v.wall.thrombus_mm.iter().copied().fold(0.0, f64::max);
            Tube::new(&v.curve, &v.lumen, thickest)
        });
        let pools = pools.iter().map(|p| Tube::new(&p.curve, &p.lumen, 0.0)).collect();
        let ball = |s: &Solid| {
            let (low, high) = s.bounds();
            ((low + high) * 0.5, 0.5 * low.distance(high))
        };
        Self {
            tree,
            body,
            arterial_hu: 330.0,
            noise_hu: 14.0,
            tubes: tubes.collect(),
            pools,
            bones: body.map_or(Vec::new(), |b| b.bones().map(ball).collect()),
            lung_vessels: body.map_or(Vec::new(), |b| b.lung_vessels().iter().map(ball).collect()),
        }
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

    /// The plane without noise, painted from the back: soft tissue, bones, lung vessels, escaped blood, vessels.
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
        for (tube, vessel) in self.tubes.iter().zip(&self.tree.vessels) {
            tube.each_pixel(plane, |i, at| {
                if at.r_mm < at.lumen_mm {
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
        hu
    }
}

/// A pixel's place in a vessel's own coordinates.
struct Place {
    p: Vec3,
    s_mm: f64,
    theta_rad: f64,
    r_mm: f64,
    lumen_mm: f64,
}

impl Tube {
    fn new(curve: &Curve, lumen: &Lumen, lining_mm: f64) -> Self {
        let n = (curve.length_mm() / FRAME_MM).ceil().max(1.0) as usize;
        let step_mm = curve.length_mm() / n as f64;
        let widest = |i: usize| lumen.ring(i).iter().copied().fold(0.0, f64::max);
        let most = (0..lumen.stations()).map(widest).fold(0.0, f64::max);
        let wall_mm = if most > 6.0 { WALL_MM } else { WALL_SMALL_MM };
        let beyond = lining_mm + wall_mm.max(PLAQUE_MM);
        let reach_mm: Vec<f64> = (0..=n)
            .map(|k| {
                let i = (step_mm * k as f64 / lumen.step_mm()) as usize;
                // The rings on both sides count.
                beyond
                    + (i.saturating_sub(1)..i + 3)
                        .map(|j| widest(j.min(lumen.stations() - 1)))
                        .fold(0.0, f64::max)
            })
            .collect();
        Self {
            frames: (0..=n).map(|i| curve.frame(step_mm * i as f64)).collect(),
            step_mm,
            lumen: lumen.clone(),
            reach_mm,
            wall_mm,
        }
    }

    /// Calls `put` for each pixel of the plane within reach of the axis, once.
    fn each_pixel(&self, plane: &Plane, mut put: impl FnMut(usize, Place)) {
        let normal = plane.right.cross(plane.down);
        let near = |i: usize| {
            (self.frames[i].at - plane.middle).dot(normal).abs() <= self.reach_mm[i] + self.step_mm
        };
        let mut i = 0;
        // Each stretch of the axis that comes near the plane has its own window of pixels.
        while i < self.frames.len() {
            if !near(i) {
                i += 1;
                continue;
            }
            let start = i;
            while i < self.frames.len() && near(i) {
                i += 1;
            }
            let stretch = &self.frames[start..i];
            let reach = self.reach_mm[start..i].iter().copied().fold(0.0, f64::max);
            let Some((columns, rows)) = plane.window(stretch.iter().map(|f| f.at), reach) else { continue };
            let mut nearest = Nearest::of(stretch, self.step_mm);
            for row in rows {
                let mut column = columns.start;
                while column < columns.end {
                    let p = plane.point(column as f64, row as f64);
                    let (k, d) = nearest.to(p);
                    if d <= self.reach_mm[start + k] + self.step_mm
                        && let Some(place) = self.place(start + k, p)
                    {
                        put(row * plane.size.0 + column, place);
                    }
                    // Nothing is in reach before the distance has been walked off.
                    column += 1 + ((d - reach - self.step_mm).max(0.0) / plane.pixel_mm) as usize;
                }
            }
        }
    }

    fn place(&self, k: usize, p: Vec3) -> Option<Place> {
        let f = &self.frames[k];
        let along = (p - f.at).dot(f.tangent);
        let last = self.frames.len() - 1;
        // Beyond the ends there is nothing.
        if (k == 0 && along < -0.5) || (k == last && along > 0.5) {
            return None;
        }
        let j = if along < 0.0 { k.saturating_sub(1) } else { (k + 1).min(last) };
        let g = &self.frames[j];
        let u = (along / self.step_mm).abs().min(1.0);
        let at = f.at.lerp(g.at, u);
        let tangent = f.tangent.lerp(g.tangent, u).unit();
        let normal = f.normal.lerp(g.normal, u).reject(tangent).unit();
        let frame = Frame { at, tangent, normal, binormal: tangent.cross(normal) };
        let q = p - at;
        let s_mm = self.step_mm * k as f64 + along.clamp(-self.step_mm, self.step_mm);
        let (r_mm, theta_rad) = (q.reject(tangent).norm(), frame.angle_of(q));
        Some(Place { p, s_mm, theta_rad, r_mm, lumen_mm: self.lumen.radius(s_mm, theta_rad) })
    }
}

/// The frame nearest to a point that moves by small steps.
struct Nearest<'a> {
    frames: &'a [Frame],
    step_mm: f64,
    best: usize,
    /// Where the whole stretch was last searched, what was best there, and the least distance there of any frame far along
    /// from that.
    searched: Vec3,
    found: usize,
    elsewhere_mm: f64,
}

/// Frames on each side of the best that are tried at every step.
const ABOUT: usize = 8;
/// How much farther than the best a frame may be for a search of the whole stretch to measure it, mm.
const MARGIN_MM: f64 = 8.0;

impl<'a> Nearest<'a> {
    fn of(frames: &'a [Frame], step_mm: f64) -> Self {
        Self {
            frames,
            step_mm,
            best: 0,
            searched: Vec3::new(f64::MAX, 0.0, 0.0),
            found: 0,
            elsewhere_mm: 0.0,
        }
    }

    /// Index and distance.
    fn to(&mut self, p: Vec3) -> (usize, f64) {
        let moved = p.distance(self.searched);
        let mut here = (self.best, self.frames[self.best].at.distance(p));
        // Downhill along the axis.
        for up in [true, false] {
            loop {
                let next = if up { here.0 + 1 } else { here.0.wrapping_sub(1) };
                let Some(f) = self.frames.get(next) else { break };
                let d = f.at.distance(p);
                if d >= here.1 {
                    break;
                }
                here = (next, d);
            }
        }
        if here.1 > self.elsewhere_mm - moved || here.0.abs_diff(self.found) > ABOUT / 2 {
            here = self.search(p);
        }
        self.best = here.0;
        here
    }

    /// Over the whole stretch, leaping over what cannot be near.
    fn search(&mut self, p: Vec3) -> (usize, f64) {
        let mut best = (self.best, self.frames[self.best].at.distance(p));
        let mut seen = Vec::with_capacity(self.frames.len());
        let mut i = 0;
        while let Some(f) = self.frames.get(i) {
            let d = f.at.distance(p);
            if d < best.1 {
                best = (i, d);
            }
            seen.push((i, d));
            i += (((d - best.1 - MARGIN_MM) / self.step_mm) as usize).max(1);
        }
        let far = seen.iter().filter(|s| s.0.abs_diff(best.0) > ABOUT).map(|s| s.1);
        self.elsewhere_mm = far.fold(best.1 + MARGIN_MM, f64::min);
        (self.searched, self.found) = (p, best.0);
        best
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

/// Blur of the reconstruction, pixels.
const KERNEL_PX: f32 = 0.5;
/// Pixels between places where soft tissue is asked in full; filled in between where their values agree, HU.
const COARSE: usize = 4;
const AGREE_HU: f32 = 60.0;

impl Scan<'_> {
    /// Soft tissue, enhanced heart, bones and lung vessels on a plane, and in how many of the slice's layers each pixel is bone.
    fn trunk(&self, body: &Body, plane: &Plane) -> (Vec<f32>, Vec<u8>) {
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
        let normal = plane.right.cross(plane.down);
        let mut layers = vec![0u8; hu.len()];
        let mut sum = vec![0.0f32; hu.len()];
        let mut bone = vec![0.0f32; hu.len()];
        // Which layer last met each pixel, and the pixels that this one meets.
        let mut met = vec![0u8; hu.len()];
        let mut hit: Vec<usize> = Vec::new();
        for layer in 1..=LAYERS {
            let off = SLICE_MM * ((f64::from(layer) - 0.5) / f64::from(LAYERS) - 0.5);
            let plane = Plane { middle: plane.middle + normal * off, ..*plane };
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
                layers[i] += 1;
            }
        }
        for ((h, n), s) in hu.iter_mut().zip(&layers).zip(&sum) {
            *h += (s - f32::from(*n) * *h) / f32::from(LAYERS);
        }
        layers
    }
}

/// Thickness of a slice, mm (usual for an angiographic CT), and the layers that it is the mean of.
const SLICE_MM: f64 = 1.5;
const LAYERS: u8 = 6;

/// Calls `put` for each pixel inside a solid.
fn each_inside(
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
