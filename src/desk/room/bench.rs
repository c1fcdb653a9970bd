//! From the shelf to the workbench, from there into a case with a play giving the orders, and back.

use super::super::seat::Seat;
use super::super::theme::Look;
use super::super::workbench::{Onward, Workbench};
use super::{Desk, Screen};
use crate::records::library;
use crate::scenario::rule::Signals;
use crate::session::log::Mode;
use crate::session::player::Player;
use std::path::Path;

/// Ticks of the patient stepped in one frame on the way to a state: about a minute of theatre time.
const STRIDE: u64 = 600;

/// On the way to a state.
pub(super) struct Jump {
    /// The state's name.
    until: String,
}

impl Desk {
    /// Lays a case file on the workbench.
    ///
    /// # Errors
    /// A plain sentence when it cannot be read.
    pub fn lay(&mut self, path: &Path) -> Result<(), String> {
        self.bench = Some(Workbench::open(path)?);
        self.screen = Screen::Workbench;
        Ok(())
    }

    /// The same with a built-in case, as a copy in the educator's own folder; nothing there is overwritten.
    pub(super) fn lay_named(&mut self, name: &str) -> Result<(), String> {
        if library::BUILT_IN.iter().all(|(id, _)| *id != name) {
            return self.lay(Path::new(name));
        }
        let folder = self.logs.as_ref().and_then(|f| f.parent()).map(|f| f.join("cases"));
        let folder = folder.ok_or("this computer has no folder of yours to keep the copy in")?;
        let failed = |e: std::io::Error| format!("{} cannot be written: {e}", folder.display());
        std::fs::create_dir_all(&folder).map_err(failed)?;
        // A copy under the name of the original would have two cases of one name on the shelf.
        let text = library::text(name)?;
        for n in 1_u32.. {
            let id = format!("{name}_{n}");
            let path = folder.join(format!("{id}.ron"));
            let own = text.replacen(&format!("id: \"{name}\""), &format!("id: \"{id}\""), 1);
            match std::fs::OpenOptions::new().write(true).create_new(true).open(&path) {
                Ok(mut file) => {
                    std::io::Write::write_all(&mut file, own.as_bytes()).map_err(failed)?;
                    return self.lay(&path);
                }
                Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {}
                Err(e) => return Err(failed(e)),
            }
        }
        Ok(())
    }

    /// The workbench, if a file lies on it.
    pub fn bench(&self) -> Option<&Workbench> {
        self.bench.as_ref()
    }

    pub(super) fn bench_ui(&mut self, ui: &mut egui::Ui, look: &Look) {
        let Some(bench) = &mut self.bench else {
            self.screen = Screen::Cases;
            return;
        };
        // Where a session of this case stands, on its chart.
        let session = self.seat.as_ref().map(|s| s.keeper().session());
        let lit: Vec<String> = match (session, &bench.source().case) {
            (Some(session), Some(case)) if session.case().case.id == case.case.id => {
                let row = session.trace().last();
                let states = case.chart.states().map(|s| case.chart.name(s).to_owned());
                states.filter(|s| row.is_some_and(|r| r.in_state(s))).collect()
            }
            _ => Vec::new(),
        };
        match bench.ui(ui, look, &lit) {
            None => {}
            Some(Onward::Shelf) => {
                self.bench = None;
                self.notice = self.leave().err();
            }
            Some(Onward::Rehearse { case, play, until }) => {
                let begun = Player::named(&case, &play)
                    .and_then(|player| Ok((player, Seat::begin(case, 1, Mode::Guided, None)?)));
                match begun {
                    Ok((player, mut seat)) => {
                        seat.watch(player);
                        self.seat = Some(seat);
                        self.fresh_panels();
                        self.screen = Screen::Theatre;
                        self.jump = until.map(|until| Jump { until });
                    }
                    Err(why) => self.notice = Some(why),
                }
            }
        }
    }

    /// Goes on toward the state; true while on the way.
    pub(super) fn stride(&mut self) -> bool {
        let Some(jump) = &self.jump else { return false };
        let Some(seat) = &mut self.seat else {
            self.jump = None;
            return false;
        };
        let there =
            |seat: &Seat| seat.keeper().session().trace().last().is_some_and(|row| row.in_state(&jump.until));
        // A second at a time: that is how finely states are recorded.
        let mut left = STRIDE / 10;
        while left > 0 && !there(seat) && seat.view().ended.is_none() && seat.watched() {
            seat.step(10);
            left -= 1;
        }
        if left > 0 {
            if !there(seat) {
                self.notice =
                    Some(format!("{} {}.", Look::of(&self.settings).words.bench_jump_missed, jump.until));
            }
            seat.unwatch();
            seat.run_clock(false);
            self.screen = if seat.on_ward() { Screen::Recovery } else { Screen::Theatre };
            self.jump = None;
        }
        self.jump.is_some()
    }

    /// Where the desk is going, if it is on the way to a state.
    pub(super) fn going_to(&self) -> Option<&str> {
        self.jump.as_ref().map(|j| j.until.as_str())
    }
}
