//! What is told to an author: every fault, doubt and piece of advice as a value with its place and remedy.
//!
//! A message says what was found, `expected` what would have been read, `hint` what to write instead. They are kept
//! apart so that each desk can lay them out its own way; `render`, `json` and `sarif` are three such ways.

use annotate_snippets::{AnnotationKind, Level as Title, Renderer, Snippet};
use serde_json::{Value, json};
use std::ops::Range;

/// How grave it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// The case cannot be used.
    Fault,
    /// The case runs, but probably not as meant.
    Doubt,
    /// It could teach better.
    Advice,
}

impl Level {
    /// In lower case, as files and screens say it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fault => "fault",
            Self::Doubt => "doubt",
            Self::Advice => "advice",
        }
    }
}

/// One thing to tell the author.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// Its name in the index: `overwire explain CODE`.
    pub code: &'static str,
    /// How grave.
    pub level: Level,
    /// Where in the case, such as `asks[3].options[1].say`; empty for the file as a whole.
    pub path: String,
    /// Where in the text, bytes.
    pub span: Range<usize>,
    /// What was found.
    pub message: String,
    /// What would have been read; may be empty.
    pub expected: String,
    /// What to write instead; may be empty.
    pub hint: String,
    /// Other places that belong to it, each with its part in it.
    pub labels: Vec<(Range<usize>, String)>,
}

impl Diagnostic {
    /// A fault.
    pub fn fault(code: &'static str, span: Range<usize>, message: impl Into<String>) -> Self {
        Self {
            code,
            level: Level::Fault,
            path: String::new(),
            span,
            message: message.into(),
            expected: String::new(),
            hint: String::new(),
            labels: Vec::new(),
        }
    }
    /// Many as a terminal without colour shows them; see [`render`].
    pub fn render_all(found: &[Self], text: &str, file: &str) -> String {
        render(found, text, file, false)
    }
    /// The same at another level.
    pub fn level(mut self, level: Level) -> Self {
        self.level = level;
        self
    }
    /// The same with a path.
    pub fn at(mut self, path: impl Into<String>) -> Self {
        self.path = path.into();
        self
    }
    /// The same with what would have been read.
    pub fn expected(mut self, expected: impl Into<String>) -> Self {
        self.expected = expected.into();
        self
    }
    /// The same with a remedy.
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = hint.into();
        self
    }
    /// The same with one more place.
    pub fn label(mut self, span: Range<usize>, text: impl Into<String>) -> Self {
        self.labels.push((span, text.into()));
        self
    }
}

/// Faults first, then doubts, then advice; within a level likely causes before what may follow from them, then in the
/// order of the text; nothing told twice.
pub fn sort(found: &mut Vec<Diagnostic>) {
    found.sort_by(|a, b| {
        let follows = |d: &Diagnostic| match d.code {
            "name-unknown" | "rule" => 2,
            "name-twice" | "name-form" => 1,
            _ => 0,
        };
        let key = |d: &Diagnostic| (d.level, follows(d), d.span.start, d.span.end);
        key(a).cmp(&key(b)).then_with(|| a.code.cmp(b.code)).then_with(|| a.message.cmp(&b.message))
    });
    found.dedup();
}

/// Line and column of a byte, both from 1, the column in characters.
pub fn line_column(text: &str, byte: usize) -> (usize, usize) {
    let byte = floor_boundary(text, byte);
    let before = &text[..byte];
    let line_start = before.rfind('\n').map_or(0, |i| i + 1);
    (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
}

/// As a terminal shows it: heading, `file:line:column`, the line with its marker, what was expected, what to write.
pub fn render(found: &[Diagnostic], text: &str, file: &str, colour: bool) -> String {
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    let whole = text.len() <= LONG_TEXT && text.lines().all(|line| line.len() <= LONG_LINE);
    let mut out = String::new();
    for d in found {
        let level = match d.level {
            Level::Fault => Title::ERROR.with_name("fault"),
            Level::Doubt => Title::WARNING.with_name("doubt"),
            Level::Advice => Title::INFO.with_name("advice"),
        };
        let title = level.primary_title(printable(&d.message)).id(d.code);
        let mut group = if text.is_empty() {
            title.element(Title::NOTE.message(format!("in {}", printable(file))))
        } else if whole {
            let others = d
                .labels
                .iter()
                .map(|(at, label)| AnnotationKind::Context.span(one_line(text, at)).label(printable(label)));
            let main = marked(d, one_line(text, &d.span));
            title.element(Snippet::source(text).path(file).annotation(main).annotations(others))
        } else {
            let (line, shown, span) = cutting(text, &d.span);
            title.element(Snippet::source(shown).line_start(line).path(file).annotation(marked(d, span)))
        };
        if !d.hint.is_empty() {
            group = group.element(Title::HELP.message(printable(&d.hint)));
        }
        out.push_str(&renderer.render(&[group]));
        out.push_str("\n\n");
    }
    out
}

/// A text longer than this, or with a line longer than that, bytes, is not shown as it stands: it is no hand-written case,
/// and laying it out would take long.
const LONG_TEXT: usize = 400_000;
const LONG_LINE: usize = 1000;

fn marked<'d>(d: &Diagnostic, span: Range<usize>) -> annotate_snippets::Annotation<'d> {
    let main = AnnotationKind::Primary.span(span);
    if d.expected.is_empty() { main } else { main.label(format!("expected {}", printable(&d.expected))) }
}

/// The number of a place's line, a short piece of that line, and the place within the piece.
fn cutting<'t>(text: &'t str, span: &Range<usize>) -> (usize, &'t str, Range<usize>) {
    const AROUND: usize = 60;
    let at = one_line(text, span);
    let line_start = text[..at.start].rfind('\n').map_or(0, |i| i + 1);
    let line_end = text[at.end..].find('\n').map_or(text.len(), |i| at.end + i);
    let start = floor_boundary(text, at.start.saturating_sub(AROUND)).max(line_start);
    let end = floor_boundary(text, (at.end.min(at.start + AROUND)) + AROUND).clamp(at.start, line_end);
    let within = at.start - start..at.end.min(end) - start;
    (line_column(text, at.start).0, &text[start..end], within)
}

