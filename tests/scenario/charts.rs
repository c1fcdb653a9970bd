//! The state chart against the published algorithm.
//!
//! `tests/reference/charts.json`: 175 charts with timed events and what each must do, step by step. The
//! expected values come from a transcription of Appendix D of the W3C Recommendation SCXML 1.0 (2015); an
//! independent engine, QtScxml
//! 6.12, gives exactly the same for the 160 of tier A. For the 15 of tier B it sorts simultaneous transitions
//! by depth, which the Recommendation does not; there the Recommendation holds.

use std::collections::{BTreeMap, BTreeSet};

use overwire::scenario::chart::export::{Content, Words, dot, scxml, svg};
use overwire::scenario::chart::{
    Chart, ChartFault, Finding, Host, InitialSpec, MOST_MICROSTEPS, Machine, Place, Raise, Situation,
    SpecKind, StateSpec, TransitionSpec, analyse,
};
use serde_json::{Value, json};

type Spec = StateSpec<Value, Value>;

struct Case {
    id: String,
    json: Value,
    chart: Chart<Value, Value>,
}

fn cases() -> Vec<Case> {
    let file: Value = serde_json::from_str(include_str!("../reference/charts.json")).unwrap();
    let cases = file["cases"].as_array().unwrap().iter().map(|json| {
        let id = json["id"].as_str().unwrap().to_owned();
        let initial = json.get("initial").map(initial);
        let chart = Chart::build(initial, states(json)).unwrap_or_else(|faults| panic!("{id}: {faults:#?}"));
        Case { id, json: json.clone(), chart }
    });
    let cases: Vec<Case> = cases.collect();
    assert_eq!(cases.len(), 175);
    cases
}

fn list(json: &Value) -> Vec<Value> {
    json.as_array().cloned().unwrap_or_default()
}

fn names(json: &Value) -> Vec<String> {
    list(json).iter().map(|name| name.as_str().unwrap().to_owned()).collect()
}

fn initial(json: &Value) -> InitialSpec<Value> {
    InitialSpec { target: names(&json["target"]), actions: list(&json["actions"]) }
}

fn states(json: &Value) -> Vec<Spec> {
    list(&json["states"]).iter().map(state).collect()
}

fn state(json: &Value) -> Spec {
    let kind = match json["kind"].as_str().unwrap_or("state") {
        "parallel" => SpecKind::Parallel,
        "final" => SpecKind::Final,
        "history" => {
            SpecKind::History { deep: json["history"] == "deep", default: initial(&json["default"]) }
        }
        _ => SpecKind::State { initial: json.get("initial").map(initial) },
    };
    let transition = |json: &Value| TransitionSpec {
        events: json["event"].as_str().unwrap_or_default().split_whitespace().map(str::to_owned).collect(),
        guard: json.get("cond").cloned(),
        target: names(&json["target"]),
        internal: json["internal"] == true,
        actions: list(&json["actions"]),
    };
    let mut spec = StateSpec::new(json["id"].as_str().unwrap(), kind);
    spec.on_entry = list(&json["onentry"]);
    spec.on_exit = list(&json["onexit"]);
    spec.transitions = list(&json["transitions"]).iter().map(transition).collect();
    spec.states = states(json);
    spec
}

/// The corpus's world: whole-number variables, and a record of what happens.
#[derive(Default)]
struct World {
    vars: BTreeMap<String, i64>,
    trace: Vec<Value>,
    steps: Vec<Value>,
}

impl World {
    fn number(&self, json: &Value, now: &Situation<'_>) -> i64 {
        if let Some(number) = json.as_i64() {
            return number;
        }
        if let Some(truth) = json.as_bool() {
            return i64::from(truth);
        }
        let name = || json[1].as_str().unwrap();
        let part = |place: usize| self.number(&json[place], now);
        let rest = || json.as_array().unwrap()[1..].iter().map(|part| self.number(part, now) != 0);
        match json[0].as_str().unwrap() {
            "var" => self.vars[name()],
            "in" => i64::from(now.is_in(name())),
            "not" => i64::from(part(1) == 0),
            "and" => i64::from(rest().all(|truth| truth)),
            "or" => i64::from(rest().any(|truth| truth)),
            "+" => part(1) + part(2),
            "-" => part(1) - part(2),
            "*" => part(1) * part(2),
            "<" => i64::from(part(1) < part(2)),
            "<=" => i64::from(part(1) <= part(2)),
            ">" => i64::from(part(1) > part(2)),
            ">=" => i64::from(part(1) >= part(2)),
            "==" => i64::from(part(1) == part(2)),
            "!=" => i64::from(part(1) != part(2)),
            other => panic!("{other}"),
        }
    }
}

