//! The rail: one ruler from the aortic valve to a puncture.

use super::zone::Zone;
use super::{Tree, VesselName};
use crate::math::Frame;
use serde::{Deserialize, Serialize};

/// Where an artery is punctured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the anatomical name")]
pub enum Site {
    RightFemoral,
    LeftFemoral,
    RightBrachial,
    LeftBrachial,
}

impl Site {
    /// All sites.
    pub const ALL: [Self; 4] =
        [Self::RightFemoral, Self::LeftFemoral, Self::RightBrachial, Self::LeftBrachial];

    /// As said aloud.
    pub fn label(self) -> &'static str {
        match self {
            Self::RightFemoral => "right groin",
            Self::LeftFemoral => "left groin",
            Self::RightBrachial => "right arm",
            Self::LeftBrachial => "left arm",
        }
    }

    /// Whether it is a groin.
    pub fn femoral(self) -> bool {
        matches!(self, Self::RightFemoral | Self::LeftFemoral)
    }

    /// Vessels from the aorta to the puncture, and how far the puncture lies before the last one's end, mm.
    fn way(self) -> (&'static [VesselName], f64) {
        use VesselName::*;
        match self {
            // Over the femoral head: the middle of the common femoral artery.
            Self::RightFemoral => (&[RightCommonIliac, RightExternalIliac], 16.0),
            Self::LeftFemoral => (&[LeftCommonIliac, LeftExternalIliac], 16.0),
            // Just above the elbow.
            Self::RightBrachial => (&[Innominate, RightSubclavian], 20.0),
            Self::LeftBrachial => (&[LeftSubclavian], 20.0),
        }
    }
}

/// One ruler: arc length from the aortic valve, down the aorta and on into the vessels that lead to a
/// puncture.
#[derive(Clone, Debug, PartialEq)]
pub struct Rail {
    /// The puncture that it ends at.
    pub site: Site,
    /// Its vessels in order.
    pub legs: Vec<Leg>,
}

/// One vessel's part of a rail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leg {
    /// Index in the tree.
    pub vessel: usize,
    /// Its name.
    pub name: VesselName,
    /// Where the part begins on the ruler, mm.
    pub from_mm: f64,
    /// Its length, mm.
    pub length_mm: f64,
    /// Arc length on the vessel where it begins, mm.
    pub s_mm: f64,
}

/// A place named on the ruler.
#[derive(Clone, Debug, PartialEq)]
pub struct RailMark {
    /// As said aloud.
    pub label: String,
    /// First arc length on the ruler, mm.
    pub from_mm: f64,
    /// Last arc length on the ruler, mm.
    pub to_mm: f64,
    /// What it is.
    pub kind: RailMarkKind,
}

/// What a mark on the ruler stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RailMarkKind {
    /// A branch's origin, edge to edge.
    Ostium(VesselName),
    /// An aneurysm, ulcer or tear.
    Lesion,
    /// A landing zone.
    Zone(Zone),
}

impl Rail {
    /// The ruler to a puncture; `None` when this patient's tree lacks a vessel on the way.
    pub fn for_access(tree: &Tree, site: Site) -> Option<Self> {
        let (names, before_end) = site.way();
        let mut legs: Vec<Leg> = Vec::new();
        for &name in names {
            let vessel = tree.index(name)?;
            let root = tree.vessels[vessel].root?;
            // An artery that the false lumen feeds leaves at the same level.
            let on_aorta = tree.aortic_s_mm(name).unwrap_or(root.s_mm);
            let (from_mm, parent_from) = match legs.last() {
                None => (on_aorta, 0.0),
                Some(last) => (last.from_mm + (root.s_mm - last.s_mm), last.s_mm),
            };
            match legs.last_mut() {
                None => legs.push(Leg {
                    vessel: 0,
                    name: VesselName::Aorta,
                    from_mm: 0.0,
                    length_mm: on_aorta,
                    s_mm: 0.0,
                }),
                Some(last) => last.length_mm = root.s_mm - parent_from,
            }
            let length_mm = tree.vessels[vessel].curve.length_mm();
            legs.push(Leg { vessel, name, from_mm, length_mm, s_mm: 0.0 });
        }
        if let Some(last) = legs.last_mut() {
            last.length_mm = (last.length_mm - before_end).max(1.0);
        }
        Some(Self { site, legs })
    }

    /// Ruler position of the puncture, mm: the length of the whole.
    pub fn length_mm(&self) -> f64 {
        self.legs.last().map_or(0.0, |l| l.from_mm + l.length_mm)
    }

    /// Index of the vessel and arc length on it at a ruler position (clamped to the ruler).
    pub fn place(&self, rail_mm: f64) -> (usize, f64) {
        let at = rail_mm.max(0.0);
        let leg = self.legs.iter().find(|l| at <= l.from_mm + l.length_mm).or(self.legs.last());
        leg.map_or((0, 0.0), |l| (l.vessel, l.s_mm + (at - l.from_mm).clamp(0.0, l.length_mm)))
    }

