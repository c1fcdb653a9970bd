//! A body with two legs in the picture: its legs and what lengthens them are seen where they lie, and blood runs through them.

use overwire::anatomy::VesselName;
use overwire::imaging::{Material, Shape};
use overwire::math::Vec3;
use overwire::records::library;
use overwire::session::Session;
use overwire::session::event::{EventKind, Giver};
use overwire::session::log::Mode;
use overwire::session::player::Player;
use std::sync::Arc;

/// The model play until its completion run.
fn to_completion() -> Session {
    let case = library::case("infrarenal_rupture").unwrap();
    let mut player = Player::named(&case, "model").unwrap();
    let mut session = Session::new(Arc::clone(&case), 1, Mode::Free);
    let ran = |s: &Session| s.events().iter().filter(|e| matches!(e.kind, EventKind::Ran(_))).count();
    while ran(&session) < 2 && session.ended().is_none() {
        for order in player.poll(&session) {
            let _ = session.order(Giver::Trainee, order);
        }
        session.advance(1);
    }
    session
}

fn middle(shape: &Shape) -> Vec3 {
    shape.path.iter().fold(Vec3::ZERO, |a, p| a + *p) * (1.0 / shape.path.len() as f64)
}

/// A stent that is wider than its artery lies on the wall: every bend of a ring in an iliac artery is as far from the centreline
/// as the wall is, but for the wall's unevenness (0.3 mm), its give, and the ring's own tilt (3 mm together, assumed). Above the
/// bifurcation the two legs lie side by side, the right one to the patient's right (LPS: x to the left).
#[test]
fn legs_are_seen_where_they_lie_and_blood_runs_through_both() {
    let session = to_completion();
    let stage = session.stage();
    let of = |m: Material| stage.devices.iter().filter(move |d| d.substance.material == m);
    let rings: Vec<&Shape> = of(Material::Nitinol).filter(|d| d.path.len() > 8).collect();
    for name in [VesselName::RightCommonIliac, VesselName::LeftCommonIliac] {
        let artery = stage.tree.get(name).unwrap();
        let length = artery.curve.length_mm();
        // Beyond the part in which a leg comes back to its artery's middle.
        let places: Vec<f64> = (0..).map(|i| 18.0 + f64::from(i)).take_while(|s| *s < length).collect();
        let nearest = |p: Vec3| {
            let far = |s: &f64| artery.curve.point(*s).distance(p);
            let s = places.iter().copied().min_by(|a, b| far(a).total_cmp(&far(b))).unwrap();
            (s, far(&s))
        };
        let inside = |d: &&&Shape| {
            let (s, off) = nearest(middle(d));
            off < 3.0 && s > places[0] && s + 1.0 < length
        };
        let lie: Vec<&&Shape> = rings.iter().filter(inside).collect();
        assert!(!lie.is_empty(), "{name:?}: {} rings", lie.len());
        for p in lie.iter().flat_map(|d| &d.path) {
            let (s, off) = nearest(*p);
            let wall = 0.5 * artery.lumen.diameter_mm(s);
            assert!((off - wall).abs() < 3.0, "{name:?} at {s:.0}: {off:.1} of {wall:.1} mm");
        }
    }
    // In the lower part of the sac: two columns of rings.
    let aorta = stage.tree.aorta();
    let at = aorta.curve.point(490.0);
    let level: Vec<f64> =
        rings.iter().map(|d| middle(d)).filter(|m| (m.z - at.z).abs() < 12.0).map(|m| m.x - at.x).collect();
    assert!(level.iter().any(|x| *x < -4.0) && level.iter().any(|x| *x > 4.0), "{level:?}");
    // Marks: four above and two below on each of body, leg and extension, three at the gate.
    assert!(of(Material::Platinum).count() >= 3 * 6 + 3);
    // A run from above fills what the legs lead into.
    let run = session.angiogram(&session.pose(), 96).unwrap();
    for name in [VesselName::RightCommonIliac, VesselName::LeftCommonIliac] {
        let index = stage.tree.index(name).unwrap();
        assert!(run.findings.vessels[index].arrival_s.is_some(), "{name:?} stays dark: {:?}", run.findings);
    }
}
