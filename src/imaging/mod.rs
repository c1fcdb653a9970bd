//! C-arm, X-ray projection, contrast transport, subtraction, dose and CT reading.
//!
//! The picture reads the same vessels, devices and flows as everything else: blood is cut into [`cells`], a pose gives a
//! sparse [`matrix`] of path lengths, [`transport`] carries iodine through the cells, and a frame is their product laid over
//! the [`body`] and the devices, seen by a [`detector`] and shown as [`grey`]. Flows and devices come in as plain data.

pub mod attenuation;
pub mod body;
pub mod cells;
pub mod ct;
pub mod cut;
pub mod detector;
pub mod dicom;
pub mod dose;
pub mod fast;
pub mod flows;
pub mod grey;
pub mod lettering;
pub mod matrix;
pub mod motion;
pub mod noise;
pub mod overlay;
pub mod picture;
pub mod pose;
pub mod run;
pub mod scene;
pub mod sign;
pub mod solid;
pub mod transport;

pub use attenuation::{Beam, Material};
pub use body::{Body, Spill};
pub use cells::{Cells, Ends};
pub use ct::{Plane, Scan, Slice};
pub use cut::Cut;
pub use detector::Detector;
pub use dose::{DoseRecord, Exposure};
pub use flows::{Beat, Bleed, Collateral, Entry, Flows, Injection, LeakFlow};
pub use grey::{Grey, NativeDisplay, SubtractionDisplay};
pub use matrix::PathMatrix;
pub use pose::{Pose, Shutter, View};
pub use run::{Acquisition, Run, RunSpec, Screening, acquire, screen, trace};
pub use scene::{ImagingError, Lining, Pool, Scene, Shape, Substance};
pub use sign::{Findings, OPACIFIED_MG_ML, SpaceSign, VesselSign};
pub use solid::Solid;
pub use transport::{Mixing, Stride, Transport};
