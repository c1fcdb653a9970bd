//! A landing zone in plain geometry: a neck, straight or bent, a sac, and a distal neck.

use overwire::anatomy::{Lumen, Tree, Vessel, VesselName, Wall};
use overwire::kit::{Graft, GraftKind};
use overwire::math::{Curve, Vec3, ops};
use overwire::mechanics::{Case, PlaceAt, SacPatch};

/// The phantom's measures, mm.
#[derive(Clone, Copy, Debug)]
pub struct Neck {
    pub radius_of_bend: Option<f64>,
    pub diameter: f64,
    pub landing: f64,
    pub sac: f64,
    pub distal: f64,
    pub uneven: f64,
    pub seed: u64,
}

impl Default for Neck {
    fn default() -> Self {
        Self {
            radius_of_bend: None,
            diameter: 30.0,
            landing: 20.0,
            sac: 60.0,
            distal: 30.0,
            uneven: 0.3,
            seed: 1,
        }
    }
}

/// Ruler position of the graft's proximal edge.
pub const EDGE: f64 = 80.0;

impl Neck {
    pub fn length(&self) -> f64 {
        EDGE + self.landing + self.sac + self.distal + 90.0
    }
    pub fn tree(&self) -> Tree {
        let (s0, s1) = (EDGE + self.landing, EDGE + self.landing + self.sac);
        let bend = |s: f64| match self.radius_of_bend {
            Some(r) => 0.5 * (ops::tanh((s - 12.0) / 6.0) - ops::tanh((s - s0 - 25.0) / 6.0)) / r,
            None => 0.0,
        };
        let (mut angle, mut at) = (0.0, Vec3::ZERO);
        let mut points = vec![at];
        let h = 0.25;
        let n = (self.length() / h) as usize;
        for i in 0..n {
            let turn = h * bend((i as f64 + 0.5) * h);
            let (s, c) = ops::sin_cos(angle + 0.5 * turn);
            at += Vec3::new(c * h, -s * h, 0.0);
            angle += turn;
            if (i + 1) % 16 == 0 {
                points.push(at);
            }
        }
        let curve = Curve::through(&points).unwrap();
        let radius = |s: f64, _: f64| {
            let x = ((s - s0) / (s1 - s0)).clamp(0.0, 1.0);
            let bulge = if x > 0.0 && x < 1.0 {
                18.0 * ops::powf(ops::sin(std::f64::consts::PI * x), 0.6)
            } else {
                0.0
            };
            0.5 * self.diameter + bulge
        };
        let lumen = Lumen::sample(curve.length_mm(), 0.5, 48, radius);
        let aorta = Vessel { name: VesselName::Aorta, curve, lumen, wall: Wall::default(), root: None };
        Tree { vessels: vec![aorta], reference_map_mmhg: 90.0 }
    }
    pub fn case(&self) -> Case {
        let s0 = EDGE + self.landing;
        let sac = SacPatch { from_mm: s0, to_mm: s0 + self.sac, facing: None };
        Case { fold_onset: 0.28, wall_seed: self.seed, uneven_mm: self.uneven, row_mm: 1.0, sac: vec![sac] }
    }
    pub fn graft(&self, oversize_percent: f64) -> Graft {
        let d = self.diameter * (1.0 + 0.01 * oversize_percent);
        tube(d, self.landing + self.sac + self.distal)
    }
}

pub fn tube(diameter: f64, length: f64) -> Graft {
    Graft {
        kind: GraftKind::ThoracicTube,
        proximal_mm: diameter,
        distal_mm: diameter,
        length_mm: length,
        bare_proximal_mm: 0.0,
        bare_distal_mm: 0.0,
        tip_capture: false,
        barbs: false,
        delivery_fr: 22.0,
        delivery_ei_n_mm2: 12_000.0,
        pitch_mm: 15.0,
        ring_height_mm: 12.0,
        apices: 8,
        outward_kpa: 3.0,
        ei_n_mm2: 4000.0,
        foreshortening: 0.0,
    }
}

pub fn at(edge: f64) -> PlaceAt {
    PlaceAt { route: vec![VesselName::Aorta], proximal_s_mm: edge, released: Vec::new() }
}

/// An aorta as a walking stick: ascending, an arch of one radius, and a straight run down; mm.
#[derive(Clone, Copy, Debug)]
pub struct Stick {
    pub ascending: f64,
    pub arch_radius: f64,
    pub descending: f64,
    pub diameter: f64,
}

impl Default for Stick {
    fn default() -> Self {
        Self { ascending: 70.0, arch_radius: 35.0, descending: 420.0, diameter: 28.0 }
    }
}

impl Stick {
    /// Ruler positions where the arch begins and ends.
    pub fn arch(&self) -> (f64, f64) {
        (self.ascending, self.ascending + std::f64::consts::PI * self.arch_radius)
    }
    pub fn tree(&self) -> Tree {
        let (a, b) = self.arch();
        let r = self.arch_radius;
        let point = |s: f64| {
            if s < a {
                Vec3::new(0.0, 0.0, s)
            } else if s < b {
                let (sin, cos) = ops::sin_cos((s - a) / r);
                Vec3::new(0.0, r * (1.0 - cos), a + r * sin)
            } else {
                Vec3::new(0.0, 2.0 * r, a - (s - b))
            }
        };
        let length = b + self.descending;
        let n = (length / 5.0).ceil() as usize;
        let points: Vec<Vec3> = (0..=n).map(|i| point(length * i as f64 / n as f64)).collect();
        let curve = Curve::through(&points).unwrap();
        let lumen = Lumen::sample(curve.length_mm(), 2.0, 48, |_, _| 0.5 * self.diameter);
        let aorta = Vessel { name: VesselName::Aorta, curve, lumen, wall: Wall::default(), root: None };
        Tree { vessels: vec![aorta], reference_map_mmhg: 90.0 }
    }
}
