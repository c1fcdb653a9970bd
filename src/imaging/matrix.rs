//! Path lengths of every pixel's ray through every blood cell, as a sparse matrix.
//!
//! Each face between two cells is rasterised once; where a ray crosses it, the depth is added to the cell that it leaves
//! and taken from the one that it enters. The sum over a cell's faces is the path inside it, for any shape of cell.
//! Corners snap to 1/256 pixel and edges are tested in whole numbers, so neighbours neither overlap nor gape; the number
//! of crossings left without a partner is counted, and is zero.
//!
//! A contrast frame is this matrix times the concentrations; another pose, or vessels that moved, need another matrix.

use super::cells::{Cells, OUTSIDE};
use super::pose::View;

/// Sparse path lengths, one row per pixel.
#[derive(Clone, Debug)]
pub struct PathMatrix {
    /// Pixels on each edge of the picture.
    pub pixels: usize,
    start: Vec<u32>,
    cell: Vec<u16>,
    /// cm.
    length_cm: Vec<f32>,
    /// Rays that crossed a cell's surface an odd number of times: 0 when all is watertight.
    pub unpaired: usize,
}

/// Added to depths (mm from the isocentre's plane) so that a crossing's sign can carry its direction.
const LIFT: f32 = 2048.0;
/// Crossings kept for one cell on one ray.
const CROSSINGS: usize = 8;
/// Sub-pixel steps of a corner.
const SNAP: f64 = 256.0;
/// A branch inside its parent for less than this is not drawn, mm.
const LEAST_MM: f32 = 0.02;

impl PathMatrix {
    /// The matrix of `cells` seen from `view`.
    pub fn new(view: &View, cells: &Cells) -> Self {
        let mut crossings = Vec::with_capacity(1 << 20);
        rasterise(view, cells, &mut crossings);
        gather(view, cells, &crossings)
    }

    /// Line integral of `concentration` (by cell) in each pixel, in its unit times cm.
    pub fn project(&self, concentration: &[f32], out: &mut [f32]) {
        for (p, o) in out.iter_mut().enumerate() {
            let row = self.start[p] as usize..self.start[p + 1] as usize;
            let lengths = &self.length_cm[row.clone()];
            *o = self.cell[row].iter().zip(lengths).map(|(&c, l)| l * concentration[usize::from(c)]).sum();
        }
    }

    /// The entries of one pixel: cell and path, cm.
    pub fn row(&self, pixel: usize) -> impl Iterator<Item = (usize, f32)> + '_ {
        let row = self.start[pixel] as usize..self.start[pixel + 1] as usize;
        row.map(|k| (usize::from(self.cell[k]), self.length_cm[k]))
    }

    /// Number of stored path lengths.
    pub fn entries(&self) -> usize {
        self.cell.len()
    }
}

/// One crossing: pixel, cell, depth + [`LIFT`] with the sign of the crossing.
#[derive(Clone, Copy)]
struct Crossing {
    pixel: u32,
    cell: u16,
    depth: f32,
}

fn rasterise(view: &View, cells: &Cells, out: &mut Vec<Crossing>) {
    let n = view.pixels as i64;
    let snapped: Vec<(i64, i64, f32)> = cells
        .corners
        .iter()
        .map(|&p| {
            let (x, y, depth) = view.project(p);
            ((x * SNAP).round() as i64, (y * SNAP).round() as i64, (1.0 / depth) as f32)
        })
        .collect();
    let half = (view.pixels as f32 - 1.0) * 0.5;
    let pitch = (view.pitch_mm / view.sid_mm) as f32;
    let sod = view.sod_mm as f32;
    for face in &cells.faces {
        let [a, mut b, mut c] = face.corners.map(|v| snapped[v as usize]);
        let mut area = (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0);
        if area == 0 {
            continue;
        }
        let mut side = -1.0f32;
        if area < 0 {
            std::mem::swap(&mut b, &mut c);
            area = -area;
            side = 1.0;
        }
        let x0 = ((a.0.min(b.0).min(c.0) + 255) >> 8).max(0);
        let x1 = (a.0.max(b.0).max(c.0) >> 8).min(n - 1);
        let y0 = ((a.1.min(b.1).min(c.1) + 255) >> 8).max(0);
        let y1 = (a.1.max(b.1).max(c.1) >> 8).min(n - 1);
        if x0 > x1 || y0 > y1 {
            continue;
        }
        let edges = [Edge::new(b, c), Edge::new(c, a), Edge::new(a, b)];
        let inv = 1.0 / area as f32;
        for y in y0..=y1 {
            // The row's span, from each edge in turn: no pixel outside is visited.
            let (mut lo, mut hi) = (x0, x1);
            for e in &edges {
                e.clip(y, &mut lo, &mut hi);
            }
            if lo > hi {
                continue;
            }
            let dy = (y as f32 - half) * pitch;
            let w = [edges[0].value(lo, y), edges[1].value(lo, y), edges[2].value(lo, y)];
            let step = [edges[0].dx, edges[1].dx, edges[2].dx];
            let weigh = |w: [i64; 3]| (w[0] as f32 * a.2 + w[1] as f32 * b.2 + w[2] as f32 * c.2) * inv;
            let mut inverse_depth = weigh(w);
            let slope = weigh(step);
            for x in lo..=hi {
                let dx = (x as f32 - half) * pitch;
                let depth = (1.0 + dx * dx + dy * dy).sqrt() / inverse_depth - sod + LIFT;
                inverse_depth += slope;
                let pixel = (y * n + x) as u32;
                if face.inner != OUTSIDE {
                    out.push(Crossing { pixel, cell: face.inner as u16, depth: depth * side });
                }
                if face.outer != OUTSIDE {
                    out.push(Crossing { pixel, cell: face.outer as u16, depth: -depth * side });
                }
            }
        }
    }
}

