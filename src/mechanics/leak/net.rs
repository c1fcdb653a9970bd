//! The graph of the films, Newton's method on it, and where its flow came from.

use super::{BranchSource, Film};
use crate::math::{interp, ops, through};
use crate::mechanics::contact::ANGLES;
use crate::mechanics::linear::Skyline;
use crate::mechanics::place::{Cell, Placed, turn_between};

/// Viscosity of blood, kPa s (3.5 mPa s, textbook; no shear thinning).
const MU: f64 = 3.5e-6;
/// Density of blood, kPa s²/mm² (1060 kg/m³).
const RHO: f64 = 1.06e-6;
/// Film under fabric that just touches, and under fabric that presses hard, mm; and the pressure that thins it, kPa.
/// Set so that under 5 % oversizing leaks and 10 to 20 % seals, which is what is reported of patients: not measured.
const FILM_LOOSE_MM: f64 = 0.15;
const FILM_TIGHT_MM: f64 = 0.020;
const FILM_KPA: f64 = 1.5;
/// Discharge coefficient of an edge, and Darcy's factor of a rough slot (textbook order).
const DISCHARGE: f64 = 0.6;
const DARCY: f64 = 0.04;
/// Width of a fold's mouth, mm.
const FOLD_MOUTH_MM: f64 = 6.0;
/// Films thinner than the first number clot whole, thicker than the second not at all, mm (assumed).
const CLOT_MM: (f64, f64) = (0.06, 0.15);
/// What is left of a clotted film, mm.
const CLOTTED_MM: f64 = 0.003;
/// Newton rounds at most.
const ROUNDS: usize = 40;

pub(super) const PROXIMAL: usize = 0;
pub(super) const DISTAL: usize = 1;
pub(super) const SAC: usize = 2;
pub(super) const JUNCTION: usize = 3;
pub(super) const DISTAL_LEFT: usize = 4;
pub(super) const BRANCHES: usize = 5;

#[derive(Clone, Copy, PartialEq)]
enum Joint {
    Node(usize),
    End(usize),
}

struct Edge {
    a: Joint,
    b: Joint,
    r: f64,
    k: f64,
}

impl Edge {
    /// Flow at a pressure difference, mL/s.
    fn flow(&self, dp_kpa: f64) -> f64 {
        through(dp_kpa, self.r, self.k)
    }
}

/// The part of a step to take, of which `slope` tells how steeply the sum falls (negative) or rises along it: all of it, unless it
/// leads well uphill again; then to near the bottom.
fn part_of_step(slope: impl Fn(f64) -> f64) -> f64 {
    let falls = -slope(0.0);
    let flat = |s: f64| s.abs() <= 0.25 * falls;
    let (mut low, mut high) = ((0.0, -falls), (1.0, slope(1.0)));
    if falls <= 0.0 || high.1 <= 0.0 || flat(high.1) {
        return 1.0;
    }
    for _ in 0..12 {
        // Where a straight line between the two crosses, kept off the ends.
        let cross = (high.1 * low.0 - low.1 * high.0) / (high.1 - low.1);
        let part = cross.clamp(low.0 + 0.1 * (high.0 - low.0), high.0 - 0.1 * (high.0 - low.0));
        let here = (part, slope(part));
        if flat(here.1) {
            return part;
        }
        if here.1 > 0.0 { high = here } else { low = here }
    }
    0.5 * (low.0 + high.0)
}

/// Films of all pieces, joined to lumen, sac and branches.
pub(super) struct Net {
    nodes: usize,
    edges: Vec<Edge>,
    /// Place and volume (mL) of each node.
    place: Vec<(f64, f64, f64)>,
    /// Ends at given pressures.
    pub terminals: usize,
    /// Ends that hang open in the sac: terminal, place.
    hanging: Vec<(usize, (f64, f64))>,
    first: Vec<usize>,
}

