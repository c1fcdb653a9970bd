//! Iodine carried by the blood: finite volumes that conserve it to rounding.
//!
//! Every cell holds a mass of iodine and a volume of blood; every flow moves both from one cell to another, taking the
//! concentration from where it comes (second order along the stream: van Leer, J. Comput. Phys. 14:361, 1974). Flows are built so that they
//! close in every cell: means from the ends upward, the pulse damped along the way by the wall's storage, the injected
//! volume shared among the outlets. What leaves the tree goes through beds, veins and lungs back to the heart, so the sum
//! is at all times what was injected.

mod behind;
mod route;

use super::cells::Cells;
use super::flows::{Flows, Injection};
use super::scene::{ImagingError, Scene};
use behind::Behind;
use route::Route;

/// How contrast mixes across the stream.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mixing {
    /// Part of the flow that the core (half the section) carries: above a half the front becomes a bullet.
    pub core_share: f64,
    /// Exchange between core and sectors, 1/s.
    pub lane_per_s: f64,
    /// Dispersion along the stream, mm²/s.
    pub dispersion_mm2_s: f64,
    /// Speed of exchange between a free stream and the pocket beside it, as a fraction of the stream's speed.
    pub entrainment: f64,
    /// Speed of stirring between neighbouring cells behind fabric, mm/s.
    pub stir_mm_s: f64,
}

impl Default for Mixing {
    /// Assumed, by the look of angiograms in the teaching literature; no measurement fixes them.
    fn default() -> Self {
        Self { core_share: 0.62, lane_per_s: 0.9, dispersion_mm2_s: 150.0, entrainment: 0.10, stir_mm_s: 4.0 }
    }
}

/// How finely time is cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stride {
    /// Part of a cell's blood that may leave it in one step; the scheme holds up to 1.
    pub courant: f64,
    /// No cell is so small that its flow turns it over in less, s (a stenosis, a thin film): that would cost steps without end for
    /// a delay that no frame shows.
    pub turnover_s: f64,
    /// Stations of so many times their usual length.
    pub stations: f64,
    /// Longest step, s.
    pub longest_s: f64,
}

impl Stride {
    /// For pictures.
    pub const FINE: Self = Self { courant: 0.45, turnover_s: 0.004, stations: 1.0, longest_s: 0.01 };
    /// For what arrived where and when, some hundredths of a second coarser (assumed).
    pub const COARSE: Self = Self { courant: 0.9, turnover_s: 0.015, stations: 2.0, longest_s: 0.02 };
}

/// Beds, veins and lungs: time in a bed, s; blood in the veins and in the lungs, ml (usual textbook volumes).
const BED_S: f64 = 4.0;
const VEINS_ML: f64 = 3000.0;
const LUNG_ML: f64 = 450.0;
const LUNG_STAGES: usize = 4;
/// Stages of a collateral channel.
const CHANNEL_STAGES: usize = 8;

/// The iodine of one run.
#[derive(Clone, Debug)]
pub struct Transport {
    cells: Cells,
    mixing: Mixing,
    stride: Stride,
    injection: Option<Injection>,
    route: Route,
    behind: Vec<Behind>,
    mass_mg: Vec<f64>,
    volume_ml: Vec<f64>,
    rest_ml: Vec<f64>,
    beds_mg: Vec<f64>,
    channels_mg: Vec<[f64; CHANNEL_STAGES]>,
    veins_mg: f64,
    lungs_mg: [f64; LUNG_STAGES],
    outside_mg: f64,
    given_mg: f64,
    inflow_mg_ml: f64,
    t_s: f64,
    flux: Vec<f64>,
    swell: Vec<f64>,
    conc: Vec<f64>,
}

