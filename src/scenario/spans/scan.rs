//! The scanner: from text to a tree of values with their places, over small slips and up to the first thing past which nothing
//! can be read.

use super::{Body, Field, MAX_BYTES, Node, slice};
use crate::scenario::diagnostic::Diagnostic;

/// Scans a text: its tree, where one could be read, and what is wrong with it.
pub(super) fn scan(text: &str) -> (Option<Node>, Vec<Diagnostic>) {
    if let Some(refusal) = refuse(text) {
        return (None, vec![refusal]);
    }
    let lines = std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i as u32 + 1)).collect();
    let mut scanner =
        Scanner { text, lines, at: 0, depth: 0, faults: Vec::new(), crooked: None, open_quote: None };
    let root = scanner.document().ok();
    (root, scanner.root_cause())
}

/// A text that is not looked into at all.
fn refuse(text: &str) -> Option<Diagnostic> {
    if text.len() > MAX_BYTES {
        let found =
            format!("this file has {} MB; a case has at most {} MB", text.len() >> 20, MAX_BYTES >> 20);
        return Some(
            Diagnostic::fault("too-large", 0..0, found).hint("check that this is the file that you meant"),
        );
    }
    let odd = text.char_indices().find(|(_, c)| c.is_control() && !matches!(c, '\n' | '\r' | '\t'));
    let (at, c) = odd.or_else(|| text.char_indices().find(|(i, c)| *c == '\u{feff}' && *i > 0))?;
    Some(
        Diagnostic::fault(
            "not-text",
            at..at + c.len_utf8(),
            format!("there is a character here that text does not have (code {:#04x})", u32::from(c)),
        )
        .hint("save the case as plain text in UTF-8; if this is not a case, name another file"),
    )
}

/// The scanner has met something that it cannot read past; the fault is noted.
pub(super) struct Stop;

pub(super) struct Scanner<'t> {
    pub(super) text: &'t str,
    /// The first byte of each line.
    pub(super) lines: Vec<u32>,
    pub(super) at: usize,
    pub(super) depth: usize,
    pub(super) faults: Vec<Diagnostic>,
    /// The first pair of brackets whose closing one starts a line in another column than its opening line does.
    pub(super) crooked: Option<(usize, usize)>,
    /// The first text that runs over lines which look like fields: its closing quote may be missing.
    pub(super) open_quote: Option<(usize, usize)>,
}

impl<'t> Scanner<'t> {
    fn document(&mut self) -> Result<Node, Stop> {
        if self.rest().starts_with('\u{feff}') {
            self.at += '\u{feff}'.len_utf8();
        }
        self.space()?;
        while self.rest().starts_with("#!") {
            let end = self.rest().find(']').map_or(self.rest().len(), |i| i + 1);
            self.at += end;
            self.space()?;
        }
        if self.peek().is_none() {
            return Err(self.stop(
                Diagnostic::fault("stray", 0..0, "the file is empty")
                    .hint("start from a commented case: overwire new my_case"),
            ));
        }
        let root = self.value()?;
        self.space()?;
        if let Some(c) = self.peek() {
            let fault = if matches!(c, ')' | ']' | '}') {
                Diagnostic::fault("bracket", self.here(), format!("this {c} closes nothing"))
                    .hint("take it away, or look for a bracket that closes too early")
            } else {
                Diagnostic::fault("stray", self.here(), "there is more text after the end of the case")
                    .label(root.span.1 as usize - 1..root.span.1 as usize, "the case ends here")
                    .hint("look for a bracket that closes too early")
            };
            return Err(self.stop(fault));
        }
        Ok(root)
    }