    /// Ruler position of a place on one of its vessels, mm; `None` off the ruler.
    pub fn rail_mm(&self, vessel: usize, s_mm: f64) -> Option<f64> {
        let leg = self.legs.iter().find(|l| l.vessel == vessel)?;
        let along = s_mm - leg.s_mm;
        (-1e-9..=leg.length_mm + 1e-9).contains(&along).then_some(leg.from_mm + along)
    }

    /// Ruler position of a branch's origin, mm; `None` if it does not leave a vessel of this ruler.
    pub fn ostium_mm(&self, tree: &Tree, name: VesselName) -> Option<f64> {
        let root = tree.get(name)?.root?;
        self.rail_mm(root.parent, root.s_mm)
    }

    /// Position and frame at a ruler position.
    pub fn frame(&self, tree: &Tree, rail_mm: f64) -> Frame {
        let (vessel, s) = self.place(rail_mm);
        tree.vessels[vessel].curve.frame(s)
    }

    /// Diameter of the circle of equal area at a ruler position, mm.
    pub fn diameter_mm(&self, tree: &Tree, rail_mm: f64) -> f64 {
        let (vessel, s) = self.place(rail_mm);
        tree.vessels[vessel].lumen.diameter_mm(s)
    }

    /// Narrowest diameter between two ruler positions, and where it is, mm.
    pub fn narrowest_mm(&self, tree: &Tree, from_mm: f64, to_mm: f64) -> (f64, f64) {
        let n = ((to_mm - from_mm).abs().ceil() as usize).max(1);
        let at = |i: usize| from_mm + (to_mm - from_mm) * i as f64 / n as f64;
        (0..=n)
            .map(|i| (self.diameter_mm(tree, at(i)), at(i)))
            .fold((f64::INFINITY, from_mm), |best, x| if x.0 < best.0 { x } else { best })
    }

    /// Landing zone at a ruler position; arm arteries have none.
    pub fn zone(&self, tree: &Tree, rail_mm: f64) -> Option<Zone> {
        let (vessel, s) = self.place(rail_mm);
        use VesselName::*;
        match tree.vessels[vessel].name {
            Aorta => Some(tree.zone_at(s)),
            RightCommonIliac | LeftCommonIliac => Some(Zone(10)),
            RightExternalIliac | LeftExternalIliac => Some(Zone(11)),
            _ => None,
        }
    }

    /// Everything worth drawing on the ruler: zones, ostia and lesions, each kind in order from the valve.
    pub fn marks(&self, tree: &Tree) -> Vec<RailMark> {
        let mut marks = Vec::new();
        let end = self.legs[0].length_mm;
        for i in 0..10 {
            if let Some((from, to)) = tree.zone_bounds_mm(Zone(i)).filter(|b| b.0 < end) {
                let kind = RailMarkKind::Zone(Zone(i));
                marks.push(RailMark { label: format!("zone {i}"), from_mm: from, to_mm: to.min(end), kind });
            }
        }
        for leg in self.legs.iter().skip(1).filter(|_| self.site.femoral()) {
            let zone = if leg.s_mm == 0.0
                && matches!(leg.name, VesselName::RightCommonIliac | VesselName::LeftCommonIliac)
            {
                10
            } else {
                11
            };
            let (from_mm, to_mm) = (leg.from_mm, leg.from_mm + leg.length_mm);
            marks.push(RailMark {
                label: format!("zone {zone}"),
                from_mm,
                to_mm,
                kind: RailMarkKind::Zone(Zone(zone)),
            });
        }
        let mut ostia: Vec<RailMark> = Vec::new();
        for v in &tree.vessels {
            let Some(root) = v.root.filter(|_| !self.legs.iter().any(|l| l.name == v.name)) else { continue };
            if let Some(at) = self.rail_mm(root.parent, root.s_mm) {
                ostia.push(RailMark {
                    label: v.name.label().to_owned(),
                    from_mm: at - root.radius_mm,
                    to_mm: at + root.radius_mm,
                    kind: RailMarkKind::Ostium(v.name),
                });
            }
        }
        ostia.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm));
        marks.extend(ostia);
        for leg in &self.legs {
            for lesion in &tree.vessels[leg.vessel].wall.lesions {
                let (from, to) = (lesion.from_mm - leg.s_mm, lesion.to_mm - leg.s_mm);
                if from < leg.length_mm {
                    marks.push(RailMark {
                        label: lesion.label.clone(),
                        from_mm: leg.from_mm + from,
                        to_mm: leg.from_mm + to.min(leg.length_mm),
                        kind: RailMarkKind::Lesion,
                    });
                }
            }
        }
        marks
    }
}
