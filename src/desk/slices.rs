//! The CT to look at: one picture at a place along the aorta, as the scanner lies, across the vessel, the vessel stretched
//! out, or the brightest of a slab; with callipers on it, and lengths along the centreline. What is measured goes onto the
//! trainee's own sheet, in the plane it was taken in.
//!
//! Pictures are cut from the same vessels that everything else is computed from, beside the window's own work.

use super::calliper::{Callipers, Film};
use super::say;
use super::theme::{self, Look};
use super::words::Words;
use crate::anatomy::Site;
use crate::imaging::ct::{ANGIO, LUNG, SOFT, calliper_mm};
use crate::imaging::cut::{Cut, View};
use crate::imaging::{Scan, Slice};
use crate::math::Streams;
use crate::scenario::Loaded;
use crate::scenario::lesion::LesionPlace;
use crate::scenario::order::{Measured, Plane};
use crate::session::planned;
use egui::{Color32, ColorImage, Key, Rect, Sense, TextureHandle, TextureOptions, pos2, vec2};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

/// Pixels across a section.
const PIXELS: usize = 320;
/// Width of the close field and of the whole trunk, mm.
const FIELD_MM: [f64; 2] = [140.0, 400.0];

/// Width from which all that is set stands in one row, points.
const WIDE: f32 = 480.0;
/// Width that the last part of that row needs, points.
const FIELD_ROW: f32 = 250.0;
/// Thicknesses of a slab, mm.
const SLAB_MM: [f64; 4] = [10.0, 30.0, 60.0, 120.0];

/// A value for the sizing sheet, mm, and the plane that it was taken in.
pub type Taken = (Measured, f64, Plane);

/// The sections with what is measured on them.
pub struct SlicesPanel {
    cut: Cut,
    /// The case that the panel was opened for, by its digest, where its lesion lies, and whether that had been scanned then.
    opened: Option<(String, LesionPlace, bool)>,
    /// Level and width of the window, HU.
    window: (f32, f32),
    callipers: Callipers,
    across: Measured,
    /// Where a length begins, mm along the aorta.
    from_mm: Option<f64>,
    along: Measured,
    reader: Option<Reader>,
    asked: Option<Cut>,
    shown: Option<(Cut, Slice)>,
    texture: Option<TextureHandle>,
    painted: Option<(Cut, (f32, f32))>,
}

/// Diameters are taken with callipers, lengths along the centreline.
const ACROSS: [Measured; 4] =
    [Measured::ProximalDiameter, Measured::DistalDiameter, Measured::RightAccess, Measured::LeftAccess];
const ALONG: [Measured; 3] = [Measured::ProximalLength, Measured::DistalLength, Measured::TreatedLength];

impl Default for SlicesPanel {
    fn default() -> Self {
        Self {
            cut: Cut {
                view: View::Axial,
                at_mm: 0.0,
                leg: Site::RightFemoral,
                field_mm: FIELD_MM[1],
                on_vessel: false,
                turn_deg: 0.0,
                slab_mm: SLAB_MM[1],
            },
            opened: None,
            window: ANGIO,
            callipers: Callipers::default(),
            across: ACROSS[0],
            from_mm: None,
            along: ALONG[2],
            reader: None,
            asked: None,
            shown: None,
            texture: None,
            painted: None,
        }
    }
}

impl SlicesPanel {
    /// Shows the section at a place along the aorta, of `0..=end_mm`, at most `most` points high; returns what goes onto
    /// the sheet.
    pub fn ui(
        &mut self,
        ui: &mut egui::Ui,
        look: &Look,
        case: &Arc<Loaded>,
        end_mm: f64,
        most: f32,
    ) -> Option<Taken> {
        self.open(case, end_mm);
        self.cut.at_mm = self.cut.at_mm.clamp(0.0, end_mm);
        self.read(ui.ctx(), case);
        self.place(ui, look, end_mm);
        let side = ui.available_width().min(most);
        self.film(ui, look, side);
        let taken = self.callipers(ui, look);
        self.length(ui, look).or(taken)
    }