    fn value(&mut self) -> Result<Node, Stop> {
        self.space()?;
        let start = self.at;
        let Some(c) = self.peek() else { return Err(self.stop_at_end(None)) };
        let (tag, body) = match c {
            '(' => (None, self.round()?),
            '[' => (None, Body::List(self.list()?)),
            '{' => (None, Body::Map(self.map()?)),
            '"' => (None, self.quoted(0)?),
            '\'' => (None, self.character()?),
            '0'..='9' | '+' | '-' | '.' => (None, self.number()),
            'r' if self.raw_hashes().is_some() => {
                let hashes = self.raw_hashes().unwrap_or_default();
                self.at += 1 + hashes;
                (None, self.quoted(hashes + 1)?)
            }
            c if is_word_start(c) => {
                let tag = self.word();
                let after = self.at;
                self.space()?;
                if self.peek() == Some('(') {
                    (Some(tag), self.round()?)
                } else {
                    self.at = after;
                    (Some(tag), Body::Word)
                }
            }
            c => {
                let fault = if matches!(c, '\u{201c}' | '\u{201d}' | '\u{201e}' | '\u{ab}') {
                    Diagnostic::fault(
                        "quote",
                        self.here(),
                        "this is a typographic quote, which does not start a text",
                    )
                    .hint("use the straight quote \" on both sides")
                } else {
                    Diagnostic::fault("stray", self.here(), format!("a value is missing before this \"{c}\""))
                        .hint("write the value, or take the name before it away")
                };
                return Err(self.stop(fault));
            }
        };
        Ok(Node { span: (start as u32, self.at as u32), tag, body })
    }

    /// From `(` to its `)`: named fields or plain items.
    fn round(&mut self) -> Result<Body, Stop> {
        let open = self.open()?;
        self.space()?;
        if !self.field_ahead()? {
            let items = self.items(open, ')')?;
            return Ok(Body::Items(items));
        }
        let mut fields = Vec::new();
        while !self.close(open, ')')? {
            if !self.peek().is_some_and(is_word_start) {
                let start = self.at;
                self.value()?;
                let fault = self.nameless(start);
                self.note(fault)?;
                self.comma()?;
                continue;
            }
            let key = self.word();
            self.space()?;
            if self.peek() == Some(':') {
                self.at += 1;
            } else {
                let name = slice(self.text, key);
                let fault = Diagnostic::fault(
                    "colon",
                    key.0 as usize..key.1 as usize,
                    format!("after {name} a colon is missing"),
                )
                .hint(format!("write {name}: and then its value"));
                self.note(fault)?;
                if self.peek() == Some('=') {
                    self.at += 1;
                } else if matches!(self.peek(), Some(',' | ')')) {
                    self.comma()?;
                    continue;
                }
            }
            let value = self.value()?;
            fields.push(Field { key, value });
            self.comma()?;
        }
        Ok(Body::Fields(fields))
    }

    /// A value among named fields that has no name itself.
    fn nameless(&self, start: usize) -> Diagnostic {
        let value = &self.text[start..self.at];
        let whole = self.text[..start]
            .strip_suffix(',')
            .filter(|before| before.ends_with(|c: char| c.is_ascii_digit()));
        if let Some(whole) = whole.filter(|_| value.starts_with(|c: char| c.is_ascii_digit())) {
            let from = whole.trim_end_matches(|c: char| c.is_ascii_digit()).len();
            return Diagnostic::fault("comma", from..self.at, "a number has a decimal point, not a comma")
                .hint(format!("write {}.{value}", &whole[from..]));
        }
        Diagnostic::fault("stray", start..self.at, "this value has no name")
            .expected("a field: a name, a colon and a value")
            .hint("write the field's name and a colon before it, or look for a missing quote or bracket")
    }

    fn list(&mut self) -> Result<Vec<Node>, Stop> {
        let open = self.open()?;
        self.items(open, ']')
    }

    fn items(&mut self, open: usize, closing: char) -> Result<Vec<Node>, Stop> {
        let mut items = Vec::new();
        while !self.close(open, closing)? {
            items.push(self.value()?);
            self.space()?;
            if self.peek() == Some(':') {
                let label = if closing == ']' { "this list" } else { "this" };
                let fault = Diagnostic::fault("bracket", self.here(), "a name and a colon stand where only values can")
                    .label(open..open + 1, format!("{label} is open here"))
                    .hint("entries with names stand in round brackets: ( name: value ); is a bracket missing before it?");
                return Err(self.stop(fault));
            }
            self.comma()?;
        }
        Ok(items)
    }

