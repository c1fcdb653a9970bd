//! What was let go, as the picture shows it: fabric that lines a stream, struts, and the radio-opaque marks at its edges.
//!
//! Where a body has two legs they lie side by side: the model of seal follows each along the centreline that it shares with
//! the other, and here each is set aside by as much as it is wide, as far as the wall leaves room.

use super::World;
use super::seal::Piece;
use super::stents::Stented;
use crate::anatomy::{Lumen, Rail, Site, Tree, VesselName};
use crate::imaging::{Lining, Material, Shape, Substance};
use crate::kit::GraftKind;
use crate::math::interp::smooth_step;
use crate::math::{Vec3, ops};
use crate::mechanics::Placed;
use crate::mechanics::place::{CELLS_ROUND, GATE_LENGTH_MM};
use std::f64::consts::TAU;

/// Radius of a strut, mm (nitinol wire of 0.4 to 0.5 mm, usual, no source).
const STRUT_MM: f64 = 0.22;
/// Length and radius of a mark, mm (usual, no source).
const MARK_MM: (f64, f64) = (2.0, 0.4);
/// Over how much of its way a leg parts from the trunk, and comes back to its artery's middle beyond the bifurcation, mm.
const PARTS_MM: f64 = 14.0;
const RETURNS_MM: f64 = 18.0;
/// Least radius of a stream beside a leg's middle, as a part of the leg's: alone, and where two legs touch.
const ALONE: f64 = 0.6;
const TWO: f64 = 0.15;

impl World {
    /// Fabric that lines the aorta's stream.
    pub(super) fn linings(&self, tree: &Tree) -> Vec<Lining> {
        let pieces = &self.seal.pieces;
        let Some(legs) = Legs::of(tree, pieces) else {
            return pieces.iter().map(|p| lining(tree, &p.placed)).collect();
        };
        let (of_legs, others): (Vec<&Piece>, _) = pieces.iter().partition(|p| legs.hold(&p.placed));
        let alone = others.into_iter().map(|p| lining(tree, &p.placed));
        alone.chain([legs.lining(tree, &of_legs)]).collect()
    }

    /// Struts and marks of all grafts and stents, and what closes vessels.
    pub(super) fn struts(&self, tree: &Tree) -> Vec<Shape> {
        let pieces = &self.seal.pieces;
        let legs = Legs::of(tree, pieces);
        let mut out = Vec::new();
        for Piece { placed, .. } in pieces {
            let legs = legs.as_ref().filter(|l| l.hold(placed));
            let site = if leads_right(placed) { Site::RightFemoral } else { Site::LeftFemoral };
            let rail = Rail::for_access(tree, site).filter(|_| placed.at.route.len() > 1);
            let lie = Lie { tree, placed, legs, rail };
            lie.rings(&mut out);
            lie.bare(&mut out);
            lie.marks(&mut out);
        }
        if let Some(legs) = &legs {
            legs.gate(tree, &mut out);
        }
        out.extend(self.stents.iter().flat_map(|s| self.stent(tree, s)));
        out.extend(self.closures(tree));
        out
    }

    /// A stent outside the aorta: rings of six bends, 6 mm apart (usual, no source).
    fn stent(&self, tree: &Tree, stent: &Stented) -> Vec<Shape> {
        const APART_MM: f64 = 6.0;
        const BENDS: usize = 6;
        let Some(rail) = self.rail(stent.site) else { return Vec::new() };
        let (from, to) = stent.span_mm;
        let count = ((to - from) / APART_MM).max(1.0) as usize;
        let point = |s_mm: f64, turn: f64| {
            let r = 0.5 * stent.diameter_mm.min(rail.diameter_mm(tree, s_mm));
            let frame = rail.frame(tree, s_mm);
            frame.at + frame.radial(turn * TAU) * r
        };
        (0..count)
            .map(|i| {
                let top = from + APART_MM * i as f64;
                zigzag(BENDS, |up, turn| point(if up { top } else { (top + 0.9 * APART_MM).min(to) }, turn))
            })
            .collect()
    }
}

/// One ring of wire between two rounds of points; `at` takes which round and the part of a turn.
pub(super) fn zigzag(bends: usize, at: impl Fn(bool, f64) -> Vec3) -> Shape {
    let path = (0..=2 * bends).map(|k| at(k % 2 == 0, k as f64 / (2 * bends) as f64)).collect();
    Shape::rod(path, STRUT_MM, Substance::solid(Material::Nitinol))
}

