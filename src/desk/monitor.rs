//! The monitor: three sweeping traces, the numbers beside them, and alarms with a shape, a word and a colour.
//!
//! Priorities, colours and flashing rates follow IEC 60601-1-8 (table 2: high red 1.4 to 2.8 Hz, medium yellow 0.4 to
//! 0.8 Hz, low cyan or yellow and constant). Where movement is off, nothing flashes: shape and word remain.

use super::parts;
use super::theme::{self, Look, gap};
use super::trace::Trace;
use crate::circulation::{TraceSample, Vitals};
use crate::session::view::AlarmView;
use egui::{Align2, Color32, Rect, Sense, pos2, vec2};

/// Seconds across a trace.
const SWEEP_S: f32 = 6.0;

/// The monitor with its memory of the last seconds.
pub struct MonitorPanel {
    ecg: Trace,
    art: Trace,
    co2: Trace,
    /// Time of the room, s: moves the flashing.
    seconds: f64,
}

impl Default for MonitorPanel {
    fn default() -> Self {
        Self { ecg: Trace::new(SWEEP_S), art: Trace::new(SWEEP_S), co2: Trace::new(SWEEP_S), seconds: 0.0 }
    }
}

impl MonitorPanel {
    /// Takes in new samples; when more came than a sweep can show, only the newest count.
    pub fn feed(&mut self, samples: &[TraceSample], real_seconds: f64) {
        self.seconds += real_seconds;
        let from = samples.len().saturating_sub((SWEEP_S * super::trace::RATE_HZ as f32) as usize);
        for s in &samples[from..] {
            self.ecg.push(s.ecg_mv as f32);
            self.art.push(s.art_mmhg as f32);
            self.co2.push(s.co2_mmhg as f32);
        }
    }

