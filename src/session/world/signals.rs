//! The values of all signals, in the order of `scenario::signal`.

use super::World;
use crate::anatomy::{Site, VesselName};
use crate::circulation::{Drug, Organ, Product, Space, Test};
use crate::imaging::dose::contrast_over_egfr;
use crate::scenario::load::read::names_of;
use crate::scenario::order::Measured;
use crate::scenario::signal::RISKS;
use crate::scenario::written;

impl World {
    /// Appends every column after `time` and before the case's own variables. Not a number: there is none yet.
    pub fn signals(&self, out: &mut Vec<f64>) {
        let p = &self.patient;
        let v = p.vitals();
        let radial = v.right_radial;
        let organs = p.organs();
        let blood = p.blood();
        let none = f64::NAN;
        out.extend([radial.systolic_mmhg, radial.diastolic_mmhg, radial.mean_mmhg]);
        out.extend([v.left_radial.systolic_mmhg, v.right_femoral.mean_mmhg, v.heart_rate_bpm, v.cvp_mmhg]);
        let saturation = v.oximeter_percent().unwrap_or(none);
        out.extend([v.output_l_min, saturation, v.temperature_c, blood.haemoglobin_g_l()]);
        out.extend([p.lab(Test::Lactate), -p.lab(Test::BaseExcess), p.lab(Test::Act), v.urine_ml_h]);
        out.extend([organs.cord_perfusion_mmhg, organs.csf_mmhg, p.csf_drained_ml()]);
        // Without a pulse there is nothing to compare with.
        let arm = radial.mean_mmhg.max(10.0);
        out.extend(p.buttocks_mmhg().map(|mmhg| (100.0 * mmhg / arm).clamp(0.0, 200.0)));
        out.push(p.bladder_mmhg());
        out.push(self.bleed_ml_min());
        out.push(Space::ALL.iter().map(|s| p.lost_ml(*s)).sum());
        out.extend([crystalloid_ml(blood), products_ml(blood), f64::from(u8::from(p.alive()))]);
        let first = self.seal.pieces.first().map(|x| &x.facts);
        let last = self.seal.pieces.last().map(|x| &x.facts);
        let of = |f: Option<f64>| f.unwrap_or(none);
        let uppermost =
            self.seal.pieces.iter().map(|x| &x.facts).min_by(|a, b| a.edges_mm[0].total_cmp(&b.edges_mm[0]));
        let lowest =
            self.seal.pieces.iter().map(|x| &x.facts).max_by(|a, b| a.edges_mm[1].total_cmp(&b.edges_mm[1]));
        out.push(of(uppermost.map(|f| f.oversize_percent[0])));
        out.push(of(lowest.map(|f| f.oversize_percent[1])));
        out.push(of(uppermost.map(|f| f.seal_mm[0])));
        out.push(of(lowest.map(|f| f.seal_mm[1])));
        out.push(of(uppermost.map(|f| f.inner_mm)));
        out.push(of(uppermost.map(|f| f.beak_mm)));
        out.push(of(first.map(|_| self.seal.pieces.iter().map(|x| x.facts.fold_mm2).fold(0.0, f64::max))));
        out.push(of(last.map(|f| f.shift_mm)));
        out.push(of(uppermost.map(|f| f.edges_mm[0])));
        out.push(of(lowest.map(|f| f.edges_mm[1])));
        out.push(self.covered_length_mm());
        out.push(self.seal.pieces.len() as f64 + f64::from(self.false_grafts));
        let [ia, ib, ii, iii] = self.seal.leak_ml_min.map(|q| if self.seal.spanned() { q } else { none });
        out.extend([ia, ib, ii, iii]);
        out.push(if self.seal.spanned() { self.seal.leak_total() } else { none });
        out.push(f64::from(u8::from(self.seal.sealed())));
        out.extend(self.wire_signals());
        out.push(self.access_ratio());
        let pic = &self.picture;
        let egfr = self.case.case.patient.egfr_ml_min();
        out.extend([pic.contrast_ml, contrast_over_egfr(pic.contrast_ml, egfr)]);
        let [skin_gy, kerma_gy, kap_gy_cm2, _] = pic.dose.quantities();
        out.extend([kap_gy_cm2, kerma_gy, skin_gy, pic.dose.fluoro_s]);
        out.push(self.off_profile_deg(self.seal.lesion_mm().0));
        out.push(p.drug(Drug::Heparin).1 / self.case.case.patient.mass_kg);
        let flag = |b: bool| f64::from(u8::from(b));
        out.extend([flag(self.pacing.is_some()), flag(self.breath_held), flag(pic.screening)]);
        out.extend([
            flag(pic.table_locked),
            flag(pic.reference_true() == Some(false)),
            flag(self.asleep),
            self.briefed.len() as f64,
            flag(self.on_ward),
        ]);
        self.families(out);
    }