/// A mark that runs from `at` towards `towards`.
pub(super) fn mark(at: Vec3, towards: Vec3) -> Shape {
    let path = vec![at, at + (towards - at).unit() * MARK_MM.0];
    Shape::rod(path, MARK_MM.1, Substance::solid(Material::Platinum))
}

/// The two legs of a body in the aorta.
struct Legs {
    /// Where the trunk forks, where the short leg opens, and where the aorta ends, mm from the valve.
    fork_mm: f64,
    gate_mm: f64,
    end_mm: f64,
    /// Radius of the short leg and of the long one, mm.
    radius_mm: [f64; 2],
    /// Rings of the short leg: from one to the next, and how high, mm.
    pitch_mm: f64,
    height_mm: f64,
    /// The long leg leads to the right.
    right: bool,
    /// From the left common iliac artery to the right one.
    across: Vec3,
}

impl Legs {
    /// Those of the last body with two legs.
    fn of(tree: &Tree, pieces: &[Piece]) -> Option<Self> {
        /// How far down the iliac arteries their sides are told, mm.
        const SIDE_MM: f64 = 30.0;
        let (piece, gate_at_mm, short_mm) = pieces.iter().rev().find_map(|p| match p.placed.graft.kind {
            GraftKind::BifurcatedBody { gate_at_mm, gate_mm } => Some((p, gate_at_mm, gate_mm)),
            _ => None,
        })?;
        let side = |name| tree.get(name).map(|v| v.curve.point(SIDE_MM.min(v.curve.length_mm())));
        let across = side(VesselName::RightCommonIliac)? - side(VesselName::LeftCommonIliac)?;
        let graft = &piece.placed.graft;
        let gate_mm = piece.placed.ends[0].edge_s_mm + gate_at_mm;
        Some(Self {
            fork_mm: gate_mm - GATE_LENGTH_MM,
            gate_mm,
            end_mm: tree.aorta().curve.length_mm(),
            radius_mm: [0.5 * short_mm, 0.5 * graft.distal_mm],
            pitch_mm: graft.pitch_mm,
            height_mm: graft.ring_height_mm.min(GATE_LENGTH_MM),
            right: leads_right(&piece.placed),
            across,
        })
    }

    /// Does this piece reach into the legs, or is it the body itself?
    fn hold(&self, placed: &Placed) -> bool {
        let reaches = placed.ends[1].edge_s_mm > self.fork_mm;
        reaches && matches!(placed.graft.kind, GraftKind::BifurcatedBody { .. } | GraftKind::Limb)
    }

    /// How far a leg of this radius is set aside at a place, mm from the valve.
    fn aside(&self, tree: &Tree, s_mm: f64, right: bool, radius_mm: f64) -> Vec3 {
        let aorta = tree.aorta();
        let s = s_mm.min(self.end_mm);
        let frame = aorta.curve.frame(s);
        let to = self.across.reject(frame.tangent).unit() * if right { 1.0 } else { -1.0 };
        let room = (aorta.lumen.radius(s, frame.angle_of(to)) - radius_mm).max(0.0);
        to * (radius_mm.min(room) * self.parted(s_mm))
    }

    /// From 0 in the trunk to 1 where the legs lie side by side, and back to 0 in the arteries.
    fn parted(&self, s_mm: f64) -> f64 {
        self.forked(s_mm) * (1.0 - smooth_step(self.end_mm, self.end_mm + RETURNS_MM, s_mm))
    }

    /// From 0 in the trunk, by way of [`Self::forks_mm`], to 1 in the legs.
    fn forked(&self, s_mm: f64) -> f64 {
        smooth_step(self.forks_mm(), self.fork_mm + 0.7 * PARTS_MM, s_mm)
    }

    /// Where the legs begin to part, mm from the valve.
    fn forks_mm(&self) -> f64 {
        self.fork_mm - 0.3 * PARTS_MM
    }

    /// Radius of the body's own long leg where its rings stand at `ring_mm`: below the fork it is a leg at once, while the
    /// model of seal lets it narrow evenly.
    fn long_mm(&self, s_mm: f64, ring_mm: f64) -> f64 {
        ring_mm + (self.radius_mm[1].min(ring_mm) - ring_mm) * self.forked(s_mm)
    }