/// An edge function `k + dx * x + dy * y` in snapped units at whole pixels, and the rule for points upon it.
struct Edge {
    k: i64,
    dx: i64,
    dy: i64,
}

impl Edge {
    fn new(p: (i64, i64, f32), q: (i64, i64, f32)) -> Self {
        let (ex, ey) = (q.0 - p.0, q.1 - p.1);
        // Of two triangles that share an edge exactly one owns the points on it.
        let owns = ey < 0 || (ey == 0 && ex > 0);
        let k = -ex * p.1 + ey * p.0 - i64::from(!owns);
        Self { k, dx: -ey << 8, dy: ex << 8 }
    }
    fn value(&self, x: i64, y: i64) -> i64 {
        self.k + self.dx * x + self.dy * y
    }
    /// Narrows a row's span to where the edge function is not negative.
    fn clip(&self, y: i64, lo: &mut i64, hi: &mut i64) {
        let c = self.k + self.dy * y;
        if self.dx > 0 {
            *lo = (*lo).max((-c).div_euclid(self.dx) + i64::from((-c).rem_euclid(self.dx) != 0));
        } else if self.dx < 0 {
            *hi = (*hi).min(c.div_euclid(-self.dx));
        } else if c < 0 {
            *hi = *lo - 1;
        }
    }
}

/// Crossings of one cell on one ray.
#[derive(Clone, Copy)]
struct Inside {
    cell: u16,
    tube: u16,
    count: usize,
    depth: [f32; CROSSINGS],
}

impl Inside {
    /// Nearest first; there are two of them but for bent vessels.
    fn sort(&mut self) {
        let depth = &mut self.depth[..self.count];
        for i in 1..depth.len() {
            let mut j = i;
            while j > 0 && depth[j - 1].abs() > depth[j].abs() {
                depth.swap(j - 1, j);
                j -= 1;
            }
        }
    }
}

fn gather(view: &View, cells: &Cells, crossings: &[Crossing]) -> PathMatrix {
    let count = view.pixels * view.pixels;
    let mut first = vec![0u32; count + 1];
    for c in crossings {
        first[c.pixel as usize + 1] += 1;
    }
    for p in 0..count {
        first[p + 1] += first[p];
    }
    let mut next = first.clone();
    let mut sorted = vec![(0u16, 0f32); crossings.len()];
    for c in crossings {
        let slot = &mut next[c.pixel as usize];
        sorted[*slot as usize] = (c.cell, c.depth);
        *slot += 1;
    }
    let ancestors = ancestors(cells);
    let blend = Blend::new(view, cells);
    let mut out = PathMatrix {
        pixels: view.pixels,
        start: Vec::with_capacity(count + 1),
        cell: Vec::with_capacity(crossings.len()),
        length_cm: Vec::with_capacity(crossings.len()),
        unpaired: 0,
    };
    out.start.push(0);
    let mut row: Vec<Inside> = Vec::new();
    for p in 0..count {
        row.clear();
        for &(cell, depth) in &sorted[first[p] as usize..first[p + 1] as usize] {
            let at = row.iter().position(|r| r.cell == cell).unwrap_or_else(|| {
                let tube = cells.tube_of[usize::from(cell)];
                row.push(Inside { cell, tube, count: 0, depth: [0.0; CROSSINGS] });
                row.len() - 1
            });
            let r = &mut row[at];
            if r.count < CROSSINGS {
                r.depth[r.count] = depth;
            }
            r.count += 1;
        }
        for r in &mut row {
            if r.count > CROSSINGS || r.count % 2 == 1 {
                out.unpaired += 1;
                r.count = 0;
            }
            r.sort();
        }
        if row.is_empty() {
            out.start.push(out.cell.len() as u32);
            continue;
        }
        let ray = blend.ray(p);
        for r in &row {
            let (mut length, mut moment) = (0.0f32, 0.0f32);
            let parents = &ancestors[usize::from(r.tube)];
            for pair in r.depth[..r.count].chunks_exact(2) {
                let (a, b) = (pair[0].abs(), pair[1].abs());
                let mut d = b - a;
                if !parents.is_empty() {
                    for other in row.iter().filter(|o| parents.contains(&o.tube)) {
                        for q in other.depth[..other.count].chunks_exact(2) {
                            d -= (b.min(q[1].abs()) - a.max(q[0].abs())).max(0.0);
                        }
                    }
                }
                if d > 0.0 {
                    length += d;
                    moment += d * (a + b) * 0.5;
                }
            }
            if length > LEAST_MM {
                blend.push(&mut out, ray, r.cell, length, moment / length - LIFT);
            }
        }
        out.start.push(out.cell.len() as u32);
    }
    out
}

