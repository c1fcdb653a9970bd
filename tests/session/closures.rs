//! What closes a vessel or holds its mouth open is seen where the orders laid it.

use overwire::anatomy::{Tree, Vessel, VesselName};
use overwire::imaging::{Material, Shape};
use overwire::math::Vec3;
use overwire::records::library;
use overwire::session::event::{Event, EventKind};
use overwire::session::player::Player;
use overwire::session::{Session, Stage};

/// A play of a case until an order of this verb is done.
fn until(case: &str, play: &str, verb: &str) -> Session {
    let case = library::case(case).unwrap();
    let play = Player::named(&case, play).unwrap().play().clone();
    let of = |e: &Event| matches!(&e.kind, EventKind::Done { verb: v, .. } if v == verb);
    super::play(&case, play, |s| s.events().iter().any(of))
}

fn of(stage: &Stage, material: Material) -> impl Iterator<Item = &Shape> {
    stage.devices.iter().filter(move |d| d.substance.material == material)
}

fn length_mm(path: &[Vec3]) -> f64 {
    path.windows(2).map(|p| p[0].distance(p[1])).sum()
}

/// Where a place lies along a vessel and how far off its centreline, mm.
fn in_vessel(vessel: &Vessel, p: Vec3) -> (f64, f64) {
    let far = |s: &f64| vessel.curve.point(*s).distance(p);
    let places = (0..=(2.0 * vessel.curve.length_mm()) as usize).map(|i| 0.5 * i as f64);
    let s = places.min_by(|a, b| far(a).total_cmp(&far(b))).unwrap();
    (s, far(&s))
}

fn all_inside<'a>(tree: &Tree, name: VesselName, mut shapes: impl Iterator<Item = &'a Shape>) -> bool {
    let vessel = tree.get(name).unwrap();
    shapes.all(|d| {
        d.path.iter().all(|p| {
            let (s, off) = in_vessel(vessel, *p);
            off < 0.5 * vessel.lumen.diameter_mm(s) + 0.3
        })
    })
}

/// A coil is as long as its label says when it is stretched, and winding keeps its length: 8 mm x 14 cm, three of them, all
/// within the artery that was ordered. (The last step
/// of the drawing may be 2 mm over.) Coils narrower than their artery swim on and are not seen in it.
#[test]
fn coils_lie_where_they_were_ordered_with_their_whole_length() {
    let session = until("pelvic_bleed", "one_side", "embolise");
    let stage = session.stage();
    let coils: Vec<&Shape> = of(&stage, Material::Platinum).filter(|d| d.path.len() > 40).collect();
    assert_eq!(coils.len(), 3);
    for coil in &coils {
        let mm = length_mm(&coil.path);
        assert!((mm / 140.0 - 1.0).abs() < 0.03, "{mm:.0} mm");
        assert!((coil.outer_mm[0] - 0.445).abs() < 1e-3);
    }
    assert!(all_inside(&stage.tree, VesselName::RightInternalIliac, coils.iter().copied()));
    let swims = until("pelvic_bleed", "small_coils", "embolise");
    assert!(of(&swims.stage(), Material::Platinum).all(|d| d.path.len() < 40));
}

/// One leg: the other common iliac artery is cut off and plugged. Contrast given above runs down the leg and not there
/// (the aorta's stream has no way in), and the plug, 12 mm long on its label, is seen between two marks.
#[test]
fn a_plug_is_seen_in_the_artery_that_one_leg_cuts_off_and_nothing_runs_there() {
    let session = until("infrarenal_rupture", "no_crossover", "embolise");
    let stage = session.stage();
    let (left, right) = (VesselName::LeftCommonIliac, VesselName::RightCommonIliac);
    let artery = stage.tree.get(left).unwrap();
    let inside = |d: &&Shape| {
        let (s, off) = in_vessel(artery, d.path[0]);
        off < 0.5 * artery.lumen.diameter_mm(s) && s > 15.0
    };
    let threads: Vec<&Shape> = of(&stage, Material::Nitinol).filter(inside).collect();
    assert!(threads.len() >= 16, "{}", threads.len());
    assert!(all_inside(&stage.tree, left, threads.iter().copied()));
    let marks: Vec<f64> = of(&stage, Material::Platinum)
        .filter(|d| d.bore_mm == 0.0)
        .filter(inside)
        .map(|d| in_vessel(artery, d.path[0]))
        .filter(|p| p.1 < 1.0)
        .map(|p| p.0)
        .collect();
    assert_eq!(marks.len(), 2);
    assert!(((marks[0] - marks[1]).abs() - 12.0).abs() < 1.0, "{marks:?}");
    let run = session.angiogram(&session.pose(), 96).unwrap();
    let arrives = |name| run.findings.vessels[stage.tree.index(name).unwrap()].arrival_s;
    assert!(arrives(right).is_some(), "the leg's own artery stays dark");
    assert_eq!(arrives(left), None, "the artery that is cut off fills");
}

/// A covered stent in a branch's mouth: its rings lie in the branch and a few millimetres out in the aorta, and it holds no more
/// than its own width (8 mm on its label).
#[test]
fn a_stent_in_a_mouth_is_seen_in_it() {
    let session = until("branch_malperfusion", "model", "stent_branch");
    let stage = session.stage();
    let branch = stage.tree.get(VesselName::Sma).unwrap();
    let from = branch.curve.point(0.0);
    let near = |d: &&Shape| d.path.len() == 13 && d.path.iter().all(|p| p.distance(from) < 45.0);
    let rings: Vec<&Shape> = of(&stage, Material::Nitinol).filter(near).collect();
    assert!(rings.len() >= 6, "{}", rings.len());
    for p in rings.iter().flat_map(|d| &d.path) {
        let (s, off) = in_vessel(branch, *p);
        let out = if s <= 0.0 { 4.5 } else { 0.0 };
        assert!(off < 4.0 + out + 0.3, "{off:.1} mm off at {s:.0} mm");
    }
    let outside =
        rings.iter().flat_map(|d| &d.path).filter(|p| (**p - from).dot(branch.curve.tangent(0.0)) < -2.0);
    assert!(outside.count() > 3, "it does not stand out into the aorta");
}
