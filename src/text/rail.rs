//! The rail drawn in characters: one ruler from the valve to the groin, with all that lies on it.

use super::style::{Ink, Page};
use crate::scenario::order::Mark;
use crate::session::view::{ItemView, LineView, RailView};
use std::io::{self, Write};

/// Columns before the ruler.
const LABEL: usize = 10;

/// Draws the rail.
pub fn draw(page: &mut Page<impl Write>, rail: &RailView) -> io::Result<()> {
    let length = rail.lines.iter().map(|l| l.entry_mm).fold(rail.length_mm, f64::max).max(1.0);
    let scale =
        Scale { length_mm: length, columns: page.look.width.saturating_sub(LABEL + 1).clamp(30, 160) };
    row(page, Ink::Faint, "mm", &ruler(&scale))?;
    for cells in zones(&scale, rail) {
        row(page, Ink::Faint, "zone", &cells)?;
    }
    let ostia: Vec<(String, f64)> = rail.ostia.iter().map(|(v, at)| (v.label().to_owned(), *at)).collect();
    flags(page, &scale, "branches", &ostia)?;
    for (label, from, to) in &rail.lesions {
        let mut cells = blank(&scale);
        fill(&mut cells, scale.column(*from), scale.column(*to), '#');
        let text = format!(" {label} {from:.0} to {to:.0}");
        let at = scale.column(*to) + 1;
        write_at(&mut cells, at, &text);
        row(page, Ink::Warn, "lesion", &cells)?;
    }
    let marks: Vec<(String, f64)> = rail.marks.iter().map(|(m, at)| (mark(*m), *at)).collect();
    flags(page, &scale, "marks", &marks)?;
    for (label, from, to) in &rail.grafts {
        let mut cells = blank(&scale);
        fill(&mut cells, scale.column(*from), scale.column(*to), 'X');
        let text = format!(" {label}: {from:.0} to {to:.0}");
        let at = scale.column(*to) + 1;
        write_at(&mut cells, at, &text);
        row(page, Ink::Strong, "graft", &cells)?;
    }
    for line in &rail.lines {
        draw_line(page, &scale, line)?;
    }
    Ok(())
}

/// Each line's stack in words, innermost first.
pub fn stacks(page: &mut Page<impl Write>, rail: &RailView) -> io::Result<()> {
    if rail.lines.is_empty() {
        return page.line("No access is open.");
    }
    for line in &rail.lines {
        page.ink(Ink::Strong, &format!("{} (entry at {:.0} mm)", line.site.label(), line.entry_mm))?;
        if line.items.is_empty() {
            page.line("  nothing on it")?;
        }
        for item in &line.items {
            page.line(&format!("  {:<28} {}{}", item.device, place(item), state(item)))?;
        }
    }
    Ok(())
}

fn place(item: &ItemView) -> String {
    let end = if item.kind == "graft" { "first edge" } else { "tip" };
    format!("{end} at {:.0} mm", item.tip_mm)
}

fn state(item: &ItemView) -> String {
    match (item.kind, item.state) {
        ("graft", Some(mm)) if mm > 0.0 => format!(", {mm:.0} mm unsheathed"),
        ("balloon", Some(ml)) if ml > 0.0 => format!(", holds {ml:.0} mL"),
        _ => String::new(),
    }
}

struct Scale {
    length_mm: f64,
    columns: usize,
}

impl Scale {
    fn column(&self, mm: f64) -> usize {
        let x = (mm / self.length_mm).clamp(0.0, 1.0) * (self.columns - 1) as f64;
        x.round() as usize
    }
}

fn blank(scale: &Scale) -> Vec<char> {
    vec![' '; scale.columns]
}

fn row(page: &mut Page<impl Write>, ink: Ink, label: &str, cells: &[char]) -> io::Result<()> {
    let text: String = cells.iter().collect();
    page.ink(ink, format!("{label:<LABEL$}{text}").trim_end())
}

fn fill(cells: &mut [char], from: usize, to: usize, with: char) {
    for cell in cells.iter_mut().take(to + 1).skip(from) {
        *cell = with;
    }
}

