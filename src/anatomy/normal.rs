//! Normal size by age, sex and height: what a sizing sheet leaves open.

use super::spec::{ArchType, Landmark, Sex, Stretch};
use super::{VesselName, adan};

/// Age at which the tables below hold.
const TABLE_AGE: f64 = 50.0;
/// Age and height of the benchmark tree's man (from memory: a healthy young man of average height).
const ADAN_AGE: f64 = 30.0;
const ADAN_HEIGHT_CM: f64 = 172.0;

/// Diameter of a healthy aorta at a landmark, mm.
///
/// Both sexes at 50 years: Hager et al., J Thorac Cardiovasc Surg 123:1060, 2002 (sinus to isthmus,
/// diaphragm); Lee et al., J Korean Soc Radiol 69:105, 2013 (descending and abdominal aorta); Rogers et al.,
/// Am J Cardiol 111:1510, 2013, for the ratio of the sexes and the levels shared with the others, of which
/// the value is between. Growth 0.16 mm a year in the thorax: Hannuksela et al., Scand Cardiovasc J 40:175,
/// 2006; 0.05 in the abdomen: assumed.
pub fn aorta_mm(landmark: Landmark, age_years: f64, sex: Sex) -> f64 {
    use Landmark::*;
    // (mm, half the ratio of men to women less one, mm a year)
    let (mm, sexes, growth) = match landmark {
        Annulus => (24.0, 0.045, 0.03),
        Sinus => (30.5, 0.035, 0.12),
        Ascending => (31.5, 0.034, 0.16),
        PreInnominate => (29.8, 0.034, 0.16),
        ProximalArch => (27.7, 0.045, 0.14),
        DistalArch => (26.1, 0.050, 0.13),
        Isthmus => (24.7, 0.055, 0.13),
        MidDescending => (23.8, 0.055, 0.13),
        Diaphragm => (22.8, 0.060, 0.12),
        Coeliac => (21.3, 0.064, 0.08),
        Suprarenal => (20.2, 0.068, 0.06),
        Infrarenal => (18.1, 0.072, 0.05),
        Bifurcation => (16.4, 0.075, 0.04),
    };
    let signed = if sex == Sex::Male { sexes } else { -sexes };
    mm * (1.0 + signed) + growth * (age_years - TABLE_AGE)
}

/// Length of a stretch of a healthy aorta, mm.
///
/// The benchmark tree, scaled by height, but the spacing of the arch branches, where a one-dimensional tree
/// lets ostia overlap: 21.8 and 14.3 mm (Girsowicz et al., Ann Vasc Surg 2017, 61 healthy people). The
/// thoracic aorta lengthens by about 60 mm from 20 to 80 years (Adriaans et al., Heart 104:1772, 2018); we
/// put two fifths of it into the ascending (Sugawara et al., JACC Cardiovasc Imaging 1:739, 2008) and the
/// rest into the descending aorta.
pub fn stretch_mm(stretch: Stretch, age_years: f64, height_cm: f64) -> f64 {
    let ageing = (age_years - ADAN_AGE).max(0.0);
    let (young, a_year) = match stretch {
        Stretch::Ascending => (adan::length_mm(&["aortic_arch_I"]), 0.4),
        Stretch::InnominateToLeftCarotid => (21.8, 0.0),
        Stretch::LeftCarotidToLeftSubclavian => (14.3, 0.0),
        Stretch::Descending => (adan::length_mm(&DESCENDING), 0.6),
        Stretch::CoeliacToSma => (adan::length_mm(&["abdominal_aorta_I"]), 0.0),
        Stretch::SmaToRenal => (adan::length_mm(&["abdominal_aorta_II"]), 0.0),
        Stretch::BetweenRenals => (adan::length_mm(&["abdominal_aorta_III"]), 0.0),
        Stretch::Infrarenal => (adan::length_mm(&["abdominal_aorta_IV", "abdominal_aorta_V"]), 0.0),
    };
    young * height_cm / ADAN_HEIGHT_CM + a_year * ageing
}

const DESCENDING: [&str; 7] = [
    "aortic_arch_IV",
    "thoracic_aorta_I",
    "thoracic_aorta_II",
    "thoracic_aorta_III",
    "thoracic_aorta_IV",
    "thoracic_aorta_V",
    "thoracic_aorta_VI",
];

