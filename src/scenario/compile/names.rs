//! Names: each thing has its own, and each that is used belongs to something.

use super::told::Told;
use super::walk::{self, State};
use crate::scenario::Order;
use crate::scenario::case::{Action, Case};
use crate::scenario::diagnostic::Level;
use crate::scenario::nearest;
use std::collections::{BTreeMap, BTreeSet};

/// The source of what rests on nothing but experience.
pub const AUTHOR_JUDGEMENT: &str = "author judgement";

/// All names of a case, by kind.
pub struct Names<'c> {
    /// Questions with their options.
    pub asks: BTreeMap<&'c str, Vec<&'c str>>,
    /// States of the chart.
    pub states: BTreeSet<&'c str>,
    /// Roles of the team.
    pub roles: BTreeSet<&'c str>,
    /// Objectives.
    pub objectives: BTreeSet<&'c str>,
    /// Sources.
    pub sources: BTreeSet<&'c str>,
    /// Endings.
    pub endings: BTreeSet<&'c str>,
    /// Plays.
    pub plays: BTreeSet<&'c str>,
    /// Events that the case sends.
    pub sent: BTreeSet<&'c str>,
    /// Variables that the case sets.
    pub vars: BTreeSet<&'c str>,
    /// Holes that the case opens.
    pub bleeds: BTreeSet<&'c str>,
    /// Things that happen.
    pub happenings: BTreeSet<&'c str>,
}

impl<'c> Names<'c> {
    /// Of a case.
    pub fn of(case: &'c Case) -> Self {
        let mut sent: BTreeSet<&str> =
            case.asks.iter().flat_map(|a| &a.options).flat_map(|o| &o.sends).map(String::as_str).collect();
        let (mut vars, mut bleeds) = (BTreeSet::new(), BTreeSet::new());
        for (_, action) in walk::actions(case) {
            match action {
                Action::Send { event, .. } => _ = sent.insert(event),
                Action::Set { name, .. } => _ = vars.insert(name.as_str()),
                Action::Bleed(bleed) => _ = bleeds.insert(bleed.id.as_str()),
                _ => {}
            }
        }
        Self {
            asks: case
                .asks
                .iter()
                .map(|a| (a.id.as_str(), a.options.iter().map(|o| o.id.as_str()).collect()))
                .collect(),
            states: walk::states(case).iter().map(|s| s.state.id.as_str()).collect(),
            roles: case.team.iter().map(|m| m.role.as_str()).collect(),
            objectives: case.objectives.iter().map(|o| o.id.as_str()).collect(),
            sources: case.sources.iter().map(|s| s.id.as_str()).collect(),
            endings: case.endings.iter().map(|e| e.id.as_str()).collect(),
            plays: case.plays.iter().map(|p| p.name.as_str()).collect(),
            sent,
            vars,
            bleeds,
            happenings: case.happenings.iter().map(|h| h.id.as_str()).collect(),
        }
    }
}

/// Tells names that are given twice, have the wrong form, or point to nothing.
pub fn check(case: &Case, names: &Names<'_>, told: &mut Told<'_>) {
    own_names(case, told);
    uses(case, names, told);
    chart(case, names, told);
    plays(case, names, told);
}

fn own_names(case: &Case, told: &mut Told<'_>) {
    form(told, "id", "the case", &case.id);
    let states = walk::states(case);
    unique(told, "objective", case.objectives.iter().map(|o| o.id.as_str()), |i| {
        format!("objectives[{i}].id")
    });
    unique(told, "source", case.sources.iter().map(|s| s.id.as_str()), |i| format!("sources[{i}].id"));
    unique(told, "question", case.asks.iter().map(|a| a.id.as_str()), |i| format!("asks[{i}].id"));
    for (i, ask) in case.asks.iter().enumerate() {
        unique(told, "option", ask.options.iter().map(|o| o.id.as_str()), |j| {
            format!("asks[{i}].options[{j}].id")
        });
    }
    unique(told, "happening", case.happenings.iter().map(|h| h.id.as_str()), |i| {
        format!("happenings[{i}].id")
    });
    unique(told, "ending", case.endings.iter().map(|e| e.id.as_str()), |i| format!("endings[{i}].id"));
    unique(told, "mark", case.marks.iter().map(|m| m.id.as_str()), |i| format!("marks[{i}].id"));
    unique(told, "play", case.plays.iter().map(|p| p.name.as_str()), |i| format!("plays[{i}].name"));
    unique(told, "state", states.iter().map(|s| s.state.id.as_str()), |i| format!("{}.id", states[i].path));
    once(told, "team member", case.team.iter().map(|m| m.role.as_str()), |i| format!("team[{i}].role"));
    for (i, play) in case.plays.iter().enumerate() {
        let labels: Vec<(usize, &str)> = play
            .steps
            .iter()
            .enumerate()
            .map(|(j, s)| (j, s.label.as_str()))
            .filter(|(_, l)| !l.is_empty())
            .collect();
        once(told, "step", labels.iter().map(|l| l.1), |j| {
            format!("plays[{i}].steps[{}].label", labels[j].0)
        });
    }
    for name in case.policy.keys() {
        form(told, &format!("policy[{name}]"), "a policy", name);
    }
}

