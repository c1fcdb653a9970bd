//! The state chart against the published algorithm.
//!
//! `tests/reference/charts.json`: 175 charts with timed events and what each must do, step by step. The expected values
//! come from a transcription of Appendix D of the W3C Recommendation SCXML 1.0 (2015); an independent engine, QtScxml
//! 6.12, gives exactly the same for the 160 of tier A. For the 15 of tier B it sorts simultaneous transitions by depth,
//! which the Recommendation does not; there the Recommendation holds.

use std::collections::BTreeMap;

use overwire::scenario::chart::{
    Chart, Host, InitialSpec, Machine, Raise, Situation, SpecKind, StateSpec, TransitionSpec,
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
    let advance_to = |machine: &mut Machine, world: &mut World, ticks: u64| {
        machine.advance(chart, ticks - machine.now_ticks(), world).unwrap();
    };
    for timed in list(&case.json["drive"]) {
        advance_to(&mut machine, &mut world, timed[0].as_u64().unwrap());
        machine.event(chart, timed[1].as_str().unwrap(), &mut world).unwrap();
    }
    advance_to(&mut machine, &mut world, case.json["end"].as_u64().unwrap());
    (world, machine)
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
