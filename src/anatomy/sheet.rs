//! The sizing sheet: what is measured before a graft is chosen.

use super::around::clock_of;
use super::measure::{Lengths, Section, View, angulation_deg, best_view};
use super::spec::{ArchType, LesionShape};
use super::{Rail, Root, Site, Tree, Vessel, VesselName, Zone};
use serde::Serialize;
use std::fmt;

/// Everything that is measured for one lesion of the aorta, at the pressure of the CT.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SizingSheet {
    /// The lesion, as said aloud.
    pub lesion: String,
    /// Its shape; `None` for a dissection.
    pub shape: Option<LesionShape>,
    /// Mean pressure during the CT, mmHg.
    pub map_at_ct_mmhg: f64,
    /// Mean pressure for which recovered calibres are stated, mmHg.
    pub recovered_map_mmhg: f64,
    /// Recovered over measured diameter.
    pub recovered_ratio: f64,
    /// First and last arc length of the lesion, mm from the valve.
    pub lesion_mm: (f64, f64),
    /// Zones of its two ends.
    pub zones: (Zone, Zone),
    /// Largest calliper width within it, mm.
    pub widest_mm: f64,
    /// Lengths across it.
    pub lengths: Lengths,
    /// Healthy aorta above it, up to the next branch.
    pub proximal: Landing,
    /// Healthy aorta below it, down to the next branch.
    pub distal: Landing,
    /// Proximal less distal diameter, mm.
    pub taper_mm: f64,
    /// Radius of the inner wall at the proximal landing's lesion end, mm; `None` where straight.
    pub inner_radius_mm: Option<f64>,
    /// Type of the arch.
    pub arch: Option<ArchType>,
    /// Angle at the lower renal artery between the 30 mm of aorta above and the 20 mm of neck below, degrees.
    pub neck_angle_deg: Option<f64>,
    /// Origins of the branches.
    pub ostia: Vec<OstiumRow>,
    /// The two ways in from the groins.
    pub access: Vec<AccessRow>,
    /// Views worth knowing before the case: what they show, and the angles.
    pub views: Vec<(String, View)>,
}

/// A stretch to land in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Landing {
    /// The end away from the lesion, mm.
    pub far_mm: f64,
    /// The end at the lesion, mm.
    pub near_mm: f64,
    /// What bounds it.
    pub bound: String,
    /// Zone at its far end.
    pub zone: Zone,
    /// Its lengths.
    pub lengths: Lengths,
    /// Sections 0, 10 and 20 mm away from the lesion, as far as the landing goes.
    pub sections: Vec<Section>,
    /// Calcified part of its wall, percent.
    pub calcium_percent: f64,
    /// Part of its wall lined with thrombus of a millimetre or more, percent.
    pub thrombus_percent: f64,
    /// Largest inner curvature times diameter in it.
    pub curvature_times_diameter: f64,
}

impl Landing {
    /// Mean over its sections of the diameter of equal area, mm.
    pub fn diameter_mm(&self) -> f64 {
        self.sections.iter().map(Section::area_diameter_mm).sum::<f64>() / self.sections.len().max(1) as f64
    }
    /// Shorter of the centreline's and the inner curve's length, mm: what counts for a seal.
    pub fn usable_mm(&self) -> f64 {
        self.lengths.centre_mm.min(self.lengths.inner_mm)
    }
}

/// One branch's origin.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OstiumRow {
    /// Which.
    pub vessel: VesselName,
    /// Centre, mm from the valve.
    pub s_mm: f64,
    /// Hour on the clock face.
    pub clock: f64,
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// From its near edge to the lesion's near end, mm; negative when inside the lesion.
    pub to_lesion_mm: f64,
    /// Fed by the false lumen.
    pub from_false: bool,
}

/// One way in from the groin.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AccessRow {
    /// Which groin.
    pub site: Site,
    /// Narrowest place of each vessel, mm.
    pub narrowest: Vec<(VesselName, f64)>,
    /// Calcified part of its walls, percent.
    pub calcium_percent: f64,
    /// Centreline over straight length from puncture to bifurcation.
    pub tortuosity: f64,
    /// From the puncture to the lesion's lower end, mm.
    pub to_lesion_mm: f64,
}

