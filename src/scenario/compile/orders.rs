//! Orders that make no sense: devices that are not there or cannot do it, doses in another unit, numbers that cannot be.

use super::told::Told;
use super::walk;
use crate::anatomy::Place;
use crate::circulation::Drug;
use crate::kit::{Device, Shelf};
use crate::scenario::Order;
use crate::scenario::case::{Action, Case, Ledger};
use crate::scenario::quantity::{Dose, DoseUnit};
use crate::scenario::range::{self, patient_ranges};

/// Tells orders and other numbers that cannot be.
pub fn check(case: &Case, shelf: &Shelf, told: &mut Told<'_>) {
    for (path, order) in walk::orders(case) {
        devices(&path, order, shelf, told);
        numbers(&path, order, told);
    }
    told.in_range("about.level", "about", "level", f64::from(case.about.level));
    told.in_range("start.sbp_mmhg", "start", "sbp_mmhg", case.start.sbp_mmhg.unwrap_or(100.0));
    told.in_range(
        "start.heart_rate_bpm",
        "start",
        "heart_rate_bpm",
        case.start.heart_rate_bpm.unwrap_or(80.0),
    );
    for (i, (_, ml)) in case.start.lost_ml.iter().enumerate() {
        told.in_range(&format!("start.lost_ml[{i}][1]"), "start", "lost_ml", *ml);
    }
    told.in_range("start.crystalloid_ml", "start", "crystalloid_ml", case.start.crystalloid_ml);
    told.in_range("start.minutes_since", "start", "minutes_since", case.start.minutes_since);
    for (field, low, high) in patient_ranges() {
        let given = serde_json::to_value(&case.patient).ok();
        if let Some(value) = given.as_ref().and_then(|p| p.get(&field)).and_then(|v| v.as_f64()) {
            told.range(&format!("patient.{field}"), value, low, high, "");
        }
    }
    in_place(case, shelf, told);
    for (i, happening) in case.happenings.iter().enumerate() {
        told.in_range(&format!("happenings[{i}].chance"), "happening", "chance", happening.chance);
    }
    for (i, mark) in case.marks.iter().enumerate() {
        told.in_range(&format!("marks[{i}].weight"), "mark", "weight", mark.weight);
        if let Ledger::Error { danger, .. } = mark.ledger {
            told.in_range(&format!("marks[{i}].ledger.error.danger"), "error", "danger", f64::from(danger));
        }
    }
    for (path, action) in walk::actions(case) {
        match action {
            Action::Bleed(bleed) => {
                told.in_range(&format!("{path}.bleed.area_mm2"), "bleed", "area_mm2", bleed.area_mm2)
            }
            Action::ScaleBleed { factor, .. } => {
                told.in_range(&format!("{path}.scale_bleed.factor"), "scale_bleed", "factor", *factor)
            }
            Action::Patency { open, .. } => {
                told.in_range(&format!("{path}.patency.open"), "patency", "open", *open)
            }
            _ => {}
        }
    }
}

/// What lies in the patient when the case begins.
fn in_place(case: &Case, shelf: &Shelf, told: &mut Told<'_>) {
    let found = &case.in_place;
    for (i, graft) in found.grafts.iter().enumerate() {
        let is_graft = |d: &Device| matches!(d, Device::Graft(_));
        on_shelf(&format!("in_place.grafts[{i}].device"), &graft.device, shelf, "graft", is_graft, told);
        if let Place::Mm(s) = graft.edge {
            told.in_range(&format!("in_place.grafts[{i}].edge"), "earlier_graft", "edge", s);
        }
    }
    for (i, line) in found.lines.iter().enumerate() {
        let path = format!("in_place.lines[{i}]");
        told.in_range(&format!("{path}.torn_mm2"), "open_line", "torn_mm2", line.torn_mm2);
        for (j, lying) in line.items.iter().enumerate() {
            let path = format!("{path}.items[{j}]");
            on_shelf(&format!("{path}.device"), &lying.device, shelf, "device", |_| true, told);
            told.in_range(&format!("{path}.tip_mm"), "lying", "tip_mm", lying.tip_mm);
        }
    }
    if let Some(level) = found.csf_drain_mmhg {
        told.in_range("in_place.csf_drain_mmhg", "in_place", "csf_drain_mmhg", level);
    }
    if let Some(targets) = found.ward {
        told.in_range("in_place.ward.map_low_mmhg", "ward_targets", "map_low_mmhg", targets.map_low_mmhg);
        told.in_range("in_place.ward.sbp_high_mmhg", "ward_targets", "sbp_high_mmhg", targets.sbp_high_mmhg);
    }
}

