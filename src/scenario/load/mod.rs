//! Reads a case: text in, a case ready to run and everything to be told about it out.
//!
//! 1. The text is scanned (`spans`); brackets or quotes that do not close end it here.
//! 2. The values are read into the file's types (`read`), past every fault.
//! 3. Names, orders, rules, vessels, shelf and chart are made ready (`compile`), and told of.
//!
//! There is no file system here and no include: a case is one text.

pub mod read;
pub mod words;

use super::case::{Action, Case};
use super::chart::Chart;
use super::compile::{self, told::Told};
use super::diagnostic::{self, Diagnostic, Level};
use super::rule::{Rule, Vocabulary};
use super::spans::{MAX_BYTES, Spans};
use crate::anatomy::Tree;
use crate::kit::Shelf;
use std::collections::BTreeMap;

/// The version of the format that is written here.
pub const FORMAT: u32 = 1;

/// A case that can be run.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// As written.
    pub case: Case,
    /// The text that it was read from.
    pub text: String,
    /// blake3 of the text, in hexadecimal.
    pub digest: String,
    /// Where everything stands in the text.
    pub spans: Spans,
    /// The vessels.
    pub tree: Tree,
    /// What lies on the shelf at the start.
    pub shelf: Shelf,
    /// The phases; guards are the texts of rules, see [`Loaded::rule`].
    pub chart: Chart<String, Action>,
    /// The words that rules may use.
    pub vocabulary: Vocabulary,
    /// Variables that the case sets, in order.
    pub vars: Vec<String>,
    rules: BTreeMap<String, (Rule, bool)>,
}

impl Loaded {
    /// A rule of the case by its text.
    pub fn rule(&self, text: &str) -> Option<&Rule> {
        self.rules.get(text).map(|(rule, _)| rule)
    }
    /// The lesions of the aorta: label, from and to along the rail, mm from the valve.
    pub fn lesion_spans(&self) -> Vec<(String, f64, f64)> {
        let lesions = &self.tree.aorta().wall.lesions;
        lesions.iter().map(|lesion| (lesion.label.clone(), lesion.from_mm, lesion.to_mm)).collect()
    }
    /// The rules that are judged while the session runs: guards, conditions, endings, and what plays expect if it only
    /// looks back.
    pub fn online_rules(&self) -> impl Iterator<Item = (&str, &Rule)> {
        self.rules.iter().filter(|(_, (_, runs))| *runs).map(|(text, (rule, _))| (text.as_str(), rule))
    }
}

/// Reads a case. `file` is what messages call it. Without a case, at least one diagnostic is a fault.
pub fn load(text: &str, file: &str) -> (Option<Loaded>, Vec<Diagnostic>) {
    let (spans, mut found) = Spans::scan(text);
    let Some(spans) = spans else { return (None, found) };
    if let Some(refusal) = other_format(&spans, file) {
        return (None, vec![refusal]);
    }
    let read = read::read::<Case>(&spans);
    // What was read over is told already; what the reader makes of it only follows.
    let slips: Vec<_> = found.iter().map(|d| d.span.clone()).collect();
    found.extend(
        read.faults
            .into_iter()
            .filter(|d| !slips.iter().any(|s| s.start < d.span.end && d.span.start < s.end)),
    );
    let Some(case) = read.value else {
        if found.is_empty() {
            found.push(Diagnostic::fault("too-large", 0..0, "there is more here than can be read"));
        }
        diagnostic::sort(&mut found);
        return (None, found);
    };
    let mut told = Told::new(&spans, &read.made_up);
    let compiled = compile::compile(&case, &mut told);
    found.extend(told.into_found());
    diagnostic::sort(&mut found);
    let sound = !found.iter().any(|d| d.level == Level::Fault);
    let loaded = match (compiled.tree, compiled.chart) {
        (Some(tree), Some(chart)) if sound => Some(Loaded {
            case,
            text: text.to_owned(),
            digest: blake3::hash(text.as_bytes()).to_hex().to_string(),
            spans,
            tree,
            shelf: compiled.shelf,
            chart,
            vocabulary: compiled.vocabulary,
            vars: compiled.vars,
            rules: compiled.rules,
        }),
        _ => None,
    };
    (loaded, found)
}

/// Turns the bytes of a file into text, or says why they are none.
///
/// # Errors
/// One diagnostic that refuses them.
pub fn decode(bytes: &[u8]) -> Result<&str, Box<Diagnostic>> {
    if bytes.len() > MAX_BYTES {
        let found =
            format!("this file has more than {} MB; a case is a few hundred kilobytes", MAX_BYTES >> 20);
        return Err(Box::new(
            Diagnostic::fault("too-large", 0..0, found).hint("check that this is the file that you meant"),
        ));
    }
    std::str::from_utf8(bytes).map_err(|e| {
        let found = format!("this is not text: byte {} is not UTF-8", e.valid_up_to());
        Box::new(Diagnostic::fault("not-text", 0..0, found).hint("save the case as plain text in UTF-8"))
    })
}

/// A case in a format of another version.
fn other_format(spans: &Spans, file: &str) -> Option<Diagnostic> {
    let node = spans.node("format")?;
    let written = &spans.text()[node.range()];
    let version: u32 = written.parse().ok()?;
    (version != FORMAT).then(|| {
        let found = format!("{file} is written in format {version}; this program reads format {FORMAT}");
        let fault = Diagnostic::fault("version", node.range(), found).at("format");
        if version > FORMAT {
            fault.hint("use a newer version of this program")
        } else {
            fault.hint(format!("write format: {FORMAT}"))
        }
    })
}
