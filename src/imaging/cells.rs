//! The blood cut into cells: what contrast flows through and what rays cross.
//!
//! A vessel is cut along its centreline into stations, and each station into a *core* (half the area), *sectors* around
//! it, and, where the wall stands off from the stream, *recesses*: the space behind fabric, an aneurysm beyond the jet, a
//! rupture's pocket. One grid serves transport (volumes, contacts) and picture (closed surfaces between cells).
//!
//! Neighbours share their faces, so that every ray's path splits without gap or overlap, and a cell's volume is the
//! signed volume under its own faces.

mod twig;

use super::{ImagingError, Scene};
use crate::anatomy::{Lumen, Root, Tree, VesselName};
use crate::math::interp::smooth_step;
use crate::math::{Curve, Vec3, ops};

/// Sectors around the core of a large vessel.
const SECTORS: usize = 4;
/// Recess cells around a large vessel.
const RECESSES: usize = 16;
/// Corners of a ring of a large vessel (a multiple of both) and of a small one.
const CORNERS: usize = 32;
const CORNERS_SMALL: usize = 12;
const CORNERS_TWIG: usize = 8;
/// Station spacing, mm: large vessels, small ones, pools.
const STEP_MM: f64 = 4.0;
const STEP_SMALL_MM: f64 = 5.0;
const STEP_POOL_MM: f64 = 2.0;
/// A vessel wider than this (mean radius, mm) is large.
const LARGE_MM: f64 = 7.0;
/// The core's radius as a fraction of the stream's: half the area.
const CORE: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// Least standing-off that makes a recess, mm: behind fabric, and beyond a free stream.
const GAP_LINED_MM: f64 = 0.05;
const GAP_FREE_MM: f64 = 1.0;
/// How fast a stream widens and narrows along its way, mm per mm (a free jet spreads at about 6 degrees a side).
const SPREAD: f64 = 0.12;
const CONVERGE: f64 = 0.5;
/// An artery that breaks up into those of an organ is drawn thinner from this part of its length on, to this part of its width:
/// its branches are not drawn. Every other small vessel is rounded off where it ends, by no less than this.
const THINS_FROM: f64 = 0.5;
const THINS_TO: f64 = 0.45;
const ROUNDED: f64 = 0.4;
/// How deep a branch begins inside its parent, as a fraction of the parent's radius.
const BURIED: f64 = 0.45;

/// How small vessels look where the tree leaves off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ends {
    /// At the artery's own calibre: for what only counts contrast.
    Calibre,
    /// Thinner and thinner where an artery breaks up into those of an organ, rounded off elsewhere: for the eye.
    Drawn,
}

/// No cell: the outside.
pub(crate) const OUTSIDE: u32 = u32::MAX;

/// A triangle between two cells, its normal pointing from `inner` to `outer`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Face {
    pub corners: [u32; 3],
    pub inner: u32,
    pub outer: u32,
}

/// One vessel or pool as a run of stations.
#[derive(Clone, Debug)]
pub struct Tube {
    /// Index of the vessel, or of the pool counted from the number of vessels; the largest number for a twig.
    pub vessel: usize,
    /// The tube that it leaves, the station there, and the angle, rad.
    pub(crate) parent: Option<(usize, usize, f64)>,
    /// First cell; lane `l` of station `i` is `first + i * lanes() + l`, lane 0 the core.
    pub first: usize,
    /// Number of stations.
    pub stations: usize,
    /// Their length, mm.
    pub step_mm: f64,
    /// Sectors around the core.
    pub sectors: usize,
    /// Recess cells by station and angle; [`OUTSIDE`] where the stream touches the wall.
    pub(crate) recess: Vec<u32>,
    pub(crate) recesses: usize,
    /// Whether fabric shuts the recesses of a station off from its stream.
    pub lined: Vec<bool>,
    /// Section of the stream at each station, mm².
    pub area_mm2: Vec<f64>,
    /// Centreline points, one more than stations.
    pub centre: Vec<Vec3>,
}

