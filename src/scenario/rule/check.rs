//! A tree into a program: names looked up, conditions told from quantities, units made to agree.

use crate::scenario::nearest;

use super::fault::Fault;
use super::parse::describe;
use super::program::{Counted, Event, Node, Op, Program, Seconds, Term};
use super::syntax::{Arithmetic, Binary, Comparison, Expr, Kind, Quantity, Temporal, Window};
use super::unit::Unit;
use super::vocabulary::{Argument, Vocabulary};

/// Checks a rule against the names that it may use; all faults at once.
pub(super) fn check(rule: &Expr, vocabulary: &Vocabulary) -> Result<Program, Vec<Fault>> {
    let mut checker = Checker {
        vocabulary,
        program: Program { nodes: Vec::new(), counts: Vec::new() },
        faults: Vec::new(),
    };
    match checker.condition(rule) {
        Some(_) if checker.faults.is_empty() => Ok(checker.program),
        _ => {
            // A part that is read twice, as the middle of `between` is, is told of once.
            checker.faults.sort_by_key(|fault| (fault.span.start, fault.span.end));
            checker.faults.dedup();
            Err(checker.faults)
        }
    }
}

struct Checker<'a> {
    vocabulary: &'a Vocabulary,
    program: Program,
    faults: Vec<Fault>,
}

/// A quantity with its unit.
struct Typed {
    term: Term,
    unit: Unit,
}