impl Transport {
    /// Clean blood in the scene's cells.
    pub fn new(
        scene: &Scene,
        cells: Cells,
        flows: &Flows,
        injection: Option<Injection>,
        mixing: Mixing,
        stride: Stride,
    ) -> Result<Self, ImagingError> {
        let route = Route::new(scene, &cells, flows, injection.as_ref(), &mixing)?;
        let behind = Behind::all(&cells, &route, &mixing);
        let n = cells.len();
        let rest_ml = resting_volumes(&cells, &route, &behind, injection.as_ref(), &mixing, stride);
        Ok(Self {
            mass_mg: vec![0.0; n],
            volume_ml: rest_ml.clone(),
            rest_ml,
            beds_mg: vec![0.0; cells.tubes.len()],
            channels_mg: vec![[0.0; CHANNEL_STAGES]; flows.collaterals.len()],
            veins_mg: 0.0,
            lungs_mg: [0.0; LUNG_STAGES],
            outside_mg: 0.0,
            given_mg: 0.0,
            inflow_mg_ml: 0.0,
            t_s: 0.0,
            flux: vec![0.0; n],
            swell: vec![0.0; n],
            conc: vec![0.0; n],
            cells,
            mixing,
            stride,
            injection,
            route,
            behind,
        })
    }

    /// Holds the blood that enters from the heart at a concentration, mg/ml, instead of what the lungs return.
    pub fn feed(&mut self, mg_ml: f64) {
        self.inflow_mg_ml = mg_ml;
    }

    /// Takes the patient's flows as they are now.
    pub fn set_flows(&mut self, scene: &Scene, flows: &Flows) -> Result<(), ImagingError> {
        self.route = Route::new(scene, &self.cells, flows, self.injection.as_ref(), &self.mixing)?;
        self.behind = Behind::all(&self.cells, &self.route, &self.mixing);
        let injection = self.injection.as_ref();
        self.rest_ml =
            resting_volumes(&self.cells, &self.route, &self.behind, injection, &self.mixing, self.stride);
        // A channel that is no more takes its iodine to the veins.
        for gone in self.channels_mg.drain(flows.collaterals.len().min(self.channels_mg.len())..) {
            self.veins_mg += gone.iter().sum::<f64>();
        }
        self.channels_mg.resize(flows.collaterals.len(), [0.0; CHANNEL_STAGES]);
        Ok(())
    }

    /// Carries the iodine on to time `t_s`.
    pub fn advance_to(&mut self, t_s: f64) {
        while self.t_s < t_s - 1e-9 {
            let step = self.longest_step().min(t_s - self.t_s);
            self.step(step);
        }
    }

    /// Time, s since the start.
    pub fn time_s(&self) -> f64 {
        self.t_s
    }
    /// The cells.
    pub fn cells(&self) -> &Cells {
        &self.cells
    }
    /// Concentration in each cell, mg/ml.
    pub fn concentration(&self) -> Vec<f32> {
        self.mass_mg.iter().zip(&self.volume_ml).map(|(m, v)| (m / v) as f32).collect()
    }
    /// Iodine in a cell, mg.
    pub fn mass_mg(&self, cell: usize) -> f64 {
        self.mass_mg[cell]
    }
    /// All iodine wherever it is, mg.
    pub fn total_mg(&self) -> f64 {
        self.mass_mg.iter().sum::<f64>()
            + self.beds_mg.iter().sum::<f64>()
            + self.channels_mg.iter().flatten().sum::<f64>()
            + self.veins_mg
            + self.lungs_mg.iter().sum::<f64>()
            + self.outside_mg
    }
    /// Iodine that came from the catheter, and from [`Self::feed`], so far, mg.
    pub fn given_mg(&self) -> f64 {
        self.given_mg
    }
    /// Iodine lost through the wall, mg.
    pub fn outside_mg(&self) -> f64 {
        self.outside_mg
    }
    /// Volume of a cell now, ml.
    pub fn cell_volume_ml(&self, cell: usize) -> f64 {
        self.volume_ml[cell]
    }

