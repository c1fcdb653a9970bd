//! The author's reference, read from the file types themselves: their documentation in the source is what authors read.

use crate::scenario::load::words::snake;

/// One type of the file format.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// As the source calls it.
    pub type_name: String,
    /// What it is.
    pub about: String,
    /// A list of words or variants rather than of fields.
    pub one_of: bool,
    /// Its fields or variants.
    pub items: Vec<Item>,
}

/// A field or a variant.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// As files write it.
    pub name: String,
    /// What it is.
    pub about: String,
    /// What stands there, in the author's words; empty for a bare word.
    pub sort: String,
    /// It may be left out.
    pub optional: bool,
    /// The function that serde calls for its value then, if one is named.
    pub default: Option<String>,
    /// The fields of a variant.
    pub fields: Vec<Item>,
}

/// The sources that define what authors write.
const SOURCES: [&str; 12] = [
    include_str!("../../scenario/case.rs"),
    include_str!("../../scenario/case/room.rs"),
    include_str!("../../scenario/case/story.rs"),
    include_str!("../../scenario/case/judged.rs"),
    include_str!("../../scenario/order.rs"),
    include_str!("../../scenario/order/parts.rs"),
    include_str!("../../anatomy/spec.rs"),
    include_str!("../../anatomy/rail.rs"),
    include_str!("../../circulation/patient.rs"),
    include_str!("../../circulation/bleed.rs"),
    include_str!("../../circulation/blood.rs"),
    include_str!("../../circulation/anaesthesia.rs"),
];

/// Every type that a case file can hold, in the order of the sources.
pub fn entries() -> Vec<Entry> {
    SOURCES.iter().flat_map(|source| parse(source)).collect()
}

/// Reads the types that serde reads, with their documentation. The source is as rustfmt leaves it.
fn parse(source: &str) -> Vec<Entry> {
    let mut entries = Vec::new();
    let mut lines = source.lines().peekable();
    let (mut docs, mut attributes) = (Vec::new(), String::new());
    while let Some(line) = lines.next() {
        if let Some(doc) = line.strip_prefix("///") {
            docs.push(doc.trim());
        } else if line.starts_with("#[") {
            attributes.push_str(line);
            attributes.push('\n');
        } else if let Some((one_of, name)) = opened(line).filter(|_| attributes.contains("Deserialize")) {
            let body: Vec<&str> = lines.by_ref().take_while(|line| *line != "}").collect();
            let renamed = attributes.contains("snake_case");
            let all_optional = attributes.lines().any(|a| a.contains("serde(") && has_word(a, "default"));
            let items = items(&body, 1, one_of, renamed, all_optional);
            entries.push(Entry { type_name: name, about: docs.join(" "), one_of, items });
            (docs, attributes) = (Vec::new(), String::new());
        } else {
            (docs, attributes) = (Vec::new(), String::new());
        }
    }
    entries
}

/// `pub struct Name {` or `pub enum Name {`.
fn opened(line: &str) -> Option<(bool, String)> {
    let rest = line.strip_prefix("pub ")?.strip_suffix(" {")?;
    let (kind, name) = rest.split_once(' ')?;
    let word = !name.is_empty() && name.chars().all(|c| c.is_alphanumeric());
    (matches!(kind, "struct" | "enum") && word).then(|| (kind == "enum", name.to_owned()))
}

/// Fields or variants at a depth of indentation.
fn items(body: &[&str], depth: usize, one_of: bool, renamed: bool, all_optional: bool) -> Vec<Item> {
    let indent = "    ".repeat(depth);
    let mut items: Vec<Item> = Vec::new();
    let (mut docs, mut optional, mut default) = (Vec::new(), all_optional, None);
    let mut at = 0;
    while at < body.len() {
        let line = body[at];
        at += 1;
        let Some(line) = line.strip_prefix(&indent).filter(|l| !l.starts_with(' ')) else { continue };
        if let Some(doc) = line.strip_prefix("///") {
            docs.push(doc.trim());
            continue;
        }
        if line.starts_with("#[") {
            optional |= has_word(line, "default");
            if let Some((_, name)) = line.split_once("default = \"") {
                default = name.split('"').next().map(str::to_owned);
            }
            continue;
        }
        let line = line.strip_prefix("pub ").unwrap_or(line);
        let mut item = Item {
            name: String::new(),
            about: std::mem::take(&mut docs).join(" "),
            sort: String::new(),
            optional: std::mem::replace(&mut optional, all_optional),
            default: default.take(),
            fields: Vec::new(),
        };
        if one_of {
            let name = line.trim_end_matches([' ', ',', '{']).split('(').next().unwrap_or(line);
            item.name = if renamed { snake(name) } else { name.to_owned() };
            if line.ends_with('{') {
                let inner: Vec<&str> =
                    body[at..].iter().take_while(|l| **l != format!("{indent}}},")).copied().collect();
                at += inner.len() + 1;
                item.fields = self::items(&inner, depth + 1, false, renamed, false);
            } else if let Some((_, inner)) = line.trim_end_matches(',').split_once('(') {
                item.sort = sort(inner.trim_end_matches(')'));
            }
        } else if let Some((name, kind)) = line.trim_end_matches(',').split_once(": ") {
            item.name = name.to_owned();
            item.optional |= kind.starts_with("Option<");
            item.sort = sort(kind);
        }
        if !item.name.is_empty() && item.name.chars().all(|c| c.is_alphanumeric() || c == '_') {
            items.push(item);
        }
    }
    items
}

fn has_word(line: &str, word: &str) -> bool {
    line.split(|c: char| !c.is_alphanumeric() && c != '_').any(|w| w == word)
}

/// A Rust type in an author's words.
fn sort(kind: &str) -> String {
    let kind = kind.rsplit("::").next().unwrap_or(kind).trim();
    let inside = |outer: &str| kind.strip_prefix(outer).and_then(|k| k.strip_suffix('>'));
    if let Some(inner) = inside("Option<") {
        return format!("Some({}) or None", sort(inner));
    }
    if let Some(inner) = inside("Vec<") {
        return format!("[ {}, ... ]", sort(inner));
    }
    if let Some((key, value)) = inside("BTreeMap<").and_then(|m| m.split_once(", ")) {
        return format!("{{ {}: {}, ... }}", sort(key), sort(value));
    }
    if let Some(inner) = kind.strip_prefix('(').and_then(|k| k.strip_suffix(')')) {
        return format!("({})", inner.split(", ").map(sort).collect::<Vec<_>>().join(", "));
    }
    match kind {
        "String" => "\"text\"".into(),
        "f64" => "number".into(),
        "u8" | "u32" | "usize" | "u64" => "whole number".into(),
        "bool" => "true or false".into(),
        "Span" => "\"time\"".into(),
        "Dose" => "\"dose\"".into(),
        "Rate" => "\"rate\"".into(),
        other => snake(other),
    }
}
