//! Pictures to be looked at by a person.

use super::leaks;
use super::patient::{Adult, adult, v};
use overwire::anatomy::{Rail, VesselName};
use overwire::imaging::*;
use overwire::math::{Streams, Vec3};
use overwire::records::library;
use overwire::session::Session;
use overwire::session::event::{EventKind, Giver};
use overwire::session::log::Mode;
use overwire::session::player::Player;
use std::path::Path;

fn save(name: &str, image: &Grey) {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/gallery/imaging");
    std::fs::create_dir_all(&dir).unwrap();
    std::fs::write(dir.join(name), image.clone().captioned().png().unwrap()).unwrap();
}

fn arch_pose(primary_deg: f64) -> Pose {
    Pose { primary_deg, isocentre: v(10.0, 10.0, -2.0), ..Pose::default() }
}

#[test]
fn arch() {
    let Adult { tree, .. } = adult(0.0);
    let patient = adult(0.0);
    let beam = Beam::default();
    let body = Body::new(&tree, &beam);
    let devices = patient.wire_and_pigtail();
    let scene = Scene { tree: &tree, linings: &[], pools: &[], body: Some(&body), devices: &devices };
    let live = screen(&scene, &arch_pose(45.0), 512, &beam, 1.0, 78.0, true, Streams::new(3)).unwrap();
    save("fluoroscopy_lao45.png", &live.image);
    let live = screen(&scene, &arch_pose(0.0), 512, &beam, 1.0, 78.0, true, Streams::new(3)).unwrap();
    save("fluoroscopy_ap.png", &live.image);
    let show = SubtractionDisplay::default();
    let mut three = Vec::new();
    for angle in [0.0, 45.0, 60.0] {
        let spec = RunSpec { duration_s: 4.0, ..RunSpec::new(arch_pose(angle), patient.flush(), "arch") };
        let run = acquire(&scene, &patient.flows(), &spec, Streams::new(7)).unwrap();
        three.push(run.subtracted(run.frame_at(2.34), (0.0, 0.0), &show));
        if angle == 45.0 {
            let frames: Vec<Grey> =
                [1.0, 1.67, 2.33, 4.0].map(|t| run.subtracted(run.frame_at(t), (0.0, 0.0), &show)).to_vec();
            save("arch_run_lao45.png", &Grey::sheet(&frames, 2));
            save("arch_native_lao45.png", &run.native(run.frame_at(2.34), &NativeDisplay::default()));
        }
    }
    save("arch_run_lao_0_45_60.png", &Grey::sheet(&three, 3));
}

#[test]
fn rupture() {
    let patient = adult(26.0);
    let beam = Beam::default();
    let body = Body::new(&patient.tree, &beam);
    let devices = patient.wire_and_pigtail();
    let scene = Scene { tree: &patient.tree, linings: &[], pools: &[], body: Some(&body), devices: &devices };
    let mut flows = patient.flows();
    let (s_mm, theta_rad) = (patient.marks.lesion, patient.marks.lesion_rad);
    flows.bleeds.push(Bleed { vessel: 0, s_mm, theta_rad, ml_s: 2.0, pool: None });
    let spec = RunSpec { duration_s: 9.0, ..RunSpec::new(leaks::pose(), patient.flush(), "rupture") };
    let run = acquire(&scene, &flows, &spec, Streams::new(7)).unwrap();
    let show = SubtractionDisplay::default();
    let frames: Vec<Grey> =
        [1.67, 2.67, 4.0, 8.0].map(|t| run.subtracted(run.frame_at(t), (0.0, 0.0), &show)).to_vec();
    save("rupture_run.png", &Grey::sheet(&frames, 2));
    println!(
        "{:#?}",
        run.findings
            .spaces
            .iter()
            .map(|s| (s.lined, s.arrival_s, s.delay_s, s.first_mm, s.peak_mg, s.left, s.contrast_to_noise))
            .collect::<Vec<_>>()
    );
}

