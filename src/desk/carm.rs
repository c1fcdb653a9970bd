//! The C-arm as a small figure in space: tube, detector, table and patient, seen from the foot end, and two angles.
//!
//! Angles are the DICOM positioner angles (PS3.3, C.8.7.5): primary positive turns the detector to the patient's
//! left (LAO), secondary positive turns it to the head (CRA).

use super::theme::{self, Look, gap};
use crate::math::ops::single as ops;
use crate::scenario::Order;
use crate::session::view::CarmView;
use egui::{Pos2, Rect, Sense, Shape, Stroke, Vec2, vec2};

/// The figure and what turns it.
#[derive(Default)]
pub struct CarmPanel {
    /// What the trainee is about to ask for; none follows the C-arm.
    wanted: Option<(f64, f64)>,
}

impl CarmPanel {
    /// Shows the C-arm and returns orders to it.
    pub fn ui(
        &mut self,
        ui: &mut egui::Ui,
        look: &Look,
        carm: &CarmView,
        blocked: Option<&str>,
    ) -> Vec<Order> {
        let mut orders = Vec::new();
        let w = look.words;
        let (mut primary, mut secondary) = self.wanted.unwrap_or((carm.primary_deg, carm.secondary_deg));
        ui.horizontal(|ui| {
            ui.label(theme::eyebrow(look, w.carm));
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                ui.label(
                    egui::RichText::new(pose(carm.primary_deg, carm.secondary_deg)).font(theme::bold(14.0)),
                );
            });
        });
        let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 128.0), Sense::hover());
        let says = format!(
            "{}: {}. {}. {}.",
            w.carm,
            pose(carm.primary_deg, carm.secondary_deg),
            if carm.screening { w.screening_on } else { w.screening_off },
            if carm.table_locked { w.table_locked } else { w.table_free },
        );
        response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &says));
        figure(ui.painter(), rect, primary, secondary, carm.screening, look);
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = gap::S;
            ui.spacing_mut().button_padding.x = 6.0;
            let turned = angle(ui, w.primary_angle, &mut primary, &["LAO", "RAO"], 90.0)
                | angle(ui, w.secondary_angle, &mut secondary, &["CRA", "CAU"], 45.0);
            if turned {
                self.wanted = Some((primary, secondary));
            }
            let there =
                (primary - carm.primary_deg).abs() < 0.5 && (secondary - carm.secondary_deg).abs() < 0.5;
            let turn = ui.add_enabled(!there && blocked.is_none(), egui::Button::new(w.turn));
            if turn.on_disabled_hover_text(blocked.unwrap_or(w.already_there)).clicked() {
                orders.push(Order::Aim { primary_deg: primary, secondary_deg: secondary });
                self.wanted = None;
            }
        });
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = gap::S;
            ui.spacing_mut().button_padding.x = 8.0;
            if switch(ui, w.screen, carm.screening) {
                orders.push(Order::Screen { on: !carm.screening });
            }
            if switch(ui, w.lock_table, carm.table_locked) {
                orders.push(Order::LockTable { on: !carm.table_locked });
            }
        });
        table(ui, look, carm, &mut orders);
        field(ui, look, carm, &mut orders);
        if carm.reference_true == Some(false) {
            ui.label(egui::RichText::new(w.reference_off).size(13.0).color(look.ink.lesion));
        }
        orders
    }
}

/// One push of the table, mm along and across.
const PUSH_MM: [f64; 2] = [40.0, 25.0];

/// Four ways to push the table, as the picture goes.
fn table(ui: &mut egui::Ui, look: &Look, carm: &CarmView, orders: &mut Vec<Order>) {
    let w = look.words;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        ui.spacing_mut().button_padding.x = 7.0;
        ui.label(egui::RichText::new(w.table).size(13.0).color(look.ink.soft));
        let [along, across] = PUSH_MM;
        let ways = [
            ("⬆", w.pan_head, 0.0, along),
            ("⬇", w.pan_feet, 0.0, -along),
            ("➡", w.pan_left, across, 0.0),
            ("⬅", w.pan_right, -across, 0.0),
        ];
        for (sign, name, left_mm, head_mm) in ways {
            let button = ui.add_enabled(!carm.table_locked, egui::Button::new(sign));
            button.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, name));
            let by = left_mm.abs().max(head_mm.abs());
            if button
                .on_hover_text(format!("{name}, {by:.0} mm"))
                .on_disabled_hover_text(w.table_locked)
                .clicked()
            {
                orders.push(Order::Pan { left_mm, head_mm });
            }
        }
    });
}

