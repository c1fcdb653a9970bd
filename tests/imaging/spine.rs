//! The spine against what lies on it.

use overwire::anatomy::Vessel;
use overwire::anatomy::VesselName::*;
use overwire::math::Vec3;
use overwire::records::library;
use overwire::session::planned_body;
use std::f64::consts::TAU;

/// Places around a vessel's blood, or around its clot too: arc length and place.
fn wall(vessel: &Vessel, with_clot: bool) -> impl Iterator<Item = (f64, Vec3)> {
    let lumen = &vessel.lumen;
    let clot: &[f64] = if with_clot { &vessel.wall.thrombus_mm } else { &[] };
    let n = lumen.n_theta();
    (0..lumen.stations() * n).map(move |cell| {
        let (i, k) = (cell / n, cell % n);
        let s_mm = lumen.step_mm() * i as f64;
        let frame = vessel.curve.frame(s_mm);
        let r = lumen.ring(i)[k] + clot.get(cell).copied().unwrap_or(0.0);
        (s_mm, frame.at + frame.radial(TAU * k as f64 / n as f64) * r)
    })
}

/// The abdominal aorta and its sacs lie on the front of the spine and not in it, as do the common iliac arteries (textbook): no
/// place of their walls is bone or disc, in any case. Yet they lie on it: where the aorta has its usual width, bone or disc
/// begins within 20 mm behind its wall (some millimetres of fat; the number is assumed). The coeliac artery leaves before the
/// last thoracic vertebra (textbook); above it the aorta lies beside the spine, and no blood of it runs in bone; the clot of a
/// sac may drape over a vertebra there.
#[test]
fn no_artery_lies_in_the_spine() {
    for (id, _) in library::BUILT_IN {
        let case = library::case(id).unwrap();
        let body = planned_body(&case);
        let tree = &case.tree;
        let coeliac = tree.aortic_s_mm(Coeliac).unwrap();
        for vessel in &tree.vessels {
            if ![Aorta, FalseLumen, RightCommonIliac, LeftCommonIliac].contains(&vessel.name) {
                continue;
            }
            let below = tree.aorta().curve.point(coeliac).z - 15.0;
            let clear = wall(vessel, true).filter(|(_, p)| p.z < below);
            for (s_mm, p) in clear.chain(wall(vessel, false)) {
                assert!(!body.in_spine(p), "{id}: {:?} at {s_mm:.0} mm, {p:?}", vessel.name);
            }
        }
        let aorta = tree.aorta();
        let usual = |s: &f64| aorta.lumen.diameter_mm(*s) < 26.0 && aorta.wall.septum.is_none();
        let end = aorta.curve.length_mm();
        for s_mm in (0..20).map(|i| end - 5.0 * f64::from(i)).filter(usual) {
            let back = aorta.curve.point(s_mm) + Vec3::new(0.0, 0.5 * aorta.lumen.diameter_mm(s_mm), 0.0);
            let near = (0..20).any(|mm| body.in_spine(back + Vec3::new(0.0, f64::from(mm), 0.0)));
            let sac = aorta.wall.lesions.iter().any(|l| (l.from_mm - 60.0..l.to_mm + 60.0).contains(&s_mm));
            assert!(near || sac, "{id}: the aorta stands off the spine at {s_mm:.0} mm");
        }
    }
}