/// Flow through the network.
pub(super) struct Solved {
    /// For each terminal: flow into the sac mL/s, where most of it enters, mean age there s.
    pub into_sac: Vec<(f64, (f64, f64), f64)>,
    /// Where most of each terminal's flow leaves it.
    pub from: Vec<(f64, f64)>,
    pub imbalance: f64,
    pub rounds: usize,
    /// Pressure of each node above the sac's, kPa.
    p: Vec<f64>,
    drive_kpa: f64,
}

/// Jet loss of an opening, kPa s²/mL².
pub(super) fn jet(area_mm2: f64) -> f64 {
    RHO / 2.0 / (area_mm2 * area_mm2) * 1e6 / (DISCHARGE * DISCHARGE)
}

/// A slot's resistance kPa s/mL and jet loss kPa s²/mL².
fn slot(gap: f64, width: f64, length: f64, ends: f64) -> (f64, f64) {
    let area = gap * width;
    let r = 12.0 * MU * length / (gap * gap * gap * width) * 1e3;
    let k = RHO / 2.0 / (area * area)
        * 1e6
        * (ends * 0.5 / (DISCHARGE * DISCHARGE) + DARCY * length / (2.0 * gap));
    (r, k)
}

/// Thickness of the film in a cell, mm.
pub(super) fn thickness(gap_mm: f64, contact_kpa: f64, film: &Film) -> f64 {
    let g = gap_mm + FILM_TIGHT_MM + (FILM_LOOSE_MM - FILM_TIGHT_MM) * ops::exp(-contact_kpa / FILM_KPA);
    // Films are fed by laminar flow; beyond a few millimetres the cell is open water.
    let g = g.min(8.0);
    let clot = film.clotted.clamp(0.0, 1.0) * (1.0 - interp::smooth_step(CLOT_MM.0, CLOT_MM.1, g));
    g + (CLOTTED_MM - g) * clot
}

impl Net {
    pub(super) fn build(pieces: &[Placed], sources: &[BranchSource], film: &Film) -> Self {
        // Rows of all pieces in order along the ruler keep the matrix narrow.
        let mut order: Vec<(f64, usize, usize)> = Vec::new();
        for (p, piece) in pieces.iter().enumerate() {
            for r in 0..piece.rows.len() {
                let s = (0..ANGLES).map(|k| piece.cell(r, k).s_mm).sum::<f64>() / ANGLES as f64;
                order.push((s, p, r));
            }
        }
        order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
        let mut id: Vec<Vec<Option<usize>>> = pieces.iter().map(|p| vec![None; p.cells.len()]).collect();
        let mut place = Vec::new();
        let mut branch_id = vec![None; sources.len()];
        let reached: Vec<Vec<(usize, usize)>> = sources.iter().map(|b| cells_at(pieces, b)).collect();
        let last_row: Vec<Option<usize>> = reached
            .iter()
            .map(|cells| {
                order.iter().rposition(|&(_, p, r)| cells.iter().any(|&(cp, c)| cp == p && c / ANGLES == r))
            })
            .collect();
        for (rank, &(_, p, r)) in order.iter().enumerate() {
            for j in 0..ANGLES {
                // Round the ring from both sides at once, so that neighbours stay near in the order.
                let k = if j % 2 == 0 { j / 2 } else { ANGLES - 1 - j / 2 };
                let cell = pieces[p].cell(r, k);
                if cell.sac {
                    continue;
                }
                id[p][r * ANGLES + k] = Some(place.len());
                let g = thickness(cell.gap_mm, cell.contact_kpa, &film.of(&pieces[p]));
                place.push((cell.s_mm, cell.theta_rad, g * cell.size_mm[0] * cell.size_mm[1] * 1e-3));
            }
            for (b, last) in last_row.iter().enumerate() {
                if *last == Some(rank) {
                    branch_id[b] = Some(place.len());
                    place.push((sources[b].at.0, sources[b].at.1, 0.0));
                }
            }
        }
        let mut net = Self {
            nodes: place.len(),
            edges: Vec::new(),
            place,
            terminals: BRANCHES + sources.len(),
            hanging: Vec::new(),
            first: Vec::new(),
        };
        for (p, piece) in pieces.iter().enumerate() {
            let film = film.of(piece);
            net.film_of(piece, &id[p], &film);
            net.gutter_of(piece, &id[p]);
            net.ends_of(p, pieces, &id, &film);
        }
        for (b, source) in sources.iter().enumerate() {
            let k = |share: f64| jet(share.max(1e-3));
            match branch_id[b] {
                Some(node) => {
                    net.join(Joint::End(BRANCHES + b), Joint::Node(node), 1e-4, 0.0);
                    let share = source.mouth_mm2 / reached[b].len() as f64;
                    for &(p, c) in &reached[b] {
                        let to = id[p][c].map_or(Joint::End(SAC), Joint::Node);
                        net.join(Joint::Node(node), to, 0.01, k(share));
                    }
                }
                None if source.resistance_mmhg_s_ml.is_finite() => {
                    net.join(Joint::End(BRANCHES + b), Joint::End(SAC), 0.01, k(source.mouth_mm2));
                }
                None => {}
            }
        }
        let mut first: Vec<usize> = (0..net.nodes).collect();
        for e in &net.edges {
            if let (Joint::Node(a), Joint::Node(b)) = (e.a, e.b) {
                let (lo, hi) = (a.min(b), a.max(b));
                first[hi] = first[hi].min(lo);
            }
        }
        net.first = first;
        net
    }

