//! The whole desk as one egui panel: which screen is shown, who sits there, and what passes between them.
//!
//! It knows no window. The shell calls [`Desk::tick`] with the real time that passed and [`Desk::ui`] with an egui `Ui`;
//! the tests do the same.

use super::briefing::{BriefingScreen, Onward};
use super::cases::{self, CasesScreen, Choice};
use super::outcome::DebriefScreen;
use super::reading::ReadingScreen;
use super::recovery::RecoveryScreen;
use super::seat::Seat;
use super::settings::Settings;
use super::theatre::{self, TheatreScreen};
use super::theme::{self, Look, gap};
use crate::scenario::Loaded;
use crate::session::log::Mode;
use egui::{Frame, Key, Margin, Modifiers, Panel, RichText};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How the desk is opened.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// A case to open at once: a built-in name or a file.
    pub case: Option<String>,
    /// Seed of all chance; 0 lets the desk choose by the log's number.
    pub seed: u64,
    /// Mode of the case that is opened at once.
    pub mode: Mode,
    /// Where its log is written; the desk's own folder when left out.
    pub log: Option<PathBuf>,
    /// A log to take up where it ends.
    pub resume: Option<PathBuf>,
}

/// The screens, in the order of a case.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[expect(missing_docs, reason = "each name says it")]
pub enum Screen {
    #[default]
    Cases,
    Briefing,
    Reading,
    Theatre,
    Recovery,
    Debrief,
}

impl Screen {
    /// The screens of a running case.
    pub const OF_A_CASE: [Self; 5] =
        [Self::Briefing, Self::Reading, Self::Theatre, Self::Recovery, Self::Debrief];

    fn name(self, look: &Look) -> &'static str {
        let w = look.words;
        match self {
            Self::Cases => w.shelf,
            Self::Briefing => w.briefing,
            Self::Reading => w.reading,
            Self::Theatre => w.theatre,
            Self::Recovery => w.recovery,
            Self::Debrief => w.debrief,
        }
    }
}

/// The desk.
pub struct Desk {
    settings: Settings,
    dressed: Option<Settings>,
    screen: Screen,
    cases: CasesScreen,
    seat: Option<Seat>,
    briefing: BriefingScreen,
    reading: ReadingScreen,
    theatre: TheatreScreen,
    recovery: RecoveryScreen,
    debrief: DebriefScreen,
    settings_open: bool,
    /// Said at the foot, such as how the picture is drawn.
    pub notice: Option<String>,
    logs: Option<PathBuf>,
    options: Options,
}

impl Desk {
    /// At the shelf, or in the case that the options name.
    ///
    /// # Errors
    /// When the named case or log cannot be opened.
    pub fn new(options: Options, settings: Settings) -> Result<Self, String> {
        let own = cases::log_folder();
        let folder = own.as_ref().and_then(|f| f.parent()).map(|f| f.join("cases"));
        let mut desk = Self {
            settings,
            dressed: None,
            screen: Screen::Cases,
            cases: CasesScreen::new(folder.as_deref()),
            seat: None,
            briefing: BriefingScreen::default(),
            reading: ReadingScreen::default(),
            theatre: TheatreScreen::default(),
            recovery: RecoveryScreen::default(),
            debrief: DebriefScreen::default(),
            settings_open: false,
            notice: None,
            logs: own,
            options,
        };
        if let Some(log) = desk.options.resume.clone() {
            desk.resume(&log)?;
        } else if let Some(name) = desk.options.case.clone() {
            let case = crate::records::library::case(&name)?;
            desk.open(case, desk.options.mode, desk.options.log.clone())?;
        }
        Ok(desk)
    }

    /// The screen that is shown.
    pub fn screen(&self) -> Screen {
        self.screen
    }

    /// The seat, when a case is open.
    pub fn seat(&self) -> Option<&Seat> {
        self.seat.as_ref()
    }

    /// The seat, to let time pass in it.
    pub fn seat_mut(&mut self) -> Option<&mut Seat> {
        self.seat.as_mut()
    }

    /// Turns to a screen.
    pub fn turn_to(&mut self, screen: Screen) {
        self.screen = screen;
    }

    /// Shows or hides the settings.
    pub fn show_settings(&mut self, open: bool) {
        self.settings_open = open;
    }

    /// Does anything move, so that frames are wanted all the time?
    pub fn running(&self) -> bool {
        self.seat.as_ref().is_some_and(Seat::running)
    }

