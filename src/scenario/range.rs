//! Numbers that can be: one table for the checks, for the reference and for what a session refuses.

use super::order::Order;
use crate::circulation::Patient;
use serde_json::Value;

/// From where to where a number may lie.
#[derive(Clone, Debug, PartialEq)]
pub struct Range {
    /// The entry, order or action that has it, as files write it.
    pub of: &'static str,
    /// Its field.
    pub field: &'static str,
    /// Lowest and highest.
    pub low: f64,
    /// See `low`.
    pub high: f64,
    /// Unit; empty for a plain number.
    pub unit: &'static str,
}

const fn range(of: &'static str, field: &'static str, low: f64, high: f64, unit: &'static str) -> Range {
    Range { of, field, low, high, unit }
}

/// What bodies, devices and clocks allow (common practice, no source).
pub const RANGES: &[Range] = &[
    range("about", "level", 1.0, 3.0, ""),
    range("start", "sbp_mmhg", 30.0, 260.0, "mmHg"),
    range("start", "heart_rate_bpm", 20.0, 220.0, "bpm"),
    range("start", "lost_ml", 0.0, 4000.0, "mL"),
    range("start", "crystalloid_ml", 0.0, 10_000.0, "mL"),
    range("start", "minutes_since", 0.0, 10_080.0, "min"),
    range("in_place", "csf_drain_mmhg", 0.0, 30.0, "mmHg"),
    range("earlier_graft", "edge", 0.0, 900.0, "mm"),
    range("open_line", "torn_mm2", 0.0, 100.0, "mm²"),
    range("lying", "tip_mm", 0.0, 1500.0, "mm"),
    range("ward_targets", "map_low_mmhg", 40.0, 130.0, "mmHg"),
    range("ward_targets", "sbp_high_mmhg", 80.0, 220.0, "mmHg"),
    range("happening", "chance", 0.0, 1.0, ""),
    range("mark", "weight", 0.0, 100.0, ""),
    range("error", "danger", 1.0, 3.0, ""),
    range("bleed", "area_mm2", 0.0, 400.0, "mm²"),
    range("scale_bleed", "factor", 0.0, 100.0, ""),
    range("patency", "open", 0.0, 1.0, ""),
    range("answer", "sure_percent", 50.0, 100.0, "%"),
    range("measure", "mm", 1.0, 600.0, "mm"),
    range("move", "to_mm", -100.0, 1500.0, "mm"),
    range("aim", "primary_deg", -120.0, 120.0, "degrees"),
    range("aim", "secondary_deg", -45.0, 45.0, "degrees"),
    range("pan", "left_mm", -250.0, 250.0, "mm"),
    range("pan", "head_mm", -600.0, 600.0, "mm"),
    range("field", "edge_mm", 150.0, 480.0, "mm"),
    range("collimate", "left_percent", 0.0, 45.0, "%"),
    range("collimate", "right_percent", 0.0, 45.0, "%"),
    range("collimate", "top_percent", 0.0, 45.0, "%"),
    range("collimate", "bottom_percent", 0.0, 45.0, "%"),
    range("frame_rate", "screening_per_s", 1.0, 30.0, "/s"),
    range("frame_rate", "runs_per_s", 0.5, 7.5, "/s"),
    range("run", "rate_ml_s", 0.5, 40.0, "mL/s"),
    range("run", "volume_ml", 1.0, 80.0, "mL"),
    range("run", "seconds", 1.0, 60.0, "s"),
    range("mark", "at_mm", 0.0, 1000.0, "mm"),
    range("unsheathe", "by_mm", 0.5, 400.0, "mm"),
    range("embolise", "amount", 0.1, 60.0, ""),
    range("transfuse", "ml", 1.0, 5000.0, "mL"),
    range("transfuse", "over", 1.0, 86_400.0, "s"),
    range("keep_systolic", "low_mmhg", 40.0, 200.0, "mmHg"),
    range("keep_systolic", "high_mmhg", 50.0, 220.0, "mmHg"),
    range("pace", "bpm", 40.0, 250.0, "bpm"),
    range("csf_drain", "at_mmhg", 0.0, 30.0, "mmHg"),
    range("csf_drain", "most_ml_h", 1.0, 200.0, "mL/h"),
    range("hand_over", "map_low_mmhg", 40.0, 130.0, "mmHg"),
    range("hand_over", "sbp_high_mmhg", 80.0, 220.0, "mmHg"),
    range("hand_over", "ct_hours", 0.5, 2000.0, "h"),
    range("recover", "hours", 0.02, 240.0, "h"),
];

/// The range of a field.
pub fn range_of(of: &str, field: &str) -> Option<&'static Range> {
    RANGES.iter().find(|r| r.of == of && r.field == field)
}

