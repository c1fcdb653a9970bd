//! Text into tokens, each with the bytes it came from.

use std::ops::Range;

use super::fault::Fault;

/// What a token is.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Token {
    /// A number, never negative.
    Number(f64),
    /// A name, a keyword or a unit: letters, digits, `_`, and dots between them; `%` and `°` too.
    Word(String),
    /// A name in double quotes, for names that are not words.
    Quoted(String),
    /// `( ) [ ] , + - * / < <= > >= == !=`
    Sign(&'static str),
    /// The end of the text.
    End,
}

/// A token and its place.
#[derive(Clone, Debug)]
pub(super) struct Lexeme {
    pub token: Token,
    pub span: Range<usize>,
}

/// All tokens of `text`, `End` last; whatever is no token is a fault and left out.
pub(super) fn lex(text: &str, faults: &mut Vec<Fault>) -> Vec<Lexeme> {
    let mut lexemes = Vec::new();
    let mut at = 0;
    while let Some(first) = text[at..].chars().next() {
        let rest = &text[at..];
        let (token, length) = if first.is_whitespace() {
            (None, first.len_utf8())
        } else if first.is_ascii_digit() {
            number(rest, at, faults)
        } else if first == '"' {
            quoted(rest, at, faults)
        } else if let Some(&(sign, meant)) = SIGNS.iter().find(|(sign, _)| rest.starts_with(sign)) {
            (Some(Token::Sign(meant)), sign.len())
        } else if first == '%' {
            (Some(Token::Word("%".to_owned())), 1)
        } else if starts_word(first) {
            let length = word_length(rest);
            (Some(Token::Word(rest[..length].to_owned())), length)
        } else {
            let length = first.len_utf8();
            let fault = Fault::new(at..at + length, format!("`{first}` means nothing here"));
            if first == '=' {
                faults.push(fault.hint("to compare for equality write `==`"));
                (Some(Token::Sign("==")), length)
            } else {
                faults.push(fault);
                (None, length)
            }
        };
        if let Some(token) = token {
            lexemes.push(Lexeme { token, span: at..at + length });
        }
        at += length;
    }
    lexemes.push(Lexeme { token: Token::End, span: text.len()..text.len() });
    lexemes
}

/// Whether `name` can be written without quotes.
pub(super) fn is_word(name: &str) -> bool {
    name.chars().next().is_some_and(starts_word) && word_length(name) == name.len()
}

/// What is written and what it means, longer signs first.
const SIGNS: &[(&str, &str)] = &[
    ("<=", "<="),
    (">=", ">="),
    ("==", "=="),
    ("!=", "!="),
    ("≤", "<="),
    ("≥", ">="),
    ("≠", "!="),
    ("<", "<"),
    (">", ">"),
    ("(", "("),
    (")", ")"),
    ("[", "["),
    ("]", "]"),
    (",", ","),
    ("+", "+"),
    ("-", "-"),
    ("−", "-"),
    ("*", "*"),
    ("×", "*"),
    ("/", "/"),
];

fn starts_word(c: char) -> bool {
    c.is_alphabetic() || c == '_' || c == '°'
}

fn word_length(text: &str) -> usize {
    let inside = |c: char| c.is_alphanumeric() || c == '_' || c == '°';
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        let joins = c == '.' && chars.peek().is_some_and(|&(_, next)| inside(next));
        if !inside(c) && !joins {
            return at;
        }
    }
    text.len()
}

fn number(text: &str, at: usize, faults: &mut Vec<Fault>) -> (Option<Token>, usize) {
    let digits = |from: usize| text[from..].bytes().take_while(u8::is_ascii_digit).count();
    let mut length = digits(0);
    if text[length..].starts_with('.') && digits(length + 1) > 0 {
        length += 1 + digits(length + 1);
    }
    if text[length..].starts_with(['e', 'E']) {
        let sign = usize::from(text[length + 1..].starts_with(['+', '-']));
        let exponent = digits(length + 1 + sign);
        if exponent > 0 {
            length += 1 + sign + exponent;
        }
    }
    match text[..length].parse::<f64>() {
        Ok(value) if value.is_finite() => (Some(Token::Number(value)), length),
        _ => {
            faults.push(Fault::new(at..at + length, "this number is too large"));
            (Some(Token::Number(0.0)), length)
        }
    }
}

fn quoted(text: &str, at: usize, faults: &mut Vec<Fault>) -> (Option<Token>, usize) {
    match text[1..].find('"') {
        Some(end) => (Some(Token::Quoted(text[1..1 + end].to_owned())), end + 2),
        None => {
            faults.push(
                Fault::new(at..at + text.len(), "this quoted name has no end")
                    .hint("close it with another `\"`"),
            );
            (Some(Token::Quoted(text[1..].to_owned())), text.len())
        }
    }
}
