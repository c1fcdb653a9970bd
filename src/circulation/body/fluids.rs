//! Water and blood in and out: drips, refill from the tissue, urine, the cell saver, and the ledger of all of it.

use super::{Body, Drip};
use crate::circulation::bleed::Space;
use crate::circulation::blood::Product;
use crate::circulation::drugs::Drug;
use crate::circulation::network::Network;
use crate::circulation::plumbing::{Map, node};
use crate::math::ops;

impl Body {
    /// What has left the vessels since the last look takes its cells with it.
    pub(in crate::circulation) fn settle_accounts<const W: usize>(&mut self, net: &Network<W>, lane: usize) {
        let now: f64 = Space::ALL.iter().map(|&s| net.v_ml[Map::space_node(s)][lane]).sum();
        self.blood.shed(now - self.spaces_ml);
        self.spaces_ml = now;
        self.blood.volume_ml = net.total_ml(lane) - now;
    }

    pub(super) fn fluids<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, dt_s: f64) {
        let mut in_ml = 0.0;
        let ms = (dt_s * 1e3).round();
        for i in 0..self.drips.len() {
            let d = self.drips[i];
            let mut ml = (d.ml_s * dt_s).min(d.left_ml);
            if d.product == Product::SalvagedCells {
                ml = self.salvage(net, lane, ml);
            }
            self.drips[i].left_ml -= ml.max(1e-9);
            self.blood.pour(d.product, ml);
            in_ml += ml;
        }
        self.drips.retain(|d| d.left_ml > 1e-6);
        let capillary = self.capillary_over_rest_mmhg();
        let held = net.v_ml[node::SYSTEMIC][lane];
        let filtered = (self.blood.filtration_ml_s(capillary) * dt_s).min(0.02 * held);
        self.blood.filter(filtered);
        let urine = (self.urine(net, lane) * dt_s).min(0.01 * held).max(0.0);
        self.urine_ml_s = urine / dt_s;
        self.blood.urine_ml += urine;
        self.poured_ml += in_ml - filtered - urine;
        net.source_ml_s[node::SYSTEMIC][lane] = (in_ml - filtered - urine) / (ms * 1e-3);
        let calcium = self.pharmacy.in_body(Drug::CalciumChloride);
        if calcium > 0.0 {
            // Ionised calcium spreads in about 15 l and is buffered: half counts.
            let part = calcium * (1.0 - ops::exp(-dt_s / 20.0));
            self.pharmacy.remove(Drug::CalciumChloride, part);
            self.blood.calcium_mmol_l += 0.5 * part / 15.0;
        }
        let base = self.pharmacy.in_body(Drug::Bicarbonate);
        if base > 0.0 {
            let part = base * (1.0 - ops::exp(-dt_s / 30.0));
            self.pharmacy.remove(Drug::Bicarbonate, part);
            self.blood.other_base_mmol_l += part / (0.8 * self.blood.litres_of_water());
            self.breathing.paco2_mmhg += 0.05 * part;
        }
        self.blood.drift(dt_s, self.organs.filtration);
    }

    /// Capillary pressure less that at rest, mmHg: falls with the flow and with the veins.
    pub(super) fn capillary_over_rest_mmhg(&self) -> f64 {
        let rest = self.patient.output_rest_l_min() * 1e3 / 60.0;
        11.2 * (self.means.output_ml_s / rest - 1.0) + self.means.p[node::SYSTEMIC] - (self.cvp_rest + 0.8)
    }

    /// Urine, ml/s: half a millilitre to one per kilogram and hour at rest; falls with kidney pressure and sympathetic drive.
    pub(super) fn urine<const W: usize>(&self, net: &Network<W>, lane: usize) -> f64 {
        let rest = 0.86 * self.patient.mass_kg / 3600.0;
        let p = 0.5 * (self.means.p[node::R_RENAL] + self.means.p[node::L_RENAL]);
        let belly = self.belly_mmhg(net, lane);
        let pressure = ((p - 2.0 * belly - 40.0) / (self.patient.map_rest_mmhg - 44.0)).clamp(0.0, 1.6);
        let nerves = ops::exp(-1.5 * self.reflex.drive.resistance.max(-0.3));
        // Water is let go when the tissues are wet and the vessels full; an empty circulation keeps it (assumed).
        let full = (self.means.output_ml_s * 0.06 / self.patient.output_rest_l_min()).clamp(0.0, 1.0);
        let wet =
            ((self.blood.interstitial_ml / (160.0 * self.patient.mass_kg) - 1.0) * 6.0).clamp(-0.6, 3.0);
        let wet = if wet > 0.0 { wet * ((full - 0.6) / 0.3).clamp(0.0, 1.0) } else { wet };
        let water = 1.0 + 4.0 * self.pharmacy.level(Drug::Furosemide) + wet;
        rest * pressure * nerves * water * self.organs.filtration.sqrt()
    }

    /// Sucks shed blood out of the open spaces; 2.2 ml of it make 1 ml of washed cells. Returns what there is.
    pub(super) fn salvage<const W: usize>(&mut self, net: &mut Network<W>, lane: usize, ml: f64) -> f64 {
        let mut left = 2.2 * ml;
        let mut got = 0.0;
        for s in [Space::Outside, Space::Peritoneum, Space::LeftPleura, Space::RightPleura] {
            let v = &mut net.v_ml[Map::space_node(s)][lane];
            let take = left.min(*v).max(0.0);
            *v -= take;
            left -= take;
            got += take;
        }
        self.spaces_ml -= got;
        self.discarded_ml += got;
        got / 2.2
    }

    pub(in crate::circulation) fn drip(&mut self, product: Product, ml: f64, minutes: f64) {
        if ml.is_finite() && ml > 0.0 {
            let ml = ml.min(50_000.0);
            let minutes = if minutes.is_finite() { minutes.max(0.05) } else { 5.0 };
            // No line carries more than about 600 ml/min (rapid infuser).
            self.drips.push(Drip { product, left_ml: ml, ml_s: (ml / minutes / 60.0).min(10.0) });
        }
    }

    pub(in crate::circulation) fn stop_drips(&mut self) {
        self.drips.clear();
    }

    /// Blood that is not where the ledger says, ml: 0 but for rounding.
    pub(in crate::circulation) fn ledger_error_ml<const W: usize>(
        &self,
        net: &Network<W>,
        lane: usize,
    ) -> f64 {
        // The source of the running second has been booked in full but has entered only in part.
        let waiting = net.source_ml_s[node::SYSTEMIC][lane] * (1000 - self.ms % 1000) as f64 * 1e-3;
        net.total_ml(lane) + waiting + self.discarded_ml
            - self.start_ml
            - self.holes.found_ml
            - self.poured_ml
    }

    pub(in crate::circulation) fn lost_ml<const W: usize>(
        &self,
        net: &Network<W>,
        lane: usize,
        space: Space,
    ) -> f64 {
        net.v_ml[Map::space_node(space)][lane]
    }
}
