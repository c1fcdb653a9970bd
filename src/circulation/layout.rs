//! The case's anatomy as the circulation sees it: aortic segments, and where each branch leaves.

use crate::anatomy::{Tree, VesselName};
use serde::{Deserialize, Serialize};

/// Segments of the aorta from valve to bifurcation: at most this many.
pub const SEGMENTS: usize = 14;

/// One stretch of aorta.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Segment {
    /// Start, mm from the valve.
    pub s0_mm: f64,
    /// End, mm from the valve.
    pub s1_mm: f64,
    /// Radius of the circle of equal mean area, mm.
    pub radius_mm: f64,
}

/// A named vessel that leaves the aorta, or a vessel that leaves one of those.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Branch {
    /// Which.
    pub name: VesselName,
    /// Centre of the ostium, mm from the aortic valve; for a branch of a branch, the place of that branch.
    pub s_mm: f64,
    /// Mean radius, mm.
    pub radius_mm: f64,
    /// Length to its bed, mm.
    pub length_mm: f64,
}

/// What the circulation needs to know of the vessel tree.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Layout {
    /// In order from the valve, without gaps.
    pub aorta: Vec<Segment>,
    /// One for each name but the aorta, in the names' order.
    pub branches: Vec<Branch>,
    /// Mean pressure at which the radii hold, mmHg.
    pub reference_map_mmhg: f64,
}

use VesselName as N;

/// (name, s on the aorta mm, radius mm, length mm) of an adult. Radii and lengths rounded from the 56-artery
/// benchmark tree (Boileau, IJNMBE 2015); places along the aorta from the same, with 30 mm added for the root.
const ADULT: [(VesselName, f64, f64, f64); 19] = [
    (N::Innominate, 95.0, 6.0, 45.0),
    (N::RightCarotid, 95.0, 3.6, 150.0),
    (N::RightSubclavian, 95.0, 4.3, 100.0),
    (N::LeftCarotid, 110.0, 3.6, 180.0),
    (N::LeftSubclavian, 125.0, 4.4, 100.0),
    (N::RightVertebral, 95.0, 1.5, 180.0),
    (N::LeftVertebral, 125.0, 1.5, 180.0),
    (N::Intercostals, 230.0, 1.5, 60.0),
    (N::Coeliac, 335.0, 3.6, 30.0),
    (N::Sma, 350.0, 3.6, 50.0),
    (N::RightRenal, 365.0, 2.8, 35.0),
    (N::LeftRenal, 370.0, 2.8, 32.0),
    (N::Ima, 415.0, 2.0, 45.0),
    (N::RightCommonIliac, 455.0, 5.2, 55.0),
    (N::LeftCommonIliac, 455.0, 5.2, 55.0),
    (N::RightInternalIliac, 455.0, 3.0, 60.0),
    (N::LeftInternalIliac, 455.0, 3.0, 60.0),
    (N::RightExternalIliac, 455.0, 4.2, 140.0),
    (N::LeftExternalIliac, 455.0, 4.2, 140.0),
];

/// Radius along an adult aorta: (mm from the valve, mm). Diameters of Hager 2002 and Joh 2012, halved.
const ADULT_AORTA: [(f64, f64); 7] =
    [(0.0, 15.0), (50.0, 15.4), (110.0, 13.8), (160.0, 12.3), (330.0, 11.0), (380.0, 9.6), (455.0, 8.6)];

impl Default for Layout {
    fn default() -> Self {
        Self::adult()
    }
}

impl Layout {
    /// A healthy adult of 175 cm.
    pub fn adult() -> Self {
        let aorta = cut(455.0, |s| crate::math::interp::linear(&ADULT_AORTA, s));
        let branches = ADULT.iter().map(|&(name, s_mm, radius_mm, length_mm)| Branch {
            name,
            s_mm,
            radius_mm,
            length_mm,
        });
        Self { aorta, branches: branches.collect(), reference_map_mmhg: 93.0 }
    }

    /// The case's own tree; vessels that it does not draw keep an adult's calibre at a scaled place.
    pub fn from_tree(tree: &Tree) -> Self {
        let mut layout = Self::adult();
        let Some(aorta) = tree.vessels.first() else { return layout };
        let length = aorta.curve.length_mm().clamp(200.0, 1200.0);
        let (area, scale) = (|s: f64| aorta.lumen.area_mm2(s).max(1.0), length / 455.0);
        layout.aorta = cut(length, |s| (area(s) / std::f64::consts::PI).sqrt());
        layout.reference_map_mmhg = tree.reference_map_mmhg.clamp(30.0, 160.0);
        for b in &mut layout.branches {
            b.s_mm *= scale;
        }
        // Parents come before children, so a branch of a branch finds its place on the aorta already set.
        for v in &tree.vessels {
            let (Some(root), Some(i)) = (v.root, layout.branches.iter().position(|b| b.name == v.name))
            else {
                continue;
            };
            let on_aorta = match (tree.aortic_s_mm(v.name), tree.vessels.get(root.parent)) {
                (Some(s_mm), _) => s_mm,
                (None, Some(p)) => layout.branch(p.name).map_or(root.s_mm, |b| b.s_mm),
                (None, None) => continue,
            };
            let b = &mut layout.branches[i];
            b.s_mm = on_aorta.clamp(0.0, length);
            b.length_mm = v.curve.length_mm().clamp(15.0, 400.0);
            let n = 5;
            let mean = (0..n).map(|j| v.lumen.diameter_mm(b.length_mm * (f64::from(j) + 0.5) / f64::from(n)));
            // A thread of a vertebral carries nothing; half a millimetre must not become a way round.
            b.radius_mm = (mean.sum::<f64>() / f64::from(n) / 2.0).clamp(0.2, 20.0);
        }
        layout
    }

    /// The branch of that name; none for the aorta itself.
    pub fn branch(&self, name: VesselName) -> Option<&Branch> {
        self.branches.iter().find(|b| b.name == name)
    }
    /// Length of the aorta, mm.
    pub fn length_mm(&self) -> f64 {
        self.aorta.last().map_or(455.0, |s| s.s1_mm)
    }
    /// Index of the segment that holds `s_mm` (clamped to the ends).
    pub fn segment(&self, s_mm: f64) -> usize {
        self.aorta.iter().position(|seg| s_mm < seg.s1_mm).unwrap_or(self.aorta.len().saturating_sub(1))
    }
}

/// Equal stretches of about 38 mm: fine enough for the pulse wave, long enough for a millisecond's step.
fn cut(length_mm: f64, radius_mm: impl Fn(f64) -> f64) -> Vec<Segment> {
    let n = ((length_mm / 38.0) as usize).clamp(4, SEGMENTS);
    let step = length_mm / n as f64;
    let mut out = Vec::with_capacity(n);
    for i in 0..n {
        let s0_mm = step * i as f64;
        let points = 8;
        let area = (0..points).map(|j| radius_mm(s0_mm + step * (f64::from(j) + 0.5) / f64::from(points)));
        let mean_square = area.map(|r| r * r).sum::<f64>() / f64::from(points);
        out.push(Segment { s0_mm, s1_mm: s0_mm + step, radius_mm: mean_square.sqrt().clamp(2.0, 60.0) });
    }
    out
}