impl Host<Value, Value> for World {
    fn guard(&mut self, guard: &Value, now: &Situation<'_>) -> bool {
        self.number(guard, now) != 0
    }

    fn act(&mut self, action: &Value, now: &Situation<'_>) -> Vec<Raise> {
        let text = |key: &str| action[key].as_str().map(str::to_owned);
        if let Some(log) = text("log") {
            self.trace.push(json!(["do", log]));
        } else if let Some(name) = action["assign"][0].as_str() {
            let value = self.number(&action["assign"][1], now);
            self.vars.insert(name.to_owned(), value);
        } else if let Some(event) = text("raise") {
            return vec![Raise::Internal(event)];
        } else if let Some(event) = text("send") {
            let delay_ticks = action["delay"].as_f64().unwrap_or_default() as u64;
            return vec![Raise::Send { event, delay_ticks, id: text("id") }];
        } else if let Some(id) = text("cancel") {
            return vec![Raise::Cancel(id)];
        } else {
            panic!("{action}");
        }
        Vec::new()
    }

    fn entering(&mut self, state: &str) {
        self.trace.push(json!(["enter", state]));
    }

    fn leaving(&mut self, state: &str) {
        self.trace.push(json!(["exit", state]));
    }

    fn settled(&mut self, event: Option<&str>, now: &Situation<'_>) {
        self.steps.push(json!({
            "t": now.now_ticks(),
            "event": event,
            "trace": std::mem::take(&mut self.trace),
            "config": now.states().collect::<Vec<_>>(),
            "vars": self.vars,
        }));
    }
}

/// Plays a case's events into a chart that means the same.
fn played(case: &Case, chart: &Chart<Value, Value>) -> (World, Machine) {
    let vars = case.json["vars"].as_object().unwrap();
    let vars = vars.iter().map(|(name, value)| (name.clone(), value.as_i64().unwrap())).collect();
    let mut world = World { vars, ..World::default() };
    let mut machine = Machine::start(chart, &mut world).unwrap();
    drive_on(case, chart, &mut machine, &mut world);
    (world, machine)
}

fn drive_on(case: &Case, chart: &Chart<Value, Value>, machine: &mut Machine, world: &mut World) {
    for timed in list(&case.json["drive"]) {
        machine.advance(chart, timed[0].as_u64().unwrap() - machine.now_ticks(), world).unwrap();
        machine.event(chart, timed[1].as_str().unwrap(), world).unwrap();
    }
    machine.advance(chart, case.json["end"].as_u64().unwrap() - machine.now_ticks(), world).unwrap();
}

fn check(case: &Case, chart: &Chart<Value, Value>) {
    let (world, machine) = played(case, chart);
    let expected = &case.json["expected"];
    for (found, expected) in world.steps.iter().zip(list(&expected["steps"])) {
        assert_eq!(*found, expected, "{}", case.id);
    }
    assert_eq!(world.steps.len(), list(&expected["steps"]).len(), "{}", case.id);
    assert_eq!(json!(machine.configuration(chart).collect::<Vec<_>>()), expected["final"], "{}", case.id);
    assert_eq!(json!(!machine.is_running()), expected["terminated"], "{}", case.id);
    assert_eq!(json!(world.vars), expected["vars"], "{}", case.id);
}

/// Trace, configuration and variables after every event, exactly, tiers A and B.
#[test]
fn the_corpus_agrees_step_by_step() {
    for case in cases() {
        check(&case, &case.chart);
    }
}

