//! From where to where a number may lie, and what holds when it is left out.

use super::reference::Item;
use crate::anatomy::AnatomySpec;
use crate::circulation::{Patient, Start};
use crate::scenario::case::{InPlace, ShelfSpec, Step};
use crate::scenario::load::words::snake;
use crate::scenario::range::{patient_ranges, range_of};
use serde_json::Value;

/// "From 16 to 105. 50 when left out."
pub fn limits(of: &str, item: &Item) -> Option<String> {
    let parts: Vec<String> = [range(of, &item.name), default(of, item)].into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(" "))
}

fn range(of: &str, field: &str) -> Option<String> {
    if of == "Patient" {
        let (_, low, high) = patient_ranges().into_iter().find(|r| r.0 == field)?;
        return Some(format!("From {low} to {high}."));
    }
    // Variants are named as files write them, types as the source does.
    let name = snake(of.trim_end_matches("Spec"));
    let r = range_of(&name, field)?;
    let unit = if r.unit.is_empty() { String::new() } else { format!(" {}", r.unit) };
    Some(format!("From {} to {}{unit}.", r.low, r.high))
}

fn default(of: &str, item: &Item) -> Option<String> {
    if !item.optional {
        return None;
    }
    if let Some(function) = &item.default {
        return named(function).map(|d| format!("{d} when left out."));
    }
    let all = match of {
        "Patient" => serde_json::to_value(Patient::default()),
        "Start" => serde_json::to_value(Start::default()),
        "AnatomySpec" => serde_json::to_value(AnatomySpec::default()),
        "InPlace" => serde_json::to_value(InPlace::default()),
        "ShelfSpec" => serde_json::to_value(ShelfSpec::default()),
        "Step" => serde_json::to_value(Step::default()),
        _ => return None,
    };
    let value = match all.ok()?.get(&item.name)? {
        Value::Number(n) => n.to_string(),
        Value::Bool(b) => b.to_string(),
        // A word without quotes, or empty text that says nothing.
        Value::String(s) if !s.is_empty() && item.sort != "\"text\"" => s.clone(),
        _ => return None,
    };
    Some(format!("{value} when left out."))
}

/// What the functions give that serde calls for a field that is left out.
fn named(function: &str) -> Option<&'static str> {
    Some(match function {
        "narrator" => "\"narrator\"",
        "certain" => "1",
        "a_day" => "\"4 d\"",
        _ => return None,
    })
}