impl Tube {
    /// Cells of the stream in each station.
    pub fn lanes(&self) -> usize {
        1 + self.sectors
    }
    /// Cell of a lane.
    pub fn lane(&self, station: usize, lane: usize) -> usize {
        self.first + station * self.lanes() + lane
    }
    /// The station at arc length `s_mm`.
    pub fn station(&self, s_mm: f64) -> usize {
        ((s_mm / self.step_mm).max(0.0) as usize).min(self.stations - 1)
    }
    /// Middle of a station, mm along the vessel.
    pub fn middle_mm(&self, station: usize) -> f64 {
        (station as f64 + 0.5) * self.step_mm
    }
    /// Sector lane (1..) that holds the angle.
    pub fn sector(&self, theta_rad: f64) -> usize {
        1 + slot(theta_rad, self.sectors)
    }
    /// Recess cells: (station, angle slot, cell).
    pub fn recess_cells(&self) -> impl Iterator<Item = (usize, usize, usize)> + '_ {
        let n = self.recesses.max(1);
        self.recess
            .iter()
            .enumerate()
            .filter(|(_, c)| **c != OUTSIDE)
            .map(move |(i, c)| (i / n, i % n, *c as usize))
    }
    pub(crate) fn recess_at(&self, station: usize, k: usize) -> Option<usize> {
        if self.recesses == 0 {
            return None;
        }
        let c = self.recess[station * self.recesses + k % self.recesses];
        (c != OUTSIDE).then_some(c as usize)
    }
}

fn slot(theta_rad: f64, n: usize) -> usize {
    let turns = theta_rad / std::f64::consts::TAU;
    (((turns - turns.floor()) * n as f64) as usize).min(n - 1)
}

/// All cells of a scene.
#[derive(Clone, Debug)]
pub struct Cells {
    /// Vessels in the tree's order, then segmental twigs, then pools.
    pub tubes: Vec<Tube>,
    /// Which tubes are twigs.
    pub twigs: std::ops::Range<usize>,
    /// Volume of each cell, ml.
    pub volume_ml: Vec<f64>,
    /// Tube of each cell.
    pub(crate) tube_of: Vec<u16>,
    pub(crate) corners: Vec<Vec3>,
    pub(crate) faces: Vec<Face>,
}

impl Cells {
    /// Cuts the scene's vessels and pools.
    pub fn of(scene: &Scene, ends: Ends) -> Result<Self, ImagingError> {
        Self::cut(scene, ends, 1.0)
    }

    /// The same, into stations of so many times the usual length.
    pub fn cut(scene: &Scene, ends: Ends, stations: f64) -> Result<Self, ImagingError> {
        let mut out = Self {
            tubes: Vec::new(),
            twigs: 0..0,
            volume_ml: Vec::new(),
            tube_of: Vec::new(),
            corners: Vec::new(),
            faces: Vec::new(),
        };
        for (index, vessel) in scene.tree.vessels.iter().enumerate() {
            let mean = mean_radius(&vessel.lumen);
            let large = mean > LARGE_MM || vessel.root.is_none();
            let plan = Plan {
                vessel: index,
                curve: &vessel.curve,
                wall: &vessel.lumen,
                step_mm: stations * if large { STEP_MM } else { STEP_SMALL_MM },
                corners: if large { CORNERS } else { CORNERS_SMALL },
                sectors: if large { SECTORS } else { 1 },
                recesses: if large { RECESSES } else { 0 },
                parent: vessel.root.map(|r| out.joint(r)),
                start: vessel.root.map(|r| buried(scene.tree, &vessel.curve, r)),
                ends: if large || ends == Ends::Calibre { End::Flat } else { End::of(vessel.name) },
            };
            out.add(&plan, scene);
        }
        let vessels = out.tubes.len();
        for (parent, vessel) in scene.tree.vessels.iter().enumerate() {
            for root in &vessel.wall.segmentals {
                let root = Root { parent, ..*root };
                let Some((curve, lumen)) = twig::course(scene.tree, root) else { continue };
                let plan = Plan {
                    vessel: usize::MAX,
                    curve: &curve,
                    wall: &lumen,
                    step_mm: stations * STEP_SMALL_MM,
                    corners: CORNERS_TWIG,
                    sectors: 1,
                    recesses: 0,
                    parent: Some(out.joint(root)),
                    start: Some(buried(scene.tree, &curve, root)),
                    ends: End::Flat,
                };
                out.add(&plan, scene);
            }
        }
        out.twigs = vessels..out.tubes.len();
        for (k, pool) in scene.pools.iter().enumerate() {
            let plan = Plan {
                vessel: scene.tree.vessels.len() + k,
                curve: &pool.curve,
                wall: &pool.lumen,
                step_mm: stations * STEP_POOL_MM,
                corners: CORNERS,
                sectors: SECTORS,
                recesses: 0,
                parent: None,
                start: None,
                ends: End::Flat,
            };
            out.add(&plan, scene);
        }
        if out.tube_of.len() >= usize::from(u16::MAX) {
            return Err(ImagingError::TooManyCells(out.tube_of.len()));
        }
        out.measure();
        Ok(out)
    }

