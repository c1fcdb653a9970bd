//! Units of measurement: what converts into what, and by how much.
//!
//! A unit is a product of powers of base quantities with an exact scale to SI, kept as a ratio so that litres
//! become millilitres by exactly one thousand. Scales are from NIST Special Publication 811 (2008), appendix
//! B.8; the French gauge is a third of a millimetre by definition.

use std::fmt;

/// A unit with its name, what it measures and its scale.
#[derive(Clone, Debug)]
pub struct Unit {
    text: String,
    powers: Powers,
    /// SI value of one of this unit is `over / under`.
    over: f64,
    under: f64,
}

/// Exponents of length, mass, time, temperature, angle, absorbed dose, biological activity and amount of
/// substance.
///
/// Dose and angle are kept apart from what they reduce to in SI, so that nobody compares a dose with a speed
/// squared.
type Powers = [i16; 8];

impl Unit {
    /// The unit of a plain number.
    pub fn plain() -> Self {
        Self { text: String::new(), powers: [0; 8], over: 1.0, under: 1.0 }
    }

    /// The unit written as `mL/min`, `mg/kg/h` or `Gy cm2`; nothing or `1` is a plain number. `Err` is the
    /// unknown word.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut unit = Self::plain();
        for (place, part) in text.split('/').enumerate() {
            for word in part.split_whitespace().filter(|&word| word != "1") {
                let one = Self::word(word).ok_or_else(|| word.to_owned())?;
                unit = if place == 0 { unit.times(&one) } else { unit.per(&one) };
            }
        }
        Ok(unit)
    }

    /// The unit of one word, such as `mmHg`, `%` or `cm2`.
    pub fn word(word: &str) -> Option<Self> {
        let word = ALIASES.iter().find(|(alias, _)| *alias == word).map_or(word, |(_, name)| name);
        let &(text, powers, over, under) = WORDS.iter().find(|(name, ..)| *name == word)?;
        Some(Self { text: text.to_owned(), powers, over, under })
    }

    /// Every word that a unit may be written with.
    pub fn words() -> impl Iterator<Item = &'static str> {
        WORDS.iter().map(|&(name, ..)| name)
    }

    /// As it is written; empty for a plain number.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Whether both measure the same kind of quantity.
    pub fn fits(&self, other: &Self) -> bool {
        self.powers == other.powers
    }

    /// Whether it measures a duration.
    pub fn is_time(&self) -> bool {
        self.powers == TIME
    }

    /// Whether it is a plain number, perhaps scaled as `%` is.
    pub fn is_plain(&self) -> bool {
        self.powers == [0; 8]
    }

    /// `value` of this unit in `target`, which must fit; exact where the ratio is whole and the product is.
    pub fn convert(&self, value: f64, target: &Self) -> f64 {
        let (times, by) = self.ratio_to(target);
        value * times / by
    }

    /// Factor and divisor that take a value from this unit to `target`; at least one of them is 1 if the
    /// ratio is whole.
    pub fn ratio_to(&self, target: &Self) -> (f64, f64) {
        let (over, under) = (self.over * target.under, self.under * target.over);
        if over % under == 0.0 {
            (over / under, 1.0)
        } else if under % over == 0.0 {
            (1.0, under / over)
        } else {
            (over, under)
        }
    }

    /// The product of two units.
    pub fn times(&self, other: &Self) -> Self {
        let text = match (self.text.as_str(), other.text.as_str()) {
            ("", text) | (text, "") => text.to_owned(),
            (a, b) if a.contains('/') => format!("({a}) {}", grouped(b)),
            (a, b) => format!("{a} {}", grouped(b)),
        };
        let powers = std::array::from_fn(|i| self.powers[i].saturating_add(other.powers[i]));
        Self { text, powers, over: self.over * other.over, under: self.under * other.under }
    }

    /// The quotient of two units.
    pub fn per(&self, other: &Self) -> Self {
        let text = match other.text.as_str() {
            "" => self.text.clone(),
            other if other.contains(' ') => format!("{}/({other})", self.text),
            other => format!("{}/{}", self.text, grouped(other)),
        };
        let powers = std::array::from_fn(|i| self.powers[i].saturating_sub(other.powers[i]));
        Self { text, powers, over: self.over * other.under, under: self.under * other.over }
    }
}

/// Two units are the same if they measure the same by the same scale, whatever their names.
impl PartialEq for Unit {
    fn eq(&self, other: &Self) -> bool {
        self.powers == other.powers && self.ratio_to(other) == (1.0, 1.0)
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.text.is_empty() { "plain number" } else { &self.text })
    }
}

fn grouped(text: &str) -> String {
    if text.contains('/') { format!("({text})") } else { text.to_owned() }
}

