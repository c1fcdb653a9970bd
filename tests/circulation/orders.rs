//! Random orders: no sequence may yield NaN, a negative volume or a hang.

use overwire::anatomy::VesselName;
use overwire::circulation::{
    Airway, Anaesthesia, Bleed, Circulation, Drug, Feed, Product, Sac, Site, Space, advance_together,
};
use overwire::math::Streams;
use overwire::math::rng::Stream;

/// One order out of everything that the world can do, sane or not.
fn order(c: &mut Circulation, s: &mut Stream) {
    let vessels = [
        VesselName::Innominate,
        VesselName::LeftCarotid,
        VesselName::LeftSubclavian,
        VesselName::Coeliac,
        VesselName::Sma,
        VesselName::RightRenal,
        VesselName::LeftCommonIliac,
        VesselName::RightInternalIliac,
        VesselName::Intercostals,
    ];
    let vessel = vessels[s.below(vessels.len() as u32) as usize];
    let site = match s.below(3) {
        0 => Site::AortaMm(s.range(-50.0, 600.0)),
        1 => Site::Vessel(vessel),
        _ => Site::Veins,
    };
    let space = Space::ALL[s.below(8) as usize];
    let wild = [f64::NAN, f64::INFINITY, -1e9, 1e9, 0.0][s.below(5) as usize];
    let id = ["a", "b", "c", "d"][s.below(4) as usize];
    match s.below(22) {
        0 => {
            let area_mm2 = [s.range(0.0, 4.0), s.range(0.0, 60.0), 0.0, wild][s.below(4) as usize];
            c.set_bleed(id, Bleed { from: site, into: space, area_mm2, clots: s.chance(0.5) });
        }
        1 => c.remove_bleed(id),
        2 => {
            let feeds = (0..s.below(4))
                .map(|_| Feed {
                    from: Site::AortaMm(s.range(0.0, 460.0)),
                    r: s.range(0.0, 5.0),
                    k: s.range(0.0, 0.1),
                })
                .collect();
            let rupture = s.chance(0.3).then(|| (s.range(0.0, 30.0), space));
            c.set_sac(
                "sac",
                &Sac { feeds, compliance_ml_mmhg: s.range(0.0, 3.0), rupture, clots: s.chance(0.5) },
            );
        }
        3 => c.set_patency(vessel, [s.uniform(), 0.0, 1.0, wild][s.below(4) as usize]),
        4 => c.set_occlusion(s.range(-10.0, 500.0), [s.uniform(), 0.0, 1.0, wild][s.below(4) as usize]),
        5 => c.set_pacing([None, Some(s.range(20.0, 300.0)), Some(wild)][s.below(3) as usize]),
        6 => c.set_breath_hold(s.chance(0.3)),
        7 => c.set_anaesthesia(
            [Anaesthesia::None, Anaesthesia::Local, Anaesthesia::General(s.range(0.0, 2.0))]
                [s.below(3) as usize],
        ),
        8 | 9 => {
            let drug = Drug::ALL[s.below(Drug::ALL.len() as u32) as usize];
            c.give(
                drug,
                [s.range(0.0, 10.0), s.range(0.0, 500.0), s.range(0.0, 1e5), wild][s.below(4) as usize],
            );
        }
        10 | 11 => {
            let drug = Drug::ALL[s.below(Drug::ALL.len() as u32) as usize];
            c.infuse(drug, [s.range(0.0, 1.0), 0.0, s.range(0.0, 200.0), wild][s.below(4) as usize]);
        }
        12..=14 => {
            let product = Product::ALL[s.below(8) as usize];
            c.transfuse(product, [s.range(0.0, 500.0), s.range(0.0, 2000.0), wild][s.below(3) as usize]);
        }
        15 => {
            let most = [None, Some(s.range(-5.0, 400.0)), Some(wild)][s.below(3) as usize];
            c.set_csf_drain([None, Some(s.range(-5.0, 40.0)), Some(wild)][s.below(3) as usize], most);
        }
        16 => c.set_warming(s.chance(0.5)),
        17 => c.set_compressions(s.chance(0.3)),
        18 => c.defibrillate(),
        19 => c.set_fio2(wild),
        20 => c.set_distress(s.range(0.0, 2.0)),
        _ => {
            c.set_airway(if s.chance(0.5) { Airway::Ventilated } else { Airway::Spontaneous });
            c.set_segmental_cover(&[(s.range(0.0, 300.0), s.range(100.0, 460.0))]);
            c.stop_fluids();
        }
    }
}

/// `orders` random orders, a random short time after each; a fresh patient after every 400.
fn torment(seed: u64, orders: u32, most_ms: u32) {
    let mut s = Streams::new(seed).named("orders");
    let mut c = super::healthy();
    for i in 0..orders {
        if i % 400 == 0 {
            c = super::healthy();
        }
        order(&mut c, &mut s);
        if s.chance(0.002) {
            c.advance_long(s.range(0.0, 300.0));
        } else {
            c.advance_ms(s.below(most_ms));
        }
        assert_eq!(c.fault(), None, "seed {seed}, order {i}");
        let error = c.ledger_error_ml();
        assert!(error.abs() < 1e-4, "seed {seed}, order {i}: {error} ml lost");
    }
}

/// Ten thousand orders in every run; all hundred thousand where `OVERWIRE_REQUIRE_ALL` is set, as the gate sets it.
#[test]
fn random_orders_leave_a_sound_patient() {
    let seeds = if std::env::var_os("OVERWIRE_REQUIRE_ALL").is_some() { 20 } else { 2 };
    std::thread::scope(|s| {
        for half in 0..2 {
            s.spawn(move || (half..seeds).step_by(2).for_each(|seed| torment(seed, 5_000, 250)));
        }
    });
}

/// Four patients in lanes against the same four alone: the same bits, with different orders in each.
#[test]
fn a_batch_has_the_bits_of_its_patients_alone() {
    let mut together: Vec<Circulation> = (0..4).map(|_| super::healthy()).collect();
    together[1].set_pacing(Some(150.0));
    together[2].set_bleed(
        "tear",
        Bleed { from: Site::AortaMm(220.0), into: Space::LeftPleura, area_mm2: 3.0, clots: true },
    );
    together[3].set_patency(VesselName::LeftSubclavian, 0.2);
    let mut alone = together.clone();
    advance_together(&mut together, 3_500);
    alone.iter_mut().for_each(|c| c.advance_ms(3_500));
    for (a, b) in together.iter().zip(&alone) {
        assert_eq!(a.vitals(), b.vitals());
        assert_eq!(a.pressure_now_mmhg(200.0).to_bits(), b.pressure_now_mmhg(200.0).to_bits());
        assert_eq!(a.circulating_ml().to_bits(), b.circulating_ml().to_bits());
    }
}
