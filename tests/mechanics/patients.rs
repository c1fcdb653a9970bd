//! Grafts in whole patients: branches, pieces, balloons, sources.

use super::phantom::{EDGE, Neck, at, tube};
use overwire::anatomy::{AnatomySpec, Rail, Site, Tree, VesselName};
use overwire::kit::{Device, Graft, GraftKind, Shelf};
use overwire::mechanics::leak::{BranchSource, Film, network};
use overwire::mechanics::{
    Case, Corridor, LeakKind, LeakReport, Moulding, PlaceAt, Placed, Pressures, Rod, SacPatch, TipRest, lay,
    place, reach,
};

const RUPTURED: Pressures = Pressures { proximal_mmhg: 90.0, distal_mmhg: 88.0, sac_mmhg: 40.0 };

fn adult() -> Tree {
    AnatomySpec::default().build().unwrap()
}

fn case(sac: Option<(f64, f64)>) -> Case {
    let sac = sac.map(|(from_mm, to_mm)| SacPatch { from_mm, to_mm, facing: None });
    Case { fold_onset: 0.28, wall_seed: 1, uneven_mm: 0.3, row_mm: 1.0, sac: sac.into_iter().collect() }
}

fn shelf(id: &str) -> Graft {
    match &Shelf::generic().get(id).unwrap().device {
        Device::Graft(g) => g.clone(),
        other => panic!("{id} is {other:?}"),
    }
}

fn open(p: &Placed, v: VesselName) -> f64 {
    p.ostia.iter().find(|o| o.vessel == v).unwrap().open_fraction
}

/// A straight edge at a distance d from the centre of a round mouth leaves (acos k - k sqrt(1 - k²)) / pi of it, k = d / r
/// (circular segment): a half at the centre; here the arch adds a little of its own.
#[test]
fn edge_covers_the_subclavian_by_true_overlap() {
    let tree = adult();
    let lsa = tree.ostium_s_mm(VesselName::LeftSubclavian).unwrap();
    let d = tree.aorta().lumen.diameter_mm(lsa + 15.0);
    let at = |off: f64| {
        let placed = place(&tree, &tube(1.12 * d, 150.0), &at(lsa + off), &[], &case(None));
        open(&placed, VesselName::LeftSubclavian)
    };
    let (upstream, middle, downstream) = (at(-9.0), at(0.0), at(9.0));
    assert!(upstream < 0.02 && downstream > 0.98, "{upstream} {downstream}");
    assert!((0.2..0.8).contains(&middle), "{middle}");
}

/// The same in a straight tube, where the edge is straight: within 2 % of the segment's area.
#[test]
fn straight_edge_covers_a_segment() {
    let mut tree = Neck { uneven: 0.0, ..Neck::default() }.tree();
    let mut branch = tree.vessels[0].clone();
    branch.name = VesselName::LeftSubclavian;
    for (k, left) in [(0.0, 0.5), (0.25, 0.342_519), (0.5, 0.195_501), (0.75, 0.072_147)] {
        branch.root =
            Some(overwire::anatomy::Root { parent: 0, s_mm: EDGE + 4.0 * k, theta_rad: 1.0, radius_mm: 4.0 });
        tree.vessels.truncate(1);
        tree.vessels.push(branch.clone());
        let placed = place(&tree, &tube(34.0, 110.0), &at(EDGE), &[], &case(None));
        assert!((open(&placed, VesselName::LeftSubclavian) - left).abs() < 0.02, "{k}: {:?}", placed.ostia);
    }
}

fn abdominal() -> (Tree, Case, f64) {
    let tree = adult();
    let renal = ["l", "r"].map(|s| if s == "l" { VesselName::LeftRenal } else { VesselName::RightRenal });
    let lowest = renal.map(|v| tree.ostium_s_mm(v).unwrap()).into_iter().fold(0.0, f64::max);
    let end = tree.aorta().curve.length_mm();
    (tree, case(Some((lowest + 24.0, end + 5.0))), lowest + 4.0)
}