    /// Opens a case's CT at its lesion; where that lies below a scan of the chest, at its end, and at the lesion once the
    /// whole has been read.
    fn open(&mut self, case: &Loaded, end_mm: f64) {
        let before = self.opened.as_ref().filter(|(digest, ..)| *digest == case.digest);
        if before.is_some_and(|(.., scanned)| *scanned) {
            return;
        }
        // Found once: a scan of the chest asks in every frame whether it is there yet.
        let place = before.map_or_else(|| case.lesion_place(), |(_, place, _)| *place);
        let scanned = place.at_mm <= end_mm;
        if scanned || before.is_none() {
            (self.cut.at_mm, self.cut.leg) = (place.at_mm, place.leg);
            self.opened = Some((case.digest.clone(), place, scanned));
        }
    }

    /// Is a section being cut?
    pub fn busy(&self) -> bool {
        self.asked.is_some() && self.asked != self.shown.as_ref().map(|s| s.0)
    }

    /// Takes in what was cut meanwhile, and asks for what is wanted now.
    fn read(&mut self, ctx: &egui::Context, case: &Arc<Loaded>) {
        let reader = self.reader.get_or_insert_with(|| Reader::start(Arc::clone(case), ctx.clone()));
        while let Ok(cut) = reader.got.try_recv() {
            self.shown = Some(cut);
        }
        if self.asked != Some(self.cut) && reader.ask.send(self.cut).is_ok() {
            self.asked = Some(self.cut);
        }
    }

    /// Where, in which plane, how wide, and in which window.
    fn place(&mut self, ui: &mut egui::Ui, look: &Look, end_mm: f64) {
        let w = look.words;
        let before = self.cut;
        let tight = |ui: &mut egui::Ui| {
            ui.spacing_mut().item_spacing = vec2(4.0, 2.0);
            ui.spacing_mut().button_padding = vec2(6.0, 3.0);
            ui.spacing_mut().interact_size.y = 24.0;
            ui.style_mut().override_font_id = Some(theme::plain(14.0));
        };
        if ui.available_width() > WIDE {
            ui.horizontal_wrapped(|ui| {
                tight(ui);
                self.view_row(ui, look);
                ui.separator();
                self.window_row(ui, look);
                if ui.available_size_before_wrap().x < FIELD_ROW {
                    ui.end_row();
                } else {
                    ui.separator();
                }
                self.field_row(ui, look);
            });
        } else {
            for row in [Self::view_row, Self::window_row, Self::field_row] {
                ui.horizontal_wrapped(|ui| {
                    tight(ui);
                    row(self, ui, look);
                });
            }
        }
        self.cut.field_mm = FIELD_MM[usize::from(!self.cut.on_vessel)];
        ui.horizontal(|ui| {
            let name = ui.label(format!("{:.0} mm", self.cut.at_mm));
            ui.spacing_mut().slider_width = (ui.available_width() - 12.0).max(80.0);
            let slider = egui::Slider::new(&mut self.cut.at_mm, 0.0..=end_mm).step_by(1.0).show_value(false);
            let response = ui.add(slider).labelled_by(name.id).on_hover_text(w.along_the_aorta);
            response.widget_info(|| {
                egui::WidgetInfo::slider(true, self.cut.at_mm, format!("{} (mm)", w.along_the_aorta))
            });
        });
        if (Cut { at_mm: before.at_mm, ..self.cut }) != before {
            self.callipers.ends = None;
        }
    }

