//! How the rail looks: geometry of the ruler, the vessel with what is in it, and the lanes of devices.

use super::say;
use super::theme::{self, Look};
use crate::session::view::{ItemView, LineView, RailView};
use egui::{Align2, Color32, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};

/// Where millimetres lie on the screen.
pub struct Ruler {
    rect: Rect,
    from: f64,
    to: f64,
}

impl Ruler {
    /// Room for names above the vessel.
    pub const HEAD: f32 = 40.0;
    /// The vessel.
    pub const BAND: f32 = 34.0;
    /// One line.
    pub const LANE: f32 = 36.0;
    /// The scale.
    pub const FOOT: f32 = 20.0;
    /// Flags of the marks.
    pub const FLAGS: f32 = 18.0;
    /// Room for the names of the lines.
    const LEFT: f32 = 108.0;
    const RIGHT: f32 = 20.0;

    /// Shows `from` to `to` mm across `rect`.
    pub fn new(rect: Rect, from: f64, to: f64) -> Self {
        Self { rect, from, to: to.max(from + 1.0) }
    }
    /// Left end of the scale.
    pub fn x0(&self) -> f32 {
        self.rect.left() + Self::LEFT
    }
    /// Right end of the scale.
    pub fn x1(&self) -> f32 {
        self.rect.right() - Self::RIGHT
    }
    /// Where a millimetre lies.
    pub fn x(&self, mm: f64) -> f32 {
        self.x0() + ((mm - self.from) / (self.to - self.from)) as f32 * (self.x1() - self.x0())
    }
    /// Which millimetre lies there.
    pub fn mm(&self, x: f32) -> f64 {
        self.from + f64::from((x - self.x0()) / (self.x1() - self.x0())) * (self.to - self.from)
    }
    /// The vessel.
    pub fn band(&self) -> Rect {
        let top = self.rect.top() + Self::HEAD;
        Rect::from_min_max(pos2(self.x0(), top), pos2(self.x1(), top + Self::BAND))
    }
    /// Lane `i`.
    pub fn lane(&self, i: usize) -> Rect {
        let top = self.band().bottom() + Self::FOOT + i as f32 * Self::LANE;
        Rect::from_min_max(pos2(self.x0(), top), pos2(self.x1(), top + Self::LANE))
    }
    fn shows(&self, mm: f64) -> bool {
        mm >= self.from && mm <= self.to
    }
    /// The part of a stretch that is shown.
    fn stretch(&self, a: f64, b: f64) -> Option<(f32, f32)> {
        let (a, b) = (a.min(b).max(self.from), a.max(b).min(self.to));
        (b > a).then(|| (self.x(a), self.x(b)))
    }
}

/// The vessel with zones, ostia, lesion, grafts, marks and the scale.
pub fn paint_vessel(painter: &Painter, ruler: &Ruler, rail: &RailView, caret: Option<f64>, look: &Look) {
    let (ink, band) = (&look.ink, ruler.band());
    // The lesion bulges out of the wall, so it is painted first; its name stands on the upper row of names.
    let mut taken = Vec::new();
    for (label, from, to) in &rail.lesions {
        if let Some((a, b)) = ruler.stretch(*from, *to) {
            lesion(painter, band, a, b, look);
            let at = pos2(0.5 * (a + b), band.top() - 30.0);
            taken.push(painter.text(at, Align2::CENTER_CENTER, label, theme::bold(13.0), ink.lesion));
        }
    }
    painter.rect_filled(band, 6.0, ink.vessel);
    zones(painter, ruler, rail, look);
    let grafts: Vec<(&str, f32, f32)> = rail
        .grafts
        .iter()
        .filter_map(|(label, from, to)| ruler.stretch(*from, *to).map(|(a, b)| (label.as_str(), a, b)))
        .collect();
    for (_, a, b) in &grafts {
        fabric(painter, Rect::from_x_y_ranges(*a..=*b, band.shrink2(vec2(0.0, 3.0)).y_range()), ink.fabric);
    }
    let mut named = Vec::new();
    for (label, a, b) in grafts {
        named.extend(graft_name(painter, label, (a, b), band.center().y, &named, look));
    }
    for wall in [band.top(), band.bottom()] {
        painter.hline(band.x_range(), wall, Stroke::new(2.0, ink.lesion.gamma_multiply(0.55)));
    }
    ostia(painter, ruler, rail, &taken, look);
    scale(painter, ruler, look);
    let foot = ruler.lane(rail.lines.len().max(1) - 1).bottom() + Ruler::FLAGS;
    let mut last = f32::MIN;
    let mut marks: Vec<_> = rail.marks.iter().filter(|m| ruler.shows(m.1)).collect();
    marks.sort_by(|a, b| a.1.total_cmp(&b.1));
    for (mark, mm) in marks {
        let x = ruler.x(*mm);
        painter.extend(Shape::dashed_line(
            &[pos2(x, band.top() - 2.0), pos2(x, foot)],
            Stroke::new(1.5, ink.accent),
            5.0,
            4.0,
        ));
        let galley = painter.layout_no_wrap(
            say::mark_short(*mark, look.words).to_owned(),
            theme::bold(12.0),
            ink.on_accent,
        );
        let left = (x - 0.5 * galley.size().x - 5.0).max(last + 3.0);
        let flag = Rect::from_min_size(pos2(left, foot - 15.0), galley.size() + vec2(10.0, 2.0));
        last = flag.right();
        painter.rect_filled(flag, 4.0, ink.accent);
        painter.galley(flag.min + vec2(5.0, 1.0), galley, ink.on_accent);
    }
    if let Some(at) = caret.filter(|c| ruler.shows(*c)) {
        let x = ruler.x(at);
        painter.line_segment([pos2(x, band.top() - 6.0), pos2(x, foot)], Stroke::new(1.5, ink.text));
        painter.circle_filled(pos2(x, band.top() - 6.0), 4.0, ink.text);
    }
}

