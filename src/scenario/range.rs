//! Numbers that can be: one table for the checks and for the reference.

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
    range("aim", "secondary_deg", -90.0, 90.0, "degrees"),
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
    range("run", "volume_ml", 1.0, 100.0, "mL"),
    range("run", "seconds", 1.0, 60.0, "s"),
    range("mark", "at_mm", 0.0, 1000.0, "mm"),
    range("unsheathe", "by_mm", 0.5, 400.0, "mm"),
    range("embolise", "amount", 0.1, 100.0, ""),
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
    range("recover", "hours", 0.1, 720.0, "h"),
];

/// The range of a field.
pub fn range_of(of: &str, field: &str) -> Option<&'static Range> {
    RANGES.iter().find(|r| r.of == of && r.field == field)
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