/// A machine can be put down and taken up again anywhere.
#[test]
fn a_machine_goes_on_from_where_it_was_written_down() {
    for case in cases().iter().filter(|case| case.json["drive"].as_array().unwrap().len() > 3) {
        let (world, through) = played(case, &case.chart);
        let drive = list(&case.json["drive"]);
        let (before, after) = drive.split_at(drive.len() / 2);
        let part = |drive: &[Value], end: &Value| {
            let mut json = case.json.clone();
            json["drive"] = json!(drive);
            json["end"] = end.clone();
            Case { id: case.id.clone(), json, chart: case.chart.clone() }
        };
        let (mut half, machine) = played(&part(before, &before[before.len() - 1][0]), &case.chart);
        let written = serde_json::to_string(&machine).unwrap();
        let mut machine: Machine = serde_json::from_str(&written).unwrap();
        drive_on(&part(after, &case.json["end"]), &case.chart, &mut machine, &mut half);
        assert_eq!(half.steps, world.steps, "{}", case.id);
        assert_eq!(machine, through, "{}", case.id);
    }
}

fn leaf(id: &str) -> Spec {
    StateSpec::new(id, SpecKind::State { initial: None })
}

fn compound(id: &str, states: Vec<Spec>) -> Spec {
    Spec { states, ..leaf(id) }
}

fn ending(id: &str) -> Spec {
    StateSpec::new(id, SpecKind::Final)
}

fn on(event: &str, target: &str) -> TransitionSpec<Value, Value> {
    let words = |text: &str| text.split_whitespace().map(str::to_owned).collect();
    TransitionSpec {
        events: words(event),
        guard: None,
        target: words(target),
        internal: false,
        actions: Vec::new(),
    }
}

fn with(mut state: Spec, transitions: Vec<TransitionSpec<Value, Value>>) -> Spec {
    state.transitions = transitions;
    state
}

fn guarded(mut transition: TransitionSpec<Value, Value>) -> TransitionSpec<Value, Value> {
    transition.guard = Some(json!(["==", ["var", "n"], 1]));
    transition
}

#[test]
fn faults_are_told_at_once_with_place_and_remedy() {
    let to = |target: &[&str]| InitialSpec {
        target: target.iter().map(|&name| name.to_owned()).collect(),
        actions: Vec::new(),
    };
    let history = |id: &str, target: &[&str]| {
        StateSpec::new(id, SpecKind::History { deep: false, default: to(target) })
    };
    let states = vec![
        with(leaf("call"), vec![on("phone", "theatr"), on("", ""), on("a..b .c", "call")]),
        compound("theatre", vec![history("back", &["wire"]), leaf("wire"), leaf("wire")]),
        Spec { states: vec![ending("over")], ..StateSpec::new("both", SpecKind::Parallel) },
        with(ending("home"), vec![on("again", "call theatre")]),
        compound("ward", vec![leaf("bed"), history("bad", &["call"])]),
        leaf("two words"),
    ];
    let faults = Chart::build(Some(to(&["ward", "home"])), states).unwrap_err();
    let place = |fault: &ChartFault| match &fault.place {
        Place::Chart => "chart".to_owned(),
        Place::State(state) => state.clone(),
        Place::Transition(state, number) => format!("{state}.{number}"),
    };
    let found: Vec<_> = faults.iter().map(|fault| (place(fault), fault.message.as_str())).collect();
    let expected = [
        ("call.1", "a transition without event, guard and target would be taken for ever"),
        ("call.2", "`.c` is not the name of an event"),
        ("theatre", "it is not clear where to begin: the first state inside is a history"),
        ("wire", "two states are named `wire`"),
        ("both", "a final state directly in a parallel one ends nothing"),
        ("home", "a final state can have no states inside and no transitions"),
        ("two words", "`two words` is not a name for a state"),
        ("chart", "`home` and `ward` cannot be active at once"),
        ("call.0", "there is no state `theatr`"),
        ("home.0", "`theatre` and `call` cannot be active at once"),
        ("bad", "`call` does not lie inside, so nothing can begin there"),
    ];
    let expected: Vec<_> = expected.map(|(place, message)| (place.to_owned(), message)).to_vec();
    assert_eq!(found, expected, "{faults:#?}");
    assert_eq!(faults[8].hint.as_deref(), Some("did you mean `theatre`?"));
    assert!(faults.iter().all(|fault| fault.hint.is_some()));

    let deep = (0..10_000).fold(leaf("s"), |inner, number| compound(&format!("s{number}"), vec![inner]));
    assert!(Chart::build(None, vec![deep]).unwrap_err()[0].message.contains("deep"));
    assert!(Chart::<Value, Value>::build(None, Vec::new()).unwrap_err()[0].message.contains("no states"));
}

