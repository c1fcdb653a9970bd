//! Reads any serde type from the tree of values, and goes on after a fault.
//!
//! Serde stops at the first thing that it cannot use. To find everything at once the tree is read again and again: each
//! pass notes what it meets, and in the next pass a value at fault is replaced by a made-up one of the right sort, so
//! that the reading gets past it. When a pass meets nothing new, all faults are known, and what was read is whole but
//! for the made-up parts, whose paths are told.

mod literal;
mod made_up;
mod names;
mod trouble;

use super::words::{did_you_mean, noun, one_of};
use crate::scenario::diagnostic::Diagnostic;
use crate::scenario::nearest;
use crate::scenario::spans::{Body, Field, Node, Spans, slice};
use serde::de::{self, DeserializeOwned, DeserializeSeed, IntoDeserializer, Visitor};
use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::ops::Range;

pub use names::names_of;

use literal::{unquote, without_underscores};
use made_up::{MakeUp, TRIES};
use trouble::Trouble;

/// What came out of a text.
pub struct Read<T> {
    /// The value; parts of it are made up where there are faults.
    pub value: Option<T>,
    /// All that was met.
    pub faults: Vec<Diagnostic>,
    /// Paths of what is made up.
    pub made_up: BTreeSet<String>,
}

/// Reads a value.
pub fn read<T: DeserializeOwned>(spans: &Spans) -> Read<T> {
    let notes = Notes {
        spans,
        faults: RefCell::default(),
        told: RefCell::default(),
        broken: RefCell::default(),
        made_up: RefCell::default(),
        changes: Cell::new(0),
        looks: Cell::new(0),
    };
    let mut value = None;
    while notes.looks.get() < MAX_LOOKS {
        notes.changes.set(0);
        value = child(std::marker::PhantomData::<T>, spans.root(), &Path::Root, &notes).ok();
        if notes.changes.get() == 0 || notes.full() {
            break;
        }
    }
    let whole = notes.changes.get() == 0;
    Read {
        value: value.filter(|_| whole),
        faults: together(notes.faults.into_inner()),
        made_up: notes.made_up.into_inner(),
    }
}

/// More faults than this are not collected.
const MAX_FAULTS: usize = 120;
/// Over all passes, at most this many values are looked at, so that a hostile text takes well under a second.
const MAX_LOOKS: u32 = 1_500_000;

/// A value, or a field that is missing from one.
type Place = (u32, u32, &'static str);

struct Notes<'a> {
    spans: &'a Spans,
    faults: RefCell<Vec<Diagnostic>>,
    told: RefCell<BTreeSet<(u32, u32)>>,
    /// What is at fault, and how many ways of making it up have failed.
    broken: RefCell<BTreeMap<Place, u8>>,
    made_up: RefCell<BTreeSet<String>>,
    /// How much this pass has learnt.
    changes: Cell<u32>,
    /// Values looked at, over all passes.
    looks: Cell<u32>,
}

impl<'a> Notes<'a> {
    fn text(&self) -> &'a str {
        self.spans.text()
    }
    fn full(&self) -> bool {
        self.faults.borrow().len() >= MAX_FAULTS
    }
    fn tries(&self, place: Place) -> Option<u8> {
        self.broken.borrow().get(&place).copied()
    }
    fn mark(&self, place: Place, path: &str) {
        self.broken.borrow_mut().entry(place).and_modify(|tries| *tries += 1).or_insert(0);
        self.made_up.borrow_mut().insert(path.to_owned());
        self.changes.set(self.changes.get() + 1);
    }
    fn tell(&self, fault: Diagnostic) {
        if !self.full() {
            self.faults.borrow_mut().push(fault);
        }
    }
    /// Tells something that does not break what it stands in; once only, though it is met in each pass.
    fn tell_once(&self, span: (u32, u32), fault: Diagnostic) {
        if self.told.borrow_mut().insert(span) {
            self.tell(fault);
        }
    }
}

/// The way from the root, built on the stack.
enum Path<'p> {
    Root,
    Name(&'p Path<'p>, &'p str),
    Index(&'p Path<'p>, usize),
    Entry(&'p Path<'p>, &'p str),
}

impl fmt::Display for Path<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Root => Ok(()),
            Self::Name(Path::Root, name) => f.write_str(name),
            Self::Name(up, name) => write!(f, "{up}.{name}"),
            Self::Index(up, i) => write!(f, "{up}[{i}]"),
            Self::Entry(up, key) => write!(f, "{up}[{key}]"),
        }
    }
}