    /// Opens a case at its start. Without a path the log goes to the desk's own folder.
    ///
    /// # Errors
    /// When the log cannot be made.
    pub fn open(&mut self, case: Arc<Loaded>, mode: Mode, log: Option<PathBuf>) -> Result<(), String> {
        let (log, number) = match (log, &self.logs) {
            (Some(log), _) => (Some(log), 1),
            (None, Some(folder)) => {
                std::fs::create_dir_all(folder).map_err(|e| {
                    format!("logs are kept in {}, and that cannot be made: {e}", folder.display())
                })?;
                let (log, number) = cases::next_log(folder, &case.case.id);
                (Some(log), number)
            }
            (None, None) => (None, 1),
        };
        let seed = if self.options.seed == 0 { number } else { self.options.seed };
        self.seat = Some(Seat::begin(case, seed, mode, log.as_deref())?);
        self.fresh_panels();
        self.screen = Screen::Briefing;
        Ok(())
    }

    fn resume(&mut self, log: &Path) -> Result<(), String> {
        self.seat = Some(Seat::resume(log)?);
        self.fresh_panels();
        self.screen = Screen::Theatre;
        Ok(())
    }

    fn fresh_panels(&mut self) {
        self.briefing = BriefingScreen::default();
        self.reading = ReadingScreen::default();
        self.theatre = TheatreScreen::default();
        self.recovery = RecoveryScreen::default();
        self.debrief = DebriefScreen::default();
        self.cases.trouble = None;
    }

    /// Leaves the case; its log is ended in good order.
    ///
    /// # Errors
    /// When the log's last lines could not be written.
    pub fn leave(&mut self) -> Result<(), String> {
        self.screen = Screen::Cases;
        self.cases =
            CasesScreen::new(self.logs.as_ref().and_then(|f| f.parent()).map(|f| f.join("cases")).as_deref());
        self.seat.take().map_or(Ok(()), Seat::close)
    }

    /// Lets real time pass.
    pub fn tick(&mut self, seconds: f64) {
        if let Some(seat) = &mut self.seat {
            seat.tick(seconds);
        }
    }

    /// Shows the desk.
    pub fn ui(&mut self, ui: &mut egui::Ui) {
        if self.dressed.as_ref() != Some(&self.settings) {
            let first = self.dressed.is_none();
            theme::apply(ui.ctx(), &self.settings);
            self.dressed = Some(self.settings.clone());
            if first {
                // Type faces are there from the next frame on.
                theme::load_fonts(ui.ctx());
                ui.ctx().request_repaint();
                return;
            }
        }
        let look = Look::of(&self.settings);
        ui.painter().rect_filled(ui.max_rect(), 0.0, look.ink.ground);
        self.keys(ui);
        self.head(ui, &look);
        self.foot(ui, &look);
        egui::CentralPanel::default().frame(page(&look, self.screen)).show(ui, |ui| self.body(ui, &look));
        if self.settings_open {
            self.settings_sheet(ui, &look);
        }
    }

    fn body(&mut self, ui: &mut egui::Ui, look: &Look) {
        let Some(seat) = &mut self.seat else {
            if let Some(choice) = self.cases.ui(ui, look) {
                self.choose(choice);
            }
            return;
        };
        match self.screen {
            Screen::Cases | Screen::Briefing => {
                let (orders, onward) = self.briefing.ui(ui, look, seat);
                seat.give(orders);
                if let Some(onward) = onward {
                    seat.start_clock();
                    self.screen = if onward == Onward::Reading { Screen::Reading } else { Screen::Theatre };
                }
            }
            Screen::Reading => {
                let orders = self.reading.ui(ui, look, seat);
                seat.give(orders);
            }
            Screen::Theatre => {
                let orders = self.theatre.ui(ui, look, seat);
                seat.give(orders);
            }
            Screen::Recovery => {
                let orders = self.recovery.ui(ui, look, seat);
                seat.give(orders);
            }
            Screen::Debrief => {
                let asked = self.debrief.ui(ui, look, seat);
                seat.give(asked.orders);
                if asked.write {
                    self.debrief.written = Some(write_debrief(seat, look).unwrap_or_else(|why| why));
                }
                if asked.leave
                    && let Err(why) = self.leave()
                {
                    self.cases.trouble = Some(why);
                }
            }
        }
    }

    fn choose(&mut self, choice: Choice) {
        let done = match choice {
            Choice::Open(case, mode) => self.open(case, mode, None),
            Choice::Resume(log) => self.resume(&log),
        };
        self.cases.trouble = done.err();
    }

