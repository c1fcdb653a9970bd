//! Films and seals against closed forms.

use super::phantom::{EDGE, Neck, at};
use overwire::mechanics::leak::{Film, network};
use overwire::mechanics::place::CELLS_ROUND as CELLS;
use overwire::mechanics::{Pressures, place};

const CLAMPED: Pressures = Pressures { proximal_mmhg: 80.0, distal_mmhg: 78.0, sac_mmhg: 40.0 };

fn ia(neck: &Neck, oversize: f64) -> f64 {
    let placed = place(&neck.tree(), &neck.graft(oversize), &at(EDGE), &[], &neck.case());
    network(&[placed], &CLAMPED, &[], &Film::default()).ia_ml_min
}

/// In an even straight cylinder the sealed length is the overlap, by definition.
#[test]
fn straight_cylinder_seals_over_its_overlap() {
    for landing in [8.0, 12.3, 15.0, 20.0, 30.0] {
        let neck = Neck { landing, uneven: 0.0, ..Neck::default() };
        let placed = place(&neck.tree(), &neck.graft(15.0), &at(EDGE), &[], &neck.case());
        let seal = placed.ends[0].seal_mm;
        assert!((seal - landing).abs() < 0.1, "{landing}: {seal}");
    }
}

/// Leak falls with oversizing and comes back by folding: under 5 % leaks, 10 to 20 % seals, above 30 % folds
/// (Sher and Tadros 2017, the review that the film's constants were set to; so this guards, it does not validate).
#[test]
fn leak_falls_then_returns_by_folding() {
    let neck = Neck::default();
    let q: Vec<f64> =
        [-5.0, 0.0, 5.0, 10.0, 20.0, 30.0, 35.0, 40.0].iter().map(|&os| ia(&neck, os)).collect();
    for w in q[..5].windows(2) {
        assert!(w[1] < w[0], "{q:?}");
    }
    for w in q[4..].windows(2) {
        assert!(w[1] > w[0], "{q:?}");
    }
    assert!(q[2] > 10.0 && q[4] < 10.0 && q[5] > 100.0, "{q:?}");
}

/// Kirchhoff: nothing is lost in the film.
#[test]
fn film_conserves_blood() {
    let neck = Neck { radius_of_bend: Some(45.0), ..Neck::default() };
    let placed = place(&neck.tree(), &neck.graft(5.0), &at(EDGE), &[], &neck.case());
    let report = network(&[placed], &CLAMPED, &[], &Film::default());
    assert!(report.imbalance_ml_s < 1e-9, "{}", report.imbalance_ml_s);
}

/// A landing of 20 mm with a given gap everywhere, pressed hard, so that the film is the gap plus 0.02 mm.
fn film_of(landing: f64, gap: impl Fn(f64) -> f64) -> (overwire::mechanics::leak::LeakPath, f64) {
    let neck = Neck { landing, uneven: 0.0, ..Neck::default() };
    let mut placed = place(&neck.tree(), &neck.graft(5.0), &at(EDGE), &[], &neck.case());
    let mut width = 0.0;
    for (c, cell) in placed.cells.iter_mut().enumerate() {
        cell.gap_mm = gap(cell.theta_rad) - 0.02;
        cell.contact_kpa = 1e3;
        if c < CELLS {
            width += cell.size_mm[1];
        }
    }
    let report = network(&[placed], &CLAMPED, &[], &Film::default());
    (*report.paths.iter().find(|p| p.kind == overwire::mechanics::LeakKind::Ia).unwrap(), width)
}

const MU_MMHG_S: f64 = 3.5e-3 / 133.322;

/// Plane Poiseuille flow between plates, R = 12 mu L / (w g³) (any textbook of fluid mechanics).
#[test]
fn even_film_is_plane_poiseuille() {
    for g in [0.1, 0.2, 0.4] {
        let (path, width) = film_of(20.0, |_| g);
        let exact = 12.0 * MU_MMHG_S * 20.0 / (width * g * g * g) * 1e3;
        assert!((path.r_mmhg_s_ml / exact - 1.0).abs() < 1e-3, "{g}: {} {exact}", path.r_mmhg_s_ml);
    }
}

