//! What an educator writes about a patient's vessels: a sizing sheet, and what is wrong with them.
//!
//! Everything has a default: an empty sheet is a healthy adult of the given age and sex. Lengths are
//! millimetres, diameters are those of flowing blood at the pressure of the CT. Every fault is reported by
//! [`AnatomySpec::faults`].

use super::{Axes, VesselName};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A patient's vessels.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AnatomySpec {
    /// Age: widens and lengthens the aorta, and stiffens it.
    pub age_years: f64,
    /// Sex: a woman's aorta is narrower.
    pub sex: Sex,
    /// Height: scales lengths.
    pub height_cm: f64,
    /// Mean arterial pressure while the CT was taken, at which all diameters below hold.
    pub map_at_ct_mmhg: f64,
    /// Growth in diameter from a mean pressure of 60 to 90 mmHg, percent; by age where nothing is written.
    pub give_percent: Option<f64>,
    /// Difference of the two axes of a section, percent of the mean.
    pub ellipticity_percent: f64,
    /// A centreline table to start from instead of the sheet's own course.
    pub centreline: Option<CentrelineSpec>,
    /// The aorta's course.
    pub aorta: AortaSpec,
    /// Branches that differ from the usual.
    pub branches: Vec<BranchSpec>,
    /// Right iliac and femoral arteries.
    pub right_access: AccessSpec,
    /// Left iliac and femoral arteries.
    pub left_access: AccessSpec,
    /// Stretches to make wider or narrower.
    pub resize: Vec<ResizeSpec>,
    /// Aneurysms, ulcers, tears.
    pub lesions: Vec<Lesion>,
    /// Calcified patches; `amount` is the calcified part of the patch, 0 to 1.
    pub calcium: Vec<Patch>,
    /// Mural thrombus; `amount` is its greatest thickness, mm. It narrows the stream, not the wall.
    pub thrombus: Vec<Patch>,
    /// A dissected stretch with a true and a false lumen.
    pub dissection: Option<Dissection>,
    /// Spacing of stations along the aorta, mm.
    pub step_mm: f64,
    /// Angles in each ring.
    pub n_theta: usize,
}

impl Default for AnatomySpec {
    fn default() -> Self {
        Self {
            age_years: 60.0,
            sex: Sex::Male,
            height_cm: 172.0,
            map_at_ct_mmhg: 90.0,
            give_percent: None,
            ellipticity_percent: 4.0,
            centreline: None,
            aorta: AortaSpec::default(),
            branches: Vec::new(),
            right_access: AccessSpec::default(),
            left_access: AccessSpec::default(),
            resize: Vec::new(),
            lesions: Vec::new(),
            calcium: Vec::new(),
            thrombus: Vec::new(),
            dissection: None,
            step_mm: 1.0,
            n_theta: 48,
        }
    }
}

/// A table of centrelines with radii, made by any open tool from a CT.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CentrelineSpec {
    /// Name of the file beside the case: comma-separated, or ASCII legacy VTK polydata.
    pub file: String,
    /// Its patient axes.
    #[serde(default)]
    pub axes: Axes,
    /// Which vessel each line is, in the order of the file. Where the table names its vessels, this may be
    /// left out.
    #[serde(default)]
    pub vessels: Vec<VesselName>,
}

/// A stretch of a vessel made wider or narrower, with soft ends.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ResizeSpec {
    /// Which vessel.
    #[serde(default = "aorta")]
    pub vessel: VesselName,
    /// Its middle.
    pub at: Place,
    /// Its length, mm.
    pub length_mm: f64,
    /// Diameter in its middle, mm.
    pub diameter_mm: f64,
}

/// Sex, as far as vessels differ by it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "said by their names")]
pub enum Sex {
    Female,
    #[default]
    Male,
}

/// The aorta from the valve to the bifurcation. What is not written follows from age, sex and height.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AortaSpec {
    /// Diameters at landmarks, mm.
    pub diameters_mm: BTreeMap<Landmark, f64>,
    /// Lengths between landmarks, mm, along the centreline.
    pub lengths_mm: BTreeMap<Stretch, f64>,
    /// Arch type I, II or III: how far the innominate's origin lies below the top of the arch.
    pub arch: Option<ArchType>,
    /// The same as a distance, mm; goes before the type.
    pub innominate_drop_mm: Option<f64>,
    /// Radius of the arch's inner curve, mm.
    pub inner_radius_mm: Option<f64>,
    /// Centreline over straight length from the end of the arch to the coeliac artery.
    pub thoracic_tortuosity: Option<f64>,
    /// Centreline over straight length from the coeliac artery to the bifurcation.
    pub abdominal_tortuosity: Option<f64>,
    /// Angle between the aorta at the renal arteries and the neck below them, degrees.
    pub neck_angle_deg: Option<f64>,
}

