//! The room's picture by orders: table, field, shutters, frame rate, and what they do to dose and to the marks.

use overwire::math::Vec3;
use overwire::records::library;
use overwire::scenario::Order;
use overwire::scenario::order::{Mark, Measured, Plane};
use overwire::session::Session;
use overwire::session::event::{EventKind, Giver};
use overwire::session::golden::Golden;
use overwire::session::log::Mode;

fn session() -> Session {
    Session::new(library::case("descending_rupture").unwrap(), 1, Mode::Free)
}

fn done(s: &mut Session, order: Order) {
    s.order(Giver::Trainee, order.clone()).unwrap_or_else(|why| panic!("{order:?}: {why}"));
    while !s.hands_idle() {
        s.advance(1);
    }
}

fn tally(s: &Session, name: &str) -> f64 {
    s.view().tally.iter().find(|t| t.name == name).unwrap().value
}

/// Kerma-area product of a minute of fluoroscopy, Gy cm2, after the given orders.
fn minute(orders: &[Order]) -> f64 {
    let mut s = session();
    orders.iter().for_each(|o| done(&mut s, o.clone()));
    done(&mut s, Order::Screen { on: true });
    let before = tally(&s, "kerma-area product");
    s.advance(600);
    tally(&s, "kerma-area product") - before
}

fn shutters(sides: f64, ends: f64) -> Order {
    Order::Collimate { left_percent: sides, right_percent: sides, top_percent: ends, bottom_percent: ends }
}

/// The kerma-area product is the kerma times the area that the beam has (IEC 60601-2-43): with 20 % closed on each of two
/// sides the area is 0.6 of the field, with 10 % at both other ends too it is 0.48. Half the pulses are half the kerma.
#[test]
fn shutters_and_pulses_scale_the_dose() {
    let whole = minute(&[]);
    assert!(whole > 0.0);
    for (orders, share) in [
        (vec![shutters(20.0, 0.0)], 0.6),
        (vec![shutters(20.0, 10.0)], 0.48),
        (vec![Order::FrameRate { screening_per_s: 7.5, runs_per_s: 3.0 }], 0.5),
    ] {
        let got = minute(&orders) / whole;
        assert!((got - share).abs() < 1e-9, "{orders:?}: {got}");
    }
    // Opened again, everything is as before.
    assert_eq!(minute(&[shutters(20.0, 10.0), shutters(0.0, 0.0)]), whole);
}

/// Similar triangles: what lies at the isocentre moves on the detector by the table's way times source-detector over
/// source-isocentre distance; and a smaller field spreads the same millimetres over more pixels.
#[test]
fn the_table_moves_the_picture_and_the_field_magnifies_it() {
    let mut s = session();
    let pose = s.pose();
    let middle = pose.isocentre;
    done(&mut s, Order::Pan { left_mm: 0.0, head_mm: 40.0 });
    let moved = s.pose();
    assert!(moved.isocentre.distance(middle + Vec3::new(0.0, 0.0, 40.0)) < 1e-12);
    let row = |p: overwire::imaging::Pose| p.view(1000).project(middle).1;
    let pixel_mm = pose.field_mm / 1000.0;
    let wanted = 40.0 * pose.sid_mm / pose.sod_mm / pixel_mm;
    assert!((row(moved) - row(pose) - wanted).abs() < 1e-6, "{}", row(moved) - row(pose));
    done(&mut s, Order::Field { edge_mm: pose.field_mm / 2.0 });
    assert!((row(s.pose()) - row(pose) - 2.0 * wanted).abs() < 1e-6);
    assert_eq!(s.view().carm.panned_mm, [0.0, 40.0]);
}

