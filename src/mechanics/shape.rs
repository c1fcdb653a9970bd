//! What a placed graft's grid says: folds, the work of a balloon, seal lengths and the beak.

use super::contact::ANGLES;
use super::place::{Case, End, Placed, SacPatch, turn_between};
use super::plan::{Plan, free_diameter_mm};
use super::tube::Tube;
use crate::math::ops;

/// Part of a ring's height that its neighbour's bends can slide into at the inner side of a curve (assumed).
pub(super) const NESTING: f64 = 0.5;
/// Fabric closer than this to the wall counts as touching, mm.
const TOUCH_MM: f64 = 0.25;
/// Width of a fold's mouth, mm (assumed).
const FOLD_MOUTH_MM: f64 = 6.0;
/// How much earlier fabric folds in a bend: loss of the onset strain for each unit of curvature times diameter (assumed).
const FOLD_CURVE: f64 = 0.03;
/// Bends gentler than this have no inner side, 1/mm.
const STRAIGHT_PER_MM: f64 = 1.0 / 300.0;
/// Part of the reachable gap, and of a fold, that stays closed after a balloon (assumed).
const MOULD_GAP: f64 = 0.6;
const MOULD_FOLD: f64 = 0.5;

/// Angle of the inner side over a stretch, if it is bent.
pub(super) fn inner_theta(tube: &Tube, s_mm: f64) -> Option<f64> {
    let k = tube.mean_curvature(s_mm - 8.0, s_mm + 8.0);
    let size = (k[0] * k[0] + k[1] * k[1]).sqrt();
    (size > STRAIGHT_PER_MM).then(|| ops::atan2(k[1], k[0]))
}

/// Fabric that the wall leaves no room for folds inward and leaves a channel behind it.
pub(super) fn fold(placed: &mut Placed, tube: &Tube, plan: &Plan, case: &Case) {
    let onset = 1.0 - 1.0 / (1.0 + case.fold_onset);
    let specs: Vec<_> = (0..plan.rings.len()).filter(|&i| plan.covered[i]).collect();
    let mut area = vec![None; specs.len()];
    let mut depth = vec![0.0; specs.len()];
    let mut deepest = (0.0, 0);
    for (k, &i) in specs.iter().enumerate() {
        let spec = &plan.rings[i];
        // Only rows that a neck holds all but round: a ring that hangs in the sac is free.
        let rows: Vec<usize> = (0..placed.rows.len())
            .filter(|&r| {
                let cells = &placed.cells[r * ANGLES..(r + 1) * ANGLES];
                placed.rows[r].ring == k as f64
                    && 2 * cells.iter().filter(|c| c.gap_mm <= 0.0).count() >= ANGLES
                    && 2 * cells.iter().filter(|c| !c.sac).count() > ANGLES
            })
            .collect();
        if rows.is_empty() {
            continue;
        }
        let s = rows.iter().map(|&r| row_station(placed, r)).sum::<f64>() / rows.len() as f64;
        let wall = tube.mean_radius(s);
        let k_size = {
            let c = tube.mean_curvature(spec.s_mm - 8.0, spec.s_mm + 8.0);
            (c[0] * c[0] + c[1] * c[1]).sqrt()
        };
        let strain = 1.0 - wall / spec.free_mm;
        let excess =
            std::f64::consts::TAU * spec.free_mm * (strain - (onset - FOLD_CURVE * k_size * 2.0 * wall));
        let mut excess = excess.max(0.0);
        if plan.pressed[i].is_some() {
            excess *= 1.0 - MOULD_FOLD;
        }
        let m = FOLD_MOUTH_MM;
        depth[k] = 0.5 * ((excess + m) * (excess + m) - m * m).sqrt();
        area[k] = Some(0.5 * m * depth[k]);
        if depth[k] > deepest.0 {
            deepest = (depth[k], k);
        }
    }
    let held: Vec<(f64, f64)> =
        area.iter().enumerate().filter_map(|(k, a)| a.map(|a| (k as f64, a))).collect();
    for row in &mut placed.rows {
        row.fold_mm2 = crate::math::interp::linear(&held, row.ring);
    }
    placed.ends[0].fold_depth_mm = depth[0];
    placed.ends[1].fold_depth_mm = depth[depth.len() - 1];
    placed.fold_column = fold_column(placed, tube, plan.rings[specs[deepest.1]].s_mm, deepest.1);
}