fn uses(case: &Case, names: &Names<'_>, told: &mut Told<'_>) {
    let objective = |told: &mut Told<'_>, path: String, name: &str| {
        known(told, &path, "objective", name, &names.objectives);
    };
    let sources = |told: &mut Told<'_>, path: &str, list: &[String]| {
        for (i, name) in list.iter().enumerate().filter(|(_, name)| *name != AUTHOR_JUDGEMENT) {
            let all = names.sources.iter().copied().chain([AUTHOR_JUDGEMENT]);
            if !names.sources.contains(name.as_str()) {
                told.unknown(&format!("{path}.source[{i}]"), "source", name, all);
            }
        }
    };
    for (i, ask) in case.asks.iter().enumerate() {
        objective(told, format!("asks[{i}].objective"), &ask.objective);
        speaker(told, &format!("asks[{i}].who"), &ask.who, names);
        if let Some(otherwise) = &ask.otherwise {
            let options: BTreeSet<&str> = ask.options.iter().map(|o| o.id.as_str()).collect();
            known(
                told,
                &format!("asks[{i}].otherwise"),
                "option of this question named",
                otherwise,
                &options,
            );
        }
        for (j, option) in ask.options.iter().enumerate() {
            sources(told, &format!("asks[{i}].options[{j}]"), &option.source);
        }
    }
    for (i, happening) in case.happenings.iter().enumerate() {
        sources(told, &format!("happenings[{i}]"), &happening.source);
    }
    for (i, mark) in case.marks.iter().enumerate() {
        objective(told, format!("marks[{i}].objective"), &mark.objective);
        sources(told, &format!("marks[{i}]"), &mark.source);
    }
    for (i, prompt) in case.debrief.prompts.iter().enumerate() {
        objective(told, format!("debrief.prompts[{i}].objective"), &prompt.objective);
    }
    for (path, action) in walk::actions(case) {
        match action {
            Action::Say { who, .. } => speaker(told, &format!("{path}.say.who"), who, names),
            Action::Ask(ask) => ask_known(told, &format!("{path}.ask"), ask, names),
            Action::Withdraw(ask) => ask_known(told, &format!("{path}.withdraw"), ask, names),
            Action::Cancel(event) => known(told, &format!("{path}.cancel"), "sent event", event, &names.sent),
            Action::Send { event, .. } => dotted(told, &format!("{path}.send.event"), event),
            Action::Set { name, .. } => form(told, &format!("{path}.set.name"), "a variable", name),
            Action::Bleed(bleed) => form(told, &format!("{path}.bleed.id"), "a bleed", &bleed.id),
            _ => {}
        }
    }
    for (path, order) in walk::orders(case) {
        match order {
            Order::Call { who } => known(told, &format!("{path}.call.who"), "team member", who, &names.roles),
            Order::Answer { ask, option, .. } => match names.asks.get(ask.as_str()) {
                None => ask_known(told, &format!("{path}.answer.ask"), ask, names),
                Some(options) if !options.contains(&option.as_str()) => {
                    let kind = format!("option of `{ask}` named");
                    told.unknown(&format!("{path}.answer.option"), &kind, option, options.iter().copied());
                }
                Some(_) => {}
            },
            _ => {}
        }
    }
}

