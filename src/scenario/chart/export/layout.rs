//! Where everything goes in a picture of a chart: states in layers from top to bottom, and the same inside
//! each state.
//!
//! An arrow counts as going down if its end is written later than its beginning; an author writes phases in
//! order, so that is nearly always so. What would run from a state to one inside it, or across regions, is
//! told in words in the state.

use super::super::model::{Chart, ROOT, StateId, StateKind, Transition};
use super::layers::{Block, End, Graph, LAYER_GAP, Run};
use super::{Words, done, label, sentence};

/// A picture's parts; lengths in pixels.
pub struct Picture {
    /// How large it is.
    pub size: Size,
    /// Outer before inner.
    pub shapes: Vec<Shape>,
    /// On top of the states.
    pub arrows: Vec<Arrow>,
}

/// Width and height.
#[derive(Clone, Copy, Default)]
pub struct Size {
    /// To the right.
    pub width: f64,
    /// Down.
    pub height: f64,
}

/// A point, to the right and down from the picture's corner.
#[derive(Clone, Copy, Debug)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

/// A state, or the dot where a state begins.
pub struct Shape {
    /// Which; none for a start dot.
    pub state: Option<StateId>,
    /// Its upper left corner.
    pub corner: Point,
    /// How large it is.
    pub size: Size,
    /// Its name, and what is told and not drawn.
    pub lines: Vec<String>,
}

/// A curve that runs up or down through its points, with a head at the end.
pub struct Arrow {
    /// From its beginning to its head.
    pub points: Vec<Point>,
    /// When it is taken, in lines.
    pub label: Vec<String>,
    /// Where those stand.
    pub label_centre: Point,
}

/// Height of a line of text.
pub(super) const LINE: f64 = 15.0;
/// Space between a frame and what is in it.
pub(super) const PADDING: f64 = 12.0;
/// Mean width of a letter; generous, since the font is the reader's.
pub(super) const LETTER: f64 = 6.8;
const WIDEST_LABEL: usize = 32;

/// Lays out a whole chart.
pub fn layout<G, A>(chart: &Chart<G, A>, words: &impl Words<G, A>) -> Picture {
    let links: Vec<Link> = chart
        .states()
        .flat_map(|state| chart.state(state).transitions.iter().chain(history_default(chart, state)))
        .filter_map(|transition| drawn(chart, words, transition))
        .collect();
    let root = block(chart, words, &links, ROOT);
    let mut picture = Picture { size: root.size, shapes: Vec::new(), arrows: Vec::new() };
    let mut ends = Vec::new();
    place(&root, Point { x: 0.0, y: 0.0 }, &mut picture, &mut ends);
    tie(&mut picture, &links, ends);
    picture
}

