//! What stands in the beam, as plain data: the vessels, what lines them, pools of escaped blood, devices.

use super::{Body, Material};
use crate::anatomy::{Lumen, Tree};
use crate::math::{Curve, Vec3};

/// Everything that is looked at.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The vessels.
    pub tree: &'a Tree,
    /// Fabric that lies in them.
    pub linings: &'a [Lining],
    /// Blood outside the vessels that contrast can reach.
    pub pools: &'a [Pool],
    /// The patient around them; `None` for vessels in air (tests, and the cheapest preview).
    pub body: Option<&'a Body>,
    /// Wires, catheters, struts, markers, balloons.
    pub devices: &'a [Shape],
}

impl<'a> Scene<'a> {
    /// Vessels in which nothing lies, within a trunk or in air.
    pub fn bare(tree: &'a Tree, body: Option<&'a Body>) -> Self {
        Self { tree, linings: &[], pools: &[], body, devices: &[] }
    }
}

/// Fabric in a vessel: blood runs inside it, and what lies between it and the wall is shut off but for leaks.
#[derive(Clone, Debug)]
pub struct Lining {
    /// Index of the vessel in the tree.
    pub vessel: usize,
    /// Where the fabric begins on the vessel, mm.
    pub from_mm: f64,
    /// Where it ends, mm.
    pub to_mm: f64,
    /// Radii of the fabric about the vessel's centreline; its arc length zero is `from_mm`.
    pub fabric: Lumen,
}

/// A pocket outside the vessels, as rings about its own axis.
#[derive(Clone, Debug)]
pub struct Pool {
    /// Axis, from the hole outward.
    pub curve: Curve,
    /// Radii about it.
    pub lumen: Lumen,
}

/// What a device part is made of: so much of one material, the rest unchanged blood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Substance {
    /// The material.
    pub material: Material,
    /// Fraction by volume (for iodine: g/ml).
    pub fraction: f64,
}

impl Substance {
    /// All of one material.
    pub const fn solid(material: Material) -> Self {
        Self { material, fraction: 1.0 }
    }
    /// Dissolved iodine, as in a balloon filled with dilute contrast.
    pub fn iodine_mg_ml(mg_ml: f64) -> Self {
        Self { material: Material::Iodine, fraction: mg_ml * 1e-3 }
    }
}

/// A round rod or tube along a polyline: wire, catheter, strut, marker, balloon.
#[derive(Clone, Debug)]
pub struct Shape {
    /// Its axis, mm; neighbouring points differ.
    pub path: Vec<Vec3>,
    /// Outer radius at each point of the path, mm (the last one repeats when there are fewer).
    pub outer_mm: Vec<f64>,
    /// Radius of the bore, mm; 0 when solid.
    pub bore_mm: f64,
    /// What it is made of.
    pub substance: Substance,
    /// How strongly it follows the heartbeat, 0 (fixed outside) to 1 (in the ascending aorta).
    pub pulse: f64,
}

impl Pool {
    /// A pocket of so much blood beside a wall: it grows from `at` outward along the unit vector `out`, and is about as
    /// long as wide.
    pub fn beside(at: Vec3, out: Vec3, ml: f64) -> Option<Self> {
        // An ellipsoid of length 2.2 R and greatest radius R holds 2/3 pi R^2 2.2 R.
        let r_mm = crate::math::ops::cbrt(ml.max(0.1) * 1000.0 / (1.4667 * std::f64::consts::PI));
        let length_mm = 2.2 * r_mm;
        let curve = Curve::through(&[at, at + out * (0.5 * length_mm), at + out * length_mm])?;
        let lumen = Lumen::sample(length_mm, 2.0, 32, |s, _| {
            let u = 2.0 * s / length_mm - 1.0;
            r_mm * (1.0 - u * u).max(0.02).sqrt()
        });
        Some(Self { curve, lumen })
    }
}

impl Shape {
    /// A solid rod of even radius.
    pub fn rod(path: Vec<Vec3>, radius_mm: f64, substance: Substance) -> Self {
        Self { path, outer_mm: vec![radius_mm], bore_mm: 0.0, substance, pulse: 0.5 }
    }
    /// A tube of even radii.
    pub fn tube(path: Vec<Vec3>, outer_mm: f64, bore_mm: f64, substance: Substance) -> Self {
        Self { bore_mm, ..Self::rod(path, outer_mm, substance) }
    }
    /// Outer radius at point `i` of the path.
    pub fn radius_mm(&self, i: usize) -> f64 {
        self.outer_mm.get(i).or(self.outer_mm.last()).copied().unwrap_or(0.0)
    }
}

/// Why a picture could not be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ImagingError {
    /// A setting out of its range.
    #[error("{what} is {value}, which is outside {low} to {high}: choose a value inside")]
    OutOfRange {
        /// The setting.
        what: &'static str,
        /// Its value.
        value: f64,
        /// Least allowed.
        low: f64,
        /// Most allowed.
        high: f64,
    },
    /// An index that names no vessel.
    #[error("{what} names vessel {index}, but the tree has {count}: name one of them")]
    NoSuchVessel {
        /// Who names it.
        what: &'static str,
        /// The index.
        index: usize,
        /// How many there are.
        count: usize,
    },
    /// Too many cells for the picture's index.
    #[error("the vessels need {0} cells and 65535 is the most: use fewer or shorter vessels")]
    TooManyCells(usize),
    /// An image file could not be encoded.
    #[error("the image could not be encoded: {0}")]
    Encoding(String),
}

/// `value` when it lies in the range, an error that names it when not.
pub(crate) fn in_range(what: &'static str, value: f64, low: f64, high: f64) -> Result<f64, ImagingError> {
    if value >= low && value <= high {
        Ok(value)
    } else {
        Err(ImagingError::OutOfRange { what, value, low, high })
    }
}