/// Reads one value inside another; a fault is noted here, at the innermost value that it concerns.
fn child<'de, S: DeserializeSeed<'de>>(
    seed: S,
    node: &Node,
    path: &Path<'_>,
    notes: &Notes<'_>,
) -> Result<S::Value, Trouble> {
    notes.looks.set(notes.looks.get() + 1);
    let place = (node.span.0, node.span.1, "");
    if let Some(tries) = notes.tries(place) {
        return seed.deserialize(MakeUp { tries, depth: 0 }).map_err(|_| {
            if tries < TRIES {
                notes.mark(place, &path.to_string());
            }
            Trouble::Told
        });
    }
    let known = notes.changes.get();
    seed.deserialize(Reader { node, path, notes, tagged: false }).map_err(|trouble| {
        match trouble {
            // Something further in is new: the next pass will get past it.
            Trouble::Told if notes.changes.get() > known => return Trouble::Told,
            Trouble::Told => {}
            Trouble::Said(fault) => notes.tell(fault.at(path.to_string())),
            Trouble::Custom(words) => notes.tell(in_its_own_words(&words, node).at(path.to_string())),
            Trouble::Missing(field) => notes.tell(missing(field, "this", node.head(), path)),
        }
        notes.mark(place, &path.to_string());
        Trouble::Told
    })
}

fn in_its_own_words(words: &str, node: &Node) -> Diagnostic {
    let (message, hint) = words.split_once("; ").unwrap_or((words, ""));
    Diagnostic::fault("not-understood", node.range(), message).hint(hint)
}

fn missing(field: &str, whose: &str, at: Range<usize>, path: &Path<'_>) -> Diagnostic {
    Diagnostic::fault("field-missing", at, format!("{whose} has no `{field}`"))
        .hint(format!("add `{field}: ...`; `overwire explain {field}` says what it takes"))
        .at(path.to_string())
}

/// Fields that are missing from the same entry become one fault.
fn together(faults: Vec<Diagnostic>) -> Vec<Diagnostic> {
    let mut out: Vec<Diagnostic> = Vec::new();
    for fault in faults {
        let twin = out.iter_mut().find(|d| {
            d.code == "field-missing"
                && fault.code == "field-missing"
                && (&d.path, &d.span) == (&fault.path, &fault.span)
        });
        match (twin, fault.message.split_once(" has no ")) {
            (Some(twin), Some((_, field))) => {
                twin.message = format!("{}, {field}", twin.message);
                if let Some(at) = twin.hint.find(';') {
                    twin.hint.insert_str(at, &format!(", {}: ...`", field.trim_end_matches('`')));
                }
            }
            _ => out.push(fault),
        }
    }
    out
}

struct Reader<'a, 'p> {
    node: &'a Node,
    path: &'p Path<'p>,
    notes: &'a Notes<'a>,
    /// The word before the bracket has been read already: it named the variant.
    tagged: bool,
}

