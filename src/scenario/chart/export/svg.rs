//! A picture of a chart as SVG: boxes in boxes, arrows with their events.

use super::super::model::{Chart, StateId, StateKind};
use super::layout::{Arrow, LETTER, LINE, PADDING, Picture, Point, Shape, layout, wrapped};
use super::{NOTICE, Words, escaped};

/// The whole picture; the states in `active` are marked.
pub fn svg<G, A>(chart: &Chart<G, A>, words: &impl Words<G, A>, active: &[StateId]) -> String {
    let picture = layout(chart, words);
    let name = escaped(words.name());
    let header = 2.0 * MARGIN + TITLE;
    let width = (picture.size.width + 2.0 * MARGIN).max(300.0).ceil();
    let notice = wrapped(NOTICE, ((width - 2.0 * MARGIN) / LETTER) as usize);
    let height = (header + picture.size.height + notice.len() as f64 * LINE + 2.0 * MARGIN).ceil();
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
         viewBox=\"0 0 {width} {height}\" role=\"img\" font-family=\"sans-serif\" font-size=\"12\">\n\
         <title>State chart: {name}</title>\n<desc>{}. {}</desc>\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"{PAPER}\"/>\n\
         <text x=\"{MARGIN}\" y=\"{}\" font-size=\"{TITLE}\" font-weight=\"bold\" fill=\"{INK}\">{name}</text>\n\
         <g transform=\"translate({} {header})\">\n",
        escaped(&described(chart)),
        escaped(NOTICE),
        MARGIN + TITLE,
        ((width - picture.size.width) / 2.0).floor(),
    );
    for shape in &picture.shapes {
        out += &drawn(chart, shape, active);
    }
    let Picture { arrows, .. } = &picture;
    arrows.iter().for_each(|arrow| out += &curve(arrow));
    arrows.iter().for_each(|arrow| out += &caption(arrow));
    out += "</g>\n";
    for (line, text) in notice.iter().rev().enumerate() {
        let y = height - MARGIN - line as f64 * LINE;
        out += &format!("<text x=\"{MARGIN}\" y=\"{y}\" fill=\"{QUIET}\">{}</text>\n", escaped(text));
    }
    out += "</svg>\n";
    out
}

const MARGIN: f64 = 16.0;
const TITLE: f64 = 18.0;
const PAPER: &str = "#fdfcf8";
const INK: &str = "#23313a";
const QUIET: &str = "#5b6870";
const FRAME: &str = "#5f7886";
const FILL: [&str; 2] = ["#eef3f1", "#ffffff"];
const ACTIVE: &str = "#f5dfa8";

/// For those who hear a picture: how many states there are and how it can end.
fn described<G, A>(chart: &Chart<G, A>) -> String {
    let states: Vec<_> =
        chart.states().filter(|&state| !matches!(chart.kind(state), StateKind::History { .. })).collect();
    let endings: Vec<_> = chart.endings().map(|state| chart.name(state)).collect();
    let endings = if endings.is_empty() { "none".to_owned() } else { endings.join(", ") };
    format!("{} states; endings: {endings}", states.len())
}

fn drawn<G, A>(chart: &Chart<G, A>, shape: &Shape, active: &[StateId]) -> String {
    let Shape { state, corner: Point { x, y }, size, lines } = shape;
    let (width, height) = (size.width, size.height);
    let (middle_x, middle_y) = (x + width / 2.0, y + height / 2.0);
    let Some(state) = *state else {
        return format!(
            "<circle cx=\"{middle_x:.1}\" cy=\"{middle_y:.1}\" r=\"{:.1}\" fill=\"{INK}\"/>\n",
            width / 2.0
        );
    };
    let kind = chart.kind(state);
    let depth = chart.state(state).depth as usize;
    let fill = if active.contains(&state) { ACTIVE } else { FILL[depth % 2] };
    let in_parallel = chart.parent(state).is_some_and(|parent| chart.kind(parent) == StateKind::Parallel);
    let dash = if in_parallel { " stroke-dasharray=\"5 4\"" } else { "" };
    let stroke = format!("fill=\"{fill}\" stroke=\"{FRAME}\"{dash}");
    if let StateKind::History { .. } = kind {
        return format!(
            "<circle cx=\"{middle_x:.1}\" cy=\"{middle_y:.1}\" r=\"{:.1}\" {stroke}><title>{}</title></circle>\n{}",
            width / 2.0,
            escaped(chart.name(state)),
            text(middle_x, middle_y + 4.0, "middle", &lines[0], false),
        );
    }
    let mut out = rect(*x, *y, width, height, &stroke);
    if kind == StateKind::Final {
        out +=
            &rect(x + 3.0, y + 3.0, width - 6.0, height - 6.0, &format!("fill=\"none\" stroke=\"{FRAME}\""));
    }
    for (line, words) in lines.iter().enumerate() {
        let at = y + PADDING + 7.0 + line as f64 * LINE;
        out += &text(middle_x, at, "middle", words, line == 0);
    }
    out
}

fn rect(x: f64, y: f64, width: f64, height: f64, stroke: &str) -> String {
    format!(
        "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{width:.1}\" height=\"{height:.1}\" rx=\"8\" {stroke}/>\n"
    )
}

fn text(x: f64, y: f64, anchor: &str, words: &str, bold: bool) -> String {
    let weight = if bold { " font-weight=\"bold\"" } else { "" };
    format!(
        "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\" fill=\"{INK}\"{weight}>{}</text>\n",
        escaped(words)
    )
}

/// Through all points, upright at each, with a head that points the way of the last stretch.
fn curve(arrow: &Arrow) -> String {
    let (Some(first), Some(last)) = (arrow.points.first(), arrow.points.last()) else { return String::new() };
    let mut path = format!("M{:.1} {:.1}", first.x, first.y);
    for pair in arrow.points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        if a.x == b.x {
            path += &format!(" L{:.1} {:.1}", b.x, b.y);
        } else {
            let half = (a.y + b.y) / 2.0;
            path += &format!(" C{:.1} {half:.1} {:.1} {half:.1} {:.1} {:.1}", a.x, b.x, b.x, b.y);
        }
    }
    let upward =
        arrow.points.iter().rev().find(|point| point.y != last.y).is_some_and(|before| before.y > last.y);
    let back = if upward { 7.0 } else { -7.0 };
    format!(
        "<path d=\"{path}\" fill=\"none\" stroke=\"{FRAME}\" stroke-width=\"1.3\"/>\n\
         <path d=\"M{x:.1} {y:.1} l-4 {back} h8 z\" fill=\"{FRAME}\"/>\n",
        x = last.x,
        y = last.y,
    )
}

/// The label over its arrow, on a ground of paper.
fn caption(arrow: &Arrow) -> String {
    let Point { x, y } = arrow.label_centre;
    let top = y - arrow.label.len() as f64 * LINE / 2.0 + 11.0;
    let lines = arrow.label.iter().enumerate().map(|(line, words)| {
        format!(
            "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\" font-size=\"11\" fill=\"{INK}\" stroke=\"{PAPER}\" \
             stroke-width=\"4\" paint-order=\"stroke\">{}</text>\n",
            top + line as f64 * LINE,
            escaped(words)
        )
    });
    lines.collect()
}
