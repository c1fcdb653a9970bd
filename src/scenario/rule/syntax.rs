//! The tree of a rule as it was written, and how it is written back.

use std::fmt;
use std::ops::Range;

use super::lex::is_word;
use super::unit::Unit;

/// A part of a rule, with its place in the text.
#[derive(Clone, Debug)]
pub struct Expr {
    /// What it says.
    pub kind: Kind,
    /// Where it was written, in bytes.
    pub span: Range<usize>,
}

/// What a part of a rule says: a condition or a quantity.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// `true` or `false`.
    Truth(bool),
    /// A number with its unit.
    Number(Quantity),
    /// A signal, or an event without argument.
    Name(String),
    /// An event with an argument: `done(run)`.
    Event(String, String),
    /// `in(state)`: whether the chart is in that state.
    In(String),
    /// `chose(ask, option)`: whether that option has been chosen.
    Chose(String, String),
    /// `known(signal)`: whether the signal has a value now.
    Known(String),
    /// `count(event)`: how often the event has happened, in the window before now or since the start.
    Count(Option<Window>, Box<Expr>),
    /// `abs(x)`.
    Abs(Box<Expr>),
    /// `-x`.
    Negative(Box<Expr>),
    /// `x + y` and its kin.
    Arithmetic(Arithmetic, Box<Expr>, Box<Expr>),
    /// `x < y` and its kin.
    Compare(Comparison, Box<Expr>, Box<Expr>),
    /// `x between low and high`, both ends included.
    Between(Box<Expr>, Box<Expr>, Box<Expr>),
    /// `not p`.
    Not(Box<Expr>),
    /// `p and q and …`, two or more.
    And(Vec<Expr>),
    /// `p or q or …`, two or more.
    Or(Vec<Expr>),
    /// `p implies q`.
    Implies(Box<Expr>, Box<Expr>),
    /// `once p`, `always[0 s, 3 min] p` and their kin.
    Temporal(Temporal, Option<Window>, Box<Expr>),
    /// `p since q`, `p until[0 s, 30 s] q`.
    Binary(Binary, Option<Window>, Box<Expr>, Box<Expr>),
    /// `p for 2 min`: p has held without a break for that long.
    For(Box<Expr>, Quantity),
    /// `p within 3 min of e`: whenever e holds, p holds at some time from then until so much later.
    Within(Box<Expr>, Quantity, Box<Expr>),
    /// A place where the text could not be read; its fault is already told.
    Faulty,
}

/// A number and its unit; never negative.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantity {
    /// The number as written.
    pub value: f64,
    /// The unit as written.
    pub unit: Unit,
}

/// From how far to how far away in time, both ends included.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// The near end.
    pub from: Quantity,
    /// The far end.
    pub to: Quantity,
}

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$variant_doc:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum $name { $($(#[$variant_doc])* $variant),+ }

        impl $name {
            /// All, in the order of their declaration.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// How it is written.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }

            /// The one that is written so.
            pub fn from_word(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|one| one.word() == word)
            }
        }
    };
}

words! {
    /// An arithmetic operation.
    Arithmetic {
        /// Sum.
        Add = "+",
        /// Difference.
        Subtract = "-",
        /// Product.
        Multiply = "*",
        /// Quotient.
        Divide = "/",
    }
}
words! {
    /// A comparison of two quantities.
    Comparison {
        /// Less.
        Less = "<",
        /// Less or equal.
        AtMost = "<=",
        /// Greater.
        Greater = ">",
        /// Greater or equal.
        AtLeast = ">=",
        /// Equal.
        Equal = "==",
        /// Different.
        Unequal = "!=",
    }
}
words! {
    /// A temporal operator on one condition.
    Temporal {
        /// At every time from now on.
        Always = "always",
        /// At no time from now on.
        Never = "never",
        /// At some time from now on.
        Eventually = "eventually",
        /// At some time until now.
        Once = "once",
        /// At every time until now.
        Historically = "historically",
    }
}
words! {
    /// A temporal operator on two conditions.
    Binary {
        /// The left holds from now until just before the right does.
        Until = "until",
        /// The left has held ever since just after the right did.
        Since = "since",
    }
}

/// Words that are part of the language and so cannot name a signal or an event.
pub const KEYWORDS: &[&str] = &[
    "true",
    "false",
    "in",
    "chose",
    "known",
    "count",
    "abs",
    "between",
    "not",
    "and",
    "or",
    "implies",
    "always",
    "never",
    "eventually",
    "once",
    "historically",
    "until",
    "since",
    "for",
    "within",
    "of",
];

impl Expr {
    /// A part that was not written anywhere.
    pub fn unplaced(kind: Kind) -> Self {
        Self { kind, span: 0..0 }
    }
}

/// Two parts are equal if they say the same, wherever they were written.
impl PartialEq for Expr {
    fn eq(&self, other: &Self) -> bool {
        self.kind == other.kind
    }
}