fn legs(side: [VesselName; 2], from: f64) -> PlaceAt {
    PlaceAt { route: vec![VesselName::Aorta, side[0], side[1]], proximal_s_mm: from, released: Vec::new() }
}

const RIGHT: [VesselName; 2] = [VesselName::RightCommonIliac, VesselName::RightExternalIliac];
const LEFT: [VesselName; 2] = [VesselName::LeftCommonIliac, VesselName::LeftExternalIliac];

fn of(report: &LeakReport, kind: LeakKind) -> f64 {
    report.flows_ml_s(&RUPTURED).into_iter().filter(|f| f.0 == kind).map(|f| 60.0 * f.1).sum()
}

/// A body without its second leg pours into the sac through the gate; the leg closes it, and leaks little where it overlaps.
#[test]
fn second_leg_closes_the_gate() {
    let (tree, case, neck) = abdominal();
    let body = place(&tree, &shelf("body_24_14_120"), &legs(RIGHT, neck), &[], &case);
    let alone = network(std::slice::from_ref(&body), &RUPTURED, &[], &Film::default());
    assert!(of(&alone, LeakKind::III) > 1000.0, "{:?}", alone.paths);
    assert!(body.covered().iter().all(|c| c.0 != VesselName::LeftCommonIliac));
    let GraftKind::BifurcatedBody { gate_at_mm, .. } = body.graft.kind else { panic!() };
    let before = [body];
    let leg = place(&tree, &shelf("limb_14_100"), &legs(LEFT, neck + gate_at_mm - 25.0), &before, &case);
    assert!(leg.ends[0].in_graft, "{:?}", leg.ends[0]);
    let [body] = before;
    let both = network(&[body, leg], &RUPTURED, &[], &Film::default());
    let iii = of(&both, LeakKind::III);
    assert!(iii < 30.0 && both.imbalance_ml_s < 1e-8, "{iii} {:?}", both.paths);
}

/// A branch that opens into the sac feeds it behind its collaterals' resistance: 30 mmHg over 20 mmHg s/mL is 90 mL/min.
#[test]
fn branch_into_the_sac_is_type_two() {
    let (tree, case, neck) = abdominal();
    let body = place(&tree, &shelf("body_24_14_120"), &legs(RIGHT, neck), &[], &case);
    let ima = BranchSource {
        vessel: VesselName::Ima,
        pressure_mmhg: 70.0,
        resistance_mmhg_s_ml: 20.0,
        mouth_mm2: 12.0,
        at: (tree.ostium_s_mm(VesselName::Ima).unwrap(), 0.0),
        transit_s: 4.0,
    };
    let report = network(&[body], &RUPTURED, &[ima], &Film::default());
    assert!((report.ii_ml_min - 90.0).abs() < 4.0, "{}", report.ii_ml_min);
    let path = report.paths.iter().find(|p| p.kind == LeakKind::II(VesselName::Ima)).unwrap();
    assert!(path.delay_s(1.5) >= 4.0);
    // A sac above the branch's pressure runs off through it.
    assert!(report.at(&Pressures { sac_mmhg: 85.0, ..RUPTURED }).ii_ml_min < 0.0);
}

/// An extension below, inside a first tube that was too short, carries the seal down to the distal neck.
#[test]
fn overlap_joins_two_pieces() {
    let neck = Neck { sac: 80.0, ..Neck::default() };
    let tree = neck.tree();
    let first = place(&tree, &tube(34.0, 80.0), &at(EDGE), &[], &neck.case());
    let alone = network(std::slice::from_ref(&first), &RUPTURED, &[], &Film::default());
    let before = [first];
    for overlap in [30.0, 10.0] {
        let second = place(&tree, &tube(34.0, 90.0), &at(EDGE + 80.0 - overlap), &before, &neck.case());
        assert!(second.ends[0].in_graft && !second.ends[1].in_graft);
        let both = network(&[before[0].clone(), second], &RUPTURED, &[], &Film::default());
        assert!(
            of(&both, LeakKind::Ib) + of(&both, LeakKind::III) < 0.05 * of(&alone, LeakKind::Ib),
            "{overlap}: {both:?}"
        );
    }
}

