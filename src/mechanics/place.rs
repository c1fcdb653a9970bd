//! Where a graft comes to lie: rings, fabric, gaps, seal, folds, beak and covered ostia.

use super::contact::{ANGLES, Assembly, Ring};
use super::plan::Plan;
use super::shape;
use super::tube::{Route, Tube};
use super::unroll;
use crate::anatomy::{Tree, VesselName};
use crate::kit::{Graft, GraftKind};
use crate::math::{Vec3, ops};

/// Where to put a graft.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceAt {
    /// The vessels that it lies in, from the aorta outward.
    pub route: Vec<VesselName>,
    /// Ruler position of the proximal edge of the fabric, measured on the outer side of a bend, mm.
    pub proximal_s_mm: f64,
    /// Direction of the delivery system along the ruler, as components on the section's normal and binormal, rad:
    /// (ruler position mm, tilt). Empty: the graft is released along the centreline.
    pub released: Vec<(f64, [f64; 2])>,
}

/// What differs from case to case and no scan shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    /// Oversizing at which fabric begins to fold, as a fraction.
    pub fold_onset: f64,
    /// Seed of the wall's unevenness.
    pub wall_seed: u64,
    /// Root-mean-square unevenness of the wall, mm.
    pub uneven_mm: f64,
    /// Distance between rows of cells, mm; 1 mm is fine enough.
    pub row_mm: f64,
    /// The parts of the wall that lead into the sac, the false lumen or the rupture.
    pub sac: Vec<SacPatch>,
}

impl Case {
    /// Before anything is known of wall and fabric but where the sac lies.
    pub fn new(sac: Vec<SacPatch>) -> Self {
        Self { fold_onset: 0.29, wall_seed: 0, uneven_mm: 0.3, row_mm: 1.0, sac }
    }

    /// A wall by its seed, under fabric that folds at 25 to 33 % for a `part` of 0 to 1 (folding is reported beyond 30 %; the spread
    /// is assumed).
    pub fn meet(&mut self, part: f64, wall_seed: u64) {
        (self.fold_onset, self.wall_seed) = (0.25 + 0.08 * part, wall_seed);
    }
}

/// A part of the wall, on the ruler of the route.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SacPatch {
    /// Where it begins and ends, mm.
    pub from_mm: f64,
    /// Where it ends, mm.
    pub to_mm: f64,
    /// Centre and half width of a patch that does not go all round, rad.
    pub facing: Option<(f64, f64)>,
}

impl SacPatch {
    /// Whether a place lies in it.
    pub fn holds(&self, s_mm: f64, theta_rad: f64) -> bool {
        s_mm > self.from_mm
            && s_mm < self.to_mm
            && self.facing.is_none_or(|(centre, half)| turn_between(theta_rad, centre).abs() < half)
    }
}

/// Difference of two angles, in (-pi, pi].
pub(super) fn turn_between(a: f64, b: f64) -> f64 {
    let d = (a - b) / std::f64::consts::TAU;
    (d - (d + 0.5).floor()) * std::f64::consts::TAU
}

/// One cell of the unrolled fabric: about 1 mm by 10 degrees.
#[derive(Clone, Copy, Debug, Default)]
pub struct Cell {
    /// Its middle.
    pub at: Vec3,
    /// Ruler position of the wall beside it, mm.
    pub s_mm: f64,
    /// Angle of the wall beside it, rad.
    pub theta_rad: f64,
    /// Distance to the wall; 0 where it touches.
    pub gap_mm: f64,
    /// Pressure with which it seals, kPa.
    pub contact_kpa: f64,
    /// It leads into the sac.
    pub sac: bool,
    /// It lies in an earlier graft.
    pub lined: bool,
    /// Its length along the graft and its width round it, mm.
    pub size_mm: [f64; 2],
}

/// One row of cells round the fabric.
#[derive(Clone, Copy, Debug, Default)]
pub struct Row {
    /// From the proximal edge of the fabric, mm.
    pub from_edge_mm: f64,
    /// Ring that it belongs to; between two rings for bare fabric.
    pub ring: f64,
    /// Fabric between stents.
    pub fabric: bool,
    /// Section of the channel that a fold leaves open, mm².
    pub fold_mm2: f64,
}

