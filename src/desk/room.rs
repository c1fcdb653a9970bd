//! The whole desk as one egui panel: which screen is shown, who sits there, and what passes between them.
//!
//! It knows no window. The shell calls [`Desk::tick`] with the real time that passed and [`Desk::ui`] with an egui `Ui`;
//! the tests do the same.

mod bench;
mod surround;

use super::again::Again;
use super::briefing::{BriefingScreen, Onward};
use super::cases::{self, CasesScreen, Choice};
use super::educator::EducatorPanel;
use super::outcome::DebriefScreen;
use super::question::{self, QuestionPanel};
use super::reading::ReadingScreen;
use super::recovery::RecoveryScreen;
use super::seat::{Bedside, Seat};
use super::settings::Settings;
use super::sound::speaker::Speaker;
use super::theatre::TheatreScreen;
use super::theme::{self, Look};
use super::workbench::Workbench;
use crate::debrief::report;
use crate::scenario::{Loaded, Order};
use crate::session::log::Mode;
use egui::{Frame, Key, Margin, Modifiers};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Width under which a screen has room for one thing beside the page at most, points.
const NARROW: f32 = 1000.0;

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
    /// Where logs are kept; the user's own data folder when left out.
    pub folder: Option<PathBuf>,
    /// A case file to lay on the workbench.
    pub workbench: Option<PathBuf>,
}

/// The screens, in the order of a case.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[expect(missing_docs, reason = "each name says it")]
pub enum Screen {
    #[default]
    Cases,
    Workbench,
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
            Self::Workbench => w.bench,
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
    bench: Option<Workbench>,
    jump: Option<bench::Jump>,
    briefing: BriefingScreen,
    reading: ReadingScreen,
    theatre: TheatreScreen,
    recovery: RecoveryScreen,
    debrief: DebriefScreen,
    questions: QuestionPanel,
    educator: EducatorPanel,
    educator_open: bool,
    settings_open: bool,
    speaker: Option<Speaker>,
    /// Said at the foot, such as how the picture is drawn.
    pub notice: Option<String>,
    /// What lies behind the desk is painted in [`Desk::ground`] already.
    pub on_ground: bool,
    logs: Option<PathBuf>,
    options: Options,
}

