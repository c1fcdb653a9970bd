//! Why a value could not be read.

use crate::scenario::diagnostic::Diagnostic;
use serde::de;
use std::fmt;

/// Why a value could not be read.
#[derive(Debug)]
pub(super) enum Trouble {
    /// Noted already, further in.
    Told,
    /// A fault with its place.
    Said(Box<Diagnostic>),
    /// In the words of the type itself.
    Custom(String),
    /// A field is missing.
    Missing(&'static str),
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self:?}")
    }
}

impl std::error::Error for Trouble {}

impl de::Error for Trouble {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self::Custom(message.to_string())
    }
    fn missing_field(field: &'static str) -> Self {
        Self::Missing(field)
    }
    fn invalid_value(found: de::Unexpected<'_>, expected: &dyn de::Expected) -> Self {
        Self::Custom(format!("{found} cannot stand here; expected {expected}"))
    }
    fn invalid_type(found: de::Unexpected<'_>, expected: &dyn de::Expected) -> Self {
        Self::Custom(format!("{found} cannot stand here; expected {expected}"))
    }
    fn invalid_length(length: usize, expected: &dyn de::Expected) -> Self {
        Self::Custom(format!("there are {length} values here; expected {expected}"))
    }
}
