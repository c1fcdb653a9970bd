//! The shelf of cases: those built in, those in the educator's folder, and the logs that can be taken up again.

use super::kept::{self, Kept, Stop};
use super::parts::{abreast, accent_button, prose, training_only};
use super::theme::{self, Look, gap};
use crate::records::library;
use crate::scenario::Loaded;
use crate::session::log::Mode;
use egui::{RichText, ScrollArea, vec2};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// One case on the shelf: ready, or with the faults that keep it shut.
pub struct OnShelf {
    /// Built-in name or file.
    pub name: String,
    /// The case, or what is wrong with it.
    pub case: Result<Arc<Loaded>, String>,
}

/// What the trainee chose to do.
pub enum Choice {
    /// A case from its start.
    Open(Arc<Loaded>, Mode),
    /// The same, without a log: none can be made.
    Unlogged(Arc<Loaded>, Mode),
    /// A log where it ends.
    Resume(PathBuf),
    /// Onto the workbench: a file, or a copy of a built-in case.
    Edit(String),
}

/// The shelf.
pub struct CasesScreen {
    cases: Vec<OnShelf>,
    logs: Vec<Kept>,
    chosen: usize,
    mode: Mode,
    /// Why the last choice did not work.
    pub trouble: Option<String>,
    /// The case that could not be opened because its log could not be made.
    pub logless: Option<(Arc<Loaded>, Mode)>,
}

impl CasesScreen {
    /// Reads every case, those of a folder too, and looks for logs.
    pub fn new(folder: Option<&Path>, logs: Option<&Path>) -> Self {
        let mut names: Vec<String> = library::BUILT_IN.iter().map(|(id, _)| (*id).to_owned()).collect();
        if let Some(folder) = folder {
            names.extend(listed(folder, "ron").iter().map(|p| p.display().to_string()));
        }
        let cases = names.into_iter().map(|name| OnShelf { case: library::case(&name), name }).collect();
        let logs = logs.map(|f| kept::newest(f, 6)).unwrap_or_default();
        Self { cases, logs, chosen: 0, mode: Mode::Free, trouble: None, logless: None }
    }

    /// What stands on it.
    pub fn cases(&self) -> &[OnShelf] {
        &self.cases
    }

    /// Shows the shelf; returns what was chosen.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look) -> Option<Choice> {
        let (mut unlogged, mut listed, mut about) = (None, None, None);
        let w = look.words;
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            let page = ui.available_width().min(1180.0);
            let margin = 0.5 * (ui.available_width() - page);
            ui.horizontal_top(|ui| {
                ui.add_space(margin);
                ui.allocate_ui(vec2(page, 0.0), |ui| {
                    ui.vertical(|ui| {
                        ui.add_space(gap::M);
                        ui.label(theme::title(w.shelf_title));
                        ui.label(RichText::new(w.shelf_about).size(17.0).color(look.ink.soft));
                        ui.add_space(gap::M);
                        unlogged = self.trouble_card(ui, look);
                        let Self { cases, logs, chosen, mode, .. } = self;
                        // The list is drawn before the page that it turns to.
                        let mut turned = *chosen;
                        let mut list = |ui: &mut egui::Ui| {
                            listed = list(ui, look, cases, logs, &mut turned);
                        };
                        let (now, mode) = (*chosen, mode);
                        let mut page = |ui: &mut egui::Ui| {
                            about = cases.get(now).and_then(|c| self::about(ui, look, c, mode));
                        };
                        abreast(ui, 250.0, &mut [(0.36, &mut list), (0.64, &mut page)]);
                        *chosen = turned;
                        ui.add_space(gap::L);
                        training_only(ui, look);
                        ui.add_space(gap::M);
                    });
                });
            });
        });
        unlogged.or(listed).or(about)
    }

    /// Why the last choice did not work, and what can still be done.
    fn trouble_card(&mut self, ui: &mut egui::Ui, look: &Look) -> Option<Choice> {
        let trouble = self.trouble.as_ref()?;
        let mut choice = None;
        theme::card(look).show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.add(egui::Label::new(RichText::new(trouble).color(look.ink.lesion)).wrap());
            if let Some((case, mode)) = &self.logless
                && ui.button(look.words.without_log).clicked()
            {
                choice = Some(Choice::Unlogged(Arc::clone(case), *mode));
            }
        });
        ui.add_space(gap::M);
        choice
    }
}