impl Desk {
    /// At the shelf, or in the case that the options name.
    ///
    /// # Errors
    /// When the named case or log cannot be opened.
    pub fn new(options: Options, settings: Settings) -> Result<Self, String> {
        let own = options.folder.clone().or_else(cases::log_folder);
        let folder = own.as_ref().and_then(|f| f.parent()).map(|f| f.join("cases"));
        let mut desk = Self {
            settings,
            dressed: None,
            screen: Screen::Cases,
            cases: CasesScreen::new(folder.as_deref(), own.as_deref()),
            seat: None,
            bench: None,
            jump: None,
            briefing: BriefingScreen::default(),
            reading: ReadingScreen::default(),
            theatre: TheatreScreen::default(),
            recovery: RecoveryScreen::default(),
            debrief: DebriefScreen::default(),
            questions: QuestionPanel::default(),
            educator: EducatorPanel::default(),
            educator_open: false,
            settings_open: false,
            speaker: None,
            notice: None,
            on_ground: false,
            logs: own,
            options,
        };
        if let Some(file) = desk.options.workbench.clone() {
            desk.lay(&file)?;
        } else if let Some(log) = desk.options.resume.clone() {
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

    /// The colour behind everything.
    pub fn ground(&self) -> egui::Color32 {
        Look::of(&self.settings).ink.ground
    }

    /// Shows or hides the settings.
    pub fn show_settings(&mut self, open: bool) {
        self.settings_open = open;
    }

    /// Shows or hides the educator's panel; an examination has none.
    pub fn show_educator(&mut self, open: bool) {
        self.educator_open = open && self.seat.as_ref().is_some_and(|s| s.mode() != Mode::Examination);
    }

    /// Is a picture that is shown being drawn, beside the window's own work?
    pub fn drawing(&self) -> bool {
        match self.screen {
            Screen::Theatre => self.seat.as_ref().is_some_and(|s| s.picture.behind(s.view())),
            Screen::Reading => self.reading.busy(),
            Screen::Debrief => self.debrief.busy(),
            _ => false,
        }
    }

    /// Does anything move, so that frames are wanted all the time?
    pub fn running(&self) -> bool {
        self.jump.is_some()
            || self.seat.as_ref().is_some_and(Seat::running)
            || self.screen == Screen::Debrief && self.debrief.again().is_some_and(Again::playing)
    }

    /// Opens a case at its start. Without a path the log goes to the desk's own folder.
    ///
    /// # Errors
    /// When the log cannot be made; nothing has then been opened.
    pub fn open(&mut self, case: Arc<Loaded>, mode: Mode, log: Option<PathBuf>) -> Result<(), String> {
        let (log, number) = match (log, &self.logs) {
            (Some(log), _) => (Some(log), 1),
            (None, Some(folder)) => {
                std::fs::create_dir_all(folder).map_err(|e| {
                    format!("logs are kept in {}, and that folder cannot be made: {e}", folder.display())
                })?;
                let (log, number) = cases::next_log(folder, &case.case.id);
                (Some(log), number)
            }
            (None, None) => (None, 1),
        };
        self.sit_down(case, mode, log.as_deref(), number)
    }

    fn sit_down(
        &mut self,
        case: Arc<Loaded>,
        mode: Mode,
        log: Option<&Path>,
        number: u64,
    ) -> Result<(), String> {
        let seed = if self.options.seed == 0 { number } else { self.options.seed };
        self.seat = Some(Seat::begin(case, seed, mode, log)?);
        self.fresh_panels();
        self.screen = Screen::Briefing;
        Ok(())
    }

    /// Takes a log up where it ends, on the screen that it has come to.
    fn resume(&mut self, log: &Path) -> Result<(), String> {
        let seat = Seat::resume(log)?;
        self.screen = match (&seat.view().ended, seat.on_ward()) {
            (Some(_), _) => Screen::Debrief,
            (None, true) => Screen::Recovery,
            (None, false) => Screen::Theatre,
        };
        self.seat = Some(seat);
        self.fresh_panels();
        Ok(())
    }

    fn fresh_panels(&mut self) {
        self.briefing = BriefingScreen::default();
        self.reading = ReadingScreen::default();
        self.theatre = TheatreScreen::default();
        self.recovery = RecoveryScreen::default();
        self.debrief = DebriefScreen::default();
        self.questions = QuestionPanel::default();
        self.educator = EducatorPanel::default();
        self.educator_open = false;
        (self.cases.trouble, self.cases.logless) = (None, None);
    }

    /// Leaves the case; its log is ended in good order.
    ///
    /// # Errors
    /// When the log's last lines could not be written.
    pub fn leave(&mut self) -> Result<(), String> {
        // An educator goes back to the file.
        self.screen = if self.bench.is_some() { Screen::Workbench } else { Screen::Cases };
        self.jump = None;
        let closed = self.seat.take().map_or(Ok(()), Seat::close);
        // The shelf is read anew afterwards: the log that was just ended stands on it.
        let own = self.logs.as_ref().and_then(|f| f.parent()).map(|f| f.join("cases"));
        self.cases = CasesScreen::new(own.as_deref(), self.logs.as_deref());
        closed
    }

    /// Lets real time pass.
    pub fn tick(&mut self, seconds: f64) {
        if !self.settings.sound {
            self.speaker = None;
        } else if self.speaker.is_none() {
            self.speaker = Some(Speaker::find());
        }
        if self.stride() {
            return;
        }
        if let Some(seat) = &mut self.seat {
            seat.tick(seconds);
            if let Some(speaker) = &mut self.speaker {
                seat.due().iter().for_each(|sound| speaker.play(*sound));
            }
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
        if !self.on_ground {
            ui.painter().rect_filled(ui.max_rect(), 0.0, look.ink.ground);
        }
        self.keys(ui);
        self.head(ui, &look);
        self.foot(ui, &look);
        egui::CentralPanel::default().frame(page(self.screen)).show(ui, |ui| self.body(ui, &look));
        self.educator_window(ui, &look);
        if self.settings_open {
            self.settings_sheet(ui, &look);
        }
    }

    fn body(&mut self, ui: &mut egui::Ui, look: &Look) {
        if self.screen == Screen::Workbench {
            return self.bench_ui(ui, look);
        }
        if let Some(state) = self.going_to() {
            ui.label(theme::heading(format!("{} {state} …", look.words.bench_jumping)));
            return;
        }
        let Some(seat) = &mut self.seat else {
            if let Some(choice) = self.cases.ui(ui, look) {
                self.choose(choice);
            }
            return;
        };
        // In the theatre and on the ward the questions stand beside what they are about.
        if matches!(self.screen, Screen::Briefing | Screen::Reading) {
            let (orders, covered) = beside(ui, look, seat, &mut self.questions);
            seat.give(orders);
            if covered {
                return;
            }
        }
        match self.screen {
            Screen::Cases | Screen::Workbench | Screen::Briefing => {
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
            Screen::Theatre | Screen::Recovery => {
                let mut at = Bedside { look: *look, seat, questions: &mut self.questions, given: Vec::new() };
                match self.screen {
                    Screen::Theatre => self.theatre.ui(ui, &mut at),
                    _ => self.recovery.ui(ui, &mut at),
                }
                let given = at.given;
                seat.give(given);
            }
            Screen::Debrief => {
                let asked = self.debrief.ui(ui, look, seat);
                seat.give(asked.orders);
                if asked.write {
                    self.debrief.written =
                        Some(write_debrief(seat, self.debrief.again(), look).unwrap_or_else(|why| why));
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
        let (done, wanted) = match choice {
            Choice::Open(case, mode) => (self.open(Arc::clone(&case), mode, None), Some((case, mode))),
            Choice::Unlogged(case, mode) => (self.sit_down(case, mode, None, 1), None),
            Choice::Resume(log) => (self.resume(&log), None),
            Choice::Edit(name) => (self.lay_named(&name), None),
        };
        if let Err(why) = done {
            // An examination without a log would be none.
            self.cases.logless = wanted.filter(|w| w.1 != Mode::Examination);
            self.cases.trouble = Some(why);
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

/// Questions down the left side, as in the theatre; over the page where it is narrow. Returns answers, and whether the
/// page is covered.
fn beside(
    ui: &mut egui::Ui,
    look: &Look,
    seat: &mut Seat,
    questions: &mut QuestionPanel,
) -> (Vec<Order>, bool) {
    let size = ui.available_size();
    if size.x < NARROW {
        return questions.over_the_page(ui, look, seat);
    }
    if question::quiet(seat) {
        return (Vec::new(), false);
    }
    let frame = Frame::new().inner_margin(Margin { right: 12, ..Margin::ZERO });
    let panel = egui::Panel::left("questions").frame(frame).resizable(false).show_separator_line(false);
    let given =
        panel.exact_size(304.0).show(ui, |ui| question::standing(ui, look, seat, questions, size.y)).inner;
    (given, false)
}

fn page(screen: Screen) -> Frame {
    let margin = if screen == Screen::Theatre { Margin::ZERO } else { Margin::symmetric(20, 14) };
    Frame::new().inner_margin(margin)
}

/// Writes the page that the command `debrief` writes, beside the log; with pictures once they have been drawn.
fn write_debrief(seat: &Seat, again: Option<&Again>, look: &Look) -> Result<String, String> {
    let log = seat.keeper().path().ok_or("this session keeps no log, so there is no place beside it")?;
    let file = log.with_extension("html");
    let page = match again {
        Some(again) => report::of_record(again.record(), again.film()),
        None => report::html(seat.keeper().session()),
    };
    std::fs::write(&file, page).map_err(|e| format!("{} cannot be written: {e}", file.display()))?;
    Ok(format!("{} {}", look.words.written_to, file.display()))
}
