//! Where a graft comes to lie: rings, fabric, gaps, seal, folds, beak and covered ostia.

use super::contact::{ANGLES, Assembly, Ring, RingSpec, STRUT_KPA_PER_MM, ring_points, row_offsets, waves};
use super::shape;
use super::tube::{Route, Tube};
use crate::anatomy::{Tree, VesselName};
use crate::kit::{Graft, GraftKind};
use crate::math::{Streams, Vec3};

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
    /// Draws what is drawn: fold onset 25 to 33 % (folding is reported beyond 30 %; the spread is assumed).
    pub fn draw(streams: &Streams, sac: Vec<SacPatch>) -> Self {
        let mut s = streams.named("mechanics/case");
        Self { fold_onset: s.range(0.25, 0.33), wall_seed: s.bits(), uneven_mm: 0.3, row_mm: 1.0, sac }
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
    /// Rounds that the contact search took.
    pub rounds: usize,
    /// Ruler positions of the edges at each angle, proximal and distal.
    pub(super) edges: [Vec<(f64, f64)>; 2],
    pub(super) rings: Vec<Ring>,
    pub(super) route: Route,
}

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
        edge_at(&self.edges[0], theta_rad) <= s_mm && s_mm <= edge_at(&self.edges[1], theta_rad)
    }
    /// Whether two pieces lie in the same vessel at a ruler position.
    pub(super) fn same_vessel(&self, other: &Self, s_mm: f64) -> bool {
        self.route.vessel_at(s_mm).0 == other.route.vessel_at(s_mm).0
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
    lay(tree, graft, at, existing, case, &[])
}

/// As [`place`], after balloons have pressed it.
pub fn lay(
    tree: &Tree,
    graft: &Graft,
    at: &PlaceAt,
    existing: &[Placed],
    case: &Case,
    mouldings: &[Moulding],
) -> Placed {
    let route = Route::along(tree, &at.route);
    let length = graft.open_length_mm();
    let from = at.proximal_s_mm - graft.bare_proximal_mm - 40.0;
    let to = at.proximal_s_mm + length + graft.bare_distal_mm + 40.0;
    let mut tube = Tube::cut(tree, &route, from, to, case.uneven_mm, case.wall_seed);
    let bare = tube.clone();
    for piece in existing {
        line_with(&mut tube, &bare, piece, at, &route);
    }
    let mut plan = Plan::of(&tube, graft, at, 0.0, mouldings);
    let nesting_mm = shape::NESTING * graft.ring_height_mm;
    let find = |plan: &Plan, start: Vec<Ring>| {
        let rings = &plan.rings;
        Assembly {
            tube: &tube,
            rings,
            ei_n_mm2: graft.ei_n_mm2,
            nesting_mm,
            row_mm: case.row_mm,
            load_kpa: &[],
        }
        .solve(start)
    };
    let mut found = find(&plan, plan.start(&tube));
    // The edge stays where it was set free on the outer wall; a ring that tilts would have drawn it away.
    let slip = plan.outer_edge_mm(&tube, &found.rings) - at.proximal_s_mm;
    if slip.abs() > 0.3 {
        plan = Plan::of(&tube, graft, at, -slip, mouldings);
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
        rounds: found.rounds,
        edges: [Vec::new(), Vec::new()],
        rings: found.rings,
        route: route.clone(),
    };
    unroll(&mut placed, &tube, &plan, case);
    shape::fold(&mut placed, &tube, &plan, case);
    shape::mould(&mut placed, &tube, &plan);
    shape::judge_ends(&mut placed, &tube, case);
    placed.ostia = ostia(tree, &route, &tube, &placed);
    placed
}

/// The rings of a graft along its route.
pub(super) struct Plan {
    pub rings: Vec<RingSpec>,
    /// Whether the ring carries fabric.
    pub covered: Vec<bool>,
    /// Whether a balloon has pressed the ring, and to what diameter.
    pub pressed: Vec<Option<f64>>,
}

/// Friction that keeps a ring in the direction it was released in, N mm/rad (assumed).
const MEMORY_N_MM: f64 = 60.0;