/// Titles to choose from, and under them the sessions that can be taken up again.
fn list(
    ui: &mut egui::Ui,
    look: &Look,
    cases: &[OnShelf],
    logs: &[Kept],
    chosen: &mut usize,
) -> Option<Choice> {
    let w = look.words;
    if cases.is_empty() {
        ui.label(w.no_cases);
    }
    for (i, on_shelf) in cases.iter().enumerate() {
        let (title, under) = match &on_shelf.case {
            Ok(c) => {
                let about = &c.case.about;
                let minutes = (about.duration.as_seconds() / 60.0).round();
                let under = format!("{} · {} {minutes:.0} min", level(about.level, look), w.sit_with_it);
                (c.case.title.clone(), under)
            }
            Err(_) => (on_shelf.name.clone(), w.case_fault.to_owned()),
        };
        if entry(ui, look, &title, &under, *chosen == i).clicked() {
            *chosen = i;
        }
    }
    let mut choice = None;
    if !logs.is_empty() {
        ui.add_space(gap::M);
        ui.label(theme::eyebrow(look, w.resume));
        for log in logs {
            let own = cases.iter().filter_map(|c| c.case.as_ref().ok()).find(|c| c.case.id == log.case_id);
            let title = own.map_or(log.case_id.as_str(), |c| c.case.title.as_str());
            let how = match log.stop {
                Stop::Ended => w.log_ended,
                Stop::Left => w.log_left,
                Stop::BrokenOff => w.log_broken_off,
            };
            let name = log.path.file_stem().unwrap_or_default().to_string_lossy();
            let number = name.rsplit('-').next().unwrap_or_default();
            let words = format!("{title}, {number}: {how} {}", log.at);
            let button = egui::Button::new(RichText::new(words).size(15.0)).wrap();
            if ui.add(button.min_size(vec2(ui.available_width(), 0.0))).clicked() {
                choice = Some(Choice::Resume(log.path.clone()));
            }
        }
    }
    choice
}

/// What a case is about, and the button that opens it.
fn about(ui: &mut egui::Ui, look: &Look, on_shelf: &OnShelf, mode: &mut Mode) -> Option<Choice> {
    let w = look.words;
    let mut choice = None;
    theme::sheet(look).show(ui, |ui| {
        ui.set_width(ui.available_width());
        let loaded = match &on_shelf.case {
            Ok(loaded) => loaded,
            Err(faults) => {
                ui.label(theme::heading(&on_shelf.name));
                ui.label(w.case_fault);
                ScrollArea::both().max_height(360.0).show(ui, |ui| {
                    ui.label(RichText::new(faults).monospace().color(look.ink.text));
                });
                if ui.button(w.bench_edit).on_hover_text(w.bench_edit_about).clicked() {
                    choice = Some(Choice::Edit(on_shelf.name.clone()));
                }
                return;
            }
        };
        let case = &loaded.case;
        ui.label(RichText::new(&case.title).font(theme::serif(24.0)));
        prose(ui, look, &case.about.need);
        ui.add(egui::Label::new(RichText::new(&case.about.audience).color(look.ink.soft)).wrap());
        ui.add_space(gap::S);
        ui.horizontal_wrapped(|ui| {
            let open = ui.add(accent_button(look, w.open_case).min_size(vec2(150.0, 38.0)));
            if open.clicked() {
                choice = Some(Choice::Open(Arc::clone(loaded), *mode));
            }
            ui.add_space(gap::M);
            mode_row(ui, look, mode);
        });
        ui.label(RichText::new(mode_about(*mode, look)).size(14.0).color(look.ink.soft));
        ui.add_space(gap::S);
        ui.label(theme::eyebrow(look, w.objectives));
        for objective in &case.objectives {
            bullet(ui, look, &objective.text);
        }
        ui.add_space(gap::M);
        for (title, items) in [(w.not_taught, &case.about.not_taught), (w.simplified, &case.about.simplified)]
        {
            egui::CollapsingHeader::new(title).show(ui, |ui| items.iter().for_each(|t| bullet(ui, look, t)));
        }
        if !case.about.distress.is_empty() {
            ui.label(theme::eyebrow(look, w.distress));
            ui.label(&case.about.distress);
        }
        ui.add_space(gap::S);
        let signed = match case.about.reviews.last() {
            Some(r) => format!("{}: {}, {}", w.signed, r.role, r.date),
            None => w.unsigned.to_owned(),
        };
        ui.label(RichText::new(signed).size(14.0).color(look.ink.soft));
        let own = library::BUILT_IN.iter().all(|(id, _)| *id != on_shelf.name);
        let edit = ui.small_button(if own { w.bench_edit } else { w.bench_edit_copy });
        if edit.on_hover_text(w.bench_edit_about).clicked() {
            choice = Some(Choice::Edit(on_shelf.name.clone()));
        }
    });
    choice
}

