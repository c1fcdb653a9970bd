//! The C-arm, runs and marks: what was looked at, from where, and at what dose.

use super::World;
use crate::anatomy::{Rail, Site, Tree, VesselName};
use crate::circulation::Patient;
use crate::imaging::dose::{self, DoseRecord};
use crate::imaging::{Beam, Ends, Injection, OPACIFIED_MG_ML, Pose, RunSpec, Scene, Stride, trace};
use crate::math::Vec3;
use crate::scenario::order::{CtExtent, Mark};
use crate::session::event::{EventKind, RunFacts};
use std::collections::BTreeMap;

/// The state of the picture.
#[derive(Clone, Debug)]
pub struct Picture {
    /// Where the C-arm stands.
    pub pose: Pose,
    /// Fluoroscopy on?
    pub screening: bool,
    /// Table locked?
    pub table_locked: bool,
    /// Where the table brought the patient at the beginning, mm.
    home: Vec3,
    /// Marks on the reference picture: where each truly lies, by what the trainee read and how the view foreshortened it.
    pub marks: BTreeMap<Mark, f64>,
    /// Where the C-arm and the table stood when each was drawn on a picture. What was marked before there was one is a plan,
    /// and is drawn on the first run.
    drawn_from: BTreeMap<Mark, Pose>,
    /// Angle off a true side view when the upper landing was marked, degrees.
    pub marked_off_profile_deg: f64,
    /// Runs so far.
    pub runs: Vec<Taken>,
    /// Contrast given, mL.
    pub contrast_ml: f64,
    /// Radiation.
    pub dose: DoseRecord,
    /// Levels that were told: of each quantity of [`dose::LEVELS`], then of the contrast.
    told: [u8; dose::LEVELS.len() + 1],
}

/// A run that was taken, with what is needed to draw it again.
#[derive(Clone, Debug)]
pub struct Taken {
    /// Injection.
    pub injection: Injection,
    /// Breath held?
    pub breath_hold: bool,
    /// How long frames were taken, s.
    pub seconds: f64,
    /// Was the table free to drift?
    pub free_table: bool,
}

impl Picture {
    /// Of a patient of whom no picture has been taken.
    pub(super) fn of(patient: &Patient, tree: &Tree) -> Self {
        let (width_mm, depth_mm) = dose::trunk_half_axes_mm(patient.mass_kg, patient.height_cm);
        Self {
            pose: Pose { isocentre: middle(tree), ..Pose::default() },
            screening: false,
            table_locked: false,
            home: middle(tree),
            marks: BTreeMap::new(),
            drawn_from: BTreeMap::new(),
            marked_off_profile_deg: 0.0,
            runs: Vec::new(),
            contrast_ml: 0.0,
            dose: DoseRecord::new(width_mm, depth_mm),
            told: [0; dose::LEVELS.len() + 1],
        }
    }

    pub(super) fn aim(&mut self, primary_deg: f64, secondary_deg: f64) {
        self.pose = self.pose.turned(primary_deg, secondary_deg);
    }

    /// How far the table has brought the picture from where it was at first, mm: to the patient's left, to the head.
    pub fn panned_mm(&self) -> [f64; 2] {
        let by = self.pose.isocentre - self.home;
        [by.x, by.z]
    }

    pub(super) fn pan_refusal(&self, left_mm: f64, head_mm: f64) -> Option<String> {
        if self.table_locked {
            return Some(
                "the table is locked: free it first, and the marks on the reference are lost".into(),
            );
        }
        let [x, z] = self.panned_mm();
        let ok = (x + left_mm).abs() <= PAN_MM[0] && (z + head_mm).abs() <= PAN_MM[1];
        (!ok).then(|| {
            format!(
                "the table reaches {:.0} mm to either side and {:.0} mm to head or feet; it stands at {x:.0} and {z:.0}",
                PAN_MM[0], PAN_MM[1]
            )
        })
    }

    pub(super) fn pan(&mut self, left_mm: f64, head_mm: f64) {
        self.pose.isocentre += Vec3::new(left_mm, 0.0, head_mm);
    }

    /// Do all marks lie where they were drawn? None while none is drawn. Angles, table and field count; shutters do not.
    pub fn reference_true(&self) -> Option<bool> {
        (!self.drawn_from.is_empty()).then(|| self.drawn_from.values().all(|p| p.matches(&self.pose)))
    }

