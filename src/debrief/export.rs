//! The same as tables: CSV for a spreadsheet, JSON for a program.

use super::cause;
use crate::assess::Judgement;
use crate::session::Session;
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

/// The whole judgement as JSON.
pub fn json(session: &Session, judgement: &Judgement) -> Value {
    let case = &session.case().case;
    json!({
        "training_only": crate::cli::TRAINING_ONLY,
        "engine": env!("CARGO_PKG_VERSION"),
        "case": { "id": case.id, "version": case.version, "digest": session.case().digest },
        "seed": session.seed(),
        "patient_time_s": session.now().seconds(),
        "ending": session.ended().map(|e| &e.id),
        "decision_score": judgement.decision_score(),
        "step_score": judgement.step_score(),
        "dangers": judgement.dangers(),
        "brier": judgement.brier.map(|b| json!({"answers": b.answers, "score": b.score, "overconfidence": b.overconfidence})),
        "decisions": judgement.decisions.iter().map(|d| json!({
            "time_s": d.at.seconds(), "ask": d.ask, "option": d.option, "tier": d.tier, "why": d.why,
            "sure_percent": d.sure_percent, "by_clock": d.by_clock,
        })).collect::<Vec<_>>(),
        "marks": judgement.marks.iter().map(|m| json!({
            "id": m.id, "met": m.met, "margin": m.margin, "time_s": m.when.map(|t| t.seconds()), "rule": m.rule,
        })).collect::<Vec<_>>(),
        "risks": judgement.risks.iter().map(|r| json!({
            "time_s": r.at.seconds(), "id": r.id, "probability": r.probability, "struck": r.struck,
        })).collect::<Vec<_>>(),
        "outcomes": cause::chains(session).iter().map(|c| json!({
            "time_s": c.at.seconds(), "outcome": c.outcome, "because": c.links,
        })).collect::<Vec<_>>(),
    })
}
