//! The rail of one moment as SVG: the ruler from valve to groin with branches, lesion, marks, grafts and what lay on each line.

use crate::session::view::RailView;
use maud::{Markup, html};
use std::fmt::Write;

const W: f64 = 960.0;
const LEFT: f64 = 8.0;
const BAR: f64 = 88.0;
const THICK: f64 = 14.0;
const ROW: f64 = 23.0;

/// The drawing; nothing where there is no ruler.
pub fn drawn(rail: &RailView) -> Markup {
    if rail.length_mm <= 0.0 {
        return html! {};
    }
    let x = |mm: f64| LEFT + mm.clamp(0.0, rail.length_mm) / rail.length_mm * (W - 2.0 * LEFT);
    let at = |mm: f64| format!("{:.1}", x(mm));
    let wide = |a: f64, b: f64| format!("{:.1}", (x(b) - x(a)).max(1.0));
    let items: usize = rail.lines.iter().map(|l| l.items.len()).sum();
    let height = BAR + THICK + 24.0 + ROW * items as f64;
    let rows = rail.lines.iter().flat_map(|l| l.items.iter().map(move |i| (l, i))).enumerate();
    html! {
        div.rail tabindex="0" role="group" aria-label="Rail" { svg viewBox=(format!("0 0 {W} {height:.0}")) role="img" aria-label=(told(rail)) {
            rect.aorta x=(at(0.0)) y=(BAR) width=(wide(0.0, rail.length_mm)) height=(THICK) {}
            @for (_, from, to) in &rail.lesions { rect.lesion x=(at(*from)) y=(BAR - 3.0) width=(wide(*from, *to)) height=(THICK + 6.0) {} }
            @for (_, from, to) in &rail.grafts { rect.graft x=(at(*from)) y=(BAR + 3.0) width=(wide(*from, *to)) height=(THICK - 6.0) {} }
            @for (label, place) in spread(rail) {
                line.grid x1=(at(place.0)) x2=(format!("{:.1}", place.1 - 2.0)) y1=(BAR) y2=(BAR - 8.0) {}
                text.tick transform=(format!("translate({:.1} {:.1}) rotate(-38)", place.1, BAR - 9.0)) { (label) }
            }
            @for (mark, mm, label_x) in labelled(rail) {
                path.mark d=(format!("M{0:.1} {1:.1}l-5 9h10z", x(mm), BAR + THICK + 1.0)) {}
                text.tick x=(format!("{label_x:.1}")) y=(BAR + THICK + 11.0) { (mark) }
            }
            @for (i, (line, item)) in rows {
                line class={ "item " (item.kind) } x1=(at(line.entry_mm.min(rail.length_mm))) x2=(at(item.tip_mm)) y1=(row_y(i)) y2=(row_y(i)) {}
                @let right = x(item.tip_mm) > 0.6 * W;
                text.tick x=(format!("{:.1}", if right { W - LEFT } else { x(item.tip_mm) })) y=(row_y(i) - 4.0) text-anchor=(if right { "end" } else { "start" }) { (item.label) }
            }
        } }
    }
}

fn row_y(i: usize) -> f64 {
    BAR + THICK + 36.0 + ROW * i as f64
}

/// Marks in order, with the place for a label that does not lie on the one before.
fn labelled(rail: &RailView) -> Vec<(String, f64, f64)> {
    let mut marks: Vec<_> = rail.marks.iter().collect();
    marks.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut free = f64::NEG_INFINITY;
    marks
        .into_iter()
        .map(|(mark, mm)| {
            let name = mark.id().replace('_', " ");
            let x = (LEFT + mm / rail.length_mm * (W - 2.0 * LEFT) + 7.0).max(free);
            free = x + 5.6 * name.len() as f64 + 14.0;
            (name, *mm, x)
        })
        .collect()
}

/// Ostia with their place along the ruler and where the label has room.
fn spread(rail: &RailView) -> Vec<(&'static str, (f64, f64))> {
    let mut ostia: Vec<_> = rail.ostia.iter().filter(|(_, mm)| *mm <= rail.length_mm).collect();
    ostia.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut last = f64::NEG_INFINITY;
    let place = |mm: f64| LEFT + mm / rail.length_mm * (W - 2.0 * LEFT);
    ostia
        .into_iter()
        .map(|(name, mm)| {
            last = (place(*mm) + 3.0).max(last + 18.0);
            (name.label().trim_end_matches(" artery"), (*mm, last))
        })
        .collect()
}

/// What lies where, in words.
pub fn told(rail: &RailView) -> String {
    let mut out = String::from("The rail, mm from the aortic valve.");
    for (label, from, to) in &rail.lesions {
        let _ = write!(out, " {label} from {from:.0} to {to:.0}.");
    }
    for (mark, mm) in &rail.marks {
        let _ = write!(out, " Mark {} at {mm:.0}.", mark.id().replace('_', " "));
    }
    for (label, from, to) in &rail.grafts {
        let _ = write!(out, " {label} released from {from:.0} to {to:.0}.");
    }
    for line in &rail.lines {
        for item in &line.items {
            let _ = write!(out, " {}: {} with its tip at {:.0}.", line.site.label(), item.label, item.tip_mm);
        }
    }
    if rail.lines.iter().all(|l| l.items.is_empty()) {
        out.push_str(" Nothing lies in the vessels.");
    }
    out
}
