//! Sacrum, hip bones and the upper ends of the femurs as solids, drawn in trunk coordinates and stretched to the patient.
//!
//! The blade of the ilium is the cap of a hollow ellipsoid, its crest a rod along the rim; columns, rami and femurs are rods of
//! changing width, hip sockets and femoral heads hollow balls, the sacrum slabs like the vertebrae above it. Proportions are an
//! adult's of neither sex: femoral heads 48 mm wide and 176 mm apart, crests 280 mm, anterior superior spines 235 mm, inlet
//! 130 mm (usual textbook values, drawn by eye).

use super::Tissues;
use super::stature::Stature;
use crate::imaging::solid::Solid;
use crate::math::{Curve, Vec3, interp, ops};

/// The middle of the left femoral head.
const HIP: Vec3 = Vec3::new(88.0, 10.0, -492.0);
const HEAD_MM: f64 = 24.0;

/// How dense the wall of a drawn rod is, between soft tissue and cortex.
const SHEET: f64 = 0.4;

/// Draws in the patient's place.
struct Drawn<'a> {
    out: Vec<Solid>,
    tissues: &'a Tissues,
    stature: &'a Stature,
    /// 1 for the left side of the patient, -1 for the right.
    side: f64,
}

/// The pelvic girdle with the sacrum above and the femurs below it.
pub fn girdle(tissues: &Tissues, stature: &Stature) -> Vec<Solid> {
    let mut drawn = Drawn { out: Vec::new(), tissues, stature, side: 1.0 };
    drawn.sacrum();
    for side in [1.0, -1.0] {
        drawn.side = side;
        drawn.ilium();
        drawn.columns();
        drawn.socket();
        drawn.rami();
        drawn.femur();
    }
    drawn.out
}

const AXES: [Vec3; 3] = [Vec3::new(1.0, 0.0, 0.0), Vec3::new(0.0, 1.0, 0.0), Vec3::new(0.0, 0.0, 1.0)];

