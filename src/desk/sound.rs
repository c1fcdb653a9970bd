//! What the monitor sounds like: a tone for each pulse, the lower the less oxygen there is, and alarms that say their
//! priority by their rhythm.
//!
//! Alarms follow IEC 60601-1-8, tables 3 and 4 (from memory, but for the range of the pitch and its harmonics, which
//! makers of sounders quote): high priority is ten pulses in the rhythm 3 + 2, 3 + 2; medium three; low two, slower.
//!
//! 1. [`Ear::hear`] takes what the monitor shows and says what is due. It plays nothing.
//! 2. [`Sound::samples`] computes a sound, [`Sound::wav`] puts it into a file.
//! 3. [`speaker::Speaker`] hands it to a player program of the system.

pub mod speaker;

use crate::circulation::TraceSample;
use crate::math::ops;
use crate::session::view::AlarmView;

/// Samples in a second.
pub const RATE_HZ: u32 = 22_050;

/// Something to be heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sound {
    /// One pulse at the finger, with the saturation that it is heard at, per cent.
    Pulse(u8),
    /// An alarm's burst, by its priority: 1 low, 2 medium, 3 high.
    Alarm(u8),
}

/// One tone of a sound.
struct Tone {
    /// When it begins, s.
    at_s: f64,
    hertz: f64,
    /// How long it stands at its full height, s; it rises before and falls after.
    stands_s: f64,
    /// How long it rises, and falls, s.
    edge_s: f64,
    /// How loud its fundamental is, and its harmonics beside it.
    harmonics: &'static [f64],
}

/// The pulse tone at full saturation, Hz, and how many per cent less halve it (no source; ISO 80601-2-61 wants only that
/// the pitch falls with the saturation, from memory). Two per cent are a semitone.
const FULL_HZ: f64 = 660.0;
const HALVES_PERCENT: f64 = 24.0;
/// Harmonics of an alarm: at least four between 300 and 4000 Hz, none more than 15 dB below the fundamental.
const RICH: &[f64] = &[1.0, 0.7, 0.55, 0.45, 0.35];
const MELLOW: &[f64] = &[1.0, 0.25];

impl Sound {
    /// Pause between two bursts of an alarm that lasts, s; a low one is heard seldom.
    fn pause_s(priority: u8) -> f64 {
        match priority {
            3.. => 5.0,
            2 => 10.0,
            _ => 20.0,
        }
    }

    fn tones(self) -> Vec<Tone> {
        match self {
            Self::Pulse(percent) => {
                let below = 100.0 - f64::from(percent.clamp(30, 100));
                let hertz = FULL_HZ * ops::powf(2.0, -below / HALVES_PERCENT);
                vec![Tone { at_s: 0.0, hertz, stands_s: 0.06, edge_s: 0.015, harmonics: MELLOW }]
            }
            Self::Alarm(priority) => {
                let (hertz, stands_s, edge_s, gap_s) = match priority {
                    3.. => (523.3, 0.14, 0.025, 0.07),
                    2 => (440.0, 0.18, 0.03, 0.14),
                    _ => (349.2, 0.18, 0.03, 0.14),
                };
                // A pulse, its edges and the gap after it: the step of the rhythm. A beat that is left out makes 3 + 2.
                let step = stands_s + 2.0 * edge_s + gap_s;
                let five = [0.0, 1.0, 2.0, 4.0, 5.0].map(|n| n * step);
                let begins: Vec<f64> = match priority {
                    3.. => five.iter().copied().chain(five.iter().map(|t| 6.0 * step + 0.5 + t)).collect(),
                    2 => (0..3).map(|n| f64::from(n) * step).collect(),
                    _ => (0..2).map(|n| f64::from(n) * step).collect(),
                };
                let tone = |at_s| Tone { at_s, hertz, stands_s, edge_s, harmonics: RICH };
                begins.into_iter().map(tone).collect()
            }
        }
    }

    /// How long it lasts, s.
    pub fn seconds(self) -> f64 {
        self.tones().last().map_or(0.0, |t| t.at_s + t.stands_s + 2.0 * t.edge_s)
    }

