//! An order's own values as a small form. The order itself is what is edited, so nothing is kept twice.

use super::say;
use super::theme::Look;
use crate::anatomy::{Site, VesselName};
use crate::circulation::{Anaesthesia, Drug, Product, Test};
use crate::scenario::Order;
use crate::scenario::order::{BriefItem, Closure, CtExtent, Guide, Mark, Measured, Plane};
use crate::scenario::quantity::{Dose, Rate, Span};
use crate::session::view::View;
use egui::{ComboBox, DragValue, Ui};
use std::fmt::Display;

/// Is there anything to set?
pub fn has_form(order: &Order) -> bool {
    !matches!(
        order,
        Order::FreeSystolic
            | Order::ChestDrain
            | Order::OpenBelly
            | Order::Finish
            | Order::Answer { .. }
            | Order::Screen { .. }
            | Order::LockTable { .. }
    )
}

/// An order of this verb to begin from; none where nothing sensible can be named yet.
pub fn blank(verb: &str, view: &View) -> Option<Order> {
    let line = view.rail.lines.first();
    let site = line.map_or(Site::RightFemoral, |l| l.site);
    let item = |kind: &str| {
        view.rail.lines.iter().find_map(|l| {
            l.items.iter().find(|i| i.kind == kind).map(|i| (l.site, i.device.clone(), i.tip_mm))
        })
    };
    let any = || line.and_then(|l| l.items.first().map(|i| (l.site, i.device.clone(), i.tip_mm)));
    let shelf = |kind: &str| view.shelf.iter().find(|d| d.kind == kind && d.left > 0).map(|d| d.id.clone());
    let first = || view.shelf.iter().find(|d| d.left > 0).map(|d| d.id.clone());
    Some(match verb {
        "brief" => Order::Brief { items: Vec::new() },
        "call" => Order::Call { who: String::new() },
        "note" => Order::Note { text: String::new() },
        "read_ct" => Order::ReadCt { extent: CtExtent::WholeAorta },
        "measure" => {
            Order::Measure { what: Measured::ProximalDiameter, mm: 25.0, plane: Plane::default(), run: None }
        }
        "puncture" => Order::Puncture { site, guide: Guide::default() },
        "insert" => Order::Insert { site, device: first()? },
        "move" => any().map(|(site, device, to_mm)| Order::Move { site, device, to_mm })?,
        "exchange" => any().and_then(|(site, out, _)| Some(Order::Exchange { site, out, put: first()? }))?,
        "remove" => any().map(|(site, device, _)| Order::Remove { site, device })?,
        "aim" => Order::Aim { primary_deg: view.carm.primary_deg, secondary_deg: view.carm.secondary_deg },
        "screen" => Order::Screen { on: !view.carm.screening },
        "lock_table" => Order::LockTable { on: !view.carm.table_locked },
        "pan" => Order::Pan { left_mm: 0.0, head_mm: 50.0 },
        "field" => Order::Field { edge_mm: view.carm.field_mm },
        "collimate" => {
            let [left_percent, right_percent, top_percent, bottom_percent] = view.carm.shutters_percent;
            Order::Collimate { left_percent, right_percent, top_percent, bottom_percent }
        }
        "frame_rate" => {
            let [screening_per_s, runs_per_s] = view.carm.rates_per_s;
            Order::FrameRate { screening_per_s, runs_per_s }
        }
        "run" => Order::Run { site, rate_ml_s: 15.0, volume_ml: 20.0, seconds: 8.0, breath_hold: true },
        "mark" => Order::Mark { name: Mark::LeftSubclavian, at_mm: 100.0 },
        "unsheathe" => Order::Unsheathe { site: item("graft").map_or(site, |g| g.0), by_mm: Some(10.0) },
        "release_tip" => Order::ReleaseTip { site: item("graft").map_or(site, |g| g.0) },
        "inflate" => item("balloon").map(|(site, device, _)| Order::Inflate { site, device, ml: 10.0 })?,
        "deflate" => item("balloon").map(|(site, device, _)| Order::Deflate { site, device })?,
        "embolise" => {
            let device = shelf("embolic").or_else(|| shelf("coil")).or_else(|| shelf("plug"))?;
            Order::Embolise { site, device, vessel: VesselName::LeftSubclavian, amount: 1.0 }
        }
        "stent_branch" => Order::StentBranch { site, device: shelf("stent")?, vessel: VesselName::Sma },
        "give" => Order::Give { drug: Drug::Noradrenaline, dose: dose(Drug::Noradrenaline, 10.0)? },
        "infuse" => Order::Infuse { drug: Drug::Noradrenaline, rate: rate(Drug::Noradrenaline, 0.05)? },
        "transfuse" => Order::Transfuse { product: Product::ALL[0], ml: 250.0, over: Span::seconds(600) },
        "keep_systolic" => Order::KeepSystolic { low_mmhg: 90.0, high_mmhg: 110.0 },
        "free_systolic" => Order::FreeSystolic,
        "pace" => Order::Pace { bpm: Some(180.0) },
        "breath_hold" => Order::BreathHold { on: true },
        "anaesthetise" => Order::Anaesthetise { kind: Anaesthesia::Local },
        "csf_drain" => Order::CsfDrain { at_mmhg: Some(10.0), most_ml_h: Some(15.0) },
        "chest_drain" => Order::ChestDrain,
        "open_belly" => Order::OpenBelly,
        "warm" => Order::Warm { on: true },
        "lab" => Order::Lab { test: Test::ALL[0] },
        "revascularise" => Order::Revascularise { vessel: VesselName::LeftSubclavian },
        "close" => Order::Close { site, how: Closure::Sutures },
        "hand_over" => Order::HandOver {
            map_low_mmhg: 80.0,
            sbp_high_mmhg: 140.0,
            hourly_neuro: true,
            ct_hours: Some(48.0),
        },
        "recover" => Order::Recover { hours: 6.0 },
        "finish" => Order::Finish,
        _ => return None,
    })
}

