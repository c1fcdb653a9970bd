//! Iodine in the blood: conservation, indicator dilution, dispersion.

use super::patient::{adult, straight};
use overwire::anatomy::Tree;
use overwire::imaging::*;
use overwire::math::ops;

fn scene(tree: &Tree) -> Scene<'_> {
    Scene { tree, linings: &[], pools: &[], body: None, devices: &[] }
}
fn steady(ml_s: f64) -> Flows {
    let beat = Beat { period_s: 1.0, shape: vec![(0.0, 1.0), (1.0, 1.0)] };
    Flows { root_ml_s: vec![ml_s], beat, leaks: vec![], bleeds: vec![], collaterals: vec![] }
}
fn bolus(s_mm: f64, rate_ml_s: f64, volume_ml: f64) -> Injection {
    Injection {
        vessel: 0,
        s_mm,
        start_s: 0.2,
        rate_ml_s,
        volume_ml,
        rise_s: 0.3,
        iodine_mg_ml: 350.0,
        end_hole: false,
    }
}
/// Concentration of what flows through a station: lanes weighted by their shares.
fn flowing_mg_ml(t: &Transport, station: usize) -> f64 {
    let tube = &t.cells().tubes[0];
    let c = t.concentration();
    let wall: f32 = (1..=4).map(|l| c[tube.lane(station, l)]).sum();
    f64::from(0.62 * c[tube.lane(station, 0)] + 0.38 * wall / 4.0)
}
fn mean_mg_ml(t: &Transport, tube: usize, station: usize) -> f64 {
    let k = &t.cells().tubes[tube];
    let (mut mg, mut ml) = (0.0, 0.0);
    for l in 0..k.lanes() {
        mg += t.mass_mg(k.lane(station, l));
        ml += t.cell_volume_ml(k.lane(station, l));
    }
    mg / ml
}

/// What was injected is somewhere, to 1e-9, at every moment: pulsatile flow, all branches, a sac, recirculation.
#[test]
fn iodine_is_conserved() {
    let a = adult(26.0);
    let s = scene(&a.tree);
    for stride in [Stride::FINE, Stride::COARSE] {
        let (cells, flows) = (Cells::of(&s, Ends::Calibre).unwrap(), a.flows());
        let mut t = Transport::new(&s, cells, &flows, Some(a.flush()), Mixing::default(), stride).unwrap();
        for k in 1..=16 {
            t.advance_to(0.5 * f64::from(k));
            let (found, given) = (t.total_mg(), t.given_mg());
            assert!((found - given).abs() <= 1e-9 * given.max(1.0), "{found} {given}");
            let c = t.concentration();
            let most = c.iter().copied().fold(0.0, f32::max);
            assert!(c.iter().all(|&c| (-1e-3..=350.01).contains(&c)), "{most}");
        }
        assert!((t.given_mg() - 36.0 * 350.0).abs() < 1e-6);
    }
}

/// Stewart-Hamilton: the area under the concentration at a section is mass over flow: 5 g into 83.333 ml/s is 60 mg s/ml.
#[test]
fn area_under_the_curve_is_mass_over_flow() {
    let tree = straight(400.0, 12.0);
    let s = scene(&tree);
    let injection = bolus(40.0, 4.0, 5000.0 / 350.0);
    let mut t = Transport::new(
        &s,
        Cells::of(&s, Ends::Calibre).unwrap(),
        &steady(83.333),
        Some(injection),
        Mixing::default(),
        Stride::FINE,
    )
    .unwrap();
    let (dt, mut area) = (0.02, 0.0);
    for k in 0..450 {
        t.advance_to(dt * f64::from(k + 1));
        let flowing = flowing_mg_ml(&t, 70);
        // The injected volume flows too while it is given.
        let q = 83.333
            + injection.rate_ml_s * f64::from(u8::from(dt * f64::from(k) < 0.2 + injection.duration_s()));
        area += flowing * dt * q / 83.333;
    }
    assert!((area - 60.0).abs() < 0.4, "{area}");
}

/// A long injection reaches rate x iodine / (flow + rate): 15 ml/s of 350 mg/ml into 83.333 ml/s is 53.390 mg/ml.
#[test]
fn plateau_of_a_long_injection() {
    let tree = straight(300.0, 11.0);
    let s = scene(&tree);
    let mut t = Transport::new(
        &s,
        Cells::of(&s, Ends::Calibre).unwrap(),
        &steady(83.333),
        Some(bolus(40.0, 15.0, 150.0)),
        Mixing::default(),
        Stride::FINE,
    )
    .unwrap();
    // Before any of it has come round again.
    t.advance_to(3.5);
    let c = flowing_mg_ml(&t, 50);
    assert!((c - 53.390).abs() < 0.1, "{c}");
}

