//! Centreline tables from other programs.

use super::phantom::arc;
use overwire::anatomy::{AnatomySpec, Axes, VesselName, import};
use overwire::math::Vec3;
use std::fmt::Write as _;

/// Written by VTK 9.7.2 (`vtkPolyDataWriter`, ASCII, format 5.1): an aorta as a half circle of radius 40 mm with straight
/// limbs, 13 mm wide at the root and 10 mm at the end, and a branch that shares the aorta's line up to the top of the arch.
const WRITTEN_BY_VTK: &str = include_str!("arch_vtk51.vtk");
/// The same in format 4.2.
const WRITTEN_BY_VTK_OLD: &str = include_str!("arch_vtk42.vtk");

#[test]
fn polydata_written_by_vtk() {
    for text in [WRITTEN_BY_VTK, WRITTEN_BY_VTK_OLD] {
        let lines = import::read(text, Axes::Lps).unwrap();
        assert_eq!(lines.len(), 2);
        let names = [VesselName::Aorta, VesselName::LeftSubclavian];
        let tree = import::tree(&lines, &names, 85.0, 48).unwrap();
        let aorta = tree.aorta();
        // 60 + 40 pi + 200 mm.
        assert!((aorta.curve.length_mm() - 385.66).abs() < 0.3, "{}", aorta.curve.length_mm());
        let top = 60.0 + 20.0 * std::f64::consts::PI;
        assert!((1.0 / aorta.curve.curvature(top).norm() - 40.0).abs() < 1.0);
        assert!((aorta.lumen.radius(0.0, 0.0) - 13.0).abs() < 0.01);
        assert!((aorta.lumen.radius(385.0, 1.0) - 10.0).abs() < 0.05);
        // The branch begins at the wall on the top, and only its own 60 mm less what lies inside remain.
        let branch = tree.get(VesselName::LeftSubclavian).unwrap();
        let root = branch.root.unwrap();
        assert!((root.s_mm - top).abs() < 2.0, "{}", root.s_mm);
        let out = aorta.curve.frame(root.s_mm).radial(root.theta_rad);
        assert!(out.z > 0.99, "{out:?}");
        assert!((40.0..60.0).contains(&branch.curve.length_mm()), "{}", branch.curve.length_mm());
    }
}

fn table(axes: &str) -> String {
    let curve = arc(45.0, 3.0);
    let mut text = format!("# {axes}\nvessel;x;y;z;radius\n");
    for i in 0..=60 {
        let s = curve.length_mm() * f64::from(i) / 60.0;
        let p = curve.point(s);
        let _ = writeln!(text, "aorta;{:.4};{:.4};{:.4};{:.3}", p.x, p.y, p.z, 12.0 + 0.02 * s);
    }
    text
}

/// A sheet may start from a table, and edit it: the resized middle has the written diameter, the rest the table's.
#[test]
fn a_table_is_a_base_to_edit() {
    let spec: AnatomySpec = ron::from_str(
        r#"(centreline: Some((file: "aorta.csv")), n_theta: 96, map_at_ct_mmhg: 70,
            resize: [(at: mm(60), length_mm: 40, diameter_mm: 18)],
            lesions: [(at: mm(105), length_mm: 30, shape: saccular(neck_mm: 15, depth_mm: 15, toward: outer))])"#,
    )
    .unwrap();
    let tree = spec
        .build_with(|name| if name == "aorta.csv" { Ok(table("lps")) } else { Err("?".to_owned()) })
        .unwrap();
    let aorta = tree.aorta();
    assert!((aorta.lumen.diameter_mm(20.0) - 24.8).abs() < 0.1);
    assert!((aorta.lumen.diameter_mm(60.0) - 18.0).abs() < 0.1);
    assert_eq!(aorta.wall.lesions.len(), 1);
    assert_eq!(tree.reference_map_mmhg, 70.0);
    let faults = spec.build().unwrap_err();
    assert!(faults[0].contains("aorta.csv"), "{faults:?}");
}

#[test]
fn axes_are_turned() {
    let lps = import::read(&table("lps"), Axes::Lps).unwrap();
    let ras = import::read(&table("ras"), Axes::Ras).unwrap();
    for (a, b) in lps[0].points.iter().zip(&ras[0].points) {
        assert_eq!(Vec3::new(-a.x, -a.y, a.z), *b);
    }
}

/// Cut off anywhere, or with a wrong word anywhere, a file is refused in plain words or read: never a panic or a hang.
#[test]
fn broken_files_are_refused() {
    for text in [WRITTEN_BY_VTK, WRITTEN_BY_VTK_OLD, &table("lps")] {
        for k in 0..120 {
            let cut = text.len() * k / 120;
            let _ = import::read(&text[..cut], Axes::Lps);
            let mut words: Vec<&str> = text.split(' ').collect();
            let at = words.len() * k / 120;
            words[at] = ["nan", "-1", "99999999999999", "\u{1F480}", ""][k % 5];
            let _ = import::read(&words.join(" "), Axes::Lps);
        }
    }
    let told = |text: &str| import::read(text, Axes::Lps).unwrap_err();
    assert!(told("").contains("empty"));
    assert!(told("a,b,c\n1,2,3").contains("no column \"x\""));
    assert!(told("x,y,z,radius\n1,2,3,4\n1,two,3,4").contains("line 3"));
    assert!(told("x,y,z,radius\n1,2,3,-4").contains("0.05 to 100"));
    assert!(told("# vtk DataFile Version 3.0\nt\nBINARY\n").contains("ASCII"));
    assert!(
        told("# vtk DataFile Version 3.0\nt\nASCII\nDATASET POLYDATA\nPOINTS 4000000000 float")
            .contains("at most")
    );
    let no_radius = WRITTEN_BY_VTK.replace("MaximumInscribedSphereRadius", "Abscissas");
    assert!(told(&no_radius).contains("radius"));
}