/// Fields for everything that the order leaves open.
pub fn form(ui: &mut Ui, look: &Look, view: &View, order: &mut Order) {
    let w = look.words;
    match order {
        Order::Brief { items } => {
            for item in BriefItem::ALL {
                let mut said = items.contains(&item);
                if ui.checkbox(&mut said, say::brief(item, w)).changed() {
                    items.retain(|i| *i != item);
                    if said {
                        items.push(item);
                        items.sort();
                    }
                }
            }
        }
        Order::Call { who } => text(ui, w.who, who),
        Order::Note { text: note } => text(ui, w.note, note),
        Order::ReadCt { extent } => {
            choose(ui, w.extent, extent, &[CtExtent::Chest, CtExtent::WholeAorta], |e| say::extent(*e, w));
        }
        Order::Measure { what, mm, plane, .. } => {
            choose(ui, w.what, what, &Measured::ALL, |m| say::measured(*m, w));
            number(ui, w.value, mm, 1.0..=400.0, " mm", 1);
            choose(
                ui,
                w.plane,
                plane,
                &[Plane::Orthogonal, Plane::Axial, Plane::Projection, Plane::Run],
                |p| say::plane(*p, w),
            );
        }
        Order::Puncture { site, guide } => {
            choose(ui, w.site, site, &Site::ALL, |s| say::site(*s));
            choose(ui, w.guide, guide, &[Guide::Ultrasound, Guide::Landmark, Guide::CutDown], |g| {
                say::guide(*g, w)
            });
        }
        Order::Insert { site, device } => {
            line(ui, look, view, site);
            shelf(ui, look, w.device, view, device);
        }
        Order::Move { site, device, to_mm } => {
            lying(ui, look, view, site, device);
            number(ui, w.to, to_mm, 0.0..=view.rail.length_mm.max(1.0), " mm", 0);
        }
        Order::Exchange { site, out, put } => {
            lying(ui, look, view, site, out);
            shelf(ui, look, w.put_in, view, put);
        }
        Order::Remove { site, device } | Order::Deflate { site, device } => {
            lying(ui, look, view, site, device)
        }
        Order::Aim { primary_deg, secondary_deg } => {
            number(ui, w.primary_angle, primary_deg, -90.0..=90.0, "° LAO", 0);
            number(ui, w.secondary_angle, secondary_deg, -45.0..=45.0, "° CRA", 0);
        }
        Order::Pan { left_mm, head_mm } => {
            number(ui, w.to_left, left_mm, -250.0..=250.0, " mm", 0);
            number(ui, w.to_head, head_mm, -600.0..=600.0, " mm", 0);
        }
        Order::Field { edge_mm } => number(ui, w.field_edge, edge_mm, 150.0..=480.0, " mm", 0),
        Order::Collimate { left_percent, right_percent, top_percent, bottom_percent } => {
            number(ui, w.from_left, left_percent, 0.0..=45.0, " %", 0);
            number(ui, w.from_right, right_percent, 0.0..=45.0, " %", 0);
            number(ui, w.from_top, top_percent, 0.0..=45.0, " %", 0);
            number(ui, w.from_bottom, bottom_percent, 0.0..=45.0, " %", 0);
        }
        Order::FrameRate { screening_per_s, runs_per_s } => {
            number(ui, w.pulses, screening_per_s, 1.0..=30.0, " /s", 1);
            number(ui, w.run_frames, runs_per_s, 0.5..=7.5, " /s", 1);
        }
        Order::Run { site, rate_ml_s, volume_ml, seconds, breath_hold } => {
            line(ui, look, view, site);
            number(ui, w.rate, rate_ml_s, 0.5..=30.0, " mL/s", 1);
            number(ui, w.volume, volume_ml, 1.0..=60.0, " mL", 0);
            number(ui, w.frames_for, seconds, 1.0..=30.0, " s", 0);
            ui.checkbox(breath_hold, w.breath_held);
        }
        Order::Mark { name, at_mm } => {
            choose(ui, w.what, name, &Mark::ALL, |m| say::mark(*m, w));
            number(ui, w.at, at_mm, 0.0..=view.rail.length_mm.max(1.0), " mm", 0);
        }
        Order::Unsheathe { site, by_mm } => {
            line(ui, look, view, site);
            let mut all = by_mm.is_none();
            if ui.checkbox(&mut all, w.whole_graft).changed() {
                *by_mm = if all { None } else { Some(10.0) };
            }
            if let Some(mm) = by_mm {
                number(ui, w.by, mm, 1.0..=300.0, " mm", 0);
            }
        }
        Order::ReleaseTip { site } => line(ui, look, view, site),
        Order::Inflate { site, device, ml } => {
            lying(ui, look, view, site, device);
            number(ui, w.volume, ml, 0.0..=60.0, " mL", 0);
        }
        Order::Embolise { site, device, vessel, amount } => {
            line(ui, look, view, site);
            shelf(ui, look, w.device, view, device);
            vessels(ui, look, view, vessel);
            number(ui, w.amount, amount, 0.1..=100.0, "", 1);
        }
        Order::StentBranch { site, device, vessel } => {
            line(ui, look, view, site);
            shelf(ui, look, w.device, view, device);
            vessels(ui, look, view, vessel);
        }
        Order::Give { drug, dose: d } => {
            if drugs(ui, look, drug)
                && let Some(new) = dose(*drug, d.amount)
            {
                *d = new;
            }
            quantity(ui, look, d);
        }
        Order::Infuse { drug, rate: r } => {
            if drugs(ui, look, drug)
                && let Some(new) = rate(*drug, r.dose.amount)
            {
                *r = new;
            }
            let unit = format!(" {}", drug.rate_unit());
            amount(ui, w.rate, &mut r.dose.amount, &unit);
        }
        Order::Transfuse { product, ml, over } => {
            choose(ui, w.what, product, &Product::ALL, |p| p.label());
            number(ui, w.volume, ml, 10.0..=3000.0, " mL", 0);
            let mut minutes = over.as_seconds() / 60.0;
            number(ui, w.over, &mut minutes, 1.0..=240.0, " min", 0);
            *over = Span { ms: (minutes * 60_000.0).round().max(1.0) as u64 };
        }
        Order::KeepSystolic { low_mmhg, high_mmhg } => {
            number(ui, w.not_below, low_mmhg, 40.0..=200.0, " mmHg", 0);
            number(ui, w.not_above, high_mmhg, 50.0..=220.0, " mmHg", 0);
            *high_mmhg = high_mmhg.max(*low_mmhg);
        }
        Order::Pace { bpm } => {
            let mut on = bpm.is_some();
            if ui.checkbox(&mut on, w.pacing).changed() {
                *bpm = on.then_some(180.0);
            }
            if let Some(bpm) = bpm {
                number(ui, w.rate, bpm, 60.0..=220.0, " /min", 0);
            }
        }
        Order::BreathHold { on } => {
            ui.checkbox(on, w.breath_held);
        }
        Order::Warm { on } => {
            ui.checkbox(on, w.warming);
        }
        Order::Anaesthetise { kind } => {
            choose(ui, w.what, kind, &[Anaesthesia::Local, Anaesthesia::General(1.0)], |a| {
                say::anaesthesia(*a, w)
            })
        }
        Order::CsfDrain { at_mmhg, most_ml_h } => {
            let mut open = at_mmhg.is_some();
            if ui.checkbox(&mut open, w.drain_open).changed() {
                *at_mmhg = open.then_some(10.0);
            }
            if let Some(p) = at_mmhg {
                number(ui, w.opens_at, p, 0.0..=25.0, " mmHg", 0);
                let mut capped = most_ml_h.is_some();
                if ui.checkbox(&mut capped, w.drain_capped).changed() {
                    *most_ml_h = capped.then_some(15.0);
                }
                if let Some(ml) = most_ml_h {
                    number(ui, w.drain_most, ml, 5.0..=60.0, " mL/h", 0);
                }
            }
        }
        Order::Lab { test } => choose(ui, w.what, test, &Test::ALL, |t| t.label()),
        Order::Revascularise { vessel } => vessels(ui, look, view, vessel),
        Order::Close { site, how } => {
            line(ui, look, view, site);
            choose(ui, w.how, how, &[Closure::Sutures, Closure::Pressure, Closure::Surgical], |c| {
                say::closure(*c, w)
            });
        }
        Order::HandOver { map_low_mmhg, sbp_high_mmhg, hourly_neuro, ct_hours } => {
            number(ui, w.map_not_below, map_low_mmhg, 50.0..=120.0, " mmHg", 0);
            number(ui, w.sbp_not_above, sbp_high_mmhg, 90.0..=200.0, " mmHg", 0);
            ui.checkbox(hourly_neuro, w.hourly_legs);
            let mut image = ct_hours.is_some();
            if ui.checkbox(&mut image, w.image_repair).changed() {
                *ct_hours = image.then_some(48.0);
            }
            if let Some(hours) = ct_hours {
                number(ui, w.after, hours, 1.0..=168.0, " h", 0);
            }
        }
        Order::Recover { hours } => number(ui, w.how_long, hours, 0.5..=72.0, " h", 1),
        Order::Answer { .. }
        | Order::Screen { .. }
        | Order::LockTable { .. }
        | Order::FreeSystolic
        | Order::ChestDrain
        | Order::OpenBelly
        | Order::Finish => {}
    }
}

