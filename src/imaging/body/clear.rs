//! Where a shape surely is not: its distance asked once on a coarse grid, so that most of the chest need not ask again.

use crate::math::Vec3;

/// The box of the chest and its cells, mm, in trunk coordinates.
const LOW: Vec3 = Vec3::new(-132.0, -114.0, -228.0);
const CELL_MM: f64 = 6.0;
const COUNT: [usize; 3] = [44, 38, 56];
/// A cell is clear when the shape is this far from all its corners, mm: the farthest point of a cell is 5.2 mm from one of
/// them, and the drawn distances grow by less than twice the way.
const FAR_MM: f64 = 12.0;

/// Cells of the chest that a shape stays clear of.
#[derive(Clone, Debug)]
pub(super) struct Clear {
    cells: Vec<bool>,
}

impl Clear {
    /// Of the shape with the given distance.
    pub fn of(distance_mm: impl Fn(Vec3) -> f64) -> Self {
        let [nx, ny, nz] = COUNT;
        let far: Vec<bool> = (0..(nx + 1) * (ny + 1) * (nz + 1))
            .map(|c| (c % (nx + 1), c / (nx + 1) % (ny + 1), c / ((nx + 1) * (ny + 1))))
            .map(|(i, j, k)| LOW + Vec3::new(i as f64, j as f64, k as f64) * CELL_MM)
            .map(|p| distance_mm(p) > FAR_MM)
            .collect();
        let corner = |i: usize, j: usize, k: usize| far[(k * (ny + 1) + j) * (nx + 1) + i];
        let cell = |c: usize| {
            let (i, j, k) = (c % nx, c / nx % ny, c / (nx * ny));
            (0..8).all(|b| corner(i + b % 2, j + b / 2 % 2, k + b / 4))
        };
        Self { cells: (0..nx * ny * nz).map(cell).collect() }
    }

    /// Whether the shape is surely more than a few millimetres away from a place; false outside the box.
    pub fn at(&self, p: Vec3) -> bool {
        let q = (p - LOW) * (1.0 / CELL_MM);
        let inside = |v: f64, n: usize| v >= 0.0 && v < n as f64;
        let [nx, ny, nz] = COUNT;
        inside(q.x, nx)
            && inside(q.y, ny)
            && inside(q.z, nz)
            && self.cells[(q.z as usize * ny + q.y as usize) * nx + q.x as usize]
    }
}
