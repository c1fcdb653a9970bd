//! What the blood is made of: cells, protein, clotting, salts, heat, and the water that moves in and out of it.

use super::patient::Patient;
use crate::math::interp::linear;
use crate::math::ops;
use serde::{Deserialize, Serialize};

/// Something that is poured into a vein.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the product's generic name")]
pub enum Product {
    Crystalloid,
    Albumin,
    RedCells,
    Plasma,
    Platelets,
    Cryoprecipitate,
    WholeBlood,
    /// The patient's own blood, sucked from pleura or belly, washed and given back.
    SalvagedCells,
}

impl Product {
    /// Every product.
    pub const ALL: [Self; 8] = [
        Self::Crystalloid,
        Self::Albumin,
        Self::RedCells,
        Self::Plasma,
        Self::Platelets,
        Self::Cryoprecipitate,
        Self::WholeBlood,
        Self::SalvagedCells,
    ];
    /// As said aloud.
    pub fn label(self) -> &'static str {
        match self {
            Self::Crystalloid => "balanced crystalloid",
            Self::Albumin => "albumin 5 %",
            Self::RedCells => "red cells",
            Self::Plasma => "plasma",
            Self::Platelets => "platelets",
            Self::Cryoprecipitate => "cryoprecipitate",
            Self::WholeBlood => "whole blood",
            Self::SalvagedCells => "salvaged cells",
        }
    }
    /// Unit.
    pub fn unit(self) -> &'static str {
        "ml"
    }
    /// Volume of one bag, ml (blood-service component tables, rounded).
    pub fn bag_ml(self) -> f64 {
        match self {
            Self::Crystalloid => 1000.0,
            Self::Albumin => 500.0,
            Self::RedCells => 290.0,
            Self::Plasma => 275.0,
            Self::Platelets => 250.0,
            Self::Cryoprecipitate => 200.0,
            Self::WholeBlood => 500.0,
            Self::SalvagedCells => 225.0,
        }
    }
    /// Contents of one ml. Component tables, rounded; citrate as the calcium that it binds.
    fn content(self) -> Content {
        let c = |cells,
                 protein_mg,
                 factors,
                 fibrinogen_mg,
                 platelets_e6,
                 calcium_bound_umol,
                 acid_umol,
                 celsius| Content {
            cells,
            protein_mg,
            factors,
            fibrinogen_mg,
            platelets_e6,
            calcium_bound_umol,
            acid_umol,
            celsius,
        };
        match self {
            Self::Crystalloid => c(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 22.0),
            Self::Albumin => c(0.0, 50.0, 0.0, 0.0, 0.0, 0.0, 0.0, 22.0),
            Self::RedCells => c(0.60, 5.0, 0.02, 0.0, 0.0, 3.0, 18.0, 8.0),
            Self::Plasma => c(0.0, 60.0, 0.90, 2.2, 0.0, 9.0, 6.0, 20.0),
            Self::Platelets => c(0.0, 55.0, 0.40, 2.0, 1100.0, 7.0, 6.0, 22.0),
            Self::Cryoprecipitate => c(0.0, 60.0, 0.60, 15.0, 0.0, 8.0, 6.0, 20.0),
            Self::WholeBlood => c(0.40, 38.0, 0.50, 1.4, 120.0, 6.0, 12.0, 8.0),
            Self::SalvagedCells => c(0.55, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 30.0),
        }
    }
}

struct Content {
    cells: f64,
    protein_mg: f64,
    factors: f64,
    fibrinogen_mg: f64,
    platelets_e6: f64,
    calcium_bound_umol: f64,
    acid_umol: f64,
    celsius: f64,
}