/// A name and a field beside it.
pub fn number(
    ui: &mut Ui,
    name: &str,
    value: &mut f64,
    range: std::ops::RangeInclusive<f64>,
    suffix: &str,
    decimals: usize,
) {
    ui.horizontal(|ui| {
        let label = ui.label(name);
        let step = if decimals == 0 { 1.0 } else { 0.1 };
        ui.add(DragValue::new(value).range(range).suffix(suffix).speed(step).fixed_decimals(decimals))
            .labelled_by(label.id);
    });
}

fn amount(ui: &mut Ui, name: &str, value: &mut f64, suffix: &str) {
    ui.horizontal(|ui| {
        let label = ui.label(name);
        let step = (0.02 * *value).max(0.001);
        ui.add(DragValue::new(value).range(0.0..=1e6).suffix(suffix).speed(step).max_decimals(3))
            .labelled_by(label.id);
    });
}

/// A name and a list to choose from.
pub fn choose<T: Copy + PartialEq, S: Display>(
    ui: &mut Ui,
    name: &str,
    value: &mut T,
    all: &[T],
    say: impl Fn(&T) -> S,
) {
    ui.horizontal(|ui| {
        let label = ui.label(name);
        let width = (ui.available_width() - 8.0).max(90.0);
        ComboBox::from_id_salt(name)
            .selected_text(say(value).to_string())
            .width(width)
            .truncate()
            .show_ui(ui, |ui| {
                for one in all {
                    ui.selectable_value(value, *one, say(one).to_string());
                }
            })
            .response
            .labelled_by(label.id);
    });
}