#[test]
fn a_restless_chart_is_given_up_with_a_name() {
    let chart =
        Chart::build(None, vec![with(leaf("a"), vec![on("", "b")]), with(leaf("b"), vec![on("", "a")])])
            .unwrap();
    let runaway = Machine::start(&chart, &mut World::default()).unwrap_err();
    assert!(runaway.to_string().contains(&MOST_MICROSTEPS.to_string()), "{runaway}");

    // Two events that call for each other, without time passing.
    let mut ping = leaf("a");
    ping.transitions = vec![on("ping", "")];
    ping.transitions[0].actions = vec![json!({"send": "ping"})];
    let chart = Chart::build(None, vec![ping]).unwrap();
    let mut machine = Machine::start(&chart, &mut World::default()).unwrap();
    assert!(machine.event(&chart, "ping", &mut World::default()).is_err());
}

#[test]
fn a_poll_takes_what_the_world_has_opened() {
    let open = guarded(on("", "b"));
    let chart = Chart::build(None, vec![with(leaf("a"), vec![open]), leaf("b")]).unwrap();
    let mut world = World { vars: [("n".to_owned(), 0)].into(), ..World::default() };
    let mut machine = Machine::start(&chart, &mut world).unwrap();
    machine.poll(&chart, &mut world).unwrap();
    assert!(machine.is_in(&chart, "a") && world.steps.len() == 1);
    world.vars.insert("n".to_owned(), 1);
    machine.poll(&chart, &mut world).unwrap();
    assert!(machine.is_in(&chart, "b") && world.steps.len() == 2);
}

/// What was seen to happen in the corpus is never said to be impossible.
#[test]
fn the_analysis_never_denies_what_the_corpus_shows() {
    let mut told = 0;
    for case in cases() {
        let findings = analyse(&case.chart);
        told += findings.len();
        let steps = list(&case.json["expected"]["steps"]);
        let happened = |what: &str| -> BTreeSet<String> {
            let all = steps.iter().flat_map(|step| list(&step["trace"]));
            all.filter(|entry| entry[0] == what).map(|entry| entry[1].as_str().unwrap().to_owned()).collect()
        };
        let (entered, left) = (happened("enter"), happened("exit"));
        let ended = case.json["expected"]["terminated"] == true;
        for finding in findings {
            match finding {
                Finding::Unreachable(state) | Finding::EndingUnreachable(state) => {
                    assert!(
                        !entered.contains(case.chart.name(state)),
                        "{}: {}",
                        case.id,
                        finding.message(&case.chart)
                    );
                }
                Finding::DeadEnd(state) => {
                    // The end of the whole chart leaves everything.
                    let name = case.chart.name(state);
                    assert!(ended || !left.contains(name), "{}: {}", case.id, finding.message(&case.chart));
                }
                Finding::NoEndings => assert!(!ended, "{}", case.id),
                Finding::NoEndingFrom(state) => {
                    assert!(!ended || !entered.contains(case.chart.name(state)), "{}", case.id);
                }
                Finding::Circle { guarded, .. } => assert!(guarded, "{} came to rest", case.id),
                Finding::Shadowed { .. } => {}
            }
        }
    }
    assert!(told > 0);
}

#[test]
fn the_analysis_finds_what_was_put_in() {
    let mut side = compound("side", vec![with(leaf("idle"), vec![on("done.state.side", "idle")])]);
    side.transitions = vec![guarded(on("", "idle")), on("x.y", "idle"), on("x.y.z", "")];
    let states = vec![
        with(leaf("call"), vec![on("go", "loop1"), on("stop", "pit"), on("side", "side"), on("win", "won")]),
        with(leaf("loop1"), vec![on("on", "loop2")]),
        with(leaf("loop2"), vec![on("on", "loop1")]),
        leaf("pit"),
        side,
        compound("attic", vec![with(leaf("box"), vec![on("fall", "lost")])]),
        with(leaf("c1"), vec![on("", "c2")]),
        with(leaf("c2"), vec![on("", "c1")]),
        ending("won"),
        ending("lost"),
    ];
    let chart = Chart::build(None, states).unwrap();
    let found: Vec<String> = analyse(&chart).iter().map(|finding| finding.message(&chart)).collect();
    assert_eq!(
        found,
        [
            "nothing ever leads to the state `attic`",
            "nothing ever leads to the state `c1`",
            "nothing ever leads to the state `c2`",
            "nothing ever leads to the ending `lost`",
            "no ending can be reached from `loop1`",
            "no ending can be reached from `loop2`",
            "nothing leads out of `pit`",
            "no ending can be reached from `idle`",
            "transition 3 of `side` is never taken: transition 2, before it, always is",
            "transitions without event lead round in a circle, so the chart may never come to rest: side → side",
        ]
    );
    let chart =
        Chart::build(None, vec![with(leaf("c1"), vec![on("", "c2")]), with(leaf("c2"), vec![on("", "c1")])])
            .unwrap();
    let circle = Finding::Circle {
        states: vec![chart.find("c1").unwrap(), chart.find("c2").unwrap()],
        guarded: false,
    };
    assert_eq!(analyse(&chart), [Finding::NoEndings, circle]);
}

