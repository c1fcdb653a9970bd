//! Moving along the tokens, and saying what is wrong where.

use super::super::fault::Fault;
use super::super::lex::Token;
use super::super::syntax::{Expr, Kind};
use super::{DEEPEST, Parser};

impl Parser {
    /// Says that a condition or quantity should stand here, and goes to where one may follow.
    pub(super) fn expected_here(&mut self) -> Expr {
        let (found, start) = (self.found(), self.start());
        let hint =
            "compare a signal with a quantity, as in `map >= 65 mmHg`, or name an event, as in `done(run)`";
        self.fault(format!("expected a condition or a quantity, found {found}"), hint);
        while !self.at_joint() && !matches!(self.peek(), Token::Sign(")" | "]" | ",")) {
            self.at += 1;
        }
        self.spanned(start, Kind::Faulty)
    }

    pub(super) fn skip_to_joint(&mut self) {
        while !self.at_joint() {
            self.at += 1;
        }
    }

    /// Whether this is where one condition is joined to the next, or the end.
    pub(super) fn at_joint(&self) -> bool {
        *self.peek() == Token::End || ["and", "or", "implies"].iter().any(|word| self.is_word(word))
    }

    pub(super) fn deeper(&mut self, part: fn(&mut Self) -> Expr) -> Expr {
        self.depth += 1;
        let expr = if self.depth > DEEPEST {
            self.fault(
                format!("more than {DEEPEST} levels within each other"),
                "split the rule into several",
            );
            self.at = self.lexemes.len() - 1;
            Expr { kind: Kind::Faulty, span: self.start()..self.start() }
        } else {
            part(self)
        };
        self.depth -= 1;
        expr
    }

    pub(super) fn close(&mut self, sign: &'static str, open: usize) {
        if !self.eat(sign) {
            let found = self.found();
            let message = format!("expected `{sign}`, found {found}");
            self.fault(message, format!("close what was opened at byte {open}"));
            while !self.is_sign(sign) && *self.peek() != Token::End {
                self.at += 1;
            }
            self.eat(sign);
        }
    }

    pub(super) fn peek(&self) -> &Token {
        &self.lexemes[self.at].token
    }

    pub(super) fn start(&self) -> usize {
        self.lexemes[self.at].span.start
    }

    /// Where the last token read ends.
    pub(super) fn end(&self) -> usize {
        self.at.checked_sub(1).map_or(0, |last| self.lexemes[last].span.end)
    }

    pub(super) fn spanned(&self, start: usize, kind: Kind) -> Expr {
        Expr { kind, span: start..self.end().max(start) }
    }

    pub(super) fn is_word(&self, word: &str) -> bool {
        matches!(self.peek(), Token::Word(found) if found == word)
    }

    pub(super) fn is_sign(&self, sign: &str) -> bool {
        matches!(self.peek(), Token::Sign(found) if *found == sign)
    }

    pub(super) fn eat_word(&mut self, word: &str) -> bool {
        let found = self.is_word(word);
        self.at += usize::from(found);
        found
    }

    pub(super) fn eat(&mut self, sign: &str) -> bool {
        let found = self.is_sign(sign);
        self.at += usize::from(found);
        found
    }

    pub(super) fn operator<T>(&mut self, from: fn(&str) -> Option<T>) -> Option<T> {
        let Token::Word(word) = self.peek() else { return None };
        let op = from(word)?;
        self.at += 1;
        Some(op)
    }

    pub(super) fn sign<T>(&mut self, from: impl Fn(&str) -> Option<T>) -> Option<T> {
        let Token::Sign(sign) = self.peek() else { return None };
        let op = from(sign)?;
        self.at += 1;
        Some(op)
    }

    pub(super) fn found(&self) -> String {
        match self.peek() {
            Token::Number(value) => format!("the number {value}"),
            Token::Word(word) => format!("`{word}`"),
            Token::Quoted(name) => format!("the quoted name \"{name}\""),
            Token::Sign(sign) => format!("`{sign}`"),
            Token::End => "the end of the rule".to_owned(),
        }
    }

    pub(super) fn fault(&mut self, message: impl Into<String>, hint: impl Into<String>) {
        let span = self.lexemes[self.at].span.clone();
        self.faults.push(Fault::new(span, message).hint(hint));
    }

    pub(super) fn fault_before(&mut self, message: &str, hint: &str) {
        self.at -= 1;
        self.fault(message, hint);
        self.at += 1;
    }
}