    fn join(&mut self, a: Joint, b: Joint, r: f64, k: f64) {
        self.edges.push(Edge { a, b, r, k });
    }

    /// Slots from cell to cell.
    fn film_of(&mut self, piece: &Placed, id: &[Option<usize>], film: &Film) {
        let n = piece.rows.len();
        for i in 0..n {
            for k in 0..ANGLES {
                let here = i * ANGLES + k;
                let ahead = (i + 1 < n).then_some((here + ANGLES, 0));
                let round = Some((i * ANGLES + (k + 1) % ANGLES, 1));
                for (there, way) in [ahead, round].into_iter().flatten() {
                    let (a, b) = (&piece.cells[here], &piece.cells[there]);
                    let width = 0.5 * (a.size_mm[1 - way] + b.size_mm[1 - way]);
                    let g = |c: &Cell| thickness(c.gap_mm, c.contact_kpa, film);
                    match (id[here], id[there]) {
                        (Some(x), Some(y)) => {
                            let (la, lb) = (a.size_mm[way], b.size_mm[way]);
                            let (ga, gb) = (g(a), g(b));
                            let series = la / (ga * ga * ga) + lb / (gb * gb * gb);
                            let mean = ops::cbrt((la + lb) / series);
                            let r = 6.0 * MU * 1e3 / width * series;
                            let k = slot(mean, width, 0.5 * (la + lb), 0.0).1;
                            self.join(Joint::Node(x), Joint::Node(y), r, k);
                        }
                        (Some(x), None) => {
                            let (r, k) = slot(g(a), a.size_mm[1 - way], 0.5 * a.size_mm[way], 1.0);
                            self.join(Joint::Node(x), Joint::End(SAC), r, k);
                        }
                        (None, Some(y)) => {
                            let (r, k) = slot(g(b), b.size_mm[1 - way], 0.5 * b.size_mm[way], 1.0);
                            self.join(Joint::Node(y), Joint::End(SAC), r, k);
                        }
                        (None, None) => {}
                    }
                }
            }
        }
    }

