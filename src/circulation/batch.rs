//! Many patients at once: four side by side in the lanes of one network, each with the bits that it has alone.

use super::Circulation;
use super::network::{Activation, Network};

/// Patients stepped side by side.
const LANES: usize = 4;

/// Lets whole milliseconds pass for every patient. Neighbours in the slice whose vessels join alike (the same layout) run
/// together, about one and a half times as fast (the bench prints the ratio); the others run alone. The result is the same to
/// the bit.
pub fn advance_together(patients: &mut [Circulation], ms: u32) {
    for group in patients.chunks_mut(LANES) {
        let (first, rest) = group.split_at_mut(1);
        if rest.len() + 1 == LANES && rest.iter().all(|p| p.net.alike(&first[0].net)) {
            side_by_side(group, ms);
        } else {
            group.iter_mut().for_each(|p| p.advance_ms(ms));
        }
    }
}

fn side_by_side(group: &mut [Circulation], ms: u32) {
    let mut net = Box::new(Network::<LANES>::new(group[0].net.dt_s));
    for (k, p) in group.iter_mut().enumerate() {
        p.body.hold.end();
        net.put(k, &mut p.net);
    }
    let still = Activation { ventricles: [0.0; LANES], atria: [0.0; LANES] };
    for _ in 0..ms {
        let (mut now, mut mid) = (still, still);
        for (k, p) in group.iter().enumerate() {
            (now.ventricles[k], now.atria[k]) = p.body.pacer.activation(0.0);
            (mid.ventricles[k], mid.atria[k]) = p.body.pacer.activation(0.5e-3);
        }
        net.step(&now, &mid);
        for (k, p) in group.iter_mut().enumerate() {
            p.body.after(&mut net, k);
        }
    }
    for (k, p) in group.iter_mut().enumerate() {
        net.take(k, &mut p.net);
    }
}
