//! Pictures of now: one frame of fluoroscopy, or a run through the vessels, leaks and flows as they stand.

use super::World;
use super::picture::FREE_TABLE_MM;
use crate::imaging::{Beam, Grey, Injection, Pose, Run, RunSpec, Scene, Screening, acquire, screen};
use crate::math::{Streams, Vec3, ops};
use std::f64::consts::TAU;

/// Of a longer run so much is drawn, s.
const LONGEST_S: f64 = 20.0;

impl World {
    /// One frame of fluoroscopy at a pose, with the caption that every exported picture carries.
    ///
    /// # Errors
    /// If the pose or the size is outside what the room can do.
    pub fn fluoroscopy(&self, pose: &Pose, pixels: usize) -> Result<Grey, String> {
        Ok(self.screening(pose, pixels, true)?.image.captioned())
    }

    /// One frame with its reading; without `devices`, what a roadmap takes for its mask.
    ///
    /// # Errors
    /// As for [`World::fluoroscopy`].
    pub fn screening(&self, pose: &Pose, pixels: usize, devices: bool) -> Result<Screening, String> {
        let beam = Beam::default();
        let stage = self.stage();
        let all = stage.scene(Some(self.body()));
        let scene = if devices { all } else { Scene { devices: &[], ..all } };
        let rate = self.patient.vitals().heart_rate_bpm.max(1.0);
        let t_s = self.now.seconds();
        screen(&scene, pose, pixels, &beam, t_s, rate, self.breath_held, Streams::new(self.now.0))
            .map_err(|e| e.to_string())
    }

    /// A whole run at a pose: of the last injection, or of a usual one into the ascending aorta when there was none.
    ///
    /// # Errors
    /// As for [`World::fluoroscopy`].
    pub fn angiogram(&self, pose: &Pose, pixels: usize) -> Result<Run, String> {
        let last = self.picture.runs.last();
        let stage = self.stage();
        let scene = stage.scene(Some(self.body()));
        let usual_spec = RunSpec::new(*pose, last.map_or(Injection::USUAL, |r| r.injection), "look");
        // Towards anywhere, as a hand upon it or a patient who moves takes it.
        let duration_s = last.map_or(usual_spec.duration_s, |r| r.seconds.clamp(1.0, LONGEST_S));
        let drift = last.filter(|r| r.free_table).map_or(Vec3::ZERO, |_| {
            let (sin, cos) = ops::sin_cos(Streams::new(self.now.0).named("look/table").range(0.0, TAU));
            Vec3::new(cos, 0.0, sin) * (FREE_TABLE_MM / duration_s)
        });
        let spec = RunSpec {
            pixels,
            table_mm_s: drift,
            fps: self.picture.dose.rates.runs_per_s,
            duration_s,
            breath_held: last.is_none_or(|r| r.breath_hold),
            ..usual_spec
        };
        acquire(&scene, &stage.flows, &spec, Streams::new(self.now.0)).map_err(|e| e.to_string())
    }
}