/// The blood in the vessels, and the water beside it. Amounts, not concentrations, so that they are conserved.
#[derive(Clone, Debug)]
pub struct Blood {
    /// Volume in the vessels, ml (copied from the network each second).
    pub volume_ml: f64,
    /// Red cells, ml.
    pub cells_ml: f64,
    /// Plasma protein, g.
    pub protein_g: f64,
    /// Clotting factors, in ml of normal plasma.
    pub factors_ml: f64,
    /// Fibrinogen, g.
    pub fibrinogen_g: f64,
    /// Platelets, 10^9.
    pub platelets_e9: f64,
    /// Interstitial fluid, ml.
    pub interstitial_ml: f64,
    interstitial_rest_ml: f64,
    /// Ionised calcium, mmol/l.
    pub calcium_mmol_l: f64,
    /// Potassium, mmol/l.
    pub potassium_mmol_l: f64,
    /// Lactate, mmol/l.
    pub lactate_mmol_l: f64,
    /// Base excess other than lactate's, mmol/l.
    pub other_base_mmol_l: f64,
    /// Core temperature, Celsius.
    pub temperature_c: f64,
    /// Given so far by product, ml.
    pub given_ml: [f64; Product::ALL.len()],
    /// Urine so far, ml.
    pub urine_ml: f64,
    /// Net filtered from vessels into tissue so far, ml.
    pub filtered_ml: f64,
    /// Cells held by the blood in all spaces, ml.
    pub lost_cells_ml: f64,
    oncotic_rest_mmhg: f64,
    inborn: f64,
    litres_of_water: f64,
    mass_kg: f64,
    /// Fibrinolysis, 0 (none) upward; 1 dissolves a clot in about an hour.
    pub lysis: f64,
    /// Fibrinolysis without shock and without a drug: what an injury has set free, on the way to the usual.
    pub set_free: f64,
    /// Cells in one ml of red-cell volume, g haemoglobin per ml.
    hb_per_cell_ml: f64,
}

/// Whole-body filtration coefficient, ml/(s mmHg). Guyton 1973 has 0.0065 l/min/mmHg; halved so that the early refill
/// stays near the 1 l/h seen in bled volunteers. Assumed.
const FILTRATION: f64 = 3.5 / 60.0;

/// Fibrinolysis of the well.
const USUAL_LYSIS: f64 = 0.1;

