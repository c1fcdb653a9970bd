//! A length on a run: first the scale, two bands of a marked catheter that are known to lie so far apart; then the callipers.
//!
//! It reads what a ruler reads in life: true at the catheter's depth and across the beam, too short where something lies
//! aslant, and too long in all when the bands themselves do.

use crate::desk::calliper::{Callipers, Film};
use crate::desk::say;
use crate::desk::theme::{self, Look};
use crate::imaging::overlay::Calibration;
use crate::scenario::Order;
use crate::scenario::order::{Measured, Plane};
use crate::session::view::View;
use egui::{ComboBox, DragValue, Rect, Response, RichText};

/// Scale and callipers.
pub(super) struct Ruler {
    scale: Callipers,
    span: Callipers,
    /// How far apart the two chosen bands are, mm.
    apart_mm: f64,
    what: Measured,
    /// Does a marked catheter lie in a vessel?
    banded: bool,
}

impl Default for Ruler {
    fn default() -> Self {
        Self {
            scale: Callipers::default(),
            span: Callipers::default(),
            apart_mm: 10.0,
            what: Measured::TreatedLength,
            banded: false,
        }
    }
}

impl Ruler {
    /// Is it on the picture?
    pub fn laid(&self) -> bool {
        self.scale.ends.is_some()
    }

    /// Takes it off.
    pub fn clear(&mut self) {
        (self.scale.ends, self.span.ends) = (None, None);
    }

    /// Lays it: the scale above the middle, the callipers on it. `bands_mm` is the spacing of the bands that lie there.
    pub fn lay(&mut self, columns: f64, bands_mm: Option<f64>) {
        self.banded = bands_mm.is_some();
        self.apart_mm = bands_mm.unwrap_or(self.apart_mm);
        self.scale.lay(columns, 0.5 * columns, 0.1 * columns);
        self.span.lay(columns, columns, 0.3 * columns);
    }

    fn calibration(&self) -> Option<Calibration> {
        let [a, b] = self.scale.ends?;
        Calibration::from_marks(self.apart_mm, a, b)
    }

    fn mm(&self) -> Option<f64> {
        let [a, b] = self.span.ends?;
        self.calibration().map(|c| c.length_mm(a, b)).filter(|mm| *mm >= 0.5)
    }

    /// Scale and callipers over the picture.
    pub fn over(&mut self, ui: &mut egui::Ui, look: &Look, response: &Response, rect: Rect, pixels: usize) {
        if !self.laid() {
            return;
        }
        let film = Film { rect, columns: pixels as f64 };
        self.span.drag(ui, response, film);
        let apart = format!("{:.0} mm", self.apart_mm);
        self.scale.ui(ui, look, film, look.words.band, look.ink.plastic, &apart);
        let span = self.mm().map_or(String::new(), |mm| format!("{mm:.1} mm"));
        self.span.ui(ui, look, film, look.words.calliper_end, look.ink.accent, &span);
    }

    /// Under the picture of run `run`: how far apart the bands are, what the callipers read, and what it is.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, view: &View, run: Option<u32>) -> Vec<Order> {
        let w = look.words;
        let mut orders = Vec::new();
        ui.horizontal_wrapped(|ui| {
            let about = if self.banded { w.bands_apart } else { w.no_bands };
            let ink = if self.banded { look.ink.soft } else { look.ink.lesion };
            let label = ui.label(RichText::new(about).size(13.0).color(ink));
            ui.add(DragValue::new(&mut self.apart_mm).range(1.0..=400.0).suffix(" mm").speed(0.5))
                .labelled_by(label.id);
            let Some(mm) = self.mm() else { return };
            ui.label(RichText::new(format!("{mm:.1} mm")).font(theme::bold(15.0)));
            let list = ComboBox::from_id_salt("measured on the run")
                .selected_text(RichText::new(say::measured(self.what, look.words)).size(13.0))
                .width(150.0)
                .truncate();
            let shown = list.show_ui(ui, |ui| {
                for one in Measured::ALL {
                    ui.selectable_value(&mut self.what, one, say::measured(one, look.words));
                }
            });
            shown
                .response
                .widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::ComboBox, true, w.calliper_for));
            let blocked = view.offers.iter().find(|o| o.verb == "measure").and_then(|o| o.blocked.as_deref());
            let commit = ui.add_enabled(blocked.is_none() && self.banded, egui::Button::new(w.commit_value));
            if commit.on_disabled_hover_text(blocked.unwrap_or(w.no_bands)).clicked() {
                let mm = (10.0 * mm).round() / 10.0;
                orders.push(Order::Measure { what: self.what, mm, plane: Plane::Run, run });
            }
        });
        orders
    }
}
