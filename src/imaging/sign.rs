//! What a run shows, in numbers: when each vessel and each space beside the stream filled, from where, how much, and
//! whether the eye could tell.
//!
//! All of it is read from the transported iodine and the path matrix, never from what the model was told to leak.

use super::cells::Cells;
use super::matrix::PathMatrix;
use super::scene::Scene;
use super::transport::Transport;

/// Time and strength of contrast in one vessel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VesselSign {
    /// Index in the tree.
    pub vessel: usize,
    /// When its mean concentration first passed 10 mg/ml, s after the mask.
    pub arrival_s: Option<f64>,
    /// Highest mean concentration, mg/ml.
    pub peak_mg_ml: f64,
    /// Whether its far end opacified before its root: filled backward.
    pub backward: bool,
}

/// Contrast beside the stream of one vessel: behind fabric, in an aneurysm, in a pocket.
#[derive(Clone, Debug, PartialEq)]
pub struct SpaceSign {
    /// The vessel.
    pub vessel: usize,
    /// Whether fabric shuts it off.
    pub lined: bool,
    /// Extent along the vessel, mm.
    pub from_mm: f64,
    /// See `from_mm`.
    pub to_mm: f64,
    /// Its volume, ml.
    pub volume_ml: f64,
    /// When iodine was first to be seen in it (contrast over noise above 3), s after the mask.
    pub arrival_s: Option<f64>,
    /// How long after the neighbouring stream, s.
    pub delay_s: Option<f64>,
    /// Where it was first, mm along the vessel.
    pub first_mm: f64,
    /// At what angle, rad.
    pub first_rad: f64,
    /// Most iodine at once, mg, and when, s.
    pub peak_mg: f64,
    /// See `peak_mg`.
    pub peak_s: f64,
    /// Iodine left at the end as a part of the peak.
    pub left: f64,
    /// Best contrast-to-noise ratio of any pixel that looks through it.
    pub contrast_to_noise: f64,
    /// Iodine by frame: (s, mg).
    pub curve: Vec<(f64, f64)>,
}

impl SpaceSign {
    /// Middle of its extent along the vessel, mm.
    pub fn middle_mm(&self) -> f64 {
        0.5 * (self.from_mm + self.to_mm)
    }
}

/// Everything that a run showed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Findings {
    /// By vessel in the tree's order.
    pub vessels: Vec<VesselSign>,
    /// Spaces beside the stream that exist, seen or not.
    pub spaces: Vec<SpaceSign>,
    /// Pools outside the vessels: (pool, most iodine at once in mg).
    pub pools: Vec<(usize, f64)>,
}

/// Concentration that the eye calls opacified, mg/ml (assumed: about 0.1 nats across a 15 mm vessel).
pub const OPACIFIED_MG_ML: f64 = 10.0;
/// Contrast over noise that an eye finds (Rose, J. Opt. Soc. Am. 38:196, 1948: 3 to 5) for a patch of this many pixels.
const SEEN: f64 = 3.0;
const PATCH_PX: f64 = 16.0;

/// A run's running notes.
#[derive(Clone, Debug)]
pub(super) struct Watch {
    vessels: Vec<VesselNotes>,
    spaces: Vec<SpaceNotes>,
    pools: Vec<(usize, usize, f64)>,
}

#[derive(Clone, Debug)]
struct VesselNotes {
    tube: usize,
    arrival: Option<f64>,
    peak: f64,
    root: Option<f64>,
    end: Option<f64>,
}

#[derive(Clone, Debug)]
struct SpaceNotes {
    tube: usize,
    lined: bool,
    step_mm: f64,
    volume_ml: f64,
    cells: Vec<(usize, usize, usize)>,
    curve: Vec<(f64, f64)>,
    stream: Option<f64>,
    /// By frame: strongest projected contrast, nats.
    nats: Vec<f64>,
    first: Option<(f64, f64)>,
}

impl Watch {
    pub fn new(scene: &Scene, cells: &Cells) -> Self {
        let count = scene.tree.vessels.len();
        let mut spaces = Vec::new();
        for (k, tube) in cells.tubes.iter().enumerate().take(count) {
            // Beside the stream of a lesion lies its sac, behind fabric or not; elsewhere it is the wedge at a fabric's edge.
            let lesions = &scene.tree.vessels[k].wall.lesions;
            let lesion = |i: usize| {
                let s_mm = tube.middle_mm(i);
                lesions.iter().position(|l| l.from_mm <= s_mm && s_mm <= l.to_mm)
            };
            let places = [true, false]
                .into_iter()
                .flat_map(|lined| (0..lesions.len()).map(Some).chain([None]).map(move |n| (lined, n)));
            for (lined, within) in places {
                let here = |i: usize| tube.lined[i] == lined && lesion(i) == within;
                let list: Vec<_> = tube.recess_cells().filter(|(i, _, _)| here(*i)).collect();
                let ml: f64 = list.iter().map(|c| cells.volume_ml[c.2]).sum();
                if ml > LEAST_ML {
                    spaces.push(SpaceNotes {
                        tube: k,
                        lined,
                        step_mm: tube.step_mm,
                        volume_ml: ml,
                        cells: list,
                        curve: Vec::new(),
                        stream: None,
                        nats: Vec::new(),
                        first: None,
                    });
                }
            }
        }
        let vessels = (0..count)
            .map(|tube| VesselNotes { tube, arrival: None, peak: 0.0, root: None, end: None })
            .collect();
        let first = cells.twigs.end;
        let pools = (first..cells.tubes.len()).map(|t| (t - first, t, 0.0)).collect();
        Self { vessels, spaces, pools }
    }

