//! The adult with a graft over the rupture, and one way for blood to reach the sac: for the gallery and the blind test.

use super::patient::{Adult, adult, v};
use overwire::anatomy::VesselName;
use overwire::imaging::*;

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(clippy::upper_case_acronyms, reason = "endoleak types are Roman numerals")]
pub enum Kind {
    Ia,
    Ib,
    II,
    III,
    Excluded,
}

pub const ALL: [Kind; 5] = [Kind::Ia, Kind::Ib, Kind::II, Kind::III, Kind::Excluded];

/// A treated patient.
pub struct Treated {
    pub patient: Adult,
    pub lining: Lining,
    pub flows: Flows,
}

/// A graft from beyond the left subclavian to below the sac, leaking `ml_s` in one way.
pub fn treated(kind: Kind, ml_s: f64, sac_mm: f64) -> Treated {
    let patient = adult(sac_mm);
    let m = &patient.marks;
    let (from, to) = (m.left_subclavian + 9.0, m.lesion + 75.0);
    let aorta = &patient.tree.aorta().curve;
    let inner = aorta.frame(from).angle_of(aorta.curvature(from));
    let lesion_rad = m.lesion_rad;
    let lesion = m.lesion;
    let turn = |a: f64, b: f64| {
        let d = (a - b) / std::f64::consts::TAU;
        (d - d.round()).abs() * std::f64::consts::TAU
    };
    // Where fabric stands off the wall: under the lip of the inner curve, or along a fold at the far end.
    let gap = move |s: f64, theta: f64| match kind {
        Kind::Ia if s < lesion && turn(theta, inner) < 0.55 => 1.6,
        Kind::Ia if s < lesion && s > lesion - 30.0 && turn(theta, lesion_rad) < 0.6 => 1.2,
        Kind::Ib if s > lesion && turn(theta, lesion_rad) < 0.45 => 1.6,
        Kind::II if (s - lesion).abs() < 26.0 && turn(theta, lesion_rad) < 1.6 => 0.8,
        _ => 0.0,
    };
    let lining = patient.lining(from, to, gap);
    let mut flows = patient.flows();
    // Covered segmental branches carry nothing, but for the ones told below.
    for (k, vessel) in patient.tree.vessels.iter().enumerate() {
        if let (VesselName::Intercostals, Some(r)) = (vessel.name, vessel.root)
            && r.s_mm > from
            && r.s_mm < to
        {
            flows.root_ml_s[k] = 0.0;
        }
    }
    let leak = |entry, s_mm, theta_rad| LeakFlow { vessel: 0, entry, s_mm, theta_rad, ml_s, swing_ml: 0.3 };
    match kind {
        Kind::Ia => flows.leaks.push(leak(Entry::Edge, from, inner)),
        Kind::Ib => flows.leaks.push(leak(Entry::Edge, to, lesion_rad)),
        Kind::III => flows.leaks.push(leak(Entry::Fabric, lesion + 6.0, lesion_rad + 0.4)),
        Kind::II => {
            let near = |side: f64| {
                let d = |k: usize| (patient.tree.vessels[k].root.unwrap().s_mm - lesion).abs();
                let on_side = |k: &usize| patient.tree.vessels[*k].curve.point(1e9).x * side > 0.0;
                let all = (0..patient.tree.vessels.len())
                    .filter(|&k| patient.tree.vessels[k].name == VesselName::Intercostals)
                    .filter(on_side);
                all.min_by(|&a, &b| d(a).total_cmp(&d(b))).unwrap()
            };
            let feeder = near(1.0);
            flows.root_ml_s[feeder] = -ml_s;
            let from = patient.index(VesselName::LeftSubclavian);
            flows.collaterals.push(Collateral { feeds: feeder, from, volume_ml: 1.6 * ml_s });
        }
        Kind::Excluded => {}
    }
    if kind != Kind::Excluded {
        // A contained rupture passes on what comes in.
        flows.bleeds.push(Bleed {
            vessel: 0,
            s_mm: lesion,
            theta_rad: lesion_rad,
            ml_s: ml_s * 0.9,
            pool: None,
        });
    }
    Treated { patient, lining, flows }
}

pub fn pose() -> Pose {
    Pose { primary_deg: 50.0, isocentre: v(22.0, 22.0, -24.0), ..Pose::default() }
}

/// A completion run.
pub fn spec(t: &Treated, name: &str) -> RunSpec {
    RunSpec { duration_s: 9.0, ends: Ends::Calibre, ..RunSpec::new(pose(), t.patient.flush(), name) }
}