/// One fold line along the graft: on the inner side of a bend, else where the fabric presses least.
fn fold_column(placed: &Placed, tube: &Tube, s_mm: f64, ring: usize) -> usize {
    if let Some(theta) = inner_theta(tube, s_mm) {
        let turns = theta / std::f64::consts::TAU;
        return (((turns - turns.floor()) * ANGLES as f64) as usize).min(ANGLES - 1);
    }
    let pressure = |k: usize| -> f64 {
        (0..placed.rows.len())
            .filter(|&r| placed.rows[r].ring == ring as f64)
            .map(|r| {
                placed.cell(r, k).contact_kpa
                    + placed.cell(r, k + 1).contact_kpa
                    + placed.cell(r, k + ANGLES - 1).contact_kpa
            })
            .sum()
    };
    let mut best = (f64::INFINITY, 0);
    for k in 0..ANGLES {
        let p = pressure(k);
        if p < best.0 {
            best = (p, k);
        }
    }
    best.1
}

fn row_station(placed: &Placed, row: usize) -> f64 {
    (0..ANGLES).map(|k| placed.cell(row, k).s_mm).sum::<f64>() / ANGLES as f64
}

/// What a balloon leaves behind: cells pressed outward as far as it reached and the fabric allows.
pub(super) fn mould(placed: &mut Placed, tube: &Tube, plan: &Plan) {
    let specs: Vec<_> = (0..plan.rings.len()).filter(|&i| plan.covered[i]).collect();
    for (k, &i) in specs.iter().enumerate() {
        let Some(balloon_mm) = plan.pressed[i] else { continue };
        let spec = &plan.rings[i];
        let wall = tube.mean_radius(spec.s_mm);
        placed.wall_stretch = placed.wall_stretch.max(0.5 * balloon_mm / wall - 1.0);
        // Fabric cannot stretch, so an undersized graft is not rescued.
        let slack = (spec.free_mm - placed.rings[i][4]).max(0.0);
        let rows: Vec<usize> = (0..placed.rows.len()).filter(|&r| placed.rows[r].ring == k as f64).collect();
        let moved = |gap: f64| MOULD_GAP * gap.min((0.5 * balloon_mm - (wall - gap)).max(0.0));
        let cells = || rows.iter().flat_map(|&r| r * ANGLES..(r + 1) * ANGLES);
        let mean =
            cells().map(|c| moved(placed.cells[c].gap_mm)).sum::<f64>() / (rows.len() * ANGLES).max(1) as f64;
        let scale = if mean > slack { slack / mean } else { 1.0 };
        for c in cells() {
            let gap = placed.cells[c].gap_mm;
            placed.cells[c].gap_mm = gap - scale * moved(gap);
        }
    }
}

