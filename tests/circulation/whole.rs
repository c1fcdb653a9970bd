//! The whole patient against published bands.

use super::{Row, healthy, near, row, steady, wait};
use overwire::anatomy::VesselName as V;
use overwire::circulation::plumbing::{BED_KINDS, BEDS, Bed};
use overwire::circulation::{
    Anaesthesia, Bleed, Circulation, Drug, Layout, Organ, Patient, Product, Site, Space, Start, Test,
};

/// At rest.
pub fn rest() -> Vec<Row> {
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

/// Haemorrhage classes at 10, 20, 35 and 45 % of the blood, lost over ten minutes, read five minutes later.
pub fn haemorrhage() -> Vec<Row> {
    let blood = Patient::default().blood_volume_ml();
    let base = steady(&mut healthy());
    let mut seen = Vec::new();
    for part in [0.10, 0.20, 0.35, 0.45] {
        let mut c = healthy();
        bleed(&mut c, part * blood, 600);
        wait(&mut c, 290);
        let v = steady(&mut c);
        seen.push((v, c.lab(Test::BaseExcess)));
        if part == 0.35 {
            seen.push((v, restore(&mut c, part * blood)));
        }
    }
    let (returned, third) = (seen.remove(3).1, ());
    let () = third;
    let acs = "haemorrhage classes, American College of Surgeons table; a teaching scale";
    let v = |i: usize| seen[i].0;
    let pulse = |i: usize| v(i).right_radial.pulse_mmhg();
    vec![
        row("class I: heart rate", acs, 60.0, 100.0, v(0).heart_rate_bpm),
        row("class II: heart rate", acs, 100.0, 120.0, v(1).heart_rate_bpm),
        row("class III: heart rate", acs, 120.0, 140.0, v(2).heart_rate_bpm),
        row("class IV: heart rate", acs, 140.0, 185.0, v(3).heart_rate_bpm),
        row("class I: systolic, mmHg (normal)", acs, 110.0, 140.0, v(0).right_radial.systolic_mmhg),
        row("class II: systolic, mmHg (normal)", acs, 100.0, 140.0, v(1).right_radial.systolic_mmhg),
        row("class III: systolic, mmHg (down)", acs, 70.0, 105.0, v(2).right_radial.systolic_mmhg),
        row("class IV: systolic, mmHg (down)", acs, 40.0, 90.0, v(3).right_radial.systolic_mmhg),
        row(
            "class II: pulse pressure over rest (down)",
            acs,
            0.4,
            0.97,
            pulse(1) / base.right_radial.pulse_mmhg(),
        ),
        row("class III over class II pulse pressure", acs, 0.3, 0.97, pulse(2) / pulse(1)),
        row("class IV over class III pulse pressure", acs, 0.3, 0.97, pulse(3) / pulse(2)),
        row("class I: urine, ml/h", acs, 30.0, 90.0, v(0).urine_ml_h),
        row("class II: urine, ml/h", acs, 20.0, 30.0, v(1).urine_ml_h),
        row("class III: urine, ml/h", acs, 5.0, 15.0, v(2).urine_ml_h),
        row("class IV: urine, ml/h", acs, 0.0, 4.0, v(3).urine_ml_h),
        row("class I: breaths a minute", acs, 14.0, 20.0, v(0).breaths_per_min),
        row("class II: breaths a minute", acs, 20.0, 30.0, v(1).breaths_per_min),
        row("class III: breaths a minute", acs, 30.0, 40.0, v(2).breaths_per_min),
        row("class IV: breaths a minute (above 35)", acs, 35.0, 45.0, v(3).breaths_per_min),
        row("class IV: base excess below class III's, mmol/l", acs, 0.5, 12.0, seen[2].1 - seen[3].1),
        near(
            "class III given back as whole blood: mean pressure over rest",
            "transfusion restores",
            1.0,
            0.1,
            returned / base.root.mean_mmhg,
        ),
    ]
}

fn bleed(c: &mut Circulation, ml: f64, seconds: u32) {
    let mut area = 3.0;
    for k in 0..seconds {
        let due = ml * f64::from(k + 1) / f64::from(seconds) - c.lost_ml(Space::Outside);
        area = (0.7 * area + 0.2 * due.max(0.0)).clamp(0.0, 30.0);
        let hole = Bleed {
            from: Site::Vessel(V::RightExternalIliac),
            into: Space::Outside,
            area_mm2: area,
            clots: false,
        };
        assert!(c.set_bleed("line", hole));
        wait(c, 1);
    }
    c.remove_bleed("line");
}

fn restore(c: &mut Circulation, ml: f64) -> f64 {
    c.transfuse(Product::WholeBlood, ml);
    wait(c, 600);
    steady(c).root.mean_mmhg
}

/// Pacing, adenosine, balloon, covered branches, tamponade.
pub fn interventions() -> Vec<Row> {
    let mut out = Vec::new();
    let base = steady(&mut healthy()).root.mean_mmhg;
    let mut c = healthy();
    c.set_pacing(Some(170.0));
    wait(&mut c, 6);
    out.push(row(
        "pacing at 170: mean pressure, mmHg",
        "Ricotta series: 42 (8) at 170 (15)",
        35.0,
        55.0,
        c.vitals().root.mean_mmhg,
    ));
    c.set_pacing(None);
    let mut s = 0.0;
    while c.vitals().root.mean_mmhg < 0.9 * base && s < 60.0 {
        c.advance_ms(100);
        s += 0.1;
    }
    out.push(row("seconds to 90 % of rest after pacing", "published 2-8 s; asked under 10", 0.5, 10.0, s));
    let mut c = healthy();
    c.give(Drug::Adenosine, 24.0);
    let mut still = 0.0;
    for _ in 0..400 {
        c.advance_ms(100);
        still += if c.vitals().heart_rate_bpm < 1.0 { 0.1 } else { 0.0 };
    }
    out.push(row(
        "ventricular standstill after adenosine 24 mg, s",
        "18.6 (6.6) s at 24-36 mg (PubMed 22045080)",
        8.0,
        26.0,
        still,
    ));
    let mut c = healthy();
    c.set_occlusion(160.0, 1.0);
    wait(&mut c, 60);
    let v = steady(&mut c);
    out.push(row(
        "balloon in the descending aorta: proximal over rest",
        "aortic clamp studies: up by a third to two thirds, from memory",
        1.2,
        1.9,
        v.root.mean_mmhg / base,
    ));
    out.push(row(
        "balloon: femoral mean, mmHg",
        "distal stump 10-30, from memory",
        8.0,
        30.0,
        v.right_femoral.mean_mmhg,
    ));
    c.set_occlusion(160.0, 0.0);
    wait(&mut c, 60);
    out.push(near(
        "a minute after the balloon: mean over rest",
        "back with the vessel open",
        1.0,
        0.12,
        steady(&mut c).root.mean_mmhg / base,
    ));
    let mut c = healthy();
    c.set_patency(V::LeftSubclavian, 0.0);
    wait(&mut c, 60);
    let v = steady(&mut c);
    out.push(row(
        "left subclavian covered: left arm over right, mean",
        "fed by collaterals: half to nine tenths, common practice",
        0.5,
        0.9,
        v.left_radial.mean_mmhg / v.right_radial.mean_mmhg,
    ));
    out.push(row(
        "left subclavian covered: left vertebral, ml/s",
        "reverses (subclavian steal)",
        -6.0,
        -0.3,
        c.flow_ml_s(V::LeftVertebral),
    ));
    let mut c = healthy();
    c.set_patency(V::Coeliac, 0.0);
    wait(&mut c, 60);
    out.push(row(
        "coeliac covered: liver's delivery over rest",
        "fed by the pancreatic arcade and the portal vein, common practice",
        0.5,
        0.95,
        c.organs().of(Organ::Liver).delivery,
    ));
    let mut c = healthy();
    let tear = Bleed { from: Site::AortaMm(10.0), into: Space::PericardialSac, area_mm2: 0.3, clots: false };
    c.set_bleed("tear", tear);
    while c.lost_ml(Space::PericardialSac) < 250.0 && c.t_ms() < 1_500_000 {
        c.advance_ms(500);
    }
    c.remove_bleed("tear");
    wait(&mut c, 60);
    let v = steady(&mut c);
    out.push(row(
        "250 ml in the pericardium: central venous over rest, mmHg",
        "acute tamponade raises it, textbook",
        3.0,
        15.0,
        v.cvp_mmhg - steady(&mut healthy()).cvp_mmhg,
    ));
    out.push(row(
        "250 ml in the pericardium: output, l/min",
        "acute tamponade halves it or worse, textbook",
        1.0,
        4.0,
        v.output_l_min,
    ));
    out
}

/// Drugs and blood.
pub fn drugs() -> Vec<Row> {
    let mut out = Vec::new();
    let base = steady(&mut healthy());
    let after = |setup: &dyn Fn(&mut Circulation), seconds: u32| {
        let mut c = healthy();
        setup(&mut c);
        wait(&mut c, seconds - 5);
        steady(&mut c)
    };
    // Asleep, as the patients of the study were: a waking baroreflex hides most of it.
    let mut c = healthy();
    c.set_anaesthesia(Anaesthesia::General(0.8));
    wait(&mut c, 900);
    let asleep = steady(&mut c);
    c.give(Drug::Ephedrine, 7.5);
    wait(&mut c, 285);
    let v = steady(&mut c);
    let by = "ephedrine 0.1 mg/kg at 5 min: MAP +8.3 mmHg, output +7.4 % (BMC Anesthesiol 2023)";
    out.push(row("ephedrine: mean pressure, mmHg", by, 4.0, 13.0, v.root.mean_mmhg - asleep.root.mean_mmhg));
    out.push(row(
        "ephedrine: output, %",
        by,
        3.0,
        14.0,
        (v.output_l_min / asleep.output_l_min - 1.0) * 100.0,
    ));
    let v = after(&|c| c.infuse(Drug::Noradrenaline, 0.1), 600);
    out.push(row(
        "noradrenaline 0.1 ug/kg/min: mean pressure, mmHg",
        "common practice: plus 10-30",
        8.0,
        30.0,
        v.root.mean_mmhg - base.root.mean_mmhg,
    ));
    let v = after(
        &|c| {
            c.give(Drug::Propofol, 150.0);
            c.set_anaesthesia(Anaesthesia::General(0.8));
        },
        240,
    );
    out.push(row(
        "induction of anaesthesia: mean pressure over rest",
        "falls by 20-35 %, common practice",
        0.6,
        0.85,
        v.root.mean_mmhg / base.root.mean_mmhg,
    ));
    // Dissection: the beta-blocker first against the vasodilator first.
    let hypertensive = Patient { age_years: 56.0, mass_kg: 88.0, map_rest_mmhg: 108.0, ..Patient::default() };
    let start = Start { sbp_mmhg: Some(188.0), heart_rate_bpm: Some(104.0), ..Start::default() };
    let mut found = Circulation::new(&hypertensive, &Layout::adult(), &start);
    found.set_tracing(false);
    let v0 = steady(&mut found);
    out.push(near(
        "dissection: systolic at the start, mmHg",
        "what the case asks for",
        188.0,
        12.0,
        v0.right_radial.systolic_mmhg,
    ));
    out.push(near("dissection: rate at the start", "what the case asks for", 104.0, 6.0, v0.heart_rate_bpm));
    out.extend(esmolol_by_dose(&found));
    let mut beta = found.clone();
    beta.give(Drug::Esmolol, 88.0);
    beta.infuse(Drug::Esmolol, 200.0);
    wait(&mut beta, 600);
    let b = steady(&mut beta);
    let mut dilator = found.clone();
    dilator.infuse(Drug::Nicardipine, 15.0);
    wait(&mut dilator, 900);
    let d = steady(&mut dilator);
    let by = "anti-impulse therapy: beta-blocker first, or reflex tachycardia (ACC/AHA 2022)";
    out.push(row("esmolol first: rate, change", by, -45.0, -12.0, b.heart_rate_bpm - v0.heart_rate_bpm));
    out.push(row("esmolol first: dP/dt, ratio", by, 0.5, 0.9, b.dp_dt_mmhg_s / v0.dp_dt_mmhg_s));
    out.push(row("vasodilator first: rate, change", by, 2.0, 30.0, d.heart_rate_bpm - v0.heart_rate_bpm));
    out.push(row("vasodilator first: dP/dt over esmolol's", by, 1.1, 2.0, d.dp_dt_mmhg_s / b.dp_dt_mmhg_s));
    out.push(row(
        "vasodilator first: systolic, change, mmHg",
        by,
        -70.0,
        -8.0,
        d.right_radial.systolic_mmhg - v0.right_radial.systolic_mmhg,
    ));
    // Heparin.
    let eighty = Patient { mass_kg: 80.0, ..Patient::default() };
    let mut c = Circulation::new(&eighty, &Layout::adult(), &Start::default());
    let by = "Amsterdam activated clotting time studies: 5000 IU 197 (31) s; 100 IU/kg 227 (37) s";
    out.push(near(
        "activated clotting time at rest, s",
        "134-138 (17), same studies",
        136.0,
        17.0,
        c.lab(Test::Act),
    ));
    c.give(Drug::Heparin, 5000.0);
    wait(&mut c, 300);
    out.push(near("after heparin 5000 IU at 80 kg, s", by, 197.0, 31.0, c.lab(Test::Act)));
    c.give(Drug::Heparin, 3000.0);
    wait(&mut c, 300);
    out.push(near("after 100 IU/kg, s", by, 227.0, 37.0, c.lab(Test::Act)));
    c.give(Drug::Protamine, 80.0);
    wait(&mut c, 300);
    out.push(near(
        "after protamine 1 mg per 100 IU, s",
        "back to rest, common practice",
        136.0,
        12.0,
        c.lab(Test::Act),
    ));
    out
}

/// Half an hour of esmolol by dose, and a hand that turns the pump toward a rate of 60 beside a vasodilator.
fn esmolol_by_dose(found: &Circulation) -> Vec<Row> {
    let at = |dose: f64| {
        let mut c = found.clone();
        c.infuse(Drug::Esmolol, dose);
        wait(&mut c, 1800);
        let v = steady(&mut c);
        (v.heart_rate_bpm, v.dp_dt_mmhg_s)
    };
    let (none, low, high) = (at(0.0), at(100.0), at(200.0));
    let fall = |now: f64, without: f64| (now / without - 1.0) * 100.0;
    let by = "rate falls by 15-25 % at 100-200 ug/kg/min; four in five come below 80, one in four below 60 (esmolol series)";
    let force = "dP/dt falls by 10-30 % in man, from memory";
    let mut c = found.clone();
    c.give(Drug::Fentanyl, 150.0);
    c.infuse(Drug::Esmolol, 250.0);
    c.infuse(Drug::Clevidipine, 10.0);
    let mut lowest = 999.0_f64;
    for _ in 0..180 {
        wait(&mut c, 10);
        lowest = lowest.min(c.vitals().heart_rate_bpm);
    }
    vec![
        row("esmolol 100 ug/kg/min at a rate of 104: rate, %", by, -25.0, -15.0, fall(low.0, none.0)),
        row("esmolol 200 ug/kg/min: rate, %", by, -28.0, -17.0, fall(high.0, none.0)),
        row("esmolol 100 ug/kg/min: dP/dt, %", force, -30.0, -10.0, fall(low.1, none.1)),
        row("esmolol 200 ug/kg/min: dP/dt, %", force, -35.0, -12.0, fall(high.1, none.1)),
        row("esmolol 250 with clevidipine and fentanyl: rate", by, 55.0, 78.0, steady(&mut c).heart_rate_bpm),
        row(
            "the same: the lowest rate in half an hour",
            "no overdose: it slows, it does not stop",
            50.0,
            78.0,
            lowest,
        ),
    ]
}

/// Ledger, cord, long step.
pub fn accounts() -> Vec<Row> {
    let mut c = healthy();
    everything(&mut c);
    wait(&mut c, 3600);
    let mut out = vec![near(
        "one hour with every treatment: blood not accounted for, relative",
        "conservation",
        0.0,
        1e-9,
        c.ledger_error_ml() / Patient::default().blood_volume_ml(),
    )];
    let o = c.organs();
    let cord = c.cord_artery_mmhg() - o.csf_mmhg.max(c.vitals().cvp_mmhg) - o.cord_perfusion_mmhg;
    out.push(near(
        "cord perfusion less (artery - higher of CSF and vein), mmHg",
        "arithmetic of spinal cord perfusion pressure",
        0.0,
        1.5,
        cord,
    ));
    let mut c = healthy();
    let before = c.organs().of(Organ::Cord).delivery;
    c.set_segmental_cover(&[(140.0, 330.0)]);
    c.set_patency(V::LeftSubclavian, 0.0);
    wait(&mut c, 120);
    let covered = c.organs().of(Organ::Cord).delivery;
    out.push(row(
        "cord delivery with a long cover and the subclavian lost, over before",
        "collateral network: falls, seldom to nothing (Griepp and Griepp 2010)",
        0.3,
        0.85,
        covered / before,
    ));
    out.extend(long_step());
    out
}

/// The long step against the short one: thirty minutes of a bleed that takes a third of the blood, in one call and by the minute
/// as on the ward, and an ooze with treatment.
fn long_step() -> Vec<Row> {
    let run = |area_mm2: f64, treated: bool, call_s: Option<f64>| {
        let mut c = healthy();
        let hole = Bleed { from: Site::AortaMm(300.0), into: Space::Retroperitoneum, area_mm2, clots: false };
        c.set_bleed("tear", hole);
        if treated {
            c.transfuse_over(Product::Crystalloid, 500.0, 30.0);
            c.infuse(Drug::Noradrenaline, 0.03);
        }
        match call_s {
            Some(s) => (0..(1800.0 / s) as u32).for_each(|_| c.advance_long(s)),
            None => wait(&mut c, 1800),
        }
        let lost = c.lost_ml(Space::Retroperitoneum);
        let hb = c.lab(Test::Haemoglobin);
        (steady(&mut c), lost, hb)
    };
    let by = "our own 1 kHz step over the same 30 minutes";
    let mut out = Vec::new();
    let short = run(0.4, false, None);
    for call_s in [1800.0, 60.0] {
        let long = run(0.4, false, Some(call_s));
        out.extend([
            near("long step, open tear: blood lost, ratio", by, 1.0, 0.02, long.1 / short.1),
            near(
                "long step, open tear: mean pressure, difference, mmHg",
                by,
                0.0,
                3.0,
                long.0.root.mean_mmhg - short.0.root.mean_mmhg,
            ),
            near(
                "long step, open tear: heart rate, difference",
                by,
                0.0,
                4.0,
                long.0.heart_rate_bpm - short.0.heart_rate_bpm,
            ),
        ]);
    }
    let (short, long) = (run(0.15, true, None), run(0.15, true, Some(1800.0)));
    out.extend([
        near("long step, ooze treated: blood lost, ratio", by, 1.0, 0.02, long.1 / short.1),
        near(
            "long step, ooze treated: mean pressure, difference, mmHg",
            by,
            0.0,
            3.0,
            long.0.root.mean_mmhg - short.0.root.mean_mmhg,
        ),
        near("long step, ooze treated: haemoglobin, ratio", by, 1.0, 0.02, long.2 / short.2),
    ]);
    out
}

/// Every kind of treatment at once.
fn everything(c: &mut Circulation) {
    c.set_bleed(
        "a",
        Bleed { from: Site::AortaMm(300.0), into: Space::Retroperitoneum, area_mm2: 1.0, clots: true },
    );
    c.set_bleed("b", Bleed { from: Site::Veins, into: Space::Peritoneum, area_mm2: 3.0, clots: true });
    for (i, p) in Product::ALL.into_iter().enumerate() {
        c.transfuse_over(p, 150.0 + 30.0 * i as f64, 40.0);
    }
    c.set_anaesthesia(Anaesthesia::General(0.6));
    c.set_csf_drain(Some(8.0));
    c.set_warming(true);
    c.set_occlusion(200.0, 0.5);
    c.set_patency(V::LeftRenal, 0.3);
    for d in [Drug::Noradrenaline, Drug::Dobutamine, Drug::Esmolol, Drug::Nicardipine] {
        c.infuse(d, 0.5);
    }
    for d in [Drug::Heparin, Drug::Furosemide, Drug::TranexamicAcid, Drug::Contrast, Drug::CalciumChloride] {
        c.give(d, 40.0);
    }
}

/// Debt is linear in time at constant flow and monotone in flow.
#[test]
fn debt_is_linear_and_monotone() {
    use overwire::circulation::Blood;
    use overwire::circulation::organs::Organs;
    use overwire::circulation::plumbing::BEDS;
    let p = Patient::default();
    let debt = |flow: f64, seconds: u32| {
        let rest = [1.0; BEDS];
        let mut o = Organs::new(&rest, 0.2, 80.0, 90.0, 75.0, 10.0);
        let mut blood = Blood::new(&p, 5000.0);
        for _ in 0..seconds {
            o.step(&[flow; BEDS], 0.2, 1.0, 1.0, &mut blood, 1.0);
        }
        o.of(Organ::Gut).debt
    };
    let (one, two) = (debt(0.1, 600), debt(0.1, 1200));
    assert!(one > 0.0 && (two / one - 2.0).abs() < 0.02, "{one} {two}");
    assert!(debt(0.0, 600) > one && one > debt(0.3, 600));
}

/// Oxygen delivery: 5 l/min, 150 g/l, saturation 0.98, 100 mmHg carry 999.9 ml/min (arithmetic, 1.34 ml/g and
/// 0.003 ml/dl/mmHg).
#[test]
fn oxygen_content_is_the_textbook_sum() {
    let mut b = overwire::circulation::breathing::Breathing::new(30.0);
    b.pao2_mmhg = 100.0;
    let s = b.saturation();
    let content = b.content(150.0) * 5000.0;
    assert!(
        (content - (1.34 * 150.0 * s + 0.03 * 100.0) * 5.0).abs() < 1e-9 && (content - 999.9).abs() < 8.0,
        "{content}"
    );
}