    pub fn note(&mut self, t_s: f64, transport: &Transport, matrix: &PathMatrix, mu_iodine: f32) {
        let cells = transport.cells();
        let mean = |tube: usize, stations: std::ops::Range<usize>| {
            let t = &cells.tubes[tube];
            let (mut mg, mut ml) = (0.0, 0.0);
            for i in stations {
                for l in 0..t.lanes() {
                    mg += transport.mass_mg(t.lane(i, l));
                    ml += transport.cell_volume_ml(t.lane(i, l));
                }
            }
            mg / f64::max(ml, 1e-9)
        };
        for v in &mut self.vessels {
            let n = cells.tubes[v.tube].stations;
            let third = (n / 3).max(1);
            let whole = mean(v.tube, 0..n);
            v.peak = v.peak.max(whole);
            let mark = |slot: &mut Option<f64>, c: f64| {
                if slot.is_none() && c > OPACIFIED_MG_ML {
                    *slot = Some(t_s);
                }
            };
            mark(&mut v.arrival, whole);
            mark(&mut v.root, mean(v.tube, 0..third));
            mark(&mut v.end, mean(v.tube, n - third..n));
        }
        for (_, tube, most) in &mut self.pools {
            let t = &cells.tubes[*tube];
            let mg = (t.first..t.first + t.stations * t.lanes()).map(|c| transport.mass_mg(c)).sum();
            *most = f64::max(*most, mg);
        }
        if self.spaces.is_empty() {
            return;
        }
        // What each space alone adds to the picture.
        let mut owner = vec![u8::MAX; cells.len()];
        for (k, s) in self.spaces.iter().enumerate() {
            s.cells.iter().for_each(|c| owner[c.2] = k as u8);
        }
        let conc = transport.concentration();
        let mut best = vec![0.0f32; self.spaces.len()];
        let mut sums = vec![0.0f32; self.spaces.len()];
        for p in (0..matrix.pixels * matrix.pixels).step_by(2) {
            sums.fill(0.0);
            for (c, cm) in matrix.row(p) {
                if owner[c] != u8::MAX {
                    sums[usize::from(owner[c])] += cm * conc[c];
                }
            }
            best.iter_mut().zip(&sums).for_each(|(b, s)| *b = b.max(*s));
        }
        for (k, s) in self.spaces.iter_mut().enumerate() {
            let tube = &cells.tubes[s.tube];
            let mg: f64 = s.cells.iter().map(|c| transport.mass_mg(c.2)).sum();
            s.curve.push((t_s, mg));
            s.nats.push(f64::from(best[k] * mu_iodine));
            let span = s.cells.iter().fold((usize::MAX, 0), |a, c| (a.0.min(c.0), a.1.max(c.0)));
            if s.stream.is_none() && mean(s.tube, span.0..span.1 + 1) > OPACIFIED_MG_ML {
                s.stream = Some(t_s);
            }
            if s.first.is_none() && mg > FIRST_MG {
                // Where most of what is there lies.
                let (mut z, mut x, mut y) = (0.0, 0.0, 0.0);
                for &(i, r, c) in &s.cells {
                    let m = transport.mass_mg(c);
                    let theta = std::f64::consts::TAU * (r as f64 + 0.5) / tube.recesses as f64;
                    let (sin, cos) = crate::math::ops::sin_cos(theta);
                    z += m * tube.middle_mm(i);
                    x += m * cos;
                    y += m * sin;
                }
                s.first = Some((z / mg, crate::math::ops::atan2(y, x)));
            }
        }
    }

    pub fn findings(self, noise_per_pixel: f64) -> Findings {
        let vessels = self
            .vessels
            .iter()
            .map(|v| VesselSign {
                vessel: v.tube,
                arrival_s: v.arrival,
                peak_mg_ml: v.peak,
                backward: match (v.root, v.end) {
                    (Some(root), Some(end)) => end < root,
                    (None, Some(_)) => true,
                    _ => false,
                },
            })
            .collect();
        let spaces = self.spaces.into_iter().map(|s| s.sign(noise_per_pixel)).collect();
        Findings { vessels, spaces, pools: self.pools.into_iter().map(|p| (p.0, p.2)).collect() }
    }
}

/// A space smaller than this is a slit that no one would name, ml.
const LEAST_ML: f64 = 0.5;
/// Iodine that fixes where a space filled first, mg.
const FIRST_MG: f64 = 2.0;

impl SpaceNotes {
    fn sign(self, noise_per_pixel: f64) -> SpaceSign {
        let noise = (noise_per_pixel / PATCH_PX.sqrt()).max(1e-6);
        let arrival_s = self.nats.iter().position(|n| n / noise > SEEN).map(|k| self.curve[k].0);
        let peak = self.curve.iter().copied().fold((0.0, 0.0), |a, b| if b.1 > a.1 { b } else { a });
        let last = self.curve.last().map_or(0.0, |c| c.1);
        let step = |i: usize| i as f64 * self.step_mm;
        let (low, high) = self.cells.iter().fold((usize::MAX, 0), |a, c| (a.0.min(c.0), a.1.max(c.0)));
        SpaceSign {
            vessel: self.tube,
            lined: self.lined,
            from_mm: step(low),
            to_mm: step(high + 1),
            volume_ml: self.volume_ml,
            arrival_s,
            delay_s: arrival_s.zip(self.stream).map(|(a, b)| a - b),
            first_mm: self.first.map_or(0.0, |f| f.0),
            first_rad: self.first.map_or(0.0, |f| f.1),
            peak_mg: peak.1,
            peak_s: peak.0,
            left: if peak.1 > 0.0 { last / peak.1 } else { 0.0 },
            contrast_to_noise: self.nats.iter().copied().fold(0.0, f64::max) / noise,
            curve: self.curve,
        }
    }
}
