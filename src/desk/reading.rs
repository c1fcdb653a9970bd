//! The reading room: the CT with its sections and report once it is read, the sizing sheet that the trainee fills, and the
//! shelf of devices.

use super::cases::bullet;
use super::say;
use super::seat::Seat;
use super::slices::{self, SlicesPanel};
use super::theme::{self, Look, gap};
use crate::anatomy::VesselName;
use crate::scenario::Order;
use crate::scenario::order::{CtExtent, Measured, Plane};
use crate::session::event::EventKind;
use egui::{RichText, ScrollArea};

/// The CT as it stands, and what has been written on the sheet but not committed.
pub struct ReadingScreen {
    slices: SlicesPanel,
    drafts: [(f64, Plane); Measured::ALL.len()],
    kind: &'static str,
}

impl Default for ReadingScreen {
    fn default() -> Self {
        Self {
            slices: SlicesPanel::default(),
            drafts: [(0.0, Plane::Orthogonal); Measured::ALL.len()],
            kind: "graft",
        }
    }
}

impl ReadingScreen {
    /// Shows it and returns orders.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, seat: &Seat) -> Vec<Order> {
        let (mut read, mut measured) = (Vec::new(), Vec::new());
        let mut taken = None;
        let extent = read_so_far(seat);
        let Self { slices, drafts, kind } = self;
        let high = ui.available_height().max(420.0);
        ScrollArea::vertical().id_salt("reading").auto_shrink([false, false]).show(ui, |ui| {
            let mut scan = |ui: &mut egui::Ui| {
                ui.set_max_height(high);
                taken = ct(ui, look, seat, extent, slices, &mut read);
            };
            let mut sizes = |ui: &mut egui::Ui| {
                ui.set_max_height(high);
                sheet(ui, look, seat, drafts, &mut measured);
            };
            let mut devices = |ui: &mut egui::Ui| {
                ui.set_max_height(high);
                shelf(ui, look, seat, kind);
            };
            super::parts::abreast(
                ui,
                260.0,
                &mut [(1.25, &mut scan), (1.0, &mut sizes), (0.95, &mut devices)],
            );
        });
        if let Some((what, mm, plane)) = taken
            && let Some(i) = Measured::ALL.iter().position(|m| *m == what)
        {
            drafts[i] = (mm, plane);
        }
        read.extend(measured);
        read
    }

    /// Is a section of the CT being cut?
    pub fn busy(&self) -> bool {
        self.slices.busy()
    }
}

/// The trainee's own sheet: a value and a plane for each measurement, committed one by one.
fn sheet(
    ui: &mut egui::Ui,
    look: &Look,
    seat: &Seat,
    drafts: &mut [(f64, Plane); Measured::ALL.len()],
    orders: &mut Vec<Order>,
) {
    let w = look.words;
    let blocked = seat.view().offers.iter().find(|o| o.verb == "measure").and_then(|o| o.blocked.clone());
    theme::sheet(look).show(ui, |ui| {
        ui.set_min_size(ui.available_size());
        ui.label(theme::heading(w.sizing_sheet));
        ui.label(RichText::new(w.sizing_about).size(14.0).color(look.ink.soft));
        ScrollArea::vertical().id_salt("sheet").auto_shrink([false, false]).show(ui, |ui| {
            for (i, what) in Measured::ALL.into_iter().enumerate() {
                ui.push_id(i, |ui| {
                    ui.add_space(gap::S);
                    ui.separator();
                    // Where both have no room the name is cut, not the number.
                    egui::Sides::new().shrink_left().truncate().show(
                        ui,
                        |ui| ui.label(theme::eyebrow(look, say::measured(what, look.words))),
                        |ui| {
                            let (text, ink) = match committed(seat, what) {
                                Some(mm) => (format!("{mm} mm"), look.ink.accent),
                                None => (w.not_measured.to_owned(), look.ink.faint),
                            };
                            ui.label(RichText::new(text).font(theme::bold(16.0)).color(ink))
                        },
                    );
                    let (mm, plane) = &mut drafts[i];
                    let narrow = ui.available_width() < BESIDE;
                    ui.horizontal(|ui| {
                        let field = egui::DragValue::new(mm)
                            .range(0.0..=400.0)
                            .suffix(" mm")
                            .speed(0.5)
                            .max_decimals(1);
                        let response = ui.add(field);
                        response.widget_info(|| {
                            egui::WidgetInfo::labeled(
                                egui::WidgetType::DragValue,
                                true,
                                say::measured(what, look.words),
                            )
                        });
                        let ready = blocked.is_none() && *mm > 0.0;
                        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                            let commit = ui.add_enabled(ready, egui::Button::new(w.commit_value));
                            let why = blocked.as_deref().unwrap_or(w.value);
                            if commit.on_disabled_hover_text(why).clicked() {
                                orders.push(Order::Measure { what, mm: *mm, plane: *plane, run: None });
                            }
                            if !narrow {
                                plane_of(ui, look, what, plane);
                            }
                        });
                    });
                    if narrow {
                        plane_of(ui, look, what, plane);
                    }
                });
            }
        });
    });
}

/// Width at which value, plane and button fit beside each other, points.
const BESIDE: f32 = 290.0;

