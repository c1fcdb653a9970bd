//! Quantities as people write them: `"5 min"`, `"40 mg"`, `"8 ug/min"`.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// A length of time, kept in whole milliseconds; written `"90 s"`, `"2 min 30 s"`, `"3 d"`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Span {
    /// Milliseconds.
    pub ms: u64,
}

impl Span {
    /// From seconds.
    pub const fn seconds(s: u64) -> Self {
        Self { ms: s * 1000 }
    }
    /// In seconds.
    pub fn as_seconds(self) -> f64 {
        self.ms as f64 / 1000.0
    }
    /// Reads `"90 s"` and its kin. The error is the remedy, in plain words.
    pub fn parse(text: &str) -> Result<Self, String> {
        let remedy = || {
            format!(
                "I read \"{text}\"; write a time with its unit, such as \"90 s\", \"2 min 30 s\" or \"3 d\""
            )
        };
        let words: Vec<&str> = text.split_whitespace().collect();
        if words.is_empty() || !words.len().is_multiple_of(2) {
            return Err(remedy());
        }
        let mut ms = 0.0;
        for pair in words.chunks(2) {
            let n: f64 = pair[0].parse().map_err(|_| remedy())?;
            let unit = match pair[1] {
                "ms" => 1.0,
                "s" => 1e3,
                "min" => 6e4,
                "h" => 3.6e6,
                "d" => 8.64e7,
                _ => return Err(remedy()),
            };
            ms += n * unit;
        }
        // A month is far beyond any case; it also keeps later sums inside their type.
        if !(0.0..=2.7e9).contains(&ms) {
            return Err(format!("\"{text}\" is not between 0 and 31 days"));
        }
        Ok(Self { ms: ms.round() as u64 })
    }
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut left = self.ms;
        let mut first = true;
        for (unit, size) in [("d", 86_400_000), ("h", 3_600_000), ("min", 60_000), ("s", 1000), ("ms", 1)] {
            let n = left / size;
            left %= size;
            if n > 0 {
                write!(f, "{}{n} {unit}", if first { "" } else { " " })?;
                first = false;
            }
        }
        if first { write!(f, "0 s") } else { Ok(()) }
    }
}

/// An amount of a drug: `"40 mg"`, `"5000 IU"`, `"0.5 mg/kg"`.
#[derive(Clone, Debug, PartialEq)]
pub struct Dose {
    /// How much.
    pub amount: f64,
    /// In which unit.
    pub unit: DoseUnit,
    /// For each kilogram of body mass?
    pub per_kg: bool,
}

/// The units of amounts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "each name says it")]
pub enum DoseUnit {
    Microgram,
    Milligram,
    Gram,
    Unit,
    Millilitre,
    Millimole,
}

impl DoseUnit {
    const WRITTEN: [(&'static str, Self); 8] = [
        ("ug", Self::Microgram),
        ("µg", Self::Microgram),
        ("mg", Self::Milligram),
        ("g", Self::Gram),
        ("IU", Self::Unit),
        ("U", Self::Unit),
        ("mL", Self::Millilitre),
        ("mmol", Self::Millimole),
    ];
    /// As written in a case.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Microgram => "ug",
            Self::Milligram => "mg",
            Self::Gram => "g",
            Self::Unit => "IU",
            Self::Millilitre => "mL",
            Self::Millimole => "mmol",
        }
    }
    fn parse(text: &str) -> Option<Self> {
        Self::WRITTEN.iter().find(|(w, _)| *w == text).map(|&(_, u)| u)
    }
}