fn chart(case: &Case, names: &Names<'_>, told: &mut Told<'_>) {
    let outermost: BTreeSet<&str> = case.chart.states.iter().map(|s| s.id.as_str()).collect();
    known(told, "chart.initial", "outermost state", &case.chart.initial, &outermost);
    let states = walk::states(case);
    for State { path, state, .. } in &states {
        let inner: BTreeSet<&str> = state.states.iter().map(|s| s.id.as_str()).collect();
        if let Some(initial) = &state.initial {
            known(
                told,
                &format!("{path}.initial"),
                &format!("state inside `{}` named", state.id),
                initial,
                &inner,
            );
        }
    }
    for (path, _, way) in walk::transitions(&states) {
        for (i, to) in way.to.iter().enumerate() {
            known(told, &format!("{path}.to[{i}]"), "state", to, &names.states);
        }
        if let Some(event) = &way.event {
            event_known(told, &format!("{path}.event"), event, names);
        }
    }
}

fn plays(case: &Case, names: &Names<'_>, told: &mut Told<'_>) {
    for (i, play) in case.plays.iter().enumerate() {
        if let Some(ending) = &play.ending {
            known(told, &format!("plays[{i}].ending"), "ending", ending, &names.endings);
        }
        for (j, step) in play.steps.iter().enumerate() {
            if let Some(ask) = &step.asked {
                ask_known(told, &format!("plays[{i}].steps[{j}].asked"), ask, names);
            } else if step.whenever {
                let path = format!("plays[{i}].steps[{j}].whenever");
                let fault =
                    told.fault("play", &path, "a step that is taken whenever its question opens names none");
                told.tell(fault.hint("add asked: \"...\" with the question, or leave `whenever` out"));
            }
        }
        let twice = case.plays.iter().filter(|p| p.name == play.name).count() > 1;
        let Some(like) = play.like.as_ref().filter(|_| !twice) else { continue };
        let path = format!("plays[{i}].like");
        if !names.plays.contains(like.as_str()) {
            told.unknown(&path, "play", like, names.plays.iter().copied().filter(|p| *p != play.name));
            continue;
        }
        let mut way = vec![play.name.as_str()];
        let mut at = Some(like.as_str());
        while let Some(name) = at {
            if name == play.name {
                let fault = told.fault(
                    "play",
                    &path,
                    format!("this play follows itself: {} -> {name}", way.join(" -> ")),
                );
                told.tell(
                    fault.hint("let one of them stand on its own: give it all its steps and no `like`"),
                );
                break;
            }
            if way.contains(&name) {
                break;
            }
            way.push(name);
            at = case.plays.iter().find(|p| p.name == name).and_then(|p| p.like.as_deref());
        }
    }
}

/// The first words of events that come from the session itself, and what may follow them.
pub const ENGINE_EVENTS: [&str; 5] = ["done", "order", "answer", "lab", "here"];

fn event_known(told: &mut Told<'_>, path: &str, event: &str, names: &Names<'_>) {
    // As in SCXML a transition may name the first words of an event only, and may end in `.*`.
    let event = event.strip_suffix(".*").unwrap_or(event);
    if event == "*" || names.sent.iter().any(|sent| begins(sent, event)) {
        return;
    }
    let words: Vec<&str> = event.split('.').collect();
    match words.as_slice() {
        [first] if ENGINE_EVENTS.contains(first) => {}
        ["done" | "order", verb] if Order::VERBS.contains(verb) => {}
        ["done", "state"] => {}
        ["done", "state", state] => known(told, path, "state", state, &names.states),
        ["done" | "order", verb] => told.unknown(path, "order", verb, Order::VERBS.iter().copied()),
        ["answer", ask] => ask_known(told, path, ask, names),
        ["answer", ask, option] => match names.asks.get(ask) {
            None => ask_known(told, path, ask, names),
            Some(options) if !options.contains(option) => {
                told.unknown(path, &format!("option of `{ask}` named"), option, options.iter().copied());
            }
            Some(_) => {}
        },
        ["lab", test] => {
            let tests = super::variants::<crate::circulation::Test>();
            if !tests.contains(test) {
                told.unknown(path, "laboratory test", test, tests.iter().copied());
            }
        }
        ["here", role] => {
            if !names.roles.iter().any(|r| r.replace(' ', "_") == *role) {
                told.unknown(path, "team member", role, names.roles.iter().copied());
            }
        }
        _ => {
            let fault = told.fault("name-unknown", path, format!("nothing ever sends the event `{event}`"));
            let near = nearest(event, names.sent.iter().copied());
            told.tell(
                fault.hint(match near {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => {
                        "events are done.ORDER, order.ORDER, answer.QUESTION.OPTION, lab.TEST, here.ROLE, \
                         done.state.STATE, and those that the case sends itself"
                            .into()
                    }
                }),
            );
        }
    }
}