/// The plane that a value was taken in, as wide as there is room.
fn plane_of(ui: &mut egui::Ui, look: &Look, what: Measured, plane: &mut Plane) {
    let choices = egui::ComboBox::from_id_salt("plane")
        .selected_text(say::plane_short(*plane, look.words))
        .width(ui.available_width() - 8.0)
        .truncate();
    let shown = choices.show_ui(ui, |ui| {
        for one in [Plane::Orthogonal, Plane::Axial, Plane::Projection] {
            ui.selectable_value(plane, one, say::plane(one, look.words));
        }
    });
    let name = format!("{}: {}", say::measured(what, look.words), look.words.measured_plane);
    shown.response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::ComboBox, true, &name));
}

/// Devices by sort, with how many are left.
fn shelf(ui: &mut egui::Ui, look: &Look, seat: &Seat, chosen: &mut &'static str) {
    let w = look.words;
    let shelf = &seat.view().shelf;
    let mut kinds: Vec<&'static str> = Vec::new();
    for device in shelf {
        if !kinds.contains(&device.kind) {
            kinds.push(device.kind);
        }
    }
    theme::sheet(look).show(ui, |ui| {
        ui.set_min_size(ui.available_size());
        ui.label(theme::heading(w.device_shelf));
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing = egui::vec2(4.0, 4.0);
            for kind in kinds {
                ui.selectable_value(chosen, kind, kind);
            }
        });
        ui.add_space(gap::S);
        ScrollArea::vertical().id_salt("shelf").auto_shrink([false, false]).show(ui, |ui| {
            for device in shelf.iter().filter(|d| d.kind == *chosen) {
                let left = if device.left == 0 {
                    w.none_left.to_owned()
                } else {
                    format!("{} {}", device.left, w.left_on_shelf)
                };
                let ink = if device.left == 0 { look.ink.faint } else { look.ink.text };
                ui.horizontal(|ui| {
                    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                        ui.label(RichText::new(left).size(14.0).color(look.ink.soft));
                        ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                            ui.add(egui::Label::new(RichText::new(&device.label).color(ink)).wrap());
                        });
                    });
                });
            }
        });
    });
}

/// The CT: to be read first; then its sections and, under them, the report. Returns what was measured on it.
fn ct(
    ui: &mut egui::Ui,
    look: &Look,
    seat: &Seat,
    extent: Option<CtExtent>,
    slices: &mut SlicesPanel,
    orders: &mut Vec<Order>,
) -> Option<slices::Taken> {
    let w = look.words;
    let case = seat.keeper().session().case();
    let story = &case.case.story;
    let mut taken = None;
    theme::sheet(look).show(ui, |ui| {
        ui.set_min_size(ui.available_size());
        ui.horizontal_wrapped(|ui| {
            ui.label(theme::heading(w.ct));
            if extent != Some(CtExtent::WholeAorta) && ui.button(w.read_whole).clicked() {
                orders.push(Order::ReadCt { extent: CtExtent::WholeAorta });
            }
            if extent.is_none() && ui.button(w.read_chest).clicked() {
                orders.push(Order::ReadCt { extent: CtExtent::Chest });
            }
        });
        // The section is as large as leaves the report's first lines in sight.
        let most = (0.6 * ui.available_height()).max(200.0);
        ScrollArea::vertical().id_salt("ct").auto_shrink([false, false]).show(ui, |ui| {
            let Some(extent) = extent else {
                ui.label(RichText::new(w.ct_not_read).color(look.ink.soft));
                return;
            };
            taken = slices.ui(ui, look, case, scanned_mm(seat, extent), most);
            ui.add_space(gap::M);
            ui.label(theme::eyebrow(look, w.ct_report));
            story.ct_chest.iter().for_each(|line| bullet(ui, look, line));
            if extent == CtExtent::WholeAorta {
                story.ct_whole.iter().for_each(|line| bullet(ui, look, line));
            }
        });
    });
    taken
}

/// How far along the aorta the scan goes, mm: a chest's ends a little above the coeliac artery, at the diaphragm.
fn scanned_mm(seat: &Seat, extent: CtExtent) -> f64 {
    let rail = &seat.view().rail;
    let coeliac = rail.ostia.iter().find(|o| o.0 == VesselName::Coeliac).map(|o| o.1 - 25.0);
    match (extent, coeliac) {
        (CtExtent::Chest, Some(end)) => end,
        _ => rail.length_mm,
    }
    .max(1.0)
}

/// How much of the CT has been read: the widest extent whose reading is done.
fn read_so_far(seat: &Seat) -> Option<CtExtent> {
    let events = seat.keeper().session().events();
    // What earlier doctors saw is read already.
    let mut widest = seat.keeper().session().case().case.in_place.ct;
    for event in events {
        if let EventKind::Done { verb, .. } = &event.kind
            && verb == "read_ct"
        {
            // Its cause is the order itself.
            let order = event.cause.and_then(|c| events.get(c as usize)).map(|e| &e.kind);
            if let Some(EventKind::Ordered { order: Order::ReadCt { extent }, .. }) = order {
                widest = widest.max(Some(*extent));
            }
        }
    }
    widest
}

/// The last value committed for a measurement.
fn committed(seat: &Seat, wanted: Measured) -> Option<f64> {
    seat.keeper().session().events().iter().rev().find_map(|e| match &e.kind {
        EventKind::Ordered { order: Order::Measure { what, mm, .. }, .. } if *what == wanted => Some(*mm),
        _ => None,
    })
}