/// One JSON object for each diagnostic, for other programs.
pub fn json(found: &[Diagnostic], text: &str, file: &str) -> Value {
    let place = |span: &Range<usize>| {
        let (line, column) = line_column(text, span.start);
        let (end_line, end_column) = line_column(text, span.end);
        json!({ "file": file, "line": line, "column": column, "end_line": end_line, "end_column": end_column,
                "byte": span.start, "end_byte": span.end })
    };
    found
        .iter()
        .map(|d| {
            json!({ "code": d.code, "level": d.level.word(), "path": d.path, "place": place(&d.span),
                    "message": d.message, "expected": d.expected, "hint": d.hint,
                    "labels": d.labels.iter()
                        .map(|(s, t)| json!({ "place": place(s), "text": t })).collect::<Vec<_>>() })
        })
        .collect()
}

/// A run in the Static Analysis Results Interchange Format, version 2.1.0 (OASIS 2020).
pub fn sarif(files: &[(String, String, Vec<Diagnostic>)]) -> Value {
    let region = |text: &str, span: &Range<usize>| {
        let (line, column) = line_column(text, span.start);
        let (end_line, end_column) = line_column(text, span.end);
        json!({ "startLine": line, "startColumn": column, "endLine": end_line, "endColumn": end_column })
    };
    let results: Vec<Value> = files
        .iter()
        .flat_map(|(file, text, found)| found.iter().map(move |d| (file, text, d)))
        .map(|(file, text, d)| {
            let level = match d.level {
                Level::Fault => "error",
                Level::Doubt => "warning",
                Level::Advice => "note",
            };
            let location = |span: &Range<usize>, label: Option<&String>| {
                let mut at = json!({ "physicalLocation": {
                    "artifactLocation": { "uri": uri(file) }, "region": region(text, span) } });
                if let Some(label) = label {
                    at["message"] = json!({ "text": label });
                }
                at
            };
            let words = [d.message.clone(), prefixed("Expected ", &d.expected), prefixed("Try: ", &d.hint)];
            let words: Vec<String> = words.into_iter().filter(|w| !w.is_empty()).collect();
            json!({ "ruleId": d.code, "level": level, "message": { "text": words.join(". ") },
                    "locations": [location(&d.span, None)],
                    "relatedLocations":
                        d.labels.iter().map(|(span, label)| location(span, Some(label))).collect::<Vec<_>>() })
        })
        .collect();
    let rules: Vec<Value> =
        CODES.iter().map(|(code, why)| json!({ "id": code, "fullDescription": { "text": why } })).collect();
    json!({
        "$schema": "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json",
        "version": "2.1.0",
        "runs": [{ "tool": { "driver": { "name": "overwire", "version": env!("CARGO_PKG_VERSION"), "rules": rules } },
                   "columnKind": "unicodeCodePoints",
                   "results": results }]
    })
}

