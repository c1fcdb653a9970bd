//! What can be done with the picture that is there: lay a reference or a roadmap over it, step, shift, look at it
//! unsubtracted or at its fullest, and measure on it.

use super::{PicturePanel, Showing};
use crate::desk::theme::Look;
use crate::scenario::Order;
use crate::session::view::View;
use egui::{ComboBox, DragValue, RichText, Slider};

/// What is laid over the live picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Laid {
    #[default]
    Nothing,
    /// The most contrast of a run, darker.
    Reference,
    /// The vessels of a run bright, bones gone, devices dark.
    Roadmap,
}

impl Laid {
    pub(super) fn name(self, look: &Look) -> &'static str {
        let w = look.words;
        match self {
            Self::Nothing => w.no_overlay,
            Self::Reference => w.reference,
            Self::Roadmap => w.roadmap,
        }
    }
}

/// How the picture is looked at.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Tools {
    pub laid: Laid,
    /// How dark what is laid over is, 0 to 1.
    pub fade: f32,
    /// The run that is laid over; the newest when none was chosen.
    pub over: Option<u32>,
    /// A run as it was taken, without its mask.
    pub native: bool,
    /// The most contrast that each pixel of a run ever held.
    pub peak: bool,
    /// How far the mask is moved before it is subtracted, pixels right and down.
    pub shift_px: (f32, f32),
    /// Where the picture has little room its tools stay folded until they are asked for.
    pub unfolded: bool,
}

impl Default for Tools {
    fn default() -> Self {
        let laid = Laid::Nothing;
        Self {
            laid,
            fade: 0.6,
            over: None,
            native: false,
            peak: false,
            shift_px: (0.0, 0.0),
            unfolded: false,
        }
    }
}

impl Tools {
    /// What is done to a run, for its title.
    pub fn of_run(&self, look: &Look) -> String {
        let w = look.words;
        let (x, y) = self.shift_px;
        match () {
            () if self.native => format!(", {}", w.unsubtracted),
            () if self.peak => format!(", {}", w.fullest),
            () if self.shift_px != (0.0, 0.0) => format!(", {} {x:+.2}, {y:+.2}", w.mask_shifted),
            () => String::new(),
        }
    }
}

/// Farthest that the mask is shifted, pixels.
const SHIFT_PX: f32 = 12.0;
/// Height of one row of tools, points.
const ROW: f32 = 30.0;
/// Width under which a row of tools breaks once, points.
const NARROW: f32 = 400.0;
/// Height under which they stay folded, points.
const LOW: f32 = 320.0;

impl PicturePanel {
    /// Height that the tools take, points.
    pub(super) fn tools_height(&mut self, ui: &egui::Ui) -> f32 {
        self.low = ui.available_height() < LOW;
        let narrow = u8::from(ui.available_width() < NARROW);
        // The names of live, of each run and of the teaching view, and the loop's three buttons with their slider.
        let run = matches!(self.showing, Showing::Run(_));
        let names = if self.low { 160.0 } else { 110.0 }
            + 58.0 * self.runs.len() as f32
            + if run { 170.0 } else { 0.0 };
        let first = (names / ui.available_width().max(100.0)).ceil() as u8;
        let rows = match self.showing {
            _ if self.low && !self.tools.unfolded => 0,
            Showing::Run(_) => 1 + narrow + u8::from(self.ruler.laid()) * (1 + narrow),
            Showing::Live => 1 + narrow,
            Showing::Nothing | Showing::Inside => 0,
        };
        let said = if run && !self.silent { 20.0 } else { 0.0 };
        10.0 + ROW * f32::from(first + rows) + said
    }

    /// Under the picture: which picture, what is done to it, and what was seen.
    pub(super) fn bar(&mut self, ui: &mut egui::Ui, look: &Look, view: &View, says: &str) -> Vec<Order> {
        let mut orders = Vec::new();
        let (low, folded) = (self.low, self.low && !self.tools.unfolded);
        ui.spacing_mut().item_spacing = egui::vec2(5.0, 4.0);
        ui.spacing_mut().button_padding = egui::vec2(6.0, 3.0);
        ui.spacing_mut().interact_size.y = 24.0;
        ui.style_mut().override_font_id = Some(crate::desk::theme::plain(14.0));
        ui.horizontal_wrapped(|ui| {
            self.which(ui, look);
            if low && matches!(self.showing, Showing::Run(_) | Showing::Live) {
                ui.toggle_value(&mut self.tools.unfolded, look.words.tools);
            }
        });
        match self.showing {
            _ if folded => {}
            Showing::Live => {
                ui.horizontal_wrapped(|ui| self.laid_over(ui, look));
            }
            Showing::Run(number) => {
                ui.horizontal_wrapped(|ui| self.of_run(ui, look));
                if self.ruler.laid() {
                    orders = self.ruler.ui(ui, look, view, Some(number));
                }
            }
            Showing::Nothing | Showing::Inside => {}
        }
        if matches!(self.showing, Showing::Run(_)) && !self.silent {
            let text = RichText::new(says).size(13.0).color(look.ink.soft);
            ui.add(egui::Label::new(text).truncate()).on_hover_text(says);
        }
        orders
    }

