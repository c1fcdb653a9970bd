//! A drawn adult for the checks and the gallery: an aorta with its branches, a saccular rupture, a graft.

use overwire::anatomy::{Lumen, Root, Tree, Vessel, VesselName, Wall};
use overwire::imaging::{Beat, Flows, Injection, Lining, Material, Shape, Substance};
use overwire::math::{Curve, Vec3, interp, ops};

pub fn v(x: f64, y: f64, z: f64) -> Vec3 {
    Vec3::new(x, y, z)
}

/// A straight tube along z, head to foot, as a whole tree.
pub fn straight(length_mm: f64, radius_mm: f64) -> Tree {
    let curve = Curve::through(&[v(0.0, 0.0, length_mm / 2.0), v(0.0, 0.0, -length_mm / 2.0)]).unwrap();
    let lumen = Lumen::sample(curve.length_mm(), 4.0, 32, |_, _| radius_mm);
    let wall = Wall::default();
    Tree {
        vessels: vec![Vessel { name: VesselName::Aorta, curve, lumen, wall, root: None }],
        reference_map_mmhg: 90.0,
    }
}

/// Where things are on the adult's aorta, mm.
pub struct Marks {
    pub left_carotid: f64,
    pub left_subclavian: f64,
    pub coeliac: f64,
    pub lesion: f64,
    pub lesion_rad: f64,
}

pub struct Adult {
    pub tree: Tree,
    pub marks: Marks,
    /// Mean flow into each vessel, ml/s.
    pub flow: Vec<f64>,
}

/// Diameters by arc length, mm: adult means laid along the centreline (drawing, not data).
const DIAMETER: [(f64, f64); 16] = [
    (0.0, 25.0),
    (8.0, 31.0),
    (16.0, 32.5),
    (26.0, 29.0),
    (50.0, 30.9),
    (85.0, 29.4),
    (105.0, 27.7),
    (140.0, 26.1),
    (165.0, 24.7),
    (230.0, 24.2),
    (300.0, 23.0),
    (335.0, 21.5),
    (365.0, 19.4),
    (400.0, 18.0),
    (460.0, 16.0),
    (535.0, 15.6),
];

/// The adult; `sac_mm` is how far a saccular rupture of the descending aorta stands out (0: none).
pub fn adult(sac_mm: f64) -> Adult {
    let knots = [
        v(2.0, -18.0, -74.0),
        v(-8.0, -26.0, -50.0),
        v(-19.0, -31.0, -20.0),
        v(-18.0, -26.0, 8.0),
        v(-7.0, -13.0, 29.0),
        v(8.0, 4.0, 38.0),
        v(20.0, 22.0, 31.0),
        v(27.0, 37.0, 12.0),
        v(28.0, 44.0, -12.0),
        v(27.0, 47.0, -45.0),
        v(23.0, 45.0, -90.0),
        v(17.0, 37.0, -140.0),
        v(9.0, 26.0, -185.0),
        v(5.0, 19.0, -215.0),
        v(3.0, 15.0, -250.0),
        v(3.0, 11.0, -300.0),
        v(2.0, 13.0, -342.0),
    ];
    let curve = Curve::through(&knots).unwrap();
    let near = |p: Vec3| curve.nearest(p);
    let lesion = near(v(27.0, 47.0, -50.0));
    let lesion_rad = curve.frame(lesion).angle_of(v(0.93, 0.20, 0.10));
    let marks = Marks {
        left_carotid: near(v(4.0, 0.0, 37.0)),
        left_subclavian: near(v(15.0, 14.0, 35.0)),
        coeliac: near(v(5.0, 19.0, -207.0)),
        lesion,
        lesion_rad,
    };
    let lumen = Lumen::sample(curve.length_mm(), 2.0, 64, |s, theta| {
        let round = interp::linear(&DIAMETER, s) / 2.0 * (1.0 + 0.025 * ops::cos(2.0 * theta + s * 0.007));
        let around = ops::cos(theta - lesion_rad);
        let ds = (s - lesion) / 13.0;
        let shape = ops::exp(-ds * ds * ds * ds) * ops::exp(-(1.0 - around) * 9.0);
        round + sac_mm * shape
    });
    let mut a = Adult {
        tree: Tree {
            vessels: vec![Vessel {
                name: VesselName::Aorta,
                curve,
                lumen,
                wall: Wall::default(),
                root: None,
            }],
            reference_map_mmhg: 90.0,
        },
        marks,
        flow: vec![80.0],
    };
    arch_branches(&mut a);
    visceral_branches(&mut a);
    a
}