/// The numbers of an order that have a range: field and value.
pub fn numbers(order: &Order) -> Vec<(&'static str, f64)> {
    match order {
        Order::Answer { sure_percent: Some(sure), .. } => vec![("sure_percent", f64::from(*sure))],
        Order::Measure { mm, .. } => vec![("mm", *mm)],
        Order::Move { to_mm, .. } => vec![("to_mm", *to_mm)],
        Order::Aim { primary_deg, secondary_deg } => {
            vec![("primary_deg", *primary_deg), ("secondary_deg", *secondary_deg)]
        }
        Order::Pan { left_mm, head_mm } => vec![("left_mm", *left_mm), ("head_mm", *head_mm)],
        Order::Field { edge_mm } => vec![("edge_mm", *edge_mm)],
        Order::Collimate { left_percent, right_percent, top_percent, bottom_percent } => vec![
            ("left_percent", *left_percent),
            ("right_percent", *right_percent),
            ("top_percent", *top_percent),
            ("bottom_percent", *bottom_percent),
        ],
        Order::FrameRate { screening_per_s, runs_per_s } => {
            vec![("screening_per_s", *screening_per_s), ("runs_per_s", *runs_per_s)]
        }
        Order::Run { rate_ml_s, volume_ml, seconds, .. } => {
            vec![("rate_ml_s", *rate_ml_s), ("volume_ml", *volume_ml), ("seconds", *seconds)]
        }
        Order::Mark { at_mm, .. } => vec![("at_mm", *at_mm)],
        Order::Unsheathe { by_mm: Some(mm), .. } => vec![("by_mm", *mm)],
        Order::Embolise { amount, .. } => vec![("amount", *amount)],
        Order::Transfuse { ml, over, .. } => vec![("ml", *ml), ("over", over.as_seconds())],
        Order::KeepSystolic { low_mmhg, high_mmhg } => {
            vec![("low_mmhg", *low_mmhg), ("high_mmhg", *high_mmhg)]
        }
        Order::Pace { bpm: Some(bpm) } => vec![("bpm", *bpm)],
        Order::CsfDrain { at_mmhg: Some(at), most_ml_h } => {
            let most = most_ml_h.map(|most| ("most_ml_h", most));
            [("at_mmhg", *at)].into_iter().chain(most).collect()
        }
        Order::HandOver { map_low_mmhg, sbp_high_mmhg, ct_hours, .. } => {
            let ct = ct_hours.map(|hours| ("ct_hours", hours));
            [("map_low_mmhg", *map_low_mmhg), ("sbp_high_mmhg", *sbp_high_mmhg)]
                .into_iter()
                .chain(ct)
                .collect()
        }
        Order::Recover { hours } => vec![("hours", *hours)],
        _ => Vec::new(),
    }
}

/// What an order's first number out of its range may be instead: "rate: 0.5 to 40 mL/s, not 60".
pub fn refusal(order: &Order) -> Option<String> {
    let ranges = numbers(order).into_iter().filter_map(|(f, v)| Some((range_of(order.verb(), f)?, v)));
    let (r, value) = ranges.into_iter().find(|(r, value)| !(r.low..=r.high).contains(value))?;
    const UNITS: [&str; 9] = ["mm", "mmhg", "ml", "ml_s", "ml_h", "deg", "percent", "per_s", "hours"];
    let unit = UNITS.iter().filter(|u| r.field.ends_with(*u)).max_by_key(|u| u.len());
    let name = r.field.strip_suffix(unit.unwrap_or(&"")).unwrap_or(r.field).replace('_', " ");
    let name = match name.trim() {
        "" | "bpm" | "seconds" => String::new(),
        name => format!("{name}: "),
    };
    let text = format!("{name}{} to {} {}", r.low, r.high, r.unit);
    Some(format!("{}, not {value}", text.trim_end()))
}

/// From where to where the models can carry each number of a patient, found by asking them.
pub fn patient_ranges() -> Vec<(String, f64, f64)> {
    const FAR: f64 = 1e9;
    let clamped = |far: f64| -> Option<Value> {
        let mut all = serde_json::to_value(Patient::default()).ok()?;
        let fields = all.as_object_mut()?;
        for value in fields.values_mut().filter(|v| v.is_number()) {
            *value = Value::from(far);
        }
        let patient: Patient = serde_json::from_value(all).ok()?;
        serde_json::to_value(patient.clamped()).ok()
    };
    let (Some(low), Some(high)) = (clamped(-FAR), clamped(FAR)) else { return Vec::new() };
    let number = |of: &Value, field: &str| of.get(field).and_then(Value::as_f64);
    let fields = low.as_object().into_iter().flatten().map(|(field, _)| field);
    fields
        .filter_map(|f| Some((f.clone(), number(&low, f)?, number(&high, f)?)))
        .filter(|(_, low, high)| *low > -FAR && *high < FAR)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a file may not write, a session refuses, in words that say what would do; the rest of an order is not asked here.
    #[test]
    fn an_order_out_of_range_is_told() {
        let drain = |at, most| Order::CsfDrain { at_mmhg: at, most_ml_h: most };
        assert_eq!(refusal(&Order::Pace { bpm: Some(300.0) }).as_deref(), Some("40 to 250 bpm, not 300"));
        assert_eq!(refusal(&drain(Some(40.0), None)).as_deref(), Some("at: 0 to 30 mmHg, not 40"));
        let most = refusal(&drain(Some(10.0), Some(500.0)));
        assert_eq!(most.as_deref(), Some("most: 1 to 200 mL/h, not 500"));
        assert!(refusal(&Order::Recover { hours: f64::NAN }).is_some());
        for fine in [Order::Pace { bpm: Some(40.0) }, Order::Pace { bpm: None }, drain(None, Some(500.0))] {
            assert_eq!(refusal(&fine), None, "{fine:?}");
        }
    }

    #[test]
    fn the_models_tell_what_they_carry() {
        let all = patient_ranges();
        let of = |name: &str| all.iter().find(|r| r.0 == name).map(|r| (r.1, r.2));
        assert_eq!(of("age_years"), Some((16.0, 105.0)));
        assert_eq!(of("csf_mmhg"), Some((2.0, 40.0)));
        assert_eq!(of("male"), None);
        assert!(all.iter().all(|(name, low, high)| low < high && !name.is_empty()));
    }
}