    /// Number of cells.
    pub fn len(&self) -> usize {
        self.tube_of.len()
    }
    /// Whether there is nothing.
    pub fn is_empty(&self) -> bool {
        self.tube_of.is_empty()
    }

    fn joint(&self, root: Root) -> (usize, usize, f64) {
        let parent = &self.tubes[root.parent];
        (root.parent, parent.station(root.s_mm), root.theta_rad)
    }

    fn new_cell(&mut self, tube: usize) -> u32 {
        self.tube_of.push(tube as u16);
        self.tube_of.len() as u32 - 1
    }

    fn add(&mut self, plan: &Plan, scene: &Scene) {
        let rings = plan.rings(scene);
        let (n, k) = (plan.corners, rings.stations);
        let tube_id = self.tubes.len();
        let mut tube = Tube {
            vessel: plan.vessel,
            parent: plan.parent,
            first: self.len(),
            stations: k,
            step_mm: rings.step_mm,
            sectors: plan.sectors,
            recess: Vec::new(),
            recesses: plan.recesses,
            lined: (0..k).map(|i| rings.lined[i] && rings.lined[i + 1]).collect(),
            area_mm2: (0..k).map(|i| 0.5 * (rings.area(i, n) + rings.area(i + 1, n))).collect(),
            centre: rings.centre.iter().map(|f| f.at).collect(),
        };
        for _ in 0..k * tube.lanes() {
            self.new_cell(tube_id);
        }
        for i in 0..k {
            let least = if tube.lined[i] { GAP_LINED_MM } else { GAP_FREE_MM * 0.5 };
            for r in 0..plan.recesses {
                let span = n / plan.recesses;
                let open = (r * span..=(r + 1) * span)
                    .flat_map(|j| [rings.gap(i, j % n), rings.gap(i + 1, j % n)])
                    .fold(0.0, f64::max);
                let cell = if open > least { self.new_cell(tube_id) } else { OUTSIDE };
                tube.recess.push(cell);
            }
        }
        self.surfaces(&tube, &rings, n);
        self.tubes.push(tube);
    }