fn arch_branches(a: &mut Adult) {
    use VesselName::*;
    let trunk = a.branch(
        Innominate,
        0,
        &[v(-7.0, -13.0, 30.0), v(-14.0, -14.0, 52.0), v(-21.0, -14.0, 70.0)],
        6.4,
        6.2,
        10.4,
    );
    a.branch(
        RightCarotid,
        trunk,
        &[v(-21.0, -14.0, 69.0), v(-22.0, -10.0, 88.0), v(-24.0, -3.0, 120.0), v(-25.0, 4.0, 165.0)],
        3.8,
        3.3,
        5.0,
    );
    let right = a.branch(
        RightSubclavian,
        trunk,
        &[
            v(-21.0, -14.0, 69.0),
            v(-33.0, -12.0, 81.0),
            v(-50.0, -10.0, 84.0),
            v(-84.0, -18.0, 74.0),
            v(-125.0, -25.0, 60.0),
            v(-195.0, -20.0, 50.0),
        ],
        4.7,
        3.6,
        5.4,
    );
    a.branch(
        RightVertebral,
        right,
        &[v(-38.0, -11.0, 83.0), v(-34.0, 2.0, 100.0), v(-24.0, 18.0, 125.0), v(-22.0, 24.0, 168.0)],
        1.9,
        1.7,
        1.2,
    );
    a.branch(
        LeftCarotid,
        0,
        &[
            v(4.0, 0.0, 37.0),
            v(4.0, -4.0, 58.0),
            v(9.0, -6.0, 85.0),
            v(18.0, 0.0, 120.0),
            v(23.0, 6.0, 165.0),
        ],
        3.8,
        3.3,
        5.2,
    );
    let left = a.branch(
        LeftSubclavian,
        0,
        &[
            v(15.0, 14.0, 35.0),
            v(18.0, 13.0, 54.0),
            v(24.0, 9.0, 72.0),
            v(38.0, 0.0, 86.0),
            v(62.0, -10.0, 86.0),
            v(92.0, -18.0, 74.0),
            v(128.0, -25.0, 60.0),
            v(195.0, -20.0, 50.0),
        ],
        5.2,
        3.7,
        6.0,
    );
    a.branch(
        LeftVertebral,
        left,
        &[v(25.0, 9.0, 74.0), v(27.0, 12.0, 94.0), v(22.0, 20.0, 125.0), v(20.0, 25.0, 168.0)],
        2.2,
        1.9,
        1.6,
    );
    for level in 0..8 {
        let z = -22.0 - 24.0 * f64::from(level);
        let s = a.tree.aorta().curve.nearest(v(22.0, 44.0, z));
        let at = a.tree.aorta().curve.point(s);
        for side in [-1.0, 1.0] {
            let spine = v(0.0, 62.0 - 0.02 * (z + 60.0).abs(), z + 6.0);
            let path = [
                at,
                v(spine.x + side * 17.0, at.y + 12.0, z + 4.0),
                v(spine.x + side * 22.0, spine.y + 10.0, z + 9.0),
                v(side * 45.0, spine.y + 22.0, z + 5.0),
                v(side * 78.0, spine.y + 13.0, z - 8.0),
                v(side * 106.0, spine.y - 12.0, z - 27.0),
                v(
                    side * (121.0 - 0.5 * f64::from(level)),
                    spine.y - 48.0 - 3.0 * f64::from(level % 3),
                    z - 54.0,
                ),
            ];
            a.branch(Intercostals, 0, &path, 1.1, 0.7, 0.25);
        }
    }
}

fn visceral_branches(a: &mut Adult) {
    use VesselName::*;
    a.branch(
        Coeliac,
        0,
        &[
            v(5.0, 19.0, -207.0),
            v(6.0, 0.0, -211.0),
            v(6.0, -14.0, -219.0),
            v(12.0, -22.0, -216.0),
            v(30.0, -14.0, -203.0),
            v(46.0, -8.0, -208.0),
            v(60.0, 8.0, -197.0),
            v(84.0, 28.0, -184.0),
        ],
        3.8,
        2.0,
        9.0,
    );
    a.branch(
        Sma,
        0,
        &[
            v(4.0, 17.0, -224.0),
            v(4.0, 2.0, -231.0),
            v(4.0, -8.0, -246.0),
            v(2.0, -14.0, -275.0),
            v(-2.0, -19.0, -310.0),
            v(-12.0, -24.0, -350.0),
            v(-24.0, -30.0, -375.0),
        ],
        4.0,
        2.3,
        9.0,
    );
    a.branch(
        LeftRenal,
        0,
        &[v(5.0, 15.5, -239.0), v(18.0, 18.0, -242.0), v(36.0, 28.0, -247.0), v(54.0, 40.0, -245.0)],
        3.0,
        2.4,
        7.0,
    );
    a.branch(
        RightRenal,
        0,
        &[v(2.0, 15.0, -247.0), v(-16.0, 18.0, -250.0), v(-36.0, 28.0, -255.0), v(-54.0, 40.0, -253.0)],
        3.0,
        2.4,
        7.0,
    );
    a.branch(
        Ima,
        0,
        &[v(5.0, 9.0, -296.0), v(12.0, 0.0, -306.0), v(18.0, 0.0, -335.0), v(24.0, 6.0, -370.0)],
        1.7,
        1.2,
        1.2,
    );
    let end = a.tree.aorta().curve.point(1e9);
    for (side, name) in [(-1.0, RightCommonIliac), (1.0, LeftCommonIliac)] {
        a.branch(
            name,
            0,
            &[
                end,
                v(end.x + side * 12.0, 15.0, -362.0),
                v(end.x + side * 28.0, 22.0, -392.0),
                v(end.x + side * 42.0, 34.0, -420.0),
            ],
            5.4,
            5.0,
            10.0,
        );
    }
}