    /// Time passes with the beam on or off.
    pub(super) fn pass(&mut self, seconds: f64) {
        if self.screening {
            self.dose.screen(&self.pose, &Beam::default(), seconds);
        }
    }

    /// Where the trainee means the fabric's upper edge to lie: the mark for it when there is one.
    pub(super) fn meant_edge_mm(&self, edge_mm: f64) -> f64 {
        self.marks.get(&Mark::ProximalLanding).copied().unwrap_or(edge_mm)
    }
}

/// How far the table goes from where it was at first, mm: to either side, to head or feet (assumed).
const PAN_MM: [f64; 2] = [250.0, 600.0];

/// How far a table that is not locked drifts in a run, mm (assumed).
pub(super) const FREE_TABLE_MM: f64 = 1.5;

/// Pixels that marks are projected on; only their ratio counts.
const MARK_PIXELS: usize = 1000;
/// Where on the picture the tip of the catheter may lie for a run, as parts of its edge from the left and from the top, and
/// where it is brought to above the middle (common practice, no source).
const TIP_ACROSS: [f64; 2] = [0.1, 0.9];
const TIP_DOWN: [f64; 2] = [0.0, 0.75];
const TIP_ABOVE_MIDDLE: f64 = 0.3;
/// How far a mark reaches beyond the wall on either side, mm.
const MARK_BEYOND_MM: f64 = 8.0;

/// Where the table is brought at first: the arch with the roots of its branches above, the coeliac artery below; for a lesion
/// below the coeliac artery from there to where the common iliac arteries part.
fn middle(tree: &Tree) -> Vec3 {
    const ABOVE_MM: f64 = 35.0;
    const BELOW_MM: f64 = 10.0;
    let curve = &tree.aorta().curve;
    let coeliac = tree.ostium_s_mm(VesselName::Coeliac).unwrap_or_else(|| curve.length_mm());
    let low_lesion = tree.aorta().wall.lesions.iter().any(|l| l.from_mm > coeliac);
    let belly = Rail::for_access(tree, Site::RightFemoral).filter(|_| low_lesion).map(|rail| {
        let end = rail.legs.get(2).map_or(rail.length_mm(), |leg| leg.from_mm);
        let points: Vec<Vec3> = every_5_mm(coeliac, end).map(|s| rail.frame(tree, s).at).collect();
        amid(&points)
    });
    belly.unwrap_or_else(|| {
        let points: Vec<Vec3> = every_5_mm(0.0, coeliac).map(|s| curve.point(s)).collect();
        amid(&points) + Vec3::new(0.0, 0.0, 0.5 * (ABOVE_MM - BELOW_MM))
    })
}

fn every_5_mm(from: f64, to: f64) -> impl Iterator<Item = f64> {
    (0..=((to - from) / 5.0) as usize).map(move |i| from + 5.0 * i as f64).chain([to])
}

/// The middle of the box that holds all points.
fn amid(points: &[Vec3]) -> Vec3 {
    let Some(&first) = points.first() else { return Vec3::ZERO };
    let (low, high) = points.iter().fold((first, first), |(a, b), p| {
        let low = Vec3::new(a.x.min(p.x), a.y.min(p.y), a.z.min(p.z));
        (low, Vec3::new(b.x.max(p.x), b.y.max(p.y), b.z.max(p.z)))
    });
    (low + high) * 0.5
}

impl World {
    /// Before a run the radiographer floats a free table until the place of the injection lies where its stream runs down the
    /// picture; nobody presses the pedal on a picture of something else. A locked table stays, and that is said.
    fn bring_table(&mut self, injection: &Injection) {
        let Some(vessel) = self.tree.vessels.get(injection.vessel) else { return };
        let tip = vessel.curve.point(injection.s_mm);
        let pose = self.picture.pose;
        let (x, y, _) = pose.view(MARK_PIXELS).project(tip);
        let within = |v: f64, parts: [f64; 2]| (parts[0]..parts[1]).contains(&(v / MARK_PIXELS as f64));
        if within(x, TIP_ACROSS) && within(y, TIP_DOWN) {
            return;
        }
        let say = |text: &str| EventKind::Said { who: "radiographer".into(), text: text.into() };
        if self.picture.table_locked {
            self.report(say("The tip of the catheter is off the picture, and the table is locked."));
            return;
        }
        let field_mm = pose.field_mm / pose.magnification();
        let [left_mm, head_mm] = self.picture.panned_mm();
        let to = tip - Vec3::new(0.0, 0.0, TIP_ABOVE_MIDDLE * field_mm) - pose.isocentre;
        let step = |by: f64, at: f64, limit: f64| (at + by).clamp(-limit, limit) - at;
        let before = self.picture.reference_true();
        self.picture.pan(step(to.x, left_mm, PAN_MM[0]), step(to.z, head_mm, PAN_MM[1]));
        self.report(say("Table brought to the tip of the catheter."));
        self.tell_reference(before);
    }