    fn longest_step(&self) -> f64 {
        let longest_s = self.stride.longest_s;
        let beat = self.route.beat.at(self.t_s).max(self.route.beat.at(self.t_s + longest_s)).max(1.0);
        let rate = self.injection.map_or(0.0, |i| i.rate_ml_s);
        let mut step = longest_s;
        for (tube, way) in self.cells.tubes.iter().zip(&self.route.tubes) {
            let diffusive = tube.step_mm * tube.step_mm / (self.mixing.dispersion_mm2_s + 1e-9);
            step = step.min(0.2 * diffusive);
            for i in 0..tube.stations {
                let q = way.peak(i, beat, rate).max(way.peak(i + 1, beat, rate));
                let core = self.volume_ml[tube.lane(i, 0)];
                step = step.min(self.stride.courant * core / (q * self.mixing.core_share.max(0.5) + 1e-9));
            }
        }
        for b in &self.behind {
            step = step.min(b.longest_step_s(&self.volume_ml, beat));
        }
        step.max(1e-5)
    }

    fn step(&mut self, dt: f64) {
        let beat = self.route.beat.at(self.t_s + 0.5 * dt);
        let injected_ml = self.injection.map_or(0.0, |i| i.given_ml(self.t_s + dt) - i.given_ml(self.t_s));
        let injected = injected_ml / dt;
        for (c, (m, v)) in self.conc.iter_mut().zip(self.mass_mg.iter().zip(&self.volume_ml)) {
            *c = m / v;
        }
        self.flux.fill(0.0);
        self.swell.fill(0.0);
        for k in 0..self.cells.tubes.len() {
            self.stream(k, beat, injected, dt);
        }
        let mut book = Book { conc: &self.conc, flux: &mut self.flux, swell: &mut self.swell };
        for b in &self.behind {
            let lost = b.flow(&mut book, beat);
            self.outside_mg += lost * dt;
        }
        if let Some(i) = self.injection {
            let mg_s = injected * i.iodine_mg_ml;
            for &(cell, share) in &self.route.holes {
                self.flux[cell] += mg_s * share;
                self.swell[cell] += injected * share;
            }
            self.given_mg += mg_s * dt;
        }
        self.settle_lanes();
        for c in 0..self.mass_mg.len() {
            self.mass_mg[c] += self.flux[c] * dt;
            // The wall gives way only so far, whatever flows it is told.
            self.volume_ml[c] = (self.volume_ml[c] + self.swell[c] * dt).max(0.3 * self.rest_ml[c]);
        }
        self.t_s += dt;
    }

    /// Flow along one vessel, through its root and its end.
    fn stream(&mut self, k: usize, beat: f64, injected: f64, dt: f64) {
        let n = self.cells.tubes[k].stations;
        let share = self.route.tubes[k].shares(self.mixing.core_share);
        let (first, last) =
            (self.route.tubes[k].flow(0, beat, injected), self.route.tubes[k].flow(n, beat, injected));
        self.enter(k, first, &share, dt);
        self.leave(k, last, &share, dt);
        let (tube, way) = (&self.cells.tubes[k], &self.route.tubes[k]);
        let mut book = Book { conc: &self.conc, flux: &mut self.flux, swell: &mut self.swell };
        for face in 1..n {
            let q = way.flow(face, beat, injected);
            for (lane, s) in share.iter().enumerate() {
                let (a, b) = (tube.lane(face - 1, lane), tube.lane(face, lane));
                let f = q * s;
                let (from, to) = if f >= 0.0 { (a, b) } else { (b, a) };
                let before = if f >= 0.0 {
                    (face >= 2).then(|| tube.lane(face - 2, lane))
                } else {
                    (face + 1 < n).then(|| tube.lane(face + 1, lane))
                };
                let c = book.conc;
                let slope = before.map_or(0.0, |u| van_leer(c[from] - c[u], c[to] - c[from]));
                let nu = (f.abs() * dt / self.volume_ml[from]).min(1.0);
                book.carry(a, b, f, c[from] + 0.5 * (1.0 - nu) * slope);
                // Dispersion across the face, with the lane's part of the section.
                let part = if lane == 0 { 0.5 } else { 0.5 / tube.sectors as f64 };
                let d = self.mixing.dispersion_mm2_s * way.area_mm2(face) * part / tube.step_mm * 1e-3;
                book.exchange(a, b, d);
            }
        }
        // Stirring across the stream.
        for i in 0..n {
            for lane in 1..=tube.sectors {
                let wall = tube.lane(i, lane);
                book.exchange(tube.lane(i, 0), wall, self.mixing.lane_per_s * self.volume_ml[wall]);
            }
        }
    }