/// Guards and actions as the corpus writes them in its own SCXML.
struct Ecma<'a>(&'a Value);

fn ecma(json: &Value) -> String {
    if json.is_i64() || json.is_boolean() {
        return json.to_string();
    }
    let part = |place: usize| ecma(&json[place]);
    let joined = |with: &str| {
        let parts: Vec<_> = json.as_array().unwrap()[1..].iter().map(ecma).collect();
        format!("({})", parts.join(with))
    };
    match json[0].as_str().unwrap() {
        "var" => json[1].as_str().unwrap().to_owned(),
        "in" => format!("In('{}')", json[1].as_str().unwrap()),
        "not" => format!("!({})", part(1)),
        "and" => joined(" && "),
        "or" => joined(" || "),
        op => format!("({} {op} {})", part(1), part(2)),
    }
}

impl Words<Value, Value> for Ecma<'_> {
    fn guard(&self, guard: &Value) -> String {
        ecma(guard)
    }
    fn action(&self, action: &Value) -> Content {
        let text = |key: &str| action[key].as_str().map(str::to_owned);
        if let Some(log) = text("log") {
            Content::Log { label: "T".to_owned(), expr: format!("'do {log}'") }
        } else if let Some(location) = action["assign"][0].as_str() {
            Content::Assign { location: location.to_owned(), expr: ecma(&action["assign"][1]) }
        } else if let Some(event) = text("raise") {
            Content::Raise(event)
        } else if let Some(event) = text("send") {
            Content::Send {
                event,
                delay_ms: action["delay"].as_f64().unwrap_or_default() as u64,
                id: text("id"),
            }
        } else {
            Content::Cancel(text("cancel").unwrap())
        }
    }
    fn name(&self) -> &str {
        ""
    }
    fn datamodel(&self) -> &str {
        "ecmascript"
    }
    fn data(&self) -> Vec<(String, String)> {
        let vars = self.0["vars"].as_object().unwrap();
        vars.iter().map(|(name, value)| (name.clone(), value.to_string())).collect()
    }
}

/// Our SCXML says the same as that which the independent engine was given.
#[test]
fn exported_scxml_equals_the_corpus_own() {
    for case in cases() {
        let ours = plain(xml(&scxml(&case.chart, &Ecma(&case.json))));
        let theirs = plain(xml(case.json["scxml"].as_str().unwrap()));
        assert_eq!(ours, theirs, "{}", case.id);
    }
}

/// Guards and actions as JSON text, so that they can be read back.
struct Json;

impl Words<Value, Value> for Json {
    fn guard(&self, guard: &Value) -> String {
        guard.to_string()
    }
    fn action(&self, action: &Value) -> Content {
        Content::Log { label: "\"<&>\"".to_owned(), expr: action.to_string() }
    }
    fn name(&self) -> &str {
        "A \"case\" <of> ours & theirs"
    }
    fn datamodel(&self) -> &str {
        "json"
    }
}

/// The exported document, read back, behaves as the corpus says.
#[test]
fn exported_scxml_reads_back_as_the_same_chart() {
    for case in cases() {
        let document = xml(&scxml(&case.chart, &Json));
        assert_eq!(document.attributes["name"], Json.name());
        let initial = InitialSpec { target: split(&document.attributes["initial"]), actions: Vec::new() };
        let states = document.children.iter().map(read_state).collect();
        let chart =
            Chart::build(Some(initial), states).unwrap_or_else(|faults| panic!("{}: {faults:#?}", case.id));
        check(&case, &chart);
    }
}