impl<'a> Reader<'a, '_> {
    fn text(&self) -> &'a str {
        slice(self.notes.text(), self.node.span)
    }
    fn tag(&self) -> Option<&'a str> {
        self.node.tag.filter(|_| !self.tagged).map(|tag| slice(self.notes.text(), tag))
    }
    /// "text in quotes", "a list", ...: what stands here.
    fn found(&self) -> String {
        match &self.node.body {
            Body::Word => format!("the word {}", self.text()),
            Body::Number => format!("the number {}", self.text()),
            Body::Text => "text in quotes".into(),
            Body::Fields(_) | Body::Items(_) => match self.tag() {
                Some(tag) => format!("{tag}( ... )"),
                None => "an entry in round brackets ( )".into(),
            },
            Body::List(_) => "a list in square brackets [ ]".into(),
            Body::Map(_) => "a list in curly brackets { }".into(),
        }
    }
    fn wrong(&self, expected: &str, hint: impl Into<String>) -> Trouble {
        let fault =
            Diagnostic::fault("wrong-sort", self.node.head(), format!("{} cannot stand here", self.found()));
        Trouble::Said(Box::new(fault.expected(expected).hint(hint)))
    }

    fn number(&self) -> Result<f64, Trouble> {
        let inside = self.text().trim_matches('"');
        let plain = without_underscores(inside);
        let value = plain.parse::<f64>().ok().filter(|v| v.is_finite());
        match (&self.node.body, value) {
            (Body::Number, Some(value)) => Ok(value),
            (Body::Text, Some(_)) => {
                Err(self.wrong("a plain number", format!("take the quotes away: {inside}")))
            }
            (Body::Number | Body::Text, None) => {
                let digits = inside.trim_start_matches(['-', '+']);
                let length = digits.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(digits.len());
                let hint = if length > 0 && plain.parse::<f64>().is_err() {
                    format!("write {}; the unit is told by the field's name", &digits[..length])
                } else {
                    "write a number such as 12.5".to_owned()
                };
                Err(self.wrong("a plain number", hint))
            }
            _ => Err(self.wrong("a plain number", "write a number such as 12.5")),
        }
    }

    fn whole(&self, least: i128, most: i128) -> Result<i128, Trouble> {
        if let Body::Number = self.node.body
            && let Ok(value) = without_underscores(self.text()).parse::<i128>()
        {
            if (least..=most).contains(&value) {
                return Ok(value);
            }
            let fault = Diagnostic::fault(
                "range",
                self.node.range(),
                format!("{value} is too large or too small here"),
            )
            .expected(if most > i128::from(u16::MAX) {
                format!("a whole number, {least} or more")
            } else {
                format!("a whole number from {least} to {most}")
            });
            return Err(Trouble::Said(Box::new(fault)));
        }
        let value = self.number()?;
        Err(self.wrong("a whole number", format!("write {}", value.round())))
    }

    fn words(&self) -> Result<String, Trouble> {
        match &self.node.body {
            Body::Text => unquote(self.text()).map_err(|backslash| {
                let at = self.node.span.0 as usize + backslash;
                let found = "this backslash starts nothing that is known";
                let fault = Diagnostic::fault("not-understood", at..at + 1, found);
                Trouble::Said(Box::new(
                    fault.hint("write \\\\ for a backslash, \\\" for a quote, \\n for a new line"),
                ))
            }),
            Body::Word => {
                Err(self.wrong("text in quotes", format!("put it between quotes: \"{}\"", self.text())))
            }
            Body::Number => {
                let number = self.text();
                let hint = format!(
                    "put it between quotes; a time or a dose with its unit: \"{number} min\", \"{number} mg\""
                );
                Err(self.wrong("text in quotes", hint))
            }
            _ => Err(self.wrong("text in quotes", "write the words between quotes \"...\"")),
        }
    }

    /// The named values of an entry in round brackets.
    fn fields(&self) -> Option<&'a [Field]> {
        match &self.node.body {
            Body::Fields(fields) => Some(fields),
            Body::Items(items) if items.is_empty() => Some(&[]),
            _ => None,
        }
    }

    fn entry<'de, V: Visitor<'de>>(
        self,
        whose: &str,
        names: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        let Some(fields) = self.fields() else {
            let hint = match &self.node.body {
                Body::Map(_) => "use round brackets: ( name: value )".to_owned(),
                Body::Items(_) => {
                    format!("give each value its name: ( {}: ... )", names.first().copied().unwrap_or("name"))
                }
                _ => format!("write ( {}: ... )", names.first().copied().unwrap_or("name")),
            };
            return Err(self.wrong(&format!("{whose}: named fields in round brackets"), hint));
        };
        let mut seen: Vec<&Field> = Vec::new();
        for field in fields {
            let name = slice(self.notes.text(), field.key);
            let at = field.key.0 as usize..field.key.1 as usize;
            if !names.contains(&name) {
                let mut fault =
                    Diagnostic::fault("field-unknown", at, format!("{whose} has no field `{name}`"));
                let open: Vec<&str> = names
                    .iter()
                    .copied()
                    .filter(|n| !fields.iter().any(|f| slice(self.notes.text(), f.key) == *n))
                    .collect();
                fault = match nearest(name, open.iter().copied()) {
                    Some(meant) => fault.hint(format!("did you mean `{meant}`?")),
                    None => fault.hint(format!("it has {}", one_of(names))),
                };
                self.notes.tell_once(field.key, fault.at(self.path.to_string()));
            } else if let Some(first) = seen.iter().find(|f| slice(self.notes.text(), f.key) == name) {
                let fault = Diagnostic::fault("field-twice", at, format!("`{name}` is written twice"))
                    .label(first.key.0 as usize..first.key.1 as usize, "first here")
                    .hint("take one of the two away")
                    .at(self.path.to_string());
                self.notes.tell_once(field.key, fault);
            } else {
                seen.push(field);
            }
        }
        let (span, at) = (self.node.span, self.notes.spans.name_of(self.node));
        let (path, notes) = (self.path, self.notes);
        let access = Entry { reader: self, fields: seen, next: 0, names, value: None };
        visitor.visit_map(access).map_err(|trouble| match trouble {
            Trouble::Missing(field) => {
                let place = (span.0, span.1, field);
                if notes.tries(place).is_none() {
                    // A misspelt name is told already; that its right name is missing follows from it.
                    let misspelt =
                        notes.faults.borrow().iter().any(|f| {
                            f.path == path.to_string() && f.hint == format!("did you mean `{field}`?")
                        });
                    if !misspelt {
                        notes.tell(missing(field, whose, at, path));
                    }
                    notes.mark(place, &Path::Name(path, field).to_string());
                }
                Trouble::Told
            }
            other => other,
        })
    }
}