impl AccessRow {
    /// Narrowest of all, mm.
    pub fn min_mm(&self) -> f64 {
        self.narrowest.iter().map(|n| n.1).fold(f64::INFINITY, f64::min)
    }
    /// Outer diameter of a sheath or delivery system over the narrowest artery. Complications rise above
    /// 1.05.
    pub fn ratio(&self, outer_mm: f64) -> f64 {
        outer_mm / self.min_mm()
    }
}

impl SizingSheet {
    /// Measures the aorta's lesion number `index` (0 first), or the dissection when there is no such lesion.
    /// `None` when there is neither.
    pub fn measure(tree: &Tree, index: usize, recovered_map_mmhg: f64) -> Option<Self> {
        let aorta = tree.aorta();
        let (label, shape, from, to) = match (aorta.wall.lesions.get(index), &aorta.wall.septum) {
            (Some(l), _) => (l.label.clone(), Some(l.shape), l.from_mm, l.to_mm),
            (None, Some(s)) => ("dissection".to_owned(), None, s.from_mm, s.to_mm),
            (None, None) => return None,
        };
        let proximal = landing(tree, from, -1.0);
        let distal = landing(tree, to, 1.0);
        let bend = aorta.inner_curvature(proximal.near_mm);
        let mut widest: f64 = 0.0;
        let mut s = from;
        while s <= to {
            widest = widest.max(aorta.section(s).max_mm);
            s += 2.0;
        }
        let lower_renal = [VesselName::RightRenal, VesselName::LeftRenal]
            .iter()
            .filter_map(|&v| tree.aortic_s_mm(v))
            .fold(0.0, f64::max);
        let infrarenal = lower_renal > 0.0 && from > lower_renal - 20.0;
        Some(Self {
            lesion: label,
            shape,
            map_at_ct_mmhg: tree.reference_map_mmhg,
            recovered_map_mmhg,
            recovered_ratio: aorta.wall.law.ratio(tree.reference_map_mmhg, recovered_map_mmhg),
            lesion_mm: (from, to),
            zones: (tree.zone_at(from), tree.zone_at(to)),
            widest_mm: widest,
            lengths: aorta.lengths(from, to),
            taper_mm: proximal.diameter_mm() - distal.diameter_mm(),
            inner_radius_mm: (bend > 1e-3).then(|| 1.0 / bend),
            arch: tree.arch_type(),
            neck_angle_deg: infrarenal
                .then(|| angulation_deg(&aorta.curve, lower_renal - 30.0, lower_renal, lower_renal + 20.0)),
            ostia: ostia(tree, from, to),
            access: [Site::RightFemoral, Site::LeftFemoral]
                .iter()
                .filter_map(|&s| access(tree, s, to))
                .collect(),
            views: views(tree, &proximal, &distal),
            proximal,
            distal,
        })
    }
}

/// From the lesion's end outward to the next named branch, at most 150 mm. `side` is -1 above, +1 below.
fn landing(tree: &Tree, near_mm: f64, side: f64) -> Landing {
    let aorta = tree.aorta();
    let length = aorta.curve.length_mm();
    let mut far = (near_mm + side * 150.0).clamp(0.0, length);
    let mut bound = if side < 0.0 { "aortic valve" } else { "aortic bifurcation" };
    if (far - near_mm).abs() > 149.0 {
        bound = "150 mm";
    }
    for (name, at, root) in tree.aortic_branches() {
        let edge = at - side * root.radius_mm;
        let beyond = (at - near_mm) * side > 0.0;
        if beyond && (edge - far) * side < 0.0 {
            // A branch that reaches into the lesion leaves nothing to land in.
            far = if (edge - near_mm) * side < 0.0 { near_mm } else { edge };
            bound = name.label();
        }
    }
    let lengths = aorta.lengths(near_mm.min(far), near_mm.max(far));
    let reach = (far - near_mm).abs();
    // One station clear of the lesion, whose own edge is interpolated.
    let edge_mm = aorta.lumen.step_mm();
    let stations = [0.0, 10.0, 20.0].into_iter().filter(|&d| d <= reach + 0.5);
    let sections: Vec<Section> = stations.map(|d| aorta.section(near_mm + side * d.max(edge_mm))).collect();
    let (calcium_percent, thrombus_percent) = lining(aorta, near_mm.min(far), near_mm.max(far));
    let mut curved: f64 = 0.0;
    let mut s = near_mm.min(far);
    while s <= near_mm.max(far) {
        curved = curved.max(aorta.curvature_times_diameter(s));
        s += 2.0;
    }
    Landing {
        far_mm: far,
        near_mm,
        bound: bound.to_owned(),
        zone: tree.zone_at(far),
        lengths,
        sections,
        calcium_percent,
        thrombus_percent,
        curvature_times_diameter: curved,
    }
}

