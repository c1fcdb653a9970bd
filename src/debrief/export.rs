//! The same as tables: CSV for a spreadsheet, JSON for a program.

use super::TRAINING_ONLY;
use super::cause;
use super::fork::WhatIf;
use crate::assess::{Judgement, sums};
use crate::session::record::{Origin, Record};
use serde_json::{Value, json};
use std::fmt::Write;

/// Decisions as CSV (RFC 4180): one a row.
pub fn decisions_csv(judgement: &Judgement) -> String {
    let mut out = String::from("time_s,took_s,question,choice,tier,by_clock,sure_percent,why,because\r\n");
    for d in &judgement.decisions {
        let sure = d.sure_percent.map_or(String::new(), |s| s.to_string());
        let tier = format!("{:?}", d.tier).to_lowercase();
        let _ = write!(
            out,
            "{},{},{},{},{tier},{},{sure},{},{}\r\n",
            d.at.seconds(),
            d.took_s,
            quoted(&d.question),
            quoted(&d.said),
            d.by_clock,
            quoted(&d.why),
            quoted(&d.because)
        );
    }
    out
}

/// A field that a spreadsheet reads as text: quoted, and never as a formula.
fn quoted(text: &str) -> String {
    let safe =
        if text.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{text}") } else { text.into() };
    format!("\"{}\"", safe.replace('"', "\"\""))
}

/// The whole judgement as JSON, with every what-if that was computed.
pub fn json(record: &Record, judgement: &Judgement, what_ifs: &[WhatIf]) -> Value {
    let case = &record.case.case;
    let not_computed_again = match &record.origin {
        Origin::Recalled(why) => Some(why),
        Origin::Live | Origin::Replayed => None,
    };
    json!({
        "training_only": TRAINING_ONLY,
        "engine": record.engine,
        "reported_by_engine": env!("CARGO_PKG_VERSION"),
        "not_computed_again": not_computed_again,
        "case": { "id": case.id, "version": case.version, "digest": record.case.digest },
        "seed": record.seed,
        "patient_time_s": record.now.seconds(),
        "ending": record.ended().map(|e| &e.id),
        "decision_score": judgement.decision_score(),
        "step_score": judgement.step_score(),
        "dangers": judgement.dangers(),
        "brier": judgement.brier.map(|b| json!({"answers": b.answers, "score": b.score, "overconfidence": b.overconfidence})),
        "objectives": case.objectives.iter().map(|o| {
            let held = judgement.objective(&o.id);
            json!({ "id": o.id, "text": o.text, "held": held.map(|h| h.0), "of": held.map(|h| h.1) })
        }).collect::<Vec<_>>(),
        "decisions": judgement.decisions.iter().map(|d| json!({
            "time_s": d.at.seconds(), "took_s": d.took_s, "ask": d.ask, "option": d.option, "tier": d.tier, "why": d.why,
            "sure_percent": d.sure_percent, "by_clock": d.by_clock, "read": d.read,
            "looked_at": d.looked.iter().map(|(t, what)| json!({ "time_s": t.seconds(), "what": what })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "marks": judgement.marks.iter().map(|m| json!({
            "id": m.id, "met": m.met, "margin": m.margin, "unit": m.unit, "time_s": m.when.map(|t| t.seconds()), "rule": m.rule,
        })).collect::<Vec<_>>(),
        "sizing": judgement.sizing.iter().map(|s| json!({
            "what": s.what, "plane": s.plane, "run": s.run.map(|r| json!({ "number": r.0, "time_s": r.1.seconds() })),
            "said_mm": s.said_mm, "true_mm": s.against.map(|a| a.true_mm), "z": s.against.map(|a| a.z), "time_s": s.at.seconds(),
            "readers": s.readers.map(|r| json!({ "count": r.count, "mean_mm": r.mean_mm, "sd_mm": r.sd_mm, "z": r.z })),
        })).collect::<Vec<_>>(),
        "risks": judgement.risks.iter().map(|r| json!({
            "time_s": r.at.seconds(), "id": r.id, "probability": r.probability, "struck": r.struck, "because": r.because,
        })).collect::<Vec<_>>(),
        "risks_in_all": sums(&judgement.risks).iter().map(|s| json!({
            "id": s.id, "times": s.times, "probability": s.accrued, "struck": s.struck,
        })).collect::<Vec<_>>(),
        "outcomes": cause::chains(record).iter().map(|c| json!({
            "time_s": c.at.seconds(), "outcome": c.outcome, "because": c.links,
        })).collect::<Vec<_>>(),
        "what_ifs": what_ifs.iter().map(|w| what_if(judgement, w)).collect::<Vec<_>>(),
    })
}

fn what_if(judgement: &Judgement, w: &WhatIf) -> Value {
    let o = &w.outlook;
    json!({
        "ask": judgement.decisions.iter().find(|d| d.event == w.event).map(|d| &d.ask),
        "option": w.option,
        "ending": o.ending.as_ref().map(|e| &e.0),
        "lost_ml": o.lost_ml,
        "lowest_sbp_mmhg": o.lowest_sbp.map(|l| l.0),
        "cord_percent": o.cord_percent,
        "leak_ml_min": o.leak_ml_min,
        "risks": o.risks.iter().map(|s| json!({ "id": s.id, "probability": s.accrued, "struck": s.struck })).collect::<Vec<_>>(),
    })
}