impl Plan {
    fn of(tube: &Tube, graft: &Graft, at: &PlaceAt, shift_mm: f64, mouldings: &[Moulding]) -> Self {
        let length = graft.open_length_mm();
        let height = graft.ring_height_mm.min(length);
        let count = (((length - height) / graft.pitch_mm).round().max(0.0)) as usize + 1;
        let pitch = if count > 1 { (length - height) / (count - 1) as f64 } else { length };
        // Offsets of ring centres along the fabric, with bare stents before and behind it.
        let mut along: Vec<(f64, f64, bool)> = Vec::new();
        if graft.bare_proximal_mm > 0.0 {
            along.push((-0.5 * graft.bare_proximal_mm, graft.bare_proximal_mm, false));
        }
        along.extend((0..count).map(|i| (0.5 * height + pitch * i as f64, height, true)));
        if graft.bare_distal_mm > 0.0 {
            along.push((length + 0.5 * graft.bare_distal_mm, graft.bare_distal_mm, false));
        }
        let mut rings = Vec::with_capacity(along.len());
        for (i, &(offset, height_mm, _)) in along.iter().enumerate() {
            let s_mm = station(tube, at.proximal_s_mm + shift_mm, offset);
            let free_mm = 0.5 * free_diameter_mm(graft, offset.clamp(0.0, length));
            let strut = 1.0 / (1.0 / super::tube::WALL_KPA_PER_MM + 1.0 / STRUT_KPA_PER_MM);
            // Hoop spring in series with the local one gives the stated pressure at 15 % oversize.
            let at15 = free_mm * (1.0 - 1.0 / 1.15);
            let hoop_kpa_mm = graft.outward_kpa / (at15 - graft.outward_kpa / strut).max(0.2 * at15);
            let pitch_mm = along.get(i + 1).map_or(pitch, |next| next.0 - offset);
            rings.push(RingSpec {
                s_mm,
                free_mm,
                height_mm,
                pitch_mm,
                hoop_kpa_mm,
                released: tilt_at(&at.released, s_mm),
                memory: if at.released.is_empty() { 0.0 } else { MEMORY_N_MM },
                rounder: 1.0,
            });
        }
        let pressed: Vec<Option<f64>> = rings
            .iter()
            .map(|r| {
                mouldings
                    .iter()
                    .filter(|m| m.from_mm < r.s_mm && r.s_mm < m.to_mm)
                    .map(|m| m.diameter_mm)
                    .fold(None, |a: Option<f64>, d| Some(a.map_or(d, |a| a.max(d))))
            })
            .collect();
        for (ring, pressed) in rings.iter_mut().zip(&pressed) {
            if pressed.is_some() {
                ring.memory = 0.0;
                ring.rounder = 0.25;
            }
        }
        Self { rings, covered: along.iter().map(|a| a.2).collect(), pressed }
    }

    /// Ruler position of the proximal edge on the outer side of the bend; of its middle where there is no bend.
    fn outer_edge_mm(&self, tube: &Tube, rings: &[Ring]) -> f64 {
        let first = self.covered.iter().position(|c| *c).unwrap_or(0);
        let spec = &self.rings[first];
        let guess = spec.s_mm - 0.5 * spec.height_mm;
        let edge = ring_points(&tube.frame(spec.s_mm), &rings[first], -0.5 * spec.height_mm, &waves());
        match shape::inner_theta(tube, guess) {
            Some(inner) => {
                let outer: Vec<f64> = edge
                    .iter()
                    .map(|&p| tube.depth(p, guess))
                    .filter(|d| turn_between(d.theta_rad, inner).abs() > 2.6)
                    .map(|d| d.s_mm)
                    .collect();
                if outer.is_empty() { guess } else { outer.iter().sum::<f64>() / outer.len() as f64 }
            }
            None => middle_mm(tube, &edge, guess),
        }
    }

    fn start(&self, tube: &Tube) -> Vec<Ring> {
        self.rings
            .iter()
            .map(|r| {
                let mut q = [0.0; super::contact::DOF];
                q[2] = r.released[0];
                q[3] = r.released[1];
                q[4] = r.free_mm.min(tube.mean_radius(r.s_mm) + 0.3);
                q
            })
            .collect()
    }
}

