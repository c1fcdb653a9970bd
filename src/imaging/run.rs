//! A subtracted run and a frame of fluoroscopy: the patient's flows, a pose and an injection in, readings out.

use super::Beam;
use super::cells::{Cells, Ends};
use super::detector::{Detector, Panel, Reading};
use super::dose::{self, Exposure};
use super::flows::{Flows, Injection};
use super::grey::{Grey, NativeDisplay, SubtractionDisplay};
use super::matrix::PathMatrix;
use super::motion::{Motion, MovingLayer};
use super::picture::shifted;
use super::pose::{Pose, View};
use super::scene::{ImagingError, Scene, in_range};
use super::sign::{Findings, Watch};
use super::solid::{Solid, paint};
use super::transport::{Mixing, Stride, Transport};
use crate::math::{Streams, Vec3};

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct RunSpec {
    /// Where the arm stands.
    pub pose: Pose,
    /// Pixels on each edge, 64 to 1024.
    pub pixels: usize,
    /// Frames per second, 0.5 to 30.
    pub fps: f64,
    /// Length, s, counted from the mask.
    pub duration_s: f64,
    /// The injection, if any; its start counts from the mask.
    pub injection: Option<Injection>,
    /// Whether the patient holds the breath.
    pub breath_held: bool,
    /// How fast the table drifts (a hand upon it), mm/s.
    pub table_mm_s: Vec3,
    /// The beam.
    pub beam: Beam,
    /// The detector's mode.
    pub detector: Detector,
    /// How finely the contrast's time is cut.
    pub stride: Stride,
    /// How vessels end.
    pub ends: Ends,
    /// Name of the noise stream; another name, another noise.
    pub name: String,
}

impl RunSpec {
    /// A held-breath run of usual settings.
    pub fn new(pose: Pose, injection: Injection, name: &str) -> Self {
        Self {
            pose,
            pixels: 512,
            fps: 3.0,
            duration_s: 8.0,
            injection: Some(injection),
            breath_held: true,
            table_mm_s: Vec3::ZERO,
            beam: Beam::default(),
            detector: Detector::RUN,
            stride: Stride::FINE,
            ends: Ends::Drawn,
            name: name.to_owned(),
        }
    }
    /// Noise of a subtracted pixel, nats.
    fn noise_nats(&self) -> f64 {
        self.detector.quanta.map_or(0.0, |q| (2.0 / f64::from(q)).sqrt())
    }
    /// Time of a frame, the first being 1, s.
    fn frame_s(&self, number: usize) -> f64 {
        number as f64 / self.fps
    }
    /// Whether a time lies beyond the end.
    fn is_over(&self, t_s: f64) -> bool {
        t_s > self.duration_s + 1e-9
    }
    fn check(&self) -> Result<(), ImagingError> {
        in_range("pixels", self.pixels as f64, 64.0, 1024.0)?;
        in_range("frames per second", self.fps, 0.5, 30.0)?;
        in_range("duration (s)", self.duration_s, 0.1, 60.0)?;
        check_pose(&self.pose)?;
        self.injection.as_ref().map_or(Ok(()), Injection::check)
    }
}

fn check_pose(p: &Pose) -> Result<(), ImagingError> {
    in_range("primary angle (degrees)", p.primary_deg, -180.0, 180.0)?;
    in_range("secondary angle (degrees)", p.secondary_deg, -90.0, 90.0)?;
    in_range("source to isocentre (mm)", p.sod_mm, 400.0, 900.0)?;
    in_range("source to detector (mm)", p.sid_mm, p.sod_mm + 50.0, 1400.0)?;
    in_range("field (mm)", p.field_mm, 100.0, 500.0)?;
    Ok(())
}

/// Everything about one pose that does not change from frame to frame.
struct Stage {
    view: View,
    still: Vec<f32>,
    moving: Option<MovingLayer>,
    devices: Vec<(Solid, f64)>,
}

impl Stage {
    fn new(scene: &Scene, pose: &Pose, pixels: usize, beam: &Beam) -> Self {
        let view = pose.view(pixels);
        let (still, moving) = match scene.body {
            Some(body) => {
                let b = body.background(&view);
                (b.still, Some(b.moving))
            }
            None => (vec![0.0; pixels * pixels], None),
        };
        let devices = scene
            .devices
            .iter()
            .flat_map(|d| Solid::of_device(d, beam).into_iter().map(|s| (s, d.pulse)))
            .collect();
        Self { view, still, moving, devices }
    }

