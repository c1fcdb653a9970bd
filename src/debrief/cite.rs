//! Citations: each publication once, at the end, and a number where it is leaned on.

use crate::scenario::Loaded;
use maud::{Markup, html};
use std::cell::RefCell;

/// The numbers given out so far.
pub struct Cite<'a> {
    case: &'a Loaded,
    used: RefCell<Vec<String>>,
}

impl<'a> Cite<'a> {
    /// None yet.
    pub fn new(case: &'a Loaded) -> Self {
        Self { case, used: RefCell::default() }
    }

    /// The marks for a list of source ids: numbers, and "author judgement" in words.
    pub fn marks(&self, ids: &[String]) -> Markup {
        html! { @for id in ids { " " (self.mark(id)) } }
    }

    fn mark(&self, id: &str) -> Markup {
        if !self.case.case.sources.iter().any(|s| s.id == id) {
            return html! { span.cite { "[" (id) "]" } };
        }
        let mut used = self.used.borrow_mut();
        let at = used.iter().position(|u| u == id).unwrap_or_else(|| {
            used.push(id.into());
            used.len() - 1
        });
        html! { a.cite href={ "#source-" (at + 1) } { "[" (at + 1) "]" } }
    }

    /// The list, in the order of first use.
    pub fn list(&self) -> Markup {
        let used = self.used.borrow();
        let text = |id: &str| {
            self.case.case.sources.iter().find(|s| s.id == id).map_or(String::new(), |s| s.citation.clone())
        };
        html! {
            @if used.is_empty() { p { "None was cited." } }
            ol.sources { @for (i, id) in used.iter().enumerate() { li id={ "source-" (i + 1) } { (text(id)) } } }
        }
    }
}