impl Adult {
    pub fn branch(
        &mut self,
        name: VesselName,
        parent: usize,
        path: &[Vec3],
        r0: f64,
        r1: f64,
        ml_s: f64,
    ) -> usize {
        let p = &self.tree.vessels[parent];
        let s_mm = p.curve.nearest(path[0]);
        let frame = p.curve.frame(s_mm);
        let theta_rad = frame.angle_of(path[1] - frame.at);
        let curve = Curve::through(path).unwrap();
        let length = curve.length_mm();
        let lumen = Lumen::sample(length, 4.0, 24, |s, _| r0 + (r1 - r0) * s / length);
        let root = Some(Root { parent, s_mm, theta_rad, radius_mm: r0 });
        self.tree.vessels.push(Vessel { name, curve, lumen, wall: Wall::default(), root });
        self.flow.push(ml_s);
        self.tree.vessels.len() - 1
    }
    pub fn index(&self, name: VesselName) -> usize {
        self.tree.vessels.iter().position(|v| v.name == name).unwrap()
    }
    pub fn flows(&self) -> Flows {
        Flows {
            root_ml_s: self.flow.clone(),
            beat: Beat::at_rate(78.0),
            leaks: vec![],
            bleeds: vec![],
            collaterals: vec![],
        }
    }
    pub fn length(&self) -> f64 {
        self.tree.aorta().curve.length_mm()
    }

    /// A flush injection into the ascending aorta.
    pub fn flush(&self) -> Injection {
        Injection {
            vessel: 0,
            s_mm: 52.0,
            start_s: 0.5,
            rate_ml_s: 20.0,
            volume_ml: 36.0,
            rise_s: 0.3,
            iodine_mg_ml: 350.0,
            end_hole: false,
        }
    }

    /// Fabric from one place to another, of the healthy radius less `gap_mm(s, theta)`.
    pub fn lining(&self, from_mm: f64, to_mm: f64, gap_mm: impl Fn(f64, f64) -> f64) -> Lining {
        let wall = &self.tree.aorta().lumen;
        let fabric = Lumen::sample(to_mm - from_mm, 2.0, 64, |s, theta| {
            let healthy = interp::linear(&DIAMETER, s + from_mm) / 2.0 * 1.02;
            (wall.radius(s + from_mm, theta).min(healthy) - gap_mm(s + from_mm, theta)).max(1.0)
        });
        Lining { vessel: 0, from_mm, to_mm, fabric }
    }

    fn path(&self, from_mm: f64, to_mm: f64, offset: impl Fn(f64) -> (f64, f64)) -> Vec<Vec3> {
        let curve = &self.tree.aorta().curve;
        let n = ((to_mm - from_mm).abs() / 3.0) as usize;
        let raw: Vec<Vec3> = (0..=n)
            .map(|i| {
                let s = from_mm + (to_mm - from_mm) * i as f64 / n as f64;
                let f = curve.frame(s);
                let (out, side) = offset(s);
                let k = curve.curvature(s);
                let outer = if k.norm() > 1e-4 { (k * -1.0).unit() } else { f.normal };
                let r = self
                    .tree
                    .aorta()
                    .lumen
                    .radius(s, f.angle_of(outer))
                    .min(interp::linear(&DIAMETER, s) / 2.0);
                f.at + outer * (out * r) + f.tangent.cross(outer) * (side * r)
            })
            .collect();
        let mut p = raw;
        for _ in 0..20 {
            let q = p.clone();
            for i in 1..p.len() - 1 {
                p[i] = q[i - 1] * 0.25 + q[i] * 0.5 + q[i + 1] * 0.25;
            }
        }
        p
    }