    /// Which picture; of some also how it is turned, and how thick the slab is.
    fn view_row(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        for view in View::ALL {
            ui.selectable_value(&mut self.cut.view, view, say::ct_view(view, w))
                .on_hover_text(say::ct_view_about(view, w));
        }
        if matches!(self.cut.view, View::Stretched | View::Brightest) {
            let turn = egui::DragValue::new(&mut self.cut.turn_deg)
                .range(-180.0..=180.0)
                .speed(2.0)
                .suffix("°")
                .fixed_decimals(0);
            let response = ui.add(turn);
            response
                .widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::DragValue, true, w.turn_about));
            response.on_hover_text(w.turn_about);
        }
        if self.cut.view == View::Brightest {
            let list = egui::ComboBox::from_id_salt("slab")
                .selected_text(format!("{:.0} mm", self.cut.slab_mm))
                .width(70.0);
            let shown = list.show_ui(ui, |ui| {
                for mm in SLAB_MM {
                    ui.selectable_value(&mut self.cut.slab_mm, mm, format!("{mm:.0} mm"));
                }
            });
            shown
                .response
                .widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::ComboBox, true, w.slab));
        }
    }

    /// The window: usual ones, and level and width.
    fn window_row(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        for (window, name) in [(ANGIO, w.vessel_window), (SOFT, w.soft_window), (LUNG, w.lung_window)] {
            ui.selectable_value(&mut self.window, window, name);
        }
        let (level, width) = (&mut self.window.0, &mut self.window.1);
        hounsfield(ui, w.window_level, level, -1000.0..=1500.0);
        hounsfield(ui, w.window_width, width, 10.0..=3000.0);
    }

    /// How much of the patient, and down to which groin.
    fn field_row(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        for (on_vessel, name) in [(false, w.whole_trunk), (true, w.close_up)] {
            ui.selectable_value(&mut self.cut.on_vessel, on_vessel, name);
        }
        let legs = [Site::RightFemoral, Site::LeftFemoral];
        egui::ComboBox::from_id_salt("leg")
            .selected_text(say::site(self.cut.leg))
            .width((ui.available_size_before_wrap().x - 8.0).clamp(70.0, 150.0))
            .truncate()
            .show_ui(ui, |ui| {
                for leg in legs {
                    ui.selectable_value(&mut self.cut.leg, leg, say::site(leg));
                }
            })
            .response
            .widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::ComboBox, true, w.down_to));
    }

    /// The section, its callipers on it.
    fn film(&mut self, ui: &mut egui::Ui, look: &Look, side: f32) {
        let w = look.words;
        let (rect, response) = ui.allocate_exact_size(vec2(side, side), Sense::click_and_drag());
        let view = say::ct_view(self.cut.view, w);
        let says = format!("{}: {} {:.0} mm, {view}", w.ct, w.along_the_aorta, self.cut.at_mm);
        response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &says));
        ui.painter().rect_filled(rect, 4.0, look.ink.film);
        self.paint(ui, rect, look);
        // A wheel over the section leafs through it, as in every reading room.
        if response.hovered() {
            let by = ui.input_mut(|i| {
                let by = i.smooth_scroll_delta.y;
                i.smooth_scroll_delta = egui::Vec2::ZERO;
                by
            });
            self.cut.at_mm = (self.cut.at_mm - f64::from(by) * 0.1).max(0.0);
        }
        let film = Film { rect, columns: PIXELS as f64 };
        self.callipers.drag(ui, &response, film);
        let span = self.span_mm().map_or(String::new(), |mm| self.span_words(mm, w));
        self.callipers.ui(ui, look, film, w.calliper_end, look.ink.accent, &span);
    }

    fn paint(&mut self, ui: &egui::Ui, rect: Rect, look: &Look) {
        let Some((cut, slice)) = &self.shown else {
            ui.painter().text(
                rect.center(),
                egui::Align2::CENTER_CENTER,
                look.words.section_comes,
                theme::plain(15.0),
                look.ink.soft,
            );
            return;
        };
        if self.painted != Some((*cut, self.window)) {
            let (level, width) = self.window;
            let grey = slice.window(level, width);
            let image = ColorImage::from_gray([grey.width, grey.height], &grey.pixels);
            match &mut self.texture {
                Some(texture) => texture.set(image, TextureOptions::LINEAR),
                None => self.texture = Some(ui.ctx().load_texture("ct", image, TextureOptions::LINEAR)),
            }
            self.painted = Some((*cut, self.window));
        }
        if let Some(texture) = &self.texture {
            let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
            ui.painter().image(texture.id(), rect, whole, Color32::WHITE);
        }
        let corner = |at, align, text: &str| {
            ui.painter().text(at, align, text, theme::bold(13.0), look.ink.text);
        };
        let inside = rect.shrink(8.0);
        corner(inside.left_top(), egui::Align2::LEFT_TOP, say::ct_view(cut.view, look.words));
        corner(inside.right_top(), egui::Align2::RIGHT_TOP, &format!("{:.0} mm", cut.at_mm));
        corner(inside.left_bottom(), egui::Align2::LEFT_BOTTOM, look.words.simulated);
    }

    /// What the callipers span on the section that is shown, mm.
    fn span_mm(&self) -> Option<f64> {
        let (Some(ends), Some((_, slice))) = (self.callipers.ends, &self.shown) else { return None };
        Some(calliper_mm(slice, ends[0], ends[1])).filter(|mm| *mm >= 0.5)
    }

    /// That in words; on a slab it is what the length projects to.
    fn span_words(&self, mm: f64, w: &Words) -> String {
        match plane(self.cut.view) {
            Plane::Projection => format!("{mm:.1} mm, {}", w.projected),
            _ => format!("{mm:.1} mm"),
        }
    }

    /// Under the section: what the callipers span, and onto which line of the sheet it goes.
    fn callipers(&mut self, ui: &mut egui::Ui, look: &Look) -> Option<Taken> {
        let w = look.words;
        let span = self.span_mm();
        ui.horizontal(|ui| {
            if let Some(mm) = span {
                let span = egui::RichText::new(self.span_words(mm, w)).font(theme::bold(16.0));
                let label = ui.label(span);
                let plane = plane(self.cut.view);
                if plane == Plane::Projection {
                    label.on_hover_text(w.slab_foreshortens);
                }
                let (all, what): (&[Measured], _) = match self.cut.view {
                    View::Stretched | View::Brightest => (&Measured::ALL, &mut self.along),
                    _ => (&ACROSS, &mut self.across),
                };
                let taken = onto(ui, look, what, all, w.calliper_for);
                taken.then(|| (*what, tenth(mm), plane))
            } else {
                if ui.button(w.callipers).on_hover_text(w.callipers_about).clicked() {
                    self.callipers.lay(PIXELS as f64, PIXELS as f64, 30.0 / self.cut.pixel_mm(PIXELS));
                }
                ui.label(egui::RichText::new(w.callipers_about).size(14.0).color(look.ink.soft));
                None
            }
        })
        .inner
    }

    /// A length along the centreline: from a place that was kept to the one that is shown.
    fn length(&mut self, ui: &mut egui::Ui, look: &Look) -> Option<Taken> {
        let w = look.words;
        ui.horizontal(|ui| {
            let Some(from) = self.from_mm else {
                if ui.button(w.length_from_here).clicked() {
                    self.from_mm = Some(self.cut.at_mm);
                }
                ui.label(egui::RichText::new(w.length_about).size(14.0).color(look.ink.soft));
                return None;
            };
            let mm = (self.cut.at_mm - from).abs();
            let text = format!("{mm:.0} mm");
            ui.label(egui::RichText::new(text).font(theme::bold(16.0)))
                .on_hover_text(format!("{from:.0} → {:.0} mm", self.cut.at_mm));
            let what = if ALONG.contains(&self.along) { self.along } else { ALONG[2] };
            self.along = what;
            let taken = onto(ui, look, &mut self.along, &ALONG, w.length_for) && mm >= 0.5;
            if taken || ui.input(|i| i.key_pressed(Key::Escape)) {
                self.from_mm = None;
            }
            taken.then_some((self.along, tenth(mm), Plane::Orthogonal))
        })
        .inner
    }
}