fn choose_string(ui: &mut Ui, name: &str, value: &mut String, all: &[(String, String)]) {
    let shown = all.iter().find(|a| a.0 == *value).map_or(value.as_str(), |a| a.1.as_str()).to_owned();
    ui.horizontal(|ui| {
        let label = ui.label(name);
        let width = (ui.available_width() - 8.0).max(90.0);
        ComboBox::from_id_salt(name)
            .selected_text(shown)
            .width(width)
            .truncate()
            .height(420.0)
            .show_ui(ui, |ui| {
                for (id, words) in all {
                    ui.selectable_value(value, id.clone(), words);
                }
            })
            .response
            .labelled_by(label.id);
    });
}

fn text(ui: &mut Ui, name: &str, value: &mut String) {
    let label = ui.label(name);
    ui.add(egui::TextEdit::singleline(value).desired_width(f32::INFINITY)).labelled_by(label.id);
}

/// One of the lines that are open.
fn line(ui: &mut Ui, look: &Look, view: &View, site: &mut Site) {
    let open: Vec<Site> = view.rail.lines.iter().map(|l| l.site).collect();
    choose(ui, look.words.line, site, &open, |s| say::site(*s));
}

/// A line and a device that lies on it.
fn lying(ui: &mut Ui, look: &Look, view: &View, site: &mut Site, device: &mut String) {
    line(ui, look, view, site);
    let there = view.rail.lines.iter().filter(|l| l.site == *site).flat_map(|l| &l.items);
    let all: Vec<(String, String)> = there.map(|i| (i.device.clone(), i.label.clone())).collect();
    if !all.iter().any(|a| a.0 == *device)
        && let Some(first) = all.first()
    {
        device.clone_from(&first.0);
    }
    choose_string(ui, look.words.device, device, &all);
}