/// Calcified and thrombus-lined parts of the wall between two stations, percent.
fn lining(vessel: &Vessel, from: f64, to: f64) -> (f64, f64) {
    let (step, n) = (vessel.lumen.step_mm(), vessel.lumen.n_theta());
    let (mut cells, mut calcium, mut thrombus) = (0.0, 0.0, 0.0);
    for i in 0..vessel.lumen.stations() {
        let s = step * i as f64;
        if s < from || s > to {
            continue;
        }
        for k in 0..n {
            cells += 1.0;
            calcium += vessel.wall.calcium.get(i * n + k).copied().unwrap_or(0.0);
            thrombus += f64::from(vessel.wall.thrombus_mm.get(i * n + k).copied().unwrap_or(0.0) >= 1.0);
        }
    }
    if cells > 0.0 { (100.0 * calcium / cells, 100.0 * thrombus / cells) } else { (0.0, 0.0) }
}

fn ostia(tree: &Tree, from: f64, to: f64) -> Vec<OstiumRow> {
    let row = |(vessel, s_mm, root): (VesselName, f64, Root)| {
        let parent = &tree.vessels[root.parent];
        OstiumRow {
            vessel,
            s_mm,
            clock: clock_of(&parent.curve, root.s_mm, root.theta_rad),
            diameter_mm: 2.0 * root.radius_mm,
            to_lesion_mm: (from - s_mm).max(s_mm - to) - root.radius_mm,
            from_false: parent.name == VesselName::FalseLumen,
        }
    };
    tree.aortic_branches().into_iter().map(row).collect()
}

fn access(tree: &Tree, site: Site, lesion_end: f64) -> Option<AccessRow> {
    let rail = Rail::for_access(tree, site)?;
    let legs = &rail.legs[1..];
    let narrowest = legs
        .iter()
        .map(|l| (l.name, rail.narrowest_mm(tree, l.from_mm, l.from_mm + l.length_mm).0))
        .collect();
    let parts: Vec<f64> =
        legs.iter().map(|l| lining(&tree.vessels[l.vessel], 0.0, f64::INFINITY).0).collect();
    let (start, end) = (rail.legs[0].length_mm, rail.length_mm());
    let chord = rail.frame(tree, start).at.distance(rail.frame(tree, end).at).max(1e-9);
    Some(AccessRow {
        site,
        narrowest,
        calcium_percent: parts.iter().sum::<f64>() / parts.len().max(1) as f64,
        tortuosity: (end - start) / chord,
        to_lesion_mm: end - lesion_end,
    })
}

fn views(tree: &Tree, proximal: &Landing, distal: &Landing) -> Vec<(String, View)> {
    let curve = &tree.aorta().curve;
    let mut views = vec![
        ("proximal landing".to_owned(), best_view(curve, 0.5 * (proximal.far_mm + proximal.near_mm), None)),
        ("distal landing".to_owned(), best_view(curve, 0.5 * (distal.far_mm + distal.near_mm), None)),
    ];
    let arch = tree.get(VesselName::LeftSubclavian).and_then(|v| v.root);
    if let Some(root) = arch {
        views.push(("aortic arch".to_owned(), best_view(curve, root.s_mm, Some(root.theta_rad))));
    }
    for name in [VesselName::Coeliac, VesselName::Sma, VesselName::LeftRenal, VesselName::RightRenal] {
        if let Some(view) = tree.ostium_view(name) {
            views.push((name.label().to_owned(), view));
        }
    }
    views
}

