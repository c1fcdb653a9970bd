//! The sizing sheet: every number of the anatomy with a slider that writes it back into the file, and what they come to.

use super::source::{Number, Source};
use crate::anatomy::sheet::SizingSheet;
use crate::desk::theme::{self, Look, gap};
use egui::{RichText, ScrollArea, Slider};
use std::collections::BTreeMap;

/// What the sheet remembers between frames.
#[derive(Default)]
pub struct SheetPanel {
    edition: u64,
    numbers: Vec<Number>,
    /// How far each slider goes, set when its number was first seen, so that it does not run away under the hand.
    reach: BTreeMap<String, (f64, f64)>,
    /// The number under the hand.
    held: Option<(String, f64)>,
    comes_to: Vec<(&'static str, f64, &'static str)>,
}

impl SheetPanel {
    /// Shows the sheet; a number that was let go is written.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, source: &mut Source) {
        self.look_again(source);
        let w = look.words;
        ui.label(RichText::new(w.bench_sheet_about).size(14.0).color(look.ink.soft));
        ui.add_space(gap::S);
        let mut let_go = None;
        ScrollArea::vertical().auto_shrink([false, false]).id_salt("sheet").show(ui, |ui| {
            ui.label(theme::eyebrow(look, w.bench_comes_to));
            egui::Grid::new("comes_to").num_columns(2).spacing([18.0, 2.0]).show(ui, |ui| {
                for (name, value, unit) in &self.comes_to {
                    ui.label(*name);
                    ui.label(RichText::new(format!("{value:.1} {unit}")).font(theme::bold(15.0)));
                    ui.end_row();
                }
            });
            ui.add_space(gap::S);
            ui.label(theme::eyebrow(look, w.bench_written));
            if self.numbers.is_empty() {
                ui.label(w.bench_no_numbers);
            }
            for number in &self.numbers {
                let_go = slider(ui, look, number, &self.reach, &mut self.held).or(let_go.take());
            }
        });
        if let Some((number, value)) = let_go {
            self.held = None;
            if let Err(why) = source.put(&number, value) {
                source.trouble = Some(why);
            }
        }
    }

    fn look_again(&mut self, source: &Source) {
        if self.edition == source.edition {
            return;
        }
        self.edition = source.edition;
        self.numbers = source.numbers();
        for n in &self.numbers {
            let far = if n.value == 0.0 { 10.0 } else { n.value.abs() };
            self.reach.entry(n.path.clone()).or_insert((n.value - 0.6 * far, n.value + 0.8 * far));
        }
        self.comes_to = source.case.as_ref().map(|case| comes_to(case)).unwrap_or_default();
    }
}

/// One number; with its new value once it has been let go.
fn slider(
    ui: &mut egui::Ui,
    look: &Look,
    number: &Number,
    reach: &BTreeMap<String, (f64, f64)>,
    held: &mut Option<(String, f64)>,
) -> Option<(Number, f64)> {
    let (low, high) = *reach.get(&number.path)?;
    let mine = held.as_ref().filter(|h| h.0 == number.path).map(|h| h.1);
    let mut value = mine.unwrap_or(number.value);
    ui.label(RichText::new(said(&number.path)).size(14.0).color(look.ink.soft));
    let step = if number.decimals == 0 { 1.0 } else { 0.1 };
    ui.spacing_mut().slider_width = (ui.available_width() - 90.0).max(80.0);
    let reach = low.min(value)..=high.max(value);
    let slider = Slider::new(&mut value, reach).step_by(step).fixed_decimals(number.decimals);
    let response = ui.add(slider);
    response.widget_info(|| egui::WidgetInfo::slider(true, value, said(&number.path)));
    if response.changed() {
        *held = Some((number.path.clone(), value));
    }
    let still = response.dragged() || response.has_focus() && ui.input(|i| !i.pointer.any_released());
    let done = response.drag_stopped() || response.lost_focus() || response.changed() && !still;
    (done && value != number.value).then(|| (number.clone(), value))
}

/// `aorta.diameters_mm.isthmus` as people read it.
fn said(path: &str) -> String {
    path.split('.').map(|part| part.replace('_', " ")).collect::<Vec<_>>().join(" · ")
}

/// What the anatomy comes to, as the sizing sheet has it.
fn comes_to(case: &crate::scenario::Loaded) -> Vec<(&'static str, f64, &'static str)> {
    let Some(sheet) = SizingSheet::measure(&case.tree, 0, case.case.patient.map_rest_mmhg) else {
        return Vec::new();
    };
    let mut out = vec![
        ("landing above the lesion, width", sheet.proximal.diameter_mm(), "mm"),
        ("landing above the lesion, length", sheet.proximal.lengths.centre_mm, "mm"),
        ("landing below the lesion, width", sheet.distal.diameter_mm(), "mm"),
        ("landing below the lesion, length", sheet.distal.lengths.centre_mm, "mm"),
    ];
    for access in &sheet.access {
        let side = match access.site {
            crate::anatomy::Site::LeftFemoral => "left access, narrowest",
            crate::anatomy::Site::RightFemoral => "right access, narrowest",
            _ => continue,
        };
        out.push((side, access.min_mm(), "mm"));
    }
    out
}