/// Walks over the fields of an entry, and over those that have to be made up.
struct Entry<'a, 'p> {
    reader: Reader<'a, 'p>,
    fields: Vec<&'a Field>,
    next: usize,
    names: &'static [&'static str],
    value: Option<Result<&'a Field, (&'static str, u8)>>,
}

impl<'de> de::MapAccess<'de> for Entry<'_, '_> {
    type Error = Trouble;
    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Trouble> {
        let notes = self.reader.notes;
        while let Some(&field) = self.fields.get(self.next) {
            self.next += 1;
            let hopeless =
                notes.tries((field.value.span.0, field.value.span.1, "")).is_some_and(|t| t >= TRIES);
            if !hopeless {
                self.value = Some(Ok(field));
                let name: &str = slice(notes.text(), field.key);
                return seed.deserialize(name.into_deserializer()).map(Some);
            }
        }
        while let Some(&name) = self.names.get(self.next - self.fields.len()) {
            self.next += 1;
            let span = self.reader.node.span;
            if let Some(tries) = notes.tries((span.0, span.1, name)).filter(|&t| t < TRIES) {
                self.value = Some(Err((name, tries)));
                return seed.deserialize(name.into_deserializer()).map(Some);
            }
        }
        Ok(None)
    }
    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Trouble> {
        let Reader { path, notes, node, .. } = self.reader;
        match self.value.take() {
            Some(Ok(field)) => {
                child(seed, &field.value, &Path::Name(path, slice(notes.text(), field.key)), notes)
            }
            Some(Err((name, tries))) => seed.deserialize(MakeUp { tries, depth: 0 }).map_err(|_| {
                notes.mark((node.span.0, node.span.1, name), &Path::Name(path, name).to_string());
                Trouble::Told
            }),
            None => Err(Trouble::Custom("a value was asked for before its name".into())),
        }
    }
}

struct Elements<'a, 'p> {
    items: std::slice::Iter<'a, Node>,
    index: usize,
    path: &'p Path<'p>,
    notes: &'a Notes<'a>,
}

impl<'de> de::SeqAccess<'de> for Elements<'_, '_> {
    type Error = Trouble;
    fn next_element_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Trouble> {
        let Some(node) = self.items.next() else { return Ok(None) };
        let path = Path::Index(self.path, self.index);
        self.index += 1;
        child(seed, node, &path, self.notes).map(Some)
    }
    fn size_hint(&self) -> Option<usize> {
        Some(self.items.len())
    }
}

struct Pairs<'a, 'p> {
    pairs: std::slice::Iter<'a, (Node, Node)>,
    value: Option<(&'a Node, &'a str)>,
    path: &'p Path<'p>,
    notes: &'a Notes<'a>,
}

impl<'de> de::MapAccess<'de> for Pairs<'_, '_> {
    type Error = Trouble;
    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Trouble> {
        let Some((key, value)) = self.pairs.next() else { return Ok(None) };
        let name = slice(self.notes.text(), key.span).trim_matches('"');
        self.value = Some((value, name));
        child(seed, key, &Path::Entry(self.path, name), self.notes).map(Some)
    }
    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Trouble> {
        match self.value.take() {
            Some((node, name)) => child(seed, node, &Path::Entry(self.path, name), self.notes),
            None => Err(Trouble::Custom("a value was asked for before its name".into())),
        }
    }
}

/// A variant: its name, and what stands in its brackets.
struct Variant<'a, 'p> {
    reader: Reader<'a, 'p>,
    name: &'a str,
}