    /// The whole monitor.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, vitals: &Vitals, alarms: &[AlarmView]) {
        let w = look.words;
        self.banner(ui, look, alarms);
        let numbers = Numbers::of(vitals);
        let lanes = [
            (w.ecg, &self.ecg, -0.6, 1.6, numbers.hr, "hr"),
            (w.arterial, &self.art, 20.0, self.top_of_art(), numbers.pressure, "sbp"),
            (w.capnogram, &self.co2, 0.0, 55.0, numbers.co2, "etco2"),
        ];
        for (name, trace, low, high, number, signal) in lanes {
            self.lane(ui, look, name, trace, (low, high), &number, priority_of(alarms, signal));
        }
        ui.add_space(gap::S);
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 10.0;
            parts::figure(ui, look, w.spo2, &numbers.spo2.big, "%");
            parts::figure(ui, look, w.cvp, &whole(vitals.cvp_mmhg), "mmHg");
            parts::figure(ui, look, w.temperature, &format!("{:.1}", vitals.temperature_c), "°C");
            parts::figure(ui, look, w.femoral, &whole(vitals.right_femoral.mean_mmhg), "mmHg");
        });
    }

    /// The vital signs in one line, for screens where the patient is elsewhere.
    pub fn strip(&self, ui: &mut egui::Ui, look: &Look, vitals: &Vitals, alarms: &[AlarmView], room: f32) {
        let n = Numbers::of(vitals);
        let shown = if room > 250.0 { 3 } else { 2 };
        let w = look.words;
        let worst = alarms.iter().max_by_key(|a| a.priority);
        if let Some(alarm) = worst {
            let (rect, _) = ui.allocate_exact_size(vec2(24.0, 24.0), Sense::hover());
            parts::alarm_mark(ui.painter(), rect.center(), 22.0, alarm.priority, look);
        }
        let numbers = [(w.pressure, &n.pressure, "sbp"), (w.hr, &n.hr, "hr"), (w.spo2, &n.spo2, "spo2")];
        for (name, number, signal) in numbers.into_iter().take(shown) {
            let ink = priority_of(alarms, signal).map_or(look.ink.text, |p| look.ink.alarm(p));
            let response = ui.label(egui::RichText::new(name).size(13.0).color(look.ink.soft));
            response.widget_info(|| {
                egui::WidgetInfo::labeled(egui::WidgetType::Label, true, format!("{name} {}", number.big))
            });
            ui.label(egui::RichText::new(&number.big).font(theme::bold(18.0)).color(ink));
            ui.add_space(gap::S);
        }
    }

    /// The worst alarm in words over the traces, the others as marks.
    fn banner(&self, ui: &mut egui::Ui, look: &Look, alarms: &[AlarmView]) {
        let w = look.words;
        let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 28.0), Sense::hover());
        let mut sorted: Vec<&AlarmView> = alarms.iter().collect();
        sorted.sort_by_key(|a| (std::cmp::Reverse(a.priority), a.since));
        let words = |a: &AlarmView| {
            let priority = [w.priority_low, w.priority_low, w.priority_medium, w.priority_high]
                [usize::from(a.priority).min(3)];
            format!("{} — {priority}", signal_words(a.signal, w))
        };
        let all = if sorted.is_empty() {
            w.no_alarm.to_owned()
        } else {
            sorted.iter().map(|a| words(a)).collect::<Vec<_>>().join("; ")
        };
        response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Label, true, &all));
        let Some(first) = sorted.first() else {
            ui.painter().text(
                rect.left_center(),
                Align2::LEFT_CENTER,
                w.no_alarm,
                theme::plain(14.0),
                look.ink.soft,
            );
            return;
        };
        let ink = look.ink.alarm(first.priority);
        if lit(first.priority, self.seconds, look.still) {
            ui.painter().rect_filled(rect, 6.0, ink);
        }
        ui.painter().rect_stroke(rect, 6.0, (1.5, ink), egui::StrokeKind::Inside);
        let text = if lit(first.priority, self.seconds, look.still) { look.ink.on_alarm } else { ink };
        let marks = ["!", "!", "!!", "!!!"][usize::from(first.priority).min(3)];
        let line = format!("{marks}  {}", words(first));
        ui.painter().text(
            rect.left_center() + vec2(10.0, 0.0),
            Align2::LEFT_CENTER,
            line,
            theme::bold(15.0),
            text,
        );
        if sorted.len() > 1 {
            let more = format!("+{}", sorted.len() - 1);
            ui.painter().text(
                rect.right_center() - vec2(10.0, 0.0),
                Align2::RIGHT_CENTER,
                more,
                theme::bold(15.0),
                text,
            );
        }
    }

    #[expect(clippy::too_many_arguments, reason = "one lane of the monitor, called from one loop")]
    fn lane(
        &self,
        ui: &mut egui::Ui,
        look: &Look,
        name: &str,
        trace: &Trace,
        (low, high): (f32, f32),
        number: &Number,
        alarm: Option<u8>,
    ) {
        let (rect, response) = ui.allocate_exact_size(
            vec2(ui.available_width(), if ui.ctx().content_rect().height() > 900.0 { 76.0 } else { 50.0 }),
            Sense::hover(),
        );
        let seen = trace
            .range()
            .map_or(String::new(), |(a, b)| format!(", {} {a:.1} – {b:.1}", look.words.trace_between));
        let says = format!("{name}: {} {} {}{seen}", number.big, number.small, number.unit);
        response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &says));
        let split = rect.right() - 122.0;
        let film = Rect::from_min_max(rect.min, pos2(split, rect.bottom()));
        ui.painter().rect_filled(film, 6.0, look.ink.film);
        // The name has the top of the film to itself.
        let name = ui.painter().layout_no_wrap(name.to_owned(), theme::plain(11.0), look.ink.soft);
        let mut swept = film.shrink2(vec2(3.0, 5.0));
        swept.min.y += name.size().y - 3.0;
        ui.painter().galley(film.min + vec2(7.0, 2.0), name, look.ink.soft);
        trace.paint(ui.painter(), swept, low, high, look.ink.trace, look);
        let ink: Color32 = alarm.map_or(look.ink.text, |p| look.ink.alarm(p));
        let x = split + 10.0;
        // The alarm's mark stands beside the number, never on it.
        let room = rect.right() - x - if alarm.is_some() { 24.0 } else { 0.0 };
        let mut size = 34.0;
        let mut big = ui.painter().layout_no_wrap(number.big.clone(), theme::bold(size), ink);
        while big.size().x > room && size > 16.0 {
            size -= 2.0;
            big = ui.painter().layout_no_wrap(number.big.clone(), theme::bold(size), ink);
        }
        let middle = rect.center().y;
        let high_edge = middle - 0.5 * big.size().y - 6.0;
        let foot = middle + 0.5 * big.size().y - 8.0;
        ui.painter().galley(pos2(x, high_edge), big, ink);
        let small = format!("{} {}", number.small, number.unit);
        ui.painter().text(pos2(x, foot), Align2::LEFT_TOP, small.trim(), theme::plain(13.0), look.ink.soft);
        if let Some(p) = alarm {
            parts::alarm_mark(ui.painter(), pos2(rect.right() - 10.0, rect.top() + 10.0), 18.0, p, look);
        }
    }

    fn top_of_art(&self) -> f32 {
        let highest = self.art.range().map_or(140.0, |r| r.1);
        ((highest + 15.0) / 20.0).ceil() * 20.0
    }
}