/// A text in lines of at most so many letters.
pub(super) fn wrapped(text: &str, widest: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    let mut length = 0;
    for word in text.split_whitespace() {
        let letters: Vec<char> = word.chars().collect();
        for piece in letters.chunks(widest) {
            if length > 0 && length + 1 + piece.len() > widest {
                lines.push(std::mem::take(&mut line));
                length = 0;
            }
            if length > 0 {
                line.push(' ');
                length += 1;
            }
            line.extend(piece);
            length += piece.len();
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// An arrow to be drawn among the states directly inside `within`.
struct Link {
    source: StateId,
    target: StateId,
    within: StateId,
    label: Vec<String>,
}

/// The default of a history state, which leads out of it like a transition.
fn history_default<G, A>(chart: &Chart<G, A>, state: StateId) -> Option<&Transition<G, A>> {
    let found = chart.state(state);
    found.initial.as_ref().filter(|_| matches!(found.kind, StateKind::History { .. }))
}

/// A transition as an arrow; `None` where one end lies in the other or beside it in a parallel state: those
/// are told.
fn drawn<G, A>(chart: &Chart<G, A>, words: &impl Words<G, A>, transition: &Transition<G, A>) -> Option<Link> {
    let source = transition.source;
    let (&first, rest) = transition.target.split_first()?;
    let target = match rest {
        [] => first,
        _ => chart.around(first).find(|&around| rest.iter().all(|&state| chart.is_inside(state, around)))?,
    };
    let within = chart.around(source).find(|&around| chart.is_inside(target, around))?;
    let nested = source == target || chart.is_inside(source, target) || chart.is_inside(target, source);
    if nested || chart.kind(within) == StateKind::Parallel {
        return None;
    }
    Some(Link { source, target, within, label: wrapped(&label(words, transition), WIDEST_LABEL) })
}

fn block<G, A>(chart: &Chart<G, A>, words: &impl Words<G, A>, links: &[Link], id: StateId) -> Block {
    let state = chart.state(id);
    let lines = told(chart, words, id);
    let text = Size {
        width: lines.iter().map(|line| line.chars().count()).max().unwrap_or(0) as f64 * LETTER
            + 2.0 * PADDING,
        height: lines.len() as f64 * LINE + 2.0 * PADDING - 6.0,
    };
    if let StateKind::History { .. } = state.kind {
        let size = Size { width: 28.0, height: 28.0 };
        return Block { state: Some(id), size, lines, inside: Vec::new(), runs: Vec::new() };
    }
    let inner: Vec<StateId> = chart.states().filter(|&inner| chart.parent(inner) == Some(id)).collect();
    if inner.is_empty() {
        let size = Size { width: text.width.max(70.0), ..text };
        return Block { state: Some(id), size, lines, inside: Vec::new(), runs: Vec::new() };
    }
    let mut graph = Graph::new(inner.iter().map(|&inner| block(chart, words, links, inner)).collect());
    let holder =
        |state: StateId| inner.iter().position(|&inner| state == inner || chart.is_inside(state, inner));
    if state.kind != StateKind::Parallel {
        for (place, link) in links.iter().enumerate().filter(|(_, link)| link.within == id) {
            if let (Some(from), Some(to)) = (holder(link.source), holder(link.target)) {
                let end = End::Link { place, downward: from < to };
                graph.link(from.min(to), from.max(to), end, Some(&link.label));
            }
        }
        for &target in state.initial.iter().flat_map(|initial| &initial.target) {
            if let Some(to) = holder(target) {
                graph.start(to, End::Start { target });
            }
        }
    }
    let (content, inside, runs) = graph.laid_out();
    let top = if id == ROOT { 0.0 } else { text.height };
    let shift = |point: Point| Point { x: point.x + PADDING, y: point.y + top };
    let slack = (text.width - 2.0 * PADDING - content.width).max(0.0) / 2.0;
    let shift = |point: Point| shift(Point { x: point.x + slack, ..point });
    Block {
        state: (id != ROOT).then_some(id),
        size: Size { width: content.width + 2.0 * (PADDING + slack), height: top + content.height + PADDING },
        lines: if id == ROOT { Vec::new() } else { lines },
        inside: inside.into_iter().map(|(corner, block)| (shift(corner), block)).collect(),
        runs: runs
            .into_iter()
            .map(|run| Run {
                end: run.end,
                through: run.through.into_iter().map(shift).collect(),
                label_centre: shift(run.label_centre),
            })
            .collect(),
    }
}

/// The lines inside a state: its name, what it does, and transitions that are not drawn.
fn told<G, A>(chart: &Chart<G, A>, words: &impl Words<G, A>, id: StateId) -> Vec<String> {
    let state = chart.state(id);
    if let StateKind::History { deep } = state.kind {
        return vec![if deep { "H*" } else { "H" }.to_owned()];
    }
    let mut lines = vec![chart.name(id).to_owned()];
    for (when, actions) in [("entry", &state.on_entry), ("exit", &state.on_exit)] {
        if !actions.is_empty() {
            lines.extend(wrapped(&format!("{when} / {}", done(words, actions)), WIDEST_LABEL));
        }
    }
    let undrawn = state.transitions.iter().filter(|transition| drawn(chart, words, transition).is_none());
    lines.extend(undrawn.flat_map(|transition| wrapped(&sentence(chart, words, transition), WIDEST_LABEL)));
    lines
}

/// A run in the picture's own coordinates; for one from a start dot, where the dot is.
struct Loose {
    run: Run,
    dot: Option<usize>,
}

/// Puts a block and all inside it into the picture.
fn place(block: &Block, corner: Point, picture: &mut Picture, loose: &mut Vec<Loose>) {
    let moved = |point: Point| Point { x: point.x + corner.x, y: point.y + corner.y };
    if block.state.is_some() || block.inside.is_empty() {
        let Block { state, size, ref lines, .. } = *block;
        picture.shapes.push(Shape { state, corner, size, lines: lines.clone() });
    }
    let mut dots = Vec::new();
    for (inner, inside) in &block.inside {
        if inside.state.is_none() {
            dots.push(picture.shapes.len());
        }
        place(inside, moved(*inner), picture, loose);
    }
    let mut dots = dots.into_iter();
    for run in &block.runs {
        let through = run.through.iter().copied().map(moved).collect();
        let dot = if matches!(run.end, End::Start { .. }) { dots.next() } else { None };
        loose.push(Loose { run: Run { end: run.end, through, label_centre: moved(run.label_centre) }, dot });
    }
}

/// Ties the runs to the states that they begin and end at, spread along their edges in the order of where
/// they go.
fn tie(picture: &mut Picture, links: &[Link], loose: Vec<Loose>) {
    let shape_of = |state: StateId| picture.shapes.iter().position(|shape| shape.state == Some(state));
    // (shape, whether at its lower edge, x where the run goes, run, whether its upper end)
    let mut ports: Vec<(usize, bool, f64, usize, bool)> = Vec::new();
    for (place, Loose { run, dot }) in loose.iter().enumerate() {
        let (upper, lower) = match run.end {
            End::Link { place, downward: true } => {
                (shape_of(links[place].source), shape_of(links[place].target))
            }
            End::Link { place, downward: false } => {
                (shape_of(links[place].target), shape_of(links[place].source))
            }
            End::Start { target } => (*dot, shape_of(target)),
        };
        if let (Some(upper), Some(lower), Some(first), Some(last)) =
            (upper, lower, run.through.first(), run.through.last())
        {
            ports.push((upper, true, first.x, place, true));
            ports.push((lower, false, last.x, place, false));
        }
    }
    ports.sort_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2)).then(a.3.cmp(&b.3)));
    let mut ends: Vec<[Option<Point>; 2]> = vec![[None; 2]; loose.len()];
    for group in ports.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
        for (at, &(shape, bottom, _, run, upper)) in group.iter().enumerate() {
            let Shape { corner, size, .. } = &picture.shapes[shape];
            let share = (at as f64 + 1.0) / (group.len() as f64 + 1.0);
            let y = corner.y + if bottom { size.height } else { 0.0 };
            ends[run][usize::from(!upper)] = Some(Point { x: corner.x + size.width * share, y });
        }
    }
    for (Loose { run, .. }, end) in loose.into_iter().zip(ends) {
        let [Some(upper), Some(lower)] = end else { continue };
        // Straight out of the layer first, so that the bend lies between two layers and not across a taller
        // state.
        let edge = |of: Option<&Point>, gap: f64, x: f64| of.map(|point| Point { x, y: point.y + gap });
        let mut points = vec![upper];
        points.extend(edge(run.through.first(), -LAYER_GAP, upper.x));
        let leave = edge(run.through.last(), LAYER_GAP, lower.x);
        points.extend(run.through);
        points.extend(leave);
        points.push(lower);
        let mut text = Vec::new();
        if let End::Link { place, downward } = run.end {
            text.clone_from(&links[place].label);
            if !downward {
                points.reverse();
            }
        }
        picture.arrows.push(Arrow { points, label: text, label_centre: run.label_centre });
    }
}
