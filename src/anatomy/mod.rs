//! The vessel tree: centrelines, lumens as rings of radii, walls, ostia, zones and lesions.
//!
//! Everything that is sized, touched, leaked past, filled with contrast or looked at reads this one
//! description. Lengths are millimetres, angles radians; arc length on the aorta starts at the aortic valve.
//! An educator writes an [`AnatomySpec`]; [`AnatomySpec::build`] makes the [`Tree`]; a [`Rail`] lays one
//! ruler from the valve to a puncture.

pub mod adan;
pub mod around;
mod branches;
mod build;
mod course;
pub mod dissection;
pub mod import;
pub mod lesion;
pub mod lumen;
pub mod measure;
pub mod name;
pub mod normal;
pub mod pressure;
pub mod profile;
pub mod rail;
pub mod sheet;
pub mod spec;
pub mod tree;
pub mod zone;

pub use dissection::{Septum, Tear};
pub use import::Axes;
pub use lesion::LesionMark;
pub use lumen::Lumen;
pub use measure::{Lengths, Section, View};
pub use name::VesselName;
pub use pressure::WallLaw;
pub use rail::{Leg, Rail, RailMark, RailMarkKind, Site};
pub use sheet::{AccessRow, Landing, OstiumRow, SizingSheet};
pub use spec::{
    AccessSpec, AnatomySpec, AortaSpec, ArchType, BranchSpec, Cavity, CentrelineSpec, Dissection, Landmark,
    Lesion, LesionShape, Patch, Place, ResizeSpec, Rupture, Sex, Stretch, Toward,
};
pub use tree::{Root, Tree, Vessel, Wall};
pub use zone::Zone;
