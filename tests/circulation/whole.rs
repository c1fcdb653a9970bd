//! The whole patient at rest and bleeding.

use overwire::circulation::{Bleed, Circulation, Layout, Patient, Site, Space, Start};

/// Normal values: MAP 70-100, output 4-8 l/min, CVP 2-6 mmHg, stroke 50-100 ml (nursing reference values; textbook).
#[test]
fn a_healthy_adult_is_normal() {
    let mut c = Circulation::new(&Patient::default(), &Layout::adult(), &Start::default());
    c.advance_ms(60_000);
    let v = c.vitals();
    assert!((60.0..80.0).contains(&v.heart_rate_bpm), "{v:?}");
    assert!((80.0..105.0).contains(&v.root.mean_mmhg), "{v:?}");
    assert!((4.0..8.0).contains(&v.output_l_min), "{v:?}");
    assert!((1.0..8.0).contains(&v.cvp_mmhg), "{v:?}");
    assert!(c.ledger_error_ml().abs() < 1e-6);
}

/// Torricelli: Q = Cd A sqrt(2 dP / rho), Cd 0.6, rho 1060 kg/m³: 5 mm² at 90 mmHg is 856 ml/min; a minute of it lies
/// where it went, less what the fall of pressure spares.
#[test]
fn blood_lies_where_it_went() {
    let mut c = Circulation::new(&Patient::default(), &Layout::adult(), &Start::default());
    let tear = Bleed { from: Site::AortaMm(200.0), into: Space::LeftPleura, area_mm2: 5.0, clots: false };
    assert!(c.set_bleed("tear", tear));
    c.advance_ms(60_000);
    let lost = c.lost_ml(Space::LeftPleura);
    assert!((600.0..900.0).contains(&lost), "{lost}");
    assert!(c.ledger_error_ml().abs() < 1e-6 && c.sound());
}