/// Which devices an order can be about.
fn devices(path: &str, order: &Order, shelf: &Shelf, told: &mut Told<'_>) {
    let any = |_: &Device| true;
    let inflatable = |d: &Device| matches!(d, Device::Balloon(_) | Device::Stent(_));
    let blocks = |d: &Device| matches!(d, Device::Coil(_) | Device::Plug(_) | Device::Particles(_));
    let opens = |d: &Device| matches!(d, Device::Stent(_));
    match order {
        Order::Insert { device, .. } => {
            on_shelf(&format!("{path}.insert.device"), device, shelf, "device", any, told)
        }
        Order::Move { device, .. } => {
            on_shelf(&format!("{path}.move.device"), device, shelf, "device", any, told)
        }
        Order::Remove { device, .. } => {
            on_shelf(&format!("{path}.remove.device"), device, shelf, "device", any, told)
        }
        Order::Exchange { out, put, .. } => {
            on_shelf(&format!("{path}.exchange.out"), out, shelf, "device", any, told);
            on_shelf(&format!("{path}.exchange.put"), put, shelf, "device", any, told);
        }
        Order::Inflate { device, ml, .. } => {
            on_shelf(&format!("{path}.inflate.device"), device, shelf, "balloon", inflatable, told);
            if let Some(Device::Balloon(balloon)) = shelf.get(device).map(|s| &s.device) {
                told.range(&format!("{path}.inflate.ml"), *ml, 0.0, 1.5 * balloon.max_ml, "mL");
            }
        }
        Order::Deflate { device, .. } => {
            on_shelf(&format!("{path}.deflate.device"), device, shelf, "balloon", inflatable, told);
        }
        Order::StentBranch { device, .. } => {
            on_shelf(&format!("{path}.stent_branch.device"), device, shelf, "stent", opens, told);
        }
        Order::Embolise { device, .. } => {
            on_shelf(
                &format!("{path}.embolise.device"),
                device,
                shelf,
                "coil, plug or particles",
                blocks,
                told,
            );
        }
        _ => {}
    }
}

fn on_shelf(
    path: &str,
    id: &str,
    shelf: &Shelf,
    kind: &str,
    fits: impl Fn(&Device) -> bool,
    told: &mut Told<'_>,
) {
    let fitting = || shelf.items.iter().filter(|s| fits(&s.device)).map(|s| s.id.as_str());
    match shelf.get(id) {
        None => {
            let near = crate::scenario::nearest(id, fitting());
            let fault = told.fault("name-unknown", path, format!("there is no {kind} `{id}` on the shelf"));
            told.tell(fault.hint(match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => "`overwire explain shelf` lists what there is; `shelf.only` must name it too, if it names any".into(),
            }));
        }
        Some(found) if !fits(&found.device) => {
            let fault = told.fault("device", path, format!("`{id}` is not a {kind}: {}", found.label));
            told.tell(fault.hint(format!("there is {}", crate::scenario::load::words::one_of(fitting()))));
        }
        Some(_) => {}
    }
}

fn numbers(path: &str, order: &Order, told: &mut Told<'_>) {
    let path = format!("{path}.{}", order.verb());
    for (field, value) in range::numbers(order) {
        told.in_range(&format!("{path}.{field}"), order.verb(), field, value);
    }
    match order {
        Order::KeepSystolic { low_mmhg, high_mmhg } if low_mmhg >= high_mmhg => {
            let fault =
                told.fault("range", &format!("{path}.high_mmhg"), "the upper limit is not above the lower");
            told.tell(fault.hint(format!("write more than {low_mmhg}")));
        }
        Order::Give { .. } | Order::Infuse { .. } if told.is_made_up(&format!("{path}.drug")) => {}
        Order::Give { drug, dose } => drug_unit(&format!("{path}.dose"), *drug, dose, drug.unit(), told),
        Order::Infuse { drug, rate } => {
            drug_unit(&format!("{path}.rate"), *drug, &rate.dose, drug.rate_unit(), told)
        }
        _ => {}
    }
}

/// A dose in a unit that measures something else than the drug is counted in.
fn drug_unit(path: &str, drug: Drug, dose: &Dose, wanted: &str, told: &mut Told<'_>) {
    let kind = |unit: DoseUnit| match unit {
        DoseUnit::Microgram | DoseUnit::Milligram | DoseUnit::Gram => "mass",
        DoseUnit::Unit => "units",
        DoseUnit::Millilitre => "volume",
        DoseUnit::Millimole => "amount",
    };
    let first = wanted.split('/').next().unwrap_or(wanted);
    let wanted_kind = match first {
        "ug" | "mg" | "g" => "mass",
        "U" | "IU" => "units",
        "ml" | "mL" => "volume",
        _ => "amount",
    };
    if kind(dose.unit) != wanted_kind {
        let fault =
            told.fault("unit", path, format!("{} is not counted in {}", drug.label(), dose.unit.symbol()));
        told.tell(fault.expected(format!("a dose in {wanted}")).hint(format!("write it in {wanted}")));
    }
}