    /// The channel behind a fold: a duct along one column.
    fn gutter_of(&mut self, piece: &Placed, id: &[Option<usize>]) {
        let n = piece.rows.len();
        let col = piece.fold_column;
        let node = |i: usize| id[i * ANGLES + col].filter(|_| piece.rows[i].fold_mm2 > 0.05);
        for i in 0..n {
            let Some(x) = node(i) else { continue };
            let area = piece.rows[i].fold_mm2;
            let depth = 2.0 * area / FOLD_MOUTH_MM;
            let wet = FOLD_MOUTH_MM + 2.0 * ops::hypot(depth, 0.5 * FOLD_MOUTH_MM);
            let dh = 4.0 * area / wet;
            let length = piece.cell(i, col).size_mm[0];
            let r = 32.0 * MU * length / (area * dh * dh) * 1e3;
            let head = RHO / 2.0 / (area * area) * 1e6;
            let (k, mouth) = (head * DARCY * length / dh, head * 0.5 / (DISCHARGE * DISCHARGE));
            let to_lumen = |net: &mut Self, end: usize| {
                if !piece.cell(i, col).lined {
                    net.join(Joint::End(end), Joint::Node(x), 0.5 * r, 0.5 * k + mouth);
                }
            };
            if i == 0 {
                to_lumen(self, if piece.ends[0].in_graft { JUNCTION } else { PROXIMAL });
            }
            if i + 1 == n {
                to_lumen(self, if piece.ends[1].in_graft { JUNCTION } else { distal(piece) });
            }
            if i + 1 < n {
                match (node(i + 1), id[(i + 1) * ANGLES + col]) {
                    (Some(y), _) => self.join(Joint::Node(x), Joint::Node(y), r, k),
                    (None, None) => self.join(Joint::Node(x), Joint::End(SAC), 0.5 * r, 0.5 * k + mouth),
                    _ => {}
                }
            }
            if i > 0 && id[(i - 1) * ANGLES + col].is_none() {
                self.join(Joint::Node(x), Joint::End(SAC), 0.5 * r, 0.5 * k + mouth);
            }
        }
    }

    /// Edges open to the lumen, to an earlier piece's lumen, or under a later piece.
    fn ends_of(&mut self, p: usize, pieces: &[Placed], id: &[Vec<Option<usize>>], film: &Film) {
        let piece = &pieces[p];
        for (side, lumen) in [(0, PROXIMAL), (1, distal(piece))] {
            let row = if side == 0 { 0 } else { piece.rows.len() - 1 };
            // Whatever leaves by an edge that faces another piece's leaves by their junction.
            let here = piece.ends[side].edge_s_mm;
            let between = pieces.iter().enumerate().any(|(q, other)| {
                let [up, down] = [0, 1].map(|e: usize| other.ends[e].edge_s_mm);
                q != p && other.same_vessel(piece, here) && if side == 0 { down < here } else { up > here }
            });
            for k in 0..ANGLES {
                let cell = piece.cell(row, k);
                // An edge that hangs in the sac is an open end.
                let x = id[p][row * ANGLES + k].map_or(Joint::End(SAC), Joint::Node);
                let g = thickness(cell.gap_mm, cell.contact_kpa, film);
                let (r, loss) = slot(g, cell.size_mm[1], 0.5 * cell.size_mm[0], 1.0);
                let (theta, s) = piece.edges[side][k];
                let meets = |q: &Placed| q.same_vessel(piece, s) && q.spans(s, theta);
                let over = (p + 1..pieces.len()).find(|&q| meets(&pieces[q]));
                let to = match over {
                    Some(q) => match pieces[q].nearest_cell(s, theta).and_then(|c| id[q][c]) {
                        Some(y) => Joint::Node(y),
                        None => Joint::End(SAC),
                    },
                    None if between || pieces[..p].iter().any(meets) => Joint::End(JUNCTION),
                    None => Joint::End(lumen),
                };
                if let (Joint::End(t), Joint::End(SAC)) = (to, x) {
                    self.hanging.push((t, (s, theta)));
                }
                if to != x {
                    self.join(to, x, r, loss);
                }
            }
        }
    }

