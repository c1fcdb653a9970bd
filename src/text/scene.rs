//! The moment in a few lines, and what happens as it happens.

use super::style::{Ink, Page};
use crate::session::event::{Event, EventKind, Tick};
use crate::session::view::{AskView, View};
use std::io::{self, Write};

/// One event with its time.
pub fn event(page: &mut Page<impl Write>, event: &Event, words: &str) -> io::Result<()> {
    let ink = match &event.kind {
        EventKind::Refused { .. } | EventKind::Alarm { .. } => Ink::Warn,
        EventKind::Ended { .. } => Ink::Strong,
        EventKind::Done { .. } => Ink::Faint,
        _ => Ink::Plain,
    };
    page.hanging(ink, &format!("{:>8}  ", event.at.to_string()), words)
}

/// Monitor, phase, what is being done, open questions: whole where they are others than those `listed`, else reminded of.
pub fn moment(page: &mut Page<impl Write>, view: &View, listed: &[String]) -> io::Result<()> {
    page.line("")?;
    page.ink(Ink::Strong, &monitor(view))?;
    for job in &view.jobs {
        let until = match (job.began, job.until) {
            (Some(_), Some(t)) => format!("until {t}"),
            _ => "waits for hands".into(),
        };
        page.ink(Ink::Faint, &format!("    being done: {} ({until})", job.text))?;
    }
    if view.asks.is_empty() || !view.asks.iter().map(|a| &a.id).eq(listed) {
        return questions(page, view);
    }
    for ask in &view.asks {
        let left = left(ask, view.now).map(|left| format!(", {left} left"));
        page.ink(
            Ink::Faint,
            &format!("    still asked: {}{}", ask.id.replace('_', " "), left.unwrap_or_default()),
        )?;
    }
    Ok(())
}

/// How long a question still waits for its answer.
fn left(ask: &AskView, now: Tick) -> Option<Tick> {
    ask.closes.map(|closes| Tick(closes.0.saturating_sub(now.0)))
}

/// The open questions with their options, numbered through.
pub fn questions(page: &mut Page<impl Write>, view: &View) -> io::Result<()> {
    let mut number = 1;
    for ask in &view.asks {
        question(page, view.now, ask, &mut number)?;
    }
    Ok(())
}

fn question(page: &mut Page<impl Write>, now: Tick, ask: &AskView, number: &mut usize) -> io::Result<()> {
    page.line("")?;
    let who = if ask.who == "narrator" { String::new() } else { format!("{}: ", ask.who) };
    page.hanging(Ink::Strong, "? ", &format!("{who}{} [{}]", ask.question, ask.id))?;
    for (_, say) in &ask.options {
        page.hanging(Ink::Plain, &format!("{:>4}  ", *number), say)?;
        *number += 1;
    }
    if let Some(left) = left(ask, now) {
        page.ink(Ink::Faint, &format!("      (will not wait longer than {left})"))?;
    }
    Ok(())
}

/// `12:30  Access | ABP 92/50 (64)  HR 108  SpO2 94  ...`
pub fn monitor(view: &View) -> String {
    let v = &view.vitals;
    let p = &v.right_radial;
    let mut out = format!(
        "[{}]  BP {:.0}/{:.0} ({:.0})  HR {:.0}  SpO2 {}  T {:.1}  urine {:.0} mL/h",
        view.now,
        p.systolic_mmhg,
        p.diastolic_mmhg,
        p.mean_mmhg,
        v.heart_rate_bpm,
        v.oximeter_percent().map_or_else(|| "--".into(), |percent| format!("{percent:.0}")),
        v.temperature_c,
        v.urine_ml_h,
    );
    if let Some(phase) = view.phase.last() {
        out.push_str(&format!("   {phase}"));
    }
    if view.carm.screening {
        out.push_str("   screening");
    }
    out
}