#[test]
fn endoleaks() {
    let beam = Beam::default();
    let show = SubtractionDisplay::default();
    for kind in leaks::ALL {
        let t = leaks::treated(kind, if kind == leaks::Kind::II { 1.0 } else { 4.0 }, 26.0);
        let body = Body::new(&t.patient.tree, &beam);
        let mut devices = t.patient.wire_and_pigtail();
        devices.drain(..2);
        devices.extend(t.patient.struts(&t.lining));
        let linings = [t.lining.clone()];
        let scene = Scene {
            tree: &t.patient.tree,
            linings: &linings,
            pools: &[],
            body: Some(&body),
            devices: &devices,
        };
        let run = acquire(&scene, &t.flows, &leaks::spec(&t, "leak"), Streams::new(7)).unwrap();
        let frames: Vec<Grey> =
            [1.67, 3.33, 8.0].map(|s| run.subtracted(run.frame_at(s), (0.0, 0.0), &show)).to_vec();
        save(&format!("endoleak_{kind:?}.png").to_lowercase(), &Grey::sheet(&frames, 3));
        println!(
            "{kind:?} {:?} given {} total {}",
            run.findings
                .spaces
                .iter()
                .map(|s| (
                    s.lined,
                    s.from_mm,
                    s.to_mm,
                    s.arrival_s,
                    s.delay_s,
                    s.first_mm,
                    s.peak_mg,
                    s.left,
                    s.contrast_to_noise
                ))
                .collect::<Vec<_>>(),
            run.given_mg,
            run.total_mg
        );
    }
}

#[test]
fn computed_tomography() {
    let patient = adult(26.0);
    let body = Body::new(&patient.tree, &Beam::default());
    let scan = Scan::new(&Scene::bare(&patient.tree, Some(&body)));
    let mut stream = Streams::new(4).named("ct");
    let m = &patient.marks;
    let (level, width) = ct::ANGIO;
    let curve = &patient.tree.aorta().curve;
    let started = std::time::Instant::now();
    let sac = scan.slice(&Plane::orthogonal(&curve.frame(m.lesion), 512, 0.35), &mut stream).unwrap();
    println!("orthogonal 512: {:?}", started.elapsed());
    let z = curve.point(m.lesion).z;
    let axial = scan.slice(&Plane::axial(z, 0.0, 0.0, 512, 0.72), &mut stream).unwrap();
    let arch = scan
        .slice(&Plane::axial(curve.point(m.left_carotid).z - 3.0, 0.0, 0.0, 512, 0.72), &mut stream)
        .unwrap();
    let lung = axial.window(ct::LUNG.0, ct::LUNG.1);
    let four =
        [sac.window(level, width), axial.window(level, width), arch.window(ct::SOFT.0 + 60.0, 600.0), lung];
    save("ct_sections.png", &Grey::sheet(&four, 2));
    let started = std::time::Instant::now();
    let curved = scan.stretched(0, m.lesion_rad, 180, 0.6, &mut stream).unwrap();
    println!("stretched: {:?}", started.elapsed());
    save("ct_curved.png", &curved.window(level, width));
}

/// Files for `pydicom` and a conformance checker, written where `DICOM_OUT` says.
#[test]
fn dicom_files() {
    let Some(dir) = std::env::var_os("DICOM_OUT").map(std::path::PathBuf::from) else { return };
    let patient = adult(26.0);
    let body = Body::new(&patient.tree, &Beam::default());
    let scene = Scene { tree: &patient.tree, linings: &[], pools: &[], body: Some(&body), devices: &[] };
    let spec =
        RunSpec { duration_s: 2.0, pixels: 256, ..RunSpec::new(leaks::pose(), patient.flush(), "dicom") };
    let run = acquire(&scene, &patient.flows(), &spec, Streams::new(7)).unwrap();
    let study = dicom::Study { case: "DRAWN-ADULT".into(), session: "1".into() };
    std::fs::write(dir.join("run.dcm"), dicom::run(&run, &study)).unwrap();
    let scan = Scan::new(&Scene::bare(&patient.tree, Some(&body)));
    for k in 1..=3 {
        let plane = Plane::axial(-40.0 - 2.0 * k as f64, 0.0, 0.0, 256, 1.4);
        let slice = scan.slice(&plane, &mut Streams::new(k as u64).named("ct")).unwrap();
        std::fs::write(dir.join(format!("ct{k}.dcm")), dicom::ct_slice(&slice, &plane, k, 2.0, &study))
            .unwrap();
    }
}

