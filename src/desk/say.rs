//! Names of things as they are said aloud, and the rail as a paragraph for those who do not see it.

use super::words::Words;
use crate::anatomy::{Site, VesselName};
use crate::circulation::Anaesthesia;
use crate::scenario::order::{BriefItem, Closure, CtExtent, Guide, Mark, Measured, Plane, Worker};
use crate::session::view::RailView;
use std::fmt::Write;

/// A line's access.
pub fn site(site: Site) -> &'static str {
    site.label()
}

/// Abbreviations of the field, for the rail.
pub fn vessel_short(vessel: VesselName) -> &'static str {
    match vessel {
        VesselName::Innominate => "IA",
        VesselName::LeftCarotid => "LCCA",
        VesselName::LeftSubclavian => "LSA",
        VesselName::RightCarotid => "RCCA",
        VesselName::RightSubclavian => "RSA",
        VesselName::Coeliac => "coeliac",
        VesselName::Sma => "SMA",
        VesselName::RightRenal => "R renal",
        VesselName::LeftRenal => "L renal",
        VesselName::Ima => "IMA",
        VesselName::RightCommonIliac => "R iliac",
        VesselName::LeftCommonIliac => "L iliac",
        VesselName::RightInternalIliac => "R int. iliac",
        VesselName::LeftInternalIliac => "L int. iliac",
        other => other.label(),
    }
}

/// A mark.
pub fn mark(mark: Mark) -> &'static str {
    match mark {
        Mark::LeftCarotid => "left carotid",
        Mark::LeftSubclavian => "left subclavian",
        Mark::ProximalLanding => "upper landing",
        Mark::DistalLanding => "lower landing",
        Mark::Coeliac => "coeliac",
        Mark::LowestRenal => "lowest renal",
        Mark::Lesion => "lesion",
    }
}

/// A mark's flag.
pub fn mark_short(name: Mark) -> &'static str {
    match name {
        Mark::LeftCarotid => "carotid",
        Mark::LeftSubclavian => "subclavian",
        Mark::ProximalLanding => "upper",
        Mark::DistalLanding => "lower",
        Mark::LowestRenal => "renal",
        other => mark(other),
    }
}

/// A briefing's point.
pub fn brief(item: BriefItem) -> &'static str {
    match item {
        BriefItem::Roles => "who does what",
        BriefItem::PressurePlan => "pressure: targets before, during and after release",
        BriefItem::HeparinPlan => "heparin: how much, when, and what if it bleeds",
        BriefItem::DeviceAndSize => "the graft and its size, and a spare",
        BriefItem::WiresAndCatheters => "wires and catheters, in order",
        BriefItem::Views => "the views",
        BriefItem::Blood => "blood in the room",
        BriefItem::OcclusionBalloon => "occlusion balloon at hand",
        BriefItem::WhatIf => "what if: the ways it can go wrong",
        BriefItem::ContrastBudget => "how much contrast",
    }
}

/// An extent.
pub fn extent(extent: CtExtent) -> &'static str {
    match extent {
        CtExtent::Chest => "the chest",
        CtExtent::WholeAorta => "neck to groins",
    }
}

/// A measurement.
pub fn measured(what: Measured) -> &'static str {
    match what {
        Measured::ProximalDiameter => "aorta, upper landing: diameter",
        Measured::DistalDiameter => "aorta, lower landing: diameter",
        Measured::ProximalLength => "healthy length above the lesion",
        Measured::DistalLength => "healthy length below the lesion",
        Measured::TreatedLength => "length to cover",
        Measured::RightAccess => "right access: least diameter",
        Measured::LeftAccess => "left access: least diameter",
    }
}

/// A plane.
pub fn plane(plane: Plane) -> &'static str {
    match plane {
        Plane::Orthogonal => "at right angles to the centreline",
        Plane::Axial => "axial, as the scanner cut it",
        Plane::Run => "on a run, by a marked catheter",
    }
}

/// A plane in one word.
pub fn plane_short(plane: Plane) -> &'static str {
    match plane {
        Plane::Orthogonal => "to centreline",
        Plane::Axial => "axial",
        Plane::Run => "on a run",
    }
}

/// How a puncture is guided.
pub fn guide(guide: Guide) -> &'static str {
    match guide {
        Guide::Ultrasound => "ultrasound, sutures placed first",
        Guide::Landmark => "landmark",
        Guide::CutDown => "cut-down",
    }
}

/// How an access is closed.
pub fn closure(how: Closure) -> &'static str {
    match how {
        Closure::Sutures => "the sutures placed before",
        Closure::Pressure => "by hand",
        Closure::Surgical => "open repair",
    }
}

/// An anaesthetic.
pub fn anaesthesia(kind: Anaesthesia, w: &'static Words) -> &'static str {
    match kind {
        Anaesthesia::None => w.anaesthesia_none,
        Anaesthesia::Local => w.anaesthesia_local,
        Anaesthesia::General(_) => w.anaesthesia_general,
    }
}

/// Whose hands.
pub fn worker(worker: Worker, w: &'static Words) -> &'static str {
    match worker {
        Worker::Nobody => "",
        Worker::Operator => w.operator,
        Worker::Anaesthetist => w.anaesthetist,
        Worker::Runner => w.runner,
    }
}

/// A group of orders.
pub fn group(group: &str, w: &'static Words) -> &'static str {
    match group {
        "access" => w.group_access,
        "lines" => w.group_lines,
        "picture" => w.group_picture,
        "deploy" => w.group_deploy,
        "patient" => w.group_patient,
        _ => w.group_team,
    }
}

/// The whole rail as a paragraph.
pub fn rail(rail: &RailView, w: &Words) -> String {
    let mut text = format!("{}: 0 to {:.0} mm.", w.rail, rail.length_mm);
    let stretches =
        [(w.twin_zone, &rail.zones), (w.twin_lesion, &rail.lesions), (w.twin_graft, &rail.grafts)];
    for (name, all) in stretches {
        for (label, from, to) in all {
            let _ = write!(text, " {name} {label}: {from:.0} to {to:.0} mm.");
        }
    }
    for (vessel, at) in &rail.ostia {
        let _ = write!(text, " {}: {at:.0} mm.", vessel.label());
    }
    for (name, at) in &rail.marks {
        let _ = write!(text, " {} {}: {at:.0} mm.", w.twin_mark, mark(*name));
    }
    for line in &rail.lines {
        let _ = write!(text, " {}: ", site(line.site));
        let items: Vec<String> =
            line.items.iter().map(|i| format!("{} to {:.0} mm", i.label, i.tip_mm)).collect();
        text.push_str(if items.is_empty() { w.twin_nothing } else { "" });
        text.push_str(&items.join(", "));
        text.push('.');
    }
    text
}