fn mode_row(ui: &mut egui::Ui, look: &Look, chosen: &mut Mode) {
    let w = look.words;
    let modes =
        [(Mode::Guided, w.mode_guided), (Mode::Free, w.mode_free), (Mode::Examination, w.mode_examination)];
    ui.label(w.mode);
    for (mode, name) in modes {
        ui.selectable_value(chosen, mode, name);
    }
}

fn mode_about(mode: Mode, look: &Look) -> &'static str {
    match mode {
        Mode::Guided => look.words.mode_guided_about,
        Mode::Free => look.words.mode_free_about,
        Mode::Examination => look.words.mode_examination_about,
    }
}

/// A case on the list: its title in the serif, its level and length under it.
fn entry(ui: &mut egui::Ui, look: &Look, title: &str, under: &str, chosen: bool) -> egui::Response {
    let (fill, edge) =
        if chosen { (look.ink.raised, look.ink.accent) } else { (look.ink.panel, look.ink.line) };
    let mut job = egui::text::LayoutJob::default();
    job.append(title, 0.0, egui::TextFormat::simple(theme::serif(18.0), look.ink.text));
    job.append("\n", 0.0, egui::TextFormat::simple(theme::plain(6.0), look.ink.text));
    job.append(under, 0.0, egui::TextFormat::simple(theme::plain(14.0), look.ink.soft));
    let button = egui::Button::new(job).fill(fill).stroke(egui::Stroke::new(1.5, edge)).wrap();
    let response = ui.add(button.min_size(vec2(ui.available_width(), 68.0)));
    response.widget_info(|| {
        egui::WidgetInfo::selected(egui::WidgetType::Button, true, chosen, format!("{title}, {under}"))
    });
    response
}

/// One line of a list.
pub fn bullet(ui: &mut egui::Ui, look: &Look, text: &str) {
    ui.horizontal_top(|ui| {
        ui.label(RichText::new("–").color(look.ink.accent));
        ui.add(egui::Label::new(text).wrap());
    });
}

fn level(level: u8, look: &Look) -> &'static str {
    let w = look.words;
    match level {
        0 | 1 => w.level_1,
        2 => w.level_2,
        _ => w.level_3,
    }
}

/// Files in a folder with an ending, sorted by name.
fn listed(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut files: Vec<PathBuf> =
        entries.map(|e| e.path()).filter(|p| p.extension().is_some_and(|e| e == ending)).collect();
    files.sort();
    files
}

/// Where logs are kept: `$XDG_DATA_HOME/overwire/logs`, or the same under `~/.local/share` (XDG Base Directory 0.8).
pub fn log_folder() -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let base = if cfg!(windows) {
        set("LOCALAPPDATA")
    } else {
        set("XDG_DATA_HOME").or_else(|| set("HOME").map(|h| h.join(".local").join("share")))
    };
    Some(base?.join("overwire").join("logs"))
}

/// A log file that does not exist yet, and its number, which also seeds the session's chance.
pub fn next_log(folder: &Path, case_id: &str) -> (PathBuf, u64) {
    let mut number = 1;
    loop {
        let path = folder.join(format!("{case_id}-{number:03}.jsonl"));
        if !path.exists() {
            return (path, number);
        }
        number += 1;
    }
}
