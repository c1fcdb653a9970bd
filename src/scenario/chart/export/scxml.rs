//! A chart as State Chart XML (W3C Recommendation SCXML 1.0, 2015).

use super::super::model::{Chart, ROOT, State, StateId, StateKind, Transition};
use super::{Content, NOTICE, Words, escaped};

/// The whole document. Every beginning is written out, also where it is the first state.
pub fn scxml<G, A>(chart: &Chart<G, A>, words: &impl Words<G, A>) -> String {
    let mut writer = Writer { chart, words, out: String::new(), depth: 0 };
    writer.out += "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";
    writer.out += &format!("<!-- {NOTICE} -->\n");
    writer.document();
    writer.out
}

struct Writer<'a, G, A, W> {
    chart: &'a Chart<G, A>,
    words: &'a W,
    out: String,
    depth: usize,
}

impl<G, A, W: Words<G, A>> Writer<'_, G, A, W> {
    fn document(&mut self) {
        let root = self.chart.state(ROOT);
        let name = self.words.name();
        let mut attributes = vec![
            ("xmlns", "http://www.w3.org/2005/07/scxml".to_owned()),
            ("version", "1.0".to_owned()),
            ("datamodel", self.words.datamodel().to_owned()),
        ];
        if !name.is_empty() {
            attributes.push(("name", name.to_owned()));
        }
        attributes.extend(self.initial_attribute(root));
        self.element("scxml", &attributes, |writer| {
            let data = writer.words.data();
            if !data.is_empty() {
                writer.element("datamodel", &[], |writer| {
                    for (id, expr) in data {
                        writer.element("data", &[("id", id), ("expr", expr)], |_| {});
                    }
                });
            }
            writer.inside(ROOT);
        });
    }

    fn state(&mut self, id: StateId) {
        let state = self.chart.state(id);
        let mut attributes = vec![("id", self.chart.name(id).to_owned())];
        let tag = match state.kind {
            StateKind::Parallel => "parallel",
            StateKind::Final => "final",
            StateKind::History { deep } => {
                attributes.push(("type", if deep { "deep" } else { "shallow" }.to_owned()));
                "history"
            }
            StateKind::Root | StateKind::Atomic | StateKind::Compound => "state",
        };
        if state.kind == StateKind::Compound {
            attributes.extend(self.initial_attribute(state));
        }
        self.element(tag, &attributes, |writer| {
            match (state.kind, &state.initial) {
                (StateKind::History { .. }, Some(default)) => writer.transition(default),
                (StateKind::Compound, Some(initial)) if !initial.actions.is_empty() => {
                    writer.element("initial", &[], |writer| writer.transition(initial));
                }
                _ => {}
            }
            for (tag, actions) in [("onentry", &state.on_entry), ("onexit", &state.on_exit)] {
                if !actions.is_empty() {
                    writer.element(tag, &[], |writer| writer.actions(actions));
                }
            }
            for transition in &state.transitions {
                writer.transition(transition);
            }
            writer.inside(id);
        });
    }

    /// The states directly inside, histories among them, in document order.
    fn inside(&mut self, id: StateId) {
        let chart = self.chart;
        for inner in chart.states().filter(|&inner| chart.parent(inner) == Some(id)) {
            self.state(inner);
        }
    }

    /// As an attribute where there is nothing to do on the way; the chart itself cannot begin otherwise.
    fn initial_attribute(&self, state: &State<G, A>) -> Option<(&'static str, String)> {
        let initial = state.initial.as_ref()?;
        let only_attribute = initial.actions.is_empty() || state.kind == StateKind::Root;
        only_attribute.then(|| ("initial", self.names(&initial.target)))
    }

    fn transition(&mut self, transition: &Transition<G, A>) {
        let mut attributes = Vec::new();
        if !transition.events.is_empty() {
            attributes.push(("event", transition.events.join(" ")));
        }
        if let Some(guard) = &transition.guard {
            attributes.push(("cond", self.words.guard(guard)));
        }
        if !transition.target.is_empty() {
            attributes.push(("target", self.names(&transition.target)));
        }
        if transition.internal {
            attributes.push(("type", "internal".to_owned()));
        }
        self.element("transition", &attributes, |writer| writer.actions(&transition.actions));
    }

    fn actions(&mut self, actions: &[A]) {
        for action in actions {
            let (tag, attributes) = match self.words.action(action) {
                Content::Raise(event) => ("raise", vec![("event", event)]),
                Content::Send { event, delay_ms, id } => {
                    let mut attributes = vec![("event", event)];
                    attributes.extend(id.map(|id| ("id", id)));
                    if delay_ms > 0 {
                        attributes.push(("delay", format!("{delay_ms}ms")));
                    }
                    ("send", attributes)
                }
                Content::Cancel(id) => ("cancel", vec![("sendid", id)]),
                Content::Assign { location, expr } => {
                    ("assign", vec![("location", location), ("expr", expr)])
                }
                Content::Log { label, expr } => ("log", vec![("label", label), ("expr", expr)]),
            };
            self.element(tag, &attributes, |_| {});
        }
    }

    fn names(&self, states: &[StateId]) -> String {
        let names: Vec<_> = states.iter().map(|&state| self.chart.name(state)).collect();
        names.join(" ")
    }

    fn element(&mut self, tag: &str, attributes: &[(&str, String)], content: impl FnOnce(&mut Self)) {
        let indent = "  ".repeat(self.depth);
        self.out += &format!("{indent}<{tag}");
        for (name, value) in attributes {
            self.out += &format!(" {name}=\"{}\"", escaped(value));
        }
        let before = self.out.len();
        self.out += ">\n";
        let empty = self.out.len();
        self.depth += 1;
        content(self);
        self.depth -= 1;
        if self.out.len() == empty {
            self.out.truncate(before);
            self.out += "/>\n";
        } else {
            self.out += &format!("{indent}</{tag}>\n");
        }
    }
}