/// Distance from the lower renal to the inferior mesenteric artery, as part of the infrarenal aorta.
pub fn ima_fraction() -> f64 {
    let [above, below] = ["abdominal_aorta_IV", "abdominal_aorta_V"].map(|n| adan::length_mm(&[n]));
    above / (above + below)
}

/// Diameters of a branch at its start and its end, mm, and its length, mm.
///
/// Arch branches: Yan et al. 2017 (CT of 217 people: 12.5, 8.3 and 10.4 mm). Common iliac: Kim et al., PLoS
/// ONE e0268077, 2022 (10.9 mm); external iliac and common femoral: common practice, no source (men 8.4 and
/// 8.8 mm, women a seventh less). All other sizes, and all lengths, are the benchmark tree's. Arm arteries
/// run to the elbow, the coeliac trunk on into the common hepatic, the external iliac to the femoral
/// bifurcation.
pub fn branch_mm(name: VesselName, sex: Sex, height_cm: f64) -> (f64, f64, f64) {
    use VesselName::*;
    let leg = if sex == Sex::Male { 1.0 } else { 0.86 };
    let tall = height_cm / ADAN_HEIGHT_CM;
    let of = |first: &str, last: &str, names: &[&str]| {
        (2.0 * adan::radii_mm(first).0, 2.0 * adan::radii_mm(last).1, tall * adan::length_mm(names))
    };
    let one = |n: &str| of(n, n, &[n]);
    let sized = |start: f64, end: f64, names: &[&str]| (start, end, tall * adan::length_mm(names));
    match name {
        Aorta | FalseLumen => {
            (aorta_mm(Landmark::Ascending, 50.0, sex), aorta_mm(Landmark::Bifurcation, 50.0, sex), 0.0)
        }
        Innominate => sized(12.5, 11.6, &["brachiocephalic_trunk"]),
        RightCarotid => sized(8.0, 6.7, &["common_carotid_R"]),
        LeftCarotid => sized(8.3, 6.7, &["common_carotid_L"]),
        RightSubclavian => {
            sized(9.0, 3.7, &["subclavian_R_I", "subclavian_R_II", "axillary_R", "brachial_R"])
        }
        LeftSubclavian => {
            sized(10.4, 3.7, &["subclavian_L_I", "subclavian_L_II", "axillary_L", "brachial_L"])
        }
        RightVertebral => one("vertebral_R"),
        LeftVertebral => one("vertebral_L"),
        Intercostals => one("posterior_intercostal_T7_L"),
        Coeliac => of("celiac_trunk", "common_hepatic", &["celiac_trunk", "common_hepatic"]),
        Sma => one("superior_mesenteric"),
        RightRenal => one("renal_R"),
        LeftRenal => one("renal_L"),
        Ima => one("inferior_mesenteric"),
        RightCommonIliac => sized(11.4 * leg, 10.4 * leg, &["common_iliac_R"]),
        LeftCommonIliac => sized(11.4 * leg, 10.4 * leg, &["common_iliac_L"]),
        RightInternalIliac => one("internal_iliac_R"),
        LeftInternalIliac => one("internal_iliac_L"),
        RightExternalIliac => sized(8.4 * leg, 8.8 * leg, &["external_iliac_R", "femoral_R_I"]),
        LeftExternalIliac => sized(8.4 * leg, 8.8 * leg, &["external_iliac_L", "femoral_L_I"]),
    }
}

/// How far the vertebral leaves beyond the start of its subclavian, mm.
pub fn vertebral_at_mm(right: bool) -> f64 {
    adan::length_mm(&[if right { "subclavian_R_I" } else { "subclavian_L_I" }])
}

/// Arch type where none is written: the arch unfolds with age (Redheuil et al., J Am Coll Cardiol 58:1262,
/// 2011, for the fact; the ages are assumed).
pub fn arch_type(age_years: f64) -> ArchType {
    match age_years {
        a if a < 45.0 => ArchType::I,
        a if a < 75.0 => ArchType::II,
        _ => ArchType::III,
    }
}

/// Radius of the arch's inner curve where none is written, mm: 20 to 35 in adults, wider with age (common
/// practice, no source).
pub fn inner_radius_mm(age_years: f64) -> f64 {
    (24.0 + 0.12 * (age_years - 40.0)).clamp(20.0, 35.0)
}
