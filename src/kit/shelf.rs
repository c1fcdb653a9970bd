//! The shelf: what this hospital has tonight.

use super::{Balloon, Catheter, Closure, Coil, Graft, GraftSizes, Particles, Plug, Sheath, Stent, Wire};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Everything at hand, with how many of each.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(from = "ShelfFile")]
pub struct Shelf {
    /// The items; ids differ.
    pub items: Vec<Stocked>,
}

/// One kind of item on the shelf.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stocked {
    /// Short name for orders and files.
    pub id: String,
    /// As said aloud.
    pub label: String,
    /// How many there are; when they are gone, they are gone.
    pub count: u32,
    /// What it is.
    pub device: Device,
}

/// An item, by what it does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is documented at its type")]
pub enum Device {
    Wire(Wire),
    Catheter(Catheter),
    Sheath(Sheath),
    Graft(Graft),
    Balloon(Balloon),
    Stent(Stent),
    Coil(Coil),
    Plug(Plug),
    Particles(Particles),
    Closure(Closure),
}

/// What is written in a file: single items, and grafts in many sizes.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ShelfFile {
    #[serde(default)]
    items: Vec<Stocked>,
    #[serde(default)]
    graft_sizes: Vec<GraftSizes>,
}

impl From<ShelfFile> for Shelf {
    fn from(file: ShelfFile) -> Self {
        let mut items = file.items;
        for sizes in &file.graft_sizes {
            items.extend(sizes.unfold().into_iter().map(|(size, graft)| Stocked {
                id: format!("{}_{size}", sizes.id),
                label: format!("{}, {} mm", sizes.label, size.replace('_', " x ")),
                count: sizes.count,
                device: Device::Graft(graft),
            }));
        }
        Self { items }
    }
}

impl Shelf {
    /// A well stocked generic shelf; the numbers are common practice, and each published one is named where
    /// it is defined.
    pub fn generic() -> Self {
        ron::from_str(include_str!("../../assets/kit/shelf.ron")).expect("a test reads this file")
    }

    /// An item by its id.
    pub fn get(&self, id: &str) -> Option<&Stocked> {
        self.items.iter().find(|s| s.id == id)
    }

    /// The grafts.
    pub fn grafts(&self) -> impl Iterator<Item = (&Stocked, &Graft)> {
        self.items.iter().filter_map(|s| match &s.device {
            Device::Graft(g) => Some((s, g)),
            _ => None,
        })
    }

    /// What is wrong with it, in plain words: ids that occur twice, and dimensions that cannot be.
    pub fn faults(&self) -> Vec<String> {
        let mut seen = BTreeSet::new();
        let mut faults = Vec::new();
        for item in &self.items {
            if !seen.insert(item.id.as_str()) {
                faults.push(format!("shelf: the id \"{}\" occurs twice; give each item its own", item.id));
            }
            for (what, value, lo, hi) in item.device.bounds() {
                if !(lo..=hi).contains(&value) {
                    faults.push(format!(
                        "shelf item \"{}\": {what} is {value}; write a number from {lo} to {hi}",
                        item.id
                    ));
                }
            }
        }
        faults
    }
}