/// Places where an aortic diameter is usually stated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Landmark {
    /// The valve's ring.
    Annulus,
    /// Sinuses of Valsalva.
    Sinus,
    /// Tubular ascending aorta, at its middle.
    Ascending,
    /// Just before the innominate artery.
    PreInnominate,
    /// Between the innominate and the left carotid artery.
    ProximalArch,
    /// Between the left carotid and the left subclavian artery.
    DistalArch,
    /// 2 cm beyond the left subclavian artery.
    Isthmus,
    /// Halfway from the left subclavian to the coeliac artery.
    MidDescending,
    /// 3 cm above the coeliac artery.
    Diaphragm,
    /// At the coeliac artery.
    Coeliac,
    /// Between the superior mesenteric and the renal arteries.
    Suprarenal,
    /// 1 cm below the lower renal artery.
    Infrarenal,
    /// At the aortic bifurcation.
    Bifurcation,
}

/// Stretches of the aorta, along the centreline.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stretch {
    /// Valve to the innominate artery's centre.
    Ascending,
    /// Innominate to left carotid artery, centre to centre.
    InnominateToLeftCarotid,
    /// Left carotid to left subclavian artery, centre to centre.
    LeftCarotidToLeftSubclavian,
    /// Left subclavian to coeliac artery.
    Descending,
    /// Coeliac to superior mesenteric artery.
    CoeliacToSma,
    /// Superior mesenteric to upper renal artery.
    SmaToRenal,
    /// Upper to lower renal artery.
    BetweenRenals,
    /// Lower renal artery to the bifurcation.
    Infrarenal,
}

/// Arch type by the vertical distance from the top of the arch to the innominate artery's origin, in
/// diameters of the left common carotid artery.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum ArchType {
    /// Less than one.
    I,
    /// One to two.
    II,
    /// More than two.
    III,
}

/// A branch that differs from the usual.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BranchSpec {
    /// Which.
    pub vessel: VesselName,
    /// Diameter at its origin, mm.
    #[serde(default)]
    pub diameter_mm: Option<f64>,
    /// Where it leaves, as on a clock face.
    #[serde(default)]
    pub toward: Option<Toward>,
    /// The patient does not have it.
    #[serde(default)]
    pub absent: bool,
    /// Narrowing or block at its origin, percent of the diameter.
    #[serde(default)]
    pub stenosis_percent: f64,
}

/// One side's way in from the groin.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AccessSpec {
    /// Common iliac diameter, mm.
    pub common_iliac_mm: Option<f64>,
    /// External iliac diameter, mm.
    pub external_iliac_mm: Option<f64>,
    /// Common femoral diameter, mm.
    pub femoral_mm: Option<f64>,
    /// Internal iliac diameter, mm.
    pub internal_iliac_mm: Option<f64>,
    /// Calcified part of the wall, 0 to 1.
    pub calcium: f64,
    /// Centreline over straight length from the bifurcation to the puncture.
    pub tortuosity: Option<f64>,
}

/// Where along a vessel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// Arc length from the vessel's start, mm; on the aorta, from the valve.
    Mm(f64),
    /// Beyond the centre of a branch's origin by so many mm; negative lies before it.
    Past(VesselName, f64),
}

/// Where round a section.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Toward {
    /// Hours on the clock of an axial CT image, seen from the feet: 12 in front, 3 to the patient's left.
    /// Where the aorta runs level, in the arch, 12 is up.
    Clock(f64),
    /// The outer side of the bend.
    Outer,
    /// The inner side of the bend.
    Inner,
}

/// An aneurysm, ulcer or tear.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lesion {
    /// As said aloud.
    #[serde(default)]
    pub label: String,
    /// Which vessel.
    #[serde(default = "aorta")]
    pub vessel: VesselName,
    /// Its middle.
    pub at: Place,
    /// Its whole length along the vessel, mm.
    pub length_mm: f64,
    /// What it looks like.
    pub shape: LesionShape,
    /// Where it has burst.
    #[serde(default)]
    pub rupture: Option<Rupture>,
}

fn aorta() -> VesselName {
    VesselName::Aorta
}

