//! Forces on what lies in flowing blood, and stresses in what it lies against, in closed form.
//!
//! Lengths mm, pressures mmHg, flows mL/s, forces N, stresses kPa.

use super::place::Placed;
use crate::math::ops;

/// Density of blood, kg/m³.
const RHO: f64 = 1060.0;
const PA_PER_MMHG: f64 = 133.322;
/// Contraction of the jet past an obstruction.
const CONTRACTION: f64 = 0.7;
/// Friction between fabric and wall (0.2 to 0.5 in bench work; from memory).
pub const FABRIC_FRICTION: f64 = 0.3;
/// What barbs add, N: half of the 40 to 60 N at which barbed grafts came out of bovine aorta (J Vasc Surg 63:493, 2016).
pub const BARBS_N: f64 = 20.0;

fn area_m2(diameter_mm: f64) -> f64 {
    std::f64::consts::PI * diameter_mm * diameter_mm * 0.25e-6
}

/// Push of flowing blood through one section, p A + rho Q² / A, N.
fn thrust_n(pressure_mmhg: f64, flow_ml_s: f64, area_m2: f64) -> f64 {
    let q = flow_ml_s * 1e-6;
    pressure_mmhg * PA_PER_MMHG * area_m2 + RHO * q * q / area_m2
}

/// Drag on a bend, N: 2 (p A + rho Q² / A) sin(angle / 2). The pressure is that above what lies outside the graft.
pub fn bend_drag_n(diameter_mm: f64, pressure_mmhg: f64, flow_ml_s: f64, angle_rad: f64) -> f64 {
    2.0 * thrust_n(pressure_mmhg, flow_ml_s, area_m2(diameter_mm)) * ops::sin(0.5 * angle_rad)
}

/// Drag on a body with two equal legs that part by `half_angle_rad` each, N.
pub fn bifurcation_drag_n(
    body_mm: f64,
    leg_mm: f64,
    pressure_mmhg: f64,
    flow_ml_s: f64,
    half_angle_rad: f64,
) -> f64 {
    let body = thrust_n(pressure_mmhg, flow_ml_s, area_m2(body_mm));
    let leg = thrust_n(pressure_mmhg, 0.5 * flow_ml_s, area_m2(leg_mm));
    body - 2.0 * leg * ops::cos(half_angle_rad)
}

/// Jet loss of an obstruction that leaves `1 - blocked` of the lumen: `dP = K Q²`, K in mmHg s²/mL².
///
/// Put it into the circulation and read the pressure drop back: at a given flow it grows without bound as the lumen
/// closes, which no heart can drive.
pub fn obstruction_k(lumen_mm: f64, blocked: f64) -> f64 {
    let a = area_m2(lumen_mm);
    let open = a * (1.0 - blocked.clamp(0.0, 0.98));
    let ratio = open / a;
    0.5 * RHO / (CONTRACTION * CONTRACTION * open * open) * (1.0 - ratio * ratio) * 1e-12 / PA_PER_MMHG
}

/// Push on the obstruction, N.
pub fn windsock_n(lumen_mm: f64, blocked: f64, drop_mmhg: f64) -> f64 {
    drop_mmhg * PA_PER_MMHG * area_m2(lumen_mm) * blocked
}

/// Pressure drop over an obstruction when a bed that took `flow_ml_s` at `map_mmhg` lies behind it, mmHg: what a caller
/// without a circulation can use.
pub fn drop_behind_bed_mmhg(map_mmhg: f64, flow_ml_s: f64, k: f64) -> f64 {
    if flow_ml_s <= 0.0 || k <= 0.0 {
        return 0.0;
    }
    let r = map_mmhg / flow_ml_s;
    let q = 2.0 * map_mmhg / (r + (r * r + 4.0 * k * map_mmhg).sqrt());
    k * q * q
}

/// Grip of a cylinder on the wall, mu p pi D L, N.
pub fn grip_n(pressure_kpa: f64, diameter_mm: f64, length_mm: f64) -> f64 {
    FABRIC_FRICTION * pressure_kpa * 1e-3 * std::f64::consts::PI * diameter_mm * length_mm
}

/// Grip of a placed graft's proximal half on the wall, N.
pub fn fixation_n(placed: &Placed) -> f64 {
    let half = 0.5 * placed.length_mm();
    let cells = placed.rows.iter().zip(placed.cells.chunks(super::place::CELLS_ROUND));
    let pressed: f64 = cells
        .filter(|(row, _)| row.from_edge_mm < half)
        .flat_map(|(_, cells)| cells)
        .map(|c| c.contact_kpa * 1e-3 * c.size_mm[0] * c.size_mm[1])
        .sum();
    let bare = placed.graft.bare_proximal_mm
        * std::f64::consts::PI
        * placed.ends[0].vessel_mm
        * placed.bare_kpa
        * 1e-3;
    FABRIC_FRICTION * (pressed + bare) + if placed.graft.barbs { BARBS_N } else { 0.0 }
}

/// Mean stress in a cylinder's wall, p r / t, kPa.
pub fn cylinder_stress_kpa(pressure_mmhg: f64, radius_mm: f64, thickness_mm: f64) -> f64 {
    pressure_mmhg * PA_PER_MMHG * 1e-3 * radius_mm / thickness_mm
}

/// Mean stress in a sphere's wall, p r / 2 t, kPa.
pub fn sphere_stress_kpa(pressure_mmhg: f64, radius_mm: f64, thickness_mm: f64) -> f64 {
    0.5 * cylinder_stress_kpa(pressure_mmhg, radius_mm, thickness_mm)
}

/// Pressure in a neo-Hookean sphere of shear modulus `mu_kpa` at stretch l, kPa: (2 mu t / r) (1/l - 1/l⁷).
pub fn neo_hookean_sphere_kpa(mu_kpa: f64, thickness_mm: f64, radius_mm: f64, stretch: f64) -> f64 {
    2.0 * mu_kpa * thickness_mm / radius_mm * (1.0 / stretch - 1.0 / ops::powi(stretch, 7))
}

/// Stress in aneurysm wall stretched one way, kPa (Raghavan and Vorp, J Biomech 33:475, 2000: alpha 17.4 and beta
/// 188.1 N/cm²).
pub fn aneurysm_wall_stress_kpa(stretch: f64) -> f64 {
    let l = stretch;
    let i1 = l * l + 2.0 / l - 3.0;
    10.0 * (2.0 * 17.4 + 4.0 * 188.1 * i1) * (l * l - 1.0 / l)
}