/// One number of the monitor.
struct Number {
    big: String,
    small: String,
    unit: &'static str,
}

struct Numbers {
    hr: Number,
    pressure: Number,
    co2: Number,
    spo2: Number,
}

impl Numbers {
    fn of(v: &Vitals) -> Self {
        let p = &v.right_radial;
        Self {
            hr: Number { big: whole(v.heart_rate_bpm), small: String::new(), unit: "/min" },
            pressure: Number {
                big: format!("{}/{}", whole(p.systolic_mmhg), whole(p.diastolic_mmhg)),
                small: format!("({})", whole(p.mean_mmhg)),
                unit: "mmHg",
            },
            co2: Number { big: whole(v.etco2_mmhg), small: String::new(), unit: "mmHg" },
            spo2: Number {
                big: v.oximeter_percent().map_or_else(dashes, whole),
                small: String::new(),
                unit: "%",
            },
        }
    }
}

/// A whole number, or dashes where nothing is measured.
fn whole(value: f64) -> String {
    if value.is_finite() { format!("{value:.0}") } else { dashes() }
}

fn dashes() -> String {
    "--".into()
}

fn priority_of(alarms: &[AlarmView], signal: &str) -> Option<u8> {
    alarms.iter().filter(|a| a.signal == signal).map(|a| a.priority).max()
}

/// Is a flashing alarm in its bright half now? High 2 Hz, medium 0.6 Hz, half of the time each.
fn lit(priority: u8, seconds: f64, still: bool) -> bool {
    let hertz = match priority {
        3.. => 2.0,
        2 => 0.6,
        _ => return true,
    };
    still || (seconds * hertz).fract() < 0.5
}

fn signal_words(signal: &str, w: &'static super::words::Words) -> String {
    match signal {
        "sbp" => w.arterial_pressure,
        "hr" => w.heart_rate,
        "spo2" => w.saturation,
        "etco2" => w.carbon_dioxide,
        "temperature" => w.temperature,
        other => return other.to_owned(),
    }
    .to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 60601-1-8:2020, table 2: 1.4 to 2.8 Hz and 0.4 to 0.8 Hz, duty 20 to 60 %; low does not flash.
    #[test]
    fn alarms_flash_at_the_rates_of_the_standard() {
        let flashes = |p: u8| {
            let on: Vec<bool> = (0..10_000).map(|i| lit(p, f64::from(i) / 1000.0, false)).collect();
            let rises = on.windows(2).filter(|w| !w[0] && w[1]).count() as f64 / 10.0;
            let duty = on.iter().filter(|o| **o).count() as f64 / on.len() as f64;
            (rises, duty)
        };
        let (high, duty) = flashes(3);
        assert!((1.4..=2.8).contains(&high) && (0.2..=0.6).contains(&duty), "{high} {duty}");
        let (medium, duty) = flashes(2);
        assert!((0.4..=0.8).contains(&medium) && (0.2..=0.6).contains(&duty), "{medium} {duty}");
        assert_eq!(flashes(1), (0.0, 1.0));
        assert!(lit(3, 0.3, true), "with movement off nothing flashes");
    }
}