impl fmt::Display for SizingSheet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "{}: zones {} to {}, {:.0} to {:.0} mm from the valve",
            self.lesion, self.zones.0.0, self.zones.1.0, self.lesion_mm.0, self.lesion_mm.1
        )?;
        writeln!(
            f,
            "  widest {:.1} mm; length centre {:.0}, inner {:.0}, outer {:.0} mm",
            self.widest_mm, self.lengths.centre_mm, self.lengths.inner_mm, self.lengths.outer_mm
        )?;
        writeln!(
            f,
            "  CT at a mean pressure of {:.0} mmHg; at {:.0} mmHg diameters are {:+.1} %",
            self.map_at_ct_mmhg,
            self.recovered_map_mmhg,
            100.0 * (self.recovered_ratio - 1.0)
        )?;
        for (name, l) in [("proximal", &self.proximal), ("distal", &self.distal)] {
            writeln!(
                f,
                "  {name} landing to the {} (zone {}): centre {:.0}, inner {:.0}, outer {:.0} mm; \
                 curvature x diameter {:.2}; calcium {:.0} %, thrombus {:.0} %",
                l.bound,
                l.zone.0,
                l.lengths.centre_mm,
                l.lengths.inner_mm,
                l.lengths.outer_mm,
                l.curvature_times_diameter,
                l.calcium_percent,
                l.thrombus_percent
            )?;
            for s in &l.sections {
                writeln!(
                    f,
                    "    at {:>3.0} mm: {:.1} x {:.1} mm, by area {:.1}, by perimeter {:.1}",
                    (s.s_mm - l.near_mm).abs().floor(),
                    s.min_mm,
                    s.max_mm,
                    s.area_diameter_mm(),
                    s.perimeter_diameter_mm()
                )?;
            }
        }
        write!(f, "  taper {:.1} mm", self.taper_mm)?;
        if let Some(arch) = self.arch {
            write!(f, "; arch type {arch:?}")?;
        }
        if let Some(r) = self.inner_radius_mm {
            write!(f, "; inner radius {r:.0} mm")?;
        }
        if let Some(a) = self.neck_angle_deg {
            write!(f, "; neck angle {a:.0} degrees")?;
        }
        writeln!(f)?;
        for o in &self.ostia {
            let clock = if o.clock < 0.95 { o.clock + 12.0 } else { o.clock };
            let fed = if o.from_false { ", from the false lumen" } else { "" };
            writeln!(
                f,
                "  {:<28} {:>4.0} mm  {:>4.1} o'clock  {:>4.1} mm wide  {:>4.0} mm from the lesion{fed}",
                o.vessel.label(),
                o.s_mm,
                clock,
                o.diameter_mm,
                o.to_lesion_mm
            )?;
        }
        for a in &self.access {
            let parts: Vec<String> =
                a.narrowest.iter().map(|(n, mm)| format!("{} {mm:.1}", n.label())).collect();
            writeln!(
                f,
                "  {}: narrowest mm: {}; calcium {:.0} %; tortuosity {:.2}; {:.0} mm to the lesion",
                a.site.label(),
                parts.join(", "),
                a.calcium_percent,
                a.tortuosity,
                a.to_lesion_mm
            )?;
        }
        for (what, v) in &self.views {
            let side = if v.lao_deg >= 0.0 { "LAO" } else { "RAO" };
            let tilt = if v.cranial_deg >= 0.0 { "cranial" } else { "caudal" };
            writeln!(
                f,
                "  view of the {what}: {side} {:.0}, {tilt} {:.0}",
                v.lao_deg.abs(),
                v.cranial_deg.abs()
            )?;
        }
        Ok(())
    }
}