impl Device {
    /// (field, value, least, most) of every dimension that a model divides by or grows with.
    fn bounds(&self) -> Vec<(&'static str, f64, f64, f64)> {
        match self {
            Self::Wire(w) => vec![
                ("diameter_mm", w.diameter_mm, 0.2, 1.3),
                ("length_cm", w.length_cm, 20.0, 600.0),
                ("ei_n_mm2", w.ei_n_mm2, 0.1, 20_000.0),
                ("tip_cm", w.tip_cm, 0.0, w.length_cm),
                ("tip_ei_n_mm2", w.tip_ei_n_mm2, 0.001, w.ei_n_mm2),
            ],
            Self::Catheter(c) => vec![
                ("outer_fr", c.outer_fr, 1.0, 12.0),
                ("inner_mm", c.inner_mm, 0.2, c.outer_mm()),
                ("length_cm", c.length_cm, 10.0, 300.0),
                ("max_psi", c.max_psi, 1.0, 3000.0),
                ("max_flow_ml_s", c.max_flow_ml_s, 0.1, 50.0),
                ("ei_n_mm2", c.ei_n_mm2, 0.1, 20_000.0),
            ],
            Self::Sheath(s) => vec![
                ("inner_fr", s.inner_fr, 2.0, 30.0),
                ("outer_fr", s.outer_fr, s.inner_fr, 36.0),
                ("length_cm", s.length_cm, 3.0, 150.0),
                ("ei_n_mm2", s.ei_n_mm2, 0.1, 50_000.0),
            ],
            Self::Graft(g) => {
                let mut v = vec![
                    ("proximal_mm", g.proximal_mm, 5.0, 60.0),
                    ("distal_mm", g.distal_mm, 5.0, 60.0),
                    ("length_mm", g.length_mm, 20.0, 400.0),
                    ("bare_proximal_mm", g.bare_proximal_mm, 0.0, 40.0),
                    ("bare_distal_mm", g.bare_distal_mm, 0.0, 40.0),
                    ("delivery_fr", g.delivery_fr, 6.0, 30.0),
                    ("delivery_ei_n_mm2", g.delivery_ei_n_mm2, 1.0, 100_000.0),
                    ("ring_height_mm", g.ring_height_mm, 1.0, 40.0),
                    ("pitch_mm", g.pitch_mm, g.ring_height_mm, 60.0),
                    ("apices", f64::from(g.apices), 3.0, 24.0),
                    ("outward_kpa", g.outward_kpa, 0.1, 30.0),
                    ("ei_n_mm2", g.ei_n_mm2, 1.0, 200_000.0),
                    ("foreshortening", g.foreshortening, 0.0, 0.2),
                ];
                if let super::GraftKind::BifurcatedBody { gate_at_mm, gate_mm } = g.kind {
                    v.push(("gate_at_mm", gate_at_mm, 10.0, g.length_mm));
                    v.push(("gate_mm", gate_mm, 5.0, 30.0));
                }
                v
            }
            Self::Balloon(b) => vec![
                ("max_mm", b.max_mm, 1.0, 60.0),
                ("max_ml", b.max_ml, 0.01, 120.0),
                ("length_mm", b.length_mm, 0.0, 200.0),
                ("sheath_fr", b.sheath_fr, 2.0, 24.0),
                ("catheter_cm", b.catheter_cm, 20.0, 200.0),
                ("wire_mm", b.wire_mm, 0.2, 1.3),
            ],
            Self::Stent(s) => vec![
                ("diameter_mm", s.diameter_mm, 2.0, 40.0),
                ("length_mm", s.length_mm, 8.0, 250.0),
                ("sheath_fr", s.sheath_fr, 4.0, 24.0),
                ("wire_mm", s.wire_mm, 0.2, 1.3),
            ],
            Self::Coil(c) => vec![
                ("diameter_mm", c.diameter_mm, 1.0, 40.0),
                ("length_cm", c.length_cm, 0.5, 100.0),
                ("thickness_mm", c.thickness_mm, 0.1, 1.3),
            ],
            Self::Plug(p) => vec![
                ("diameter_mm", p.diameter_mm, 3.0, 30.0),
                ("length_mm", p.length_mm, 3.0, 60.0),
                ("sheath_fr", p.sheath_fr, 3.0, 16.0),
            ],
            Self::Particles(p) => vec![
                ("from_um", p.from_um, 20.0, 5000.0),
                ("to_um", p.to_um, p.from_um, 5000.0),
                ("portion_ml", p.portion_ml, 0.1, 50.0),
            ],
            Self::Closure(c) => vec![("max_fr", c.max_fr, 4.0, 40.0)],
        }
    }
}
