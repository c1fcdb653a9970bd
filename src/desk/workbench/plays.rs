//! The case's plays: run in the background to see whether they come out as stated, or watched in the theatre from the call, or up to
//! the state that was chosen on the chart.

use super::Onward;
use crate::desk::aside::aside;
use crate::desk::theme::{self, Look, gap};
use crate::scenario::Loaded;
use crate::session::log::Mode;
use crate::session::player::Player;
use crate::session::{Session, run_player};
use egui::{RichText, ScrollArea};
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::mpsc::Receiver;

/// How a play came out: the ending, and what it states that did not.
type Outcome = Result<(String, Vec<String>), String>;

/// What is known of the plays.
#[derive(Default)]
pub struct PlaysPanel {
    /// The text that the outcomes belong to.
    digest: String,
    outcomes: BTreeMap<String, Outcome>,
    running: Option<(String, Receiver<Outcome>)>,
    waiting: Vec<String>,
}

impl PlaysPanel {
    /// Shows them; returns where to go when one is to be watched.
    pub fn ui(
        &mut self,
        ui: &mut egui::Ui,
        look: &Look,
        case: &Arc<Loaded>,
        fresh: bool,
        chosen: &mut Option<String>,
    ) -> Option<Onward> {
        let w = look.words;
        if self.digest != case.digest {
            *self = Self { digest: case.digest.clone(), ..Self::default() };
        }
        self.work(ui.ctx(), case);
        let mut onward = None;
        if !fresh {
            ui.label(RichText::new(w.bench_last_sound).color(look.ink.soft));
        }
        ui.horizontal_wrapped(|ui| {
            if ui.button(w.bench_rehearse_all).clicked() {
                self.waiting = case.case.plays.iter().map(|p| p.name.clone()).collect();
            }
            match chosen {
                Some(state) => {
                    ui.label(format!("{} {state}", w.bench_until));
                    if ui.small_button(w.bench_until_end).clicked() {
                        *chosen = None;
                    }
                }
                None => {
                    ui.label(RichText::new(w.bench_choose_state).color(look.ink.soft));
                }
            }
        });
        ui.add_space(gap::S);
        ScrollArea::vertical().auto_shrink([false, false]).id_salt("plays").show(ui, |ui| {
            for play in &case.case.plays {
                ui.horizontal_wrapped(|ui| {
                    ui.label(RichText::new(&play.name).font(theme::bold(15.0)));
                    let watch = button(ui, w.bench_watch, &play.name);
                    if watch.clicked() {
                        onward = Some(Onward::Rehearse {
                            case: Arc::clone(case),
                            play: play.name.clone(),
                            until: chosen.clone(),
                        });
                    }
                    let rehearse = button(ui, w.bench_rehearse, &play.name);
                    if rehearse.clicked() && !self.waiting.contains(&play.name) {
                        self.waiting.push(play.name.clone());
                    }
                    let busy = self.running.as_ref().is_some_and(|r| r.0 == play.name)
                        || self.waiting.contains(&play.name);
                    match (busy, self.outcomes.get(&play.name)) {
                        (true, _) => ui.label(w.bench_running),
                        (false, None) => ui.label(""),
                        (false, Some(Ok((ending, unmet)))) if unmet.is_empty() => {
                            ui.label(format!("✔ {}: {ending}", w.bench_as_stated))
                        }
                        (false, Some(Ok((ending, unmet)))) => ui.label(
                            RichText::new(format!("■ {ending}. {}", unmet.join("; "))).color(look.ink.lesion),
                        ),
                        (false, Some(Err(why))) => {
                            ui.label(RichText::new(format!("■ {why}")).color(look.ink.lesion))
                        }
                    };
                });
                ui.add(egui::Label::new(RichText::new(&play.about).size(13.0).color(look.ink.soft)).wrap());
                ui.add_space(gap::S);
            }
        });
        onward
    }

    /// One play at a time, beside the window's own work.
    fn work(&mut self, ctx: &egui::Context, case: &Arc<Loaded>) {
        if let Some((name, done)) = &self.running
            && let Ok(outcome) = done.try_recv()
        {
            self.outcomes.insert(name.clone(), outcome);
            self.running = None;
        }
        if self.running.is_none() && !self.waiting.is_empty() {
            let name = self.waiting.remove(0);
            let (case, play) = (Arc::clone(case), name.clone());
            // Without a worker the play is not rehearsed, and can be asked for again.
            self.running = aside("play", ctx, move || rehearsed(case, &play)).ok().map(|done| (name, done));
        }
    }
}

/// A button that says of which play it is to those who only hear it.
fn button(ui: &mut egui::Ui, does: &str, play: &str) -> egui::Response {
    let response = ui.small_button(does);
    let says = format!("{does}: {play}");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, &says));
    response
}

fn rehearsed(case: Arc<Loaded>, play: &str) -> Outcome {
    let mut player = Player::named(&case, play)?;
    let mut session = Session::new(case, 1, Mode::Free);
    run_player(&mut session, &mut player);
    let unmet = session.unmet(player.play());
    Ok((session.ended().map_or("none", |e| e.id.as_str()).to_owned(), unmet))
}
