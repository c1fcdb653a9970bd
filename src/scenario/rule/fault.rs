//! What is wrong with a text, where, and what to write instead.

use std::ops::Range;

use serde::{Deserialize, Serialize};

/// One fault in a rule, with its place and, where one is known, its remedy.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fault {
    /// Bytes of the rule's text that the fault is about; empty at the end of the text.
    pub span: Range<usize>,
    /// What is wrong.
    pub message: String,
    /// What to write instead.
    pub hint: Option<String>,
}

impl Fault {
    /// A fault without a remedy.
    pub fn new(span: Range<usize>, message: impl Into<String>) -> Self {
        Self { span, message: message.into(), hint: None }
    }

    /// The same fault with a remedy.
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}