/// How one end lies.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct End {
    /// Free diameter there, mm.
    pub graft_mm: f64,
    /// Mean diameter of the lumen that it landed in, mm.
    pub vessel_mm: f64,
    /// (graft - vessel) / vessel, percent.
    pub oversize_percent: f64,
    /// Length over which the whole circumference touches, mm.
    pub seal_mm: f64,
    /// Length of contact along the inner side of the bend, mm; as `seal_mm` where it is straight.
    pub inner_seal_mm: f64,
    /// Sum of sealed rows, each weighted by its worst part, mm: moves smoothly, for marks.
    pub soft_seal_mm: f64,
    /// Mean contact pressure over the landing, kPa.
    pub contact_kpa: f64,
    /// Height of the wedge between fabric and inner wall at the edge, mm.
    pub beak_mm: f64,
    /// Its opening angle, degrees.
    pub beak_deg: f64,
    /// Angle round the vessel where it opens, rad.
    pub beak_theta_rad: f64,
    /// Section of the largest fold's channel, mm², and its depth, mm.
    pub fold_mm2: f64,
    /// Depth of the deepest fold, mm.
    pub fold_depth_mm: f64,
    /// Ruler position of the middle of the edge, mm.
    pub edge_s_mm: f64,
    /// Lies inside another piece.
    pub in_graft: bool,
}

/// A branch whose mouth the fabric reaches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ostium {
    /// Which.
    pub vessel: VesselName,
    /// Centre, on the ruler, mm.
    pub s_mm: f64,
    /// Angle, rad.
    pub theta_rad: f64,
    /// Radius, mm.
    pub radius_mm: f64,
    /// Part of its area that no fabric crosses, 0 to 1.
    pub open_fraction: f64,
}

/// A ring that a balloon has pressed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moulding {
    /// Ruler positions between which the balloon lay, mm.
    pub from_mm: f64,
    /// End of the balloon, mm.
    pub to_mm: f64,
    /// Diameter that it reached, mm.
    pub diameter_mm: f64,
}

/// A graft where it lies.
#[derive(Clone, Debug)]
pub struct Placed {
    /// Which.
    pub graft: Graft,
    /// Where it was put.
    pub at: PlaceAt,
    /// Rows from the proximal edge.
    pub rows: Vec<Row>,
    /// `rows.len()` times `ANGLES` cells, row by row.
    pub cells: Vec<Cell>,
    /// Proximal and distal end.
    pub ends: [End; 2],
    /// Every ostium of its vessels that lies along it.
    pub ostia: Vec<Ostium>,
    /// Balloons that pressed it.
    pub mouldings: Vec<Moulding>,
    /// Wall stretch by the balloons: greatest (balloon / wall) - 1.
    pub wall_stretch: f64,
    /// Column of cells where the fabric folds.
    pub fold_column: usize,
    /// Angle of the inner side at the proximal and the distal edge; `None` where the vessel is straight.
    pub inner_theta_rad: [Option<f64>; 2],
    /// Pressure of a bare proximal stent on the wall, kPa; 0 for none.
    pub bare_kpa: f64,
    /// How far its films had clotted before anything that happens now, 0 to 1: 1 for a graft of an earlier year.
    pub clotted: f64,
    /// Rounds that the contact search took.
    pub rounds: usize,
    /// Ruler positions of the edges at each angle, proximal and distal.
    pub(super) edges: [Vec<(f64, f64)>; 2],
    pub(super) rings: Vec<Ring>,
    /// By how much its rings were moved along so that its edge lies where it was let go, mm.
    shift_mm: f64,
    pub(super) route: Route,
}

pub use super::plan::GATE_LENGTH_MM;

/// Angles in each row.
pub const CELLS_ROUND: usize = ANGLES;

