//! A chart in the DOT language of graph-drawing programs (Gansner, Koutsofios and North 2006): a cluster for
//! each state with states inside, an edge for each transition.

use super::super::model::{Chart, ROOT, StateId, StateKind};
use super::{NOTICE, Words, done, label, sentence};

/// The whole graph.
pub fn dot<G, A>(chart: &Chart<G, A>, words: &impl Words<G, A>) -> String {
    let mut out = format!("digraph {} {{\n", quoted(words.name()));
    out += &format!("  compound=true;\n  newrank=true;\n  label={};\n", quoted(NOTICE));
    out += "  node [shape=box, style=rounded, fontname=\"sans-serif\"];\n";
    out += "  edge [fontname=\"sans-serif\", fontsize=10];\n";
    inside(&mut out, chart, words, ROOT, 1);
    beginning(&mut out, chart, ROOT);
    for state in chart.states() {
        beginning(&mut out, chart, state);
        for transition in &chart.state(state).transitions {
            for &target in transition.target.iter().filter(|&&target| !is_nested(chart, state, target)) {
                edge(&mut out, chart, state, target, &label(words, transition));
            }
        }
    }
    out += "}\n";
    out
}

fn inside<G, A>(
    out: &mut String,
    chart: &Chart<G, A>,
    words: &impl Words<G, A>,
    around: StateId,
    depth: usize,
) {
    let indent = "  ".repeat(depth);
    for id in chart.states().filter(|&id| chart.parent(id) == Some(around)) {
        let state = chart.state(id);
        let name = chart.name(id);
        let mut lines = vec![name.to_owned()];
        let told = [("entry", &state.on_entry), ("exit", &state.on_exit)];
        lines.extend(
            told.iter()
                .filter(|(_, acts)| !acts.is_empty())
                .map(|(when, acts)| format!("{when} / {}", done(words, acts))),
        );
        let undrawn = state
            .transitions
            .iter()
            .filter(|transition| transition.target.iter().all(|&to| is_nested(chart, id, to)));
        lines.extend(undrawn.map(|transition| sentence(chart, words, transition)));
        let text = quoted(&lines.join("\n"));
        match state.kind {
            StateKind::History { deep } => {
                let sign = if deep { "H*" } else { "H" };
                *out += &format!("{indent}{} [shape=circle, label=\"{sign}\"];\n", quoted(name));
                continue;
            }
            StateKind::Final => *out += &format!("{indent}{} [peripheries=2, label={text}];\n", quoted(name)),
            StateKind::Atomic if !is_cluster(chart, id) => {
                *out += &format!("{indent}{} [label={text}];\n", quoted(name));
            }
            _ => {
                let style = if chart.kind(around) == StateKind::Parallel { "dashed" } else { "rounded" };
                *out += &format!("{indent}subgraph {} {{\n", quoted(&cluster(name)));
                *out += &format!("{indent}  label={text};\n{indent}  style={style};\n");
                inside(out, chart, words, id, depth + 1);
                *out += &format!("{indent}}}\n");
            }
        }
    }
    let found = chart.state(around);
    let style = if found.initial.is_some() { "" } else { ", style=invis" };
    *out += &format!("{indent}{} [shape=point{style}];\n", quoted(&anchor(chart, around)));
}

/// Edges from where a state begins, or from a history that was never left.
fn beginning<G, A>(out: &mut String, chart: &Chart<G, A>, state: StateId) {
    for &target in chart.state(state).initial.iter().flat_map(|initial| &initial.target) {
        edge(out, chart, state, target, "");
    }
}

fn edge<G, A>(out: &mut String, chart: &Chart<G, A>, source: StateId, target: StateId, label: &str) {
    let mut attributes = Vec::new();
    if !label.is_empty() {
        attributes.push(format!("label={}", quoted(label)));
    }
    let mut end = |state: StateId, other: StateId, clip: &str| {
        if !is_cluster(chart, state) {
            return quoted(chart.name(state));
        }
        // An edge cannot be clipped at a cluster that its other end lies in.
        if !is_nested(chart, state, other) {
            attributes.push(format!("{clip}={}", quoted(&cluster(chart.name(state)))));
        }
        quoted(&anchor(chart, state))
    };
    let (tail, head) = (end(source, target, "ltail"), end(target, source, "lhead"));
    *out += &format!("  {tail} -> {head} [{}];\n", attributes.join(", "));
}

/// Whether one of the two is or lies in the other, so that no line can be drawn between them.
fn is_nested<G, A>(chart: &Chart<G, A>, a: StateId, b: StateId) -> bool {
    a == b || chart.is_inside(a, b) || chart.is_inside(b, a)
}

fn is_cluster<G, A>(chart: &Chart<G, A>, state: StateId) -> bool {
    let found = chart.state(state);
    !found.children.is_empty() || !found.histories.is_empty()
}

/// The node that stands for a cluster, since edges join nodes only; where one of its states is to begin, the
/// start dot. No state has such a name, since theirs are without spaces.
fn anchor<G, A>(chart: &Chart<G, A>, state: StateId) -> String {
    format!("start of {}", chart.name(state))
}

/// Graph-drawing programs know a cluster by the beginning of its name.
fn cluster(name: &str) -> String {
    format!("cluster_{name}")
}

fn quoted(text: &str) -> String {
    let text = text.replace('\\', "\\\\").replace('"', "\\\"").replace('\r', "").replace('\n', "\\n");
    format!("\"{text}\"")
}
