//! Where everything stands in a case's text.
//!
//! A small tolerant scanner for RON (Rusty Object Notation): it turns text into a tree of values with their byte ranges,
//! goes on after a missing comma or colon, and gives up with the root cause where brackets or quotes do not close. The
//! reader of case files walks that tree, and every later check finds the place of a path such as
//! `asks[3].options[1].orders[0].move.device` in it.
//!
//! Bounded: a text of at most [`MAX_BYTES`], brackets at most [`MAX_DEPTH`] deep. There are no includes.

use super::diagnostic::Diagnostic;
use std::ops::Range;

/// Largest text that is looked at, bytes.
pub const MAX_BYTES: usize = 2 * 1024 * 1024;
/// Deepest nesting of brackets.
pub const MAX_DEPTH: usize = 96;
/// After so many faults of writing the scanner stops.
const MAX_FAULTS: usize = 60;

/// One value and where it stands.
#[derive(Clone, Debug)]
pub struct Node {
    /// First byte and the byte after the last.
    pub span: (u32, u32),
    /// The word before a bracket, or the bare word itself.
    pub tag: Option<(u32, u32)>,
    /// What it is.
    pub body: Body,
}

/// What a value is.
#[derive(Clone, Debug)]
pub enum Body {
    /// A bare word: `true`, `None`, the name of a variant.
    Word,
    /// A number.
    Number,
    /// Words in quotes.
    Text,
    /// `( name: value, ... )`.
    Fields(Vec<Field>),
    /// `( value, ... )`.
    Items(Vec<Node>),
    /// `[ value, ... ]`.
    List(Vec<Node>),
    /// `{ value: value, ... }`.
    Map(Vec<(Node, Node)>),
}

/// One named value.
#[derive(Clone, Debug)]
pub struct Field {
    /// Where the name stands.
    pub key: (u32, u32),
    /// Its value.
    pub value: Node,
}

impl Node {
    /// As a range.
    pub fn range(&self) -> Range<usize> {
        self.span.0 as usize..self.span.1 as usize
    }
    /// Its first few bytes: the tag or bracket of something long, the whole of something short.
    pub fn head(&self) -> Range<usize> {
        match (&self.body, self.tag) {
            (Body::Word | Body::Number | Body::Text, _) => self.range(),
            (_, Some((a, b))) => a as usize..b as usize,
            _ => self.span.0 as usize..self.span.0 as usize + 1,
        }
    }
    /// The value of a named field.
    pub fn field<'n>(&'n self, text: &str, name: &str) -> Option<&'n Node> {
        let Body::Fields(fields) = &self.body else { return None };
        fields.iter().find(|f| slice(text, f.key) == name).map(|f| &f.value)
    }
}

/// The part of `text` at a pair of bytes.
pub fn slice(text: &str, (a, b): (u32, u32)) -> &str {
    text.get(a as usize..b as usize).unwrap_or_default()
}

/// A text and the tree of its values.
#[derive(Clone, Debug)]
pub struct Spans {
    text: String,
    root: Node,
}

