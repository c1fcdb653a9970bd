//! Whether the shelf can serve: a graft for each landing, a way in for it, enough of everything that plays use up.

use crate::anatomy::{Rail, Site, VesselName};
use crate::kit::graft::oversize_percent;
use crate::kit::{Device, Graft, GraftKind};
use crate::scenario::Order;
use crate::scenario::case::Case;
use crate::scenario::compile::plays::resolved;
use crate::scenario::compile::told::Told;
use crate::scenario::load::Loaded;
use std::collections::BTreeMap;

/// Oversizing that some graft should offer at the upper end, percent: from no seal to certain folds. Wider than any
/// recommendation (10 to 30 %), so that only a hopeless shelf is told of.
const USABLE_OVERSIZE: std::ops::RangeInclusive<f64> = 5.0..=35.0;
/// Healthy aorta beyond a lesion at which its landing is measured, mm.
const BESIDE_LESION_MM: f64 = 15.0;

/// Tells what does not fit or is not enough.
pub fn check(loaded: &Loaded, told: &mut Told<'_>) {
    stock(loaded, told);
    for (i, lesion) in loaded.tree.aorta().wall.lesions.iter().enumerate() {
        graft_for(loaded, &format!("anatomy.lesions[{i}]"), lesion.from_mm, lesion.to_mm, told);
    }
}

fn graft_for(loaded: &Loaded, path: &str, from_mm: f64, to_mm: f64, told: &mut Told<'_>) {
    let aorta = loaded.tree.aorta();
    let thoracic = loaded.tree.ostium_s_mm(VesselName::Coeliac).is_none_or(|coeliac| from_mm < coeliac);
    let suits = |g: &Graft| match g.kind {
        GraftKind::ThoracicTube => thoracic,
        GraftKind::BifurcatedBody { .. } | GraftKind::AortoUniIliac => !thoracic,
        _ => false,
    };
    let grafts: Vec<_> = loaded.shelf.grafts().filter(|(stocked, g)| stocked.count > 0 && suits(g)).collect();
    if grafts.is_empty() {
        return;
    }
    let above_mm = aorta.lumen.diameter_mm((from_mm - BESIDE_LESION_MM).max(0.0));
    let fitting: Vec<_> = grafts
        .iter()
        .filter(|(_, g)| USABLE_OVERSIZE.contains(&oversize_percent(g.proximal_mm, above_mm)))
        .filter(|(_, g)| !thoracic || g.open_length_mm() > to_mm - from_mm)
        .collect();
    if fitting.is_empty() {
        let sizes: Vec<f64> = grafts.iter().map(|(_, g)| g.proximal_mm).collect();
        let (least, most) = sizes.iter().fold((f64::MAX, 0.0_f64), |(a, b), s| (a.min(*s), b.max(*s)));
        let found =
            format!("no graft on the shelf fits above this: the aorta is {above_mm:.0} mm wide there");
        let doubt = told.doubt_of("fit", path, found);
        told.tell(doubt.hint(format!(
            "the shelf has {least:.0} to {most:.0} mm; a graft some 10 to 25 % wider than the aorta and longer than the \
             lesion would do"
        )));
        return;
    }
    let widest_way = [Site::RightFemoral, Site::LeftFemoral]
        .into_iter()
        .filter_map(|site| {
            let rail = Rail::for_access(&loaded.tree, site)?;
            let iliacs_mm = loaded.tree.aorta().curve.length_mm();
            Some(rail.narrowest_mm(&loaded.tree, iliacs_mm, rail.length_mm()).0)
        })
        .fold(0.0_f64, f64::max);
    let slimmest = fitting.iter().map(|(_, g)| g.delivery_mm()).fold(f64::MAX, f64::min);
    if widest_way > 0.0 && slimmest > 1.15 * widest_way {
        let found = format!(
            "no fitting graft can pass: the slimmest is {slimmest:.1} mm, the widest groin {widest_way:.1} mm"
        );
        let doubt = told.doubt_of("fit", path, found);
        told.tell(doubt.hint("widen an access vessel, or mean it: then an option must offer another way in"));
    }
}

/// Implants that a play uses up, against what there is.
fn stock(loaded: &Loaded, told: &mut Told<'_>) {
    let case = &loaded.case;
    for (i, play) in case.plays.iter().enumerate() {
        let Ok(full) = resolved(&case.plays, &play.name) else { continue };
        let mut used: BTreeMap<&str, u32> = BTreeMap::new();
        for order in full.steps.iter().flat_map(|s| &s.orders).flat_map(|o| with_answers(case, o)) {
            let device = match order {
                Order::Insert { device, .. } => device,
                Order::Exchange { put, .. } => put,
                _ => continue,
            };
            let single_use = |d: &Device| {
                matches!(d, Device::Graft(_) | Device::Stent(_) | Device::Coil(_) | Device::Plug(_))
            };
            if let Some(stocked) = loaded.shelf.get(device).filter(|s| single_use(&s.device)) {
                *used.entry(stocked.id.as_str()).or_default() += 1;
            }
        }
        for (id, count) in used {
            let there = loaded.shelf.get(id).map_or(0, |s| s.count);
            if count > there {
                let found = format!("the play `{}` uses {count} of `{id}`; the shelf has {there}", play.name);
                let doubt = told.doubt_of("fit", &format!("plays[{i}]"), found);
                told.tell(doubt.hint(format!("write shelf: (stock: {{ \"{id}\": {count} }})")));
            }
        }
    }
}

/// An order, or the orders of the option that it answers with.
fn with_answers<'c>(case: &'c Case, order: &'c Order) -> Vec<&'c Order> {
    let Order::Answer { ask, option, .. } = order else { return vec![order] };
    let ask = case.asks.iter().find(|a| a.id == *ask);
    let option = ask.and_then(|a| a.options.iter().find(|o| o.id == *option));
    option.map(|o| o.orders.iter().collect()).unwrap_or_default()
}