/// The text that reads back as the same tree, with no more parentheses than needed.
impl fmt::Display for Expr {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.kind {
            Kind::Truth(value) => write!(f, "{value}"),
            Kind::Number(quantity) => write!(f, "{quantity}"),
            Kind::Name(name) => f.write_str(name),
            Kind::Event(name, argument) => write!(f, "{name}({})", Quoted(argument)),
            Kind::In(state) => write!(f, "in({})", Quoted(state)),
            Kind::Chose(ask, option) => write!(f, "chose({}, {})", Quoted(ask), Quoted(option)),
            Kind::Known(signal) => write!(f, "known({signal})"),
            Kind::Count(window, event) => write!(f, "count{}({event})", Optional(window)),
            Kind::Abs(x) => write!(f, "abs({x})"),
            Kind::Negative(x) => write!(f, "-{}", At(Level::Sign, x)),
            Kind::Arithmetic(op, x, y) => {
                let (left, right) = match op {
                    Arithmetic::Add | Arithmetic::Subtract => (Level::Sum, Level::Product),
                    Arithmetic::Multiply | Arithmetic::Divide => (Level::Product, Level::Sign),
                };
                write!(f, "{} {} {}", At(left, x), op.word(), At(right, y))
            }
            Kind::Compare(op, x, y) => write!(f, "{} {} {}", At(Level::Sum, x), op.word(), At(Level::Sum, y)),
            Kind::Between(x, low, high) => {
                let [x, low, high] = [x, low, high].map(|part| At(Level::Sum, part));
                write!(f, "{x} between {low} and {high}")
            }
            Kind::Not(p) => write!(f, "not {}", At(Level::Unary, p)),
            Kind::And(parts) => joined(f, parts, " and ", Level::Binary),
            Kind::Or(parts) => joined(f, parts, " or ", Level::And),
            Kind::Implies(p, q) => write!(f, "{} implies {}", At(Level::Or, p), At(Level::Implies, q)),
            Kind::Temporal(op, window, p) => {
                write!(f, "{}{} {}", op.word(), Optional(window), At(Level::Unary, p))
            }
            Kind::Binary(op, window, p, q) => {
                write!(f, "{} {}{} {}", At(Level::Unary, p), op.word(), Optional(window), At(Level::Unary, q))
            }
            Kind::For(p, duration) => write!(f, "{} for {duration}", At(Level::Postfix, p)),
            Kind::Within(p, duration, e) => {
                write!(f, "{} within {duration} of {}", At(Level::Postfix, p), At(Level::Primary, e))
            }
            Kind::Faulty => f.write_str("…"),
        }
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let space = if self.unit.text().is_empty() || self.unit.text().starts_with('/') { "" } else { " " };
        write!(f, "{}{space}{}", self.value, self.unit.text())
    }
}

impl fmt::Display for Window {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "[{}, {}]", self.from, self.to)
    }
}

/// How tightly a part binds, loosest first.
#[derive(Clone, Copy, PartialEq, PartialOrd)]
enum Level {
    Implies,
    Or,
    And,
    Binary,
    Unary,
    Postfix,
    Compare,
    Sum,
    Product,
    Sign,
    Primary,
}

fn level(kind: &Kind) -> Level {
    match kind {
        Kind::Implies(..) => Level::Implies,
        Kind::Or(_) => Level::Or,
        Kind::And(_) => Level::And,
        Kind::Binary(..) => Level::Binary,
        Kind::Not(_) | Kind::Temporal(..) => Level::Unary,
        Kind::For(..) | Kind::Within(..) => Level::Postfix,
        Kind::Compare(..) | Kind::Between(..) => Level::Compare,
        Kind::Arithmetic(Arithmetic::Add | Arithmetic::Subtract, ..) => Level::Sum,
        Kind::Arithmetic(Arithmetic::Multiply | Arithmetic::Divide, ..) => Level::Product,
        Kind::Negative(_) => Level::Sign,
        _ => Level::Primary,
    }
}

/// A part where only something that binds at least so tightly may stand.
struct At<'a>(Level, &'a Expr);

impl fmt::Display for At<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(needed, part) = self;
        if level(&part.kind) >= *needed { write!(f, "{part}") } else { write!(f, "({part})") }
    }
}

struct Optional<'a>(&'a Option<Window>);

impl fmt::Display for Optional<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.as_ref().map_or(Ok(()), |window| write!(f, "{window}"))
    }
}

struct Quoted<'a>(&'a str);

impl fmt::Display for Quoted<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if is_word(self.0) { f.write_str(self.0) } else { write!(f, "\"{}\"", self.0) }
    }
}

fn joined(f: &mut fmt::Formatter<'_>, parts: &[Expr], between: &str, level: Level) -> fmt::Result {
    for (place, part) in parts.iter().enumerate() {
        if place > 0 {
            f.write_str(between)?;
        }
        write!(f, "{}", At(level, part))?;
    }
    Ok(())
}
