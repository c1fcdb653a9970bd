//! Where everything stands in a case's text.
//!
//! A small tolerant scanner for RON (Rusty Object Notation): it turns text into a tree of values with their byte ranges,
//! goes on after a missing comma or colon, and gives up with the root cause where brackets or quotes do not close. The
//! reader of case files walks that tree, and every later check finds the place of a path such as
//! `asks[3].options[1].orders[0].move.device` in it.
//!
//! Bounded: a text of at most [`MAX_BYTES`], brackets at most [`MAX_DEPTH`] deep. There are no includes.

mod scan;
mod slips;

use super::diagnostic::Diagnostic;
use std::ops::Range;

/// Largest text that is looked at, bytes.
pub const MAX_BYTES: usize = 2 * 1024 * 1024;
/// Deepest nesting of brackets.
pub const MAX_DEPTH: usize = 96;

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
        let (root, found) = scan::scan(text);
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
