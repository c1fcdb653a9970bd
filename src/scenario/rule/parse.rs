//! Tokens into a tree. It reads on after a fault, so that all faults are told at once.

mod cursor;

use crate::scenario::nearest;

use super::fault::Fault;
use super::lex::{Lexeme, Token, lex};
use super::syntax::{Arithmetic, Binary, Comparison, Expr, KEYWORDS, Kind, Quantity, Temporal, Window};
use super::unit::Unit;

/// The longest rule, in bytes: a rule is a sentence, not a chapter.
pub const LONGEST_RULE: usize = 4096;

/// Parentheses and prefixes within each other.
const DEEPEST: usize = 64;

/// Reads `text` as one condition or quantity; the tree is whole only if there are no faults.
pub fn parse(text: &str) -> (Expr, Vec<Fault>) {
    let mut faults = Vec::new();
    if text.len() > LONGEST_RULE {
        faults.push(
            Fault::new(0..text.len(), format!("this rule is longer than {LONGEST_RULE} bytes"))
                .hint("split it into several rules"),
        );
        return (Expr { kind: Kind::Faulty, span: 0..text.len() }, faults);
    }
    let lexemes = lex(text, &mut faults);
    let mut parser = Parser { lexemes, at: 0, depth: 0, faults };
    let mut expr = parser.implies();
    while *parser.peek() != Token::End {
        let found = parser.found();
        parser.fault(
            format!("expected the rule to end here, found {found}"),
            "join two conditions with `and` or `or`",
        );
        parser.skip_to_joint();
        if parser.at + 1 < parser.lexemes.len() {
            parser.at += 1;
            let rest = parser.implies();
            let span = expr.span.start..rest.span.end;
            expr = Expr { kind: Kind::And(vec![expr, rest]), span };
        }
    }
    (expr, parser.faults)
}

struct Parser {
    lexemes: Vec<Lexeme>,
    at: usize,
    depth: usize,
    faults: Vec<Fault>,
}

impl Parser {
    fn implies(&mut self) -> Expr {
        let left = self.or();
        if !self.eat_word("implies") {
            return left;
        }
        let right = self.deeper(Self::implies);
        whole(left, right, Kind::Implies)
    }

    fn or(&mut self) -> Expr {
        self.list("or", Self::and, Kind::Or)
    }

    fn and(&mut self) -> Expr {
        self.list("and", Self::binary, Kind::And)
    }

    fn list(&mut self, word: &str, part: fn(&mut Self) -> Expr, kind: fn(Vec<Expr>) -> Kind) -> Expr {
        let first = part(self);
        if !self.is_word(word) {
            return first;
        }
        let start = first.span.start;
        let mut parts = vec![first];
        while self.eat_word(word) {
            parts.push(part(self));
        }
        self.spanned(start, kind(parts))
    }

    fn binary(&mut self) -> Expr {
        let mut left = self.unary();
        let mut chained = false;
        while let Some(op) = self.operator(Binary::from_word) {
            if chained {
                self.fault_before(
                    "two `since` or `until` in a row",
                    "put parentheses around the one meant first",
                );
            }
            chained = true;
            let window = self.window();
            let right = self.unary();
            left = whole(left, right, |p, q| Kind::Binary(op, window, p, q));
        }
        left
    }

    fn unary(&mut self) -> Expr {
        let start = self.start();
        if self.eat_word("not") {
            let p = self.deeper(Self::unary);
            return self.spanned(start, Kind::Not(Box::new(p)));
        }
        if let Some(op) = self.operator(Temporal::from_word) {
            let window = self.window();
            let p = self.deeper(Self::unary);
            return self.spanned(start, Kind::Temporal(op, window, Box::new(p)));
        }
        self.postfix()
    }

    fn postfix(&mut self) -> Expr {
        let start = self.start();
        let mut expr = self.comparison();
        loop {
            if self.eat_word("for") {
                let duration = self.duration();
                expr = self.spanned(start, Kind::For(Box::new(expr), duration));
            } else if self.eat_word("within") {
                let duration = self.duration();
                if !self.eat_word("of") {
                    let found = self.found();
                    self.fault(
                        format!("expected `of` and the event that starts the clock, found {found}"),
                        "write it as `… within 3 min of order(…)`",
                    );
                }
                let event = self.primary();
                expr = self.spanned(start, Kind::Within(Box::new(expr), duration, Box::new(event)));
            } else {
                return expr;
            }
        }
    }