/// The run before deployment with names laid over it; the same with a patient who breathes; a side view of the gut arteries.
#[test]
fn before_deployment() {
    let patient = adult(26.0);
    let beam = Beam::default();
    let body = Body::new(&patient.tree, &beam);
    let devices = patient.wire_and_pigtail();
    let scene = Scene { tree: &patient.tree, linings: &[], pools: &[], body: Some(&body), devices: &devices };
    let show = SubtractionDisplay::default();
    let spec = RunSpec { duration_s: 4.0, ..RunSpec::new(leaks::pose(), patient.flush(), "before") };
    let run = acquire(&scene, &patient.flows(), &spec, Streams::new(7)).unwrap();
    let view = leaks::pose().view(spec.pixels);
    let names = overlay::labels(&patient.tree, &view);
    let peak = run.peak_image((0.0, 0.0), &show);
    save("before_deployment_named.png", &Grey::sheet(&[peak.clone(), overlay::draw(peak, &names)], 2));
    let breathing = RunSpec { breath_held: false, ..spec.clone() };
    let free = acquire(&scene, &patient.flows(), &breathing, Streams::new(7)).unwrap();
    let k = free.frame_at(2.34);
    let both = [run.subtracted(k, (0.0, 0.0), &show), free.subtracted(k, (0.0, 0.0), &show)];
    save("breathing.png", &Grey::sheet(&both, 2));
    let side =
        Pose { primary_deg: 90.0, isocentre: v(0.0, 10.0, -225.0), field_mm: 340.0, ..Pose::default() };
    let coeliac = patient.marks.coeliac;
    let injection = Injection { s_mm: coeliac - 25.0, rate_ml_s: 15.0, volume_ml: 25.0, ..patient.flush() };
    let spec = RunSpec { pose: side, duration_s: 4.0, ..RunSpec::new(side, injection, "side") };
    let run = acquire(&scene, &patient.flows(), &spec, Streams::new(7)).unwrap();
    let pair = [1.67, 3.0].map(|t| run.subtracted(run.frame_at(t), (0.0, 0.0), &show));
    let names = overlay::labels(&patient.tree, &side.view(spec.pixels));
    let named = overlay::draw(pair[1].clone(), &names);
    save("coeliac_lateral.png", &Grey::sheet(&[pair[0].clone(), named], 2));
}

/// A patient built by the anatomy's own sizing sheet: arch, and a section of the planning CT.
#[test]
fn a_built_patient() {
    let tree = overwire::anatomy::AnatomySpec::default().build().unwrap();
    let beam = Beam::default();
    let body = Body::new(&tree, &beam);
    let scene = Scene { tree: &tree, linings: &[], pools: &[], body: Some(&body), devices: &[] };
    let curve = &tree.aorta().curve;
    let isocentre = curve.point(130.0) - v(0.0, 10.0, 30.0);
    let pose = Pose { primary_deg: 45.0, isocentre, ..Pose::default() };
    let roots: Vec<f64> = tree
        .vessels
        .iter()
        .map(|v| v.root.map_or(85.0, |r| (r.radius_mm * r.radius_mm * 0.22).min(9.0)))
        .collect();
    let flows = Flows {
        root_ml_s: roots,
        beat: Beat::at_rate(78.0),
        leaks: vec![],
        bleeds: vec![],
        collaterals: vec![],
    };
    let injection = adult(0.0).flush();
    let spec = RunSpec { duration_s: 4.0, ..RunSpec::new(pose, injection, "built") };
    let run = acquire(&scene, &flows, &spec, Streams::new(7)).unwrap();
    let show = SubtractionDisplay::default();
    let k = run.frame_at(2.34);
    let named = overlay::draw(run.peak_image((0.0, 0.0), &show), &overlay::labels(&tree, &pose.view(512)));
    let four = [
        run.native(k, &NativeDisplay::default()),
        run.subtracted(k, (0.0, 0.0), &show),
        run.subtracted(run.frame_at(4.0), (0.0, 0.0), &show),
        named,
    ];
    save("built_patient.png", &Grey::sheet(&four, 2));
}