    /// The sound itself, -1 to 1, [`RATE_HZ`] samples a second.
    pub fn samples(self) -> Vec<f64> {
        let rate = f64::from(RATE_HZ);
        let mut out = vec![0.0; (self.seconds() * rate) as usize + 1];
        let loud = if matches!(self, Self::Pulse(_)) { 0.25 } else { 0.6 };
        for tone in self.tones() {
            let full: f64 = tone.harmonics.iter().sum();
            let length_s = tone.stands_s + 2.0 * tone.edge_s;
            let first = (tone.at_s * rate) as usize;
            for i in 0..(length_s * rate) as usize {
                let t = i as f64 / rate;
                let edge = (t.min(length_s - t) / tone.edge_s).clamp(0.0, 1.0);
                let wave: f64 = tone
                    .harmonics
                    .iter()
                    .zip(1..)
                    .map(|(a, n)| a * ops::sin(std::f64::consts::TAU * f64::from(n) * tone.hertz * t))
                    .sum();
                out[first + i] += loud * edge * wave / full;
            }
        }
        out
    }

    /// As a WAV file: one channel, 16 bit (Microsoft and IBM, Multimedia Programming Interface 1.0, 1991).
    pub fn wav(self) -> Vec<u8> {
        let data: Vec<u8> =
            self.samples().iter().flat_map(|v| ((v * 32_767.0) as i16).to_le_bytes()).collect();
        let size = data.len() as u32;
        let mut file = Vec::with_capacity(44 + data.len());
        file.extend(b"RIFF");
        file.extend((36 + size).to_le_bytes());
        file.extend(b"WAVEfmt ");
        file.extend(16_u32.to_le_bytes());
        // Plain samples, one channel.
        file.extend(1_u16.to_le_bytes());
        file.extend(1_u16.to_le_bytes());
        file.extend(RATE_HZ.to_le_bytes());
        file.extend((2 * RATE_HZ).to_le_bytes());
        file.extend(2_u16.to_le_bytes());
        file.extend(16_u16.to_le_bytes());
        file.extend(b"data");
        file.extend(size.to_le_bytes());
        file.extend(data);
        file
    }

    /// A name for its file.
    fn name(self) -> String {
        match self {
            Self::Pulse(percent) => format!("pulse-{percent}.wav"),
            Self::Alarm(priority) => format!("alarm-{priority}.wav"),
        }
    }
}

/// Hears what the monitor shows, and knows what is due.
#[derive(Default)]
pub struct Ear {
    /// The pulse wave has been low since the last tone.
    low: bool,
    clock_s: f64,
    pulse_due_s: f64,
    /// The alarm that is heard, and when its next burst is due.
    alarm: u8,
    alarm_due_s: f64,
}

/// The pulse wave's swing round its middle that a finger probe still finds; 1 is a normal pulse (assumed).
const FOUND: f64 = 0.08;
/// Tones come no faster than this, s: the time lapse of the clock must stay bearable.
const LEAST_S: f64 = 0.25;