    /// Angle between the view and a true side view of the aorta at a station, degrees.
    pub fn off_profile_deg(&self, s_mm: f64) -> f64 {
        let tangent = self.tree.aorta().curve.tangent(s_mm);
        let along = tangent.dot(self.picture.pose.beam_axis()).abs().min(1.0);
        crate::math::ops::asin(along).to_degrees()
    }

    pub(super) fn mark(&mut self, name: Mark, at_mm: f64) {
        if name == Mark::ProximalLanding {
            self.picture.marked_off_profile_deg = self.off_profile_deg(at_mm);
        }
        self.picture.marks.insert(name, at_mm);
        if self.picture.screening || !self.picture.runs.is_empty() {
            self.picture.drawn_from.insert(name, self.picture.pose);
        }
    }

    /// Each mark as it stands on the glass: name, both ends as parts of the picture's edge (right, down), and whether the
    /// picture under it is still the one that it was drawn on.
    pub fn marks_drawn(&self) -> Vec<(Mark, [[f64; 2]; 2], bool)> {
        let aorta = self.tree.aorta();
        let drawn = |(name, at_mm): (&Mark, &f64)| {
            let pose = self.picture.drawn_from.get(name)?;
            let frame = self.rail(Site::RightFemoral)?.frame(&self.tree, *at_mm);
            let view = pose.view(MARK_PIXELS);
            let across = frame.tangent.cross(view.axis).unit();
            let half = 0.5 * aorta.lumen.diameter_mm(at_mm.min(aorta.curve.length_mm())) + MARK_BEYOND_MM;
            let ends = [-half, half].map(|r| {
                let (x, y, _) = view.project(frame.at + across * r);
                [(x + 0.5) / MARK_PIXELS as f64, (y + 0.5) / MARK_PIXELS as f64]
            });
            Some((*name, ends, pose.matches(&self.picture.pose)))
        };
        self.picture.marks.iter().filter_map(drawn).collect()
    }

    /// After the C-arm, the table or the field was moved: who stands there says that the marks lie wrong, once.
    pub(super) fn tell_reference(&mut self, before: Option<bool>) {
        if before == Some(true) && self.picture.reference_true() == Some(false) {
            let text = "The picture has moved: the marks on the reference no longer lie true.".into();
            self.report(EventKind::Said { who: "radiographer".into(), text });
        }
    }

    /// A subtracted run: contrast is transported by the patient's own flows and the leaks of now.
    pub(super) fn run(
        &mut self,
        site: Site,
        rate_ml_s: f64,
        volume_ml: f64,
        seconds: f64,
        breath_hold: bool,
    ) -> Result<(), String> {
        let case = std::sync::Arc::clone(&self.case);
        let tip = self.line_refusal(site)?.catheter(&case.shelf).map(|(i, c)| (i.tip_mm, c.clone()));
        let Some((tip_mm, catheter)) = tip else {
            return Err("there is no catheter to inject through".into());
        };
        let injection = self.injection(site, tip_mm, rate_ml_s, volume_ml, &catheter);
        self.bring_table(&injection);
        let number = self.picture.runs.len() as u32 + 1;
        self.patient.give(crate::circulation::Drug::Contrast, volume_ml);
        self.picture.contrast_ml += volume_ml;
        self.picture.dose.run(&self.picture.pose, &Beam::default(), seconds);
        let lesion = self.seal.lesion_mm();
        // Free breathing moves the arch by about 4 mm against the mask, a free table by a little more (assumed).
        let breathing = if breath_hold || self.breath_held { 0.3 } else { 4.0 };
        let motion_mm = breathing + if self.picture.table_locked { 0.0 } else { FREE_TABLE_MM };
        let facts = RunFacts {
            number,
            from_mm: tip_mm,
            pose_deg: [self.picture.pose.primary_deg, self.picture.pose.secondary_deg],
            off_profile_deg: self.off_profile_deg(lesion.0),
            motion_mm,
            leak_ml_min: self.seal.leak_ml_min,
            ..self.trace_contrast(&injection, seconds)?
        };
        for mark in self.picture.marks.keys() {
            self.picture.drawn_from.entry(*mark).or_insert(self.picture.pose);
        }
        let free_table = !self.picture.table_locked;
        self.picture.runs.push(Taken { injection, breath_hold, seconds, free_table });
        self.report_with(
            EventKind::Ran(facts),
            vec![("map".into(), self.patient.vitals().right_radial.mean_mmhg)],
        );
        Ok(())
    }