/// Which line of the sheet, and the button that puts the value there.
fn onto(ui: &mut egui::Ui, look: &Look, what: &mut Measured, all: &[Measured], name: &str) -> bool {
    let button = egui::Button::new(look.words.onto_sheet);
    let width = (ui.available_width() - 118.0).max(80.0);
    egui::ComboBox::from_id_salt(name)
        .selected_text(say::measured(*what, look.words))
        .width(width)
        .truncate()
        .show_ui(ui, |ui| {
            for one in all {
                ui.selectable_value(what, *one, say::measured(*one, look.words));
            }
        })
        .response
        .widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::ComboBox, true, name));
    ui.add(button).clicked()
}

/// The plane of what is measured.
fn plane(view: View) -> Plane {
    match view {
        View::Axial => Plane::Axial,
        View::Across | View::Stretched => Plane::Orthogonal,
        View::Brightest => Plane::Projection,
    }
}

/// One number of the window.
fn hounsfield(ui: &mut egui::Ui, name: &str, value: &mut f32, range: std::ops::RangeInclusive<f32>) {
    let field = egui::DragValue::new(value).range(range).speed(5.0).fixed_decimals(0);
    let response = ui.add(field);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::DragValue, true, name));
    response.on_hover_text(name);
}

fn tenth(mm: f64) -> f64 {
    (10.0 * mm).round() / 10.0
}