/// Usual fields of a detector, mm, and how far its side shutters close, %.
const FIELDS_MM: [f64; 5] = [480.0, 380.0, 320.0, 220.0, 160.0];
const SHUTTERS_PERCENT: [f64; 4] = [0.0, 10.0, 20.0, 30.0];

/// Size of the field, and the side shutters.
fn field(ui: &mut egui::Ui, look: &Look, carm: &CarmView, orders: &mut Vec<Order>) {
    let w = look.words;
    let mut edge_mm = carm.field_mm;
    list(ui, look, w.field_size, &mut edge_mm, &FIELDS_MM, |mm| format!("{:.0} cm", mm / 10.0));
    if edge_mm != carm.field_mm {
        orders.push(Order::Field { edge_mm });
    }
    let [left, right, top_percent, bottom_percent] = carm.shutters_percent;
    let mut sides = left.max(right);
    list(ui, look, w.shutters, &mut sides, &SHUTTERS_PERCENT, |p| match *p {
        0.0 => w.shutters_open.to_owned(),
        p => format!("{p:.0} %"),
    });
    if sides != left.max(right) {
        let (left_percent, right_percent) = (sides, sides);
        orders.push(Order::Collimate { left_percent, right_percent, top_percent, bottom_percent });
    }
}

/// A name and a list to choose from.
fn list(
    ui: &mut egui::Ui,
    look: &Look,
    name: &str,
    value: &mut f64,
    all: &[f64],
    say: impl Fn(&f64) -> String,
) {
    ui.horizontal(|ui| {
        ui.spacing_mut().button_padding.y = 2.0;
        ui.spacing_mut().interact_size.y = 24.0;
        let label = ui.label(egui::RichText::new(name).size(13.0).color(look.ink.soft));
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            egui::ComboBox::from_id_salt(name)
                .selected_text(egui::RichText::new(say(value)).size(13.0))
                .width(92.0)
                .truncate()
                .show_ui(ui, |ui| {
                    for one in all {
                        ui.selectable_value(value, *one, say(one));
                    }
                })
                .response
                .labelled_by(label.id);
        });
    });
}

/// Something that is on or off; true when it was pressed.
fn switch(ui: &mut egui::Ui, name: &str, on: bool) -> bool {
    let response = ui.add(egui::Button::new(name).selected(on));
    response.widget_info(|| egui::WidgetInfo::selected(egui::WidgetType::Button, true, on, name));
    response.clicked()
}

/// A pose as it is said aloud: "LAO 50°, CRA 0°".
pub fn pose(primary_deg: f64, secondary_deg: f64) -> String {
    let side = if primary_deg < 0.0 { "RAO" } else { "LAO" };
    let tilt = if secondary_deg < 0.0 { "CAU" } else { "CRA" };
    format!("{side} {:.0}°, {tilt} {:.0}°", primary_deg.abs(), secondary_deg.abs())
}

/// One angle as a field that says its side; true when it was changed.
fn angle(
    ui: &mut egui::Ui,
    label: &str,
    degrees: &mut f64,
    sides: &'static [&'static str; 2],
    most: f64,
) -> bool {
    let field = egui::DragValue::new(degrees)
        .range(-most..=most)
        .speed(1.0)
        .custom_formatter(|v, _| format!("{} {:.0}°", if v < 0.0 { sides[1] } else { sides[0] }, v.abs()))
        .custom_parser(|text| {
            let text = text.trim().to_uppercase();
            let digits: String =
                text.chars().filter(|c| c.is_ascii_digit() || *c == '.' || *c == '-').collect();
            let v: f64 = digits.parse().ok()?;
            Some(if text.starts_with(sides[1]) { -v.abs() } else { v })
        });
    let response = ui.add(field);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::DragValue, true, label));
    response.on_hover_text(label).changed()
}

/// Patient's axes: x to the left, y to the front, z to the head. Seen from the foot end, from above and a little left.
fn project(rect: Rect, p: [f32; 3]) -> Pos2 {
    let scale = rect.height() / 3.0;
    let depth = vec2(0.36, -0.30);
    rect.center()
        + vec2(0.0, 0.12 * rect.height())
        + Vec2::new(p[0] + depth.x * p[2], -p[1] + depth.y * p[2]) * scale
}

