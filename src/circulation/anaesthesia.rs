//! Anaesthesia, as an author or an anaesthetist orders it.

use serde::{Deserialize, Serialize};

/// Anaesthesia other than by injected drugs.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Anaesthesia {
    /// Nothing.
    None,
    /// Local at the groin: takes the pain of the wound, nothing else.
    Local,
    /// Volatile at this depth (1 = surgical), intubated and ventilated.
    General(f64),
}
