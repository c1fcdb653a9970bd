//! Cause chains: from an outcome back to the orders that led to it, by recorded events and the numbers that they read.

use crate::session::Session;
use crate::session::event::{Event, EventKind, PlacedFacts, Tick};
use crate::session::tell::figure;

/// One outcome with what led to it, nearest first.
#[derive(Clone, Debug, PartialEq)]
pub struct Chain {
    /// When it was first so.
    pub at: Tick,
    /// The outcome.
    pub outcome: String,
    /// Links, nearest first.
    pub links: Vec<String>,
}

/// The chains of everything that came of the session.
pub fn chains(session: &Session) -> Vec<Chain> {
    let events = session.events();
    let mut out = Vec::new();
    let mut told = [false; 4];
    for event in events {
        match &event.kind {
            EventKind::Leak { ml_min } => {
                for (i, name) in ["Ia", "Ib", "II", "III"].iter().enumerate() {
                    if ml_min[i] > 10.0 && !told[i] {
                        told[i] = true;
                        out.push(leak(session, event, name, ml_min[i], i));
                    }
                }
            }
            EventKind::Risk { id, probability, because, struck: true } => {
                let mut links: Vec<String> = because
                    .iter()
                    .enumerate()
                    .map(|(i, (why, x))| {
                        if i == 0 {
                            format!("base {:.1} %: {why}", 100.0 * x)
                        } else {
                            format!("odds x {x:.2}: {why}")
                        }
                    })
                    .collect();
                links.extend(ordered(session, event));
                let outcome =
                    format!("{} (computed chance {:.1} %)", id.replace('_', " "), 100.0 * probability);
                out.push(Chain { at: event.at, outcome, links });
            }
            EventKind::Placed(facts) => {
                for (vessel, open) in facts.covered.iter().filter(|c| c.1 < 0.5) {
                    let outcome = format!("{} covered, {:.0} % left open", vessel.label(), 100.0 * open);
                    let mut links = landing(facts);
                    links.extend(ordered(session, event));
                    out.push(Chain { at: event.at, outcome, links });
                }
            }
            _ => {}
        }
    }
    out.extend(organs(session));
    out
}

fn leak(session: &Session, event: &Event, name: &str, ml_min: f64, class: usize) -> Chain {
    let mut links = Vec::new();
    let placed = session.events()[..=event.seq as usize].iter().rev().find_map(|e| match &e.kind {
        EventKind::Placed(f) => Some((e, f)),
        _ => None,
    });
    if let Some((at, facts)) = placed {
        let end = usize::from(class == 1);
        links.push(format!("all-round contact {} mm at that end", figure(facts.seal_mm[end], "")));
        if class == 0 {
            links.push(format!(
                "widest gap {} mm, {:.0} degrees from the outer curve; beak {} mm; contact on the inner curve {} mm",
                figure(facts.gap_mm, ""),
                facts.gap_angle_deg,
                figure(facts.beak_mm, ""),
                figure(facts.inner_mm, "")
            ));
        }
        links.push(format!("oversizing {} % there", figure(facts.oversize_percent[end], "")));
        if facts.fold_mm2 > 0.5 {
            links.push(format!("fabric folds, mouth {} mm2", figure(facts.fold_mm2, "")));
        }
        links.extend(landing(facts));
        links.extend(ordered(session, at));
    }
    Chain { at: event.at, outcome: format!("type {name} leak, {} mL/min", figure(ml_min, "")), links }
}

fn landing(facts: &PlacedFacts) -> Vec<String> {
    let mut out = vec![format!("fabric from {:.0} to {:.0} mm", facts.edges_mm[0], facts.edges_mm[1])];
    let off = facts.edges_mm[0] - facts.meant_mm;
    if off.abs() >= 2.0 {
        let way = if off > 0.0 { "distal" } else { "proximal" };
        out.push(format!("landed {:.0} mm {way} of the mark", off.abs()));
    }
    if facts.shift_mm.abs() >= 1.0 {
        out.push(format!("moved {:.0} mm by the stream while it opened", facts.shift_mm));
    }
    out
}

/// The order, and the decision behind it, that an event came from.
fn ordered(session: &Session, event: &Event) -> Vec<String> {
    let mut out = Vec::new();
    let mut at = event.cause;
    for _ in 0..8 {
        let Some(e) = at.and_then(|i| session.events().get(i as usize)) else { break };
        match &e.kind {
            EventKind::Ordered { order, .. } => {
                out.push(format!("ordered at {}: {}", e.at, session.order_words(order)));
            }
            EventKind::Chosen { .. } => {
                if let Some(line) = session.tell(e) {
                    out.push(format!("decided at {}: {}", e.at, line.trim_start_matches("> ")));
                }
            }
            _ => {}
        }
        at = e.cause;
    }
    out
}

/// Organs that lost a part of themselves, with how low their supply fell.
fn organs(session: &Session) -> Vec<Chain> {
    use crate::circulation::Organ;
    use crate::scenario::rule::Signals;
    use crate::scenario::written;
    let Some(last) = session.trace().last() else { return Vec::new() };
    let mut out = Vec::new();
    for organ in Organ::ALL {
        let column = format!("injured.{}", written(&organ));
        let lost = last.value(&column).unwrap_or(0.0);
        if lost < 2.0 {
            continue;
        }
        let first = session.trace().iter().find(|r| r.value(&column).unwrap_or(0.0) >= 1.0);
        let lowest = session
            .trace()
            .iter()
            .filter_map(|r| Some((r.value("map")?, r.at)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let mut links = Vec::new();
        if let Some((map, at)) = lowest {
            links.push(format!("mean pressure fell to {map:.0} mmHg at {at}"));
        }
        if organ == Organ::Cord {
            let least = session
                .trace()
                .iter()
                .filter_map(|r| Some((r.value("cord_pressure")?, r.at)))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((p, at)) = least {
                links.push(format!("cord perfusion pressure fell to {p:.0} mmHg at {at}"));
            }
            if let Some(mm) = last.value("covered_length") {
                links.push(format!("{mm:.0} mm of aorta under fabric"));
            }
        }
        if let Some(ml) = last.value("lost") {
            links.push(format!("{ml:.0} mL of blood lost in all"));
        }
        let at = first.map_or(last.at, |r| r.at);
        out.push(Chain { at, outcome: format!("{}: {lost:.0} % will not recover", organ.label()), links });
    }
    out
}
