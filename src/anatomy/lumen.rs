//! A lumen as rings of radii: `radius[station][angle]` about a centreline.

/// Radii on a regular grid: stations every `step_mm` along the centreline, `n_theta` equal angles from the frame's normal.
#[derive(Clone, Debug, PartialEq)]
pub struct Lumen {
    step_mm: f64,
    n_theta: usize,
    /// Row-major: station, then angle; mm.
    r_mm: Vec<f64>,
}

impl Lumen {
    /// Samples `radius_mm(s_mm, theta_rad)` over a vessel of the given length. The step is shortened to divide the length.
    pub fn sample(length_mm: f64, step_mm: f64, n_theta: usize, radius_mm: impl Fn(f64, f64) -> f64) -> Self {
        let intervals = (length_mm / step_mm).ceil().max(1.0);
        let step_mm = length_mm / intervals;
        let stations = intervals as usize + 1;
        let mut r_mm = Vec::with_capacity(stations * n_theta);
        for i in 0..stations {
            for k in 0..n_theta {
                let theta = std::f64::consts::TAU * k as f64 / n_theta as f64;
                r_mm.push(radius_mm(step_mm * i as f64, theta));
            }
        }
        Self { step_mm, n_theta, r_mm }
    }

    /// Distance between stations, mm.
    pub fn step_mm(&self) -> f64 {
        self.step_mm
    }
    /// Angles in each ring.
    pub fn n_theta(&self) -> usize {
        self.n_theta
    }
    /// Number of rings.
    pub fn stations(&self) -> usize {
        self.r_mm.len() / self.n_theta
    }
    /// The ring at station `i` (clamped to the last).
    pub fn ring(&self, i: usize) -> &[f64] {
        let i = i.min(self.stations() - 1);
        &self.r_mm[i * self.n_theta..(i + 1) * self.n_theta]
    }
    /// The ring at station `i`, to edit.
    pub fn ring_mut(&mut self, i: usize) -> &mut [f64] {
        let i = i.min(self.stations() - 1);
        &mut self.r_mm[i * self.n_theta..(i + 1) * self.n_theta]
    }
    /// The station at or above `s_mm`, and how far on to the next it lies, 0 to 1.
    fn between(&self, s_mm: f64) -> (usize, f64) {
        let last = self.stations() - 1;
        let x = (s_mm / self.step_mm).clamp(0.0, last as f64);
        let i = (x as usize).min(last.saturating_sub(1));
        (i, x - i as f64)
    }
    /// Radius at any place, bilinear in arc length and angle; constant beyond the ends.
    pub fn radius(&self, s_mm: f64, theta_rad: f64) -> f64 {
        let (i, u) = self.between(s_mm);
        let turns = theta_rad / std::f64::consts::TAU;
        let y = (turns - turns.floor()) * self.n_theta as f64;
        let k = (y as usize).min(self.n_theta - 1);
        let v = y - k as f64;
        let k1 = (k + 1) % self.n_theta;
        let at = |row: &[f64]| row[k] + (row[k1] - row[k]) * v;
        let (a, b) = (at(self.ring(i)), at(self.ring(i + 1)));
        a + (b - a) * u
    }
    /// Area of the section at `s_mm`, mm²: the polygon of the ring.
    pub fn area_mm2(&self, s_mm: f64) -> f64 {
        let n = self.n_theta;
        let (i, u) = self.between(s_mm);
        let (above, below) = (self.ring(i), self.ring(i + 1));
        let r = |k: usize| above[k] + (below[k] - above[k]) * u;
        let first = r(0);
        let (mut sum, mut before) = (0.0, first);
        for k in 1..n {
            let next = r(k);
            sum += before * next;
            before = next;
        }
        (sum + before * first) * crate::math::ops::sin(std::f64::consts::TAU / n as f64) / 2.0
    }
    /// Diameter of the circle of equal area, mm.
    pub fn diameter_mm(&self, s_mm: f64) -> f64 {
        2.0 * (self.area_mm2(s_mm) / std::f64::consts::PI).sqrt()
    }
    /// The same lumen with every radius multiplied.
    pub fn scaled(&self, factor: f64) -> Self {
        Self { r_mm: self.r_mm.iter().map(|r| r * factor).collect(), ..self.clone() }
    }
}