    /// Newton's method with every source `drive_kpa` above the sac, from the pressures at another drive where they are known. The
    /// pressures are the least of a convex sum, so a step that overshoots along its way is shortened to where it turns uphill.
    pub(super) fn solve(&self, drive_kpa: f64, known: Option<&Solved>) -> Solved {
        let fixed = |t: usize| if t == SAC { 0.0 } else { drive_kpa };
        let across = |p: &[f64], edge: &Edge| {
            let at = |j: Joint| match j {
                Joint::Node(i) => p[i],
                Joint::End(t) => fixed(t),
            };
            at(edge.a) - at(edge.b)
        };
        let n = self.nodes;
        let mut p = vec![0.5 * drive_kpa; n];
        let mut g: Vec<f64> = self.edges.iter().map(|e| 1.0 / e.r.max(1e-9)).collect();
        let mut q = vec![0.0; self.edges.len()];
        let mut s = vec![0.0; self.edges.len()];
        // The tangent of each edge's law at its pressure difference; the greatest change of a flow, and the greatest flow.
        let tangents = |p: &[f64], q: &mut [f64], g: &mut [f64], s: &mut [f64]| {
            let (mut change, mut most) = (0.0f64, 1e-6f64);
            for (e, edge) in self.edges.iter().enumerate() {
                let dp = across(p, edge);
                let now = edge.flow(dp);
                change = change.max((now - q[e]).abs());
                most = most.max(now.abs());
                q[e] = now;
                g[e] = 1.0 / (edge.r + 2.0 * edge.k * now.abs());
                s[e] = now - g[e] * dp;
            }
            (change, most)
        };
        if let Some(known) = known {
            p = known.p.iter().map(|p| p * (drive_kpa / known.drive_kpa)).collect();
            tangents(&p, &mut q, &mut g, &mut s);
        }
        let mut m = Skyline::new(self.first.clone());
        let mut rounds = 0;
        for round in 1..=ROUNDS {
            rounds = round;
            m.clear();
            let mut rhs = vec![0.0; n];
            for (e, edge) in self.edges.iter().enumerate() {
                for (one, other, sign) in [(edge.a, edge.b, -1.0), (edge.b, edge.a, 1.0)] {
                    let Joint::Node(i) = one else { continue };
                    m.add(i, i, g[e]);
                    rhs[i] += sign * s[e];
                    match other {
                        Joint::Node(j) if j < i => m.add(i, j, -g[e]),
                        Joint::End(t) => rhs[i] += g[e] * fixed(t),
                        Joint::Node(_) => {}
                    }
                }
            }
            for i in 0..n {
                m.add(i, i, 1e-12);
            }
            m.factor(1e-18);
            m.solve(&mut rhs);
            // A first round that has no flow to start from is the network without its jets.
            let part = if round == 1 && known.is_none() {
                1.0
            } else {
                let way = |edge: &Edge| {
                    let from = across(&p, edge);
                    (from, across(&rhs, edge) - from)
                };
                let ways: Vec<(f64, f64)> = self.edges.iter().map(way).collect();
                let along = |part: f64| {
                    let each = self.edges.iter().zip(&ways);
                    each.map(|(edge, (from, way))| edge.flow(from + part * way) * way).sum()
                };
                part_of_step(along)
            };
            if part < 1.0 {
                rhs.iter_mut().zip(&p).for_each(|(to, from)| *to = from + part * (*to - from));
            }
            p = rhs;
            let (change, most) = tangents(&p, &mut q, &mut g, &mut s);
            if change < 1e-7 * most {
                break;
            }
        }
        self.trace(p, &q, rounds, drive_kpa)
    }

