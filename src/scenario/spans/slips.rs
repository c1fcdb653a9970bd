//! What stands between values: brackets, commas, comments and the slips that are read over; and of many faults the one at the
//! root of the others.

use super::MAX_DEPTH;
use super::scan::{Scanner, Stop, is_word_start};
use crate::scenario::diagnostic::Diagnostic;
use std::ops::Range;

/// After so many faults of writing the scanner stops.
const MAX_FAULTS: usize = 60;

impl<'t> Scanner<'t> {
    pub(super) fn open(&mut self) -> Result<usize, Stop> {
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
    pub(super) fn close(&mut self, open: usize, closing: char) -> Result<bool, Stop> {
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
    pub(super) fn comma(&mut self) -> Result<(), Stop> {
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
    pub(super) fn space(&mut self) -> Result<(), Stop> {
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

    pub(super) fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }
    pub(super) fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }
    pub(super) fn here(&self) -> Range<usize> {
        self.at..self.at + self.peek().map_or(0, char::len_utf8)
    }
    pub(super) fn note(&mut self, fault: Diagnostic) -> Result<(), Stop> {
        self.faults.push(fault);
        if self.faults.len() < MAX_FAULTS { Ok(()) } else { Err(Stop) }
    }
    pub(super) fn stop(&mut self, fault: Diagnostic) -> Stop {
        self.faults.push(fault);
        Stop
    }
    pub(super) fn stop_at_end(&mut self, open: Option<usize>) -> Stop {
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
    pub(super) fn root_cause(self) -> Vec<Diagnostic> {
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