impl Placed {
    /// A cell.
    pub fn cell(&self, row: usize, column: usize) -> &Cell {
        &self.cells[row * ANGLES + column % ANGLES]
    }
    /// Length of fabric, mm.
    pub fn length_mm(&self) -> f64 {
        self.graft.open_length_mm()
    }
    /// Covered ostia with the part of each that is still open.
    pub fn covered(&self) -> Vec<(VesselName, f64)> {
        self.ostia.iter().filter(|o| o.open_fraction < 1.0).map(|o| (o.vessel, o.open_fraction)).collect()
    }
    /// Whether the fabric spans a place of the vessel wall.
    pub fn spans(&self, s_mm: f64, theta_rad: f64) -> bool {
        let [upper, lower] = &self.edges;
        let least = |edge: &[(f64, f64)]| edge.iter().fold(f64::INFINITY, |a, e| a.min(e.1));
        let most = |edge: &[(f64, f64)]| edge.iter().fold(f64::NEG_INFINITY, |a, e| a.max(e.1));
        // Most places lie clear of both edges all round.
        if s_mm < least(upper) - CLEAR_MM || s_mm > most(lower) + CLEAR_MM {
            return false;
        }
        let within = s_mm > most(upper) + CLEAR_MM && s_mm < least(lower) - CLEAR_MM;
        within || edge_at(upper, theta_rad) <= s_mm && s_mm <= edge_at(lower, theta_rad)
    }
    /// Whether two pieces lie in the same vessel at a ruler position.
    pub(super) fn same_vessel(&self, other: &Self, s_mm: f64) -> bool {
        self.route.vessel_at(s_mm).0 == other.route.vessel_at(s_mm).0
    }
    /// The vessel that it lies in at a ruler position.
    pub fn vessel_at(&self, s_mm: f64) -> VesselName {
        self.at.route.get(self.route.leg_at(s_mm)).copied().unwrap_or(VesselName::Aorta)
    }
    /// What a hole of the wall can let out under the fabric at a level, mm²: the film there, as long as the way to either edge.
    pub fn seep_mm2(&self, s_mm: f64) -> f64 {
        let here = self.cells.iter().filter(|c| (c.s_mm - s_mm).abs() < 3.0);
        // A film carries by the cube of its thickness.
        let (mut cubes, mut n) = (0.0, 0.0);
        for c in here {
            cubes += ops::powi(super::leak::film_mm(c.gap_mm, c.contact_kpa), 3);
            n += 1.0;
        }
        let film_mm = ops::cbrt(cubes / f64::max(n, 1.0));
        let round_mm = std::f64::consts::PI * 0.5 * (self.ends[0].vessel_mm + self.ends[1].vessel_mm);
        let reach_mm = [s_mm - self.ends[0].edge_s_mm, self.ends[1].edge_s_mm - s_mm];
        super::sleeve::film_as_hole_mm2(film_mm, round_mm, reach_mm)
    }
    /// The cell beside a place of the wall.
    pub(super) fn nearest_cell(&self, s_mm: f64, theta_rad: f64) -> Option<usize> {
        let turns = theta_rad / std::f64::consts::TAU;
        let k = (((turns - turns.floor()) * ANGLES as f64) as usize).min(ANGLES - 1);
        let mut best = (f64::INFINITY, None);
        for r in 0..self.rows.len() {
            let d = (self.cell(r, k).s_mm - s_mm).abs();
            if d < best.0 {
                best = (d, Some(r * ANGLES + k));
            }
        }
        best.1
    }
    /// Radius of the fabric at a place of the wall, mm, where it spans it.
    pub(super) fn fabric_radius(&self, tube: &Tube, s_mm: f64, theta_rad: f64) -> Option<f64> {
        if !self.spans(s_mm, theta_rad) {
            return None;
        }
        let turns = theta_rad / std::f64::consts::TAU;
        let k = (((turns - turns.floor()) * ANGLES as f64) as usize).min(ANGLES - 1);
        let i = (0..self.rows.len()).rev().find(|&i| self.cell(i, k).s_mm <= s_mm).unwrap_or(0);
        let cell = self.cell(i, k);
        let frame = tube.frame(cell.s_mm);
        Some((cell.at - frame[0]).norm())
    }
}

/// So far off an edge's outermost point a place is surely on its side, mm: what rounding could do.
const CLEAR_MM: f64 = 1e-6;

/// Ruler position of an edge at an angle.
fn edge_at(edge: &[(f64, f64)], theta_rad: f64) -> f64 {
    let mut below = (-1e9, 0.0);
    let mut above = (1e9, 0.0);
    for &(theta, s) in edge {
        let d = turn_between(theta, theta_rad);
        if d <= 0.0 && d > below.0 {
            below = (d, s);
        }
        if d >= 0.0 && d < above.0 {
            above = (d, s);
        }
    }
    let w = above.0 - below.0;
    if !(1e-12..=7.0).contains(&w) {
        if above.0 < 7.0 { above.1 } else { below.1 }
    } else {
        below.1 - (above.1 - below.1) * below.0 / w
    }
}

