//! Intercostal and lumbar arteries, which the anatomy knows by their origins only.

use crate::anatomy::{Lumen, Root, Tree, VesselName};
use crate::imaging::noise::quirk;
use crate::math::{Curve, Vec3};

/// Radius at the origin and at the end, mm (usual calibre of a segmental artery; drawn, not measured).
const RADIUS_MM: (f64, f64) = (1.1, 0.7);

/// A drawn course: back around the vertebra, then forward along the rib above the diaphragm, or into the back below it.
pub fn course(tree: &Tree, root: Root) -> Option<(Curve, Lumen)> {
    let parent = tree.vessels.get(root.parent)?;
    let frame = parent.curve.frame(root.s_mm);
    let out = frame.radial(root.theta_rad);
    let at = frame.at;
    let side = if out.x < 0.0 { -1.0 } else { 1.0 };
    // The column's middle lies near the body's midline, whatever side the aorta runs on.
    let middle = 0.3 * at.x;
    let step = |x: f64, y: f64, z: f64| Vec3::new(middle + side * x, at.y + y, at.z + z);
    let mut path = vec![
        at,
        at + out * (parent.lumen.radius(root.s_mm, root.theta_rad) + 4.0),
        step(20.0, 18.0, 4.0),
        step(27.0, 32.0, 7.0),
        step(48.0, 37.0, 3.0),
    ];
    let above = tree.ostium_s_mm(VesselName::Coeliac).is_none_or(|s| root.s_mm < s - 25.0);
    if above {
        // Under the rib's border, to a different length at every level.
        let reach = 0.5 + 0.5 * quirk((root.s_mm * 8.0) as u32, (side > 0.0).into());
        path.extend([step(78.0, 27.0, -10.0), step(106.0, 4.0, -28.0)]);
        path.push(step(118.0 + 4.0 * reach, -14.0 - 22.0 * reach, -40.0 - 12.0 * reach));
    } else {
        path.push(step(66.0, 38.0, -6.0));
    }
    let curve = Curve::through(&path)?;
    let length = curve.length_mm();
    let (a, b) = RADIUS_MM;
    let lumen = Lumen::sample(length, 5.0, 8, |s, _| a + (b - a) * s / length);
    Some((curve, lumen))
}