fn shelf(ui: &mut Ui, look: &Look, name: &str, view: &View, device: &mut String) {
    let all: Vec<(String, String)> = view
        .shelf
        .iter()
        .filter(|d| d.left > 0)
        .map(|d| (d.id.clone(), format!("{} ({} {})", d.label, d.left, look.words.left_on_shelf)))
        .collect();
    choose_string(ui, name, device, &all);
}

fn vessels(ui: &mut Ui, look: &Look, view: &View, vessel: &mut VesselName) {
    let all: Vec<VesselName> = view.rail.ostia.iter().map(|o| o.0).collect();
    choose(ui, look.words.vessel, vessel, &all, |v| v.label());
}

fn drugs(ui: &mut Ui, look: &Look, drug: &mut Drug) -> bool {
    let before = *drug;
    choose(ui, look.words.drug, drug, &Drug::ALL, |d| d.label());
    before != *drug
}

fn quantity(ui: &mut Ui, look: &Look, dose: &mut Dose) {
    let unit = format!(" {}{}", dose.unit.symbol(), if dose.per_kg { "/kg" } else { "" });
    amount(ui, look.words.dose, &mut dose.amount, &unit);
}

/// A dose in the drug's own unit.
fn dose(drug: Drug, amount: f64) -> Option<Dose> {
    Dose::parse(&format!("{amount} {}", drug.unit())).ok()
}

/// A rate in the drug's own unit.
fn rate(drug: Drug, amount: f64) -> Option<Rate> {
    Rate::parse(&format!("{amount} {}", drug.rate_unit())).ok()
}