/// One line: its name, its devices nested, and a ghost where a held tip would go.
pub fn paint_lane(
    painter: &Painter,
    ruler: &Ruler,
    i: usize,
    line: &LineView,
    held: Option<(&str, f64)>,
    look: &Look,
) {
    let (ink, lane) = (&look.ink, ruler.lane(i));
    let y = lane.top() + 13.0;
    painter.text(
        pos2(ruler.x0() - 12.0, y),
        Align2::RIGHT_CENTER,
        say::site(line.site),
        theme::bold(14.0),
        ink.text,
    );
    painter.hline(lane.x_range(), y, Stroke::new(1.0, ink.line.gamma_multiply(0.6)));
    let entry = line.entry_mm;
    if ruler.shows(entry) {
        painter.circle_stroke(pos2(ruler.x(entry), y), 5.0, Stroke::new(1.5, ink.soft));
    }
    // The outermost first, so that what lies inside stays visible.
    for item in line.items.iter().rev() {
        device(painter, ruler, y, item, entry, look);
    }
    if let Some((name, to)) = held
        && let Some(item) = line.items.iter().find(|d| d.device == name)
        && let Some((a, b)) = ruler.stretch(item.tip_mm, to)
    {
        painter.extend(Shape::dashed_line(&[pos2(a, y), pos2(b, y)], Stroke::new(2.0, ink.accent), 4.0, 3.0));
        let x = ruler.x(to.clamp(ruler.from, ruler.to));
        painter.text(
            pos2(x, y - 12.0),
            Align2::CENTER_CENTER,
            format!("{to:.0}"),
            theme::bold(12.0),
            ink.accent,
        );
    }
    tip_names(painter, ruler, lane, line, look);
}

/// The graft's name on its fabric, or as much of its end, where the sizes stand, as has room between its ends and beside the names
/// that stand there already; all of it is in the text twin. Returns where it stands.
fn graft_name(
    painter: &Painter,
    label: &str,
    (a, b): (f32, f32),
    y: f32,
    named: &[Rect],
    look: &Look,
) -> Option<Rect> {
    let after_comma = |text: &'_ str| text.split_once(", ").map(|(_, rest)| rest.to_owned());
    let mut text = Some(label.to_owned());
    while let Some(name) = text {
        let galley = painter.layout_no_wrap(name.clone(), theme::bold(13.0), look.ink.text);
        let at = Rect::from_center_size(pos2(0.5 * (a + b), y), galley.size() + vec2(8.0, 0.0));
        if galley.size().x + 14.0 < b - a && !named.iter().any(|n| n.intersects(at)) {
            painter.rect_filled(at, 4.0, look.ink.film.gamma_multiply(0.85));
            painter.galley(at.min + vec2(4.0, 0.0), galley, look.ink.text);
            return Some(at);
        }
        text = after_comma(&name);
    }
    None
}