    fn map(&mut self) -> Result<Vec<(Node, Node)>, Stop> {
        let open = self.open()?;
        let mut pairs = Vec::new();
        while !self.close(open, '}')? {
            let key = self.value()?;
            self.space()?;
            if self.peek() == Some(':') {
                self.at += 1;
            } else {
                let fault = Diagnostic::fault("colon", key.range(), "after this a colon is missing")
                    .hint("in curly brackets write: \"name\": value");
                self.note(fault)?;
                if matches!(self.peek(), Some(',' | '}')) {
                    self.comma()?;
                    continue;
                }
                if self.peek() == Some('=') {
                    self.at += 1;
                }
            }
            let value = self.value()?;
            pairs.push((key, value));
            self.comma()?;
        }
        Ok(pairs)
    }

    /// A text between quotes; `fence` is 0 with escapes, or one more than the number of # of a raw text.
    fn quoted(&mut self, fence: usize) -> Result<Body, Stop> {
        let start = self.at;
        let end = format!("\"{}", "#".repeat(fence.saturating_sub(1)));
        let mut at = start + 1;
        let bytes = self.text.as_bytes();
        loop {
            match bytes.get(at) {
                None => {
                    let fault = Diagnostic::fault("quote", start..start + 1, "this quote is never closed")
                        .hint("put a closing quote \" at the end of the text");
                    return Err(self.stop(fault));
                }
                Some(b'\\') if fence == 0 => at += 2,
                Some(b'"') if self.text[at..].starts_with(&end) => break,
                Some(_) => at += 1,
            }
        }
        let inside = &self.text[start + 1..at];
        if self.open_quote.is_none() && inside.lines().skip(1).any(looks_like_field) {
            self.open_quote = Some((start, start + 1 + inside.find('\n').unwrap_or(inside.len())));
        }
        self.at = at + end.len();
        Ok(Body::Text)
    }

    fn character(&mut self) -> Result<Body, Stop> {
        let start = self.at;
        let line_end = self.rest().find('\n').map_or(self.text.len(), |i| start + i);
        let Some(close) = self.text[start + 1..line_end].find('\'') else {
            let fault = Diagnostic::fault("quote", start..start + 1, "a single quote does not start a text")
                .hint("use the double quote \" on both sides");
            return Err(self.stop(fault));
        };
        self.at = start + 1 + close + 1;
        self.note(
            Diagnostic::fault("quote", start..self.at, "texts stand between double quotes")
                .hint(format!("write \"{}\"", &self.text[start + 1..start + 1 + close])),
        )?;
        Ok(Body::Text)
    }

    fn number(&mut self) -> Body {
        let end =
            self.rest().find(|c: char| !(c.is_ascii_alphanumeric() || matches!(c, '.' | '+' | '-' | '_')));
        self.at += end.unwrap_or(self.rest().len());
        Body::Number
    }

    fn word(&mut self) -> (u32, u32) {
        let start = self.at;
        let end = self.rest().find(|c: char| !is_word_part(c)).unwrap_or(self.rest().len());
        self.at += end;
        (start as u32, self.at as u32)
    }

    /// Does a name with a colon come next, or one whose colon is missing: before `=`, or right before a value?
    fn field_ahead(&mut self) -> Result<bool, Stop> {
        if !self.peek().is_some_and(is_word_start) || self.raw_hashes().is_some() {
            return Ok(false);
        }
        let start = self.at;
        self.word();
        self.space()?;
        let next = self.peek();
        self.at = start;
        Ok(matches!(next, Some(':' | '=' | '"' | '[' | '{' | '0'..='9')))
    }

    fn raw_hashes(&self) -> Option<usize> {
        let after = self.rest().strip_prefix('r')?;
        let hashes = after.len() - after.trim_start_matches('#').len();
        after[hashes..].starts_with('"').then_some(hashes)
    }
}

pub(super) fn is_word_start(c: char) -> bool {
    c.is_alphabetic() || c == '_'
}

fn is_word_part(c: char) -> bool {
    c.is_alphanumeric() || c == '_' || c == '-' || c == '.'
}

/// `name: ...` with a name such as fields have.
fn looks_like_field(line: &str) -> bool {
    let line = line.trim_start();
    let name = line.len() - line.trim_start_matches(|c: char| c.is_ascii_lowercase() || c == '_').len();
    name > 1 && line[name..].starts_with(':')
}