    fn comparison(&mut self) -> Expr {
        let x = self.sum();
        if self.eat_word("between") {
            let low = self.sum();
            if !self.eat_word("and") {
                let found = self.found();
                self.fault(
                    format!("expected `and` and the upper end, found {found}"),
                    "write `between 10 % and 20 %`",
                );
            }
            let high = self.sum();
            let span = x.span.start..high.span.end;
            return Expr { kind: Kind::Between(Box::new(x), Box::new(low), Box::new(high)), span };
        }
        let mut left = x;
        let mut chained = false;
        while let Some(op) = self.sign(Comparison::from_word) {
            if chained {
                self.fault_before(
                    "two comparisons in a row",
                    "write `x between low and high`, or join two with `and`",
                );
            }
            let right = self.sum();
            left = whole(left, right, |x, y| if chained { Kind::Faulty } else { Kind::Compare(op, x, y) });
            chained = true;
        }
        left
    }

    fn sum(&mut self) -> Expr {
        self.chain(Self::product, [Arithmetic::Add, Arithmetic::Subtract])
    }

    fn product(&mut self) -> Expr {
        self.chain(Self::negative, [Arithmetic::Multiply, Arithmetic::Divide])
    }

    fn chain(&mut self, part: fn(&mut Self) -> Expr, ops: [Arithmetic; 2]) -> Expr {
        let mut left = part(self);
        while let Some(op) = self.sign(|sign| ops.into_iter().find(|op| op.word() == sign)) {
            let right = part(self);
            left = whole(left, right, |x, y| Kind::Arithmetic(op, x, y));
        }
        left
    }

    fn negative(&mut self) -> Expr {
        let start = self.start();
        if self.eat("-") {
            let x = self.deeper(Self::negative);
            return self.spanned(start, Kind::Negative(Box::new(x)));
        }
        self.primary()
    }

    fn primary(&mut self) -> Expr {
        let start = self.start();
        match self.peek().clone() {
            Token::Number(value) => {
                self.at += 1;
                let kind = self.unit().map_or(Kind::Faulty, |unit| Kind::Number(Quantity { value, unit }));
                self.spanned(start, kind)
            }
            Token::Sign("(") => {
                self.at += 1;
                let inner = self.deeper(Self::implies);
                self.close(")", start);
                self.spanned(start, inner.kind)
            }
            Token::Word(word) if word == "%" => self.expected_here(),
            Token::Word(word) if !KEYWORDS.contains(&word.as_str()) => {
                self.at += 1;
                let kind = if self.is_sign("(") {
                    self.arguments(1).map_or(Kind::Faulty, |[argument, _]| Kind::Event(word, argument))
                } else {
                    Kind::Name(word)
                };
                self.spanned(start, kind)
            }
            Token::Word(word) => self.keyword(&word, start),
            Token::Quoted(_) | Token::Sign(_) | Token::End => self.expected_here(),
        }
    }

    fn keyword(&mut self, word: &str, start: usize) -> Expr {
        self.at += 1;
        let kind = match word {
            "true" | "false" => Kind::Truth(word == "true"),
            "in" => self.arguments(1).map_or(Kind::Faulty, |[state, _]| Kind::In(state)),
            "known" => self.arguments(1).map_or(Kind::Faulty, |[signal, _]| Kind::Known(signal)),
            "chose" => self.arguments(2).map_or(Kind::Faulty, |[ask, option]| Kind::Chose(ask, option)),
            "abs" | "count" => {
                let window = if word == "count" { self.window() } else { None };
                let open = self.start();
                if self.eat("(") {
                    let inner = Box::new(self.deeper(Self::implies));
                    self.close(")", open);
                    if word == "abs" { Kind::Abs(inner) } else { Kind::Count(window, inner) }
                } else {
                    self.at -= 1;
                    self.fault(format!("`{word}` needs parentheses after it"), format!("write `{word}(…)`"));
                    self.at += 1;
                    Kind::Faulty
                }
            }
            _ => {
                self.at -= 1;
                return self.expected_here();
            }
        };
        self.spanned(start, kind)
    }

