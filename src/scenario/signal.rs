//! The signals that rules may read: name, unit, meaning. A session computes every one of them at every sample.
//!
//! Beside these a rule can read `policy.NAME` and `var.NAME` (numbers of the case), `covered.VESSEL` (closed fraction of an
//! ostium, per cent), `injured.ORGAN` (per cent of an organ that will not recover), `flow.VESSEL` (mL/min) and
//! `risk.NAME` (per cent, as computed so far).

use super::load::read::names_of;
use super::order::Measured;
use crate::anatomy::VesselName;
use crate::circulation::Organ;

/// One signal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Signal {
    /// As rules write it.
    pub name: &'static str,
    /// Its unit; empty for a bare number.
    pub unit: &'static str,
    /// What it is.
    pub about: &'static str,
}

macro_rules! signals {
    ($($name:literal, $unit:literal, $about:literal;)*) => {
        /// Every fixed signal, in the order of a sample's columns.
        pub const SIGNALS: &[Signal] = &[$(Signal { name: $name, unit: $unit, about: $about },)*];
    };
}

signals! {
    "time", "s", "time since the call";
    "sbp", "mmHg", "systolic pressure, right radial artery";
    "dbp", "mmHg", "diastolic pressure, right radial artery";
    "map", "mmHg", "mean pressure, right radial artery";
    "sbp.left", "mmHg", "systolic pressure, left radial artery";
    "map.femoral", "mmHg", "mean pressure, right femoral artery";
    "hr", "bpm", "heart rate";
    "cvp", "mmHg", "central venous pressure";
    "co", "L/min", "cardiac output";
    "spo2", "%", "oxygen saturation at the finger; none without a pulse there";
    "temperature", "degC", "core temperature";
    "hb", "g/L", "haemoglobin";
    "lactate", "mmol/L", "arterial lactate";
    "base_deficit", "mmol/L", "base deficit";
    "act", "s", "activated clotting time";
    "urine", "mL/h", "urine";
    "cord_pressure", "mmHg", "cord perfusion pressure";
    "csf_pressure", "mmHg", "pressure of the cerebrospinal fluid";
    "csf_drained", "mL", "spinal fluid drained so far";
    "buttock.right", "%", "pressure in the arteries of the right buttock, part of the arm's mean";
    "buttock.left", "%", "pressure in the arteries of the left buttock, part of the arm's mean";
    "belly", "mmHg", "pressure in the belly, measured in the bladder";
    "bleed", "mL/min", "blood leaving the vessels now";
    "lost", "mL", "blood lost since before the call";
    "fluid", "mL", "crystalloid given";
    "blood_given", "mL", "blood products given";
    "alive", "", "1 while the heart beats, 0 after";
    "oversize.proximal", "%", "graft above aorta at its upper edge, at the pressure of now";
    "oversize.distal", "%", "graft above aorta at its lower edge, at the pressure of now";
    "seal.proximal", "mm", "length of all-round contact above the lesion";
    "seal.distal", "mm", "length of all-round contact below the lesion";
    "seal.inner", "mm", "contact on the inner curve above the lesion";
    "beak", "mm", "height of the gap under the graft's upper edge on the inner curve";
    "fold", "mm2", "mouth of the fabric's fold";
    "shift", "mm", "how far the graft moved downstream while it opened";
    "edge.proximal", "mm", "upper edge of the fabric, from the valve";
    "edge.distal", "mm", "lower edge of the fabric, from the valve";
    "covered_length", "mm", "length of aorta under fabric";
    "grafts", "", "grafts released";
    "leak.Ia", "mL/min", "flow past the upper edge into the sac";
    "leak.Ib", "mL/min", "flow past the lower edge into the sac";
    "leak.II", "mL/min", "flow out of covered branches into the sac";
    "leak.III", "mL/min", "flow through a junction into the sac";
    "leak", "mL/min", "all flow into the sac";
    "sealed", "", "1 when a graft spans the lesion and the leak is below the threshold";
    "wire.tip_to_valve", "mm", "distance of the foremost wire tip from the aortic valve";
    "wire.stiff_bare", "", "1 while a stiff wire lies above the entry without a catheter or sheath over its tip";
    "wire.in_arch", "", "1 while a wire lies beyond the left subclavian";
    "access.ratio", "", "outer diameter of the widest device over the least access diameter";
    "contrast", "mL", "contrast given";
    "contrast.per_egfr", "", "contrast over estimated filtration rate";
    "kap", "Gy cm2", "kerma-area product";
    "kerma", "Gy", "air kerma at the reference point";
    "skin", "Gy", "highest dose to any patch of skin";
    "fluoro", "s", "fluoroscopy time";
    "off_profile", "deg", "angle between the view and a true side view of the upper landing zone";
    "heparin", "IU/kg", "heparin given, each kilogram";
    "pacing", "", "1 while paced fast";
    "breath_held", "", "1 while the breath is held";
    "screening", "", "1 while fluoroscopy is on";
    "table_locked", "", "1 while the table is locked";
    "reference_off", "", "1 while the C-arm, the table or the field stand elsewhere than when the marks were drawn";
    "general_anaesthesia", "", "1 under general anaesthesia";
    "briefed", "", "items covered in the briefing";
    "ward", "", "1 after the hand-over";
}