/// Seal, oversize and beak at both ends.
pub(super) fn judge_ends(placed: &mut Placed, tube: &Tube, case: &Case) {
    let n = placed.rows.len();
    for side in 0..2 {
        let edge = placed.ends[side].edge_s_mm;
        let order: Vec<usize> = if side == 0 { (0..n).collect() } else { (0..n).rev().collect() };
        placed.inner_theta_rad[side] = inner_theta(tube, edge);
        let inner = placed.inner_theta_rad[side];
        let mut end =
            End { fold_depth_mm: placed.ends[side].fold_depth_mm, edge_s_mm: edge, ..End::default() };
        // The landing: from the edge to the first row that the sac takes half of, or to a smaller mouth.
        let takes = |part: usize| {
            let in_sac = |r: usize| (0..ANGLES).filter(|&k| placed.cell(r, k).sac).count();
            order.iter().position(move |&r| part * in_sac(r) >= ANGLES)
        };
        let sac_row = takes(2).or_else(|| takes(ANGLES));
        // Where nothing leads into a sac, each end answers for its half of the graft.
        let landing = &order[..sac_row.unwrap_or(n.div_ceil(2))];
        let walls = placed.rows.iter().zip(placed.cells.chunks(ANGLES));
        let walls: Vec<f64> = walls
            .map(|(_, cells)| {
                cells.iter().map(|c| tube.radius_at(c.s_mm, c.theta_rad)).sum::<f64>() * 2.0 / ANGLES as f64
            })
            .collect();
        let sample = if landing.is_empty() { &order[..1] } else { landing };
        end.vessel_mm = sample.iter().map(|&r| walls[r]).sum::<f64>() / sample.len() as f64;
        end.graft_mm =
            free_diameter_mm(&placed.graft, if side == 0 { 0.0 } else { placed.graft.open_length_mm() });
        end.oversize_percent = 100.0 * (end.graft_mm / end.vessel_mm - 1.0);
        end.in_graft = 2 * (0..ANGLES).filter(|&k| placed.cell(order[0], k).lined).count() > ANGLES;
        end.fold_mm2 = landing.iter().map(|&r| placed.rows[r].fold_mm2).fold(0.0, f64::max);
        let cells = landing.len() * ANGLES;
        if cells > 0 {
            end.contact_kpa = landing
                .iter()
                .flat_map(|&r| (0..ANGLES).map(move |k| (r, k)))
                .map(|(r, k)| placed.cell(r, k).contact_kpa)
                .sum::<f64>()
                / cells as f64;
        }
        let until = |columns: &[usize]| {
            // A tilted ring meets the sac at other rows on its two sides.
            let sac = order.iter().position(|&r| columns.iter().any(|&k| placed.cell(r, k).sac));
            run_mm(placed, case, &order, sac.unwrap_or(n.div_ceil(2)), columns)
        };
        let all: Vec<usize> = (0..ANGLES).collect();
        end.seal_mm = until(&all);
        end.inner_seal_mm = match inner {
            Some(theta) => {
                let near: Vec<usize> = (0..ANGLES)
                    .filter(|&k| turn_between(placed.cell(order[0], k).theta_rad, theta).abs() < 0.35)
                    .collect();
                let stretch =
                    near.iter().map(|&k| inner_scale(placed, &order, landing.len(), k)).sum::<f64>()
                        / near.len().max(1) as f64;
                until(&near) * stretch
            }
            None => end.seal_mm,
        };
        end.soft_seal_mm = landing
            .iter()
            .map(|&r| {
                let mean = (0..ANGLES)
                    .map(|k| {
                        let c = placed.cell(r, k);
                        let touch = if c.sac { 0.0 } else { ops::logistic((TOUCH_MM - c.gap_mm) / 0.1) };
                        ops::powi(touch.max(1e-3), -4)
                    })
                    .sum::<f64>()
                    / ANGLES as f64;
                placed.cell(r, 0).size_mm[0] / mean.sqrt().sqrt()
            })
            .sum();
        beak(placed, &order, inner, &mut end);
        placed.ends[side] = end;
    }
}

/// Real wall length for each mm of fabric on one column of a landing.
fn inner_scale(placed: &Placed, order: &[usize], landing: usize, column: usize) -> f64 {
    let rows = &order[..landing.max(2).min(order.len())];
    let (a, b) = (rows[0], rows[rows.len() - 1]);
    let fabric = (placed.rows[a].from_edge_mm - placed.rows[b].from_edge_mm).abs();
    let real = placed.cell(a, column).at.distance(placed.cell(b, column).at);
    if fabric > 0.0 { (real / fabric).min(1.0) } else { 1.0 }
}