    /// The short leg's own rings and the marks of its opening.
    fn gate(&self, tree: &Tree, out: &mut Vec<Shape>) {
        const BENDS: usize = 5;
        let r = self.radius_mm[0];
        let point = |s_mm: f64, turn: f64| {
            let frame = tree.aorta().curve.frame(s_mm.min(self.end_mm));
            frame.at + self.aside(tree, s_mm, !self.right, r) + frame.radial(turn * TAU) * r
        };
        let mut low = self.gate_mm;
        while low - self.height_mm > self.fork_mm + 0.5 * PARTS_MM {
            out.push(zigzag(BENDS, |up, turn| point(if up { low - self.height_mm } else { low }, turn)));
            low -= self.pitch_mm;
        }
        let marked = [0.0, 1.0 / 3.0, 2.0 / 3.0];
        out.extend(marked.map(|turn| mark(point(self.gate_mm, turn), point(self.gate_mm - 4.0, turn))));
    }

    /// One stream inside all of them: the trunk, then both legs side by side.
    fn lining(&self, tree: &Tree, pieces: &[&Piece]) -> Lining {
        let curve = &tree.aorta().curve;
        let edge = |end: usize| pieces.iter().map(move |p| p.placed.ends[end].edge_s_mm);
        let from_mm = edge(0).fold(f64::INFINITY, f64::min);
        let open_mm = pieces.iter().map(|p| opens_mm(tree, &p.placed)).fold(self.end_mm, f64::min);
        let length = (edge(1).fold(0.0, f64::max).min(open_mm) - from_mm).max(1.0);
        // Each row's place and mean radius, mm: the same for every angle.
        let rounds: Vec<Vec<(f64, f64)>> = pieces.iter().map(|p| rounds(&p.placed)).collect();
        let fabric = Lumen::sample(length, 2.0, CELLS_ROUND, |s, theta| {
            let at = from_mm + s;
            let wall = tree.aorta().lumen.radius(at, theta);
            let there = |(p, _): &(&&Piece, _)| {
                (p.placed.ends[0].edge_s_mm..=p.placed.ends[1].edge_s_mm).contains(&at)
            };
            let mut legs: Vec<(bool, f64)> = Vec::new();
            let mut r: f64 = 0.0;
            for (placed, rounds) in pieces.iter().zip(&rounds).filter(there).map(|(p, r)| (&p.placed, r)) {
                let lies_mm = fabric_mm(tree, placed, at, theta);
                let body = !matches!(placed.graft.kind, GraftKind::Limb);
                if body && at <= self.forks_mm() {
                    r = r.max(lies_mm);
                } else {
                    let round = mean_mm(rounds, at);
                    let radius = if body { self.long_mm(at, round) } else { round };
                    legs.push((leads_right(placed), radius));
                    if body && at < self.gate_mm {
                        legs.push((!self.right, self.long_mm(at, self.radius_mm[0].max(0.5 * round))));
                    }
                }
            }
            let both = legs.iter().any(|l| l.0) && legs.iter().any(|l| !l.0);
            let frame = curve.frame(at);
            for (right, radius) in legs {
                let off = self.aside(tree, at, right, radius);
                let ray = from_within(off.norm(), theta - frame.angle_of(off), radius);
                r = r.max(ray).max(radius * if both { TWO } else { ALONE });
            }
            r.clamp(1.0, wall.max(1.0))
        });
        Lining { vessel: 0, from_mm, to_mm: from_mm + length, fabric }
    }
}

/// Length of a ray at an angle from a point to the far side of a circle whose middle lies `off` away; 0 where it misses.
fn from_within(off: f64, angle_rad: f64, radius: f64) -> f64 {
    let (sin, cos) = ops::sin_cos(angle_rad);
    let root = radius * radius - off * off * sin * sin;
    if root < 0.0 { 0.0 } else { (off * cos + root.sqrt()).max(0.0) }
}

/// Does a piece lead into the right iliac artery?
fn leads_right(placed: &Placed) -> bool {
    placed.at.route.contains(&VesselName::RightCommonIliac)
}