fn split(text: &str) -> Vec<String> {
    text.split_whitespace().map(str::to_owned).collect()
}

fn read_actions(element: &Element) -> Vec<Value> {
    element.children.iter().map(|log| serde_json::from_str(&log.attributes["expr"]).unwrap()).collect()
}

fn read_initial(transition: &Element) -> InitialSpec<Value> {
    InitialSpec { target: split(&transition.attributes["target"]), actions: read_actions(transition) }
}

fn read_state(element: &Element) -> Spec {
    let attribute = |name: &str| element.attributes.get(name).cloned().unwrap_or_default();
    let child = |tag: &str| element.children.iter().find(|child| child.tag == tag);
    let kind = match element.tag.as_str() {
        "parallel" => SpecKind::Parallel,
        "final" => SpecKind::Final,
        "history" => SpecKind::History {
            deep: attribute("type") == "deep",
            default: read_initial(&element.children[0]),
        },
        _ => SpecKind::State {
            initial: match (child("initial"), element.attributes.get("initial")) {
                (Some(initial), _) => Some(read_initial(&initial.children[0])),
                (None, Some(target)) => Some(InitialSpec { target: split(target), actions: Vec::new() }),
                (None, None) => None,
            },
        },
    };
    let history = element.tag == "history";
    let transition = |element: &Element| TransitionSpec {
        events: element.attributes.get("event").map(|events| split(events)).unwrap_or_default(),
        guard: element.attributes.get("cond").map(|guard| serde_json::from_str(guard).unwrap()),
        target: element.attributes.get("target").map(|target| split(target)).unwrap_or_default(),
        internal: element.attributes.get("type").is_some_and(|kind| kind == "internal"),
        actions: read_actions(element),
    };
    let tagged = |tags: &'static [&'static str]| {
        element.children.iter().filter(move |child| !history && tags.contains(&child.tag.as_str()))
    };
    Spec {
        on_entry: child("onentry").map(read_actions).unwrap_or_default(),
        on_exit: child("onexit").map(read_actions).unwrap_or_default(),
        transitions: tagged(&["transition"]).map(transition).collect(),
        states: tagged(&["state", "parallel", "final", "history"]).map(read_state).collect(),
        ..StateSpec::new(attribute("id"), kind)
    }
}

/// Every picture is well-formed, names every state, and no box cuts another: each lies inside it or beside
/// it.
#[test]
fn pictures_are_whole() {
    for case in cases() {
        let text = svg(
            &case.chart,
            &Json,
            &[case.chart.find(list(&case.json["states"])[0]["id"].as_str().unwrap()).unwrap()],
        );
        let picture = xml(&text);
        assert!(
            text.contains("Training only") && !text.contains("NaN") && !text.contains("inf"),
            "{}",
            case.id
        );
        let mut boxes = Vec::new();
        let mut words = BTreeSet::new();
        picture.walk(&mut |element| {
            let number = |name: &str| element.attributes.get(name).map(|text| text.parse::<f64>().unwrap());
            if let (Some(x), Some(y)) = (number("x"), number("y"))
                && element.tag == "rect"
            {
                boxes.push([x, y, x + number("width").unwrap(), y + number("height").unwrap()]);
            }
            words.insert(element.text.clone());
        });
        for state in case.chart.states() {
            assert!(words.contains(case.chart.name(state)), "{}: {}", case.id, case.chart.name(state));
        }
        let width: f64 = picture.attributes["width"].parse().unwrap();
        for a in &boxes {
            assert!(a[0] >= 0.0 && a[2] <= width, "{}", case.id);
            for b in boxes.iter().filter(|b| *b != a) {
                let inside =
                    |a: &[f64; 4], b: &[f64; 4]| a[0] >= b[0] && a[1] >= b[1] && a[2] <= b[2] && a[3] <= b[3];
                let beside = a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1];
                assert!(beside || inside(a, b) || inside(b, a), "{}: {a:?} {b:?}", case.id);
            }
        }
    }
}