    /// Through the first face: from the heart, or from the parent, or from the space behind fabric.
    fn enter(&mut self, k: usize, q: f64, share: &[f64], dt: f64) {
        let tube = &self.cells.tubes[k];
        let first: Vec<usize> = (0..tube.lanes()).map(|l| tube.lane(0, l)).collect();
        let own: f64 = first.iter().zip(share).map(|(&c, s)| self.conc[c] * s).sum();
        let mg_s;
        if k == 0 {
            let from_lungs = self.lungs_mg[LUNG_STAGES - 1] / (LUNG_ML / LUNG_STAGES as f64);
            let c = if q >= 0.0 { from_lungs + self.inflow_mg_ml } else { own };
            mg_s = q * c;
            self.given_mg += q.max(0.0) * self.inflow_mg_ml * dt;
            self.lungs_mg[LUNG_STAGES - 1] -= (if q >= 0.0 { q * from_lungs } else { mg_s }) * dt;
        } else {
            let gate = &self.route.tubes[k].gate;
            let theirs: f64 = gate.iter().map(|&(c, s)| self.conc[c] * s).sum();
            mg_s = q * if q >= 0.0 { theirs } else { own };
            // Out of the parent in the mix that flows past the ostium, into it in the same parts.
            for &(c, s) in gate {
                let part = if q >= 0.0 { q * self.conc[c] * s } else { mg_s * s };
                self.flux[c] -= part;
                self.swell[c] -= q * s;
            }
        }
        for (&c, s) in first.iter().zip(share) {
            // Outflow takes each lane's own blood.
            self.flux[c] += if q >= 0.0 { mg_s * s } else { q * s * self.conc[c] };
            self.swell[c] += q * s;
        }
    }

    /// Through the last face: to the bed, or backward from a collateral.
    fn leave(&mut self, k: usize, q: f64, share: &[f64], dt: f64) {
        let tube = &self.cells.tubes[k];
        let last: Vec<usize> = (0..tube.lanes()).map(|l| tube.lane(tube.stations - 1, l)).collect();
        let own: f64 = last.iter().zip(share).map(|(&c, s)| self.conc[c] * s).sum();
        let channel = self.route.tubes[k].channel;
        let mg_s = if q >= 0.0 {
            q * own
        } else {
            channel.map_or(0.0, |(id, volume)| {
                q * self.channels_mg[id][CHANNEL_STAGES - 1] / (volume / CHANNEL_STAGES as f64)
            })
        };
        for (&c, s) in last.iter().zip(share) {
            self.flux[c] -= if q >= 0.0 { q * s * self.conc[c] } else { mg_s * s };
            self.swell[c] -= q * s;
        }
        if q >= 0.0 {
            // What a collateral draws off never reaches this bed.
            let drawn = self.route.tubes[k].drawn.iter().fold(0.0, |sum, &(id, ml_s)| {
                let part = (ml_s / q.max(1e-9)).min(1.0) * mg_s * dt;
                self.channels_mg[id][0] += part;
                sum + part
            });
            if self.route.tubes[k].lost {
                self.outside_mg += mg_s * dt - drawn;
            } else {
                self.beds_mg[k] += mg_s * dt - drawn;
            }
            let out = self.beds_mg[k] * (dt / BED_S);
            self.beds_mg[k] -= out;
            self.veins_mg += out;
        } else if let Some((id, volume)) = channel {
            let stage_ml = volume / CHANNEL_STAGES as f64;
            let m = &mut self.channels_mg[id];
            m[CHANNEL_STAGES - 1] += mg_s * dt;
            for j in (0..CHANNEL_STAGES - 1).rev() {
                let moved = m[j] * (-q * dt / stage_ml).min(1.0);
                m[j] -= moved;
                m[j + 1] += moved;
            }
        }
        if k == 0 {
            self.venous_return(dt);
        }
    }