impl Drawn<'_> {
    /// A drawn place of the left side, on the side that is drawn now.
    fn at(&self, x: f64, y: f64, z: f64) -> Vec3 {
        self.stature.pelvic(Vec3::new(self.side * x, y, z))
    }

    /// A rod through places and radii, with a dense wall and a spongy middle. The wall of a bone that is a sheet in life is
    /// drawn less dense than cortex, or its rods would look like pipes.
    fn bar(&mut self, knots: &[(f64, f64, f64, f64)], wall_mm: f64) {
        let t = self.tissues;
        let knots: Vec<_> = knots.iter().map(|k| (self.at(k.0, k.1, k.2), k.3, wall_mm)).collect();
        self.rod(&knots, [t.soft + SHEET * (t.cortical - t.soft), t.spongy]);
    }

    /// A rod of spongy bone alone.
    fn spongy_bar(&mut self, knots: &[(f64, f64, f64, f64)]) {
        let knots: Vec<_> = knots.iter().map(|k| (self.at(k.0, k.1, k.2), k.3, 0.0)).collect();
        self.rod(&knots, [self.tissues.spongy; 2]);
    }

    /// A rod through places of the patient, each with radius and thickness of wall; attenuation of the wall and inside.
    fn rod(&mut self, knots: &[(Vec3, f64, f64)], [wall, inside]: [f64; 2]) {
        const STEP_MM: f64 = 5.0;
        let soft = self.tissues.soft;
        let places: Vec<Vec3> = knots.iter().map(|k| k.0).collect();
        let Some(curve) = Curve::through(&places) else { return };
        let length = curve.length_mm();
        // A knot lies about as far along the curve as along the straight lines between the knots.
        let mut way = vec![0.0];
        for pair in places.windows(2) {
            way.push(way.last().copied().unwrap_or(0.0) + pair[0].distance(pair[1]));
        }
        let whole = way.last().copied().unwrap_or(1.0).max(1e-6);
        let along = |of: fn(&(Vec3, f64, f64)) -> f64| -> Vec<(f64, f64)> {
            way.iter().map(|s| s * length / whole).zip(knots.iter().map(of)).collect()
        };
        let (outer, bore) = (along(|k| k.1), along(|k| (k.1 - k.2).max(0.2)));
        let n = (length / STEP_MM).ceil().max(1.0) as usize;
        let s = |i: usize| length * i as f64 / n as f64;
        let path: Vec<Vec3> = (0..=n).map(|i| curve.point(s(i))).collect();
        self.out.extend(Solid::chain(&path, |i| interp::linear(&outer, s(i)), wall - soft));
        if inside == wall {
            return;
        }
        let mut middle = Solid::chain(&path, |i| interp::linear(&bore, s(i)), inside - wall);
        middle.iter_mut().for_each(|s| s.mottle = 0.06);
        self.out.extend(middle);
    }

    /// A lump of spongy bone.
    fn lump(&mut self, (x, y, z): (f64, f64, f64), half_mm: [f64; 3]) {
        let at = self.at(x, y, z);
        let mut lump = Solid::ellipsoid(at, AXES, half_mm, self.tissues.spongy * 1.03 - self.tissues.soft);
        lump.mottle = 0.08;
        self.out.push(lump);
    }

    /// Five fused vertebrae with their wings and holes, and the coccyx.
    fn sacrum(&mut self) {
        // Middle (back, height), half width, half depth, half height, and by how much the top leans forward.
        const BODIES: [(f64, f64, f64, f64, f64, f64); 5] = [
            (51.0, -402.0, 25.0, 14.5, 13.0, 0.62),
            (67.0, -425.0, 20.0, 10.5, 12.0, 0.66),
            (80.0, -447.0, 16.5, 8.0, 11.0, 0.42),
            (87.0, -466.0, 13.5, 6.5, 9.5, 0.10),
            (86.0, -484.0, 11.0, 5.0, 8.5, -0.22),
        ];
        let t = *self.tissues;
        let dense = t.soft + 0.35 * (t.cortical - t.soft);
        for (y, z, half_width, half_depth, half_height, lean) in BODIES {
            let axis = Vec3::new(0.0, -lean, self.stature.stretch(z)).unit();
            let axes = [AXES[0], axis.cross(AXES[0]), axis];
            let at = self.stature.pelvic(Vec3::new(0.0, y, z));
            for (less, mu) in [(0.0, dense - t.soft), (0.7, t.spongy * 1.02 - dense)] {
                let half = [half_width - less, half_depth - less, half_height];
                let mut slab = Solid::disc(at, axes, half, mu);
                slab.mottle = if less > 0.0 { 0.08 } else { 0.0 };
                self.out.push(slab);
            }
            let top = at + axis * (half_height - 0.5);
            self.out.push(Solid::disc(top, axes, [half_width * 0.95, half_depth * 0.9, 0.5], 0.07));
            // The crest behind.
            let behind = self.stature.pelvic(Vec3::new(0.0, y + half_depth + 9.0, z - 6.0));
            let ridge = [3.0, 6.0, half_height * 0.7];
            self.out.push(Solid::ellipsoid(behind, axes, ridge, t.spongy * 1.05 - t.soft));
        }
        for (y, z, half) in [
            (82.0, -500.0, [8.0, 3.5, 6.0]),
            (75.0, -512.0, [6.0, 3.0, 5.0]),
            (67.0, -521.0, [4.5, 2.5, 4.5]),
        ] {
            self.lump((0.0, y, z), half);
        }
        for side in [1.0, -1.0] {
            self.side = side;
            // The wing and the fused transverse processes below it.
            self.spongy_bar(&[
                (26.0, 58.0, -400.0, 12.0),
                (44.0, 67.0, -405.0, 14.5),
                (42.0, 76.0, -424.0, 14.0),
                (29.0, 86.0, -448.0, 11.0),
                (17.0, 90.0, -472.0, 8.0),
            ]);
            // The upper border of the wing, from the promontory to the joint.
            self.bar(&[(22.0, 46.0, -391.0, 1.6), (38.0, 57.0, -389.0, 1.6), (54.0, 66.0, -396.0, 1.6)], 1.2);
            for (x, y, z) in [(24.0, 66.0, -415.0), (22.0, 78.0, -437.0), (18.0, 86.0, -458.0)] {
                self.hole(x, y, z);
            }
            // The joint is a gap between two dense faces.
            let joint =
                [(54.0, 58.0, -400.0), (57.0, 66.0, -414.0), (55.0, 76.0, -430.0), (47.0, 84.0, -444.0)];
            for (off, radius, mu) in [(-1.8, 0.7, 0.16), (0.0, 1.3, -0.07), (1.8, 0.7, 0.16)] {
                let path = joint.map(|(x, y, z)| self.at(x + off, y, z));
                self.out.extend(Solid::chain(&path, |_| radius, mu));
            }
        }
    }

    /// An opening of the sacrum for a nerve, roofed by a dense arch.
    fn hole(&mut self, x: f64, y: f64, z: f64) {
        const RADIUS_MM: f64 = 4.6;
        let path = [self.at(x + 1.0, y - 13.0, z - 7.0), self.at(x, y + 13.0, z + 7.0)];
        self.out.extend(Solid::chain(&path, |_| RADIUS_MM, 0.6 * (self.tissues.soft - self.tissues.spongy)));
        let arch: Vec<Vec3> = (0..=6)
            .map(|i| {
                let (sin, cos) = ops::sin_cos(std::f64::consts::PI * (f64::from(i) / 6.0));
                self.at(x + (RADIUS_MM + 2.5) * cos, y - 6.0, z - 2.0 + (RADIUS_MM + 0.8) * sin)
            })
            .collect();
        self.out.extend(Solid::chain(&arch, |_| 0.8, 0.2));
    }

    /// The blade: a dished plate whose hollow faces inward and forward, with the crest along its rim.
    fn ilium(&mut self) {
        /// How deep the dish is, mm, and how far its rim lies from the ellipsoid's middle, as a part of its depth.
        const DISH_MM: f64 = 15.0;
        const RIM: f64 = 0.6;
        let t = *self.tissues;
        let table = t.soft + 0.6 * (t.cortical - t.soft);
        let (front, back) = (self.at(127.0, -40.0, -418.0), self.at(56.0, 102.0, -402.0));
        let (top, low) = (self.at(121.0, 40.0, -354.0), self.at(84.0, 20.0, -462.0));
        let u = (front - back).unit();
        let v = (top - low).reject(u).unit();
        let middle = (front + back) * 0.5;
        let middle = middle + v * (((top + low) * 0.5 - middle).dot(v));
        let (half_u, half_v) = (0.5 * front.distance(back), 0.5 * (top - low).dot(v));
        let mut inward = u.cross(v);
        if inward.x * self.side > 0.0 {
            inward = -inward;
        }
        let depth = DISH_MM / (1.0 - RIM);
        let wide = 1.0 / (1.0 - RIM * RIM).sqrt();
        let centre = middle + inward * (RIM * depth);
        // Outer table, marrow, inner table: thin in the floor of the dish, thick towards the rim.
        for (floor, rim, mu) in [
            (0.0, 0.0, table - t.soft),
            (0.8, 0.5, t.spongy - table),
            (5.4, 3.8, table - t.spongy),
            (6.2, 4.3, t.soft - table),
        ] {
            let half = [half_u * wide - rim, half_v * wide - rim, depth - floor];
            let mut cap = Solid::cap(centre, [u, v, inward], half, (-inward, middle), mu);
            cap.mottle = if rim > 0.0 { 0.05 } else { 0.0 };
            self.out.push(cap);
        }
        let crest: Vec<(Vec3, f64, f64)> = (0..=16)
            .map(|i| {
                let turn = (-6.0 + 12.0 * f64::from(i)).to_radians();
                let (sin, cos) = ops::sin_cos(turn);
                // Seen from above, the crest is an S; it is thickest at its tubercle and at both ends.
                let s_mm = 5.0 * ops::sin(2.0 * turn);
                let p = middle + u * (half_u * cos) + v * (half_v * sin) - inward * s_mm;
                (p, 3.2 + 1.4 * ops::exp(-(turn - 0.9) * (turn - 0.9) * 6.0) + 1.2 * (cos * cos), 0.8)
            })
            .collect();
        self.rod(&crest, [t.soft + SHEET * (t.cortical - t.soft), t.spongy]);
    }

    /// What carries the weight: from the joint along the brim to the socket, and the borders in front and behind.
    fn columns(&mut self) {
        // The thick part behind, over the joint.
        self.spongy_bar(&[(74.0, 74.0, -384.0, 8.0), (68.0, 80.0, -402.0, 11.0), (60.0, 86.0, -428.0, 8.0)]);
        self.bar(
            &[
                (50.0, 88.0, -412.0, 9.0),
                (57.0, 72.0, -430.0, 10.0),
                (70.0, 46.0, -448.0, 11.0),
                (82.0, 22.0, -464.0, 13.0),
            ],
            1.0,
        );
        self.bar(
            &[
                (127.0, -40.0, -420.0, 6.0),
                (117.0, -31.0, -441.0, 6.0),
                (107.0, -23.0, -460.0, 8.0),
                (98.0, -8.0, -472.0, 9.0),
            ],
            0.9,
        );
        self.bar(
            &[
                (70.0, 50.0, -456.0, 9.0),
                (74.0, 50.0, -482.0, 11.0),
                (75.0, 46.0, -512.0, 12.0),
                (68.0, 46.0, -542.0, 13.0),
                (62.0, 40.0, -562.0, 12.0),
            ],
            1.1,
        );
        self.lump((60.0, 36.0, -563.0), [12.0, 12.0, 15.0]);
        // The spine of the ischium.
        self.bar(&[(68.0, 54.0, -498.0, 6.0), (60.0, 60.0, -504.0, 3.5), (53.0, 63.0, -508.0, 1.5)], 0.7);
        // The brim is a line of its own, from the joint to the pubic tubercle.
        self.bar(
            &[
                (57.0, 60.0, -432.0, 1.8),
                (65.0, 38.0, -448.0, 1.8),
                (67.0, 10.0, -463.0, 1.8),
                (58.0, -16.0, -473.0, 1.8),
                (40.0, -34.0, -482.0, 1.6),
                (24.0, -41.0, -490.0, 1.5),
            ],
            1.0,
        );
    }

    /// The hip socket: a hollow ball, open outward, downward and a little forward.
    fn socket(&mut self) {
        const OPENS: [f64; 3] = [0.62, -0.30, -0.73];
        /// How far short of the ball's middle the rim ends, mm.
        const RIM_MM: f64 = 4.0;
        let t = *self.tissues;
        let at = self.at(HIP.x, HIP.y, HIP.z);
        let opens = Vec3::new(self.side * OPENS[0], OPENS[1], OPENS[2]).unit();
        let cut = (-opens, at - opens * RIM_MM);
        for (radius, mu) in
            [(HEAD_MM + 8.0, t.spongy * 1.04 - t.soft), (HEAD_MM + 3.2, t.soft - t.spongy * 1.04)]
        {
            self.out.push(Solid::cap(at, AXES, [radius; 3], cut, mu));
        }
        // The dense plate under the cartilage: where it carries the weight.
        let up = Vec3::new(self.side * 0.3, 0.15, 0.94).unit();
        let roof = (up, at + up * (0.45 * HEAD_MM));
        for (radius, mu) in [(HEAD_MM + 5.4, 0.09), (HEAD_MM + 3.2, -0.09)] {
            self.out.push(Solid::cap(at, AXES, [radius; 3], roof, mu));
        }
    }

    /// Both rami of the pubis and the body between them.
    fn rami(&mut self) {
        self.bar(
            &[
                (76.0, -14.0, -478.0, 10.0),
                (58.0, -27.0, -481.0, 8.0),
                (38.0, -38.0, -488.0, 6.5),
                (18.0, -43.0, -499.0, 7.5),
            ],
            0.9,
        );
        self.lump((14.0, -41.0, -510.0), [10.5, 8.0, 19.0]);
        // The face at the symphysis.
        self.bar(&[(3.4, -42.0, -494.0, 0.9), (3.0, -41.0, -510.0, 1.1), (3.4, -38.0, -527.0, 0.9)], 0.9);
        self.bar(
            &[
                (12.0, -37.0, -524.0, 6.5),
                (24.0, -20.0, -541.0, 5.5),
                (40.0, 4.0, -554.0, 5.5),
                (56.0, 28.0, -564.0, 8.0),
            ],
            0.9,
        );
    }

    /// Head, neck, trochanters and shaft.
    fn femur(&mut self) {
        let t = *self.tissues;
        let at = self.at(HIP.x, HIP.y, HIP.z);
        for (radius, mu) in [(HEAD_MM, t.cortical - t.soft), (HEAD_MM - 0.8, t.spongy * 1.02 - t.cortical)] {
            let mut ball = Solid::ellipsoid(at, AXES, [radius; 3], mu);
            ball.mottle = if radius < HEAD_MM { 0.04 } else { 0.0 };
            self.out.push(ball);
        }
        self.lump((132.0, 21.0, -534.0), [17.0, 16.0, 22.0]);
        self.lump((143.0, 26.0, -520.0), [13.0, 15.0, 20.0]);
        self.lump((119.0, 34.0, -566.0), [8.0, 8.0, 11.0]);
        // Neck and shaft in one: a thin wall about the neck, thick cortex round marrow below.
        let knots = [
            (102.0, 13.0, -504.0, 16.0, 0.6),
            (116.0, 16.0, -516.0, 15.5, 0.8),
            (129.0, 20.0, -534.0, 17.0, 0.9),
            (131.0, 20.0, -562.0, 16.5, 2.6),
            (129.0, 18.0, -590.0, 15.0, 4.2),
            (117.0, 8.0, -690.0, 14.0, 4.6),
        ];
        let knots = knots.map(|(x, y, z, radius, wall)| (self.at(x, y, z), radius, wall));
        self.rod(&knots, [0.9 * t.cortical, 0.6 * t.spongy + 0.4 * t.fat]);
    }
}
