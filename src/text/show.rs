//! What can be looked at without time passing.

use super::command::Show;
use super::style::{Ink, Page};
use super::{rail, scene};
use crate::scenario::Order;
use crate::scenario::order::CtExtent;
use crate::session::Session;
use crate::session::event::EventKind;
use crate::session::tell;
use crate::session::view::View;
use std::io::{self, Write};

/// Writes it. The ready-made orders that it listed come back, in their numbers' order.
pub fn write(page: &mut Page<impl Write>, session: &Session, what: &Show) -> io::Result<Vec<Order>> {
    let view = session.view();
    match what {
        Show::Scene => {
            page.heading(&view.phase.join(", "))?;
            rail::draw(page, &view.rail)?;
            page.line("")?;
            let c = &view.carm;
            let table = if c.table_locked { "table locked" } else { "table free" };
            let reference = match c.reference_true {
                Some(false) => ", the marks lie wrong: the picture has moved",
                _ => "",
            };
            page.line(&format!(
                "C-arm {}, field {:.0} cm, {table}{reference}",
                tell::angles(c.primary_deg, c.secondary_deg),
                c.field_mm / 10.0
            ))?;
            scene::moment(page, &view, &[])?;
        }
        Show::Rail => rail::draw(page, &view.rail)?,
        Show::Lines => rail::stacks(page, &view.rail)?,
        Show::Shelf(words) => shelf(page, &view, words)?,
        Show::Orders => return orders(page, &view),
        Show::Questions if view.asks.is_empty() => page.line("Nobody asks anything now.")?,
        Show::Questions => scene::questions(page, &view)?,
        Show::Runs if view.runs.is_empty() => page.line("No run has been taken.")?,
        Show::Runs => {
            for run in &view.runs {
                page.hanging(
                    Ink::Plain,
                    &format!("run {} at {}: ", run.number, run.at),
                    &run.seen.join("; "),
                )?;
            }
        }
        Show::Labs if view.labs.is_empty() => page.line("No result yet.")?,
        Show::Labs => {
            for (test, value, unit, at) in &view.labs {
                page.line(&format!("{at}  {test} {}", tell::figure(*value, unit)))?;
            }
        }
        Show::Tally => {
            for t in &view.tally {
                page.line(&format!("{:<22} {}", t.name, tell::figure(t.value, t.unit)))?;
            }
        }
        Show::Story => story(page, session)?,
        Show::Why(verb) => why(page, &view, verb)?,
    }
    Ok(Vec::new())
}

/// What can be ordered, by intent; what cannot, and why.
fn orders(page: &mut Page<impl Write>, view: &View) -> io::Result<Vec<Order>> {
    let mut ready = Vec::new();
    let mut groups: Vec<&str> = Vec::new();
    for offer in &view.offers {
        if !groups.contains(&offer.group) {
            groups.push(offer.group);
        }
    }
    for group in groups {
        page.ink(Ink::Strong, &tell::capital(group))?;
        for offer in view.offers.iter().filter(|o| o.group == group) {
            match &offer.blocked {
                Some(why) => page.hanging(Ink::Faint, "    ", &format!("{}: not now, {why}", offer.label))?,
                None => {
                    page.hanging(
                        Ink::Plain,
                        "    ",
                        &format!("{}: {}", offer.label, super::help::phrase(offer.verb)),
                    )?;
                    for (words, order) in &offer.ready {
                        ready.push(order.clone());
                        page.hanging(Ink::Plain, &format!("      +{} ", ready.len()), words)?;
                    }
                }
            }
        }
    }
    Ok(ready)
}

fn why(page: &mut Page<impl Write>, view: &View, verb: &str) -> io::Result<()> {
    if verb.is_empty() {
        return page.line("Why what? `why unsheathe` says what stands against unsheathing now.");
    }
    match view.offers.iter().find(|o| o.verb == verb || o.verb.starts_with(verb)) {
        Some(offer) => match &offer.blocked {
            Some(why) => page.hanging(Ink::Plain, "", &format!("{}: not now, {why}.", offer.label)),
            None => page.line(&format!("{}: nothing stands against it.", offer.label)),
        },
        None => page.line(&format!("I know no order \"{verb}\"; `orders` lists them.")),
    }
}

fn shelf(page: &mut Page<impl Write>, view: &View, words: &[String]) -> io::Result<()> {
    let mut any = false;
    for item in &view.shelf {
        let label = item.label.to_lowercase();
        let fits = |w: &String| {
            item.id.contains(w.as_str())
                || label.contains(w.as_str())
                || item.kind.starts_with(w.trim_end_matches('s'))
        };
        if words.iter().all(fits) {
            any = true;
            page.line(&format!("  {:<28} {:<9} {} left  {}", item.id, item.kind, item.left, item.label))?;
        }
    }
    if any { Ok(()) } else { page.line("Nothing like that on the shelf; `shelf` alone lists everything.") }
}

/// The call, the history, and of the CT what has been read.
fn story(page: &mut Page<impl Write>, session: &Session) -> io::Result<()> {
    let story = &session.case().case.story;
    page.para(&story.call)?;
    for line in &story.history {
        page.hanging(Ink::Plain, "  - ", line)?;
    }
    let read = |extent: CtExtent| {
        let mut done = false;
        for e in session.events() {
            if let EventKind::Ordered { order: Order::ReadCt { extent: x }, .. } = &e.kind {
                done |= *x >= extent
                    && session
                        .events()
                        .iter()
                        .any(|d| d.cause == Some(e.seq) && matches!(&d.kind, EventKind::Done { .. }));
            }
        }
        done
    };
    if read(CtExtent::Chest) {
        page.ink(Ink::Strong, "CT")?;
        let whole = if read(CtExtent::WholeAorta) { story.ct_whole.as_slice() } else { &[] };
        for line in story.ct_chest.iter().chain(whole) {
            page.hanging(Ink::Plain, "  - ", line)?;
        }
    } else {
        page.line("No CT has been read.")?;
    }
    Ok(())
}