    /// Vertices of three rings and a centre at each station, and all faces between cells.
    fn surfaces(&mut self, tube: &Tube, rings: &Rings, n: usize) {
        let base = self.corners.len() as u32;
        // A polygon's area falls short of the curve's: widen so that sections keep theirs.
        let wide = ops::sqrt(std::f64::consts::TAU / (n as f64 * ops::sin(std::f64::consts::TAU / n as f64)));
        for (i, frame) in rings.centre.iter().enumerate() {
            self.corners.push(frame.at);
            for fraction in [CORE, 1.0, 2.0] {
                for j in 0..n {
                    let theta = std::f64::consts::TAU * j as f64 / n as f64;
                    let r = if fraction > 1.5 { rings.wall[i][j] } else { rings.stream[i][j] * fraction };
                    self.corners.push(frame.at + frame.radial(theta) * (r * wide));
                }
            }
        }
        let per = 1 + 3 * n as u32;
        let mid = |i: usize| base + i as u32 * per;
        let at = |i: usize, ring: usize, j: usize| mid(i) + 1 + (ring * n + j % n) as u32;
        let lane = |i: isize, l: usize| {
            if i < 0 || i >= tube.stations as isize { OUTSIDE } else { tube.lane(i as usize, l) as u32 }
        };
        let sector = |j: usize| 1 + (j % n) * tube.sectors / n;
        let recess = |i: isize, j: usize| {
            if tube.recesses == 0 || i < 0 || i >= tube.stations as isize {
                return OUTSIDE;
            }
            tube.recess[i as usize * tube.recesses + (j % n) * tube.recesses / n]
        };
        let faces = &mut self.faces;
        let mut quad = |c: [u32; 4], inner: u32, outer: u32| {
            if inner != outer {
                faces.push(Face { corners: [c[0], c[1], c[2]], inner, outer });
                faces.push(Face { corners: [c[0], c[2], c[3]], inner, outer });
            }
        };
        for i in 0..tube.stations {
            let ii = i as isize;
            for j in 0..n {
                let around =
                    |ring| [at(i, ring, j), at(i, ring, j + 1), at(i + 1, ring, j + 1), at(i + 1, ring, j)];
                quad(around(0), lane(ii, 0), lane(ii, sector(j)));
                quad(around(1), lane(ii, sector(j)), recess(ii, j));
                if recess(ii, j) != OUTSIDE {
                    quad(around(2), recess(ii, j), OUTSIDE);
                }
                let before = (j + n - 1) % n;
                let side =
                    |ring| [at(i, ring, j), at(i, ring + 1, j), at(i + 1, ring + 1, j), at(i + 1, ring, j)];
                if tube.sectors > 1 {
                    quad(side(0), lane(ii, sector(j)), lane(ii, sector(before)));
                }
                quad(side(1), recess(ii, j), recess(ii, before));
            }
        }
        for i in 0..=tube.stations {
            let (p, m) = (i as isize - 1, i as isize);
            for j in 0..n {
                let ring = |a, b| [at(i, a, j), at(i, b, j), at(i, b, j + 1), at(i, a, j + 1)];
                quad(ring(0, 1), lane(p, sector(j)), lane(m, sector(j)));
                quad(ring(1, 2), recess(p, j), recess(m, j));
            }
        }
        for i in 0..=tube.stations {
            let (inner, outer) = (lane(i as isize - 1, 0), lane(i as isize, 0));
            for j in 0..n {
                faces.push(Face { corners: [mid(i), at(i, 0, j), at(i, 0, j + 1)], inner, outer });
            }
        }
    }

    /// Volumes under the faces (divergence theorem), about each tube's own start for precision.
    fn measure(&mut self) {
        let mut mm3 = vec![0.0; self.len()];
        for f in &self.faces {
            let cell = if f.inner != OUTSIDE { f.inner } else { f.outer };
            let origin = self.tubes[usize::from(self.tube_of[cell as usize])].centre[0];
            let [a, b, c] = f.corners.map(|v| self.corners[v as usize] - origin);
            let v = a.dot(b.cross(c)) / 6.0;
            if f.inner != OUTSIDE {
                mm3[f.inner as usize] += v;
            }
            if f.outer != OUTSIDE {
                mm3[f.outer as usize] -= v;
            }
        }
        self.volume_ml = mm3.iter().map(|v| v * 1e-3).collect();
    }
}

fn mean_radius(lumen: &Lumen) -> f64 {
    let n = lumen.stations();
    (0..n).map(|i| lumen.ring(i).iter().sum::<f64>()).sum::<f64>() / (n * lumen.n_theta()) as f64
}

/// Where the first ring of a branch is pulled to: well inside its parent, so that no notch shows at the ostium. A ray's
/// path through both counts once, in the parent.
fn buried(tree: &Tree, curve: &Curve, root: Root) -> Vec3 {
    let parent = &tree.vessels[root.parent];
    let axis = parent.curve.point(root.s_mm);
    let start = curve.point(0.0);
    let depth = BURIED * parent.lumen.radius(root.s_mm, root.theta_rad);
    let off = axis.distance(start);
    if off > depth { axis + (start - axis) * (depth / off) } else { start }
}

/// How one tube is to be cut.
struct Plan<'a> {
    vessel: usize,
    curve: &'a Curve,
    wall: &'a Lumen,
    step_mm: f64,
    corners: usize,
    sectors: usize,
    recesses: usize,
    parent: Option<(usize, usize, f64)>,
    start: Option<Vec3>,
    ends: End,
}

/// How a tube is drawn towards its end.
#[derive(Clone, Copy, PartialEq)]
enum End {
    Flat,
    Round,
    /// Thinner and thinner.
    Thins,
}