    /// Carries the contrast of a run through vessels and leaks and reads what an eye could see of it.
    fn trace_contrast(&self, injection: &Injection, seconds: f64) -> Result<RunFacts, String> {
        let stage = self.stage();
        let scene = Scene { devices: &[], ..stage.scene(None) };
        let spec = RunSpec {
            pixels: 96,
            fps: 2.0,
            duration_s: seconds.max(1.0),
            ends: Ends::Calibre,
            stride: if self.patient.is_coarse() { Stride::COARSE } else { Stride::FINE },
            ..RunSpec::new(self.picture.pose, *injection, "facts")
        };
        let found = trace(&scene, &stage.flows, &spec).map_err(|e| e.to_string())?;
        let filled = found
            .vessels
            .iter()
            .filter(|v| v.arrival_s.is_some() && v.vessel > 0)
            .map(|v| stage.tree.vessels[v.vessel].name)
            .collect();
        let (from, to) = self.seal.lesion_mm();
        let sac = found
            .spaces
            .iter()
            .filter(|s| s.vessel == 0 && (from..to).contains(&s.middle_mm()))
            .max_by(|a, b| a.peak_mg.total_cmp(&b.peak_mg));
        let outside_mg = found.pools.iter().map(|p| p.1).fold(0.0, f64::max);
        let mut facts = RunFacts { filled, sac_delay_s: -1.0, outside_mg, ..RunFacts::default() };
        if let Some(space) = sac.filter(|s| s.arrival_s.is_some()) {
            // Full is what an eye calls opacified through the whole of it.
            facts.sac_opacity = (space.peak_mg / space.volume_ml / OPACIFIED_MG_ML).min(1.0);
            facts.sac_delay_s = space.delay_s.unwrap_or(0.0).max(0.0);
            let third = (to - from) / 3.0;
            facts.sac_from = match space.first_mm {
                s if s < from + third => "above",
                s if s > to - third => "below",
                _ => "the side",
            }
            .into();
        }
        Ok(facts)
    }

    /// The radiographer tells when a published level of radiation or of contrast has been passed, once for each level.
    pub(super) fn tell_levels(&mut self) {
        let mut news = Vec::new();
        let picture = &mut self.picture;
        let values = picture.dose.quantities();
        for ((level, value), told) in dose::LEVELS.iter().zip(values).zip(&mut picture.told) {
            let passed = [level.notify, level.substantial].into_iter().filter(|l| value >= *l);
            if passed.clone().count() as u8 > *told {
                *told = passed.clone().count() as u8;
                let (what, unit, at) = (level.quantity, level.unit, passed.fold(0.0, f64::max));
                let follow = if *told > 1 { ", where the skin is followed up" } else { "" };
                news.push((what, value, format!("{what}: {value:.1} {unit}, past {at} {unit}{follow}")));
            }
        }
        let egfr = self.case.case.patient.egfr_ml_min();
        let ratio = dose::contrast_over_egfr(picture.contrast_ml, egfr);
        let [.., told] = &mut picture.told;
        if *told == 0 && ratio > dose::CONTRAST_PER_EGFR {
            *told = 1;
            let text = format!(
                "contrast: {:.0} mL, past {} mL for each mL/min of filtration ({egfr:.0} mL/min)",
                picture.contrast_ml,
                dose::CONTRAST_PER_EGFR
            );
            news.push(("contrast over filtration rate", ratio, text));
        }
        for (what, value, text) in news {
            let said = EventKind::Said { who: "radiographer".into(), text };
            self.report_with(said, vec![(what.into(), value)]);
        }
    }

    /// What the report of a CT says, as the trainee reads it.
    pub(super) fn tell_ct(&mut self, extent: CtExtent) {
        let case = std::sync::Arc::clone(&self.case);
        let story = &case.case.story;
        let mut lines = story.ct_chest.clone();
        if extent == CtExtent::WholeAorta {
            lines.extend(story.ct_whole.clone());
        }
        for text in lines {
            self.report(EventKind::Said { who: "CT".into(), text });
        }
    }
}