impl Blood {
    /// A patient's blood at rest.
    pub fn new(p: &Patient, volume_ml: f64) -> Self {
        // 340 g of haemoglobin in a litre of packed cells (normal MCHC).
        let hb_per_cell_ml = 0.34;
        let cells_ml = p.haemoglobin_g_l * 1e-3 / hb_per_cell_ml * volume_ml;
        let plasma = volume_ml - cells_ml;
        let protein_g = plasma * 0.070;
        let interstitial_ml = 160.0 * p.mass_kg;
        let mut b = Self {
            volume_ml,
            cells_ml,
            protein_g,
            factors_ml: plasma,
            fibrinogen_g: plasma * 0.0030,
            platelets_e9: volume_ml * 0.250,
            interstitial_ml,
            interstitial_rest_ml: interstitial_ml,
            calcium_mmol_l: 1.20,
            potassium_mmol_l: 4.1,
            lactate_mmol_l: 1.0,
            other_base_mmol_l: 0.0,
            temperature_c: p.temperature_c,
            given_ml: [0.0; Product::ALL.len()],
            urine_ml: 0.0,
            filtered_ml: 0.0,
            lost_cells_ml: 0.0,
            oncotic_rest_mmhg: 0.0,
            inborn: p.clotting,
            litres_of_water: p.mass_kg * 0.40,
            mass_kg: p.mass_kg,
            lysis: 0.0,
            set_free: p.fibrinolysis,
            hb_per_cell_ml,
        };
        b.oncotic_rest_mmhg = b.oncotic_mmhg();
        b
    }
    /// Plasma volume, ml.
    pub fn plasma_ml(&self) -> f64 {
        (self.volume_ml - self.cells_ml).max(1.0)
    }
    /// Haematocrit, 0 to 1.
    pub fn haematocrit(&self) -> f64 {
        (self.cells_ml / self.volume_ml.max(1.0)).clamp(0.0, 0.95)
    }
    /// Haemoglobin, g/l.
    pub fn haemoglobin_g_l(&self) -> f64 {
        self.haematocrit() * self.hb_per_cell_ml * 1e3
    }
    /// Viscosity relative to a haematocrit of 0.43 (exponential in the haematocrit; textbook slope 2.5).
    pub fn viscosity(&self) -> f64 {
        ops::exp(2.0 * (self.haematocrit() - 0.43))
    }
    /// Oncotic pressure of plasma, mmHg (Landis and Pappenheimer 1963).
    pub fn oncotic_mmhg(&self) -> f64 {
        let c = (self.protein_g / self.plasma_ml() * 100.0).clamp(0.0, 12.0);
        2.1 * c + 0.16 * c * c + 0.009 * c * c * c
    }
    /// Base excess, mmol/l.
    pub fn base_excess_mmol_l(&self) -> f64 {
        self.other_base_mmol_l - (self.lactate_mmol_l - 1.0)
    }
    /// Arterial pH from base excess and carbon dioxide (Siggaard-Andersen's slope: about 0.015 per mmol/l;
    /// 0.08 for each 10 mmHg).
    pub fn ph(&self, paco2_mmhg: f64) -> f64 {
        (7.40 + 0.0145 * self.base_excess_mmol_l() - 0.0075 * (paco2_mmhg - 40.0)).clamp(6.5, 7.8)
    }
    /// Clotting factors relative to normal plasma.
    pub fn factors(&self) -> f64 {
        (self.factors_ml / self.plasma_ml()).clamp(0.0, 1.5)
    }
    /// Fibrinogen, g/l.
    pub fn fibrinogen_g_l(&self) -> f64 {
        (self.fibrinogen_g / self.plasma_ml() * 1e3).max(0.0)
    }
    /// Platelets, 10^9/l.
    pub fn platelets_e9_l(&self) -> f64 {
        (self.platelets_e9 / self.volume_ml.max(1.0) * 1e3).max(0.0)
    }
    /// International normalised ratio from the factors left: 1 at full, about 1.5 at half, 2.5 at a quarter
    /// (factor-dilution curves; rounded).
    pub fn inr(&self) -> f64 {
        linear(
            &[(0.05, 9.0), (0.15, 4.0), (0.25, 2.5), (0.4, 1.7), (0.5, 1.5), (0.7, 1.2), (1.0, 1.0)],
            self.factors() * self.inborn.min(1.0),
        )
    }
    /// Clotting activity relative to normal: how fast clot forms and how firm it is. `heparin_level` is the part of
    /// thrombin that heparin blocks, 0 to 1.
    pub fn clotting(&self, ph: f64, heparin_level: f64) -> f64 {
        // Temperature: enzymes lose about 10 % a degree, platelets fail below 34 (Wolberg, J Trauma 2004). Acid: half at
        // pH 7.1 (Meng, J Trauma 2003). Calcium below 0.9 and fibrinogen below 1.5 g/l fail (European trauma guideline).
        let heat = linear(&[(28.0, 0.25), (32.0, 0.5), (34.0, 0.75), (36.0, 1.0)], self.temperature_c);
        let acid = linear(&[(6.9, 0.25), (7.1, 0.5), (7.2, 0.7), (7.35, 1.0)], ph);
        let calcium = linear(&[(0.4, 0.1), (0.7, 0.5), (0.9, 0.8), (1.1, 1.0)], self.calcium_mmol_l);
        let fibrin = linear(&[(0.0, 0.0), (0.8, 0.35), (1.5, 0.8), (2.2, 1.0)], self.fibrinogen_g_l());
        let plates = linear(&[(0.0, 0.1), (50.0, 0.6), (100.0, 1.0)], self.platelets_e9_l());
        let factors = linear(&[(0.0, 0.0), (0.2, 0.3), (0.4, 0.75), (0.6, 1.0)], self.factors());
        self.inborn * heat * acid * calcium * fibrin * plates * factors * (1.0 - 0.92 * heparin_level)
    }