impl Dose {
    /// Reads `"40 mg"` and its kin. The error is the remedy, in plain words.
    pub fn parse(text: &str) -> Result<Self, String> {
        let remedy = || {
            format!(
                "I read \"{text}\"; write an amount with its unit, such as \"40 mg\", \"8 ug\" or \"0.5 mg/kg\""
            )
        };
        let (number, unit) = text.trim().split_once(' ').ok_or_else(remedy)?;
        let amount: f64 = number.parse().map_err(|_| remedy())?;
        let (unit, per_kg) = match unit.trim().strip_suffix("/kg") {
            Some(u) => (u, true),
            None => (unit.trim(), false),
        };
        let unit = DoseUnit::parse(unit).ok_or_else(remedy)?;
        if !(amount.is_finite() && amount >= 0.0) {
            return Err(remedy());
        }
        Ok(Self { amount, unit, per_kg })
    }
    /// The whole amount for a patient of the given mass, in this dose's unit.
    pub fn total(&self, mass_kg: f64) -> f64 {
        if self.per_kg { self.amount * mass_kg } else { self.amount }
    }
    /// The whole amount in micrograms where the unit is a mass; otherwise as it stands.
    pub fn total_base(&self, mass_kg: f64) -> f64 {
        let k = match self.unit {
            DoseUnit::Milligram => 1e3,
            DoseUnit::Gram => 1e6,
            _ => 1.0,
        };
        self.total(mass_kg) * k
    }
}

impl fmt::Display for Dose {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}{}", self.amount, self.unit.symbol(), if self.per_kg { "/kg" } else { "" })
    }
}

/// A running dose: `"50 ug/kg/min"`, `"5 mg/h"`, `"0.04 IU/min"`.
#[derive(Clone, Debug, PartialEq)]
pub struct Rate {
    /// The amount given in one period.
    pub dose: Dose,
    /// The period.
    pub per: Period,
}

/// The period of a rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "each name says it")]
pub enum Period {
    Minute,
    Hour,
}

impl Rate {
    /// Reads `"50 ug/kg/min"` and its kin. The error is the remedy, in plain words.
    pub fn parse(text: &str) -> Result<Self, String> {
        let remedy = || {
            format!("I read \"{text}\"; write a rate with its unit, such as \"50 ug/kg/min\" or \"5 mg/h\"")
        };
        let (dose, per) = if let Some(d) = text.trim().strip_suffix("/min") {
            (d, Period::Minute)
        } else if let Some(d) = text.trim().strip_suffix("/h") {
            (d, Period::Hour)
        } else {
            return Err(remedy());
        };
        Ok(Self { dose: Dose::parse(dose).map_err(|_| remedy())?, per })
    }
    /// Base amount (micrograms, or the unit itself) each minute.
    pub fn base_per_min(&self, mass_kg: f64) -> f64 {
        self.dose.total_base(mass_kg) / if self.per == Period::Hour { 60.0 } else { 1.0 }
    }
}

impl fmt::Display for Rate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.dose, if self.per == Period::Hour { "h" } else { "min" })
    }
}

macro_rules! written_as_text {
    ($($t:ty),*) => {$(
        impl Serialize for $t {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.collect_str(self)
            }
        }
        impl<'de> Deserialize<'de> for $t {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let text = String::deserialize(d)?;
                Self::parse(&text).map_err(serde::de::Error::custom)
            }
        }
    )*};
}
written_as_text!(Span, Dose, Rate);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_people_write_is_read_and_written_back() {
        for t in ["90 s", "2 min 30 s", "3 d", "0 s"] {
            let s = Span::parse(t).unwrap();
            assert_eq!(Span::parse(&s.to_string()), Ok(s));
        }
        assert_eq!(Span::parse("2 min 30 s").unwrap().ms, 150_000);
        for t in ["40 mg", "0.5 mg/kg", "5000 IU", "8 ug"] {
            assert_eq!(Dose::parse(t).unwrap().to_string(), t);
        }
        assert_eq!(Rate::parse("50 ug/kg/min").unwrap().base_per_min(80.0), 4000.0);
        assert_eq!(Rate::parse("6 mg/h").unwrap().base_per_min(80.0), 100.0);
        for bad in ["90", "five min", "-1 s", "90 parsecs", "", "1e30 d", "NaN s"] {
            assert!(Span::parse(bad).is_err(), "{bad}");
        }
        for bad in ["40", "mg", "-1 mg", "1 stone", "inf mg"] {
            assert!(Dose::parse(bad).is_err(), "{bad}");
        }
    }
}
