//! The whole patient's network: which node is which, and how a person and a layout become compliances and resistances.

use super::bleed::Space;
use super::layout::{Layout, SEGMENTS};
use super::network::{LA, LV, Network, RA, RV};
use super::patient::{Grade, Patient, ValveDisease};
use super::territory::{BED_KINDS, BEDS, Bed};
use crate::anatomy::VesselName;
use crate::math::ops;

/// Blood, kg/m³.
pub const RHO: f64 = 1060.0;
/// Pascals in a millimetre of mercury.
pub const PA_PER_MMHG: f64 = 133.322;
/// Density in mmHg s²/cm²: `dp = RHO_CGS / 2 v²` with v in cm/s gives mmHg.
pub const RHO_CGS: f64 = RHO * 1e-4 / PA_PER_MMHG;
/// Viscosity of blood at a haematocrit of 0.45, mmHg s (3.5 mPa s).
const MU: f64 = 3.5e-3 / PA_PER_MMHG;
/// Discharge coefficient of a hole in a wall (sharp-edged orifice, textbook hydraulics).
pub const DISCHARGE: f64 = 0.6;

macro_rules! indices {
    ($($(#[$doc:meta])* $name:ident = $value:expr;)*) => { $($(#[$doc])* pub const $name: usize = $value;)* };
}

/// Node numbers. The heart's four come from `network`.
#[expect(missing_docs, reason = "anatomical abbreviations, spelled out in NODE_NAMES")]
pub mod node {
    indices! {
        PA = 4; PULM = 5; PV = 6; SPLANCHNIC = 7; SYSTEMIC = 8;
        CORONARY = 9; INNOMINATE = 10; R_CAROTID = 11; R_SUBCLAVIAN = 12; L_CAROTID = 13; L_SUBCLAVIAN = 14;
        R_RADIAL = 15; L_RADIAL = 16; BASILAR = 17; R_BRAIN = 18; L_BRAIN = 19;
        UPPER_INTERCOSTAL = 20; LOWER_INTERCOSTAL = 21; LUMBAR = 22; CORD = 23;
        COELIAC = 24; SMA = 25; IMA = 26; R_RENAL = 27; L_RENAL = 28;
        R_ILIAC = 29; L_ILIAC = 30; R_HYPOGASTRIC = 31; L_HYPOGASTRIC = 32; R_FEMORAL = 33; L_FEMORAL = 34;
        SPACE = 35; SAC = 43; AORTA = 45;
    }
}

use node as n;

/// Retardation time of an arterial wall, s: a loss angle near 0.1 at the heart's rate (Bergel, J Physiol 1961).
const WALL_S: f64 = 0.012;
/// Part of a branch's impedance that damps its ringing.
const DAMPING: f64 = 0.04;

/// Pipes that have a name, in the order in which they are built after the aorta's own.
const NAMED: [(VesselName, usize, usize); 23] = [
    (VesselName::Innominate, n::AORTA, n::INNOMINATE),
    (VesselName::RightCarotid, n::INNOMINATE, n::R_CAROTID),
    (VesselName::RightSubclavian, n::INNOMINATE, n::R_SUBCLAVIAN),
    (VesselName::LeftCarotid, n::AORTA, n::L_CAROTID),
    (VesselName::LeftSubclavian, n::AORTA, n::L_SUBCLAVIAN),
    (VesselName::RightVertebral, n::R_SUBCLAVIAN, n::BASILAR),
    (VesselName::LeftVertebral, n::L_SUBCLAVIAN, n::BASILAR),
    (VesselName::Intercostals, n::AORTA, n::UPPER_INTERCOSTAL),
    (VesselName::Intercostals, n::AORTA, n::LOWER_INTERCOSTAL),
    (VesselName::Intercostals, n::AORTA, n::LUMBAR),
    (VesselName::Coeliac, n::AORTA, n::COELIAC),
    (VesselName::Sma, n::AORTA, n::SMA),
    (VesselName::RightRenal, n::AORTA, n::R_RENAL),
    (VesselName::LeftRenal, n::AORTA, n::L_RENAL),
    (VesselName::Ima, n::AORTA, n::IMA),
    (VesselName::RightCommonIliac, n::AORTA, n::R_ILIAC),
    (VesselName::LeftCommonIliac, n::AORTA, n::L_ILIAC),
    (VesselName::RightInternalIliac, n::R_ILIAC, n::R_HYPOGASTRIC),
    (VesselName::LeftInternalIliac, n::L_ILIAC, n::L_HYPOGASTRIC),
    (VesselName::RightExternalIliac, n::R_ILIAC, n::R_FEMORAL),
    (VesselName::LeftExternalIliac, n::L_ILIAC, n::L_FEMORAL),
    // The arms run on from the subclavians; their names are the subclavians' own, below the vertebrals.
    (VesselName::RightSubclavian, n::R_SUBCLAVIAN, n::R_RADIAL),
    (VesselName::LeftSubclavian, n::L_SUBCLAVIAN, n::L_RADIAL),
];

/// Collateral paths: ends, and conductance in ml/s at 10 mmHg for a full network of a 5.4 l/min adult. Assumed, set so that
/// a covered left subclavian leaves the arm near half of the other's pressure, a covered coeliac or SMA is carried by
/// the other, and hypogastrics share across the pelvis; the ranges are checked in the tests.
const COLLATERALS: [(usize, usize, f64); 25] = [
    // Circle of Willis: anterior, right and left posterior communicating.
    (n::R_BRAIN, n::L_BRAIN, 2.2),
    (n::R_BRAIN, n::BASILAR, 1.1),
    (n::L_BRAIN, n::BASILAR, 1.1),
    (n::R_CAROTID, n::L_CAROTID, 0.3),
    // Neck and shoulder: thyroid, cervical and scapular arteries.
    (n::L_CAROTID, n::L_SUBCLAVIAN, 0.5),
    // Visceral arcades.
    (n::COELIAC, n::SMA, 1.2),
    (n::SMA, n::IMA, 0.5),
    (n::IMA, n::R_HYPOGASTRIC, 0.15),
    (n::IMA, n::L_HYPOGASTRIC, 0.15),
    // Pelvis and groin.
    (n::R_HYPOGASTRIC, n::L_HYPOGASTRIC, 0.6),
    (n::R_HYPOGASTRIC, n::R_FEMORAL, 0.4),
    (n::L_HYPOGASTRIC, n::L_FEMORAL, 0.4),
    // Trunk: internal thoracic, intercostal to intercostal, iliolumbar.
    (n::R_SUBCLAVIAN, n::UPPER_INTERCOSTAL, 0.10),
    (n::L_SUBCLAVIAN, n::UPPER_INTERCOSTAL, 0.10),
    (n::UPPER_INTERCOSTAL, n::LOWER_INTERCOSTAL, 0.15),
    (n::LOWER_INTERCOSTAL, n::LUMBAR, 0.12),
    (n::LUMBAR, n::R_HYPOGASTRIC, 0.2),
    (n::LUMBAR, n::L_HYPOGASTRIC, 0.2),
    // The cord's own: anterior spinal from the vertebrals, radiculars, lateral sacral.
    (n::BASILAR, n::CORD, 0.02),
    (n::R_SUBCLAVIAN, n::CORD, 0.01),
    (n::L_SUBCLAVIAN, n::CORD, 0.02),
    (n::UPPER_INTERCOSTAL, n::CORD, 0.03),
    (n::LOWER_INTERCOSTAL, n::CORD, 0.09),
    (n::LUMBAR, n::CORD, 0.04),
    (n::R_HYPOGASTRIC, n::CORD, 0.02),
];

/// The network's map: which pipe and link is what.
#[derive(Clone, Debug)]
pub struct Map {
    /// Number of aortic segments.
    pub segments: usize,
    /// The first of the aorta's own pipes (segment i to i + 1).
    pub aorta_pipe: usize,
    /// Pipe of each row of the named table.
    pub named_pipe: usize,
    /// Segment from which each row of the named table leaves, if it leaves the aorta.
    pub leaves_at: [Option<u8>; NAMED.len()],
    /// Inertance, resistance and open area (cm²) of each named row.
    pub named: [(f64, f64, f64); NAMED.len()],
    /// Inertance, resistance and area (cm²) of each aortic pipe.
    pub aortic: [(f64, f64, f64); SEGMENTS],
    /// First link of the beds, in the order of `BED_KINDS`.
    pub bed_link: usize,
    /// Resistance of each bed at rest, mmHg s/ml.
    pub bed_r: [f64; BEDS],
    /// Flow of each bed at rest, ml/s.
    pub bed_q: [f64; BEDS],
    /// Link from splanchnic and from systemic veins to the right atrium.
    pub vein_link: usize,
    /// Number of links.
    pub links: usize,
    /// The layout.
    pub layout: Layout,
}

impl Map {
    /// Rows of the named table that carry this vessel's name at its origin.
    pub fn rows(name: VesselName) -> impl Iterator<Item = usize> {
        NAMED.iter().enumerate().take(21).filter(move |(_, row)| row.0 == name).map(|(i, _)| i)
    }
    /// The node on the far side of a named vessel's origin; the aorta's is its mid-segment.
    pub fn node_of(&self, name: VesselName) -> usize {
        match Self::rows(name).next() {
            Some(row) => NAMED[row].2,
            None => n::AORTA + self.segments / 2,
        }
    }
    /// The node of the aorta at `s_mm`.
    pub fn aorta_node(&self, s_mm: f64) -> usize {
        n::AORTA + self.layout.segment(s_mm)
    }
    /// The node of a space.
    pub fn space_node(space: Space) -> usize {
        n::SPACE + space as usize
    }
}

/// Builds one patient's network in every lane. The heart starts at rest pressures; nothing bleeds.
pub fn build<const W: usize>(patient: &Patient, layout: &Layout, dt_s: f64) -> (Network<W>, Map) {
    let mut net = Network::new(dt_s);
    let size = patient.output_rest_l_min() / 5.4;
    let map_rest = patient.map_rest_mmhg;
    let blood = patient.blood_volume_ml() / 5300.0;
    net.add_heart(n::PA, n::AORTA);
    // The four chambers' nodes: atria carry a compliance (Ursino 1998); ventricles only their volume.
    heart(&mut net, patient, size);
    for i in [RA, RV, LA, LV] {
        for k in 0..W {
            net.set_node(i, k, 1e9, 0.0);
            net.v_ml[i][k] = [45.0, 110.0, 60.0, 110.0][i] * size;
        }
    }
    // Pulmonary and venous compartments: Ursino 1998, scaled by blood volume.
    net.add_node(0.76 * blood, 10.0 * blood, 18.0);
    net.add_node(5.80 * blood, 123.0 * blood, 14.0);
    net.add_node(25.37 * blood, 120.0 * blood, 9.0);
    net.add_node(61.11 * blood, 1121.0 * blood, 7.5);
    net.add_node(50.0 * blood, 1375.0 * blood, 5.8);
    branches(&mut net, layout, patient, size);
    // Spaces: nodes whose compliance the bleeding room sets. Empty, at atmospheric pressure.
    for _ in Space::ALL {
        let i = net.add_node(1e3, 0.0, 0.0);
        for k in 0..W {
            net.set_floor(i, k, 0.0);
        }
    }
    for _ in 0..2 {
        net.add_node(1.0, 0.0, 0.0);
    }
    let mut map = Map {
        segments: layout.aorta.len().clamp(2, SEGMENTS),
        aorta_pipe: 0,
        named_pipe: 0,
        leaves_at: [None; NAMED.len()],
        named: [(0.0, 0.0, 0.0); NAMED.len()],
        aortic: [(0.0, 0.0, 0.0); SEGMENTS],
        bed_link: 0,
        bed_r: [0.0; BEDS],
        bed_q: [0.0; BEDS],
        vein_link: 0,
        links: 0,
        layout: layout.clone(),
    };
    aorta(&mut net, &mut map, patient);
    named_pipes(&mut net, &mut map, patient);
    for i in (n::INNOMINATE..n::SPACE).chain(n::AORTA..net.nodes()) {
        net.set_viscosity(i, WALL_S);
    }
    let pa = net.add_pipe(n::PA, n::PULM, 0.18e-3 / size, 0.023 / size);
    debug_assert!(pa > 0);
    map.bed_link = 0;
    for (i, kind) in BED_KINDS.iter().enumerate() {
        let q = kind.share / 100.0 * size * 5400.0 / 60.0;
        let p_vein = if kind.vein == n::SPLANCHNIC { 7.0 } else { 5.8 };
        // Arteries before the bed take a few mmHg at rest.
        let p_artery = map_rest - 4.0 - if kind.bed == Bed::Heart { 0.45 * map_rest } else { 0.0 };
        map.bed_q[i] = q;
        map.bed_r[i] = (p_artery - p_vein) / q;
        net.add_link(kind.artery, kind.vein, 1.0 / map.bed_r[i]);
    }
    // Epicardial arteries into the squeezed vessels.
    let inflow = 1.0 / (0.15 * map_rest / map.bed_q[0]);
    net.add_link(n::AORTA, n::CORONARY, inflow);
    net.squeeze(n::CORONARY, 0.45);
    // Internal carotids.
    net.add_link(n::R_CAROTID, n::R_BRAIN, map.bed_q[1] / 3.0);
    net.add_link(n::L_CAROTID, n::L_BRAIN, map.bed_q[2] / 3.0);
    for (a, b, g) in COLLATERALS {
        let arcade = matches!(a, n::COELIAC | n::SMA | n::IMA | n::R_HYPOGASTRIC | n::L_HYPOGASTRIC)
            || b == n::L_SUBCLAVIAN;
        let own = if arcade || (matches!(a, n::LOWER_INTERCOSTAL | n::LUMBAR) && b == n::CORD) {
            1.0
        } else if matches!(a, n::R_BRAIN | n::L_BRAIN) && b == n::BASILAR {
            patient.collaterals * patient.posterior_communicating
        } else {
            patient.collaterals
        };
        net.add_link(a, b, g * size * own / 10.0);
    }
    net.add_link(n::L_HYPOGASTRIC, n::CORD, 0.002 * size * patient.collaterals);
    map.vein_link = net.add_link(n::SPLANCHNIC, RA, size / 0.038);
    net.add_link(n::SYSTEMIC, RA, size / 0.016);
    net.add_link(n::PULM, n::PV, size / 0.0894);
    map.links = 1 + net.add_link(n::PV, LA, size / 0.0056);
    for _ in 0..24 {
        net.add_orifice();
    }
    (net, map)
}

/// Heart: Ursino 1998 scaled to the body; atria given a kick (assumed: 0.25 mmHg/ml over their passive 1/C).
fn heart<const W: usize>(net: &mut Network<W>, patient: &Patient, size: f64) {
    // Elastance scales with the pressure a heart is built for: a hypertensive's is thicker.
    let load = (patient.map_rest_mmhg / 93.0).sqrt();
    let all = |x: f64| [x; W];
    let c = &mut net.chambers;
    c[RA].e_max = all(0.10 / size);
    c[RA].e_min = all(1.0 / (31.25 * size));
    c[RA].v_u = all(25.0 * size);
    c[LA].e_max = all(0.20 / size);
    c[LA].e_min = all(1.0 / (19.23 * size));
    c[LA].v_u = all(25.0 * size);
    c[RV].e_max = all(1.75 / size);
    c[RV].p0 = all(1.5);
    c[RV].k_e = all(0.011 / size);
    c[RV].v_u = all(40.8 * size);
    c[LV].e_max = all(2.95 / size * load * patient.contractility);
    c[LV].p0 = all(1.5);
    c[LV].k_e = all(0.014 / size * load);
    c[LV].v_u = all(16.77 * size);
    let v = &mut net.valves;
    (v[0].r, v[2].r) = (all(2.5e-3 / size), all(2.5e-3 / size));
    // Open areas of 5.5 and 4.5 cm² (echocardiography textbooks): filling takes time, so a fast heart fills badly.
    let area = |cm2: f64| RHO_CGS / (2.0 * cm2 * cm2 * size);
    (v[0].k, v[2].k) = (all(area(5.5)), all(area(4.5)));
    // Below about 30 (left) and 6 mmHg (right) the outflow resistance falls no more: a step must outlast a root's filling.
    (v[1].r, v[3].r) = (all(8e-3 / size), all(12e-3 / size));
    v[1].r_per_mmhg = all(1.4e-3 / size);
    v[3].r_per_mmhg = all(3.75e-4 / size);
    // Gorlin-like orifices: K = rho / (2 (Cd A)^2) with effective areas by grade (ESC/EACTS 2021 bands).
    let orifice = orifice_cm2;
    match patient.valve {
        Some((ValveDisease::AorticStenosis, g)) => v[3].k = all(orifice(by_grade(g, 1.7, 1.2, 0.75))),
        Some((ValveDisease::AorticRegurgitation, g)) => {
            v[3].k_back = all(orifice(by_grade(g, 0.07, 0.2, 0.38)))
        }
        Some((ValveDisease::MitralRegurgitation, g)) => {
            v[2].k_back = all(orifice(by_grade(g, 0.1, 0.25, 0.45)))
        }
        None => {}
    }
}

/// Loss of a valve's effective orifice, mmHg s²/ml².
pub fn orifice_cm2(area_cm2: f64) -> f64 {
    RHO_CGS / (2.0 * area_cm2 * area_cm2)
}

fn by_grade(g: Grade, mild: f64, moderate: f64, severe: f64) -> f64 {
    match g {
        Grade::Mild => mild,
        Grade::Moderate => moderate,
        Grade::Severe => severe,
    }
}

/// Wave speed relative to the carotid-femoral one: softer at the root, stiffer toward the leg (Latham 1985, rounded).
fn speed_at(s: f64) -> f64 {
    crate::math::interp::linear(&[(0.0, 0.68), (0.25, 0.78), (0.7, 0.95), (1.0, 1.15)], s)
}

/// Compliance (ml/mmHg) of a tube: A l / (rho c²).
fn tube_c(radius_mm: f64, length_mm: f64, speed_m_s: f64) -> f64 {
    let volume_ml = std::f64::consts::PI * radius_mm * radius_mm * length_mm * 1e-3;
    volume_ml / (RHO * speed_m_s * speed_m_s / PA_PER_MMHG)
}
/// Inertance (mmHg s²/ml): rho l / A.
fn tube_l(radius_mm: f64, length_mm: f64) -> f64 {
    let area_cm2 = std::f64::consts::PI * radius_mm * radius_mm * 1e-2;
    RHO_CGS * length_mm * 0.1 / area_cm2
}
/// Resistance (mmHg s/ml): Poiseuille, 8 mu l / (pi r^4).
pub fn tube_r(radius_mm: f64, length_mm: f64) -> f64 {
    8.0 * MU * length_mm * 0.1 / (std::f64::consts::PI * ops::powi(radius_mm * 0.1, 4))
}

fn aorta<const W: usize>(net: &mut Network<W>, map: &mut Map, patient: &Patient) {
    let (speed, whole) = (patient.wave_speed_m_s(), map.layout.length_mm());
    let p_ref = map.layout.reference_map_mmhg;
    for seg in &map.layout.aorta[..map.segments] {
        let (r, l) = (seg.radius_mm, seg.s1_mm - seg.s0_mm);
        let c = tube_c(r, l, speed * speed_at((seg.s0_mm + seg.s1_mm) / 2.0 / whole));
        let held_ml = std::f64::consts::PI * r * r * l * 1e-3;
        net.add_node(c, (held_ml - c * p_ref).max(0.1 * held_ml), patient.map_rest_mmhg);
    }
    for i in 0..map.segments - 1 {
        let (a, b) = (map.layout.aorta[i], map.layout.aorta[i + 1]);
        let half = |s: &super::layout::Segment| (s.radius_mm, (s.s1_mm - s.s0_mm) / 2.0);
        let ((ra, la), (rb, lb)) = (half(&a), half(&b));
        let (l, r) = (tube_l(ra, la) + tube_l(rb, lb), tube_r(ra, la) + tube_r(rb, lb));
        // Unsteady flow sees a thinner boundary layer, and the wall is viscous: eight times Poiseuille's friction. Assumed.
        let r = 8.0 * r;
        let e = net.add_pipe(n::AORTA + i, n::AORTA + i + 1, l, r);
        if i == 0 {
            map.aorta_pipe = e;
        }
        let narrow = ra.min(rb) * 0.1;
        map.aortic[i] = (l, r, std::f64::consts::PI * narrow * narrow);
    }
}

/// Nodes 9 to 34: each artery's own compliance and the small vessels behind it.
fn branches<const W: usize>(net: &mut Network<W>, layout: &Layout, patient: &Patient, size: f64) {
    let speed = patient.wave_speed_m_s() * 1.35;
    let p = patient.map_rest_mmhg;
    let of = |name: VesselName| layout.branch(name).map_or((3.0, 100.0), |b| (b.radius_mm, b.length_mm));
    let tube = |name: VesselName| {
        let (r, l) = of(name);
        tube_c(r, l, speed)
    };
    // (compliance ml/mmHg, unstressed ml). Arms, legs, brain and organs: the part of a 1.5 ml/mmHg total that the aorta
    // does not hold, by size of territory; small-vessel volume is Ursino's 611 ml shared by flow. Assumed split.
    let soft = 1.4 * size * (7.7 / patient.wave_speed_m_s()).min(1.6);
    use VesselName as V;
    let rows: [(f64, f64); 26] = [
        (0.03 * size, 12.0),
        (tube(V::Innominate), 6.0),
        (tube(V::RightCarotid) + 0.010 * soft, 14.0),
        (tube(V::RightSubclavian) + 0.008 * soft, 8.0),
        (tube(V::LeftCarotid) + 0.010 * soft, 14.0),
        (tube(V::LeftSubclavian) + 0.008 * soft, 8.0),
        (0.004 * soft, 24.0),
        (0.004 * soft, 24.0),
        (0.010 * soft, 16.0),
        (0.012 * soft, 26.0),
        (0.012 * soft, 26.0),
        (0.020 * soft, 22.0),
        (0.015 * soft, 18.0),
        (0.015 * soft, 14.0),
        (0.002 * soft, 2.0),
        (tube(V::Coeliac) + 0.050 * soft, 65.0),
        (tube(V::Sma) + 0.050 * soft, 68.0),
        (tube(V::Ima) + 0.010 * soft, 12.0),
        (tube(V::RightRenal) + 0.030 * soft, 52.0),
        (tube(V::LeftRenal) + 0.030 * soft, 52.0),
        (tube(V::RightCommonIliac), 5.0),
        (tube(V::LeftCommonIliac), 5.0),
        (tube(V::RightInternalIliac) + 0.012 * soft, 18.0),
        (tube(V::LeftInternalIliac) + 0.012 * soft, 18.0),
        (tube(V::RightExternalIliac) + 0.030 * soft, 45.0),
        (tube(V::LeftExternalIliac) + 0.030 * soft, 45.0),
    ];
    for (i, (c, v)) in rows.into_iter().enumerate() {
        let p = if i == 0 { 0.5 * p } else { p - 3.0 };
        net.add_node(c, v * size, p);
    }
}

fn named_pipes<const W: usize>(net: &mut Network<W>, map: &mut Map, _patient: &Patient) {
    let layout = map.layout.clone();
    let whole = layout.length_mm();
    for (row, (name, from, to)) in NAMED.into_iter().enumerate() {
        let b = layout.branch(name).copied();
        let (mut r_mm, mut l_mm) = b.map_or((3.0, 60.0), |b| (b.radius_mm, b.length_mm));
        let mut s_mm = b.map_or(0.0, |b| b.s_mm);
        match row {
            // Segmentals: several pairs in parallel stand as one tube of their summed area.
            7 => (s_mm, r_mm, l_mm) = (0.42 * whole, 2.6, 50.0),
            8 => (s_mm, r_mm, l_mm) = (0.62 * whole, 2.3, 50.0),
            9 => (s_mm, r_mm, l_mm) = (0.91 * whole, 2.1, 50.0),
            // Brachial to radial.
            21 | 22 => (r_mm, l_mm) = (2.6, 330.0),
            _ => {}
        }
        let from = if from == n::AORTA {
            let seg = layout.segment(s_mm);
            map.leaves_at[row] = Some(seg as u8);
            n::AORTA + seg
        } else {
            from
        };
        let (l, mut r) = (tube_l(r_mm, l_mm), tube_r(r_mm, l_mm));
        // Branches end in beds that swallow most of the wave: a part of the line's own impedance as friction. Assumed.
        let c = net.compliance(to, 0);
        let leg = matches!(to, n::R_FEMORAL | n::L_FEMORAL);
        let arm = matches!(to, n::R_RADIAL | n::L_RADIAL);
        r += if leg {
            3.0
        } else if arm {
            2.0
        } else {
            1.0
        } * DAMPING
            * (l / c).sqrt();
        let e = net.add_pipe(from, to, l, r);
        if row == 0 {
            map.named_pipe = e;
        }
        map.named[row] = (l, r, std::f64::consts::PI * r_mm * r_mm * 1e-2);
    }
}