/// Shape of a lesion.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum LesionShape {
    /// Wide all round.
    Fusiform {
        /// Widest diameter of the wall, mm.
        max_mm: f64,
        /// The side that bulges more.
        #[serde(default)]
        toward: Option<Toward>,
    },
    /// A sac on one side.
    Saccular {
        /// Width of its mouth, mm.
        neck_mm: f64,
        /// How far it stands out of the wall, mm.
        depth_mm: f64,
        /// Which side.
        toward: Toward,
    },
    /// A crater in plaque.
    Ulcer {
        /// Width of its mouth, mm.
        neck_mm: f64,
        /// Depth, mm.
        depth_mm: f64,
        /// Which side.
        toward: Toward,
    },
    /// Blunt injury: 1 intimal tear, 2 intramural haematoma, 3 false aneurysm, 4 rupture.
    Transection {
        /// 1 to 4.
        grade: u8,
        /// Width of the false aneurysm's mouth, mm.
        neck_mm: f64,
        /// Its depth, mm; 0 when the outline is kept.
        depth_mm: f64,
        /// Which side.
        toward: Toward,
    },
}

/// A hole in the wall.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rupture {
    /// Area of the hole, mm².
    pub area_mm2: f64,
    /// Where the blood goes.
    pub into: Cavity,
}

/// What blood can run into.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the anatomical name")]
pub enum Cavity {
    PericardialSac,
    Mediastinum,
    LeftPleura,
    RightPleura,
    Retroperitoneum,
    Peritoneum,
    SoftTissue,
}

/// A patch of wall.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Patch {
    /// Which vessel.
    #[serde(default = "aorta")]
    pub vessel: VesselName,
    /// Its middle.
    pub at: Place,
    /// Its length along the vessel, mm.
    pub length_mm: f64,
    /// Middle of its arc; all round where nothing is written.
    #[serde(default)]
    pub toward: Option<Toward>,
    /// Width of its arc, degrees.
    #[serde(default = "full_turn")]
    pub arc_deg: f64,
    /// How much.
    pub amount: f64,
}

fn full_turn() -> f64 {
    360.0
}

/// A septum that splits the aorta.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dissection {
    /// Primary entry tear: where the false lumen starts.
    pub entry: Place,
    /// Where the false lumen ends.
    pub end: Place,
    /// Width of the entry tear, mm.
    pub entry_mm: f64,
    /// Re-entry tears: where, and how wide, mm.
    #[serde(default)]
    pub reentries: Vec<(Place, f64)>,
    /// Part of the section that is true lumen, 0.1 to 0.9.
    pub true_fraction: f64,
    /// Side of the false lumen at the entry.
    pub toward: Toward,
    /// How far the septum winds round from entry to end, degrees; positive as `theta` rises.
    #[serde(default)]
    pub winds_deg: f64,
    /// Branches fed by the false lumen.
    #[serde(default)]
    pub from_false: Vec<VesselName>,
    /// Branches whose own mouth is torn or clotted, and how much of it that closes, percent: what a graft over the entry does not
    /// open, a stent does.
    #[serde(default)]
    pub blocked: Vec<(VesselName, f64)>,
    /// Days since it tore: a fortnight makes an acute dissection a chronic one.
    #[serde(default = "a_day")]
    pub age_days: f64,
}

fn a_day() -> f64 {
    1.0
}

