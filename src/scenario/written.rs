//! The word by which a case file writes a plain name.

use serde::Serialize;

/// `VesselName::LeftSubclavian` is written `left_subclavian`. Anything that is not written as one plain word gives "".
pub fn written<T: Serialize>(name: &T) -> String {
    match serde_json::to_value(name) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}
