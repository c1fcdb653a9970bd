//! The unrolled fabric: rows and cells with their gaps, the pressure that seals, and the mouths of branches.

use super::contact::{ANGLES, RingSpec, STRUT_KPA_PER_MM, ring_points, row_offsets, waves};
use super::place::{Case, Cell, Ostium, Placed, Row};
use super::plan::{Plan, middle_mm};
use super::tube::{Route, Tube, WALL_KPA_PER_MM};
use crate::anatomy::{Tree, VesselName};
use crate::kit::GraftKind;
use crate::math::{Vec3, ops};

/// Fills rows and cells from the rings.
pub(super) fn unroll(placed: &mut Placed, tube: &Tube, plan: &Plan, case: &Case) {
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
    let local = 1.0 / (1.0 / WALL_KPA_PER_MM + 1.0 / STRUT_KPA_PER_MM);
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
pub(super) fn ostia(tree: &Tree, route: &Route, tube: &Tube, placed: &Placed) -> Vec<Ostium> {
    let mut out = Vec::new();
    for vessel in &tree.vessels {
        // The entry of a false lumen is a tear, not a branch.
        let Some(root) = vessel.root.filter(|_| vessel.name != VesselName::FalseLumen) else { continue };
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
        let theta_rad = ops::atan2(dir.dot(frame[3]), dir.dot(frame[2]));
        let wall = tube.radius_at(s_mm, theta_rad);
        let k = tube.curvature(s_mm);
        let (sin, cos) = ops::sin_cos(theta_rad);
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
            let (s, c) = ops::sin_cos(GOLDEN_ANGLE * i as f64);
            !covered(r * c, r * s)
        })
        .count();
    open as f64 / SAMPLES as f64
}