impl<'de, 'a, 'p> de::EnumAccess<'de> for Variant<'a, 'p> {
    type Error = Trouble;
    type Variant = Self;
    fn variant_seed<V: DeserializeSeed<'de>>(self, seed: V) -> Result<(V::Value, Self), Trouble> {
        let name = seed.deserialize(self.name.into_deserializer())?;
        Ok((name, self))
    }
}

impl<'de> de::VariantAccess<'de> for Variant<'_, '_> {
    type Error = Trouble;
    fn unit_variant(self) -> Result<(), Trouble> {
        match self.reader.node.body {
            Body::Word => Ok(()),
            _ => Err(self.reader.wrong(
                &format!("the word {} alone", self.name),
                format!("write {} without brackets", self.name),
            )),
        }
    }
    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, Trouble> {
        let Reader { node, path, notes, .. } = self.reader;
        let path = Path::Name(path, self.name);
        match &node.body {
            Body::Items(items) if items.len() == 1 => child(seed, &items[0], &path, notes),
            Body::Word => Err(Reader { node, path: &path, notes, tagged: true }.wrong(
                &format!("{}( ... )", self.name),
                format!("write {}( ... ) with its value", self.name),
            )),
            // Fields may stand right in the variant's brackets.
            _ => seed.deserialize(Reader { node, path: &path, notes, tagged: true }),
        }
    }
    fn tuple_variant<V: Visitor<'de>>(self, _: usize, visitor: V) -> Result<V::Value, Trouble> {
        let Reader { node, path, notes, .. } = self.reader;
        let path = Path::Name(path, self.name);
        match &node.body {
            Body::Items(items) => {
                visitor.visit_seq(Elements { items: items.iter(), index: 0, path: &path, notes })
            }
            _ => Err(self.reader.wrong("values in round brackets", format!("write {}(..., ...)", self.name))),
        }
    }
    fn struct_variant<V: Visitor<'de>>(
        self,
        names: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        let Reader { node, path, notes, .. } = self.reader;
        let path = Path::Name(path, self.name);
        if let Body::Word = node.body {
            let first = names.first().copied().unwrap_or_default();
            let hint = format!("write {}({first}: ...)", self.name);
            return Err(self.reader.wrong(&format!("{}( ... ) with its fields", self.name), hint));
        }
        Reader { node, path: &path, notes, tagged: true }.entry(&format!("`{}`", self.name), names, visitor)
    }
}

macro_rules! whole_numbers {
    ($($method:ident $visit:ident $t:ty),*) => {$(
        fn $method<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
            let value = self.whole(<$t>::MIN as i128, (<$t>::MAX as i128).min(i64::MAX as i128))?;
            visitor.$visit(value as $t)
        }
    )*};
}

impl<'de> de::Deserializer<'de> for Reader<'_, '_> {
    type Error = Trouble;