/// Writes text from a column on; where it would run off, it ends at the edge.
fn write_at(cells: &mut [char], at: usize, text: &str) {
    let length = text.chars().count();
    let at = at.min(cells.len().saturating_sub(length));
    for (cell, c) in cells[at..].iter_mut().zip(text.chars()) {
        *cell = c;
    }
}

fn ruler(scale: &Scale) -> Vec<char> {
    let mut cells = vec!['.'; scale.columns];
    let step = if scale.length_mm > 250.0 { 50 } else { 20 };
    for mm in (0..=scale.length_mm as u32).step_by(step) {
        let at = scale.column(f64::from(mm));
        let text = format!("|{mm}");
        if at + text.len() <= cells.len() {
            write_at(&mut cells, at, &text);
        }
    }
    cells
}

/// The zones' names, each at its middle; neighbours that would run into each other share no row.
fn zones(scale: &Scale, rail: &RailView) -> Vec<Vec<char>> {
    let mut rows: Vec<Vec<char>> = Vec::new();
    for (label, from, to) in &rail.zones {
        let short = label.strip_prefix("zone ").unwrap_or(label);
        let (a, b) = (scale.column(*from), scale.column(*to));
        let text = format!("<{short}>");
        let width = text.chars().count();
        let at = ((a + b) / 2).saturating_sub(width / 2).min(scale.columns.saturating_sub(width));
        let free =
            |r: &Vec<char>| r[at.saturating_sub(1)..(at + width).min(r.len())].iter().all(|c| *c == ' ');
        let i = rows.iter().position(free).unwrap_or(rows.len());
        if i == rows.len() {
            rows.push(blank(scale));
        }
        write_at(&mut rows[i], at, &text);
    }
    rows
}

/// Pins with their names: `^left subclavian 128`, as many rows as they need.
fn flags(page: &mut Page<impl Write>, scale: &Scale, label: &str, pins: &[(String, f64)]) -> io::Result<()> {
    let mut rows: Vec<Vec<char>> = Vec::new();
    for (name, mm) in pins {
        let text = format!("^{name} {mm:.0}");
        let width = text.chars().count();
        let pin = scale.column(*mm);
        // The name stands to the right of its pin, at the far end to the left of it.
        let (at, text) = if pin + width <= scale.columns {
            (pin, text)
        } else {
            ((pin + 1).saturating_sub(width), format!("{name} {mm:.0}^"))
        };
        let free =
            |r: &Vec<char>| r[at.saturating_sub(1)..(at + width + 1).min(r.len())].iter().all(|c| *c == ' ');
        let i = rows.iter().position(free).unwrap_or(rows.len());
        if i == rows.len() {
            rows.push(blank(scale));
        }
        write_at(&mut rows[i], at, &text);
    }
    for (i, cells) in rows.iter().enumerate() {
        row(page, Ink::Plain, if i == 0 { label } else { "" }, cells)?;
    }
    Ok(())
}

/// One row for each device, from its tip to the entry.
fn draw_line(page: &mut Page<impl Write>, scale: &Scale, line: &LineView) -> io::Result<()> {
    let side = line.site.label().split_whitespace().next().unwrap_or("line").to_owned();
    if line.items.is_empty() {
        let mut cells = blank(scale);
        cells[scale.column(line.entry_mm)] = 'o';
        return row(page, Ink::Plain, &side, &cells);
    }
    for (i, item) in line.items.iter().enumerate() {
        let with = match item.kind {
            "wire" => '-',
            "catheter" => '=',
            "sheath" => '%',
            "graft" => '#',
            "balloon" => '+',
            _ => '~',
        };
        let mut cells = blank(scale);
        let (tip, entry) = (scale.column(item.tip_mm), scale.column(line.entry_mm));
        fill(&mut cells, tip.min(entry), tip.max(entry), with);
        cells[tip] = '<';
        let text = format!(" {} {:.0}{} ", item.device, item.tip_mm, state(item));
        let room = tip.max(entry).saturating_sub(tip.min(entry) + 1);
        let at = if text.chars().count() < room {
            tip.min(entry) + 2
        } else {
            tip.min(entry).saturating_sub(text.chars().count())
        };
        write_at(&mut cells, at, &text);
        row(page, Ink::Plain, if i == 0 { &side } else { "" }, &cells)?;
    }
    Ok(())
}

fn mark(mark: Mark) -> String {
    mark.id().replace('_', " ")
}