    /// Line integrals without contrast, nats.
    fn line(&self, motion: &Motion) -> Vec<f32> {
        let (dx, dy) = self.view.shift_px(motion.table_mm);
        let mut line = shifted(&self.still, self.view.pixels, dx as f32, dy as f32);
        if let Some(m) = &self.moving {
            m.add_to(&mut line, motion);
        }
        for (solid, pulse) in &self.devices {
            let by = motion.of_vessels(*pulse);
            if by == Vec3::ZERO {
                solid.paint(&self.view, &mut line);
            } else {
                solid.moved(by).paint(&self.view, &mut line);
            }
        }
        line
    }
}

/// The contrast of a run on its way, and what was seen of it so far.
struct Flood {
    matrix: PathMatrix,
    transport: Transport,
    watch: Watch,
    mu_iodine: f32,
}

impl Flood {
    fn new(scene: &Scene, flows: &Flows, spec: &RunSpec, view: &View) -> Result<Self, ImagingError> {
        let cells = Cells::cut(scene, spec.ends, spec.stride.stations)?;
        Ok(Self {
            matrix: PathMatrix::new(view, &cells),
            watch: Watch::new(scene, &cells),
            transport: Transport::new(scene, cells, flows, spec.injection, Mixing::default(), spec.stride)?,
            mu_iodine: spec.beam.mu_iodine() as f32,
        })
    }

    /// Carries it on to the next frame.
    fn run_to(&mut self, t_s: f64) {
        self.transport.advance_to(t_s);
        self.watch.note(t_s, &self.transport, &self.matrix, self.mu_iodine);
    }
}

/// One frame.
#[derive(Clone, Debug)]
pub struct Frame {
    /// Time since the mask, s.
    pub t_s: f64,
    /// The detector's reading, nats.
    pub reading: Reading,
}

/// A run under way.
pub struct Acquisition {
    spec: RunSpec,
    streams: Streams,
    stage: Stage,
    flood: Flood,
    panel: Panel,
    mask: Frame,
    at_mask: Motion,
    frames: Vec<Frame>,
    exposure: Exposure,
    beat_s: f64,
}

impl Acquisition {
    /// Steps on the pedal: builds the pose's picture and takes the mask.
    pub fn begin(
        scene: &Scene,
        flows: &Flows,
        spec: &RunSpec,
        streams: Streams,
    ) -> Result<Self, ImagingError> {
        spec.check()?;
        let stage = Stage::new(scene, &spec.pose, spec.pixels, &spec.beam);
        let flood = Flood::new(scene, flows, spec, &stage.view)?;
        // The heart is wherever it is when the pedal goes down.
        let beat_s = flows.beat.period_s;
        let at_mask = Motion::at(0.0, 0.13, spec.breath_held, Vec3::ZERO);
        let line = stage.line(&at_mask);
        let panel = Panel::new(spec.pixels, spec.detector, spec.pose.shutter, &line);
        let reading = panel.expose(&line, &mut streams.named(&format!("imaging/{}/mask", spec.name)));
        let exposure = dose::frame(&spec.pose, dose::RUN_UGY, f64::from(panel.transmission()));
        Ok(Self {
            spec: spec.clone(),
            streams,
            stage,
            flood,
            panel,
            mask: Frame { t_s: 0.0, reading },
            at_mask,
            frames: Vec::new(),
            exposure,
            beat_s,
        })
    }

    /// Takes the patient's flows as they are now (while the patient's own clock runs on).
    pub fn set_flows(&mut self, scene: &Scene, flows: &Flows) -> Result<(), ImagingError> {
        self.beat_s = flows.beat.period_s;
        self.flood.transport.set_flows(scene, flows)
    }

    /// Whether another frame is due.
    pub fn is_over(&self) -> bool {
        self.spec.is_over(self.next_time_s())
    }
    fn next_time_s(&self) -> f64 {
        self.spec.frame_s(self.frames.len() + 1)
    }

