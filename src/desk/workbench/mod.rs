//! The workbench: a case file under construction with what is to be said about it, its vessels, its sizing sheet, its phases and
//! its plays. The text is written in the educator's own editor; whenever it is saved, everything here is read anew.

mod chart;
mod plays;
mod sheet;
pub mod source;
mod text;

use super::parts::abreast;
use super::theme::{self, Look, gap};
use super::vessels::VesselsPanel;
use crate::scenario::Loaded;
use chart::ChartPanel;
use egui::RichText;
use plays::PlaysPanel;
use sheet::SheetPanel;
use source::Source;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use text::TextPanel;

/// How often the file is looked at.
const LOOK_AGAIN: Duration = Duration::from_millis(700);

/// What lies open beside the text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Leaf {
    #[default]
    Vessels,
    Sheet,
    Chart,
    Plays,
}

/// Where the educator goes from here.
pub enum Onward {
    /// Back to the shelf.
    Shelf,
    /// Into the case with a play giving the orders, up to the moment when a state is entered, or to its end.
    Rehearse {
        /// The case as it stands.
        case: Arc<Loaded>,
        /// The play.
        play: String,
        /// Where the orders are the educator's own again.
        until: Option<String>,
    },
}

/// The workbench.
pub struct Workbench {
    source: Source,
    text: TextPanel,
    vessels: VesselsPanel,
    sheet: SheetPanel,
    chart: ChartPanel,
    plays: PlaysPanel,
    leaf: Leaf,
    looked: f64,
    /// The state to jump to.
    chosen: Option<String>,
}

impl Workbench {
    /// Lays a file on it.
    ///
    /// # Errors
    /// A plain sentence when it cannot be read.
    pub fn open(path: &Path) -> Result<Self, String> {
        Ok(Self {
            source: Source::open(path)?,
            text: TextPanel::default(),
            vessels: VesselsPanel::default(),
            sheet: SheetPanel::default(),
            chart: ChartPanel::default(),
            plays: PlaysPanel::default(),
            leaf: Leaf::default(),
            looked: 0.0,
            chosen: None,
        })
    }

    /// The file.
    pub fn source(&self) -> &Source {
        &self.source
    }

    /// Shows it. `lit` are the states where a session of this case stands.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, lit: &[String]) -> Option<Onward> {
        let now = ui.input(|i| i.time);
        if now - self.looked >= LOOK_AGAIN.as_secs_f64() {
            self.looked = now;
            self.source.follow();
        }
        ui.ctx().request_repaint_after(LOOK_AGAIN);
        let mut onward = self.head(ui, look);
        let (source, text) = (&mut self.source, &mut self.text);
        let (leaf, vessels, sheet) = (&mut self.leaf, &mut self.vessels, &mut self.sheet);
        let (chart, plays, chosen) = (&mut self.chart, &mut self.plays, &mut self.chosen);
        let shared = std::cell::RefCell::new(source);
        let mut left = |ui: &mut egui::Ui| text.ui(ui, look, &shared.borrow());
        let mut right = |ui: &mut egui::Ui| {
            let mut source = shared.borrow_mut();
            leaves(ui, look, leaf);
            ui.add_space(gap::S);
            if *leaf == Leaf::Sheet {
                return sheet.ui(ui, look, &mut source);
            }
            let Some(case) = source.case.clone() else {
                ui.label(look.words.bench_no_case);
                return;
            };
            match leaf {
                Leaf::Vessels => {
                    let size = egui::vec2(ui.available_width(), ui.available_height().max(240.0));
                    vessels.ui(ui, look, size, look.words.bench_vessels_about, &case.tree, &[]);
                }
                Leaf::Chart => chart.ui(ui, look, (&case, source.edition), lit, chosen),
                _ => {
                    let next = plays.ui(ui, look, &case, source.fresh, chosen);
                    onward = next.or(onward.take());
                }
            }
        };
        abreast(ui, 380.0, &mut [(0.54, &mut left), (0.46, &mut right)]);
        onward
    }

    /// The file's name, how it stands, and the way back.
    fn head(&mut self, ui: &mut egui::Ui, look: &Look) -> Option<Onward> {
        let w = look.words;
        let mut onward = None;
        ui.horizontal(|ui| {
            if ui.button(w.bench_back).clicked() {
                onward = Some(Onward::Shelf);
            }
            ui.add_space(gap::S);
            let name = self.source.path().file_name().unwrap_or_default().to_string_lossy().into_owned();
            ui.label(theme::heading(&name)).on_hover_text(self.source.path().display().to_string());
            ui.add_space(gap::S);
            let (mark, said) = match (self.source.fresh, self.source.found.is_empty()) {
                (true, true) => ("✔", w.bench_sound),
                (true, false) => ("△", w.bench_told),
                (false, _) => ("■", w.bench_shut),
            };
            ui.label(RichText::new(format!("{mark} {said}")).color(look.ink.soft));
        });
        if let Some(why) = &self.source.trouble {
            ui.add(egui::Label::new(RichText::new(format!("■ {why}")).color(look.ink.lesion)).wrap());
        }
        ui.add_space(gap::S);
        onward
    }
}

fn leaves(ui: &mut egui::Ui, look: &Look, leaf: &mut Leaf) {
    let w = look.words;
    ui.horizontal(|ui| {
        for (one, name) in [
            (Leaf::Vessels, w.bench_vessels),
            (Leaf::Sheet, w.bench_sheet),
            (Leaf::Chart, w.bench_chart),
            (Leaf::Plays, w.bench_plays),
        ] {
            ui.selectable_value(leaf, one, name);
        }
    });
}