impl AnatomySpec {
    /// Everything that cannot be, in plain words with what to write instead; empty when it can be built.
    pub fn faults(&self) -> Vec<String> {
        let mut check = Check { faults: Vec::new() };
        check.range("age_years", self.age_years, 16.0, 105.0);
        check.range("height_cm", self.height_cm, 120.0, 215.0);
        check.range("map_at_ct_mmhg", self.map_at_ct_mmhg, 30.0, 160.0);
        check.range("ellipticity_percent", self.ellipticity_percent, 0.0, 40.0);
        check.range("step_mm", self.step_mm, 0.25, 5.0);
        check.range("n_theta", self.n_theta as f64, 12.0, 360.0);
        check.option("give_percent", self.give_percent, 0.0, 40.0);
        for (landmark, &mm) in &self.aorta.diameters_mm {
            check.range(&format!("aorta.diameters_mm, {landmark:?}"), mm, 8.0, 90.0);
        }
        for (stretch, &mm) in &self.aorta.lengths_mm {
            let (lo, hi) = match stretch {
                Stretch::Ascending => (50.0, 160.0),
                Stretch::Descending => (120.0, 400.0),
                Stretch::Infrarenal => (50.0, 250.0),
                Stretch::BetweenRenals => (0.0, 60.0),
                _ => (4.0, 60.0),
            };
            check.range(&format!("aorta.lengths_mm, {stretch:?}"), mm, lo, hi);
        }
        check.option("aorta.innominate_drop_mm", self.aorta.innominate_drop_mm, 0.0, 45.0);
        check.option("aorta.inner_radius_mm", self.aorta.inner_radius_mm, 8.0, 80.0);
        check.option("aorta.thoracic_tortuosity", self.aorta.thoracic_tortuosity, 1.03, 1.6);
        check.option("aorta.abdominal_tortuosity", self.aorta.abdominal_tortuosity, 1.01, 1.8);
        check.option("aorta.neck_angle_deg", self.aorta.neck_angle_deg, 0.0, 80.0);
        if self.aorta.neck_angle_deg.is_some() && self.aorta.abdominal_tortuosity.is_some() {
            check.say("aorta: neck_angle_deg and abdominal_tortuosity both bend the same stretch; write one of them");
        }
        for b in &self.branches {
            let name = b.vessel.label();
            if b.vessel == VesselName::Aorta {
                check.say("branches: the aorta is not a branch; its size goes into aorta.diameters_mm");
            }
            check.option(&format!("branches, {name}: diameter_mm"), b.diameter_mm, 0.5, 40.0);
            check.range(&format!("branches, {name}: stenosis_percent"), b.stenosis_percent, 0.0, 100.0);
        }
        for (side, a) in [("right_access", &self.right_access), ("left_access", &self.left_access)] {
            check.option(&format!("{side}.common_iliac_mm"), a.common_iliac_mm, 3.0, 60.0);
            check.option(&format!("{side}.external_iliac_mm"), a.external_iliac_mm, 2.0, 25.0);
            check.option(&format!("{side}.femoral_mm"), a.femoral_mm, 2.0, 25.0);
            check.option(&format!("{side}.internal_iliac_mm"), a.internal_iliac_mm, 1.0, 40.0);
            check.range(&format!("{side}.calcium"), a.calcium, 0.0, 1.0);
            check.option(&format!("{side}.tortuosity"), a.tortuosity, 1.0, 2.2);
        }
        for (i, r) in self.resize.iter().enumerate() {
            check.range(&format!("resize {}: length_mm", i + 1), r.length_mm, 2.0, 600.0);
            check.range(&format!("resize {}: diameter_mm", i + 1), r.diameter_mm, 0.5, 90.0);
        }
        for (i, lesion) in self.lesions.iter().enumerate() {
            lesion.check(i + 1, &mut check);
        }
        for (what, patches, most) in [("calcium", &self.calcium, 1.0), ("thrombus", &self.thrombus, 40.0)] {
            for (i, p) in patches.iter().enumerate() {
                check.range(&format!("{what} {}: amount", i + 1), p.amount, 0.0, most);
                check.range(&format!("{what} {}: length_mm", i + 1), p.length_mm, 0.5, 600.0);
                check.range(&format!("{what} {}: arc_deg", i + 1), p.arc_deg, 1.0, 360.0);
            }
        }
        if let Some(d) = &self.dissection {
            check.range("dissection.true_fraction", d.true_fraction, 0.1, 0.9);
            check.range("dissection.entry_mm", d.entry_mm, 1.0, 60.0);
            check.range("dissection.winds_deg", d.winds_deg, -540.0, 540.0);
            check.range("dissection.age_days", d.age_days, 0.0, 7300.0);
        }
        check.faults
    }
}

impl Lesion {
    fn check(&self, number: usize, check: &mut Check) {
        let name = |field: &str| format!("lesion {number}: {field}");
        check.range(&name("length_mm"), self.length_mm, 2.0, 500.0);
        if let Some(r) = self.rupture {
            check.range(&name("rupture.area_mm2"), r.area_mm2, 0.0, 400.0);
        }
        match self.shape {
            LesionShape::Fusiform { max_mm, .. } => check.range(&name("max_mm"), max_mm, 4.0, 160.0),
            LesionShape::Saccular { neck_mm, depth_mm, .. }
            | LesionShape::Ulcer { neck_mm, depth_mm, .. } => {
                check.range(&name("neck_mm"), neck_mm, 2.0, 120.0);
                check.range(&name("depth_mm"), depth_mm, 1.0, 120.0);
            }
            LesionShape::Transection { grade, neck_mm, depth_mm, .. } => {
                check.range(&name("grade"), f64::from(grade), 1.0, 4.0);
                check.range(&name("neck_mm"), neck_mm, 2.0, 120.0);
                check.range(&name("depth_mm"), depth_mm, 0.0, 80.0);
            }
        }
    }
}

struct Check {
    faults: Vec<String>,
}

impl Check {
    fn say(&mut self, fault: &str) {
        self.faults.push(fault.to_owned());
    }
    fn range(&mut self, what: &str, value: f64, lo: f64, hi: f64) {
        if !(lo..=hi).contains(&value) {
            self.faults
                .push(format!("anatomy, {what}: {value} is out of range; write a number from {lo} to {hi}"));
        }
    }
    fn option(&mut self, what: &str, value: Option<f64>, lo: f64, hi: f64) {
        if let Some(v) = value {
            self.range(what, v, lo, hi);
        }
    }
}