/// A balloon presses fabric into the gaps of an uneven neck, unfolds part of a fold, and cannot rescue an undersized graft.
#[test]
fn balloon_moulds_what_has_spare_fabric() {
    let ia = |os: f64, uneven: f64, balloon: bool| {
        let neck = Neck { uneven, ..Neck::default() };
        let press = Moulding { from_mm: EDGE - 5.0, to_mm: EDGE + 25.0, diameter_mm: 32.0 };
        let press: &[Moulding] = if balloon { &[press] } else { &[] };
        let placed = lay(&neck.tree(), &neck.graft(os), &at(EDGE), &[], &neck.case(), press, None);
        network(&[placed], &RUPTURED, &[], &Film::default()).ia_ml_min
    };
    for (os, uneven, less) in [(0.0, 0.5, 0.9), (33.0, 0.3, 0.85)] {
        let (before, after) = (ia(os, uneven, false), ia(os, uneven, true));
        assert!(after < less * before, "{os}: {before} {after}");
    }
    let (before, after) = (ia(-8.0, 0.3, false), ia(-8.0, 0.3, true));
    assert!(after > 0.9 * before, "{before} {after}");
}

/// Sealed films clot in minutes: the seep of a well sized graft goes, a gap stays.
#[test]
fn clot_closes_films_not_gaps() {
    let q = |os: f64, clotted: f64| {
        let neck = Neck::default();
        let placed = place(&neck.tree(), &neck.graft(os), &at(EDGE), &[], &neck.case());
        network(&[placed], &RUPTURED, &[], &Film { clotted, porous: 0.0 }).ia_ml_min
    };
    assert!(q(15.0, 1.0) < 0.2 * q(15.0, 0.0));
    assert!(q(-5.0, 1.0) > 0.8 * q(-5.0, 0.0));
}

/// A stiff system reaches the arch and lies on its outer wall; pushed on, its tip comes to rest on wall or valve.
#[test]
fn delivery_system_reaches_the_arch() {
    let tree = adult();
    let rail = Rail::for_access(&tree, Site::RightFemoral).unwrap();
    let corridor = Corridor::for_access(&tree, &rail);
    let rod = Rod::even(4857.0, 0.45, 100.0).with(60.0, 12_000.0, 3.7);
    let mut shape = reach(&corridor, &rod, 400.0, None);
    for s in [300.0, 200.0, 120.0, 60.0] {
        shape = reach(&corridor, &rod, s, Some(&shape));
        assert!((shape.tip_s_mm() - s).abs() < 6.0, "{s}: {}", shape.tip_s_mm());
    }
    assert!(shape.slack_mm > 15.0 && shape.hold_n > 0.5 && shape.transmission < 0.95);
    for _ in 0..6 {
        shape = reach(&corridor, &rod, 0.0, Some(&shape));
    }
    assert!(shape.tip.0 != TipRest::Free && shape.tip.1 > 0.2, "{:?}", shape.tip);
    assert!(!shape.tilts(&corridor, 80.0, 250.0).is_empty());
}

/// The same case gives the same bits, and another wall another leak.
#[test]
fn placement_repeats_itself() {
    let run = |seed: u64| {
        let neck = Neck { seed, radius_of_bend: Some(45.0), ..Neck::default() };
        let placed = place(&neck.tree(), &neck.graft(8.0), &at(EDGE), &[], &neck.case());
        network(&[placed], &RUPTURED, &[], &Film::default()).ia_ml_min
    };
    assert_eq!(run(1).to_bits(), run(1).to_bits());
    assert_ne!(run(1).to_bits(), run(2).to_bits());
}