    /// `(name)` or `(name, name)`.
    fn arguments(&mut self, count: usize) -> Option<[String; 2]> {
        let open = self.start();
        let mut names = [String::new(), String::new()];
        let form = if count == 1 { "(name)" } else { "(question, option)" };
        let before = self.faults.len();
        if !self.eat("(") {
            let found = self.found();
            self.fault(format!("expected `{form}`, found {found}"), "name what is meant in parentheses");
            return None;
        }
        for (place, name) in names.iter_mut().take(count).enumerate() {
            if place > 0 && !self.eat(",") {
                let found = self.found();
                self.fault(
                    format!("expected `,` and another name, found {found}"),
                    format!("write `{form}`"),
                );
                break;
            }
            match self.peek() {
                Token::Word(word) | Token::Quoted(word) => {
                    *name = word.clone();
                    self.at += 1;
                }
                _ => {
                    let found = self.found();
                    self.fault(format!("expected a name, found {found}"), format!("write `{form}`"));
                    break;
                }
            }
        }
        self.close(")", open);
        (self.faults.len() == before).then_some(names)
    }

    /// `[0 s, 3 min]`, if there is one.
    fn window(&mut self) -> Option<Window> {
        let open = self.start();
        if !self.eat("[") {
            return None;
        }
        let from = self.duration();
        if !self.eat(",") {
            let found = self.found();
            self.fault(
                format!("expected `,` and the far end of the window, found {found}"),
                "write `[0 s, 3 min]`",
            );
        }
        let to = self.duration();
        let end = self.start();
        self.close("]", open);
        let in_s = |end: &Quantity| end.unit.convert(end.value, &seconds());
        if in_s(&from) > in_s(&to) {
            self.faults.push(
                Fault::new(open..end + 1, "this window ends before it begins")
                    .hint("write the nearer end first"),
            );
        }
        Some(Window { from, to })
    }

    /// A length of time; only zero may do without a unit.
    fn duration(&mut self) -> Quantity {
        let start = self.start();
        let faulty = Quantity { value: 0.0, unit: seconds() };
        let Token::Number(value) = *self.peek() else {
            let found = self.found();
            self.fault(
                format!("expected a length of time, found {found}"),
                "write it as `30 s`, `3 min` or `1 h`",
            );
            return faulty;
        };
        self.at += 1;
        let Some(unit) = self.unit() else { return faulty };
        if unit.is_time() {
            Quantity { value, unit }
        } else if unit.text().is_empty() && value == 0.0 {
            faulty
        } else {
            let message = format!("expected a length of time, found a {}", describe(&unit));
            let fault =
                Fault::new(start..self.end(), message).hint(format!("write `{value} s` or `{value} min`"));
            self.faults.push(fault);
            faulty
        }
    }

    /// The unit after a number: words in a row multiply, words after `/` divide.
    fn unit(&mut self) -> Option<Unit> {
        let mut unit = Unit::plain();
        loop {
            match self.peek().clone() {
                // An event where a unit could stand: something is missing between the two.
                Token::Word(_) if self.lexemes[self.at + 1].token == Token::Sign("(") => return Some(unit),
                Token::Word(word) if !KEYWORDS.contains(&word.as_str()) => match Unit::word(&word) {
                    Some(one) => {
                        unit = unit.times(&one);
                        self.at += 1;
                    }
                    None => {
                        let span = self.lexemes[self.at].span.clone();
                        let mut fault = Fault::new(span, format!("`{word}` is not a unit"));
                        fault.hint =
                            nearest(&word, Unit::words()).map(|like| format!("did you mean `{like}`?"));
                        self.faults.push(fault);
                        self.at += 1;
                        return None;
                    }
                },
                Token::Sign("/") => match self.unit_after_slash() {
                    Some(one) => {
                        unit = unit.per(&one);
                        self.at += 2;
                        // Nothing multiplies after a division: `mL/kg h` would be read in two ways.
                        while let Some(one) = self.unit_after_slash() {
                            unit = unit.per(&one);
                            self.at += 2;
                        }
                        return Some(unit);
                    }
                    None => return Some(unit),
                },
                _ => return Some(unit),
            }
        }
    }

    fn unit_after_slash(&self) -> Option<Unit> {
        let [slash, word] = [self.at, self.at + 1].map(|at| self.lexemes.get(at).map(|lexeme| &lexeme.token));
        match (slash, word) {
            (Some(Token::Sign("/")), Some(Token::Word(word))) => Unit::word(word),
            _ => None,
        }
    }
}

/// What a unit measures, for a message.
pub(super) fn describe(unit: &Unit) -> String {
    if unit.text().is_empty() { "plain number".to_owned() } else { format!("quantity in {unit}") }
}

fn seconds() -> Unit {
    Unit::word("s").unwrap_or_else(Unit::plain)
}

fn whole(left: Expr, right: Expr, kind: impl FnOnce(Box<Expr>, Box<Expr>) -> Kind) -> Expr {
    let span = left.span.start..right.span.end;
    Expr { kind: kind(Box::new(left), Box::new(right)), span }
}