/// Thin eccentric annulus: flow is 1 + 1.5 e² times that of the concentric one (Bird, Stewart, Lightfoot; lubrication limit).
#[test]
fn eccentric_annulus() {
    let (even, _) = film_of(20.0, |_| 0.15);
    for e in [0.3, 0.6, 0.8] {
        let (path, _) = film_of(20.0, |th| 0.15 * (1.0 + e * overwire::math::ops::cos(th)));
        let gain = even.r_mmhg_s_ml / path.r_mmhg_s_ml;
        assert!((gain / (1.0 + 1.5 * e * e) - 1.0).abs() < 0.01, "{e}: {gain}");
    }
}

/// A wide, short gap is an orifice: Q = Cd A sqrt(2 dP / rho), Cd 0.6.
#[test]
fn wide_gap_is_an_orifice() {
    let (path, width) = film_of(5.0, |_| 3.0);
    let q = path.flow_ml_s(40.0);
    let exact = 0.6 * 3.0 * width * (2.0 * 40.0 * 133.322 / 1060.0f64).sqrt();
    assert!((q / exact - 1.0).abs() < 0.05, "{q} {exact}");
}

/// Halving the rows' distance moves the seal by less than 1 mm and the leak by less than a tenth.
#[test]
fn grid_is_fine_enough() {
    for (radius_of_bend, oversize) in [(None, 0.0), (None, 5.0), (Some(45.0), 10.0), (Some(35.0), 33.0)] {
        let neck = Neck { radius_of_bend, ..Neck::default() };
        let of = |row_mm: f64| {
            let case = overwire::mechanics::Case { row_mm, ..neck.case() };
            let placed = place(&neck.tree(), &neck.graft(oversize), &at(EDGE), &[], &case);
            let end = placed.ends[0].clone();
            (end, network(&[placed], &CLAMPED, &[], &Film::default()).ia_ml_min)
        };
        let ((a, qa), (b, qb)) = (of(1.0), of(0.5));
        assert!((a.seal_mm - b.seal_mm).abs() < 1.0, "{radius_of_bend:?} {oversize}: {a:?} {b:?}");
        assert!((qb / qa - 1.0).abs() < 0.1, "{radius_of_bend:?} {oversize}: {qa} {qb}");
    }
}

/// A bend costs seal: less of the circumference is sealed, and the wedge under the inner edge grows; the flow of a sealed
/// graft stays within a third of the straight one's. (Published: wedges at an inner curvature times diameter of 1.4
/// against 1.0 without; Frohlich, J Vasc Surg 2020.)
#[test]
fn bends_cost_seal_and_raise_a_beak() {
    let of = |radius_of_bend: Option<f64>| {
        let neck = Neck { radius_of_bend, ..Neck::default() };
        let mut graft = neck.graft(10.0);
        graft.length_mm += 40.0;
        let placed = place(&neck.tree(), &graft, &at(EDGE), &[], &neck.case());
        let end = placed.ends[0].clone();
        (end, network(&[placed], &CLAMPED, &[], &Film::default()).ia_ml_min)
    };
    let all: Vec<_> = [None, Some(120.0), Some(60.0), Some(45.0), Some(35.0)].map(of).into_iter().collect();
    for w in all.windows(2) {
        assert!(w[1].0.soft_seal_mm < w[0].0.soft_seal_mm + 0.5, "{all:?}");
        assert!(w[1].0.beak_mm > w[0].0.beak_mm, "{all:?}");
    }
    for (_, q) in &all[1..] {
        assert!((q / all[0].1 - 1.0).abs() < 0.35, "{all:?}");
    }
}