/// Ruler position of the middle of a ring of points.
fn middle_mm(tube: &Tube, points: &[Vec3], guess_mm: f64) -> f64 {
    let sum = points.iter().fold(Vec3::ZERO, |a, p| a + *p);
    tube.depth(sum * (1.0 / points.len() as f64), guess_mm).s_mm
}

/// Ruler position at a distance along the fabric: the outer side of a bend keeps the fabric's length, so the
/// centreline and the inner side get less of it.
fn station(tube: &Tube, edge_s_mm: f64, offset_mm: f64) -> f64 {
    let n = (offset_mm.abs() / 2.0).ceil().max(1.0);
    let h = offset_mm / n;
    let mut s = edge_s_mm;
    for _ in 0..n as usize {
        let k = tube.mean_curvature(s - 5.0, s + 5.0);
        let bend = (k[0] * k[0] + k[1] * k[1]).sqrt() * tube.mean_radius(s).min(25.0);
        s += h / (1.0 + bend);
    }
    s
}

/// Free diameter along the fabric. A body with legs keeps its trunk, then narrows to the leg over 20 mm before the gate.
pub(super) fn free_diameter_mm(graft: &Graft, from_edge_mm: f64) -> f64 {
    match graft.kind {
        GraftKind::BifurcatedBody { gate_at_mm, .. } => crate::math::interp::linear(
            &[
                (0.0, graft.proximal_mm),
                ((gate_at_mm - GATE_LENGTH_MM).max(10.0), graft.proximal_mm),
                (gate_at_mm.max(30.0), graft.distal_mm),
            ],
            from_edge_mm,
        ),
        _ => graft.diameter_at_mm(from_edge_mm / (1.0 - graft.foreshortening)),
    }
}

/// Length of the short leg of a body with two legs, mm (common practice, no source).
pub(super) const GATE_LENGTH_MM: f64 = 30.0;

