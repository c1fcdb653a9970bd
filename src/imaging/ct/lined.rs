//! A vessel with fabric in it: where enhanced blood is, inside the fabric and, by leaks, behind it.

use crate::anatomy::Lumen;
use crate::imaging::flows::LeakFlow;
use crate::imaging::scene::Scene;
use crate::math::Curve;

/// Stations along a lined vessel, mm, and angles round it, at which the space behind the fabric is measured.
const STATION_MM: f64 = 2.0;
const ROUND: usize = 32;
/// From the arrival of contrast in the aorta to the picture, s: the usual wait of a triggered scan (common practice, no
/// source).
const ARTERIAL_S: f64 = 8.0;
/// Between fabric and a wall that it touches, mm.
const TOUCHES_MM: f64 = 0.2;

/// Fabric in one vessel.
#[derive(Clone, Debug)]
pub(super) struct Lined {
    /// Where each piece begins and ends, mm, and its radii.
    pieces: Vec<(f64, f64, Lumen)>,
    from_mm: f64,
    /// Lumen about the fabric, mm, by station and angle.
    wall_mm: Vec<[f64; ROUND]>,
    /// Whether contrast has come to the space behind the fabric there.
    wet: Vec<[bool; ROUND]>,
}

impl Lined {
    /// What lies in a vessel of the scene, if anything does.
    pub fn new(scene: &Scene, vessel: usize) -> Option<Self> {
        let of_it = scene.linings.iter().filter(|l| l.vessel == vessel);
        let pieces: Vec<_> = of_it.map(|l| (l.from_mm, l.to_mm, l.fabric.clone())).collect();
        let from_mm = pieces.iter().map(|p| p.0).reduce(f64::min)?;
        let to_mm = pieces.iter().map(|p| p.1).fold(from_mm, f64::max);
        let lumen = &scene.tree.vessels.get(vessel)?.lumen;
        let stations = ((to_mm - from_mm) / STATION_MM) as usize + 1;
        let ring = |i: usize| std::array::from_fn(|k| lumen.radius(from_mm + STATION_MM * i as f64, turn(k)));
        Some(Self {
            pieces,
            from_mm,
            wall_mm: (0..stations).map(ring).collect(),
            wet: vec![[false; ROUND]; stations],
        })
    }

    /// Radius within which blood flows, mm: inside the narrowest fabric; none where there is no fabric.
    fn channel_mm(&self, s_mm: f64, theta_rad: f64) -> Option<f64> {
        let there = self.pieces.iter().filter(|p| (p.0..=p.1).contains(&s_mm));
        there.map(|p| p.2.radius(s_mm - p.0, theta_rad)).reduce(f64::min)
    }

    /// Whether enhanced blood is at a place inside the vessel's wall.
    pub fn open(&self, s_mm: f64, theta_rad: f64, r_mm: f64) -> bool {
        let Some(channel_mm) = self.channel_mm(s_mm, theta_rad) else { return true };
        if r_mm < channel_mm {
            return true;
        }
        let i = ((s_mm - self.from_mm) / STATION_MM).round().max(0.0) as usize;
        let turns = theta_rad / std::f64::consts::TAU;
        let k = ((turns - turns.floor()) * ROUND as f64).round() as usize % ROUND;
        self.wet.get(i).is_some_and(|ring| ring[k])
    }

    /// Lets contrast in by leaks: what each brings until the picture lies nearest to where it comes in.
    pub fn fill<'a>(&mut self, curve: &Curve, leaks: impl Iterator<Item = &'a LeakFlow>) {
        for leak in leaks {
            let entry = curve.frame(leak.s_mm);
            let at = entry.at
                + entry.radial(leak.theta_rad) * self.channel_mm(leak.s_mm, leak.theta_rad).unwrap_or(0.0);
            // What a heartbeat swings in and out again is contrast too.
            let mut left_mm3 = 1000.0 * (leak.ml_s.max(0.0) * ARTERIAL_S + leak.swing_ml.max(0.0));
            let mut near: Vec<(f64, usize, usize, f64)> = Vec::new();
            for (i, ring) in self.wall_mm.iter().enumerate() {
                let s_mm = self.from_mm + STATION_MM * i as f64;
                let frame = curve.frame(s_mm);
                for (k, wall_mm) in ring.iter().enumerate() {
                    let Some(channel_mm) =
                        self.channel_mm(s_mm, turn(k)).filter(|c| c + TOUCHES_MM < *wall_mm)
                    else {
                        continue;
                    };
                    let middle = frame.at + frame.radial(turn(k)) * (0.5 * (channel_mm + wall_mm));
                    let area_mm2 = 0.5 * turn(1) * (wall_mm * wall_mm - channel_mm * channel_mm);
                    near.push((middle.distance(at), i, k, area_mm2 * STATION_MM));
                }
            }
            near.sort_by(|a, b| a.0.total_cmp(&b.0));
            for (_, i, k, mm3) in near {
                // A cell that is half filled shows as filled.
                if left_mm3 < 0.5 * mm3 {
                    break;
                }
                if !std::mem::replace(&mut self.wet[i][k], true) {
                    left_mm3 -= mm3;
                }
            }
        }
    }
}

/// Angle of a column of the grid, rad.
fn turn(k: usize) -> f64 {
    std::f64::consts::TAU * k as f64 / ROUND as f64
}
