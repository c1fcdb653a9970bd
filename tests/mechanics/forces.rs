//! Forces and stresses against closed forms.

use overwire::mechanics::forces::*;

fn close(a: f64, b: f64) {
    assert!((a / b - 1.0).abs() < 2e-3, "{a} {b}");
}

/// Momentum balance on a bend, F = 2 (p A + rho Q² / A) sin(angle / 2), 30 mm, 100 mL/s; computed by hand and with SciPy.
#[test]
fn drag_on_a_bend() {
    for (p, angle, exact) in [
        (100.0, 30.0, 4.8860),
        (100.0, 60.0, 9.4390),
        (100.0, 90.0, 13.3487),
        (100.0, 180.0, 18.8779),
        (120.0, 90.0, 16.0142),
        (120.0, 180.0, 22.6475),
    ] {
        close(bend_drag_n(30.0, p, 100.0, f64::to_radians(angle)), exact);
    }
}

/// Momentum balance on a 24 mm body with two 12 mm legs, 100 mmHg, 50 mL/s, by half angle.
#[test]
fn drag_on_a_bifurcation() {
    for (half, exact) in [(0.0, 3.0098), (15.0, 3.1130), (30.0, 3.4154), (45.0, 3.8965)] {
        close(bifurcation_drag_n(24.0, 12.0, 100.0, 50.0, f64::to_radians(half)), exact);
    }
}

/// Borda-like loss of a blocked 28 mm lumen at 100 mL/s: 0.64, 5.14 and 85.4 mmHg at 50, 80 and 95 %; and the push.
#[test]
fn windsock() {
    for (blocked, drop, push) in [(0.5, 0.640, 0.0263), (0.8, 5.14, 0.337), (0.95, 85.38, 6.658)] {
        let dp = obstruction_k(28.0, blocked) * 100.0 * 100.0;
        assert!((dp / drop - 1.0).abs() < 5e-3, "{dp} {drop}");
        let f = windsock_n(28.0, blocked, dp);
        assert!((f / push - 1.0).abs() < 8e-3, "{f} {push}");
    }
    // A closed bag bears the whole pressure: 80 mmHg on 30 mm is 7.539 N.
    close(windsock_n(30.0, 1.0, 80.0), 7.5392);
    // Behind a bed the drop never exceeds what the heart makes.
    assert!(drop_behind_bed_mmhg(80.0, 90.0, obstruction_k(28.0, 0.98)) < 80.0);
}

/// mu p pi D L with mu 0.3, 24 mm by 15 mm: 0.679 N at 2 kPa, 3.393 N at 10 kPa.
#[test]
fn grip() {
    close(grip_n(2.0, 24.0, 15.0), 0.6786);
    close(grip_n(10.0, 24.0, 15.0), 3.3929);
}

/// Laplace: radius 30 mm, wall 1.5 mm, 100 mmHg: 266.64 kPa in a cylinder, half in a sphere.
#[test]
fn laplace() {
    close(cylinder_stress_kpa(100.0, 30.0, 1.5), 266.644);
    close(sphere_stress_kpa(100.0, 30.0, 1.5), 133.322);
}

/// Neo-Hookean balloon: greatest pressure 0.619731 mu (2 t / r = 1 here) at stretch 7^(1/6) (Beatty, Appl Mech Rev 40, 1987).
#[test]
fn neo_hookean_sphere() {
    let p = |l: f64| neo_hookean_sphere_kpa(1.0, 0.5, 1.0, l);
    let top = p(1.383_088);
    assert!((top - 0.619_731).abs() < 1e-5, "{top}");
    assert!(p(1.37) < top && p(1.40) < top);
}

/// Raghavan and Vorp 2000, uniaxial: 6.0444, 16.8521, 69.8006, 190.318 N/cm² at stretch 1.05, 1.1, 1.2, 1.3.
#[test]
fn aneurysm_wall() {
    for (l, exact) in [(1.05, 60.444), (1.1, 168.521), (1.2, 698.006), (1.3, 1903.18)] {
        close(aneurysm_wall_stress_kpa(l), exact);
    }
}
