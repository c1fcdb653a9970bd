//! What is done to vessels from inside: origins covered, lumens blocked.

use super::Body;
use crate::circulation::network::Network;
use crate::circulation::plumbing::RHO_CGS;

impl Body {
    /// Named origin open by this part of its area. Returns by how much that changes it.
    pub(in crate::circulation) fn set_patency<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        row: usize,
        open: f64,
    ) -> f64 {
        let open = if open.is_finite() { open.clamp(0.0, 1.0) } else { 1.0 };
        let was = std::mem::replace(&mut self.patency[row], open);
        self.apply_patency(net, lane, row);
        (open - was).abs()
    }

    /// Part of the upper intercostals, lower intercostals and lumbars that is left open.
    pub(in crate::circulation) fn set_segmentals<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        open: [f64; 3],
    ) {
        self.segmental = open;
        for row in 7..10 {
            self.apply_patency(net, lane, row);
        }
    }

    pub(super) fn apply_patency<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, row: usize) {
        let mut open = self.patency[row];
        if (7..10).contains(&row) {
            open *= self.segmental[row - 7].clamp(0.0, 1.0);
        }
        let (l, r, area_cm2) = self.map.named[row];
        let e = self.map.named_pipe + row;
        let (r, k) = narrowed(r, area_cm2, open);
        net.set_pipe(e, lane, l, r, k);
    }

    /// Blocks part of the aortic lumen at a place; 0 frees it. Returns by what part of itself the opening changes; what is less
    /// than a hundredth is none, and nothing is changed.
    pub(in crate::circulation) fn set_occlusion<const W: usize>(
        &mut self,
        net: &mut Network<W>,
        lane: usize,
        s_mm: f64,
        fraction: f64,
    ) -> f64 {
        let fraction = if fraction.is_finite() { fraction.clamp(0.0, 1.0) } else { 0.0 };
        let layout = &self.map.layout;
        let step = layout.length_mm() / self.map.segments as f64;
        let i = ((s_mm / step - 0.5).round().max(0.0) as usize).min(self.map.segments - 2);
        let was = self.occlusions.iter().find(|o| o.0 == i).map_or(1.0, |o| 1.0 - o.1);
        let open = 1.0 - fraction;
        let change = (was - open).abs();
        if change <= 0.01 * was.min(open) {
            return 0.0;
        }
        self.occlusions.retain(|o| o.0 != i);
        if fraction > 0.0 {
            self.occlusions.push((i, fraction));
        }
        let (l, r, area) = self.map.aortic[i];
        let (r, k) = narrowed(r, area, open);
        net.set_pipe(self.map.aorta_pipe + i, lane, l, r, k);
        change / was.max(open)
    }
}

/// Resistance and orifice term of a lumen of which a part is open: `dp = rho/2 (q / (Cc A_open))²` less what the full
/// lumen would lose, Cc = 0.7 (contraction of a jet behind a blunt block; hydraulics handbook).
fn narrowed(r: f64, area_cm2: f64, open: f64) -> (f64, f64) {
    if open > 0.999 {
        return (r, 0.0);
    }
    if open < 0.003 {
        return (1e7, 0.0);
    }
    let a = 0.7 * open * area_cm2;
    (r / (open * open), (RHO_CGS / 2.0 * (1.0 / (a * a) - 1.0 / (area_cm2 * area_cm2))).max(0.0))
}