/// A play until an order of this verb is done for the `count`th time.
fn until(case: &str, play: &str, verb: &str, count: usize) -> Session {
    let case = library::case(case).unwrap();
    let mut player = Player::named(&case, play).unwrap();
    let mut session = Session::new(case, 1, Mode::Free);
    let done = |s: &Session| {
        let is = |k: &EventKind| matches!(k, EventKind::Done { verb: v, .. } if v == verb);
        s.events().iter().filter(|e| is(&e.kind)).count()
    };
    while done(&session) < count && session.ended().is_none() {
        for order in player.poll(&session) {
            let _ = session.order(Giver::Trainee, order);
        }
        session.advance(1);
    }
    session
}

/// The belly of a session at an angle about a place: native frame, and a run at two times.
fn belly(session: &Session, name: &str, at: Vec3, primary_deg: f64, field_mm: f64) {
    let pose = Pose { isocentre: at, field_mm, primary_deg, ..session.pose() };
    let run = session.angiogram(&pose, 512).unwrap();
    let show = SubtractionDisplay::default();
    let k = run.frame_at(2.0);
    let four = [
        session.fluoroscopy(&pose, 512).unwrap(),
        run.native(k, &NativeDisplay::default()),
        run.subtracted(k, (0.0, 0.0), &show),
        run.subtracted(run.frame_at(4.0), (0.0, 0.0), &show),
    ];
    save(name, &Grey::sheet(&four, 2));
}

/// Pelvis with coils, an infrarenal body with two legs, one leg with a plug on the other side, and a stent in a branch.
#[test]
fn pelvis() {
    let coiled = until("pelvic_bleed", "one_side", "run", 2);
    let artery = |s: &Session, name, part: f64| {
        let v = s.case().tree.get(name).unwrap();
        v.curve.point(part * v.curve.length_mm())
    };
    let middle = |s: &Session| {
        let mut at = artery(s, VesselName::RightExternalIliac, 0.4);
        at.x = s.case().tree.aorta().curve.point(s.case().tree.aorta().curve.length_mm()).x;
        at
    };
    belly(&coiled, "pelvis_coils.png", middle(&coiled), 0.0, 420.0);
    let near = artery(&coiled, VesselName::RightInternalIliac, 0.4);
    belly(&coiled, "pelvis_coils_oblique.png", near, 30.0, 220.0);
    let legs = until("infrarenal_rupture", "model", "run", 2);
    let pose = legs.pose();
    belly(&legs, "infrarenal_legs.png", pose.isocentre - v(0.0, 0.0, 50.0), 0.0, 420.0);
    let one = until("infrarenal_rupture", "no_crossover", "embolise", 1);
    belly(&one, "infrarenal_one_leg.png", one.pose().isocentre - v(0.0, 0.0, 60.0), 0.0, 380.0);
    let mut stented = until("branch_malperfusion", "model", "stent_branch", 1);
    // Blood has found its way.
    stented.advance(300);
    belly(&stented, "branch_stent_lateral.png", artery(&stented, VesselName::Sma, 0.1), 90.0, 300.0);
    for (session, name) in [(&coiled, "ct_pelvis.png"), (&legs, "ct_infrarenal.png")] {
        let case = session.case();
        let body = overwire::session::planned_body(case);
        let scan = Scan::new(&Scene::bare(&case.tree, Some(&body)));
        let mut stream = Streams::new(4).named("ct");
        let place = case.lesion_place();
        let cut = |view, at_mm, field_mm, on_vessel| Cut {
            view,
            at_mm,
            leg: place.leg,
            field_mm,
            on_vessel,
            turn_deg: 0.0,
            slab_mm: 120.0,
        };
        use overwire::imaging::cut::View;
        let rail = Rail::for_access(&case.tree, place.leg).unwrap();
        let four = [
            cut(View::Axial, place.at_mm, 400.0, false),
            cut(View::Axial, rail.length_mm() - 8.0, 400.0, false),
            cut(View::Brightest, place.at_mm, 400.0, false),
            cut(View::Stretched, place.at_mm, 300.0, true),
        ]
        .map(|c| c.of(&case.tree, &scan, 512, &mut stream).unwrap().window(ct::ANGIO.0, ct::ANGIO.1));
        save(name, &Grey::sheet(&four, 2));
    }
}
