//! What stands in the beam and how blood flows now, as plain data for `imaging`.

use super::World;
use super::lines::ItemState;
use super::seal::SAC;
use crate::anatomy::{Site, Tree, VesselName};
use crate::imaging::{
    Beat, Bleed, Body, Collateral, Entry, Flows, LeakFlow, Lining, Material, Pool, Scene, Shape, Substance,
};
use crate::kit::{Catheter, Device};
use crate::math::Vec3;
use crate::mechanics::{LeakKind, RodShape};

/// Owned parts of a scene.
pub struct Stage {
    /// Vessels at the calibre of now.
    pub tree: Tree,
    /// Fabric in them.
    pub linings: Vec<Lining>,
    /// Liquid blood outside them.
    pub pools: Vec<Pool>,
    /// Devices.
    pub devices: Vec<Shape>,
    /// Blood.
    pub flows: Flows,
}

impl Stage {
    /// As the picture takes it, in this trunk.
    pub fn scene<'a>(&'a self, body: Option<&'a Body>) -> Scene<'a> {
        let Self { tree, linings, pools, devices, .. } = self;
        Scene { tree, linings, pools, body, devices }
    }
}

impl World {
    /// Vessels, fabric, devices and flows of now.
    pub fn stage(&self) -> Stage {
        let tree = self.tree_now();
        let linings = self.linings(&tree);
        let mut devices = self.struts(&tree);
        devices.extend(self.line_shapes(&tree));
        let pools: Vec<Pool> = self.pool().into_iter().collect();
        let flows = self.flows(&tree, !pools.is_empty());
        Stage { tree, linings, pools, devices, flows }
    }

    fn flows(&self, tree: &Tree, pooled: bool) -> Flows {
        let patient = &self.patient;
        // A vessel that stands for a group of its like (the intercostals) carries the group's flow in the circulation and
        // its own in the picture: no artery's mean speed is above this (assumed).
        let root_ml_s = tree
            .vessels
            .iter()
            .map(|v| {
                let own = v.lumen.area_mm2(0.3 * v.curve.length_mm()) * FASTEST_MM_S / 1000.0;
                // The false lumen carries what leaves it.
                let carried: f64 = if v.name == VesselName::FalseLumen {
                    let fed = tree.vessels.iter().filter(|b| self.of_false_lumen(b.name));
                    fed.map(|b| patient.flow_ml_s(b.name)).sum()
                } else {
                    patient.flow_ml_s(v.name)
                };
                carried.clamp(-own, own)
            })
            .collect();
        let beat = self.beat();
        let leaks = self.leak_flows();
        let bleeds = self.bleeds(tree, pooled);
        // Between the two vertebrals runs the basilar; blood on the way assumed.
        let index = |n| tree.index(n);
        let collaterals = match (index(VesselName::LeftVertebral), index(VesselName::RightVertebral)) {
            (Some(left), Some(right)) => vec![
                Collateral { feeds: left, from: right, volume_ml: 6.0 },
                Collateral { feeds: right, from: left, volume_ml: 6.0 },
            ],
            _ => Vec::new(),
        };
        Flows { root_ml_s, beat, leaks, bleeds, collaterals }
    }

    fn beat(&self) -> Beat {
        Beat::at_rate(self.patient.vitals().heart_rate_bpm.clamp(30.0, 200.0))
    }

    /// What flows in and out of the space behind the fabric.
    pub(super) fn leak_flows(&self) -> Vec<LeakFlow> {
        let (patient, beat) = (&self.patient, self.beat());
        let mut leaks = Vec::new();
        if let (Some(report), Some((_, feeds)), true) =
            (&self.seal.report, patient.sac(SAC), self.seal.spanned())
        {
            for (path, q) in report.paths.iter().zip(&feeds) {
                let entry = match path.kind {
                    LeakKind::Ia | LeakKind::Ib => Entry::Edge,
                    LeakKind::III | LeakKind::IV => Entry::Fabric,
                    LeakKind::II(_) => continue,
                };
                leaks.push(LeakFlow {
                    vessel: 0,
                    entry,
                    s_mm: path.from.0,
                    theta_rad: path.from.1,
                    ml_s: q.net_ml_s,
                    swing_ml: (q.in_ml_s - q.net_ml_s.max(0.0)) * beat.period_s,
                });
            }
        }
        leaks
    }

    /// The tear of the lesion, as far as clot leaves it open, into the scene's pool if there is one.
    fn bleeds(&self, tree: &Tree, pooled: bool) -> Vec<Bleed> {
        let Some(lesion) = tree.aorta().wall.lesions.first() else { return Vec::new() };
        let ml_s = self.patient.bleed_ml_s(SAC).map_or(0.0, |(q, _)| q);
        if ml_s <= 0.0 {
            return Vec::new();
        }
        let s_mm = 0.5 * (lesion.from_mm + lesion.to_mm);
        let theta_rad = lesion.theta_rad.unwrap_or(0.0);
        vec![Bleed { vessel: 0, s_mm, theta_rad, ml_s, pool: pooled.then_some(0) }]
    }