/// A worker that cuts sections; it ends when the panel is gone.
struct Reader {
    ask: Sender<Cut>,
    got: Receiver<(Cut, Slice)>,
}

impl Reader {
    fn start(case: Arc<Loaded>, ctx: egui::Context) -> Self {
        let (ask, asked) = channel::<Cut>();
        let (give, got) = channel();
        // Without a worker no section comes, and the report can still be read.
        let _ = std::thread::Builder::new().name("ct".into()).spawn(move || {
            let scanned = planned(&case);
            let scan = scanned.scan();
            while let Ok(mut cut) = asked.recv() {
                // Only the newest wish counts.
                while let Ok(newer) = asked.try_recv() {
                    cut = newer;
                }
                let Some(slice) = section(&case, &scan, &cut) else { continue };
                if give.send((cut, slice)).is_err() {
                    return;
                }
                ctx.request_repaint();
            }
        });
        Self { ask, got }
    }
}

fn section(case: &Loaded, scan: &Scan<'_>, cut: &Cut) -> Option<Slice> {
    // The same section always has the same grain.
    let mut stream = Streams::new(cut.at_mm.to_bits()).named("ct");
    cut.of(&case.tree, scan, PIXELS, &mut stream).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::Scene;

    /// A scan of the chest does not reach an aneurysm below the kidneys: it opens at its own end, and a hand may leaf in it; the
    /// whole opens at the lesion, once.
    #[test]
    fn the_ct_opens_at_the_lesion_once_it_is_scanned() {
        let case = crate::records::library::case("infrarenal_rupture").unwrap_or_else(|e| panic!("{e}"));
        let lesion = case.lesion_place();
        let mut panel = SlicesPanel::default();
        assert_eq!(panel.window, ANGIO, "the window of a CT angiography");
        panel.open(&case, lesion.at_mm - 100.0);
        assert_eq!(panel.cut.at_mm, lesion.at_mm, "the panel brings it to the end of what is scanned");
        for (leafed_mm, end_mm, shown_mm) in
            [(50.0, -100.0, 50.0), (50.0, 100.0, lesion.at_mm), (33.0, 100.0, 33.0)]
        {
            panel.cut.at_mm = leafed_mm;
            panel.open(&case, lesion.at_mm + end_mm);
            assert_eq!(panel.cut.at_mm, shown_mm);
        }
    }

    /// The case file states her aorta: 31 mm across at the isthmus on the scan. Callipers across the bright lumen of the
    /// orthogonal section there must find it; the wall's own thickness and the pixel are the margin.
    #[test]
    fn callipers_find_the_width_that_the_case_states() {
        let case = crate::records::library::case("descending_rupture").unwrap_or_else(|e| panic!("{e}"));
        let scan = Scan::new(&Scene::bare(&case.tree, None));
        let rail = crate::anatomy::Rail::for_access(&case.tree, Site::RightFemoral)
            .unwrap_or_else(|| panic!("a way"));
        let at_mm = rail
            .ostium_mm(&case.tree, crate::anatomy::VesselName::LeftSubclavian)
            .unwrap_or_else(|| panic!("a left subclavian"))
            + 12.0;
        let usual = SlicesPanel::default().cut;
        let cut = Cut { view: View::Across, at_mm, field_mm: FIELD_MM[0], on_vessel: true, ..usual };
        let slice = section(&case, &scan, &cut).unwrap_or_else(|| panic!("a section"));
        let bright: Vec<usize> = (0..PIXELS).filter(|c| slice.at(*c, PIXELS / 2) > 200.0).collect();
        let (first, last) = (bright.first().copied().unwrap_or(0), bright.last().copied().unwrap_or(0));
        let mm = calliper_mm(&slice, (first as f64, 160.0), (last as f64 + 1.0, 160.0));
        assert!((mm - 31.0).abs() < 2.0, "{mm}");
    }
}
