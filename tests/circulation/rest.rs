//! The patient at rest against textbook ranges and published splits.

use super::{Row, healthy, near, row, steady};
use overwire::anatomy::VesselName as V;
use overwire::circulation::territory::{BED_KINDS, BEDS, Bed};
use overwire::circulation::{Circulation, Grade, Layout, Patient, Start, ValveDisease};

/// At rest.
pub fn rows() -> Vec<Row> {
    let mut c = healthy();
    let v = steady(&mut c);
    let norm = "textbook reference range of adults";
    let mut out = vec![
        row("rest: heart rate, 1/min", norm, 60.0, 80.0, v.heart_rate_bpm),
        row("rest: mean aortic pressure, mmHg", norm, 70.0, 100.0, v.root.mean_mmhg),
        row("rest: radial systolic, mmHg", norm, 110.0, 135.0, v.right_radial.systolic_mmhg),
        row("rest: output, l/min", norm, 4.0, 8.0, v.output_l_min),
        row("rest: central venous, mmHg", norm, 2.0, 6.0, v.cvp_mmhg),
        row("rest: left atrial, mmHg", norm, 4.0, 12.0, v.left_atrial_mmhg),
        row("rest: stroke volume, ml", norm, 50.0, 100.0, v.stroke_ml),
        row("rest: dP/dt max, mmHg/s", "textbook: 1200-2000", 1200.0, 2000.0, v.dp_dt_mmhg_s),
        row("rest: urine, ml/h", "0.5-1 ml/kg/h, textbook", 37.0, 80.0, v.urine_ml_h),
        row(
            "radial less root systolic, mmHg",
            "amplification at 50 years about 5-20, from memory of McEniery 2005",
            5.0,
            20.0,
            v.right_radial.systolic_mmhg - v.root.systolic_mmhg,
        ),
    ];
    // A weak heart and a narrow valve live at their own pressure too.
    let weak = Patient { contractility: 0.5, ..Patient::default() };
    let narrow = Patient { valve: Some((ValveDisease::AorticStenosis, Grade::Severe)), ..Patient::default() };
    for (what, patient) in [
        ("rest: mean pressure less the patient's own, mmHg", Patient::default()),
        ("the same at half the contractility", weak),
        ("the same with severe aortic stenosis", narrow),
    ] {
        let own = patient.map_rest_mmhg;
        let mut c = Circulation::new(&patient, &Layout::adult(), &Start::default());
        c.set_tracing(false);
        out.push(near(what, "what the patient is set to", 0.0, 5.0, steady(&mut c).root.mean_mmhg - own));
    }
    // Over ten seconds: a breath moves every single beat.
    let (mut whole, mut beds) = (0.0, [0.0; BEDS]);
    for _ in 0..100 {
        c.advance_ms(100);
        whole += c.flow_ml_s(V::Aorta) / 100.0;
        for (sum, kind) in beds.iter_mut().zip(&BED_KINDS) {
            *sum += c.bed_ml_s(kind.bed) / 100.0;
        }
    }
    let share = |of: &[Bed]| of.iter().map(|&b| beds[b as usize]).sum::<f64>() / whole * 100.0;
    let by = "regional flow, National Academies radon report table A-1 (after Williams and Leggett 1989)";
    out.extend([
        near(
            "share of brain, %",
            by,
            12.0,
            2.0,
            share(&[Bed::RightBrain, Bed::LeftBrain, Bed::PosteriorBrain]),
        ),
        near("share of kidneys, %", by, 19.0, 2.5, share(&[Bed::RightKidney, Bed::LeftKidney])),
        near("share of splanchnic organs, %", by, 25.5, 2.5, share(&[Bed::Liver, Bed::Gut, Bed::Colon])),
        near("share of heart, %", by, 4.0, 1.0, share(&[Bed::Heart])),
    ]);
    let all: f64 = beds.iter().sum();
    out.push(near("all beds over cardiac output", "what leaves the heart arrives", 1.0, 0.03, all / whole));
    // Chemla (Am J Physiol 274:H500, 1998): SV/PP = 0.99 C + 0.05, r 0.98.
    let held = c.arterial_compliance_ml_mmhg();
    let by_pulse = v.stroke_ml / v.root.pulse_mmhg();
    out.push(near(
        "stroke volume over pulse pressure, by 0.99 C + 0.05",
        "Chemla 1998, r 0.98",
        1.0,
        0.2,
        by_pulse / (0.99 * held + 0.05),
    ));
    out.push(wave_speed(&mut c));
    out
}

/// Foot of the wave from the arch to the iliac bifurcation.
fn wave_speed(c: &mut Circulation) -> Row {
    let (near_s, far_s) = (140.0, 440.0);
    let mut delays = Vec::new();
    for _ in 0..5 {
        while c.flow_now_ml_s(V::Aorta) > 1.0 {
            c.advance_ms(1);
        }
        while c.flow_now_ml_s(V::Aorta) < 5.0 {
            c.advance_ms(1);
        }
        let foot = |s: f64, c: &mut Circulation| {
            // A fifth of the way up from the lowest to the highest pressure within 250 ms.
            let mut d = c.clone();
            let p: Vec<f64> = (0..250)
                .map(|_| {
                    d.advance_ms(1);
                    d.pressure_now_mmhg(s)
                })
                .collect();
            let low = (0..120).min_by(|&a, &b| p[a].total_cmp(&p[b])).unwrap();
            let high = p[low..].iter().copied().fold(0.0, f64::max);
            let level = p[low] + 0.2 * (high - p[low]);
            (low + p[low..].iter().position(|&x| x >= level).unwrap()) as f64
        };
        delays.push(foot(far_s, c) - foot(near_s, c));
        c.advance_ms(500);
    }
    let ms = delays.iter().sum::<f64>() / delays.len() as f64;
    row(
        "aortic pulse-wave velocity at 50 years, m/s",
        "reference values, Eur Heart J 2010: 7.2 (median), 10th-90th 6-9",
        6.0,
        9.0,
        (far_s - near_s) / ms,
    )
}
