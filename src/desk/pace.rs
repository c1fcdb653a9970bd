//! The room's clock: stands still, runs, runs four times as fast, or runs until something happens.

use super::theme::{self, Look};
use crate::session::event::Tick;
use egui::{Key, Modifiers, RichText};

/// How time passes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pace {
    /// It does not.
    #[default]
    Paused,
    /// As on a wall clock.
    Real,
    /// Four times as fast.
    Fast,
    /// As fast as it can be computed and watched, until somebody speaks, work is done, or an alarm sounds.
    Until,
}

impl Pace {
    /// Patient seconds for each real second.
    pub fn speed(self) -> f64 {
        match self {
            Self::Paused => 0.0,
            Self::Real => 1.0,
            Self::Fast => 4.0,
            Self::Until => 30.0,
        }
    }
}

/// Turns real time into whole ticks, and loses no part of one.
#[derive(Default)]
pub struct Clock {
    /// How time passes.
    pub pace: Pace,
    part: f64,
}

impl Clock {
    /// Ticks that have come due after `seconds` of real time; never more than `most`, so that a slow machine slows
    /// the patient down and does not fall ever farther behind.
    pub fn due(&mut self, seconds: f64, most: u64) -> u64 {
        self.part += seconds.clamp(0.0, 1.0) * self.pace.speed() * Tick::PER_SECOND as f64;
        let whole = self.part.floor();
        self.part -= whole;
        (whole as u64).min(most)
    }

    /// Shows the time and what changes its pace.
    ///
    /// In an examination the patient never stands still once begun: `may_pause` is false.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, now: Tick, may_pause: bool) {
        let w = look.words;
        ui.spacing_mut().item_spacing.x = 4.0;
        let time = RichText::new(now.to_string()).font(theme::bold(22.0)).color(look.ink.text);
        ui.label(time).on_hover_text(w.since_call);
        ui.add_space(4.0);
        let choices = [
            (Pace::Paused, w.pause, Key::F5),
            (Pace::Real, w.real_time, Key::F6),
            (Pace::Fast, w.fast, Key::F7),
            (Pace::Until, w.until_something, Key::F8),
        ];
        for (pace, text, key) in choices {
            let chosen = self.pace == pace;
            if pace == Pace::Paused && !may_pause && !chosen {
                continue;
            }
            let response = ui.selectable_label(chosen, text).on_hover_text(key.name());
            if response.clicked() || ui.input_mut(|i| i.consume_key(Modifiers::NONE, key)) {
                self.pace = pace;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_part_of_a_tick_is_lost() {
        let mut clock = Clock { pace: Pace::Real, part: 0.0 };
        let ticks: u64 = (0..300).map(|_| clock.due(1.0 / 30.0, 100)).sum();
        assert!((99..=100).contains(&ticks), "{ticks}");
        clock.pace = Pace::Paused;
        assert_eq!(clock.due(1.0, 100), 0);
        clock.pace = Pace::Fast;
        assert_eq!(clock.due(1.0, 25), 25);
    }
}