    /// Where the flow came from and how old it is, going downhill from the highest pressure.
    fn trace(&self, p: Vec<f64>, q: &[f64], rounds: usize, drive_kpa: f64) -> Solved {
        let kinds = self.terminals;
        let n = self.nodes;
        let mut around: Vec<Vec<usize>> = vec![Vec::new(); n];
        let mut balance = vec![0.0; n];
        for (e, edge) in self.edges.iter().enumerate() {
            for (j, sign) in [(edge.a, -1.0), (edge.b, 1.0)] {
                if let Joint::Node(i) = j {
                    around[i].push(e);
                    balance[i] += sign * q[e];
                }
            }
        }
        let mut downhill: Vec<usize> = (0..n).collect();
        downhill.sort_by(|&a, &b| p[b].total_cmp(&p[a]).then(a.cmp(&b)));
        let mut share = vec![0.0; n * kinds];
        let mut age = vec![0.0; n];
        let upstream = |e: usize| if q[e] >= 0.0 { self.edges[e].a } else { self.edges[e].b };
        for &i in &downhill {
            let mut total = 0.0;
            let mut mean_age = 0.0;
            let mut mix = vec![0.0; kinds];
            for &e in &around[i] {
                let flow = q[e].abs();
                match upstream(e) {
                    Joint::Node(u) if u == i => continue,
                    Joint::Node(u) => {
                        mix.iter_mut().zip(&share[u * kinds..]).for_each(|(m, s)| *m += flow * s);
                        mean_age += flow * age[u];
                    }
                    Joint::End(t) => mix[t] += flow,
                }
                total += flow;
            }
            if total > 1e-15 {
                for (k, m) in mix.iter().enumerate() {
                    share[i * kinds + k] = m / total;
                }
                age[i] = mean_age / total + self.place[i].2 / total;
            }
        }
        let mut into_sac = vec![(0.0, (0.0, 0.0), 0.0); kinds];
        let mut from = vec![(0.0, 0.0); kinds];
        for &(t, place) in &self.hanging {
            from[t] = place;
        }
        let mut most_in = vec![0.0; kinds];
        let mut most_from = vec![0.0; kinds];
        for (e, edge) in self.edges.iter().enumerate() {
            let flow = q[e].abs();
            let down = if q[e] >= 0.0 { edge.b } else { edge.a };
            match (upstream(e), down) {
                (Joint::Node(u), Joint::End(SAC)) => {
                    for t in 0..kinds {
                        let part = flow * share[u * kinds + t];
                        into_sac[t].0 += part;
                        into_sac[t].2 += part * age[u];
                        if part > most_in[t] {
                            most_in[t] = part;
                            into_sac[t].1 = (self.place[u].0, self.place[u].1);
                        }
                    }
                }
                (Joint::End(t), Joint::End(SAC)) => into_sac[t].0 += flow,
                (Joint::End(t), Joint::Node(d)) if flow > most_from[t] => {
                    most_from[t] = flow;
                    from[t] = (self.place[d].0, self.place[d].1);
                }
                _ => {}
            }
        }
        for entry in &mut into_sac {
            entry.2 = if entry.0 > 1e-12 { entry.2 / entry.0 } else { 0.0 };
        }
        let imbalance = balance.iter().fold(0.0f64, |m, b| m.max(b.abs()));
        Solved { into_sac, from, imbalance, rounds, p, drive_kpa }
    }
}

/// The lumen that a piece ends in: two legs end in two iliac arteries.
pub(super) fn distal(piece: &Placed) -> usize {
    if piece.vessel_at(piece.ends[1].edge_s_mm).is_left() { DISTAL_LEFT } else { DISTAL }
}

/// Cells under the mouth of a branch.
fn cells_at(pieces: &[Placed], source: &BranchSource) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    for (p, piece) in pieces.iter().enumerate() {
        let Some(ostium) = piece.ostia.iter().find(|o| o.vessel == source.vessel) else { continue };
        let before = out.len();
        for (c, cell) in piece.cells.iter().enumerate() {
            if cell.lined {
                continue;
            }
            let dx = cell.s_mm - ostium.s_mm;
            let dy = turn_between(cell.theta_rad, ostium.theta_rad) * 0.5 * piece.ends[0].vessel_mm.max(8.0);
            if dx * dx + dy * dy < ostium.radius_mm * ostium.radius_mm {
                out.push((p, c));
            }
        }
        if out.len() > before {
            break;
        }
    }
    out
}
