//! Names of things as they are said aloud, and the rail as a paragraph for those who do not see it.

use super::words::Words;
use crate::anatomy::{Site, VesselName};
use crate::circulation::Anaesthesia;
use crate::imaging::cut::View;
use crate::scenario::order::{BriefItem, Closure, CtExtent, Guide, Mark, Measured, Plane, Worker};
use crate::session::view::RailView;
use std::fmt::Write;

/// A line's access.
pub fn site(site: Site) -> &'static str {
    site.label()
}

/// Abbreviations of the field, for the rail.
pub fn vessel_short(vessel: VesselName, w: &'static Words) -> &'static str {
    match vessel {
        VesselName::Innominate => w.short_innominate,
        VesselName::LeftCarotid => w.short_left_carotid,
        VesselName::LeftSubclavian => w.short_left_subclavian,
        VesselName::RightCarotid => w.short_right_carotid,
        VesselName::RightSubclavian => w.short_right_subclavian,
        VesselName::Coeliac => w.short_coeliac,
        VesselName::Sma => w.short_sma,
        VesselName::RightRenal => w.short_right_renal,
        VesselName::LeftRenal => w.short_left_renal,
        VesselName::Ima => w.short_ima,
        VesselName::RightCommonIliac => w.short_right_common_iliac,
        VesselName::LeftCommonIliac => w.short_left_common_iliac,
        VesselName::RightInternalIliac => w.short_right_internal_iliac,
        VesselName::LeftInternalIliac => w.short_left_internal_iliac,
        other => other.label(),
    }
}

/// A mark.
pub fn mark(mark: Mark, w: &'static Words) -> &'static str {
    match mark {
        Mark::LeftCarotid => w.mark_left_carotid,
        Mark::LeftSubclavian => w.mark_left_subclavian,
        Mark::ProximalLanding => w.mark_proximal_landing,
        Mark::DistalLanding => w.mark_distal_landing,
        Mark::Coeliac => w.mark_coeliac,
        Mark::LowestRenal => w.mark_lowest_renal,
        Mark::Lesion => w.mark_lesion,
    }
}

/// A mark's flag.
pub fn mark_short(name: Mark, w: &'static Words) -> &'static str {
    match name {
        Mark::LeftCarotid => w.flag_left_carotid,
        Mark::LeftSubclavian => w.flag_left_subclavian,
        Mark::ProximalLanding => w.flag_proximal_landing,
        Mark::DistalLanding => w.flag_distal_landing,
        Mark::LowestRenal => w.flag_lowest_renal,
        other => mark(other, w),
    }
}

/// A briefing's point.
pub fn brief(item: BriefItem, w: &'static Words) -> &'static str {
    match item {
        BriefItem::Roles => w.cover_roles,
        BriefItem::PressurePlan => w.cover_pressure_plan,
        BriefItem::HeparinPlan => w.cover_heparin_plan,
        BriefItem::DeviceAndSize => w.cover_device_and_size,
        BriefItem::WiresAndCatheters => w.cover_wires_and_catheters,
        BriefItem::Views => w.cover_views,
        BriefItem::Blood => w.cover_blood,
        BriefItem::OcclusionBalloon => w.cover_occlusion_balloon,
        BriefItem::WhatIf => w.cover_what_if,
        BriefItem::ContrastBudget => w.cover_contrast_budget,
    }
}

/// An extent.
pub fn extent(extent: CtExtent, w: &'static Words) -> &'static str {
    match extent {
        CtExtent::Chest => w.extent_chest,
        CtExtent::WholeAorta => w.extent_whole_aorta,
    }
}

/// A measurement.
pub fn measured(what: Measured, w: &'static Words) -> &'static str {
    match what {
        Measured::ProximalDiameter => w.measured_proximal_diameter,
        Measured::DistalDiameter => w.measured_distal_diameter,
        Measured::ProximalLength => w.measured_proximal_length,
        Measured::DistalLength => w.measured_distal_length,
        Measured::TreatedLength => w.measured_treated_length,
        Measured::RightAccess => w.measured_right_access,
        Measured::LeftAccess => w.measured_left_access,
    }
}

/// A plane.
pub fn plane(plane: Plane, w: &'static Words) -> &'static str {
    match plane {
        Plane::Orthogonal => w.plane_orthogonal,
        Plane::Axial => w.plane_axial,
        Plane::Run => w.plane_run,
        Plane::Projection => w.plane_projection,
    }
}

/// A picture of the CT in one word.
pub fn ct_view(view: View, w: &'static Words) -> &'static str {
    match view {
        View::Axial => w.ct_axial,
        View::Across => w.ct_across,
        View::Stretched => w.ct_stretched,
        View::Brightest => w.ct_brightest,
    }
}

/// The same in a sentence.
pub fn ct_view_about(view: View, w: &'static Words) -> &'static str {
    match view {
        View::Axial => w.ct_axial_about,
        View::Across => w.ct_across_about,
        View::Stretched => w.ct_stretched_about,
        View::Brightest => w.ct_brightest_about,
    }
}

/// A plane in one word.
pub fn plane_short(plane: Plane, w: &'static Words) -> &'static str {
    match plane {
        Plane::Orthogonal => w.plane_short_orthogonal,
        Plane::Axial => w.plane_short_axial,
        Plane::Run => w.plane_short_run,
        Plane::Projection => w.plane_short_projection,
    }
}

/// How a puncture is guided.
pub fn guide(guide: Guide, w: &'static Words) -> &'static str {
    match guide {
        Guide::Ultrasound => w.guide_ultrasound,
        Guide::Landmark => w.guide_landmark,
        Guide::CutDown => w.guide_cut_down,
    }
}

/// How an access is closed.
pub fn closure(how: Closure, w: &'static Words) -> &'static str {
    match how {
        Closure::Sutures => w.closure_sutures,
        Closure::Pressure => w.closure_pressure,
        Closure::Surgical => w.closure_surgical,
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
pub fn rail(rail: &RailView, w: &'static Words) -> String {
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
        let _ = write!(text, " {} {}: {at:.0} mm.", w.twin_mark, mark(*name, w));
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