/// A picture that has moved makes the marks wrong; moved back it makes them right. The C-arm's angles, the table and the field
/// count (common practice: any of them needs a new reference), the shutters do not.
#[test]
fn a_moved_picture_makes_the_reference_wrong_and_it_is_said_once() {
    let moves = [
        (
            Order::Aim { primary_deg: 30.0, secondary_deg: 0.0 },
            Order::Aim { primary_deg: 0.0, secondary_deg: 0.0 },
        ),
        (Order::Pan { left_mm: 10.0, head_mm: 0.0 }, Order::Pan { left_mm: -10.0, head_mm: 0.0 }),
        (Order::Field { edge_mm: 220.0 }, Order::Field { edge_mm: 380.0 }),
    ];
    for (away, back) in moves {
        let mut s = session();
        assert_eq!(s.view().carm.reference_true, None);
        // On no picture a mark is only a plan.
        done(&mut s, Order::Mark { name: Mark::LeftSubclavian, at_mm: 120.0 });
        assert_eq!(s.view().carm.reference_true, None);
        done(&mut s, Order::Screen { on: true });
        done(&mut s, Order::Mark { name: Mark::LeftSubclavian, at_mm: 120.0 });
        done(&mut s, shutters(10.0, 0.0));
        assert_eq!(s.view().carm.reference_true, Some(true));
        let drawn = s.view().drawn[0].ends;
        done(&mut s, away.clone());
        assert_eq!(s.view().carm.reference_true, Some(false), "{away:?}");
        assert_eq!(s.view().drawn[0].ends, drawn, "it stays on the glass where it was drawn");
        assert!(!s.view().drawn[0].holds);
        s.advance(20);
        assert_eq!(super::last(&s, "reference_off"), 1.0);
        done(&mut s, back);
        assert_eq!(s.view().carm.reference_true, Some(true));
        let told = |e: &&overwire::session::event::Event| matches!(&e.kind, EventKind::Said { who, text } if who == "radiographer" && text.contains("no longer lie true"));
        assert_eq!(s.events().iter().filter(told).count(), 1, "{away:?}");
    }
}

#[test]
fn what_cannot_be_is_refused_with_the_remedy() {
    let mut s = session();
    done(&mut s, Order::LockTable { on: true });
    for (order, remedy) in [
        (Order::Pan { left_mm: 10.0, head_mm: 0.0 }, "locked"),
        (Order::Field { edge_mm: 2000.0 }, "150 to 480 mm"),
        (Order::Field { edge_mm: f64::NAN }, "150 to 480 mm"),
        (shutters(90.0, 0.0), "45 %"),
        (Order::FrameRate { screening_per_s: 15.0, runs_per_s: 100.0 }, "0.5 to 7.5"),
        (Order::Measure { what: Measured::TreatedLength, mm: 120.0, plane: Plane::Run, run: None }, "no run"),
    ] {
        let why = s.order(Giver::Trainee, order.clone()).expect_err("refused");
        assert!(why.contains(remedy), "{order:?}: {why}");
    }
    done(&mut s, Order::LockTable { on: false });
    let why = s.order(Giver::Trainee, Order::Pan { left_mm: 0.0, head_mm: f64::NAN }).expect_err("refused");
    assert!(why.contains("-600 to 600 mm"), "{why}");
}

/// The new orders stand in the log as JSON lines and come back as they were; the same orders make the same session.
#[test]
fn orders_of_the_picture_are_kept_and_replayed() {
    let orders = [
        Order::Pan { left_mm: -12.5, head_mm: 40.0 },
        Order::Field { edge_mm: 220.0 },
        shutters(15.0, 5.0),
        Order::FrameRate { screening_per_s: 7.5, runs_per_s: 6.0 },
        Order::Measure { what: Measured::ProximalDiameter, mm: 31.0, plane: Plane::Run, run: None },
    ];
    let again: Vec<Order> =
        orders.iter().map(|o| serde_json::from_str(&serde_json::to_string(o).unwrap()).unwrap()).collect();
    assert_eq!(again, orders);
    let play = |orders: &[Order]| {
        let mut s = session();
        for order in orders {
            // The measurement is refused (no run), and that is in the log too.
            let _ = s.order(Giver::Trainee, order.clone());
            s.advance(120);
        }
        Golden::of(&s).to_string()
    };
    assert_eq!(play(&orders), play(&again));
}