/// Quotes close and braces match, every state is a node or a cluster, every target an edge.
#[test]
fn graphs_are_whole() {
    for case in cases() {
        let graph = dot(&case.chart, &Json);
        let (mut depth, mut quoted, mut escaped) = (0, false, false);
        for c in graph.chars() {
            match c {
                _ if escaped => escaped = false,
                '\\' if quoted => escaped = true,
                '"' => quoted = !quoted,
                '{' if !quoted => depth += 1,
                '}' if !quoted => depth -= 1,
                _ => {}
            }
        }
        assert_eq!((depth, quoted), (0, false), "{}", case.id);
        for state in case.chart.states() {
            let name = case.chart.name(state);
            assert!(
                graph.contains(&format!("\"{name}\" [")) || graph.contains(&format!("\"cluster_{name}\" {{"))
            );
        }
    }
}

/// An XML element, as far as these tests need one.
#[derive(Clone, Debug, Default, PartialEq)]
struct Element {
    tag: String,
    attributes: BTreeMap<String, String>,
    children: Vec<Element>,
    text: String,
}

impl Element {
    fn walk(&self, visit: &mut impl FnMut(&Element)) {
        visit(self);
        self.children.iter().for_each(|child| child.walk(visit));
    }
}

/// Reads a document; panics where it is not well-formed.
fn xml(text: &str) -> Element {
    let mut open: Vec<Element> = vec![Element::default()];
    let mut rest = text;
    while let Some(at) = rest.find('<') {
        open.last_mut().unwrap().text += &unescaped(&rest[..at]);
        rest = &rest[at..];
        if let Some(comment) = rest.strip_prefix("<!--") {
            rest = &comment[comment.find("-->").unwrap() + 3..];
            continue;
        }
        let end = rest.find('>').unwrap();
        let tag = &rest[1..end];
        rest = &rest[end + 1..];
        if tag.starts_with('?') {
            continue;
        }
        if let Some(name) = tag.strip_prefix('/') {
            let closed = open.pop().unwrap();
            assert_eq!(closed.tag, name);
            open.last_mut().unwrap().children.push(closed);
            continue;
        }
        let body = tag.strip_suffix('/');
        let element = start_tag(body.unwrap_or(tag));
        if body.is_some() { open.last_mut().unwrap().children.push(element) } else { open.push(element) }
    }
    let [document] = open.as_slice() else { panic!("unclosed {:?}", open.last().unwrap().tag) };
    assert_eq!(document.children.len(), 1);
    document.children[0].clone()
}

fn start_tag(text: &str) -> Element {
    let (tag, mut rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
    let mut element = Element { tag: tag.to_owned(), ..Element::default() };
    while let Some((name, after)) = rest.split_once('=') {
        let quote = after.chars().next().unwrap();
        assert!(quote == '"' || quote == '\'', "{text}");
        let (value, after) = after[1..].split_once(quote).unwrap();
        let old = element.attributes.insert(name.trim().to_owned(), unescaped(value));
        assert_eq!(old, None, "{text}");
        rest = after;
    }
    assert_eq!(rest.trim(), "", "{text}");
    element
}

fn unescaped(text: &str) -> String {
    assert!(!text.contains('<'));
    let mut parts = text.split('&');
    let mut out = parts.next().unwrap().to_owned();
    for part in parts {
        let (name, after) = part.split_once(';').unwrap();
        out.push(match name {
            "amp" => '&',
            "lt" => '<',
            "gt" => '>',
            "quot" => '"',
            "apos" => '\'',
            code => char::from_u32(code.strip_prefix('#').unwrap().parse().unwrap()).unwrap(),
        });
        out += after;
    }
    out
}

/// A document without what the corpus adds to be watched, without white space, and without a beginning that
/// is the first state anyway.
fn plain(mut element: Element) -> Element {
    element.text.clear();
    let watched = |child: &Element| {
        let note = child.attributes.get("expr").map_or("", String::as_str);
        child.tag == "log" && (note.starts_with("'enter ") || note.starts_with("'exit "))
    };
    element.children.retain(|child| !watched(child));
    element.children = element.children.into_iter().map(plain).collect();
    element.children.retain(|child| {
        !(["onentry", "onexit", "datamodel"].contains(&child.tag.as_str()) && child.children.is_empty())
    });
    let states = ["state", "parallel", "final"];
    let first = element.children.iter().find(|child| states.contains(&child.tag.as_str()));
    if element
        .attributes
        .get("initial")
        .is_some_and(|initial| first.is_some_and(|first| first.attributes["id"] == *initial))
    {
        element.attributes.remove("initial");
    }
    element
}