impl Spans {
    /// Scans a text. Without a tree, the faults say why; with one, they are small things that were read over.
    pub fn scan(text: &str) -> (Option<Self>, Vec<Diagnostic>) {
        if let Some(refusal) = refuse(text) {
            return (None, vec![refusal]);
        }
        let lines = std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i as u32 + 1)).collect();
        let mut scanner =
            Scanner { text, lines, at: 0, depth: 0, faults: Vec::new(), crooked: None, open_quote: None };
        let root = scanner.document().ok();
        let found = scanner.root_cause();
        (root.map(|root| Self { text: text.to_owned(), root }), found)
    }
    /// The scanned text.
    pub fn text(&self) -> &str {
        &self.text
    }
    /// The outermost value.
    pub fn root(&self) -> &Node {
        &self.root
    }
    /// The first field of that name anywhere inside the value at a path.
    pub fn field_below(&self, path: &str, name: &str) -> Option<Range<usize>> {
        fn below<'n>(node: &'n Node, text: &str, name: &str) -> Option<&'n Node> {
            node.field(text, name).or_else(|| match &node.body {
                Body::Fields(fields) => fields.iter().find_map(|f| below(&f.value, text, name)),
                Body::Items(items) | Body::List(items) => items.iter().find_map(|i| below(i, text, name)),
                Body::Map(pairs) => pairs.iter().find_map(|(_, v)| below(v, text, name)),
                _ => None,
            })
        }
        below(self.node(path)?, &self.text, name).map(Node::range)
    }
    /// The value at a path, if it is written there.
    pub fn node(&self, path: &str) -> Option<&Node> {
        let (node, left) = self.walk(path);
        left.is_empty().then_some(node)
    }
    /// Where the value at a path stands; where it is left out, the nearest thing around it.
    pub fn find(&self, path: &str) -> Range<usize> {
        let (node, left) = self.walk(path);
        if left.is_empty() { node.range() } else { self.name_of(node) }
    }
    /// A short place that stands for an entry: its `id`, `name`, `role` or `label`, or its first word.
    pub fn head(&self, path: &str) -> Range<usize> {
        self.name_of(self.walk(path).0)
    }
    /// A short place that stands for a value.
    pub fn name_of(&self, node: &Node) -> Range<usize> {
        ["id", "name", "role", "label", "objective"]
            .iter()
            .find_map(|name| node.field(&self.text, name))
            .map_or_else(|| node.head(), Node::range)
    }

    /// Goes down as far as the path leads; the rest of the path is what is not written.
    fn walk<'p>(&self, path: &'p str) -> (&Node, &'p str) {
        let (mut node, mut left) = (&self.root, path);
        while !left.is_empty() {
            let (next, rest) = if let Some(inner) = left.strip_prefix('[') {
                let Some((index, rest)) = inner.split_once(']') else { break };
                (self.element(node, index), rest)
            } else {
                let name = left.strip_prefix('.').unwrap_or(left);
                let end = name.find(['.', '[']).unwrap_or(name.len());
                (self.step(node, &name[..end]), &name[end..])
            };
            let Some(next) = next else { break };
            (node, left) = (next, rest);
        }
        (node, left)
    }
    fn element<'n>(&self, node: &'n Node, index: &str) -> Option<&'n Node> {
        match &self.unwrap(node).body {
            Body::List(items) | Body::Items(items) => items.get(index.parse::<usize>().ok()?),
            Body::Map(pairs) => {
                let wanted = index.trim_matches('"');
                pairs
                    .iter()
                    .find(|(k, _)| slice(&self.text, k.span).trim_matches('"') == wanted)
                    .map(|(_, v)| v)
            }
            _ => None,
        }
    }
    /// A field, or the variant's own name, which leads to what stands in its brackets.
    fn step<'n>(&self, node: &'n Node, name: &str) -> Option<&'n Node> {
        let node = self.unwrap(node);
        if let Some(found) = node.field(&self.text, name) {
            return Some(found);
        }
        let tagged = node.tag.is_some_and(|tag| slice(&self.text, tag) == name);
        match &node.body {
            Body::Items(items) if tagged && items.len() == 1 => items.first(),
            _ if tagged => Some(node),
            Body::Map(_) => self.element(node, name),
            _ => None,
        }
    }
    fn unwrap<'n>(&self, node: &'n Node) -> &'n Node {
        match (&node.body, node.tag) {
            (Body::Items(items), Some(tag)) if items.len() == 1 && slice(&self.text, tag) == "Some" => {
                &items[0]
            }
            _ => node,
        }
    }
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
struct Stop;