fn zones(painter: &Painter, ruler: &Ruler, rail: &RailView, look: &Look) {
    let band = ruler.band();
    for (i, (label, from, to)) in rail.zones.iter().enumerate() {
        let Some((a, b)) = ruler.stretch(*from, *to) else { continue };
        let cell = Rect::from_x_y_ranges(a..=b, band.y_range());
        if i % 2 == 1 {
            painter.rect_filled(cell, 0.0, Color32::from_black_alpha(50));
        }
        // The number alone where the whole name has no room.
        let number = label.rsplit(' ').next().unwrap_or(label);
        for text in [label.as_str(), number] {
            let galley = painter.layout_no_wrap(text.to_owned(), theme::serif(14.0), look.ink.soft);
            if galley.size().x + 3.0 < cell.width() {
                painter.galley(cell.center() - 0.5 * galley.size(), galley, look.ink.soft);
                break;
            }
        }
    }
}

/// Names above the vessel, on two rows where they would touch each other or what is `taken`.
fn ostia(painter: &Painter, ruler: &Ruler, rail: &RailView, taken: &[Rect], look: &Look) {
    let band = ruler.band();
    let mut ends = [f32::MIN; 2];
    let mut ostia: Vec<_> = rail.ostia.iter().filter(|o| ruler.shows(o.1)).collect();
    ostia.sort_by(|a, b| a.1.total_cmp(&b.1));
    for (vessel, mm) in ostia {
        let x = ruler.x(*mm);
        let galley = painter.layout_no_wrap(
            say::vessel_short(*vessel, look.words).to_owned(),
            theme::plain(13.0),
            look.ink.text,
        );
        let half = 0.5 * galley.size().x;
        let row = usize::from(x - half < ends[0] + 6.0);
        let behind = |name: &Rect| x - half < name.right() + 6.0 && x + half > name.left() - 6.0;
        if row == 1 && (x - half < ends[1] + 6.0 || taken.iter().any(behind)) {
            // No room on either row: the stub alone, the name is in the text twin.
            stub(painter, x, band.top(), 6.0, look);
            continue;
        }
        ends[row] = x + half;
        let y = band.top() - 14.0 - 14.0 * row as f32;
        stub(painter, x, band.top(), 6.0 + 14.0 * row as f32, look);
        painter.galley(pos2(x - half, y - 0.5 * galley.size().y - 2.0), galley, look.ink.text);
    }
}

fn stub(painter: &Painter, x: f32, top: f32, height: f32, look: &Look) {
    painter.line_segment(
        [pos2(x, top - height), pos2(x, top)],
        Stroke::new(if height > 8.0 { 1.0 } else { 3.0 }, look.ink.lesion),
    );
    painter.line_segment(
        [pos2(x, top - 5.0), pos2(x, top)],
        Stroke::new(4.0, look.ink.lesion.gamma_multiply(0.8)),
    );
}

/// A tick each 10 mm, a number each 50.
fn scale(painter: &Painter, ruler: &Ruler, look: &Look) {
    let top = ruler.band().bottom() + 2.0;
    let step = if ruler.to - ruler.from > 320.0 { 50 } else { 20 };
    let mut mm = (ruler.from / 10.0).ceil() as i64 * 10;
    while (mm as f64) <= ruler.to {
        let x = ruler.x(mm as f64);
        let long = mm % step == 0;
        painter.line_segment(
            [pos2(x, top), pos2(x, top + if long { 5.0 } else { 3.0 })],
            Stroke::new(1.0, look.ink.faint),
        );
        if long {
            painter.text(
                pos2(x, top + 11.0),
                Align2::CENTER_CENTER,
                mm.to_string(),
                theme::plain(11.0),
                look.ink.faint,
            );
        }
        mm += 10;
    }
}

