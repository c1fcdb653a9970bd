//! The patient around the vessels: a procedural trunk fitted to the case.
//!
//! Bones and lung vessels are solids, soft tissue is a voxel volume; all shapes and sizes are our own drawing of an adult,
//! checked against nothing but the eye. What breathes and beats is drawn apart from what stands still.

mod clear;
mod lean;
mod lungs;
mod pelvis;
mod skeleton;
pub mod soft;
mod spill;
mod stature;
mod volume;

pub use spill::Spill;

use super::attenuation::{Beam, Material};
use super::motion::MovingLayer;
use super::pose::View;
use super::solid::{Solid, paint};
use crate::anatomy::Tree;
use crate::math::Vec3;
use soft::Anatomy;
use spill::Filled;
use stature::Stature;
use volume::Volume;

/// A patient's trunk at one beam.
#[derive(Clone, Debug)]
pub struct Body {
    anatomy: Anatomy,
    volume: Volume,
    spine: Vec<Solid>,
    ribs: Vec<Solid>,
    pelvis: Vec<Solid>,
    lung_vessels: Vec<Solid>,
    shift: Vec3,
}

/// Linear attenuation of the tissues, 1/cm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tissues {
    pub(crate) soft: f64,
    pub(crate) blood: f64,
    pub(crate) fat: f64,
    pub(crate) lung: f64,
    pub(crate) cortical: f64,
    pub(crate) spongy: f64,
}

impl Tissues {
    /// At a beam. Muscle is 4 % denser than the ICRP soft-tissue mean; spongy bone is a fifth cortical (assumed).
    pub fn at(beam: &Beam) -> Self {
        let soft = beam.mu(Material::SoftTissue) * 1.04;
        let cortical = beam.mu(Material::CorticalBone);
        Self {
            soft,
            blood: beam.mu(Material::Blood),
            fat: beam.mu(Material::Fat),
            lung: beam.mu(Material::InflatedLung),
            cortical,
            spongy: soft + 0.14 * (cortical - soft),
        }
    }
}

/// Line integrals of a trunk from one view, nats.
pub struct Background {
    /// What neither breathes nor beats.
    pub still: Vec<f32>,
    /// What does.
    pub moving: MovingLayer,
}

impl Body {
    /// A trunk around a patient's vessels.
    pub fn new(tree: &Tree, beam: &Beam) -> Self {
        let shift = fit(tree);
        let tissues = Tissues::at(beam);
        let stature = Stature::of(tree, shift, &tissues);
        let anatomy = Anatomy::new(tree, shift, tissues, stature);
        let moved = |solids: Vec<Solid>| solids.iter().map(|s| s.moved(shift)).collect::<Vec<_>>();
        Self {
            volume: Volume::build(&anatomy),
            spine: moved(skeleton::vertebrae(&tissues, &stature).into_iter().flat_map(|v| v.1).collect()),
            ribs: moved(skeleton::cage(&tissues, &stature)),
            pelvis: moved(pelvis::girdle(&tissues, &stature)),
            lung_vessels: moved(lungs::vessels(&anatomy)),
            anatomy,
            shift,
        }
    }

    /// The trunk, dry until now, with blood outside the vessels.
    pub fn with_spilled(&self, spills: &[Spill]) -> Self {
        let mut out = self.clone();
        let fill = |s: &Spill| Filled::new(&self.anatomy, s.into, s.from - self.shift, s.ml);
        out.anatomy.spilled = spills.iter().filter_map(fill).collect();
        let boxes: Vec<_> = out.anatomy.spilled.iter().map(|f| f.within).collect();
        boxes.into_iter().for_each(|b| out.volume.again(&out.anatomy, b));
        // Where blood is there is no lung for its vessels to show against.
        out.lung_vessels.retain(|s| out.anatomy.blood(s.middle() - self.shift) < 0.5);
        out
    }

    /// The trunk from one view.
    pub fn background(&self, view: &View) -> Background {
        let n = view.pixels;
        let mut still = vec![0.0; n * n];
        paint(&self.spine, view, &mut still);
        paint(&self.ribs, view, &mut still);
        paint(&self.pelvis, view, &mut still);
        let m = (n / 2).max(32);
        let coarse = view.resampled(m);
        let mut soft = self.volume.project(&coarse, self.shift);
        paint(&self.lung_vessels, &coarse, &mut soft);
        let at = |z: f64| z + self.shift.z;
        let heart = Vec3::new(28.0, -45.0, -100.0) + self.shift;
        // What breath moves: all of the belly, nothing of the apex and little of the pelvis.
        let breathes = [at(70.0), at(-110.0), at(-240.0), at(-430.0)];
        Background { still, moving: MovingLayer::new(soft, m, *view, heart, breathes) }
    }

    /// Whether a place of the patient lies in the spine: bone or disc.
    pub fn in_spine(&self, p: Vec3) -> bool {
        self.spine.iter().any(|s| s.holds(p))
    }

    /// Half width and half depth of the trunk, mm.
    pub fn half_axes_mm(&self) -> (f64, f64) {
        soft::HALF_AXES_MM
    }
    /// Solid bones, for CT.
    pub(crate) fn bones(&self) -> impl Iterator<Item = &Solid> {
        self.spine.iter().chain(&self.ribs).chain(&self.pelvis)
    }
    pub(crate) fn lung_vessels(&self) -> &[Solid] {
        &self.lung_vessels
    }
    pub(crate) fn anatomy(&self) -> &Anatomy {
        &self.anatomy
    }
    pub(crate) fn shift(&self) -> Vec3 {
        self.shift
    }
}

/// The move that brings the drawn trunk's arch onto the patient's: the top of the arch gives the height, the descending
/// aorta 85 mm below it the place in the section.
fn fit(tree: &Tree) -> Vec3 {
    let curve = &tree.aorta().curve;
    let length = curve.length_mm();
    let step = 2.0;
    let points: Vec<Vec3> = (0..=(length / step) as usize).map(|i| curve.point(i as f64 * step)).collect();
    let top = points.iter().enumerate().fold((0, f64::MIN), |b, (i, p)| if p.z > b.1 { (i, p.z) } else { b });
    let below =
        points[top.0..].iter().find(|p| p.z < top.1 - 85.0).or(points.last()).copied().unwrap_or(Vec3::ZERO);
    Vec3::new(below.x - 27.0, below.y - 47.0, top.1 - 40.0)
}