/// Tubes that a tube must yield to where they overlap: what it branches from.
fn ancestors(cells: &Cells) -> Vec<Vec<u16>> {
    let mut out: Vec<Vec<u16>> = Vec::new();
    for tube in &cells.tubes {
        let mut list = Vec::new();
        if let Some((parent, _, _)) = tube.parent {
            list.push(parent as u16);
            list.extend_from_slice(&out[parent]);
        }
        out.push(list);
    }
    out
}

/// Splits a path between its cell and the next along the vessel, by where its middle lies: contrast then varies
/// linearly along the vessel instead of in steps.
struct Blend<'a> {
    view: &'a View,
    cells: Vec<Along>,
}

/// How a cell lies along its vessel: the place of a ray's point at distance `d` from the source is
/// `offset + d * (ray . step)`, in cells from this one's middle.
#[derive(Clone, Copy)]
struct Along {
    step: [f32; 3],
    offset: f32,
    /// Cell towards the vessel's start and end.
    neighbours: [u32; 2],
}

impl<'a> Blend<'a> {
    fn new(view: &'a View, cells: &'a Cells) -> Self {
        let nowhere = Along { step: [0.0; 3], offset: 0.0, neighbours: [OUTSIDE; 2] };
        let mut out = vec![nowhere; cells.len()];
        for tube in &cells.tubes {
            let along = |i: usize, neighbours: [u32; 2]| {
                let (a, b) = (tube.centre[i], tube.centre[i + 1]);
                let step = (b - a) * (1.0 / (b - a).dot(b - a));
                let offset = (view.source - (a + b) * 0.5).dot(step);
                Along { step: [step.x, step.y, step.z].map(|v| v as f32), offset: offset as f32, neighbours }
            };
            let last = tube.stations - 1;
            for i in 0..tube.stations {
                for l in 0..tube.lanes() {
                    let before = if i > 0 { tube.lane(i - 1, l) as u32 } else { OUTSIDE };
                    let after = if i < last { tube.lane(i + 1, l) as u32 } else { OUTSIDE };
                    out[tube.lane(i, l)] = along(i, [before, after]);
                }
            }
            for (i, k, c) in tube.recess_cells() {
                let at = |j: usize| {
                    let same = tube.lined[j] == tube.lined[i];
                    tube.recess_at(j, k).filter(|_| same).map_or(OUTSIDE, |c| c as u32)
                };
                let before = if i > 0 { at(i - 1) } else { OUTSIDE };
                let after = if i < last { at(i + 1) } else { OUTSIDE };
                out[c] = along(i, [before, after]);
            }
        }
        Self { view, cells: out }
    }

    /// Unit vector of a pixel's ray.
    fn ray(&self, pixel: usize) -> [f32; 3] {
        let n = self.view.pixels;
        let r = self.view.ray((pixel % n) as f64, (pixel / n) as f64).unit();
        [r.x, r.y, r.z].map(|v| v as f32)
    }

    fn push(&self, out: &mut PathMatrix, ray: [f32; 3], cell: u16, length_mm: f32, middle_mm: f32) {
        let Along { step, offset, neighbours } = self.cells[usize::from(cell)];
        let slope = ray[0] * step[0] + ray[1] * step[1] + ray[2] * step[2];
        let u = (offset + (middle_mm + self.view.sod_mm as f32) * slope).clamp(-0.5, 0.5);
        let next = neighbours[usize::from(u > 0.0)];
        let share = if next == OUTSIDE { 0.0 } else { u.abs() };
        let cm = length_mm * 0.1;
        out.cell.push(cell);
        out.length_cm.push(cm * (1.0 - share));
        if share > 0.02 {
            out.cell.push(next as u16);
            out.length_cm.push(cm * share);
        } else if let Some(last) = out.length_cm.last_mut() {
            *last = cm;
        }
    }
}