    /// Live, the runs, the teaching view; of a run also where its loop stands.
    fn which(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        if self.live.is_some() && ui.selectable_label(self.showing == Showing::Live, w.live).clicked() {
            (self.showing, self.playing) = (Showing::Live, false);
        }
        let numbers: Vec<u32> = self.runs.keys().copied().collect();
        for number in numbers {
            let chosen = self.showing == Showing::Run(number);
            if ui.selectable_label(chosen, format!("{} {number}", w.run)).clicked() {
                self.turn_to_run(number, !look.still);
            }
        }
        if !self.silent {
            let on = self.shows_inside();
            let response = ui.selectable_label(on, w.inside).on_hover_text(w.inside_about);
            if response.clicked() {
                self.show_inside(!on);
            }
        }
        let Some(run) = self.run() else { return };
        let last = run.frames.len().saturating_sub(1);
        if button(ui, "◀", w.frame_back).clicked() {
            (self.frame, self.playing) = (self.frame.saturating_sub(1), false);
        }
        let (sign, name) = if self.playing { ("⏸", w.loop_stop) } else { ("▶", w.loop_run) };
        if button(ui, sign, name).clicked() {
            self.playing = !self.playing;
            if self.playing && self.frame >= last {
                self.frame = 0;
            }
        }
        if button(ui, "▶|", w.frame_on).clicked() {
            (self.frame, self.playing) = ((self.frame + 1).min(last), false);
        }
        let label = format!("{} {}", w.frame, self.frame + 1);
        ui.spacing_mut().slider_width = (ui.available_size_before_wrap().x - 8.0).clamp(50.0, 140.0);
        let slider = ui.add(Slider::new(&mut self.frame, 0..=last).show_value(false));
        slider.widget_info(|| egui::WidgetInfo::slider(true, self.frame as f64, &label));
        if slider.changed() {
            self.playing = false;
        }
    }

    /// What is laid over the live picture, and how dark.
    fn laid_over(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        if self.runs.is_empty() {
            ui.label(RichText::new(w.overlay_wants_run).size(13.0).color(look.ink.soft));
            return;
        }
        for laid in [Laid::Nothing, Laid::Reference, Laid::Roadmap] {
            if ui.selectable_label(self.tools.laid == laid, laid.name(look)).clicked() {
                self.tools.laid = laid;
                // A roadmap begins with the bones as they lie now.
                self.mask = None;
            }
        }
        if self.tools.laid == Laid::Nothing {
            return;
        }
        let name = format!("{} {} %", w.fade, (100.0 * self.tools.fade).round() as i32);
        ui.spacing_mut().slider_width = 90.0;
        let fade = ui.add(Slider::new(&mut self.tools.fade, 0.0..=1.0).show_value(false).step_by(0.05));
        fade.widget_info(|| egui::WidgetInfo::slider(true, f64::from(self.tools.fade), &name));
        fade.on_hover_text(name);
        let numbers: Vec<u32> = self.runs.keys().copied().collect();
        let mut over = self.over().map_or(0, |o| o.0);
        let chosen = ComboBox::from_id_salt("over").selected_text(format!("{} {over}", w.run)).width(72.0);
        let shown = chosen.show_ui(ui, |ui| {
            for number in numbers {
                ui.selectable_value(&mut over, number, format!("{} {number}", w.run));
            }
        });
        shown
            .response
            .widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::ComboBox, true, w.laid_run));
        if self.over().is_some_and(|o| o.0 != over) {
            self.tools.over = Some(over);
        }
    }

    /// How a run is looked at.
    fn of_run(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        let Tools { native, peak, shift_px, .. } = &mut self.tools;
        if ui.selectable_label(*native, w.unsubtracted).clicked() {
            (*native, *peak) = (!*native, false);
        }
        if ui.selectable_label(*peak, w.fullest).on_hover_text(w.fullest_about).clicked() {
            (*native, *peak) = (false, !*peak);
        }
        ui.label(RichText::new(w.mask).size(13.0).color(look.ink.soft));
        for (value, sign, name) in
            [(&mut shift_px.0, "➡ ", w.shift_right), (&mut shift_px.1, "⬇ ", w.shift_down)]
        {
            let field =
                DragValue::new(value).range(-SHIFT_PX..=SHIFT_PX).speed(0.05).prefix(sign).fixed_decimals(2);
            let response = ui.add(field);
            response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::DragValue, true, name));
            if response.on_hover_text(name).changed() {
                self.reference = None;
            }
        }
        if ui.selectable_label(self.ruler.laid(), w.measure).on_hover_text(w.measure_about).clicked() {
            match self.ruler.laid() {
                true => self.ruler.clear(),
                false => self.ruler.lay(super::PIXELS as f64, self.bands_mm),
            }
        }
    }
}

/// A button whose sign has a name.
fn button(ui: &mut egui::Ui, sign: &str, name: &str) -> egui::Response {
    let response = ui.button(sign);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, name));
    response.on_hover_text(name)
}
