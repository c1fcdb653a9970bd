//! The reading room: the CT's report once it is read, the sizing sheet that the trainee fills, and the shelf of devices.

use super::cases::bullet;
use super::say;
use super::seat::Seat;
use super::theme::{self, Look, gap};
use crate::scenario::Order;
use crate::scenario::order::{CtExtent, Measured, Plane};
use crate::session::event::EventKind;
use egui::{RichText, ScrollArea};

/// What has been written on the sheet but not committed.
pub struct ReadingScreen {
    drafts: [(f64, Plane); Measured::ALL.len()],
    kind: &'static str,
}

impl Default for ReadingScreen {
    fn default() -> Self {
        Self { drafts: [(0.0, Plane::Orthogonal); Measured::ALL.len()], kind: "graft" }
    }
}

impl ReadingScreen {
    /// Shows it and returns orders.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, seat: &Seat) -> Vec<Order> {
        let mut orders = Vec::new();
        let extent = read_so_far(seat);
        super::parts::columns(ui, 3, |columns| {
            ct(&mut columns[0], look, seat, extent, &mut orders);
            self.sheet(&mut columns[1], look, seat, &mut orders);
            self.shelf(&mut columns[2], look, seat);
        });
        orders
    }

    /// The trainee's own sheet: a value and a plane for each measurement, committed one by one.
    fn sheet(&mut self, ui: &mut egui::Ui, look: &Look, seat: &Seat, orders: &mut Vec<Order>) {
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
                        ui.horizontal(|ui| {
                            ui.label(theme::eyebrow(look, say::measured(what)));
                            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                                let (text, ink) = match committed(seat, what) {
                                    Some(mm) => (format!("{mm} mm"), look.ink.accent),
                                    None => (w.not_measured.to_owned(), look.ink.faint),
                                };
                                ui.label(RichText::new(text).font(theme::bold(16.0)).color(ink));
                            });
                        });
                        let (mm, plane) = &mut self.drafts[i];
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
                                    say::measured(what),
                                )
                            });
                            let ready = blocked.is_none() && *mm > 0.0;
                            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                                let commit = ui.add_enabled(ready, egui::Button::new(w.commit_value));
                                let why = blocked.as_deref().unwrap_or(w.value);
                                if commit.on_disabled_hover_text(why).clicked() {
                                    orders.push(Order::Measure { what, mm: *mm, plane: *plane });
                                }
                                let choices = egui::ComboBox::from_id_salt("plane")
                                    .selected_text(say::plane_short(*plane))
                                    .width(ui.available_width() - 8.0)
                                    .truncate();
                                let shown = choices.show_ui(ui, |ui| {
                                    for one in [Plane::Orthogonal, Plane::Axial] {
                                        ui.selectable_value(plane, one, say::plane(one));
                                    }
                                });
                                let name = format!("{}: {}", say::measured(what), w.measured_plane);
                                shown.response.widget_info(|| {
                                    egui::WidgetInfo::labeled(egui::WidgetType::ComboBox, true, &name)
                                });
                            });
                        });
                    });
                }
            });
        });
    }

    /// Devices by sort, with how many are left.
    fn shelf(&mut self, ui: &mut egui::Ui, look: &Look, seat: &Seat) {
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
                    ui.selectable_value(&mut self.kind, kind, kind);
                }
            });
            ui.add_space(gap::S);
            ScrollArea::vertical().id_salt("shelf").auto_shrink([false, false]).show(ui, |ui| {
                for device in shelf.iter().filter(|d| d.kind == self.kind) {
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
}

fn ct(ui: &mut egui::Ui, look: &Look, seat: &Seat, extent: Option<CtExtent>, orders: &mut Vec<Order>) {
    let w = look.words;
    let story = &seat.keeper().session().case().case.story;
    theme::sheet(look).show(ui, |ui| {
        ui.set_min_size(ui.available_size());
        ui.label(theme::heading(w.ct));
        ScrollArea::vertical().id_salt("ct").auto_shrink([false, false]).show(ui, |ui| {
            if extent.is_none() {
                ui.label(RichText::new(w.ct_not_read).color(look.ink.soft));
            }
            if extent.is_some() {
                story.ct_chest.iter().for_each(|line| bullet(ui, look, line));
            }
            if extent == Some(CtExtent::WholeAorta) {
                story.ct_whole.iter().for_each(|line| bullet(ui, look, line));
            }
            ui.add_space(gap::M);
            if extent != Some(CtExtent::WholeAorta) {
                if ui.button(w.read_whole).clicked() {
                    orders.push(Order::ReadCt { extent: CtExtent::WholeAorta });
                }
                if extent.is_none() && ui.button(w.read_chest).clicked() {
                    orders.push(Order::ReadCt { extent: CtExtent::Chest });
                }
            }
        });
    });
}

/// How much of the CT has been read: the widest extent whose reading is done.
fn read_so_far(seat: &Seat) -> Option<CtExtent> {
    let events = seat.keeper().session().events();
    let mut widest = None;
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
