//! Where the lesion of a case lies on the ruler: where a reader opens its CT.

use super::Loaded;
use super::case::{Action, BleedSpec, StateKind, StateSpec};
use crate::anatomy::{Rail, Site};

/// A place on the ruler from the aortic valve down to a groin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LesionPlace {
    /// The groin.
    pub leg: Site,
    /// How far along, mm from the valve.
    pub at_mm: f64,
}

impl Loaded {
    /// The place of what the case is about: the entry of a dissection, else the first lesion of a wall, the aorta's before a
    /// branch's, else the widest hole that the story begins with. Off the ruler it is the place at the same height, so that an
    /// axial slice shows the lesion. A case with none of these opens at the middle of its aorta.
    pub fn lesion_place(&self) -> LesionPlace {
        let tree = &self.tree;
        let entry = tree.aorta().wall.septum.as_ref().and_then(|s| s.tears.first()).map(|t| (0, t.true_s_mm));
        let in_wall = tree
            .vessels
            .iter()
            .enumerate()
            .find_map(|(i, v)| v.wall.lesions.first().map(|lesion| (i, lesion.at_mm())));
        let hole = || {
            let chart = &self.case.chart;
            let mut holes = Vec::new();
            opened(&chart.states, Some(&chart.initial), false, &mut holes);
            // Of holes of one width the first.
            let widest = holes.into_iter().rev().max_by(|a, b| a.area_mm2.total_cmp(&b.area_mm2))?;
            let vessel = tree.index(widest.from)?;
            let half = 0.5 * tree.vessels[vessel].curve.length_mm();
            Some((vessel, widest.at_mm.unwrap_or(half)))
        };
        let (vessel, s_mm) =
            entry.or(in_wall).or_else(hole).unwrap_or((0, 0.5 * tree.aorta().curve.length_mm()));
        let leg = if tree.vessels[vessel].name.is_left() { Site::LeftFemoral } else { Site::RightFemoral };
        let Some(rail) = Rail::for_access(tree, leg) else { return LesionPlace { leg, at_mm: s_mm } };
        let at_mm = rail.rail_mm(vessel, s_mm).unwrap_or_else(|| {
            let lesion = tree.vessels[vessel].curve.point(s_mm);
            let off = |mm: &f64| {
                let p = rail.frame(tree, *mm).at;
                // The height counts; of two places at that height the nearer.
                (p.z - lesion.z).abs() + 0.1 * p.distance(lesion)
            };
            let places = (0..=rail.length_mm() as usize).map(|mm| mm as f64);
            places.min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(0.0)
        });
        LesionPlace { leg, at_mm }
    }
}

/// Holes that are opened on the way into the states that a story begins in: the one named `first`, else the first of them, or
/// `all`.
fn opened<'a>(states: &'a [StateSpec], first: Option<&str>, all: bool, holes: &mut Vec<&'a BleedSpec>) {
    let begins = states.iter().position(|s| first == Some(s.id.as_str())).unwrap_or(0);
    for state in states.iter().enumerate().filter(|(i, _)| all || *i == begins).map(|(_, s)| s) {
        holes.extend(state.entry.iter().filter_map(|action| match action {
            Action::Bleed(hole) => Some(hole),
            _ => None,
        }));
        opened(&state.states, state.initial.as_deref(), state.kind == StateKind::Parallel, holes);
    }
}