impl Checker<'_> {
    /// The node of a condition. `None` after a fault.
    fn condition(&mut self, expr: &Expr) -> Option<usize> {
        let op = match &expr.kind {
            Kind::Truth(truth) => Op::Truth(*truth),
            Kind::Name(name) if self.vocabulary.signals.contains_key(name) => {
                return self.not_a_condition(expr);
            }
            Kind::Name(_) | Kind::Event(..) => Op::Event(self.event(expr)?),
            Kind::In(state) => {
                let states = self.vocabulary.states.iter();
                if !self.vocabulary.states.contains(state) {
                    return self.unknown(expr, "a state of the chart", state, states);
                }
                Op::In(state.clone())
            }
            Kind::Chose(ask, option) => {
                let Some(options) = self.vocabulary.asks.get(ask) else {
                    return self.unknown(expr, "a question of this case", ask, self.vocabulary.asks.keys());
                };
                if !options.contains(option) {
                    return self.unknown(expr, &format!("an option of `{ask}`"), option, options.iter());
                }
                Op::Chose(ask.clone(), option.clone())
            }
            Kind::Known(signal) => {
                if !self.vocabulary.signals.contains_key(signal) {
                    return self.unknown(expr, "a signal", signal, self.vocabulary.signals.keys());
                }
                Op::Known(signal.clone())
            }
            Kind::Compare(op, x, y) => self.comparison(expr, *op, x, y)?,
            Kind::Between(x, low, high) => {
                let above = self.comparison(expr, Comparison::AtLeast, x, low);
                let below = self.comparison(expr, Comparison::AtMost, x, high);
                Op::And(vec![self.node(expr, above?), self.node(expr, below?)])
            }
            Kind::Not(p) => Op::Not(self.condition(p)?),
            Kind::And(parts) => Op::And(self.conditions(parts)?),
            Kind::Or(parts) => Op::Or(self.conditions(parts)?),
            Kind::Implies(p, q) => {
                let (p, q) = (self.condition(p), self.condition(q));
                self.implication(expr, p?, q?)
            }
            Kind::Temporal(op, window, p) => {
                let (window, p) = (seconds(window.as_ref()), self.condition(p)?);
                match op {
                    Temporal::Always => Op::Always(window, p),
                    Temporal::Never => Op::Always(window, self.node(expr, Op::Not(p))),
                    Temporal::Eventually => Op::Eventually(window, p),
                    Temporal::Once => Op::Once(window, p),
                    Temporal::Historically => Op::Historically(window, p),
                }
            }
            Kind::Binary(op, window, p, q) => {
                let (window, p, q) = (seconds(window.as_ref()), self.condition(p), self.condition(q));
                match op {
                    Binary::Until => Op::Until(window, p?, q?),
                    Binary::Since => Op::Since(window, p?, q?),
                }
            }
            Kind::For(p, duration) => {
                // A window that reaches before the start is cut there; having begun that long ago is asked
                // apart, so that the first sample alone is not "for two minutes".
                let (p, length_s) = (self.condition(p)?, in_s(duration));
                let held = self.node(expr, Op::Historically(Seconds(Some((0.0, length_s))), p));
                let began = self.node(expr, Op::Once(Seconds(Some((length_s, length_s))), p));
                Op::And(vec![held, began])
            }
            Kind::Within(p, duration, event) => {
                let (p, event) = (self.condition(p), self.condition(event));
                let soon = self.node(expr, Op::Eventually(Seconds(Some((0.0, in_s(duration)))), p?));
                let each = self.implication(expr, event?, soon);
                Op::Always(Seconds(None), self.node(expr, each))
            }
            Kind::Number(_) | Kind::Count(..) | Kind::Abs(_) | Kind::Negative(_) | Kind::Arithmetic(..) => {
                return self.not_a_condition(expr);
            }
            Kind::Faulty => return None,
        };
        Some(self.node(expr, op))
    }

    fn conditions(&mut self, parts: &[Expr]) -> Option<Vec<usize>> {
        let places: Vec<_> = parts.iter().map(|part| self.condition(part)).collect();
        places.into_iter().collect()
    }

    fn implication(&mut self, expr: &Expr, p: usize, q: usize) -> Op {
        Op::Or(vec![self.node(expr, Op::Not(p)), q])
    }

    /// The right side is brought to the unit of the left, except that a constant always yields to what
    /// varies: a margin is then in the unit of the signal, and a comparison in that unit is exact.
    fn comparison(&mut self, expr: &Expr, op: Comparison, x: &Expr, y: &Expr) -> Option<Op> {
        let (x, y) = (self.quantity(x), self.quantity(y));
        let (x, y) = (x?, y?);
        let (x, y) = if matches!(x.term, Term::Constant(_)) {
            let unit = y.unit.clone();
            (self.in_unit(x, &unit, expr, Side::Left)?, y.term)
        } else {
            let unit = x.unit.clone();
            (x.term, self.in_unit(y, &unit, expr, Side::Right)?)
        };
        Some(Op::Compare(op, x, y))
    }

    /// The term and unit of a quantity. `None` after a fault.
    fn quantity(&mut self, expr: &Expr) -> Option<Typed> {
        Some(match &expr.kind {
            Kind::Number(Quantity { value, unit }) => {
                Typed { term: Term::Constant(*value), unit: unit.clone() }
            }
            Kind::Name(name) => match self.vocabulary.signals.get(name) {
                Some(unit) => Typed { term: Term::Signal(name.clone()), unit: unit.clone() },
                None if self.vocabulary.events.contains_key(name) => return self.not_a_quantity(expr),
                None => return self.unknown(expr, "a signal", name, self.vocabulary.signals.keys()),
            },
            Kind::Count(window, event) => {
                let event = self.event(event)?;
                self.program.counts.push(Counted { event, window: seconds(window.as_ref()) });
                Typed { term: Term::Count(self.program.counts.len() - 1), unit: Unit::plain() }
            }
            Kind::Abs(x) => {
                let Typed { term, unit } = self.quantity(x)?;
                Typed { term: fold(Term::Abs(Box::new(term))), unit }
            }
            Kind::Negative(x) => {
                let Typed { term, unit } = self.quantity(x)?;
                Typed { term: fold(Term::Negative(Box::new(term))), unit }
            }
            Kind::Arithmetic(op, x, y) => {
                let (x, y) = (self.quantity(x), self.quantity(y));
                self.arithmetic(expr, *op, x?, y?)?
            }
            Kind::Faulty => return None,
            _ => return self.not_a_quantity(expr),
        })
    }

    fn arithmetic(&mut self, expr: &Expr, op: Arithmetic, x: Typed, y: Typed) -> Option<Typed> {
        let (unit, y) = match op {
            Arithmetic::Add | Arithmetic::Subtract => {
                let unit = x.unit.clone();
                (unit.clone(), self.in_unit(y, &unit, expr, Side::Right)?)
            }
            Arithmetic::Multiply => (x.unit.times(&y.unit), y.term),
            Arithmetic::Divide => (x.unit.per(&y.unit), y.term),
        };
        let (x, y) = (Box::new(x.term), Box::new(y));
        let term = match op {
            Arithmetic::Add => Term::Add(x, y),
            Arithmetic::Subtract => Term::Subtract(x, y),
            Arithmetic::Multiply => Term::Multiply(x, y),
            Arithmetic::Divide => Term::Divide(x, y),
        };
        Some(Typed { term: fold(term), unit })
    }

    /// The quantity's term in `target`; a fault if the two are not of one kind.
    fn in_unit(&mut self, quantity: Typed, target: &Unit, expr: &Expr, side: Side) -> Option<Term> {
        let Typed { term, unit } = quantity;
        if !unit.fits(target) {
            let (left, right) = match side {
                Side::Left => (&unit, target),
                Side::Right => (target, &unit),
            };
            let message = format!("a {} and a {} do not go together", describe(left), describe(right));
            let mut fault = Fault::new(expr.span.clone(), message);
            if let (Term::Constant(value), true) = (&term, unit.text().is_empty()) {
                fault = fault.hint(format!("give the number a unit, as in `{value} {target}`"));
            } else if let Term::Constant(_) = term {
                fault = fault.hint(format!("write the quantity as a {}", describe(target)));
            }
            self.faults.push(fault);
            return None;
        }
        Some(match (term, unit.ratio_to(target)) {
            (term, (1.0, 1.0)) => term,
            (term, (times, by)) => fold(Term::Scaled(Box::new(term), times, by)),
        })
    }

    fn event(&mut self, expr: &Expr) -> Option<Event> {
        let (name, argument) = match &expr.kind {
            Kind::Name(name) => (name, None),
            Kind::Event(name, argument) => (name, Some(argument)),
            Kind::Faulty => return None,
            _ => {
                let fault = Fault::new(expr.span.clone(), "only an event can be counted");
                self.faults.push(fault.hint("write it as `count(done(run))`"));
                return None;
            }
        };
        let Some(takes) = self.vocabulary.events.get(name) else {
            let names = self.vocabulary.events.keys().chain(self.vocabulary.signals.keys());
            return self.unknown(expr, "an event", name, names);
        };
        match (takes, argument) {
            (Argument::None, Some(_)) => {
                let fault = Fault::new(expr.span.clone(), format!("`{name}` takes nothing in parentheses"));
                self.faults.push(fault.hint(format!("write `{name}`")));
                return None;
            }
            (Argument::Any | Argument::OneOf(_), None) => {
                let fault = Fault::new(expr.span.clone(), format!("`{name}` needs to know of what"));
                let example = match takes {
                    Argument::OneOf(names) => names.first().map_or("…", String::as_str),
                    _ => "…",
                };
                self.faults.push(fault.hint(format!("write it as `{name}({example})`")));
                return None;
            }
            (Argument::OneOf(names), Some(argument)) if !names.contains(argument) => {
                return self.unknown(
                    expr,
                    &format!("something that `{name}` can be of"),
                    argument,
                    names.iter(),
                );
            }
            _ => {}
        }
        Some(Event { name: name.clone(), argument: argument.cloned() })
    }

    fn unknown<'n, T>(
        &mut self,
        expr: &Expr,
        what: &str,
        name: &str,
        names: impl Iterator<Item = &'n String> + Clone,
    ) -> Option<T> {
        let mut fault = Fault::new(expr.span.clone(), format!("`{name}` is not {what}"));
        fault.hint = match nearest(name, names.clone().map(String::as_str)) {
            Some(like) => Some(format!("did you mean `{like}`?")),
            // Of one family all are told: `risk.` is a better question than `r`.
            None => {
                let family = name.split_once('.').map(|(family, _)| format!("{family}."));
                let kin = |n: &&String| family.as_ref().is_some_and(|f| n.starts_with(f));
                if names.clone().any(|n| kin(&n)) { one_of_all(names.filter(kin)) } else { some_of(names) }
            }
        };
        self.faults.push(fault);
        None
    }

    fn not_a_condition<T>(&mut self, expr: &Expr) -> Option<T> {
        let unit = self.quantity(expr)?.unit;
        let message = format!("expected a condition, found a {}", describe(&unit));
        let space = if unit.text().is_empty() { "" } else { " " };
        let hint = format!("compare it, as in `{expr} >= 1{space}{}`", unit.text());
        self.faults.push(Fault::new(expr.span.clone(), message).hint(hint));
        None
    }

    fn not_a_quantity<T>(&mut self, expr: &Expr) -> Option<T> {
        // Told once: faults inside the condition come first.
        self.condition(expr)?;
        let fault = Fault::new(expr.span.clone(), "expected a quantity, found a condition");
        self.faults.push(fault.hint("to ask how often an event has happened write `count(…)`"));
        None
    }

    fn node(&mut self, expr: &Expr, op: Op) -> usize {
        self.program.nodes.push(Node { op, span: expr.span.clone() });
        self.program.nodes.len() - 1
    }
}