/// The index: every code, and why it matters.
pub const CODES: &[(&str, &str)] = &[
    (
        "too-large",
        "A case is a few hundred kilobytes of text at most. A larger file is something else, and is not read.",
    ),
    ("not-text", "A case is plain text in UTF-8. Word processors write other things; save as plain text."),
    (
        "too-deep",
        "Brackets inside brackets inside brackets: nothing in a case needs more than a few dozen levels.",
    ),
    (
        "bracket",
        "Every (, [ and { is closed by its own partner, inside out. Until that holds, nothing can be read safely.",
    ),
    (
        "quote",
        "Words stand between two double quotes. One missing quote turns the rest of the file inside out.",
    ),
    ("comma", "Entries of a list and fields of an entry are separated by commas."),
    ("colon", "A field is a name, a colon and a value."),
    ("stray", "Something stands where nothing can stand."),
    (
        "field-unknown",
        "A misspelt field would be ignored in silence, and the case would not do what its author meant.",
    ),
    ("field-missing", "Without it the case cannot run, or could not be judged."),
    ("field-twice", "Of two values for one field, nobody knows which was meant."),
    ("word-unknown", "This place takes one of a fixed list of words."),
    ("wrong-sort", "A number stands where words are needed, or words where a number is needed."),
    (
        "not-understood",
        "The value has the right sort, but cannot be read as what it should be: often a unit is missing. Without a unit a clock or a dose cannot be known.",
    ),
    ("name-twice", "Two things of one name cannot be told apart by the rules, the plays or the debrief."),
    ("name-unknown", "A name points to nothing in the case, so what should happen never would."),
    ("name-form", "Names are lower-case letters, digits and _, so that rules can read them."),
    ("range", "The number cannot be: it lies outside of what bodies, devices or drugs do."),
    ("unit", "A drug is given in its own unit; another would be wrong by a factor of a thousand."),
    ("rule", "A rule decides what happens and what is judged; one that cannot be read decides nothing."),
    ("chart", "The chart must lead somewhere from each of its states."),
    ("play", "Plays are the case's own tests."),
    (
        "narrow",
        "A play that comes out by a hair tests little, and breaks with the next change of a model that has nothing to do with it.",
    ),
    (
        "seed",
        "What a choice brings should not hang on one seed's dice; where it does, the play shows luck and should say so.",
    ),
    ("device", "An order names a device that cannot do what it asks."),
    ("anatomy", "The vessels could not be built from what is written."),
    ("shelf", "What lies on the shelf decides what can be done."),
    ("ask", "A question teaches by its options: at least one that is sound, each with its reason."),
    (
        "guess",
        "Options of one question are about equally long (Haladyna, Downing and Rodriguez 2002): whoever knows nothing must not find the best answer by its length.",
    ),
    ("ending", "Every way through the case must come to an end that tells the trainee why."),
    ("mark", "A mark that cannot be met, or cannot be missed, judges nothing."),
    (
        "objective",
        "What is to be learnt must be observed in a question or a mark, and asked about in the debrief.",
    ),
    ("debrief", "The debrief is where most of the learning takes place."),
    (
        "source",
        "What is judged must rest on something that can be looked up, or say that it is the author's judgement.",
    ),
    (
        "about",
        "Who it is for, what it simplifies, what it cannot teach: a department must know before it uses a case.",
    ),
    ("sign-off", "A specialist must sign this off before trainees meet it."),
    ("reading", "Long texts are not read when the clock runs."),
    ("fit", "Nothing on the shelf fits the vessels, or there is not enough of it."),
    (
        "start",
        "The models look for a body that has the pressure and rate of the start; where there is none, the trainee meets another patient than the one described.",
    ),
    (
        "naive",
        "Whoever does nothing, answers by chance or always takes the middle must not come to a good ending: the case would reward luck.",
    ),
    ("to-do", "A case with open ends runs for its author, and is not ready for others."),
    ("unused", "Something is written that nothing ever uses."),
    ("version", "The format changes over the years; the number says how to read the file."),
];

/// Of a span that runs over several lines, the part on its first line; never empty, always on character boundaries.
fn one_line(text: &str, span: &Range<usize>) -> Range<usize> {
    let start = floor_boundary(text, span.start);
    let end = floor_boundary(text, span.end.max(start));
    let end = text[start..end].find('\n').map_or(end, |i| start + i);
    if end > start {
        return start..end;
    }
    let wide = text[start..].chars().next().filter(|c| *c != '\n').map_or(0, char::len_utf8);
    start..start + wide
}

fn floor_boundary(text: &str, byte: usize) -> usize {
    let mut byte = byte.min(text.len());
    while !text.is_char_boundary(byte) {
        byte -= 1;
    }
    byte
}

/// Without control characters: a file from outside must not drive the terminal.
fn printable(words: &str) -> String {
    words.chars().map(|c| if c.is_control() && c != '\n' { '\u{fffd}' } else { c }).collect()
}

fn prefixed(prefix: &str, words: &str) -> String {
    if words.is_empty() { String::new() } else { format!("{prefix}{words}") }
}

fn uri(file: &str) -> String {
    file.bytes()
        .map(|b| match b {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' | b'~' => {
                char::from(b).to_string()
            }
            b'\\' => "/".into(),
            _ => format!("%{b:02X}"),
        })
        .collect()
}