    fn families(&self, out: &mut Vec<f64>) {
        let vessels = &self.vessels;
        out.extend(vessels.iter().map(|v| self.closed_percent(*v)));
        out.extend(vessels.iter().map(|v| 60.0 * self.patient.flow_ml_s(*v)));
        out.extend(Organ::ALL.iter().map(|o| 100.0 * self.patient.organs().of(*o).dead));
        out.extend(RISKS.iter().map(|(r, _)| 100.0 * self.risks.accrued(r)));
        out.extend(Measured::ALL.iter().map(|m| self.measured.get(m).map_or(f64::NAN, |x| x.0)));
    }

    fn closed_percent(&self, vessel: VesselName) -> f64 {
        if vessel == VesselName::Intercostals {
            let pairs = &self.tree.aorta().wall.segmentals;
            let hidden = pairs.iter().filter(|r| self.seal.under_fabric(r.s_mm)).count();
            return 100.0 * hidden as f64 / pairs.len().max(1) as f64;
        }
        let open =
            self.seal.pieces.iter().flat_map(|p| &p.facts.covered).filter(|c| c.0 == vessel).map(|c| c.1);
        100.0 * (1.0 - open.fold(1.0, f64::min))
    }

    /// Blood leaving the vessels now, mL/min: all holes.
    pub fn bleed_ml_min(&self) -> f64 {
        let ids = self.holes.keys().map(String::as_str).chain([super::seal::SAC]);
        60.0 * ids.filter_map(|id| self.patient.bleed_ml_s(id)).map(|(q, _)| q.max(0.0)).sum::<f64>()
    }

    /// Length of aorta under fabric, mm; overlaps count once.
    pub fn covered_length_mm(&self) -> f64 {
        let end_mm = self.aorta_mm();
        let mut spans: Vec<(f64, f64)> =
            self.seal.spans().map(|(a, b)| (a.min(end_mm), b.min(end_mm))).collect();
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut sum, mut reach) = (0.0, f64::NEG_INFINITY);
        for (a, b) in spans {
            sum += (b - a.max(reach)).max(0.0);
            reach = reach.max(b);
        }
        sum
    }

    /// Tip to valve, a stiff wire bare, a wire in the arch.
    fn wire_signals(&self) -> [f64; 3] {
        let subclavian = self.tree.ostium_s_mm(VesselName::LeftSubclavian).unwrap_or(120.0);
        let (mut tip, mut bare, mut arch) = (f64::NAN, 0.0, 0.0);
        for line in self.lines.values().filter(|l| !l.closed) {
            if let Some((item, wire)) = line.wire(&self.case.shelf) {
                tip = tip.min(item.tip_mm);
                if item.tip_mm < subclavian {
                    arch = 1.0;
                }
                if stiff(wire) && self.bare_mm(line, item.tip_mm) > BARE_MM {
                    bare = 1.0;
                }
            }
        }
        [tip, bare, arch]
    }

    /// Length of a wire ahead of everything that covers it, mm.
    pub(super) fn bare_mm(&self, line: &super::lines::Line, tip_mm: f64) -> f64 {
        line.cover_mm(&self.case.shelf) - tip_mm
    }

    /// Widest device on any groin over the narrowest place of its way.
    pub(super) fn access_ratio(&self) -> f64 {
        self.lines
            .iter()
            .filter(|(s, _)| s.femoral())
            .map(|(s, l)| l.widest_mm / self.least_access_mm(*s))
            .fold(0.0, f64::max)
    }

    /// Narrowest diameter from the puncture to the aorta, mm.
    pub(super) fn least_access_mm(&self, site: Site) -> f64 {
        let measure = || {
            let Some(rail) = self.rail(site) else { return 1.0 };
            let from = rail.legs.get(1).map_or(0.0, |l| l.from_mm);
            rail.narrowest_mm(&self.tree, from + 5.0, rail.length_mm()).0.max(0.5)
        };
        self.lines.get(&site).map_or_else(measure, |line| *line.narrowest_mm.get_or_init(measure))
    }

    pub(super) fn named_vessels() -> Vec<VesselName> {
        names_of::<VesselName>()
            .iter()
            .filter_map(|n| serde_json::from_value(serde_json::Value::String((*n).into())).ok())
            .filter(|v| *v != VesselName::Aorta)
            .inspect(|v| debug_assert!(!written(v).is_empty()))
            .collect()
    }
}

/// Beyond this length a stiff wire counts as bare: its soft tip may lead, its shaft may not (common practice, no source).
pub const BARE_MM: f64 = 60.0;

/// Stiffer than a working wire.
pub fn stiff(wire: &crate::kit::Wire) -> bool {
    wire.grade >= crate::kit::WireGrade::Stiff
}

/// Crystalloid and colloid given, mL.
pub fn crystalloid_ml(blood: &crate::circulation::Blood) -> f64 {
    given(blood, false)
}

/// Blood products given, mL.
pub fn products_ml(blood: &crate::circulation::Blood) -> f64 {
    given(blood, true)
}

fn given(blood: &crate::circulation::Blood, of_blood: bool) -> f64 {
    Product::ALL
        .iter()
        .zip(blood.given_ml)
        .filter(|(p, _)| matches!(p, Product::Crystalloid | Product::Albumin) != of_blood)
        .map(|(_, ml)| ml)
        .sum()
}