/// Ogata and Banks (USGS Professional Paper 411-A, 1961): a step at the inlet, u = 200 mm/s, D = 1000 mm²/s, at 1 s.
/// Our inlet brings a given flux, and for that the concentration *in the flow*, c - (D/u) dc/dx, is the one that obeys
/// their formula (Kreft and Zuber, Chem. Eng. Sci. 33:1471, 1978).
#[test]
fn front_follows_ogata_and_banks() {
    let tree = straight(800.0, 12.0);
    let s = scene(&tree);
    let area_mm2 = std::f64::consts::PI * 144.0;
    let flows = steady(200.0 * area_mm2 * 1e-3);
    let plug = Mixing { core_share: 0.5, lane_per_s: 0.0, dispersion_mm2_s: 1000.0, ..Mixing::default() };
    let mut t =
        Transport::new(&s, Cells::of(&s, Ends::Calibre).unwrap(), &flows, None, plug, Stride::FINE).unwrap();
    t.feed(100.0);
    t.advance_to(1.0);
    let step = t.cells().tubes[0].step_mm;
    for x in [50.0, 100.0, 150.0, 200.0, 250.0, 300.0f64] {
        let i = (x / step).round() as usize;
        let at = i as f64 * step;
        let erfc = ops::erfc;
        let root = 2.0 * (1000.0f64).sqrt();
        let want =
            50.0 * (erfc((at - 200.0) / root) + ops::exp(200.0 * at / 1000.0) * erfc((at + 200.0) / root));
        let (a, b) = (mean_mg_ml(&t, 0, i - 1), mean_mg_ml(&t, 0, i));
        let got = 0.5 * (a + b) - 1000.0 / 200.0 * (b - a) / step;
        assert!((got - want).abs() < 1.0, "at {at}: {got} {want}");
    }
}

/// An injection against slow flow runs back upstream; against fast flow it does not.
#[test]
fn a_strong_injection_refluxes() {
    let tree = straight(300.0, 11.0);
    let s = scene(&tree);
    let upstream = |ml_s: f64| {
        let inj = Injection { end_hole: true, ..bolus(150.0, 20.0, 40.0) };
        let mut t = Transport::new(
            &s,
            Cells::of(&s, Ends::Calibre).unwrap(),
            &steady(ml_s),
            Some(inj),
            Mixing::default(),
            Stride::FINE,
        )
        .unwrap();
        t.advance_to(1.5);
        mean_mg_ml(&t, 0, 30)
    };
    assert!(upstream(90.0) < 1.0);
    assert!(upstream(90.0) <= upstream(5.0));
}

/// Whatever flows a caller tells - a leak where no fabric lies, a bleed from a branch, an empty heart, a stenosis of a
/// millimetre - a run ends, and its iodine is all there.
#[test]
fn odd_flows_neither_stall_nor_lose_iodine() {
    let a = adult(26.0);
    let s = scene(&a.tree);
    let (lesion, theta) = (a.marks.lesion, a.marks.lesion_rad);
    let leak =
        LeakFlow { vessel: 0, entry: Entry::Edge, s_mm: 200.0, theta_rad: 1.0, ml_s: 5.0, swing_ml: 2.0 };
    let bleed = Bleed { vessel: 0, s_mm: lesion, theta_rad: theta, ml_s: 12.0, pool: None };
    let subclavian = a.index(overwire::anatomy::VesselName::LeftSubclavian);
    let mut odd = vec![a.flows(); 5];
    odd[0].leaks.push(leak);
    odd[1].bleeds.push(bleed);
    odd[2].bleeds.push(Bleed { vessel: subclavian, s_mm: 30.0, ..bleed });
    odd[3].root_ml_s[0] = 0.0;
    odd[4].root_ml_s[subclavian] = -6.0;
    for (k, flows) in odd.iter().enumerate() {
        let cells = Cells::of(&s, Ends::Calibre).unwrap();
        let mut t =
            Transport::new(&s, cells, flows, Some(a.flush()), Mixing::default(), Stride::FINE).unwrap();
        t.advance_to(2.5);
        assert!((t.total_mg() - t.given_mg()).abs() <= 1e-9 * t.given_mg(), "flows {k}");
        assert!(t.concentration().iter().all(|c| c.is_finite()), "flows {k}");
    }
    let narrow = straight(200.0, 0.5);
    let s = scene(&narrow);
    let mut t = Transport::new(
        &s,
        Cells::of(&s, Ends::Calibre).unwrap(),
        &steady(60.0),
        Some(bolus(40.0, 4.0, 8.0)),
        Mixing::default(),
        Stride::FINE,
    )
    .unwrap();
    t.advance_to(1.0);
    assert!((t.total_mg() - t.given_mg()).abs() <= 1e-9 * t.given_mg());
}

/// A branch that leaves an unlined aneurysm is fed, and neither the sac nor the stream beside it swells or empties: the
/// plateau far downstream is still rate x iodine / flow.
#[test]
fn an_aneurysm_with_a_branch_keeps_its_volume() {
    let mut a = adult(26.0);
    let at = a.tree.aorta().curve.point(a.marks.lesion);
    let side = a.tree.aorta().curve.frame(a.marks.lesion).radial(a.marks.lesion_rad);
    let branch = a.branch(
        overwire::anatomy::VesselName::Intercostals,
        0,
        &[at, at + side * 30.0, at + side * 60.0],
        2.0,
        1.8,
        3.0,
    );
    let s = scene(&a.tree);
    let cells = Cells::of(&s, Ends::Calibre).unwrap();
    let rest: f64 = cells.volume_ml.iter().sum();
    let mut t =
        Transport::new(&s, cells, &a.flows(), Some(a.flush()), Mixing::default(), Stride::FINE).unwrap();
    t.advance_to(3.0);
    let now: f64 = (0..t.cells().len()).map(|c| t.cell_volume_ml(c)).sum();
    assert!((now / rest - 1.0).abs() < 0.25, "{now} {rest}");
    assert!(mean_mg_ml(&t, branch, 4) > 5.0);
}