fn tilt_at(released: &[(f64, [f64; 2])], s_mm: f64) -> [f64; 2] {
    let axis = |a: usize| {
        let table: Vec<(f64, f64)> = released.iter().map(|r| (r.0, r.1[a])).collect();
        crate::math::interp::linear(&table, s_mm)
    };
    [axis(0), axis(1)]
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

/// Fills rows and cells from the rings.
fn unroll(placed: &mut Placed, tube: &Tube, plan: &Plan, case: &Case) {
    let waves = waves();
    let covered: Vec<usize> = (0..plan.rings.len()).filter(|&i| plan.covered[i]).collect();
    let points = |i: usize, offset: f64| {
        let ring = &plan.rings[i];
        ring_points(&tube.frame(ring.s_mm), &placed.rings[i], offset, &waves)
    };
    let mut rows: Vec<(Row, f64, Vec<Vec3>)> = Vec::new();
    let mut edge_mm = 0.0;
    for (k, &i) in covered.iter().enumerate() {
        let ring = &plan.rings[i];
        let offsets = row_offsets(ring.height_mm, case.row_mm);
        for &offset in &offsets {
            let from_edge_mm = edge_mm + 0.5 * ring.height_mm + offset;
            let row = Row { from_edge_mm, ring: k as f64, fabric: false, fold_mm2: 0.0 };
            rows.push((row, ring.s_mm + offset, points(i, offset)));
        }
        let Some(&j) = covered.get(k + 1) else { continue };
        let next = &plan.rings[j];
        let span = (ring.pitch_mm - 0.5 * (ring.height_mm + next.height_mm)).max(0.0);
        let n = (span / case.row_mm).round() as usize;
        let (a, b) = (points(i, 0.5 * ring.height_mm), points(j, -0.5 * next.height_mm));
        let (sa, sb) = (ring.s_mm + 0.5 * ring.height_mm, next.s_mm - 0.5 * next.height_mm);
        for m in 0..n {
            let w = (m as f64 + 0.5) / n as f64;
            let row = Row {
                from_edge_mm: edge_mm + ring.height_mm + w * span,
                ring: k as f64 + w,
                fabric: true,
                fold_mm2: 0.0,
            };
            rows.push((row, sa + w * (sb - sa), a.iter().zip(&b).map(|(a, b)| a.lerp(*b, w)).collect()));
        }
        edge_mm += ring.pitch_mm + 0.5 * (ring.height_mm - next.height_mm);
    }
    let first = &plan.rings[covered[0]];
    let last_index = covered[covered.len() - 1];
    let last = &plan.rings[last_index];
    let edge = |points: Vec<Vec3>, guess: f64| -> (Vec<(f64, f64)>, f64) {
        let middle = middle_mm(tube, &points, guess);
        (points.into_iter().map(|p| tube.depth(p, guess)).map(|d| (d.theta_rad, d.s_mm)).collect(), middle)
    };
    let h0 = 0.5 * first.height_mm;
    let h1 = 0.5 * last.height_mm;
    let edges =
        [edge(points(covered[0], -h0), first.s_mm - h0), edge(points(last_index, h1), last.s_mm + h1)];
    if !plan.covered[0] {
        let ring = &plan.rings[0];
        let mut sum = 0.0;
        let offsets = row_offsets(ring.height_mm, case.row_mm);
        for &offset in &offsets {
            for p in points(0, offset) {
                let d = tube.depth(p, ring.s_mm + offset);
                sum += d.mm.max(0.0) / (1.0 / d.wall_kpa_mm + 1.0 / STRUT_KPA_PER_MM);
            }
        }
        placed.bare_kpa = sum / (offsets.len() * ANGLES) as f64;
    }
    let mut cells = Vec::with_capacity(rows.len() * ANGLES);
    for (row, guess, points) in &rows {
        for &at in points {
            let d = tube.depth(at, *guess);
            let press = d.mm.max(0.0) / (1.0 / d.wall_kpa_mm + 1.0 / STRUT_KPA_PER_MM);
            let sac = !d.lined && case.sac.iter().any(|p| p.holds(d.s_mm, d.theta_rad));
            cells.push(Cell {
                at,
                s_mm: d.s_mm,
                theta_rad: d.theta_rad,
                gap_mm: (-d.mm).max(0.0),
                contact_kpa: if row.fabric { 0.5 * press } else { press },
                sac,
                lined: d.lined,
                size_mm: [0.0; 2],
            });
        }
    }
    let specs: Vec<&RingSpec> = covered.iter().map(|&i| &plan.rings[i]).collect();
    let rows_only: Vec<Row> = rows.iter().map(|r| r.0).collect();
    walk_off_wedges(&mut cells, &rows_only, &specs, tube);
    placed.rows = rows_only;
    placed.cells = cells;
    for (end, edge) in placed.ends.iter_mut().zip(&edges) {
        end.edge_s_mm = edge.1;
    }
    placed.edges = edges.map(|e| e.0);
    let n = placed.rows.len();
    for i in 0..n {
        for k in 0..ANGLES {
            let at = |i: usize, k: usize| placed.cells[i * ANGLES + k % ANGLES].at;
            let here = at(i, k);
            let up =
                if i > 0 { here.distance(at(i - 1, k)) } else { here.distance(at((i + 1).min(n - 1), k)) };
            let down = if i + 1 < n { here.distance(at(i + 1, k)) } else { up };
            let width = 0.5 * (here.distance(at(i, k + 1)) + here.distance(at(i, k + ANGLES - 1)));
            placed.cells[i * ANGLES + k].size_mm = [(0.5 * (up + down)).max(0.05), width];
        }
    }
}

/// Pressure with which the stream presses an inner piece on an outer one that nothing else holds, kPa: half of what lies
/// across them, as the film between them falls from the lumen's pressure to the sac's (assumed 40 mmHg).
const OVERLAP_KPA: f64 = 2.7;

/// The pressure that the film sees.
///
/// A tilted ring wedges: its heel and toe bear many times the mean load on a line. Two things keep that line from being a
/// seal. Struts carry it from apex to apex, so fabric beside them feels the mean over the ring's height; and a beating
/// arch walks a wedge off, so no more lasts than the hoop gives all round in that lumen, and a strut that touches along less
/// than half of itself is a pivot, not a seal (assumed). Without this a tighter arch would leak three times less, against all
/// experience.
fn walk_off_wedges(cells: &mut [Cell], rows: &[Row], rings: &[&RingSpec], tube: &Tube) {
    let local = 1.0 / (1.0 / super::tube::WALL_KPA_PER_MM + 1.0 / STRUT_KPA_PER_MM);
    let hoop = |ring: usize, s_mm: f64| {
        let r = rings[ring.min(rings.len() - 1)];
        (r.free_mm - tube.median_radius(s_mm)).max(0.0) / (1.0 / r.hoop_kpa_mm + 1.0 / local)
    };
    let mut from = 0;
    while from < rows.len() {
        let (ring, fabric) = (rows[from].ring, rows[from].fabric);
        let to =
            if fabric { from + 1 } else { from + rows[from..].iter().take_while(|r| r.ring == ring).count() };
        for k in 0..ANGLES {
            // The part of the strut that lies on the neck; what hangs in the sac bears nothing.
            let on_neck: Vec<usize> = (from..to).map(|r| r * ANGLES + k).filter(|&c| !cells[c].sac).collect();
            let touching = on_neck.iter().filter(|&&c| cells[c].gap_mm <= 0.0).count();
            let mean =
                on_neck.iter().map(|&c| cells[c].contact_kpa).sum::<f64>() / on_neck.len().max(1) as f64;
            let pivots = 2 * touching < on_neck.len();
            for c in on_neck {
                let cell = &mut cells[c];
                let most = if pivots { 0.0 } else { hoop(ring as usize, cell.s_mm) };
                cell.contact_kpa = if cell.gap_mm > 0.0 { 0.0 } else { mean.min(most) };
                if cell.lined && cell.gap_mm < 0.05 {
                    cell.contact_kpa += OVERLAP_KPA;
                }
            }
        }
        from = to;
    }
}

/// Every ostium along the graft with the part of its area that stays open.
fn ostia(tree: &Tree, route: &Route, tube: &Tube, placed: &Placed) -> Vec<Ostium> {
    let mut out = Vec::new();
    for vessel in &tree.vessels {
        let Some(root) = vessel.root else { continue };
        let Some(s_mm) = route.ruler_mm(root.parent, root.s_mm) else { continue };
        if s_mm < tube.from_mm || s_mm > tube.to_mm() || placed.at.route.contains(&vessel.name) {
            continue;
        }
        // A body with two legs straddles the bifurcation: its gate is the way to the other side.
        let other_side = matches!(placed.graft.kind, GraftKind::BifurcatedBody { .. } | GraftKind::Limb)
            && matches!(vessel.name, VesselName::RightCommonIliac | VesselName::LeftCommonIliac);
        if other_side {
            continue;
        }
        let dir = tree.vessels[root.parent].curve.frame(root.s_mm).radial(root.theta_rad);
        let frame = tube.frame(s_mm);
        let theta_rad = crate::math::ops::atan2(dir.dot(frame[3]), dir.dot(frame[2]));
        let wall = tube.radius_at(s_mm, theta_rad);
        let k = tube.curvature(s_mm);
        let (sin, cos) = crate::math::ops::sin_cos(theta_rad);
        let stretch = (1.0 - wall * (k[0] * cos + k[1] * sin)).max(0.2);
        let open_fraction =
            open_fraction(root.radius_mm, |x, y| placed.spans(s_mm + x / stretch, theta_rad + y / wall));
        out.push(Ostium { vessel: vessel.name, s_mm, theta_rad, radius_mm: root.radius_mm, open_fraction });
    }
    out
}

/// Part of a disc's area where `covered(x, y)` is false, by a sunflower of equal-area samples.
pub(super) fn open_fraction(radius_mm: f64, covered: impl Fn(f64, f64) -> bool) -> f64 {
    const SAMPLES: usize = 400;
    const GOLDEN_ANGLE: f64 = 2.399_963_229_728_653;
    let open = (0..SAMPLES)
        .filter(|&i| {
            let r = radius_mm * ((i as f64 + 0.5) / SAMPLES as f64).sqrt();
            let (s, c) = crate::math::ops::sin_cos(GOLDEN_ANGLE * i as f64);
            !covered(r * c, r * s)
        })
        .count();
    open as f64 / SAMPLES as f64
}