    /// The injection that a catheter on a line makes.
    pub(super) fn injection(
        &self,
        site: Site,
        tip_mm: f64,
        rate_ml_s: f64,
        volume_ml: f64,
        catheter: &Catheter,
    ) -> crate::imaging::Injection {
        let in_false = self.in_false_lumen(site).then(|| self.false_place(tip_mm)).flatten();
        let place = || self.rail(site).map_or((0, tip_mm), |r| r.place(tip_mm));
        let (vessel, s_mm) = in_false.unwrap_or_else(place);
        crate::imaging::Injection {
            vessel,
            s_mm,
            start_s: 0.5,
            rate_ml_s,
            volume_ml,
            rise_s: 0.3,
            iodine_mg_ml: 350.0,
            end_hole: catheter.tip == crate::kit::CatheterTip::EndHole,
        }
    }

    /// Wires, catheters and balloons along their rails, as the rods in the vessel lie.
    fn line_shapes(&self, tree: &Tree) -> Vec<Shape> {
        let mut out = Vec::new();
        for (site, line) in &self.lines {
            let Some(rail) = self.rail(*site) else { continue };
            if line.closed {
                continue;
            }
            let lies = self.settle_line(*site);
            for item in line.items() {
                let Some(stocked) = self.case.shelf.get(&item.device) else { continue };
                let path = match &lies {
                    Some(lie) => below(&lie.1, item.tip_mm),
                    None => self.course(tree, &rail, item.tip_mm),
                };
                if path.len() < 2 {
                    continue;
                }
                match &stocked.device {
                    Device::Wire(w) => {
                        out.push(Shape::rod(path, w.diameter_mm / 2.0, Substance::solid(Material::Steel)));
                    }
                    Device::Catheter(c) => {
                        let polymer = Substance::solid(Material::LoadedPolymer);
                        out.extend(bands(&path, c));
                        out.push(Shape::tube(path, c.outer_mm() / 2.0, c.inner_mm / 2.0, polymer));
                    }
                    Device::Sheath(s) => {
                        let polymer = Substance::solid(Material::Polymer);
                        out.push(Shape::tube(path, s.outer_mm() / 2.0, s.inner_mm() / 2.0, polymer));
                    }
                    Device::Graft(g) => {
                        if let ItemState::Graft { spent: false, .. } = item.state {
                            let packed = Substance { material: Material::Nitinol, fraction: 0.25 };
                            let length = (g.length_mm / 2.0) as usize;
                            let head: Vec<Vec3> = path.iter().copied().take(length.max(2)).collect();
                            out.push(Shape::rod(head, g.delivery_mm() / 2.0 * 0.8, packed));
                        }
                    }
                    Device::Balloon(b) => {
                        if let ItemState::Balloon { ml } = item.state
                            && ml > 0.0
                        {
                            let length = (b.length_mm / 2.0) as usize;
                            let head: Vec<Vec3> = path.iter().copied().take(length.max(2)).collect();
                            let r = (ml * 1000.0 / (std::f64::consts::PI * b.length_mm)).sqrt();
                            out.push(Shape::rod(head, r, Substance::iodine_mg_ml(60.0)));
                        }
                    }
                    _ => {}
                }
            }
        }
        out
    }

    /// Points every 2 mm from a tip down to the entry, where no rod lies to be followed.
    fn course(&self, tree: &Tree, rail: &crate::anatomy::Rail, tip_mm: f64) -> Vec<Vec3> {
        let end = rail.length_mm();
        let n = ((end - tip_mm) / 2.0).max(1.0) as usize;
        (0..=n)
            .map(|i| {
                let at = tip_mm + (end - tip_mm) * i as f64 / n as f64;
                let frame = rail.frame(tree, at);
                let (vessel, s) = rail.place(at);
                let bend = tree.vessels[vessel].curve.curvature(s);
                // Against the outer wall where the vessel bends by more than a little (radius under 100 mm).
                let lean = (bend.norm() / 0.01).min(1.0) * 0.7 * 0.5 * rail.diameter_mm(tree, at);
                frame.at - bend.unit() * lean
            })
            .collect()
    }
}

/// The part of a line's common course that reaches from a tip down to the puncture.
fn below(shape: &RodShape, tip_mm: f64) -> Vec<Vec3> {
    shape.nodes.iter().rev().filter(|n| n.s_mm >= tip_mm - 1.0).map(|n| n.at).collect()
}

/// Length of a radio-opaque band, and the thickness of its metal, mm (usual, no source).
const BAND_MM: f64 = 1.5;
const BAND_WALL_MM: f64 = 0.08;

/// The radio-opaque bands of a catheter, the first at its tip.
fn bands(path: &[Vec3], catheter: &Catheter) -> Vec<Shape> {
    let Some(marks) = &catheter.bands else { return Vec::new() };
    let outer_mm = catheter.outer_mm() / 2.0;
    let band = |i: u32| {
        let s = f64::from(i) * marks.spacing_mm;
        let path = vec![along(path, s)?, along(path, s + BAND_MM)?];
        let metal = Substance::solid(Material::Platinum);
        Some(Shape::tube(path, outer_mm + BAND_WALL_MM, outer_mm, metal))
    };
    (0..marks.count).map_while(band).collect()
}

/// The place so far along a line of points; none beyond its end.
fn along(path: &[Vec3], s_mm: f64) -> Option<Vec3> {
    let mut left = s_mm;
    for pair in path.windows(2) {
        let step = pair[0].distance(pair[1]);
        if left <= step && step > 0.0 {
            return Some(pair[0].lerp(pair[1], left / step));
        }
        left -= step;
    }
    None
}

/// See [`World::flows`], mm/s.
const FASTEST_MM_S: f64 = 500.0;