/// A hatched bulge on both sides of the wall.
fn lesion(painter: &Painter, band: Rect, a: f32, b: f32, look: &Look) {
    let out = 9.0;
    let bulge: Vec<Pos2> = (0..=32)
        .map(|i| {
            let t = i as f32 / 32.0;
            let h = 4.0 * t * (1.0 - t) * out;
            pos2(a + t * (b - a), band.top() - h)
        })
        .chain((0..=32).rev().map(|i| {
            let t = i as f32 / 32.0;
            pos2(a + t * (b - a), band.bottom() + 4.0 * t * (1.0 - t) * 3.0)
        }))
        .collect();
    painter.add(Shape::Path(egui::epaint::PathShape {
        points: bulge,
        closed: true,
        fill: look.ink.lesion.gamma_multiply(0.45),
        stroke: Stroke::new(1.5, look.ink.lesion).into(),
    }));
    let mut x = a + 6.0;
    while x < b {
        let t = (x - a) / (b - a);
        let h = 4.0 * t * (1.0 - t) * out;
        painter.line_segment(
            [pos2(x, band.top()), pos2((x + 0.7 * h).min(b), band.top() - h)],
            Stroke::new(1.0, look.ink.lesion),
        );
        x += 6.0;
    }
}

/// Stent rings on fabric.
fn fabric(painter: &Painter, rect: Rect, ink: Color32) {
    painter.rect_filled(rect, 3.0, ink.gamma_multiply(0.25));
    painter.rect_stroke(rect, 3.0, Stroke::new(1.5, ink), egui::StrokeKind::Inside);
    let pitch = 7.0;
    let teeth = (rect.width() / pitch).floor().max(1.0) as usize;
    let points: Vec<Pos2> = (0..=teeth)
        .map(|i| {
            let y = if i % 2 == 0 { rect.top() + 4.0 } else { rect.bottom() - 4.0 };
            pos2(rect.left() + i as f32 * rect.width() / teeth as f32, y)
        })
        .collect();
    painter.add(Shape::line(points, Stroke::new(1.0, ink.gamma_multiply(0.8))));
}

/// A device from its entry to its tip, thick as its sort.
fn device(painter: &Painter, ruler: &Ruler, y: f32, item: &ItemView, entry: f64, look: &Look) {
    let ink = &look.ink;
    let Some((a, b)) = ruler.stretch(item.tip_mm, entry) else { return };
    let (width, colour) = match item.kind {
        "wire" => (2.0, ink.metal),
        "catheter" => (5.0, ink.plastic),
        "sheath" => (11.0, ink.plastic.gamma_multiply(0.5)),
        "graft" => (8.0, ink.fabric.gamma_multiply(0.6)),
        _ => (6.0, ink.plastic.gamma_multiply(0.8)),
    };
    painter.line_segment([pos2(a, y), pos2(b, y)], Stroke::new(width, colour));
    let toward = if entry >= item.tip_mm { 1.0 } else { -1.0 };
    match (item.kind, item.state) {
        ("graft", Some(open)) if open > 0.0 => {
            if let Some((a, b)) = ruler.stretch(item.tip_mm, item.tip_mm + toward * open) {
                fabric(painter, Rect::from_x_y_ranges(a..=b, y - 10.0..=y + 10.0), ink.fabric);
            }
        }
        ("balloon", Some(ml)) if ml > 0.0 => {
            let x = ruler.x(item.tip_mm) + 14.0 * toward as f32;
            let ball = Shape::ellipse_filled(pos2(x, y), vec2(14.0, 10.0), ink.accent.gamma_multiply(0.5));
            painter.add(ball);
        }
        _ => {}
    }
}

/// Names of the devices under their tips, pushed apart.
fn tip_names(painter: &Painter, ruler: &Ruler, lane: Rect, line: &LineView, look: &Look) {
    let mut items: Vec<_> = line.items.iter().filter(|i| ruler.shows(i.tip_mm)).collect();
    items.sort_by(|a, b| a.tip_mm.total_cmp(&b.tip_mm));
    let mut end = f32::MIN;
    for item in items {
        let galley = painter.layout_no_wrap(
            format!("{} {:.0}", item.label, item.tip_mm),
            theme::plain(12.0),
            look.ink.soft,
        );
        // A little beside the tip, whose handle is a line through this row too.
        let x = (ruler.x(item.tip_mm) + 5.0).min(ruler.x1() - galley.size().x).max(end + 10.0);
        if x + galley.size().x > ruler.x1() + Ruler::RIGHT {
            continue;
        }
        end = x + galley.size().x;
        let behind = Rect::from_min_size(pos2(x - 2.0, lane.top() + 22.0), galley.size() + vec2(4.0, 2.0));
        painter.rect_filled(behind, 3.0, look.ink.ground.gamma_multiply(0.85));
        painter.galley(pos2(x, lane.top() + 23.0), galley, look.ink.soft);
    }
}
