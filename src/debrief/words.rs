//! Figures, times and tiers as a report words them.

use crate::scenario::case::Tier;
use crate::session::event::Tick;
use crate::session::tell::figure;

/// A stretch of time: "at once", "45 s", "4 min", "2 h 10 min", "1 d 4 h".
pub fn span(seconds: f64) -> String {
    let s = seconds.round().max(0.0) as u64;
    let two = |a: u64, au: &str, b: u64, bu: &str| {
        if b == 0 { format!("{a} {au}") } else { format!("{a} {au} {b} {bu}") }
    };
    match s {
        0 => "at once".into(),
        1..=119 => format!("{s} s"),
        120..=3599 => two(s / 60, "min", if s < 600 { s % 60 } else { 0 }, "s"),
        3600..=86_399 => two(s / 3600, "h", s / 60 % 60, "min"),
        _ => two(s / 86_400, "d", s / 3600 % 24, "h"),
    }
}

/// From one moment to another, as [`span`].
pub fn between(from: Tick, to: Tick) -> String {
    span(to.seconds() - from.seconds())
}

/// A probability, 0 to 1, with the digits that it deserves.
pub fn percent(p: f64) -> String {
    let x = 100.0 * p;
    match x {
        x if x >= 10.0 => format!("{x:.0}\u{a0}%"),
        x if x >= 0.1 => format!("{x:.1}\u{a0}%"),
        x if x > 0.0 => "below 0.1\u{a0}%".into(),
        _ => "0\u{a0}%".into(),
    }
}

/// A risk's or signal's id as words.
pub fn plain(id: &str) -> String {
    match id {
        "stroke_right" => "stroke, right hemisphere".into(),
        "stroke_left" => "stroke, left hemisphere".into(),
        "stroke_posterior" => "stroke, brain stem and cerebellum".into(),
        "access_rupture" => "rupture of the access artery".into(),
        "access_dissection" => "dissection of the access artery".into(),
        "retrograde_dissection" => "dissection back into the ascending aorta".into(),
        "distal_new_entry" => "new tear at the graft's lower end".into(),
        "cord_ischaemia" => "spinal cord ischaemia".into(),
        "aortic_tear" => "tear of the aorta by a balloon".into(),
        "ventricle_perforation" => "perforation of the left ventricle".into(),
        "perforation" => "perforation of a vessel".into(),
        "migration" => "migration of the graft".into(),
        other => other.replace('_', " "),
    }
}

/// A tier in a word.
pub fn tier(tier: Tier) -> &'static str {
    match tier {
        Tier::Preferred => "preferred",
        Tier::Defensible => "defensible",
        Tier::Suboptimal => "suboptimal",
        Tier::Unsafe => "unsafe",
    }
}

/// A margin with its verdict, such as "held by 4.2 mm", "failed by 12 mmHg" or "held, just".
pub fn margin(met: bool, margin: f64, unit: &str) -> String {
    let verdict = if met { "held" } else { "failed" };
    match by(margin, unit).as_str() {
        "" => String::new(),
        "just" => format!("{verdict}, just"),
        by => format!("{verdict} {by}"),
    }
}

/// A margin: "by 4.2 mm", "just" where it is none, and nothing for a count that is just reached.
pub fn by(margin: f64, unit: &str) -> String {
    let margin = margin.abs();
    match unit {
        "" if margin == 0.0 => String::new(),
        "" if margin.fract() == 0.0 => format!("by {margin:.0}"),
        _ if margin < 0.005 => "just".into(),
        "deg" => format!("by {}\u{b0}", figure(margin, "")),
        _ => format!("by {}", figure(margin, unit_words(unit))),
    }
}

/// A unit as printed.
pub fn unit_words(unit: &str) -> &str {
    match unit {
        "mm2" => "mm\u{b2}",
        "Gy cm2" => "Gy\u{b7}cm\u{b2}",
        "degC" => "\u{b0}C",
        "deg" => "\u{b0}",
        "bpm" => "/min",
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn margins_are_worded_by_their_unit() {
        assert_eq!(margin(true, 4.2, "mm"), "held by 4.2 mm");
        assert_eq!(margin(false, -12.0, "mmHg"), "failed by 12.0 mmHg");
        assert_eq!(margin(true, 17.8, "deg"), "held by 17.8\u{b0}");
        assert_eq!(margin(true, 0.0, "mm"), "held, just");
        assert_eq!(margin(true, 0.0, ""), "");
        assert_eq!(margin(true, 4.0, ""), "held by 4");
    }

    #[test]
    fn stretches_of_time_read_as_people_say_them() {
        let said: Vec<String> =
            [0.2, 9.0, 119.4, 125.0, 1800.0, 7200.0, 7800.0, 100_800.0].map(span).to_vec();
        assert_eq!(said, ["at once", "9 s", "119 s", "2 min 5 s", "30 min", "2 h", "2 h 10 min", "1 d 4 h"]);
    }
}
