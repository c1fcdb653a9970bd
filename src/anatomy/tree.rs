//! Vessels joined at ostia.

use super::{LesionMark, Lumen, Septum, VesselName, WallLaw};
use crate::math::Curve;

/// Where a branch leaves its parent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Root {
    /// Index of the parent in the tree.
    pub parent: usize,
    /// Arc length of the ostium's centre on the parent, mm.
    pub s_mm: f64,
    /// Angle of the ostium's centre in the parent's frame, rad.
    pub theta_rad: f64,
    /// Radius of the ostium, mm.
    pub radius_mm: f64,
}

/// What the wall is made of, on the lumen's grid (station-major, then angle).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wall {
    /// Fraction of each cell that is calcified, 0 to 1; empty when there is none.
    pub calcium: Vec<f64>,
    /// Thickness of mural thrombus inside the wall, mm; empty when there is none. The lumen's radii are those
    /// of flowing blood.
    pub thrombus_mm: Vec<f64>,
    /// Aneurysms, ulcers and tears of this vessel, in the order written.
    pub lesions: Vec<LesionMark>,
    /// Origins of the paired intercostal and lumbar arteries, from above down, right before left.
    pub segmentals: Vec<Root>,
    /// The septum of a dissected aorta, whose lumen is then the true one.
    pub septum: Option<Septum>,
    /// How its calibre follows pressure; the tree goes by the aorta's.
    pub law: WallLaw,
}

/// One vessel: a centreline with rings of radii.
#[derive(Clone, Debug)]
pub struct Vessel {
    /// Which.
    pub name: VesselName,
    /// Centreline, from its parent outward.
    pub curve: Curve,
    /// Flowing lumen at the reference pressure of the tree.
    pub lumen: Lumen,
    /// The wall.
    pub wall: Wall,
    /// Where it leaves its parent; `None` for the aorta.
    pub root: Option<Root>,
}

/// All vessels; index 0 is the aorta, parents come before children.
#[derive(Clone, Debug)]
pub struct Tree {
    /// The vessels.
    pub vessels: Vec<Vessel>,
    /// Mean pressure at which the radii hold, mmHg.
    pub reference_map_mmhg: f64,
}

impl Tree {
    /// The aorta.
    pub fn aorta(&self) -> &Vessel {
        &self.vessels[0]
    }
    /// A vessel by name, if this patient has it as one of their own.
    pub fn get(&self, name: VesselName) -> Option<&Vessel> {
        self.vessels.iter().find(|v| v.name == name)
    }
    /// Index of a vessel by name.
    pub fn index(&self, name: VesselName) -> Option<usize> {
        self.vessels.iter().position(|v| v.name == name)
    }
    /// Arc length on the aorta at which a branch of it leaves, mm; a branch that a false lumen feeds is read
    /// off at the same level. `None` for branches of branches.
    pub fn aortic_s_mm(&self, name: VesselName) -> Option<f64> {
        let root = self.get(name)?.root?;
        match self.vessels.get(root.parent) {
            Some(parent) if parent.name == VesselName::FalseLumen => {
                Some(self.aorta().curve.nearest(parent.curve.point(root.s_mm)))
            }
            Some(parent) if parent.root.is_none() => Some(root.s_mm),
            _ => None,
        }
    }
    /// Named branches of the aorta above its bifurcation, from the valve down: name, arc length on the aorta,
    /// origin.
    pub fn aortic_branches(&self) -> Vec<(VesselName, f64, Root)> {
        let end = self.aorta().curve.length_mm();
        let mut out: Vec<(VesselName, f64, Root)> = self
            .vessels
            .iter()
            .filter(|v| !matches!(v.name, VesselName::Intercostals | VesselName::FalseLumen))
            .filter_map(|v| Some((v.name, self.aortic_s_mm(v.name)?, v.root?)))
            .filter(|b| b.1 < end)
            .collect();
        out.sort_by(|a, b| a.1.total_cmp(&b.1));
        out
    }
    /// Arc length of the centre of a branch's origin on its parent, mm.
    pub fn ostium_s_mm(&self, name: VesselName) -> Option<f64> {
        Some(self.get(name)?.root?.s_mm)
    }
}
