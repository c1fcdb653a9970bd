//! What the laboratory would find in a sample taken now. The delay is the session's.

use serde::{Deserialize, Serialize};

macro_rules! tests {
    ($($name:ident, $label:literal, $unit:literal;)*) => {
        /// A laboratory test.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        #[expect(missing_docs, reason = "each variant is the test's name")]
        pub enum Test { $($name,)* }
        impl Test {
            /// Every test.
            pub const ALL: [Self; [$(Self::$name),*].len()] = [$(Self::$name),*];
            /// As printed.
            pub fn label(self) -> &'static str { match self { $(Self::$name => $label,)* } }
            /// Unit.
            pub fn unit(self) -> &'static str { match self { $(Self::$name => $unit,)* } }
        }
    };
}

tests! {
    Haemoglobin, "haemoglobin", "g/l";
    Haematocrit, "haematocrit", "l/l";
    Platelets, "platelets", "10^9/l";
    Inr, "INR", "";
    Fibrinogen, "fibrinogen", "g/l";
    Act, "activated clotting time", "s";
    Ph, "pH", "";
    CarbonDioxide, "PaCO2", "mmHg";
    Oxygen, "PaO2", "mmHg";
    BaseExcess, "base excess", "mmol/l";
    Lactate, "lactate", "mmol/l";
    Potassium, "potassium", "mmol/l";
    IonisedCalcium, "ionised calcium", "mmol/l";
    Creatinine, "creatinine", "umol/l";
    Troponin, "troponin", "x 99th centile";
}

/// Activated clotting time, s: 135 s at rest, 0.93 s for each IU/kg of heparin in the blood (slope through the published
/// means at 5000 IU, 197 s, and 100 IU/kg, 227 s), longer when factors are diluted or the blood is cold.
pub(super) fn act_s(heparin_iu_kg: f64, factors: f64, temperature_c: f64) -> f64 {
    let thin = (0.6 - factors).max(0.0) * 150.0;
    let cold = (35.0 - temperature_c).max(0.0) * 6.0;
    (135.0 + 0.93 * heparin_iu_kg + thin + cold).min(1500.0)
}