/// Which side of an operation is to change its unit.
#[derive(Clone, Copy)]
enum Side {
    Left,
    Right,
}

fn seconds(window: Option<&Window>) -> Seconds {
    Seconds(window.map(|window| (in_s(&window.from), in_s(&window.to))))
}

/// A duration in seconds; the parser lets no other quantity through.
fn in_s(duration: &Quantity) -> f64 {
    Unit::word("s").map_or(duration.value, |second| duration.unit.convert(duration.value, &second))
}

fn one_of_all<'n>(names: impl Iterator<Item = &'n String>) -> Option<String> {
    let names: Vec<String> = names.map(|name| format!("`{name}`")).collect();
    Some(format!("there are {}", names.join(", ")))
}

fn some_of<'n>(names: impl Iterator<Item = &'n String>) -> Option<String> {
    const SHOWN: usize = 6;
    let names: Vec<String> = names.take(SHOWN + 1).map(|name| format!("`{name}`")).collect();
    match names.len() {
        0 => None,
        n if n > SHOWN => Some(format!("there are {} and more", names[..SHOWN].join(", "))),
        _ => Some(format!("there is only {}", names.join(", "))),
    }
}

/// An operation on constants is a constant.
fn fold(term: Term) -> Term {
    use Term::Constant;
    let value = match &term {
        Term::Negative(x) => match **x {
            Constant(x) => -x,
            _ => return term,
        },
        Term::Abs(x) => match **x {
            Constant(x) => x.abs(),
            _ => return term,
        },
        Term::Scaled(x, times, by) => match **x {
            Constant(x) => x * times / by,
            _ => return term,
        },
        Term::Add(x, y) | Term::Subtract(x, y) | Term::Multiply(x, y) | Term::Divide(x, y) => {
            match (&**x, &**y) {
                (&Constant(x), &Constant(y)) => match term {
                    Term::Add(..) => x + y,
                    Term::Subtract(..) => x - y,
                    Term::Multiply(..) => x * y,
                    _ => x / y,
                },
                _ => return term,
            }
        }
        _ => return term,
    };
    Constant(value)
}
