//! Two published closed loops built on our engine: nothing here but their parameters.

use overwire::circulation::network::{Activation, LA, LV, Network, RA, RV};

/// Period of the Ursino loop, s.
pub const URSINO_T: f64 = 0.833;

/// The haemodynamic part of Ursino, Am J Physiol 275:H1733 (1998), effectors frozen at the table; 5300 ml.
/// Nodes: 4 pulmonary artery, 5 and 6 pulmonary, 7 and 8 veins, 9 systemic artery, 10 systemic periphery.
pub fn ursino<const W: usize>(dt_s: f64) -> Network<W> {
    let mut n = Network::<W>::new(dt_s);
    n.add_heart(4, 9);
    let c = &mut n.chambers;
    for (a, comp) in [(RA, 31.25), (LA, 19.23)] {
        c[a].e_min = [1.0 / comp; W];
        c[a].v_u = [25.0; W];
    }
    for (v, e, k, u) in [(LV, 2.95, 0.014, 16.77), (RV, 1.75, 0.011, 40.8)] {
        (c[v].e_max, c[v].p0, c[v].k_e, c[v].v_u) = ([e; W], [1.5; W], [k; W], [u; W]);
    }
    n.valves[0].r = [2.5e-3; W];
    n.valves[2].r = [2.5e-3; W];
    n.valves[1].r_per_mmhg = [1.4e-3; W];
    n.valves[3].r_per_mmhg = [3.75e-4; W];
    for (i, v) in [(RA, 181.25), (RV, 120.0), (LA, 159.61), (LV, 120.0)] {
        for k in 0..W {
            n.set_node(i, k, 1e12, 0.0);
            n.v_ml[i][k] = v;
        }
    }
    n.add_node(0.76, 0.0, 16.0);
    n.add_node(5.80, 123.0, 14.0);
    n.add_node(25.37, 120.0, 9.0);
    let sv = n.add_node(61.11, 1121.0, 0.0);
    n.add_node(50.0, 1375.0, 6.0);
    n.add_node(0.28, 0.0, 90.0);
    n.add_node(2.05 + 1.67, 274.4 + 336.6, 85.0);
    for k in 0..W {
        n.v_ml[sv][k] += 5300.0 - n.total_ml(k);
    }
    n.add_pipe(4, 5, 0.18e-3, 0.023);
    n.add_pipe(9, 10, 0.22e-3, 0.06);
    n.pipe_q_ml_s[0] = [80.0; W];
    n.pipe_q_ml_s[1] = [80.0; W];
    n.add_link(10, 7, 1.0 / 3.307);
    n.add_link(10, 8, 1.0 / 1.407);
    n.add_link(7, RA, 1.0 / 0.038);
    n.add_link(8, RA, 1.0 / 0.016);
    n.add_link(5, 6, 1.0 / 0.0894);
    n.add_link(6, LA, 1.0 / 0.0056);
    n
}

/// Ventricular activation of the Ursino loop at `t_s`.
pub fn ursino_phi(t_s: f64) -> f64 {
    let u = t_s / URSINO_T - (t_s / URSINO_T).floor();
    let t_sys = 0.5 - 0.075 / URSINO_T;
    if u * URSINO_T >= t_sys {
        return 0.0;
    }
    let s = (std::f64::consts::PI * u * URSINO_T / t_sys).sin();
    s * s
}

/// One step of the Ursino loop from step `k`.
pub fn ursino_step<const W: usize>(n: &mut Network<W>, k: u64) {
    let t = k as f64 * n.dt_s;
    let at = |t: f64| Activation { ventricles: [ursino_phi(t); W], atria: [0.0; W] };
    n.step(&at(t), &at(t + 0.5 * n.dt_s));
}

/// Regazzoni et al., arXiv 2011.15040, with the defaults of the authors' colleagues' Python package, version 0.4.0.
/// Nodes: 4 and 5 systemic arteries and veins, 6 and 7 pulmonary.
pub fn regazzoni(dt_s: f64) -> Network<1> {
    let mut n = Network::<1>::new(dt_s);
    n.add_heart(6, 4);
    for (i, ea, eb, v0, v) in [
        (RA, 0.06, 0.07, 4.0, 86.833),
        (RV, 0.2, 0.029, 16.0, 166.177),
        (LA, 0.07, 0.18, 4.0, 87.183),
        (LV, 4.482, 0.17, 42.0, 118.520),
    ] {
        let c = &mut n.chambers[i];
        (c.e_max, c.e_min, c.v_u) = ([ea + eb], [eb], [v0]);
        n.set_node(i, 0, 1e12, 0.0);
        n.v_ml[i] = [v];
    }
    for v in &mut n.valves {
        v.r = [0.0075];
    }
    n.add_node(1.372, 0.0, 87.675);
    n.add_node(11.363, 0.0, 35.898);
    n.add_node(20.0, 0.0, 19.545);
    n.add_node(16.0, 0.0, 15.004);
    for (a, b, l, r, q) in [
        (4, 5, 5e-3, 0.733, 71.104),
        (5, RA, 5e-4, 0.32, 94.039),
        (6, 7, 5e-4, 0.046, 94.084),
        (7, LA, 5e-4, 0.0015, 473.279),
    ] {
        let e = n.add_pipe(a, b, l, r);
        n.pipe_q_ml_s[e] = [q];
    }
    n
}

/// Activation of Blanco and Feijoo: (ventricles, atria) at `t_s`, beat 0.8 s.
pub fn regazzoni_phi(t_s: f64) -> (f64, f64) {
    let wave = |t_c: f64, contracts: f64, relaxes: f64| {
        let x = (t_s - t_c).rem_euclid(0.8);
        let y = (t_s - t_c - contracts).rem_euclid(0.8);
        let pi = std::f64::consts::PI;
        if x < contracts {
            0.5 * (1.0 - (pi * x / contracts).cos())
        } else if y < relaxes {
            0.5 * (1.0 + (pi * y / relaxes).cos())
        } else {
            0.0
        }
    };
    (wave(0.1, 0.25, 0.4), wave(0.9, 0.17, 0.17))
}