fn begins(event: &str, with: &str) -> bool {
    event.strip_prefix(with).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

fn known(told: &mut Told<'_>, path: &str, kind: &str, name: &str, names: &BTreeSet<&str>) {
    if !names.contains(name) {
        told.unknown(path, kind, name, names.iter().copied());
    }
}

fn ask_known(told: &mut Told<'_>, path: &str, ask: &str, names: &Names<'_>) {
    if !names.asks.contains_key(ask) {
        told.unknown(path, "question", ask, names.asks.keys().copied());
    }
}

/// Anybody may speak; a name that is nearly a team member's is probably meant to be that.
fn speaker(told: &mut Told<'_>, path: &str, who: &str, names: &Names<'_>) {
    let all = || names.roles.iter().copied().chain(["narrator", "patient"]);
    if let Some(near) = nearest(who, all()).filter(|near| *near != who) {
        let doubt = told.fault("name-unknown", path, format!("nobody in the team is called `{who}`"));
        told.tell(doubt.level(Level::Doubt).hint(format!("did you mean `{near}`?")));
    }
}

/// A name that rules can read: lower case, digits, underscores.
fn form(told: &mut Told<'_>, path: &str, whose: &str, name: &str) {
    if is_plain(name) {
        return;
    }
    let better = plain(name);
    let fault = told.fault("name-form", path, format!("the name of {whose} is \"{name}\""));
    told.tell(fault.expected("lower-case letters, digits and _").hint(if better.is_empty() {
        "write a short name".into()
    } else {
        format!("write \"{better}\"")
    }));
}

fn dotted(told: &mut Told<'_>, path: &str, event: &str) {
    if event.is_empty() || !event.split('.').all(is_plain) {
        let better: Vec<String> = event.split('.').map(plain).filter(|w| !w.is_empty()).collect();
        let fault = told.fault("name-form", path, format!("the name of an event is \"{event}\""));
        told.tell(
            fault
                .expected("lower-case words with dots between")
                .hint(format!("write \"{}\"", better.join("."))),
        );
    } else if ENGINE_EVENTS.iter().any(|own| begins(event, own)) {
        let fault =
            told.fault("name-form", path, format!("\"{event}\" is an event that the session sends itself"));
        told.tell(fault.hint("choose another first word"));
    }
}

fn is_plain(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

fn plain(name: &str) -> String {
    let words: String =
        name.trim().to_lowercase().chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '_' }).collect();
    words.trim_start_matches(|c: char| !c.is_ascii_lowercase()).trim_end_matches('_').to_owned()
}

fn unique<'n>(
    told: &mut Told<'_>,
    kind: &str,
    names: impl Iterator<Item = &'n str> + Clone,
    path: impl Fn(usize) -> String,
) {
    for (i, name) in names.clone().enumerate() {
        form(told, &path(i), &format!("this {kind}"), name);
    }
    once(told, kind, names, path);
}

fn once<'n>(
    told: &mut Told<'_>,
    kind: &str,
    names: impl Iterator<Item = &'n str>,
    path: impl Fn(usize) -> String,
) {
    let mut seen: BTreeMap<&str, usize> = BTreeMap::new();
    for (i, name) in names.enumerate() {
        match seen.get(name) {
            Some(&first) if !told.is_made_up(&path(first)) => {
                let fault = told.fault("name-twice", &path(i), format!("there is another {kind} `{name}`"));
                let first = told.spans().find(&path(first));
                told.tell(fault.label(first, "the first").hint("give one of the two another name"));
            }
            Some(_) => {}
            None => _ = seen.insert(name, i),
        }
    }
}