    /// Takes the next frame; `None` when the run is over.
    pub fn next_frame(&mut self) -> Option<&Frame> {
        if self.is_over() {
            return None;
        }
        let t_s = self.next_time_s();
        self.flood.run_to(t_s);
        let concentration = self.flood.transport.concentration();
        let table = self.spec.table_mm_s * t_s;
        let motion = Motion::at(t_s, 0.13 + t_s / self.beat_s, self.spec.breath_held, table);
        let n = self.spec.pixels;
        let mut contrast = vec![0.0f32; n * n];
        self.flood.matrix.project(&concentration, &mut contrast);
        let (dx, dy) = self.stage.view.shift_px(motion.since(&self.at_mask).of_vessels(0.0));
        if dx.abs() + dy.abs() > 0.05 {
            contrast = shifted(&contrast, n, dx as f32, dy as f32);
        }
        let mut line = self.stage.line(&motion);
        line.iter_mut().zip(&contrast).for_each(|(l, c)| *l += self.flood.mu_iodine * c);
        let mut stream = self.streams.named(&format!("imaging/{}/{}", self.spec.name, self.frames.len()));
        let reading = self.panel.expose(&line, &mut stream);
        self.frames.push(Frame { t_s, reading });
        self.frames.last()
    }

    /// The next frame as the room sees it while the run goes on: less the mask, and shown.
    pub fn next_shown(&mut self, display: &SubtractionDisplay) -> Option<Grey> {
        self.next_frame()?;
        let nats = self.frames.last().map(|f| less(&f.reading, &self.mask.reading))?;
        Some(display.show(&nats, self.spec.pixels, self.panel.shutter()))
    }

    /// Foot off the pedal.
    pub fn finish(self) -> Run {
        let frames = self.frames.len() as f64 + 1.0;
        Run {
            findings: self.flood.watch.findings(self.spec.noise_nats()),
            given_mg: self.flood.transport.given_mg(),
            total_mg: self.flood.transport.total_mg(),
            shutter: self.panel.shutter().to_vec(),
            mask: self.mask,
            frames: self.frames,
            exposure: self.exposure,
            exposures: frames,
            spec: self.spec,
        }
    }
}

fn less(reading: &[f32], mask: &[f32]) -> Reading {
    reading.iter().zip(mask).map(|(f, m)| f - m).collect()
}

/// A finished run.
#[derive(Clone, Debug)]
pub struct Run {
    /// What was asked for.
    pub spec: RunSpec,
    /// The frame before contrast.
    pub mask: Frame,
    /// The frames in order.
    pub frames: Vec<Frame>,
    /// Where and when contrast was, read from the transported iodine.
    pub findings: Findings,
    /// Radiation of one frame, and how many there were, the mask included.
    pub exposure: Exposure,
    /// See [`Self::exposure`].
    pub exposures: f64,
    /// Iodine injected, mg.
    pub given_mg: f64,
    /// Iodine found again anywhere, mg: the same to rounding.
    pub total_mg: f64,
    shutter: Vec<f32>,
}

impl Run {
    /// Contrast of a frame over the mask, nats; the mask is first moved by `shift` pixels (right, down).
    pub fn subtraction(&self, frame: usize, shift: (f32, f32)) -> Vec<f32> {
        let Some(frame) = self.frames.get(frame) else { return vec![0.0; self.mask.reading.len()] };
        if shift == (0.0, 0.0) {
            return less(&frame.reading, &self.mask.reading);
        }
        less(&frame.reading, &shifted(&self.mask.reading, self.spec.pixels, shift.0, shift.1))
    }
    /// A subtracted frame as shown.
    pub fn subtracted(&self, frame: usize, shift: (f32, f32), display: &SubtractionDisplay) -> Grey {
        display.show(&self.subtraction(frame, shift), self.spec.pixels, &self.shutter)
    }
    /// An unsubtracted frame as shown.
    pub fn native(&self, frame: usize, display: &NativeDisplay) -> Grey {
        let reading = self.frames.get(frame).map_or(&self.mask.reading, |f| &f.reading);
        display.show(reading, self.spec.pixels, &self.shutter)
    }
    /// The most contrast that each pixel ever held, nats: the picture from which a reference is marked.
    pub fn peak_opacity(&self, shift: (f32, f32)) -> Vec<f32> {
        let mut out = vec![f32::NEG_INFINITY; self.mask.reading.len()];
        for k in 0..self.frames.len() {
            for (o, v) in out.iter_mut().zip(self.subtraction(k, shift)) {
                *o = o.max(v);
            }
        }
        if self.frames.is_empty() { vec![0.0; out.len()] } else { out }
    }
    /// [`Self::peak_opacity`] as shown.
    pub fn peak_image(&self, shift: (f32, f32), display: &SubtractionDisplay) -> Grey {
        display.show(&self.peak_opacity(shift), self.spec.pixels, &self.shutter)
    }
    /// The frame nearest to a time.
    pub fn frame_at(&self, t_s: f64) -> usize {
        let d = |k: usize| (self.frames[k].t_s - t_s).abs();
        (0..self.frames.len()).min_by(|&a, &b| d(a).total_cmp(&d(b))).unwrap_or(0)
    }
    /// Open part of the field by pixel.
    pub fn shutter(&self) -> &[f32] {
        &self.shutter
    }
}