    /// Pours in some of a product: its contents enter here, its volume through the network's source.
    pub(super) fn pour(&mut self, product: Product, ml: f64) {
        let c = product.content();
        self.given_ml[product as usize] += ml;
        self.cells_ml += c.cells * ml;
        self.protein_g += c.protein_mg * ml * 1e-3;
        self.factors_ml += c.factors * ml;
        self.fibrinogen_g += c.fibrinogen_mg * ml * 1e-3;
        self.platelets_e9 += c.platelets_e6 * ml * 1e-3;
        self.calcium_mmol_l -= c.calcium_bound_umol * ml * 1e-3 / 15.0;
        self.other_base_mmol_l -= c.acid_umol * ml * 1e-3 / self.litres_of_water;
        // Heat: the body holds 3.5 kJ/(kg K), a fluid 4.2.
        self.temperature_c += (c.celsius - self.temperature_c) * ml * 1e-3 * 4.2 / (3.5 * self.mass_kg);
    }
    /// Takes whole blood out (ml; negative returns it).
    pub(super) fn shed(&mut self, ml: f64) {
        let f = (ml / self.volume_ml.max(1.0)).clamp(-0.2, 1.0);
        self.lost_cells_ml += self.cells_ml * f;
        self.cells_ml -= self.cells_ml * f;
        self.protein_g -= self.protein_g * f;
        self.factors_ml -= self.factors_ml * f;
        self.fibrinogen_g -= self.fibrinogen_g * f;
        self.platelets_e9 -= self.platelets_e9 * f;
    }
    /// Water in the tissues beyond that of rest, ml; below 0 they are dry.
    pub(super) fn tissue_over_rest_ml(&self) -> f64 {
        self.interstitial_ml - self.interstitial_rest_ml
    }
    /// Flow from vessels into tissue now, ml/s, for a capillary pressure relative to rest (Starling).
    pub(super) fn filtration_ml_s(&self, capillary_over_rest_mmhg: f64) -> f64 {
        let over = self.tissue_over_rest_ml();
        // Tissue gives way easily once wet, hardly when dry. Assumed.
        let tissue = if over > 0.0 { over / 2500.0 } else { over / 900.0 };
        let oncotic = self.oncotic_mmhg() - self.oncotic_rest_mmhg;
        (FILTRATION * (capillary_over_rest_mmhg - oncotic - tissue)).clamp(-1.2, 3.0)
    }
    /// Moves water into tissue, ml; a little protein goes with it (1 % a minute of what leaves is sieved: assumed 5 %).
    pub(super) fn filter(&mut self, ml: f64) {
        self.interstitial_ml += ml;
        self.filtered_ml += ml;
    }
    /// What an injury has set free is shut down again: half of it in an hour (assumed; a shutdown within hours: Moore, J Trauma Acute Care
    /// Surg 2014, from memory).
    pub(super) fn wear_off(&mut self, dt_s: f64) {
        const HALF_S: f64 = 3600.0;
        let kept = ops::exp(-std::f64::consts::LN_2 * dt_s / HALF_S);
        self.set_free = USUAL_LYSIS + (self.set_free - USUAL_LYSIS) * kept;
    }
    /// What the injury has set free takes fibrinogen as well as clot, as far as a drug does not hold it (`free`, 0 to 1): half of it in four
    /// hours at 1 (assumed; that fibrinogen is the first factor to fall in trauma: Hayakawa, J Intensive Care 2017, from memory).
    pub(super) fn break_down_fibrinogen(&mut self, free: f64, dt_s: f64) {
        const HALF_S: f64 = 14_400.0;
        let beyond = (self.set_free - USUAL_LYSIS).max(0.0) * free;
        self.fibrinogen_g *= ops::exp(-beyond * std::f64::consts::LN_2 * dt_s / HALF_S);
    }
    /// Slow chemistry: calcium comes back from bone, potassium and base toward normal through the kidney.
    pub(super) fn drift(&mut self, dt_s: f64, kidney: f64) {
        self.calcium_mmol_l += (1.20 - self.calcium_mmol_l) * dt_s / 900.0;
        self.calcium_mmol_l = self.calcium_mmol_l.clamp(0.2, 4.0);
        self.potassium_mmol_l += (4.1 - self.potassium_mmol_l) * dt_s / 7200.0 * kidney.clamp(0.0, 1.2);
        self.other_base_mmol_l -= self.other_base_mmol_l * dt_s / 43200.0 * kidney.clamp(0.0, 1.2);
        self.other_base_mmol_l = self.other_base_mmol_l.clamp(-25.0, 25.0);
    }
    /// Litres in which lactate and base are spread.
    pub(super) fn litres_of_water(&self) -> f64 {
        self.litres_of_water
    }
}