impl End {
    fn of(name: VesselName) -> Self {
        use VesselName::*;
        let organ = [Coeliac, Sma, Ima, RightRenal, LeftRenal, RightInternalIliac, LeftInternalIliac];
        if organ.contains(&name) { Self::Thins } else { Self::Round }
    }

    /// Of a radius so much is drawn at a place of a tube.
    fn part(self, s_mm: f64, length_mm: f64, radius_mm: f64) -> f64 {
        if self == Self::Flat {
            return 1.0;
        }
        let left = ((length_mm - s_mm) / radius_mm.max(0.1)).clamp(0.0, 1.0);
        let round = (left * (2.0 - left)).sqrt().max(ROUNDED);
        let thin = match self {
            Self::Thins => smooth_step(THINS_FROM * length_mm, length_mm, s_mm) * (1.0 - THINS_TO),
            _ => 0.0,
        };
        round * (1.0 - thin)
    }
}

/// Frames and radii at the ends of the stations.
struct Rings {
    stations: usize,
    step_mm: f64,
    centre: Vec<crate::math::Frame>,
    wall: Vec<Vec<f64>>,
    stream: Vec<Vec<f64>>,
    lined: Vec<bool>,
}

impl Rings {
    fn gap(&self, i: usize, j: usize) -> f64 {
        self.wall[i][j] - self.stream[i][j]
    }
    fn area(&self, i: usize, n: usize) -> f64 {
        self.stream[i].iter().map(|r| r * r).sum::<f64>() * std::f64::consts::PI / n as f64
    }
}

impl Plan<'_> {
    fn rings(&self, scene: &Scene) -> Rings {
        let length = self.curve.length_mm();
        let stations = ((length / self.step_mm).round() as usize).max(2);
        let step_mm = length / stations as f64;
        let angle = |j: usize| std::f64::consts::TAU * j as f64 / self.corners as f64;
        let s = |i: usize| step_mm * i as f64;
        let mut centre: Vec<_> = (0..=stations).map(|i| self.curve.frame(s(i))).collect();
        if let Some(at) = self.start {
            centre[0].at = at;
        }
        let wall: Vec<Vec<f64>> = (0..=stations)
            .map(|i| {
                let part = self.ends.part(s(i), length, 0.5 * self.wall.diameter_mm(s(i)));
                (0..self.corners).map(|j| (part * self.wall.radius(s(i), angle(j))).max(0.05)).collect()
            })
            .collect();
        let mut stream = if self.recesses > 0 { free_stream(&wall, step_mm) } else { wall.clone() };
        let mut lined = vec![false; stations + 1];
        for lining in scene.linings.iter().filter(|l| l.vessel == self.vessel && self.recesses > 0) {
            for i in 0..=stations {
                if s(i) < lining.from_mm - 0.5 * step_mm || s(i) > lining.to_mm + 0.5 * step_mm {
                    continue;
                }
                lined[i] = true;
                for j in 0..self.corners {
                    let fabric = lining.fabric.radius(s(i) - lining.from_mm, angle(j));
                    stream[i][j] = fabric.clamp(0.05, wall[i][j]);
                }
            }
        }
        Rings { stations, step_mm, centre, wall, stream, lined }
    }
}

/// The running stream in an unlined vessel: the wall, but no wider than a jet that spreads from what it came through,
/// so that a sudden pocket or an aneurysm lies beside the stream and not in it.
fn free_stream(wall: &[Vec<f64>], step_mm: f64) -> Vec<Vec<f64>> {
    let mut cap: Vec<f64> = wall
        .iter()
        .map(|ring| {
            let mut sorted = ring.clone();
            sorted.sort_by(f64::total_cmp);
            sorted[sorted.len() / 2] * 1.06
        })
        .collect();
    for i in 1..cap.len() {
        cap[i] = cap[i].min(cap[i - 1] + SPREAD * step_mm);
    }
    for i in (0..cap.len() - 1).rev() {
        cap[i] = cap[i].min(cap[i + 1] + CONVERGE * step_mm);
    }
    let shut = |r: f64, cap: f64| if r - cap > GAP_FREE_MM { cap } else { r };
    wall.iter().zip(&cap).map(|(ring, &c)| ring.iter().map(|&r| shut(r, c)).collect()).collect()
}
