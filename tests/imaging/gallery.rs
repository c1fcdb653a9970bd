//! Pictures to be looked at by a person: `cargo test --no-default-features --test tests imaging::gallery -- --ignored`.

use super::patient::{Adult, adult, v};
use overwire::imaging::*;
use overwire::math::Streams;
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
#[ignore = "writes pictures for the eye"]
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
