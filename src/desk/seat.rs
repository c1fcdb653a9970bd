//! The trainee's seat: one session with its log, its clock, and what the panels remember of it.
//!
//! 1. [`Seat::begin`] or [`Seat::resume`]; the clock stands until the first order or until it is started.
//! 2. [`Seat::tick`] lets real time pass; [`Seat::give`] takes orders. Both keep [`Seat::view`] true.
//! 3. A log that cannot be written is said in the talk at once and never stops the patient: the session in memory is sound.

use super::monitor::MonitorPanel;
use super::pace::{Clock, Pace};
use super::picture::PicturePanel;
use super::question::{self, QuestionPanel};
use super::sound::{Ear, Sound};
use super::talk::{TalkPanel, Voice};
use super::theme::Look;
use crate::assess::{Decision, decisions};
use crate::records::{KeepFault, Keeper};
use crate::scenario::{Loaded, Order};
use crate::session::event::{EventKind, Giver};
use crate::session::log::Mode;
use crate::session::player::Player;
use crate::session::record::Record;
use crate::session::view::View;
use std::path::Path;
use std::sync::Arc;

/// A session that somebody sits in front of.
pub struct Seat {
    keeper: Keeper,
    view: Arc<View>,
    begun: bool,
    player: Option<Player>,
    /// Said since the last look, for "until something happens".
    heard: bool,
    /// Decisions heard of so far.
    decided: usize,
    /// The last decision with its reasons, where they are told at once.
    lesson: Option<Decision>,
    /// Why the log cannot be written now.
    trouble: Option<String>,
    ear: Ear,
    /// What is to be heard since the last look.
    due: Vec<Sound>,
    /// The clock.
    pub clock: Clock,
    /// The talk.
    pub talk: TalkPanel,
    /// The monitor.
    pub monitor: MonitorPanel,
    /// The picture.
    pub picture: PicturePanel,
}

/// What a screen beside the patient works with: the seat, the questions, and where its orders go.
pub struct Bedside<'a> {
    /// Colours, words and habits.
    pub look: Look,
    /// Who sits there.
    pub seat: &'a mut Seat,
    /// What is asked.
    pub questions: &'a mut QuestionPanel,
    /// What was ordered on the screen.
    pub given: Vec<Order>,
}

impl Bedside<'_> {
    /// The questions with what was just taught, no higher than `most`.
    pub fn questions(&mut self, ui: &mut egui::Ui, most: f32) {
        let given = question::standing(ui, &self.look, self.seat, self.questions, most);
        self.given.extend(given);
    }
}

impl Seat {
    /// Most ticks stepped in one frame, so that a slow machine stays responsive.
    const MOST: u64 = 40;

    /// At the moment of the call.
    ///
    /// # Errors
    /// In plain words, when the log cannot be made.
    pub fn begin(case: Arc<Loaded>, seed: u64, mode: Mode, log: Option<&Path>) -> Result<Self, String> {
        Keeper::start(case, seed, mode, log).map(Self::of).map_err(|e| e.to_string())
    }

    /// Where a log ends.
    ///
    /// # Errors
    /// In plain words, when the log cannot be taken up.
    pub fn resume(log: &Path) -> Result<Self, String> {
        let (keeper, notes) = Keeper::resume(log).map_err(|e| e.to_string())?;
        let mut seat = Self::of(keeper);
        seat.begun = true;
        for note in notes {
            seat.talk.note(seat.view.now, note);
        }
        Ok(seat)
    }

    fn of(mut keeper: Keeper) -> Self {
        let _ = keeper.session_mut().take_traces();
        let view = Arc::new(keeper.session().view());
        let mut seat = Self {
            view,
            begun: false,
            player: None,
            heard: false,
            decided: 0,
            lesson: None,
            trouble: None,
            ear: Ear::default(),
            due: Vec::new(),
            clock: Clock::default(),
            talk: TalkPanel::default(),
            monitor: MonitorPanel::default(),
            picture: PicturePanel::of(keeper.session().mode()),
            keeper,
        };
        seat.talk.listen(seat.keeper.session());
        seat.decided = seat.talk.decided();
        seat
    }

    /// What can be seen and heard.
    pub fn view(&self) -> &View {
        &self.view
    }

    /// The same, for who changes the seat while looking at it.
    pub fn moment(&self) -> Arc<View> {
        Arc::clone(&self.view)
    }

    /// The session's keeper.
    pub fn keeper(&self) -> &Keeper {
        &self.keeper
    }

    /// The mode.
    pub fn mode(&self) -> Mode {
        self.keeper.session().mode()
    }

    /// Has the clock been started?
    pub fn begun(&self) -> bool {
        self.begun
    }

    /// Starts the clock.
    pub fn start_clock(&mut self) {
        self.begun = true;
        if self.clock.pace == Pace::Paused {
            self.clock.pace = Pace::Real;
        }
    }

    /// Does anything move, so that frames are wanted?
    pub fn running(&self) -> bool {
        self.picture.playing() || self.clock.pace != Pace::Paused && self.view.ended.is_none()
    }