/// Puts a graft into a vessel at the tree's present calibre and finds how it lies.
pub fn place(tree: &Tree, graft: &Graft, at: &PlaceAt, existing: &[Placed], case: &Case) -> Placed {
    lay(tree, graft, at, existing, case, &[], None)
}

/// As [`place`], after balloons have pressed it; `was` is how it lay before, from where the search is shorter.
pub fn lay(
    tree: &Tree,
    graft: &Graft,
    at: &PlaceAt,
    existing: &[Placed],
    case: &Case,
    mouldings: &[Moulding],
    was: Option<&Placed>,
) -> Placed {
    let was = was.filter(|p| p.at == *at);
    // Vessels widen and narrow; their courses stay.
    let route = was.map_or_else(|| Route::along(tree, &at.route), |p| p.route.clone());
    let length = graft.open_length_mm();
    let from = at.proximal_s_mm - graft.bare_proximal_mm - 40.0;
    let to = at.proximal_s_mm + length + graft.bare_distal_mm + 40.0;
    let mut tube = Tube::cut(tree, &route, from, to, case.uneven_mm, case.wall_seed);
    let bare = tube.clone();
    for piece in existing {
        line_with(&mut tube, &bare, piece, at, &route);
    }
    let mut shift_mm = was.map_or(0.0, |p| p.shift_mm);
    let mut plan = Plan::of(&tube, graft, at, shift_mm, mouldings);
    let nesting_mm = shape::NESTING * graft.ring_height_mm;
    let find = |plan: &Plan, start: Vec<Ring>| {
        let rings = &plan.rings;
        Assembly { tube: &tube, rings, ei_n_mm2: graft.ei_n_mm2, nesting_mm, row_mm: case.row_mm }
            .solve(start)
    };
    let mut found = find(&plan, was.map_or_else(|| plan.start(&tube), |p| p.rings.clone()));
    // The edge stays where it was set free on the outer wall; a ring that tilts would have drawn it away.
    let slip = plan.outer_edge_mm(&tube, &found.rings) - at.proximal_s_mm;
    if slip.abs() > 0.3 {
        shift_mm -= slip;
        plan = Plan::of(&tube, graft, at, shift_mm, mouldings);
        let rounds = found.rounds;
        found = find(&plan, found.rings);
        found.rounds += rounds;
    }
    let mut placed = Placed {
        graft: graft.clone(),
        at: at.clone(),
        rows: Vec::new(),
        cells: Vec::new(),
        ends: [End::default(), End::default()],
        ostia: Vec::new(),
        mouldings: mouldings.to_vec(),
        wall_stretch: 0.0,
        fold_column: 0,
        inner_theta_rad: [None, None],
        bare_kpa: 0.0,
        clotted: 0.0,
        rounds: found.rounds,
        edges: [Vec::new(), Vec::new()],
        rings: found.rings,
        shift_mm,
        route: route.clone(),
    };
    unroll::unroll(&mut placed, &tube, &plan, case);
    shape::fold(&mut placed, &tube, &plan, case);
    shape::mould(&mut placed, &tube, &plan);
    shape::judge_ends(&mut placed, &tube, case);
    placed.ostia = unroll::ostia(tree, &route, &tube, &placed);
    placed
}

/// Lets the present graft lie inside an earlier piece.
fn line_with(tube: &mut Tube, bare: &Tube, piece: &Placed, at: &PlaceAt, route: &Route) {
    const FABRIC_KPA_PER_MM: f64 = 8.0;
    let same_way = piece.at.route.iter().zip(&at.route).all(|(a, b)| a == b);
    if let (GraftKind::BifurcatedBody { gate_at_mm, gate_mm }, false) = (piece.graft.kind, same_way) {
        let edge = piece.ends[0].edge_s_mm;
        let leg = edge + gate_at_mm - GATE_LENGTH_MM..edge + gate_at_mm;
        tube.line(|s, _| leg.contains(&s).then_some(0.5 * gate_mm), FABRIC_KPA_PER_MM);
        return;
    }
    let together = |s: f64| piece.route.vessel_at(s).0 == route.vessel_at(s).0;
    tube.line(
        |s, theta| if together(s) { piece.fabric_radius(bare, s, theta) } else { None },
        FABRIC_KPA_PER_MM,
    );
}
