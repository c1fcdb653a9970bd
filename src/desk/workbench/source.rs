//! A case file under construction: read again whenever it was saved elsewhere, and changed number by number without touching
//! anything else in it.

use crate::records::library;
use crate::scenario::diagnostic::Diagnostic;
use crate::scenario::spans::{Body, Node, Spans, slice};
use crate::scenario::{Loaded, load};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

/// A file with what was found in it.
pub struct Source {
    path: PathBuf,
    text: String,
    stamp: Option<(SystemTime, u64)>,
    spans: Option<Spans>,
    /// The case, when nothing keeps it shut; else the last one that opened.
    pub case: Option<Arc<Loaded>>,
    /// Is `case` what the text says now?
    pub fresh: bool,
    /// Everything to be told, faults first.
    pub found: Vec<Diagnostic>,
    /// Why the file cannot be read or written now.
    pub trouble: Option<String>,
    /// How often it was read, so that panels know when to look again.
    pub edition: u64,
}

/// A number in the anatomy.
#[derive(Clone, Debug, PartialEq)]
pub struct Number {
    /// Where it stands, as the file nests it: `aorta.diameters_mm.isthmus`.
    pub path: String,
    /// Its bytes.
    pub span: Range<usize>,
    /// As it stands now.
    pub value: f64,
    /// Digits after its point.
    pub decimals: usize,
}

impl Source {
    /// Reads a file.
    ///
    /// # Errors
    /// A plain sentence when it cannot be read.
    pub fn open(path: &Path) -> Result<Self, String> {
        let mut source = Self {
            path: path.to_owned(),
            text: String::new(),
            stamp: None,
            spans: None,
            case: None,
            fresh: false,
            found: Vec::new(),
            trouble: None,
            edition: 0,
        };
        source.reread()?;
        Ok(source)
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Its text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Reads it again if it was saved since; true when it was.
    pub fn follow(&mut self) -> bool {
        if stamp(&self.path) == self.stamp {
            return false;
        }
        match self.reread() {
            Ok(()) => true,
            Err(why) => {
                self.trouble = Some(why);
                false
            }
        }
    }

    fn reread(&mut self) -> Result<(), String> {
        let stamp = stamp(&self.path);
        let text = library::text(&self.path.to_string_lossy())?;
        self.stamp = stamp;
        self.take(text);
        Ok(())
    }

    fn take(&mut self, text: String) {
        let (case, found) = load(&text, &self.path.to_string_lossy());
        self.fresh = case.is_some();
        // A text that opens was scanned on the way.
        self.spans = case.as_ref().map_or_else(|| Spans::scan(&text).0, |case| Some(case.spans.clone()));
        if let Some(case) = case {
            self.case = Some(Arc::new(case));
        }
        (self.text, self.found, self.trouble) = (text, found, None);
        self.edition += 1;
    }

    /// The numbers of the anatomy, in the order of the file.
    pub fn numbers(&self) -> Vec<Number> {
        let mut out = Vec::new();
        if let Some(spans) = &self.spans
            && let Some(anatomy) = spans.node("anatomy")
        {
            collect(anatomy, &self.text, String::new(), &mut out);
        }
        out
    }

    /// Writes one number and nothing else, so that comments and layout stay. The file is replaced whole or not at all.
    ///
    /// # Errors
    /// A plain sentence when the file was changed meanwhile (it is then read again) or cannot be written.
    pub fn put(&mut self, number: &Number, value: f64) -> Result<(), String> {
        let on_disk = library::text(&self.path.to_string_lossy())?;
        if on_disk != self.text {
            self.reread()?;
            return Err(
                "the file was saved elsewhere meanwhile and has been read again; nothing was changed".into(),
            );
        }
        let decimals = number.decimals;
        let mut text = self.text.clone();
        text.replace_range(number.span.clone(), &format!("{value:.decimals$}"));
        let beside = self.path.with_extension("ron.part");
        let written = std::fs::write(&beside, &text).and_then(|()| std::fs::rename(&beside, &self.path));
        if let Err(e) = written {
            let _ = std::fs::remove_file(&beside);
            return Err(format!("{} cannot be written: {e}", self.path.display()));
        }
        self.stamp = stamp(&self.path);
        self.take(text);
        Ok(())
    }
}

fn stamp(path: &Path) -> Option<(SystemTime, u64)> {
    let meta = std::fs::metadata(path).ok()?;
    Some((meta.modified().ok()?, meta.len()))
}

fn collect(node: &Node, text: &str, path: String, out: &mut Vec<Number>) {
    let inside = |name: &str| if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") };
    match &node.body {
        Body::Number => {
            let range = node.range();
            let written = text.get(range.clone()).unwrap_or_default();
            if let Ok(value) = written.replace('_', "").parse() {
                let decimals = written.split_once('.').map_or(0, |(_, d)| d.len());
                out.push(Number { path, span: range, value, decimals });
            }
        }
        Body::Fields(fields) => {
            fields.iter().for_each(|f| collect(&f.value, text, inside(slice(text, f.key)), out));
        }
        Body::Map(pairs) => pairs.iter().for_each(|(key, value)| {
            let key = text.get(key.range()).unwrap_or_default().trim_matches('"');
            collect(value, text, inside(key), out);
        }),
        Body::List(items) => {
            let name = |i: usize, item: &Node| {
                let label = item.field(text, "label").or_else(|| item.field(text, "name"));
                let said = label.and_then(|l| text.get(l.range())).map(|l| l.trim_matches('"').to_owned());
                said.unwrap_or_else(|| (i + 1).to_string())
            };
            items.iter().enumerate().for_each(|(i, item)| collect(item, text, inside(&name(i, item)), out));
        }
        // `Some(3.0)` and its kin add nothing to a path.
        Body::Items(items) => items.iter().for_each(|item| collect(item, text, path.clone(), out)),
        _ => {}
    }
}