    /// Is the patient on the ward?
    pub fn on_ward(&self) -> bool {
        self.view.offers.iter().any(|o| o.verb == "recover" && o.blocked.is_none())
    }

    /// Lets a play give the orders from here on: a rehearsal that is watched.
    pub fn watch(&mut self, player: Player) {
        self.player = Some(player);
        self.start_clock();
    }

    /// From here on the orders are the trainee's own.
    pub fn unwatch(&mut self) {
        self.player = None;
    }

    /// Runs the clock as on the wall, or lets it stand.
    pub fn run_clock(&mut self, on: bool) {
        self.clock.pace = if on { Pace::Real } else { Pace::Paused };
    }

    /// Does a play give the orders?
    pub fn watched(&self) -> bool {
        self.player.is_some()
    }

    /// Lets real time pass.
    pub fn tick(&mut self, seconds: f64) {
        let ticks = if self.view.ended.is_some() { 0 } else { self.clock.due(seconds, Self::MOST) };
        if ticks > 0 {
            self.step(ticks);
        }
        let samples = self.keeper.session_mut().take_traces();
        self.monitor.feed(&samples, seconds);
        self.due = self.ear.hear(seconds, &samples, self.view.vitals.spo2, &self.view.alarms);
        self.picture.tick(seconds);
    }

    /// What the monitor lets be heard now.
    pub fn due(&self) -> &[Sound] {
        &self.due
    }

    /// Steps so many ticks, whatever the clock says.
    pub fn step(&mut self, ticks: u64) {
        for _ in 0..ticks {
            if let Some(player) = &mut self.player {
                let orders = player.poll(self.keeper.session());
                if player.finished() {
                    self.player = None;
                }
                for order in orders {
                    self.take(&Giver::Trainee, order);
                }
            }
            let kept = self.keeper.advance(1);
            if !self.written(kept) {
                break;
            }
            self.listen();
            if self.heard && self.clock.pace == Pace::Until {
                self.clock.pace = Pace::Real;
                break;
            }
        }
        self.refresh();
    }

    /// Shows the picture of now; what was measured on it comes back as an order.
    pub fn picture_ui(&mut self, ui: &mut egui::Ui, look: &Look) -> Vec<Order> {
        self.picture.refresh(ui.ctx(), self.keeper.session(), &self.view);
        self.picture.ui(ui, look, &self.view)
    }

    /// Takes the trainee's orders.
    pub fn give(&mut self, orders: Vec<Order>) {
        self.give_as(&Giver::Trainee, orders);
    }

    /// Takes anybody's orders.
    pub fn give_as(&mut self, by: &Giver, orders: Vec<Order>) {
        if orders.is_empty() {
            return;
        }
        // Only the trainee begins.
        if !self.begun && *by == Giver::Trainee {
            self.start_clock();
        }
        let ends = orders.contains(&Order::Finish);
        for order in orders {
            self.take(by, order);
        }
        self.listen();
        if ends {
            // The case ends at the next tick, also where the clock stands.
            self.step(1);
        }
        self.refresh();
    }

    fn take(&mut self, by: &Giver, order: Order) {
        // A refusal is an event of the session and shows in the talk; only the log's trouble is ours to tell.
        let kept = self.keeper.order(by.clone(), order).map(drop);
        self.written(kept);
    }

    /// Says once that the log cannot be written, and once that it can be again. The patient stands still meanwhile.
    fn written(&mut self, kept: Result<(), KeepFault>) -> bool {
        let fault = kept.err().map(|fault| fault.to_string());
        if let Some(why) = &fault {
            self.clock.pace = Pace::Paused;
            if self.trouble.is_none() {
                self.talk.note(self.view.now, why.clone());
            }
        }
        self.trouble = fault;
        self.trouble.is_none()
    }

    /// Why the log cannot be written now, if so.
    pub fn trouble(&self) -> Option<&str> {
        self.trouble.as_deref()
    }

    /// The last decision with its reasons, in guided mode and until it has been read.
    pub fn lesson(&self) -> Option<&Decision> {
        self.lesson.as_ref()
    }

    /// The lesson has been read.
    pub fn understood(&mut self) {
        self.lesson = None;
    }

    fn listen(&mut self) {
        let before = self.decided;
        let new = self.talk.listen(self.keeper.session());
        self.heard = new.iter().any(|l| l.voice != Voice::Own);
        self.decided = self.talk.decided();
        if self.decided > before && self.mode() == Mode::Guided {
            self.lesson = decisions(&Record::of(self.keeper.session())).pop();
        }
    }

    fn refresh(&mut self) {
        self.view = Arc::new(self.keeper.session().view());
        if self.view.ended.is_some() {
            self.clock.pace = Pace::Paused;
        }
    }

    /// How many alarms began so far, for tests and the debrief's first line.
    pub fn alarms_so_far(&self) -> usize {
        self.keeper.session().events().iter().filter(|e| matches!(e.kind, EventKind::Alarm { .. })).count()
    }

    /// Ends the log in good order.
    ///
    /// # Errors
    /// In plain words, when its last lines could not be written.
    pub fn close(self) -> Result<(), String> {
        self.keeper.close().map(drop).map_err(|e| e.to_string())
    }
}