impl Ear {
    /// What is due after `seconds` of real time in which these samples came. Where no time passed for the patient, the
    /// monitor is silent.
    pub fn hear(
        &mut self,
        seconds: f64,
        samples: &[TraceSample],
        saturation: f64,
        alarms: &[AlarmView],
    ) -> Vec<Sound> {
        self.clock_s += seconds;
        let mut due = Vec::new();
        if samples.is_empty() {
            return due;
        }
        let mut beat = false;
        for s in samples {
            self.low |= s.pleth < -FOUND;
            if self.low && s.pleth > FOUND {
                (self.low, beat) = (false, true);
            }
        }
        if beat && self.clock_s >= self.pulse_due_s {
            self.pulse_due_s = self.clock_s + LEAST_S;
            due.push(Sound::Pulse((100.0 * saturation.clamp(0.3, 1.0)).round() as u8));
        }
        let worst = alarms.iter().map(|a| a.priority.clamp(1, 3)).max().unwrap_or(0);
        if worst > self.alarm || worst > 0 && self.clock_s >= self.alarm_due_s {
            let sound = Sound::Alarm(worst);
            self.alarm_due_s = self.clock_s + sound.seconds() + Sound::pause_s(worst);
            due.push(sound);
        }
        self.alarm = worst;
        due
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::event::Tick;

    /// Tones of a sound, found in its samples: when each begins and how long it lasts, s, at half of its height.
    fn found(sound: Sound) -> Vec<(f64, f64)> {
        let samples = sound.samples();
        // Longer than a period of the lowest tone, shorter than any gap.
        let window = (0.004 * f64::from(RATE_HZ)) as usize;
        let top = samples.iter().fold(0.0, |m: f64, v| m.max(v.abs()));
        let loud = |i: usize| {
            let (a, b) = (i.saturating_sub(window / 2), (i + window / 2).min(samples.len()));
            samples[a..b].iter().any(|v| v.abs() > 0.5 * top)
        };
        let mut tones = Vec::new();
        let mut began = None;
        for i in 0..=samples.len() {
            let on = i < samples.len() && loud(i);
            match (on, began) {
                (true, None) => began = Some(i),
                (false, Some(from)) => {
                    tones.push((from as f64 / f64::from(RATE_HZ), (i - from) as f64 / f64::from(RATE_HZ)));
                    began = None;
                }
                _ => {}
            }
        }
        tones
    }

    fn gaps(tones: &[(f64, f64)]) -> Vec<f64> {
        tones.windows(2).map(|w| w[1].0 - w[0].0 - w[0].1).collect()
    }

    /// IEC 60601-1-8, table 3 (from memory): ten pulses, gaps x of 50 to 125 ms, 2x + td after the third and the eighth,
    /// 0.35 to 1.3 s after the fifth, 2.5 to 15 s between bursts; pulses of 75 to 200 ms.
    #[test]
    fn a_high_alarm_has_the_rhythm_of_the_standard() {
        let tones = found(Sound::Alarm(3));
        assert_eq!(tones.len(), 10);
        assert!(tones.iter().all(|t| (0.075..=0.2).contains(&t.1)), "{tones:?}");
        let gaps = gaps(&tones);
        let (x, td) = (gaps[0], tones[0].1);
        for i in [0, 1, 3, 5, 6, 8] {
            assert!((0.05..=0.125).contains(&gaps[i]), "{i}: {gaps:?}");
        }
        for i in [2, 7] {
            assert!((gaps[i] / (2.0 * x + td) - 1.0).abs() < 0.05, "{i}: {gaps:?}");
        }
        assert!((0.35..=1.3).contains(&gaps[4]), "{gaps:?}");
        assert!((2.5..=15.0).contains(&Sound::pause_s(3)));
    }

    /// The same table: medium three pulses with gaps of 125 to 250 ms, 2.5 to 30 s between bursts; low one or two, more
    /// than 15 s between bursts; pulses of 125 to 250 ms.
    #[test]
    fn medium_and_low_alarms_are_slower_and_rarer() {
        for (priority, pulses, pause) in [(2, 3, 2.5..=30.0), (1, 2, 15.0..=60.0)] {
            let tones = found(Sound::Alarm(priority));
            assert_eq!(tones.len(), pulses);
            assert!(tones.iter().all(|t| (0.125..=0.25).contains(&t.1)), "{tones:?}");
            assert!(gaps(&tones).iter().all(|g| (0.125..=0.25).contains(g)), "{tones:?}");
            assert!(pause.contains(&Sound::pause_s(priority)));
        }
        assert!(Sound::pause_s(3) < Sound::pause_s(2) && Sound::pause_s(2) < Sound::pause_s(1));
    }

    /// Strength of one frequency in a sound (Goertzel's sum), relative.
    fn strength(samples: &[f64], hertz: f64) -> f64 {
        let turn = |i: usize| std::f64::consts::TAU * hertz * i as f64 / f64::from(RATE_HZ);
        let part =
            |f: fn(f64) -> f64| -> f64 { samples.iter().enumerate().map(|(i, v)| v * f(turn(i))).sum() };
        ops::hypot(part(ops::sin), part(ops::cos))
    }

    /// The same standard, table 4, as makers of sounders quote it: a fundamental of 150 to 1000 Hz, at least four
    /// components between 300 and 4000 Hz within 15 dB of it.
    #[test]
    fn an_alarm_is_rich_enough_to_be_found_in_a_room() {
        for priority in 1..=3 {
            let sound = Sound::Alarm(priority);
            let tones = sound.tones();
            let first = &tones[0];
            let f0 = first.hertz;
            assert!((150.0..=1000.0).contains(&f0));
            // One pulse: over a burst the pulses' phases meet, and a strength says how they happen to add.
            let mut samples = sound.samples();
            samples.truncate(((first.stands_s + 2.0 * first.edge_s) * f64::from(RATE_HZ)) as usize);
            let base = strength(&samples, f0);
            let near = |hertz: f64| {
                (300.0..=4000.0).contains(&hertz)
                    && 20.0 * ops::log10(strength(&samples, hertz) / base) > -15.0
            };
            let components = (1..=8).filter(|n| near(f64::from(*n) * f0)).count();
            assert!(components >= 4, "priority {priority}: {components}");
            // Halfway between two harmonics there is next to nothing: it is not noise that is counted.
            assert!(strength(&samples, 1.5 * f0) < 0.05 * base);
        }
    }

    /// ISO 80601-2-61 (from memory): the pitch falls as the saturation falls.
    #[test]
    fn the_pulse_tone_falls_with_the_saturation() {
        let pitch = |percent: u8| {
            let samples = Sound::Pulse(percent).samples();
            let hertz = (150..1000).map(f64::from);
            hertz.max_by(|a, b| strength(&samples, *a).total_cmp(&strength(&samples, *b))).unwrap()
        };
        let heard = [100, 97, 94, 90, 80, 60].map(pitch);
        assert!(heard.windows(2).all(|w| w[1] < w[0] - 5.0), "{heard:?}");
        assert!((heard[0] - 660.0).abs() < 6.0);
    }

    fn sample(pleth: f64) -> TraceSample {
        TraceSample {
            t_ms: 0,
            ecg_mv: 0.0,
            art_mmhg: 90.0,
            left_art_mmhg: 90.0,
            femoral_mmhg: 90.0,
            cvp_mmhg: 5.0,
            pleth,
            co2_mmhg: 30.0,
        }
    }

    #[test]
    fn each_pulse_is_heard_once_and_a_hand_without_one_is_silent() {
        let (mut ear, mut faint) = (Ear::default(), Ear::default());
        let (mut heard, mut none) = (0, 0);
        for i in 0..250 {
            // Ten seconds at 72 a minute, 25 calls a second.
            let wave = ops::sin(std::f64::consts::TAU * 1.2 * f64::from(i) / 25.0);
            heard += ear.hear(0.04, &[sample(0.5 * wave)], 0.97, &[]).len();
            none += faint.hear(0.04, &[sample(0.05 * wave)], 0.97, &[]).len();
        }
        assert!((11..=12).contains(&heard), "{heard}");
        assert_eq!(none, 0);
        assert!(ear.hear(60.0, &[], 0.97, &[]).is_empty(), "time that stands is silent");
    }

    #[test]
    fn a_worse_alarm_is_heard_at_once_and_a_lasting_one_again() {
        let alarm = |priority| AlarmView { signal: "sbp", priority, since: Tick(0) };
        let mut ear = Ear::default();
        let mut hear = |alarms: &[AlarmView]| ear.hear(0.5, &[sample(0.0)], 0.97, alarms);
        assert_eq!(hear(&[alarm(2)]), [Sound::Alarm(2)]);
        assert!(hear(&[alarm(2)]).is_empty());
        assert_eq!(hear(&[alarm(2), alarm(3)]), [Sound::Alarm(3)]);
        let again = (0..60).filter(|_| !hear(&[alarm(3)]).is_empty()).count();
        // Half a minute: a burst of 3.5 s and a pause of 5 s.
        assert_eq!(again, 3);
        assert!((0..60).all(|_| hear(&[]).is_empty()));
    }
}
