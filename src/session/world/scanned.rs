//! What a CT shows: the vessels and what lay in them when it was taken, and the trunk around them.

use super::World;
use super::trunk::planned_body;
use crate::anatomy::Tree;
use crate::imaging::{Body, LeakFlow, Lining, Scan, Scene, Shape};
use crate::scenario::Loaded;
use crate::session::dice::Dice;
use std::sync::Arc;

/// One CT.
pub struct Scanned {
    tree: Tree,
    linings: Vec<Lining>,
    devices: Vec<Shape>,
    leaks: Vec<LeakFlow>,
    body: Body,
}

/// The CT that the case was planned on: the vessels as the case draws them, the blood that was lost before the call, and
/// the grafts of an earlier year as they lie and leak.
pub fn planned(case: &Arc<Loaded>) -> Scanned {
    let mut scanned = Scanned {
        tree: case.tree.clone(),
        linings: Vec::new(),
        devices: Vec::new(),
        leaks: Vec::new(),
        body: planned_body(case),
    };
    let earlier = &case.case.in_place.grafts;
    if earlier.iter().any(|g| g.on_ct) {
        // The wall's unevenness is thrown; it is finer than a scan shows, so any seed will do.
        let mut world = World::new(case, Dice::new(0));
        let on_ct = |device: &str| earlier.iter().any(|g| g.on_ct && g.device == device);
        world.seal.pieces.retain(|p| on_ct(&p.device));
        let tree = &case.tree;
        scanned.linings = world.linings(tree);
        scanned.devices = world.struts(tree);
        scanned.leaks = world.leak_flows();
    }
    scanned
}

impl Scanned {
    /// To cut sections from.
    pub fn scan(&self) -> Scan<'_> {
        let Self { tree, linings, devices, leaks, body } = self;
        Scan::new(&Scene { linings, devices, ..Scene::bare(tree, Some(body)) }).leaking(leaks)
    }
}