/// The families of signals whose last part is a name: prefix, unit, what the name is.
pub const FAMILIES: &[Signal] = &[
    Signal { name: "policy", unit: "", about: "a number of the case's local policy" },
    Signal { name: "var", unit: "", about: "a variable of the case" },
    Signal { name: "covered", unit: "%", about: "closed fraction of a vessel's ostium" },
    Signal { name: "injured", unit: "%", about: "part of an organ that will not recover" },
    Signal { name: "flow", unit: "mL/min", about: "mean flow in a vessel" },
    Signal { name: "risk", unit: "%", about: "a computed risk, as accrued so far" },
    Signal { name: "measured", unit: "mm", about: "a measurement that the trainee committed" },
];

/// The risks that a session computes, as rules name them: `risk.stroke`.
pub const RISKS: &[(&str, &str)] = &[
    ("perforation", "a wire or catheter goes through a vessel's wall"),
    ("ventricle_perforation", "a tip goes through the left ventricle"),
    ("valve_injury", "injury of the aortic valve"),
    ("stroke_right", "stroke, right hemisphere"),
    ("stroke_left", "stroke, left hemisphere"),
    ("stroke_posterior", "stroke, brain stem and cerebellum"),
    ("access_rupture", "rupture of an access vessel"),
    ("access_dissection", "dissection of an access vessel"),
    ("retrograde_dissection", "dissection back into the ascending aorta"),
    ("distal_new_entry", "new tear at a graft's lower end"),
    ("cord_ischaemia", "paraplegia from coverage, by published odds"),
    ("aortic_tear", "tear of the aortic wall by a balloon"),
    ("balloon_burst", "a balloon bursts"),
    ("non_target_embolus", "an embolic goes astray"),
    ("migration", "a graft slips out of its landing"),
    ("subdural", "a bleed beneath the dura, over a brain that sank when too much spinal fluid was drained"),
    ("closure_failure", "closure sutures do not hold"),
    ("canal_bleed", "a bleed in the spinal canal, from a bloody puncture under an anticoagulant"),
];

/// Every column of a sample, in order: the fixed signals, then the families for the vessels, organs, risks and measurements that
/// this engine knows and the variables that the case sets. `policy.NAME` is a constant of the case and no column.
pub fn columns(vars: &[String]) -> Vec<(String, &'static str)> {
    let mut out: Vec<(String, &'static str)> = SIGNALS.iter().map(|s| (s.name.to_string(), s.unit)).collect();
    let vessels = || names_of::<VesselName>().iter().filter(|v| **v != "aorta");
    out.extend(vessels().map(|v| (format!("covered.{v}"), "%")));
    out.extend(vessels().map(|v| (format!("flow.{v}"), "mL/min")));
    out.extend(names_of::<Organ>().iter().map(|o| (format!("injured.{o}"), "%")));
    out.extend(RISKS.iter().map(|(r, _)| (format!("risk.{r}"), "%")));
    out.extend(names_of::<Measured>().iter().map(|m| (format!("measured.{m}"), "mm")));
    out.extend(vars.iter().map(|v| (format!("var.{v}"), "")));
    out
}