/// Where a row lies, mm from the valve.
fn row_mm(placed: &Placed, row: usize) -> f64 {
    (0..CELLS_ROUND).map(|k| placed.cell(row, k).s_mm).sum::<f64>() / CELLS_ROUND as f64
}

/// Middle and mean radius of a row, mm.
fn round(placed: &Placed, row: usize) -> (Vec3, f64) {
    let cells = || (0..CELLS_ROUND).map(|k| placed.cell(row, k).at);
    let middle = cells().fold(Vec3::ZERO, |a, p| a + p) * (1.0 / CELLS_ROUND as f64);
    (middle, cells().map(|p| p.distance(middle)).sum::<f64>() / CELLS_ROUND as f64)
}

/// Place and mean radius of every row, mm.
fn rounds(placed: &Placed) -> Vec<(f64, f64)> {
    (0..placed.rows.len()).map(|r| (row_mm(placed, r), round(placed, r).1)).collect()
}

/// Mean radius of the row that lies nearest to a place, mm.
fn mean_mm(rounds: &[(f64, f64)], s_mm: f64) -> f64 {
    let off = |r: &(f64, f64)| (r.0 - s_mm).abs();
    rounds.iter().min_by(|a, b| off(a).total_cmp(&off(b))).map_or(0.0, |r| r.1)
}

/// The fabric's distance from the aorta's centreline at a place and angle, mm.
fn fabric_mm(tree: &Tree, placed: &Placed, s_mm: f64, theta_rad: f64) -> f64 {
    let k = (theta_rad / TAU * CELLS_ROUND as f64).round() as usize % CELLS_ROUND;
    let off = |r: &usize| (placed.cell(*r, k).s_mm - s_mm).abs();
    let nearest = (0..placed.rows.len()).min_by(|a, b| off(a).total_cmp(&off(b)));
    let wall = tree.aorta().lumen.radius(s_mm, theta_rad);
    let middle = tree.aorta().curve.point(s_mm);
    nearest.map_or(wall, |r| placed.cell(r, k).at.distance(middle).min(wall).max(1.0))
}

/// The fabric's inner face about the aorta's centreline. A graft that goes on into an iliac artery opens to that one's root
/// alone: what it cuts off lies behind fabric.
fn lining(tree: &Tree, placed: &Placed) -> Lining {
    let aorta = tree.aorta();
    let end_mm = aorta.curve.length_mm();
    let [up, down] = [placed.ends[0].edge_s_mm, placed.ends[1].edge_s_mm].map(|s| s.min(end_mm));
    let length = (down - up).max(1.0);
    let door = door(tree, placed);
    let fabric = Lumen::sample(length, 2.0, CELLS_ROUND, |s, theta| {
        let lies_mm = fabric_mm(tree, placed, up + s, theta);
        let Some(open) = door.map(|d| d.open(up + s, theta)) else { return lies_mm };
        // Where it is wide open nothing is left behind it.
        lies_mm + (1.05 * aorta.lumen.radius(up + s, theta) - lies_mm).max(0.0) * open
    });
    Lining { vessel: 0, from_mm: up, to_mm: up + length, fabric }
}

/// The root of the artery that a graft goes on into.
#[derive(Clone, Copy)]
struct Door {
    s_mm: f64,
    theta_rad: f64,
}

impl Door {
    /// How wide a place of the aorta opens to it, 0 to 1.
    fn open(&self, s_mm: f64, theta_rad: f64) -> f64 {
        /// The way over which the fabric turns towards it, and how far above it nothing is left behind the fabric, mm.
        const TURNS_MM: (f64, f64) = (18.0, 9.0);
        /// To either side, degrees: all open, and all fabric.
        const SIDE_DEG: (f64, f64) = (50.0, 90.0);
        let off = (theta_rad - self.theta_rad) / TAU;
        let off_deg = 360.0 * (off - off.round()).abs();
        smooth_step(self.s_mm - TURNS_MM.0, self.s_mm - TURNS_MM.1, s_mm)
            * smooth_step(SIDE_DEG.1, SIDE_DEG.0, off_deg)
    }
}

fn door(tree: &Tree, placed: &Placed) -> Option<Door> {
    let name = placed.at.route.get(1)?;
    let s_mm = tree.aortic_s_mm(*name).filter(|s| *s < placed.ends[1].edge_s_mm)?;
    Some(Door { s_mm, theta_rad: tree.get(*name)?.root?.theta_rad })
}