/// Longest stretch of fabric from the edge to the sac where all the given columns touch, mm.
fn run_mm(placed: &Placed, case: &Case, order: &[usize], landing: usize, columns: &[usize]) -> f64 {
    let length = placed.graft.open_length_mm();
    let from_edge = |r: usize, flip: bool| {
        let x = placed.rows[r].from_edge_mm;
        if flip { length - x } else { x }
    };
    let flip = order.len() > 1 && order[0] > order[1];
    let worst = |r: usize| columns.iter().map(|&k| placed.cell(r, k).gap_mm).fold(0.0, f64::max);
    // The exact distance at which the first of these columns meets the sac.
    let mut limit = length;
    for w in order[..(landing + 1).min(order.len())].windows(2) {
        for &k in columns {
            let (a, b) = (placed.cell(w[0], k), placed.cell(w[1], k));
            if b.sac && !a.sac {
                let s = sac_border(case, a.s_mm, b.s_mm, b.theta_rad);
                let f = if (b.s_mm - a.s_mm).abs() > 1e-9 { (s - a.s_mm) / (b.s_mm - a.s_mm) } else { 1.0 };
                let x = from_edge(w[0], flip)
                    + f.clamp(0.0, 1.0) * (from_edge(w[1], flip) - from_edge(w[0], flip));
                limit = limit.min(x);
            }
        }
    }
    let mut best = 0.0f64;
    let mut began: Option<f64> = None;
    let mut before: Option<(f64, f64)> = None;
    for &r in &order[..landing.min(order.len())] {
        let (x, g) = (from_edge(r, flip), worst(r));
        match (began, g <= TOUCH_MM) {
            (None, true) => {
                began = Some(before.map_or(0.0, |(bx, bg)| bx + (x - bx) * (bg - TOUCH_MM) / (bg - g)));
            }
            (Some(start), false) => {
                let (bx, bg) = before.unwrap_or((x, g));
                let stop = bx + (x - bx) * (TOUCH_MM - bg) / (g - bg).max(1e-12);
                best = best.max(stop.min(limit) - start);
                began = None;
            }
            _ => {}
        }
        before = Some((x, g));
    }
    if let (Some(start), Some((x, _))) = (began, before) {
        let stop = if landing < order.len() { limit } else { length };
        best = best.max(stop.max(x.min(limit)) - start);
    }
    best.max(0.0)
}

/// Station between two places at which the sac begins.
fn sac_border(case: &Case, outside_mm: f64, inside_mm: f64, theta_rad: f64) -> f64 {
    let patches = case.sac.iter().filter(|p: &&SacPatch| p.holds(inside_mm, theta_rad));
    patches.map(|p| if outside_mm <= p.from_mm { p.from_mm } else { p.to_mm }).next().unwrap_or(inside_mm)
}

/// Height and angle of the wedge under the edge on the inner side.
fn beak(placed: &Placed, order: &[usize], inner: Option<f64>, end: &mut End) {
    let mut best = (0.0, 0);
    let (r0, r1) = (order[0], order[1.min(order.len() - 1)]);
    for k in 0..ANGLES {
        let cell = placed.cell(r0, k);
        if inner.is_some_and(|t| turn_between(cell.theta_rad, t).abs() > 1.2) {
            continue;
        }
        // The edge lies half a row beyond the first row's middle.
        let gap = cell.gap_mm;
        let at_edge = if gap > 0.0 { gap + 0.5 * (gap - placed.cell(r1, k).gap_mm) } else { 0.0 };
        if at_edge > best.0 {
            best = (at_edge, k);
        }
    }
    let (height, k) = best;
    let mut run = 0.5;
    for w in order.windows(2) {
        if placed.cell(w[1], k).gap_mm < 0.1 * height.max(0.5) {
            break;
        }
        run += placed.cell(w[1], k).size_mm[0];
    }
    end.beak_mm = height;
    end.beak_theta_rad = placed.cell(r0, k).theta_rad;
    end.beak_deg = if height > 0.0 { ops::atan2(height, run).to_degrees() } else { 0.0 };
}