fn figure(
    painter: &egui::Painter,
    rect: Rect,
    primary_deg: f64,
    secondary_deg: f64,
    beam: bool,
    look: &Look,
) {
    let at = |p: [f32; 3]| project(rect, p);
    let ink = &look.ink;
    let (a, b) = (primary_deg.to_radians() as f32, secondary_deg.to_radians() as f32);
    // From isocentre to detector.
    let d = [ops::sin(a) * ops::cos(b), ops::cos(a) * ops::cos(b), ops::sin(b)];
    let along = |r: f32| [d[0] * r, d[1] * r, d[2] * r];
    // The detector's own sides: one across the patient, one along.
    let u = [ops::cos(a), -ops::sin(a), 0.0];
    let v = [-ops::sin(a) * ops::sin(b), -ops::cos(a) * ops::sin(b), ops::cos(b)];
    let plate = |centre: [f32; 3], half: f32| -> Vec<Pos2> {
        [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
            .iter()
            .map(|&(p, q): &(f32, f32)| {
                at([
                    centre[0] + half * (p * u[0] + q * v[0]),
                    centre[1] + half * (p * u[1] + q * v[1]),
                    centre[2] + half * (p * u[2] + q * v[2]),
                ])
            })
            .collect()
    };
    let thin = Stroke::new(1.0, ink.line);
    // Table, then whichever of tube and detector lies behind, then patient.
    let table =
        [[-0.42, -0.32, -1.7], [0.42, -0.32, -1.7], [0.42, -0.32, 1.6], [-0.42, -0.32, 1.6]].map(at).to_vec();
    painter.add(Shape::convex_polygon(table, ink.raised, thin));
    // The arm: half a ring from tube to detector, behind the patient's right side.
    let side = [-u[0], -u[1], -u[2]];
    let ring: Vec<Pos2> = (0..=24)
        .map(|i| {
            let t = (i as f32 / 24.0) * std::f32::consts::PI;
            let (s, c) = (ops::sin(t), ops::cos(t));
            at([
                1.25 * (d[0] * c + side[0] * s),
                1.25 * (d[1] * c + side[1] * s),
                1.25 * (d[2] * c + side[2] * s),
            ])
        })
        .collect();
    painter.add(Shape::line(ring, Stroke::new(4.0, ink.line)));
    patient(painter, &at, look);
    let detector = plate(along(1.05), 0.44);
    let tube = plate(along(-1.15), 0.16);
    if beam {
        for corner in &detector {
            painter.line_segment([at(along(-1.15)), *corner], Stroke::new(1.0, ink.accent));
        }
    }
    painter.add(Shape::convex_polygon(
        detector,
        ink.lifted,
        Stroke::new(1.5, if beam { ink.accent } else { ink.soft }),
    ));
    painter.add(Shape::convex_polygon(tube, ink.lifted, Stroke::new(1.5, ink.soft)));
    painter.text(
        at(along(1.05)) - vec2(0.0, 14.0),
        egui::Align2::CENTER_CENTER,
        look.words.detector,
        theme::plain(11.0),
        ink.text,
    );
    painter.text(
        at(along(-1.15)) + vec2(0.0, 14.0),
        egui::Align2::CENTER_CENTER,
        look.words.tube,
        theme::plain(11.0),
        ink.soft,
    );
}

/// The patient on the back: trunk and head as ovals.
fn patient(painter: &egui::Painter, at: &dyn Fn([f32; 3]) -> Pos2, look: &Look) {
    let oval = |z0: f32, z1: f32, half: f32| -> Vec<Pos2> {
        (0..28)
            .map(|i| {
                let t = i as f32 / 28.0 * std::f32::consts::TAU;
                at([half * ops::sin(t), -0.12, 0.5 * (z0 + z1) + 0.5 * (z1 - z0) * ops::cos(t)])
            })
            .collect()
    };
    for (z0, z1, half) in [(-1.65, 0.1, 0.26), (-0.7, 0.95, 0.36), (0.95, 1.45, 0.17)] {
        painter.add(Shape::convex_polygon(oval(z0, z1, half), look.ink.vessel, Stroke::NONE));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DICOM PS3.3 C.8.7.5.1: positive primary is LAO, positive secondary is CRA.
    #[test]
    fn a_pose_is_said_as_dicom_signs_it() {
        assert_eq!(pose(50.0, 0.0), "LAO 50°, CRA 0°");
        assert_eq!(pose(-30.0, -20.0), "RAO 30°, CAU 20°");
    }
}