    /// A stiff wire with a curled tip in the ascending aorta, and a flush catheter with markers each 10 mm.
    pub fn wire_and_pigtail(&self) -> Vec<Shape> {
        let bump = |s: f64, a: f64, b: f64, c: f64, d: f64| {
            interp::smooth_step(a, b, s) * interp::smooth_step(d, c, s)
        };
        let mut wire = self.path(self.length(), 40.0, |s| {
            (0.75 * bump(s, 60.0, 100.0, 150.0, 230.0) - 0.4 * bump(s, 180.0, 240.0, 260.0, 330.0), 0.15)
        });
        curl(&mut wire, 8.5, 4.3, v(0.55, 0.45, 0.0), 0.0);
        let curve = Curve::through(&wire).unwrap();
        let n = (curve.length_mm() / 2.5) as usize;
        let q: Vec<Vec3> = (0..=n).map(|i| curve.point(curve.length_mm() * i as f64 / n as f64)).collect();
        let tip = q.len() - 15;
        let steel = Substance::solid(Material::Steel);
        let mut out = vec![
            Shape::rod(q[..=tip].to_vec(), 0.41, steel),
            Shape::rod(q[tip..].to_vec(), 0.34, Substance { material: Material::Platinum, fraction: 0.16 }),
        ];
        let mut cath = self.path(self.length(), 52.0, |s| {
            (0.45 * bump(s, 70.0, 110.0, 170.0, 240.0), -0.4 * interp::smooth_step(140.0, 80.0, s))
        });
        curl(&mut cath, 7.2, 7.2, v(0.6, 0.5, 0.2), 0.045);
        let curve = Curve::through(&cath).unwrap();
        let n = (curve.length_mm() / 2.0) as usize;
        let q: Vec<Vec3> = (0..=n).map(|i| curve.point(curve.length_mm() * i as f64 / n as f64)).collect();
        out.push(Shape::tube(q, 0.84, 0.49, Substance::solid(Material::LoadedPolymer)));
        for k in 0..10 {
            let s = curve.length_mm() - 55.0 - 10.0 * f64::from(k);
            let band = vec![curve.point(s - 0.5), curve.point(s + 0.5)];
            out.push(Shape::rod(band, 0.9, Substance { material: Material::Platinum, fraction: 0.35 }));
        }
        out
    }

    /// Zigzag rings of a graft on its fabric, with markers at both ends.
    pub fn struts(&self, lining: &Lining) -> Vec<Shape> {
        let curve = &self.tree.aorta().curve;
        let at = |theta: f64, s: f64| {
            let f = curve.frame(s);
            f.at + f.radial(theta) * (lining.fabric.radius(s - lining.from_mm, theta) - 0.3)
        };
        let nitinol = Substance::solid(Material::Nitinol);
        let mut out = Vec::new();
        let mut s = lining.from_mm + 1.0;
        while s + 12.0 <= lining.to_mm {
            for k in 0..8 {
                let a = std::f64::consts::TAU * f64::from(k) / 8.0;
                let half = std::f64::consts::TAU / 16.0;
                for (b, c, up) in [(a, a + half, true), (a + half, a + 2.0 * half, false)] {
                    let path: Vec<Vec3> = (0..=4)
                        .map(|i| {
                            let u = f64::from(i) / 4.0;
                            at(b + (c - b) * u, s + 12.0 * if up { u } else { 1.0 - u })
                        })
                        .collect();
                    out.push(Shape::rod(path, 0.24, nitinol));
                }
            }
            s += 16.5;
        }
        for (s, turn) in [(lining.from_mm + 0.8, 0.0), (lining.to_mm - 0.8, 0.4)] {
            for k in 0..4 {
                let theta = std::f64::consts::FRAC_PI_2 * f64::from(k) + turn;
                let mark = vec![at(theta, s - 0.8), at(theta, s + 0.8)];
                out.push(Shape::rod(mark, 0.5, Substance { material: Material::Platinum, fraction: 0.6 }));
            }
        }
        out
    }
}

/// Adds a curl to the end of a path.
fn curl(path: &mut Vec<Vec3>, radius: f64, turns_rad: f64, towards: Vec3, rise: f64) {
    let n = path.len();
    let (end, t) = (path[n - 1], (path[n - 1] - path[n - 2]).unit());
    let side = towards.reject(t).unit();
    let out = t.cross(side);
    for i in 1..=36 {
        let u = f64::from(i) / 36.0;
        let (s, c) = ops::sin_cos(u * turns_rad);
        let r = radius * (1.0 - 0.2 * u);
        path.push(end + t * (r * s) + side * (r * (1.0 - c)) + out * (rise * f64::from(i)));
    }
}