    whole_numbers!(
        deserialize_u8 visit_u8 u8, deserialize_u16 visit_u16 u16, deserialize_u32 visit_u32 u32,
        deserialize_u64 visit_u64 u64, deserialize_i8 visit_i8 i8, deserialize_i16 visit_i16 i16,
        deserialize_i32 visit_i32 i32, deserialize_i64 visit_i64 i64
    );

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        match &self.node.body {
            Body::Word => match self.text() {
                "true" => visitor.visit_bool(true),
                "false" => visitor.visit_bool(false),
                "None" => visitor.visit_none(),
                word => visitor.visit_str(word),
            },
            Body::Number => match self.text().parse::<i64>() {
                Ok(whole) => visitor.visit_i64(whole),
                Err(_) => visitor.visit_f64(self.number()?),
            },
            Body::Text => visitor.visit_string(self.words()?),
            Body::Fields(fields) => {
                let fields = fields.iter().collect();
                visitor.visit_map(Entry { reader: self, fields, next: 0, names: &[], value: None })
            }
            Body::Items(items) | Body::List(items) => visitor.visit_seq(Elements {
                items: items.iter(),
                index: 0,
                path: self.path,
                notes: self.notes,
            }),
            Body::Map(_) => self.deserialize_map(visitor),
        }
    }
    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        match (&self.node.body, self.text()) {
            (Body::Word, "true") => visitor.visit_bool(true),
            (Body::Word, "false") => visitor.visit_bool(false),
            (_, word) => {
                let no =
                    matches!(word.trim_matches('"'), "no" | "No" | "off" | "False" | "FALSE" | "false" | "0");
                Err(self.wrong("`true` or `false`", if no { "write false" } else { "write true" }))
            }
        }
    }
    fn deserialize_f32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_f32(self.number()? as f32)
    }
    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_f64(self.number()?)
    }
    fn deserialize_char<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_string(self.words()?)
    }
    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_string(self.words()?)
    }
    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_string(self.words()?)
    }
    fn deserialize_bytes<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        self.deserialize_any(visitor)
    }
    fn deserialize_byte_buf<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        self.deserialize_any(visitor)
    }
    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        match (&self.node.body, self.tag()) {
            (Body::Word, Some("None")) => visitor.visit_none(),
            (Body::Word, Some("none" | "null" | "nil" | "nothing")) => {
                Err(self.wrong("a value, or None", "write None, or leave the field out"))
            }
            (Body::Items(items), Some("Some")) if items.len() == 1 => {
                visitor.visit_some(Reader { node: &items[0], tagged: false, ..self })
            }
            _ => visitor.visit_some(self),
        }
    }
    fn deserialize_unit<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        match &self.node.body {
            Body::Items(items) if items.is_empty() && self.tag().is_none() => visitor.visit_unit(),
            _ => Err(self.wrong("()", "write ()")),
        }
    }
    fn deserialize_unit_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        match self.tag() {
            Some(tag) if tag == name => visitor.visit_unit(),
            _ => self.deserialize_unit(visitor),
        }
    }
    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        match (&self.node.body, self.tag()) {
            (Body::Items(items), tag) if items.len() == 1 && tag.is_none_or(|t| t == name) => {
                visitor.visit_newtype_struct(Reader { node: &items[0], tagged: false, ..self })
            }
            _ => visitor.visit_newtype_struct(self),
        }
    }
    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        match &self.node.body {
            Body::List(items) => visitor.visit_seq(Elements {
                items: items.iter(),
                index: 0,
                path: self.path,
                notes: self.notes,
            }),
            Body::Text | Body::Number | Body::Word => {
                Err(self.wrong("a list in square brackets", format!("write [{}]", self.text())))
            }
            _ => Err(self.wrong("a list in square brackets", "write [ ..., ... ]")),
        }
    }
    fn deserialize_tuple<V: Visitor<'de>>(self, length: usize, visitor: V) -> Result<V::Value, Trouble> {
        match &self.node.body {
            Body::Items(items) if items.len() == length && self.tag().is_none() => visitor
                .visit_seq(Elements { items: items.iter(), index: 0, path: self.path, notes: self.notes }),
            Body::List(items) if items.len() == length => {
                let inside = self.text().trim_start_matches('[').trim_end_matches(']');
                Err(self.wrong(&format!("{length} values in round brackets"), format!("write ({inside})")))
            }
            _ => Err(self.wrong(&format!("{length} values in round brackets"), "write ( ..., ... )")),
        }
    }
    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        length: usize,
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        self.deserialize_tuple(length, visitor)
    }
    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        match &self.node.body {
            Body::Map(pairs) => visitor.visit_map(Pairs {
                pairs: pairs.iter(),
                value: None,
                path: self.path,
                notes: self.notes,
            }),
            _ => Err(self.wrong("a list in curly brackets", "write { \"name\": value }")),
        }
    }
    fn deserialize_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        names: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        if let Some(tag) = self.tag().filter(|&tag| tag != name && !matches!(self.node.body, Body::Word)) {
            let fault = Diagnostic::fault(
                "stray",
                self.node.head(),
                format!("the word {tag} cannot stand before {}", noun(name)),
            )
            .hint(format!("take {tag} away and leave the brackets"));
            return Err(Trouble::Said(Box::new(fault)));
        }
        self.entry(&noun(name), names, visitor)
    }
    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        let Some(tag) = self.tag() else {
            let hint = match self.text().trim_matches('"') {
                word if variants.contains(&word) => format!("take the quotes away: {word}"),
                word if matches!(self.node.body, Body::Text) => did_you_mean(word, variants.iter().copied()),
                _ => format!("write {}", one_of(variants)),
            };
            return Err(self.wrong("a word without quotes", hint));
        };
        if !variants.contains(&tag) {
            let fault =
                Diagnostic::fault("word-unknown", self.node.head(), format!("`{tag}` is not known here"))
                    .hint(did_you_mean(tag, variants.iter().copied()));
            return Err(Trouble::Said(Box::new(fault)));
        }
        visitor.visit_enum(Variant { name: tag, reader: self })
    }
    fn deserialize_identifier<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_str(self.text())
    }
    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_unit()
    }
}
