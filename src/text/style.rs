//! How lines look: width, weight and colour, or none of it.

use std::io::{self, IsTerminal, Write};

/// How the desk writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Escape codes for weight and colour.
    pub colour: bool,
    /// Write a prompt before each line that is read.
    pub prompt: bool,
    /// Columns.
    pub width: usize,
}

impl Look {
    /// Plain text, for pipes, files and tests.
    pub fn plain() -> Self {
        Self { colour: false, prompt: false, width: 96 }
    }

    /// For the program's own input and output.
    pub fn of_terminal() -> Self {
        let of = |name| std::env::var(name).ok();
        let (input, output) = (io::stdin().is_terminal(), io::stdout().is_terminal());
        Self::of(input, output, of("NO_COLOR").as_deref(), of("TERM").as_deref())
    }

    /// For a terminal, or for what takes its place. Colour needs a terminal, no `NO_COLOR` that is not empty, and a terminal
    /// that is not "dumb" (the convention of no-color.org).
    pub fn of(in_terminal: bool, out_terminal: bool, no_color: Option<&str>, term: Option<&str>) -> Self {
        let wanted = no_color.is_none_or(str::is_empty) && term != Some("dumb");
        Self { colour: out_terminal && wanted, prompt: in_terminal && out_terminal, ..Self::plain() }
    }
}

/// Emphasis of a piece of text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// As it is.
    Plain,
    /// Headings and what was asked.
    Strong,
    /// What may be passed over.
    Faint,
    /// What needs attention.
    Warn,
}

/// The output, one line after the other.
pub struct Page<O: Write> {
    out: O,
    /// How it looks.
    pub look: Look,
}

impl<O: Write> Page<O> {
    /// An empty page.
    pub fn new(out: O, look: Look) -> Self {
        Self { out, look }
    }

    /// One line as it stands, without control characters from the texts of a case.
    pub fn line(&mut self, text: &str) -> io::Result<()> {
        self.ink(Ink::Plain, text)
    }

    /// One line in an ink.
    pub fn ink(&mut self, ink: Ink, text: &str) -> io::Result<()> {
        let clean: String = text.chars().filter(|c| !c.is_control()).collect();
        match (self.look.colour, ink) {
            (false, _) | (true, Ink::Plain) => writeln!(self.out, "{clean}"),
            (true, Ink::Strong) => writeln!(self.out, "\x1b[1m{clean}\x1b[0m"),
            (true, Ink::Faint) => writeln!(self.out, "\x1b[2m{clean}\x1b[0m"),
            (true, Ink::Warn) => writeln!(self.out, "\x1b[1;33m{clean}\x1b[0m"),
        }
    }

    /// A heading with a rule under it.
    pub fn heading(&mut self, text: &str) -> io::Result<()> {
        self.line("")?;
        self.ink(Ink::Strong, text)?;
        self.ink(Ink::Faint, &"-".repeat(text.chars().count().min(self.look.width)))
    }

    /// Running text, broken at the width.
    pub fn para(&mut self, text: &str) -> io::Result<()> {
        self.hanging(Ink::Plain, "", text)
    }

    /// What went wrong, with its remedy.
    pub fn warn(&mut self, text: &str) -> io::Result<()> {
        self.hanging(Ink::Warn, "  ", text)
    }

    /// Running text after a label; its further lines stand under its first.
    pub fn hanging(&mut self, ink: Ink, label: &str, text: &str) -> io::Result<()> {
        let indent = label.chars().count();
        let width = self.look.width.saturating_sub(indent).max(24);
        for (i, line) in wrap(text, width).iter().enumerate() {
            let lead = if i == 0 { label.to_owned() } else { " ".repeat(indent) };
            self.ink(ink, &format!("{lead}{line}"))?;
        }
        Ok(())
    }

    /// Asks for a line.
    pub fn prompt(&mut self) -> io::Result<()> {
        if self.look.prompt {
            write!(self.out, "> ")?;
        }
        self.out.flush()
    }
}

/// Breaks text into lines of at most `width` characters at spaces; a longer word stands alone.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in text.split_whitespace() {
        let length = word.chars().count();
        if used > 0 && used + 1 + length > width {
            lines.push(String::new());
            used = 0;
        }
        if let Some(line) = lines.last_mut() {
            if used > 0 {
                line.push(' ');
                used += 1;
            }
            line.push_str(word);
            used += length;
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_at_spaces() {
        assert_eq!(wrap("one two three", 7), ["one two", "three"]);
        assert_eq!(wrap("extraordinarily so", 5), ["extraordinarily", "so"]);
        assert_eq!(wrap("", 5), [""]);
    }

    /// no-color.org: NO_COLOR counts when it is present and not empty.
    #[test]
    fn colour_needs_a_terminal_and_no_wish_against_it() {
        assert!(Look::of(true, true, None, Some("xterm")).colour);
        assert!(Look::of(true, true, Some(""), None).colour);
        assert!(!Look::of(true, true, Some("1"), None).colour);
        assert!(!Look::of(true, false, None, None).colour);
        assert!(!Look::of(true, true, None, Some("dumb")).colour);
        assert!(!Look::of(false, true, None, None).prompt);
    }

    #[test]
    fn control_characters_of_a_case_never_reach_the_terminal() {
        let mut out = Vec::new();
        Page::new(&mut out, Look::plain()).line("red\x1b[31m\u{9b}2J\ralert").unwrap();
        assert_eq!(String::from_utf8(out).unwrap(), "red[31m2Jalert\n");
    }
}
