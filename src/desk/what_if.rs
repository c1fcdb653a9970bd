//! What would have come of another choice: under each decision its other options; one that is pressed is played on from the log
//! with the same dice, beside the window's own work, and stands beside what was.

use super::aside::aside;
use super::theme::{self, Look, gap};
use crate::assess::Decision;
use crate::debrief::fork::{Outlook, WhatIf, turning};
use crate::debrief::words::{percent, plain};
use crate::records::keeper::read_lines;
use crate::session::record::Record;
use crate::session::tell::figure;
use egui::RichText;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::mpsc::Receiver;

/// The what-ifs that were asked for so far.
#[derive(Default)]
pub struct WhatIfs {
    found: Vec<WhatIf>,
    /// What came of the decisions as they were taken, by their events: found once, not in every frame.
    was: BTreeMap<u32, Outlook>,
    coming: Option<Coming>,
    trouble: Option<String>,
}

/// One that is being played.
struct Coming {
    event: u32,
    played: Receiver<Result<WhatIf, String>>,
}

impl WhatIfs {
    /// Is one being played?
    pub fn busy(&self) -> bool {
        self.coming.is_some()
    }

    /// Takes in what was played meanwhile.
    pub fn take_in(&mut self) {
        let Some(played) = self.coming.as_ref().and_then(|c| c.played.try_recv().ok()) else { return };
        self.coming = None;
        match played {
            Ok(what_if) => self.found.push(what_if),
            Err(why) => self.trouble = Some(why),
        }
    }

    /// The part of a decision's card.
    pub fn under(
        &mut self,
        ui: &mut egui::Ui,
        look: &Look,
        d: &Decision,
        record: &Record,
        path: Option<&Path>,
    ) {
        let w = look.words;
        let (Some(path), false) = (path, d.others.is_empty()) else { return };
        let heading = RichText::new(w.what_if).size(14.0);
        egui::CollapsingHeader::new(heading).id_salt(("what if", d.event)).show(ui, |ui| {
            for other in &d.others {
                let known = self.found.iter().any(|f| f.event == d.event && f.option == other.option);
                let button = egui::Button::new(RichText::new(&other.say).size(14.0)).wrap();
                if !known && ui.add_enabled(!self.busy(), button).clicked() {
                    self.ask(path.to_owned(), d.event, other.option.clone(), ui.ctx());
                }
            }
            if self.coming.as_ref().is_some_and(|c| c.event == d.event) {
                ui.label(RichText::new(w.what_if_comes).color(look.ink.soft));
            }
            if let Some(why) = &self.trouble {
                ui.add(egui::Label::new(RichText::new(why).color(look.ink.high)).wrap());
            }
            let found: Vec<&WhatIf> = self.found.iter().filter(|f| f.event == d.event).collect();
            if found.is_empty() {
                return;
            }
            let was = self.was.entry(d.event).or_insert_with(|| Outlook::of(record, d.at));
            row(ui, look, &format!("{}: {}", w.as_it_was, d.said), was);
            for what_if in found {
                let say = d.others.iter().find(|o| o.option == what_if.option).map_or("", |o| &o.say);
                row(ui, look, say, &what_if.outlook);
            }
            ui.add(egui::Label::new(RichText::new(w.what_if_about).size(13.0).color(look.ink.soft)).wrap());
        });
    }

    fn ask(&mut self, path: PathBuf, event: u32, option: String, ctx: &egui::Context) {
        self.trouble = None;
        match aside("what if", ctx, move || played(&path, event, &option)) {
            Ok(played) => self.coming = Some(Coming { event, played }),
            Err(why) => self.trouble = Some(why.to_string()),
        }
    }
}

/// Plays the log up to the decision and on from there.
fn played(path: &Path, event: u32, option: &str) -> Result<WhatIf, String> {
    let lines = read_lines(path).map_err(|e| e.to_string())?;
    let turning = turning(&lines, event)?.ok_or("the log does not hold this decision")?;
    Ok(turning.take(option))
}

/// One course: what it came to, the ending first.
fn row(ui: &mut egui::Ui, look: &Look, say: &str, o: &Outlook) {
    let w = look.words;
    ui.add_space(gap::S);
    ui.add(egui::Label::new(RichText::new(say).font(theme::bold(14.0))).wrap());
    let ending = match &o.ending {
        Some((title, _, at)) => format!("{title} ({at})"),
        None => w.no_ending.to_owned(),
    };
    let mut parts = vec![
        ending,
        format!("{} {}", w.lost_from_here, figure(o.lost_ml, "mL")),
        format!("{} {}", w.leak_at_end, figure(o.leak_ml_min, "mL/min")),
    ];
    if let Some((sbp, at)) = o.lowest_sbp {
        parts.push(format!("{} {sbp:.0} mmHg ({at})", w.lowest_systolic));
    }
    if o.cord_percent >= 0.5 {
        parts.push(format!("{} {:.0} %", w.cord_lost, o.cord_percent));
    }
    let risks: Vec<String> = o
        .risks
        .iter()
        .filter(|r| r.accrued >= 0.001)
        .take(3)
        .map(|r| format!("{} {}", plain(&r.id), percent(r.accrued)))
        .collect();
    if !risks.is_empty() {
        parts.push(format!("{} {}", w.risks_from_here, risks.join(", ")));
    }
    ui.add(egui::Label::new(RichText::new(parts.join(" · ")).size(14.0)).wrap());
    course(ui, look, say, o);
}

/// The systolic pressure from the decision on, small.
fn course(ui: &mut egui::Ui, look: &Look, say: &str, o: &Outlook) {
    let size = egui::vec2(ui.available_width().min(420.0), 34.0);
    let (rect, response) = ui.allocate_exact_size(size, egui::Sense::hover());
    let values = || o.sbp.iter().map(|p| p.1);
    let (low, high) = values().fold((f64::MAX, f64::MIN), |r, v| (r.0.min(v), r.1.max(v)));
    let says = format!("{say}: {} {low:.0} – {high:.0} mmHg", look.words.arterial_pressure);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &says));
    let (Some(first), Some(last)) = (o.sbp.first(), o.sbp.last()) else { return };
    let span_s = (last.0.seconds() - first.0.seconds()).max(1.0);
    let points = o.sbp.iter().map(|(t, v)| {
        let x = rect.left() + ((t.seconds() - first.0.seconds()) / span_s) as f32 * rect.width();
        egui::pos2(x, rect.bottom() - (v / 200.0).clamp(0.0, 1.0) as f32 * rect.height())
    });
    let line = egui::Shape::line(points.collect(), egui::Stroke::new(1.4, look.ink.trace));
    ui.painter().rect_filled(rect, 3.0, look.ink.film);
    ui.painter().add(line);
}