/// Where the lining of two legs ends at the latest, mm from the valve: they go on into the iliac arteries, and the aorta's
/// stream opens to both.
fn opens_mm(tree: &Tree, placed: &Placed) -> f64 {
    /// How far above an artery that it leads into a lining ends: its root then opens to the stream, not to what lies behind
    /// fabric, mm.
    const OPEN_MM: f64 = 2.5;
    let roots = placed.at.route.iter().skip(1).take(1).filter_map(|v| tree.aortic_s_mm(*v));
    let entered = roots.filter(|s| *s < placed.ends[1].edge_s_mm).map(|s| s - OPEN_MM);
    entered.fold(tree.aorta().curve.length_mm(), f64::min)
}

/// One graft where the picture finds it.
struct Lie<'a> {
    tree: &'a Tree,
    placed: &'a Placed,
    legs: Option<&'a Legs>,
    /// The way into the iliac artery that it leads to.
    rail: Option<Rail>,
}

impl Lie<'_> {
    /// The place of a cell: set aside where it is of a leg, and in the artery that the leg leads into, of which the model of
    /// seal knows a way that turns more gently.
    fn cell(&self, row: usize, column: usize) -> Vec3 {
        let at = self.placed.cell(row, column).at;
        let s_mm = row_mm(self.placed, row);
        let end_mm = self.tree.aorta().curve.length_mm();
        let beyond = smooth_step(end_mm, end_mm + RETURNS_MM, s_mm);
        let parted = self.legs.map_or(0.0, |l| l.parted(s_mm));
        if beyond <= 0.0 && parted <= 0.0 {
            return at;
        }
        let (middle, r) = round(self.placed, row);
        let (mut centre, mut radius) = (middle, r);
        if let Some(legs) = self.legs {
            let body = !matches!(self.placed.graft.kind, GraftKind::Limb);
            radius = if body { legs.long_mm(s_mm, r) } else { r };
            centre += legs.aside(self.tree, s_mm, leads_right(self.placed), radius);
        }
        if let Some(rail) = &self.rail {
            centre += (rail.frame(self.tree, s_mm).at - middle) * beyond;
        }
        centre + (at - middle) * (radius / r.max(0.1))
    }

    /// One zigzag for each ring that carries fabric.
    fn rings(&self, out: &mut Vec<Shape>) {
        let rows = &self.placed.rows;
        let apices = self.placed.graft.apices.max(4) as usize;
        let mut from = 0;
        while from < rows.len() {
            let to = from + rows[from..].iter().take_while(|r| r.ring == rows[from].ring).count() - 1;
            if !rows[from].fabric && to > from {
                out.push(zigzag(apices, |up, turn| self.cell(if up { from } else { to }, column(turn))));
            }
            from = to + 1;
        }
    }

    /// The bare stent above the fabric, from its edge up to the wall.
    fn bare(&self, out: &mut Vec<Shape>) {
        let graft = &self.placed.graft;
        let top_mm = self.placed.ends[0].edge_s_mm - graft.bare_proximal_mm;
        if graft.bare_proximal_mm <= 0.0 || top_mm < 0.0 || self.placed.rows.is_empty() {
            return;
        }
        let aorta = self.tree.aorta();
        let frame = aorta.curve.frame(top_mm);
        let (middle, _) = round(self.placed, 0);
        out.push(zigzag(graft.apices.max(4) as usize, |up, turn| {
            let at = self.cell(0, column(turn));
            if up {
                let theta = frame.angle_of(at - middle);
                frame.at + frame.radial(theta) * aorta.lumen.radius(top_mm, theta)
            } else {
                at
            }
        }));
    }

    /// Marks at both edges of the fabric: four above, two below.
    fn marks(&self, out: &mut Vec<Shape>) {
        let rows = self.placed.rows.len();
        if rows < 4 {
            return;
        }
        for (row, inward, count) in [(0, 3, 4), (rows - 1, rows - 4, 2)] {
            let turns = (0..count).map(|k| column(k as f64 / count as f64));
            out.extend(turns.map(|k| mark(self.cell(row, k), self.cell(inward, k))));
        }
    }
}

fn column(turn: f64) -> usize {
    (turn * CELLS_ROUND as f64) as usize % CELLS_ROUND
}