struct Scanner<'t> {
    text: &'t str,
    /// The first byte of each line.
    lines: Vec<u32>,
    at: usize,
    depth: usize,
    faults: Vec<Diagnostic>,
    /// The first pair of brackets whose closing one starts a line in another column than its opening line does.
    crooked: Option<(usize, usize)>,
    /// The first text that runs over lines which look like fields: its closing quote may be missing.
    open_quote: Option<(usize, usize)>,
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

    fn open(&mut self) -> Result<usize, Stop> {
        let at = self.at;
        self.depth += 1;
        if self.depth > MAX_DEPTH {
            let fault = Diagnostic::fault(
                "too-deep",
                at..at + 1,
                format!("brackets are nested more than {MAX_DEPTH} deep here"),
            )
            .hint("no case needs that; look for brackets that were opened by mistake");
            return Err(self.stop(fault));
        }
        self.at += 1;
        Ok(at)
    }

    /// Takes the closing bracket if it comes next.
    fn close(&mut self, open: usize, closing: char) -> Result<bool, Stop> {
        self.space()?;
        match self.peek() {
            None => Err(self.stop_at_end(Some(open))),
            Some(c) if c == closing => {
                if self.crooked.is_none()
                    && self.line_start(self.at) > open
                    && self.text[..self.at].trim_end_matches([' ', '\t']).ends_with('\n')
                    && self.at - self.line_start(self.at) != self.indent(open)
                {
                    self.crooked = Some((open, self.at));
                }
                self.at += 1;
                self.depth -= 1;
                Ok(true)
            }
            Some(c @ (')' | ']' | '}')) => {
                let opened = self.text[open..].chars().next().unwrap_or('(');
                // What seemed to stand astray inside was only the rest of what should have been closed before.
                self.faults.retain(|f| f.code != "stray" || f.span.start < open);
                let fault = Diagnostic::fault("bracket", self.here(), format!("{c} cannot close {opened}"))
                    .expected(format!("{closing} first"))
                    .label(open..open + 1, format!("this {opened} is still open"))
                    .hint(format!("put {closing} before it, or look for one bracket too many"));
                Err(self.stop(fault))
            }
            Some(_) => Ok(false),
        }
    }

    /// Takes the comma after an entry; none is needed before the closing bracket.
    fn comma(&mut self) -> Result<(), Stop> {
        let end = self.at;
        self.space()?;
        match self.peek() {
            Some(',') => self.at += 1,
            None | Some(')' | ']' | '}') => {}
            Some(';') => {
                self.note(
                    Diagnostic::fault("comma", self.here(), "entries are separated by commas")
                        .hint("write , for ;"),
                )?;
                self.at += 1;
            }
            Some(c) if is_word_start(c) && self.unit_ahead(end) => self.loose_unit(end)?,
            Some(_) => {
                let last = self.text[..end].trim_end();
                let from = last.char_indices().next_back().map_or(0, |(i, _)| i);
                self.note(
                    Diagnostic::fault("comma", from..last.len(), "a comma is missing after this")
                        .label(self.here(), "before this")
                        .hint("put a comma between the two"),
                )?;
            }
        }
        Ok(())
    }

    /// `5 min` without quotes: a number ends at `end`, and a word stands on the same line.
    fn unit_ahead(&self, end: usize) -> bool {
        self.text[..end].ends_with(|c: char| c.is_ascii_digit()) && !self.text[end..self.at].contains('\n')
    }
    fn loose_unit(&mut self, end: usize) -> Result<(), Stop> {
        let number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | '_');
        let start = self.text[..end].trim_end_matches(number).len();
        let length = self.rest().find([',', ')', ']', '}', '\n', '"']).unwrap_or(self.rest().len());
        self.at += self.rest()[..length].trim_end().len();
        let words = self.text[start..self.at].to_owned();
        self.note(
            Diagnostic::fault("quote", start..self.at, "a quantity with its unit stands between quotes")
                .hint(format!("write \"{words}\"")),
        )?;
        self.comma()
    }

    /// Passes over blanks and comments.
    fn space(&mut self) -> Result<(), Stop> {
        loop {
            let rest = self.rest();
            let blank = rest.len() - rest.trim_start().len();
            self.at += blank;
            let rest = self.rest();
            if rest.starts_with("//") {
                self.at += rest.find('\n').unwrap_or(rest.len());
            } else if rest.starts_with("/*") {
                self.block_comment()?;
            } else if blank == 0 {
                return Ok(());
            }
        }
    }

    fn block_comment(&mut self) -> Result<(), Stop> {
        let start = self.at;
        let mut depth = 0;
        loop {
            let rest = self.rest();
            if rest.starts_with("/*") {
                depth += 1;
                self.at += 2;
            } else if rest.starts_with("*/") {
                depth -= 1;
                self.at += 2;
                if depth == 0 {
                    return Ok(());
                }
            } else if let Some(c) = rest.chars().next() {
                self.at += c.len_utf8();
            } else {
                let fault = Diagnostic::fault("bracket", start..start + 2, "this comment is never closed")
                    .hint("close it with */, or start each line of it with //");
                return Err(self.stop(fault));
            }
        }
    }

    fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }
    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }
    fn here(&self) -> Range<usize> {
        self.at..self.at + self.peek().map_or(0, char::len_utf8)
    }
    fn note(&mut self, fault: Diagnostic) -> Result<(), Stop> {
        self.faults.push(fault);
        if self.faults.len() < MAX_FAULTS { Ok(()) } else { Err(Stop) }
    }
    fn stop(&mut self, fault: Diagnostic) -> Stop {
        self.faults.push(fault);
        Stop
    }
    fn stop_at_end(&mut self, open: Option<usize>) -> Stop {
        let end = self.text.trim_end().len();
        let last = self.text[..end].char_indices().next_back().map_or(0, |(i, _)| i);
        let Some(open) = open else {
            return self.stop(Diagnostic::fault(
                "stray",
                last..end,
                "the file ends where a value should stand",
            ));
        };
        let c = self.text[open..].chars().next().unwrap_or('(');
        self.stop(
            Diagnostic::fault(
                "bracket",
                open..open + 1,
                format!("this {c} is never closed: the file ends before it"),
            )
            .label(last..end, "the file ends here")
            .hint("is the file cut short, or is a closing bracket missing?"),
        )
    }

    /// Blanks at the start of the line on which a byte stands.
    fn indent(&self, at: usize) -> usize {
        let line = &self.text[self.line_start(at)..];
        line.len() - line.trim_start_matches([' ', '\t']).len()
    }
    fn line_start(&self, at: usize) -> usize {
        let line = self.lines.partition_point(|&start| start as usize <= at);
        self.lines.get(line.wrapping_sub(1)).map_or(0, |&start| start as usize)
    }

    /// The faults with the likely first cause in front, and without what only follows from it.
    fn root_cause(self) -> Vec<Diagnostic> {
        let mut faults = self.faults;
        if faults.is_empty() {
            return faults;
        }
        if let Some((start, line_end)) = self.open_quote
            && faults.last().is_some_and(|f| f.span.start >= start)
        {
            faults.retain(|f| f.span.start < start);
            faults.push(
                Diagnostic::fault(
                    "quote",
                    start..line_end,
                    "this text runs over the next lines; its closing quote seems to be missing",
                )
                .hint("put a quote \" where the text ends"),
            );
        } else if let Some((open, close)) = self.crooked
            && let Some(last) = faults.last_mut()
            && matches!(last.code, "bracket" | "stray")
        {
            last.labels.push((open..open + 1, "perhaps the fault is here: this bracket ...".into()));
            last.labels.push((close..close + 1, "... is closed in another column".into()));
        }
        faults
    }
}

fn is_word_start(c: char) -> bool {
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