    /// The head: name, the way through the case, the patient in one line, and the clock.
    fn head(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        let frame = Frame::new().fill(look.ink.panel).inner_margin(Margin::symmetric(16, 7));
        Panel::top("head").frame(frame).resizable(false).show_separator_line(false).show(ui, |ui| {
            ui.horizontal(|ui| {
                ui.label(RichText::new(w.name).font(theme::serif(21.0)).color(look.ink.accent));
                ui.add_space(gap::M);
                if self.seat.is_some() {
                    for screen in Screen::OF_A_CASE {
                        if ui.selectable_label(self.screen == screen, screen.name(look)).clicked() {
                            self.screen = screen;
                        }
                    }
                }
                ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                    if ui.button(w.settings).clicked() {
                        self.settings_open = !self.settings_open;
                    }
                    ui.add_space(gap::S);
                    let Some(seat) = &mut self.seat else { return };
                    ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                        ui.add_space(gap::L);
                        let now = seat.view().now;
                        seat.clock.ui(ui, look, now, seat.mode() != Mode::Examination);
                        if self.screen != Screen::Theatre {
                            ui.add_space(gap::M);
                            let room = ui.available_width() - 90.0;
                            theatre::strip(ui, look, seat, room);
                        }
                    });
                });
            });
        });
    }

    /// The foot: what every screen says, and the desk's own notices.
    fn foot(&mut self, ui: &mut egui::Ui, look: &Look) {
        let frame = Frame::new().fill(look.ink.panel).inner_margin(Margin::symmetric(16, 1));
        Panel::bottom("foot").frame(frame).resizable(false).show_separator_line(false).show(ui, |ui| {
            ui.horizontal(|ui| {
                let phase = self.seat.as_ref().map(|s| s.view().phase.join(" · ")).unwrap_or_default();
                if !phase.is_empty() {
                    ui.label(RichText::new(phase).font(theme::bold(13.0)).color(look.ink.text));
                    ui.add_space(gap::M);
                }
                let text = self.notice.as_deref().unwrap_or(look.words.training_only);
                let text = if self.seat.is_some() || self.notice.is_some() {
                    text
                } else {
                    look.words.training_only
                };
                ui.add(egui::Label::new(RichText::new(text).size(12.5).color(look.ink.soft)).truncate());
            });
        });
    }

    fn settings_sheet(&mut self, ui: &mut egui::Ui, look: &Look) {
        let w = look.words;
        let before = self.settings.clone();
        let modal = egui::Modal::new(egui::Id::new("settings")).frame(theme::card(look).inner_margin(24));
        let response = modal.show(ui.ctx(), |ui| {
            ui.set_width(460.0);
            ui.label(theme::heading(w.settings));
            ui.add_space(gap::S);
            ui.label(w.text_size);
            ui.horizontal(|ui| {
                for size in Settings::SIZES {
                    ui.selectable_value(&mut self.settings.size_percent, size, format!("{size} %"));
                }
            });
            ui.checkbox(&mut self.settings.contrast, w.high_contrast);
            ui.checkbox(&mut self.settings.still, w.reduced_motion);
            ui.label(RichText::new(w.no_sound).size(14.0).color(look.ink.soft));
            ui.add_space(gap::S);
            ui.label(theme::eyebrow(look, w.keys));
            ui.label(RichText::new(w.keys_text).size(14.0).color(look.ink.soft));
            ui.add_space(gap::M);
            ui.horizontal(|ui| {
                let close = ui.button(w.close).clicked();
                if self.seat.is_some() && ui.button(w.leave).clicked() {
                    self.settings_open = false;
                    if let Err(why) = self.leave() {
                        self.cases.trouble = Some(why);
                    }
                }
                close
            })
            .inner
        });
        if response.inner || response.should_close() {
            self.settings_open = false;
        }
        if before != self.settings
            && let Err(why) = self.settings.save()
        {
            self.notice = Some(why);
        }
    }

    /// Ctrl and a number turns to a screen.
    fn keys(&mut self, ui: &egui::Ui) {
        if self.seat.is_none() {
            return;
        }
        let keys = [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5];
        for (key, screen) in keys.into_iter().zip(Screen::OF_A_CASE) {
            if ui.input_mut(|i| i.consume_key(Modifiers::COMMAND, key)) {
                self.screen = screen;
            }
        }
    }
}

fn page(look: &Look, screen: Screen) -> Frame {
    let margin = if screen == Screen::Theatre { Margin::ZERO } else { Margin::symmetric(20, 14) };
    Frame::new().fill(look.ink.ground).inner_margin(margin)
}

/// Writes the page that the command `debrief` writes, beside the log.
fn write_debrief(seat: &Seat, look: &Look) -> Result<String, String> {
    let log = seat.keeper().path().ok_or("this session keeps no log, so there is no place beside it")?;
    let file = log.with_extension("html");
    let page = crate::debrief::report::html(seat.keeper().session());
    std::fs::write(&file, page).map_err(|e| format!("{} cannot be written: {e}", file.display()))?;
    Ok(format!("{} {}", look.words.written_to, file.display()))
}
