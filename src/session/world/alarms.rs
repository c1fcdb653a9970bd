//! The monitor's alarms: limits, priorities, and when one counts as new.

use crate::circulation::Vitals;
use crate::session::event::{EventKind, Tick};
use std::collections::BTreeMap;

/// Which limits are crossed, and since when.
#[derive(Clone, Debug, Default)]
pub struct Alarms {
    active: BTreeMap<&'static str, Crossed>,
}

#[derive(Clone, Copy, Debug)]
struct Crossed {
    priority: u8,
    since: Tick,
    /// Whether the value is read now; where it is not, nobody is alarmed, nor anew when the same value comes back.
    read: bool,
}

/// Signal, low priority limits etc.: (name, below, above, priority). Usual adult defaults of patient monitors, from memory;
/// priorities as IEC 60601-1-8 words them (1 low, 2 medium, 3 high).
const LIMITS: &[(&str, f64, f64, u8)] = &[
    ("sbp", 60.0, 220.0, 3),
    ("sbp", 90.0, 170.0, 2),
    ("hr", 35.0, 160.0, 3),
    ("hr", 50.0, 120.0, 2),
    ("spo2", 85.0, 101.0, 3),
    ("spo2", 90.0, 101.0, 2),
    ("etco2", 10.0, 90.0, 3),
    ("temperature", 34.0, 39.5, 2),
];

/// An alarm ends only when its value is this far inside the limit, or a pressure that breathes about it alarms at every breath.
const HYSTERESIS: f64 = 5.0;

impl Alarms {
    /// Alarms that begin or rise in priority now. Pressure and rate under rapid pacing alarm like any other.
    pub fn look(&mut self, v: &Vitals, now: Tick) -> Vec<EventKind> {
        let mut out = Vec::new();
        for (name, value) in [
            ("sbp", Some(v.right_radial.systolic_mmhg)),
            ("hr", Some(v.heart_rate_bpm)),
            ("spo2", v.oximeter_percent()),
            ("etco2", Some(v.etco2_mmhg)),
            ("temperature", Some(v.temperature_c)),
        ] {
            if let Some(crossed) = self.active.get_mut(name) {
                crossed.read = value.is_some();
            }
            let Some(value) = value else { continue };
            let at = |margin: f64| {
                LIMITS
                    .iter()
                    .filter(|l| l.0 == name && (value < l.1 + margin || value > l.2 - margin))
                    .map(|l| l.3)
                    .max()
                    .unwrap_or(0)
            };
            let (priority, held) = (at(0.0), at(HYSTERESIS));
            let before = self.active.get(name).map_or(0, |a| a.priority);
            if priority > before {
                out.push(EventKind::Alarm { signal: name.into(), priority, value });
                self.active.insert(name, Crossed { priority, since: now, read: true });
            } else if held == 0 {
                self.active.remove(name);
            } else if held < before {
                self.active.insert(name, Crossed { priority: held, since: now, read: true });
            }
        }
        out
    }

    /// What alarms now: signal, priority, since when.
    pub fn active(&self) -> impl Iterator<Item = (&'static str, u8, Tick)> {
        self.active.iter().filter(|(_, a)| a.read).map(|(n, a)| (*n, a.priority, a.since))
    }
}