/// What a whole run at unchanging flows would show, without its pictures: as [`acquire`] finds it.
pub fn trace(scene: &Scene, flows: &Flows, spec: &RunSpec) -> Result<Findings, ImagingError> {
    spec.check()?;
    let mut flood = Flood::new(scene, flows, spec, &spec.pose.view(spec.pixels))?;
    let times = (1..).map(|k| spec.frame_s(k)).take_while(|t_s| !spec.is_over(*t_s));
    times.for_each(|t_s| flood.run_to(t_s));
    Ok(flood.watch.findings(spec.noise_nats()))
}

/// A whole run at unchanging flows.
pub fn acquire(scene: &Scene, flows: &Flows, spec: &RunSpec, streams: Streams) -> Result<Run, ImagingError> {
    let mut run = Acquisition::begin(scene, flows, spec, streams)?;
    while run.next_frame().is_some() {}
    Ok(run.finish())
}

/// One frame of fluoroscopy with its radiation.
pub struct Screening {
    /// The reading, nats.
    pub reading: Reading,
    /// The picture.
    pub image: Grey,
    /// Radiation of the frame.
    pub exposure: Exposure,
    shutter: Vec<f32>,
    pixels: usize,
}

impl Screening {
    /// The picture with a reference laid over it: contrast of an earlier run (nats), darkening by `fade` (0 to 1).
    pub fn over(&self, reference_nats: &[f32], fade: f32, display: &NativeDisplay) -> Grey {
        let mixed: Vec<f32> =
            self.reading.iter().zip(reference_nats).map(|(r, v)| r + fade * v.max(0.0)).collect();
        display.show(&mixed, self.pixels, &self.shutter)
    }
    /// Roadmap: vessels of an earlier run bright, devices dark, bones gone (`mask` is a screening without devices or
    /// contrast at the same pose).
    pub fn roadmap(&self, mask: &Self, reference_nats: &[f32]) -> Grey {
        let live: Vec<f32> = self
            .reading
            .iter()
            .zip(&mask.reading)
            .zip(reference_nats)
            .map(|((r, m), v)| (r - m) - 0.8 * v.clamp(0.0, 1.0))
            .collect();
        let display = SubtractionDisplay { window_nats: 1.6, background: 0.45, edge: 0.4 };
        display.show(&live, self.pixels, &self.shutter)
    }
}

/// Screens for one frame at a time `t_s` of the patient's clock.
#[expect(clippy::too_many_arguments, reason = "each is one independent setting of the room")]
pub fn screen(
    scene: &Scene,
    pose: &Pose,
    pixels: usize,
    beam: &Beam,
    t_s: f64,
    rate_per_min: f64,
    breath_held: bool,
    streams: Streams,
) -> Result<Screening, ImagingError> {
    check_pose(pose)?;
    in_range("pixels", pixels as f64, 64.0, 1024.0)?;
    let stage = Stage::new(scene, pose, pixels, beam);
    let line = stage.line(&Motion::at(t_s, t_s * rate_per_min / 60.0, breath_held, Vec3::ZERO));
    let panel = Panel::new(pixels, Detector::FLUORO, pose.shutter, &line);
    let reading = panel.expose(&line, &mut streams.named(&format!("imaging/screen/{:.3}", t_s)));
    let image = NativeDisplay::default().show(&reading, pixels, panel.shutter());
    let exposure = dose::frame(pose, dose::FLUORO_UGY, f64::from(panel.transmission()));
    Ok(Screening { reading, image, exposure, shutter: panel.shutter().to_vec(), pixels })
}

/// Line integrals of the devices alone, nats.
pub fn device_layer(scene: &Scene, view: &View, beam: &Beam) -> Vec<f32> {
    let mut out = vec![0.0; view.pixels * view.pixels];
    for d in scene.devices {
        paint(&Solid::of_device(d, beam), view, &mut out);
    }
    out
}