const fn powers(length: i16, mass: i16, time: i16) -> Powers {
    [length, mass, time, 0, 0, 0, 0, 0]
}
const PLAIN: Powers = powers(0, 0, 0);
const LENGTH: Powers = powers(1, 0, 0);
const AREA: Powers = powers(2, 0, 0);
const VOLUME: Powers = powers(3, 0, 0);
const MASS: Powers = powers(0, 1, 0);
const TIME: Powers = powers(0, 0, 1);
const RATE: Powers = powers(0, 0, -1);
const PRESSURE: Powers = powers(-1, 1, -2);
const TEMPERATURE: Powers = [0, 0, 0, 1, 0, 0, 0, 0];
const ANGLE: Powers = [0, 0, 0, 0, 1, 0, 0, 0];
const DOSE: Powers = [0, 0, 0, 0, 0, 1, 0, 0];
const ACTIVITY: Powers = [0, 0, 0, 0, 0, 0, 1, 0];
const AMOUNT: Powers = [0, 0, 0, 0, 0, 0, 0, 1];

/// Name, what it measures, and its SI value as a ratio. A difference of 1 degC is 1 K; offsets never enter,
/// since every temperature in a rule is in degC.
const WORDS: &[(&str, Powers, f64, f64)] = &[
    ("%", PLAIN, 1.0, 100.0),
    ("s", TIME, 1.0, 1.0),
    ("ms", TIME, 1.0, 1000.0),
    ("min", TIME, 60.0, 1.0),
    ("h", TIME, 3600.0, 1.0),
    ("day", TIME, 86_400.0, 1.0),
    ("bpm", RATE, 1.0, 60.0),
    ("m", LENGTH, 1.0, 1.0),
    ("cm", LENGTH, 1.0, 100.0),
    ("mm", LENGTH, 1.0, 1000.0),
    ("um", LENGTH, 1.0, 1e6),
    ("Fr", LENGTH, 1.0, 3000.0),
    ("cm2", AREA, 1.0, 1e4),
    ("mm2", AREA, 1.0, 1e6),
    ("L", VOLUME, 1.0, 1000.0),
    ("dL", VOLUME, 1.0, 1e4),
    ("mL", VOLUME, 1.0, 1e6),
    ("kg", MASS, 1.0, 1.0),
    ("g", MASS, 1.0, 1e3),
    ("mg", MASS, 1.0, 1e6),
    ("ug", MASS, 1.0, 1e9),
    ("Pa", PRESSURE, 1.0, 1.0),
    ("kPa", PRESSURE, 1000.0, 1.0),
    ("mmHg", PRESSURE, 133.322_387_415, 1.0),
    ("cmH2O", PRESSURE, 98.0665, 1.0),
    ("degC", TEMPERATURE, 1.0, 1.0),
    ("deg", ANGLE, 1.0, 1.0),
    ("Gy", DOSE, 1.0, 1.0),
    ("mGy", DOSE, 1.0, 1000.0),
    ("IU", ACTIVITY, 1.0, 1.0),
    ("mol", AMOUNT, 1.0, 1.0),
    ("mmol", AMOUNT, 1.0, 1000.0),
];

/// Other spellings that people type.
const ALIASES: &[(&str, &str)] =
    &[("\u{b5}g", "ug"), ("\u{3bc}g", "ug"), ("mcg", "ug"), ("°C", "degC"), ("°", "deg")];

#[cfg(test)]
mod tests {
    use super::*;

    fn convert(value: f64, from: &str, to: &str) -> f64 {
        Unit::parse(from).unwrap().convert(value, &Unit::parse(to).unwrap())
    }

    /// Handbook conversions (NIST SP 811, appendix B.8; French gauge by definition).
    #[test]
    fn conversions_match_the_handbook() {
        assert_eq!(convert(0.3, "L/min", "mL/min"), 300.0);
        assert_eq!(convert(1.0, "L/min", "mL/s"), 1000.0 / 60.0);
        assert_eq!(convert(3.0, "min", "s"), 180.0);
        assert_eq!(convert(24.0, "Fr", "mm"), 8.0);
        assert_eq!(convert(12.0, "%", ""), 0.12);
        assert_eq!(convert(72.0, "bpm", "1/min"), 72.0);
        assert_eq!(convert(50.0, "mGy cm2", "Gy cm2"), 0.05);
        assert!((convert(1.0, "kPa", "mmHg") - 7.500_617).abs() < 1e-5);
        assert!((convert(1.0, "mmHg", "cmH2O") - 1.359_510).abs() < 1e-5);
    }

    #[test]
    fn unlike_quantities_do_not_fit() {
        let [pressure, flow, dose] = ["mmHg", "mL/min", "Gy cm2"].map(|text| Unit::parse(text).unwrap());
        assert!(!pressure.fits(&flow) && !flow.fits(&dose) && pressure.fits(&Unit::word("kPa").unwrap()));
        assert!(pressure.per(&flow).times(&flow).fits(&pressure));
        assert_eq!(pressure.per(&flow).text(), "mmHg/(mL/min)");
        assert_eq!(Unit::parse("mL/mn"), Err("mn".to_owned()));
    }
}