    fn venous_return(&mut self, dt: f64) {
        let q = self.route.output_ml_s;
        let moved = self.veins_mg * (q * dt / VEINS_ML).min(1.0);
        self.veins_mg -= moved;
        self.lungs_mg[0] += moved;
        let stage_ml = LUNG_ML / LUNG_STAGES as f64;
        for j in (0..LUNG_STAGES - 1).rev() {
            let moved = self.lungs_mg[j] * (q * dt / stage_ml).min(1.0);
            self.lungs_mg[j] -= moved;
            self.lungs_mg[j + 1] += moved;
        }
    }

    /// Lanes keep their parts of a station's volume: what one gained too much flows across to the core, or back.
    fn settle_lanes(&mut self) {
        for tube in &self.cells.tubes {
            for i in 0..tube.stations {
                let cells = tube.lane(i, 0)..tube.lane(i, 0) + tube.lanes();
                let gained: f64 = cells.clone().map(|c| self.swell[c]).sum();
                let volume: f64 = cells.clone().map(|c| self.volume_ml[c]).sum();
                let core = cells.start;
                for c in cells.skip(1) {
                    let across = self.swell[c] - gained * self.volume_ml[c] / volume;
                    let mg_s = across * self.conc[if across >= 0.0 { c } else { core }];
                    self.swell[c] -= across;
                    self.flux[c] -= mg_s;
                    self.swell[core] += across;
                    self.flux[core] += mg_s;
                }
            }
        }
    }
}

/// Volumes at rest: those of the cells, but none so small that it turns over faster than the stride allows.
fn resting_volumes(
    cells: &Cells,
    route: &Route,
    behind: &[Behind],
    injection: Option<&Injection>,
    mixing: &Mixing,
    stride: Stride,
) -> Vec<f64> {
    let mut out: Vec<f64> = cells.volume_ml.iter().map(|v| v.max(1e-4)).collect();
    let beat = route.beat.shape.iter().map(|p| p.1).fold(1.0, f64::max);
    let rate = injection.map_or(0.0, |i| i.rate_ml_s);
    for (tube, way) in cells.tubes.iter().zip(&route.tubes) {
        let share = way.shares(mixing.core_share.max(0.5));
        for i in 0..tube.stations {
            let q = way.peak(i, beat, rate).max(way.peak(i + 1, beat, rate));
            for (lane, s) in share.iter().enumerate() {
                let c = tube.lane(i, lane);
                out[c] = out[c].max(q * s * stride.turnover_s);
            }
        }
    }
    behind.iter().for_each(|b| b.floor(&mut out, beat, stride.turnover_s));
    out
}

/// The limited slope between two neighbouring differences.
fn van_leer(a: f64, b: f64) -> f64 {
    if a * b <= 0.0 { 0.0 } else { 2.0 * a * b / (a + b) }
}

/// Rates of change under way: what a flow does to both its ends.
struct Book<'a> {
    conc: &'a [f64],
    flux: &'a mut [f64],
    swell: &'a mut [f64],
}

impl Book<'_> {
    /// `ml_s` from one cell to another (backward when negative).
    fn flow(&mut self, from: usize, to: usize, ml_s: f64) {
        self.carry(from, to, ml_s, self.conc[if ml_s >= 0.0 { from } else { to }]);
    }
    /// The same at a given concentration.
    fn carry(&mut self, from: usize, to: usize, ml_s: f64, mg_ml: f64) {
        let mg_s = ml_s * mg_ml;
        self.flux[from] -= mg_s;
        self.flux[to] += mg_s;
        self.swell[from] -= ml_s;
        self.swell[to] += ml_s;
    }
    /// Equal volumes both ways.
    fn exchange(&mut self, a: usize, b: usize, ml_s: f64) {
        let mg_s = ml_s * (self.conc[a] - self.conc[b]);
        self.flux[a] -= mg_s;
        self.flux[b] += mg_s;
    }
    /// Out of the tree; returns mg/s that left. Negative flows bring clear blood.
    fn out(&mut self, cell: usize, ml_s: f64) -> f64 {
        let mg_s = ml_s.max(0.0) * self.conc[cell];
        self.flux[cell] -= mg_s;
        self.swell[cell] -= ml_s;
        mg_s
    }
}
