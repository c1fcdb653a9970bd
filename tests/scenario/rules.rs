//! The rule language against the published meaning of its operators.
//!
//! `tests/reference/temporal_rules.json`: 243 formulas with signals, and truth and robustness at every
//! sample. Its values were computed twice, by the open monitor rtamt 0.4.10 (Nickovic and Yamaguchi 2020) and
//! by a direct transcription of the definitions in Fainekos and Pappas (2009) and Donzé and Maler (2010),
//! which agree exactly.

use std::collections::BTreeMap;

use overwire::scenario::rule::{
    Argument, Arithmetic, Binary, Comparison, Expr, Kind, Quantity, Rule, Signals, Temporal, Unit, Verdict,
    Vocabulary, Window, parse,
};
use proptest::prelude::*;
use serde_json::Value;

#[derive(Clone, Debug, Default)]
struct Moment {
    values: BTreeMap<String, f64>,
    events: Vec<(String, Option<String>)>,
    states: Vec<String>,
    choices: Vec<(String, String)>,
}

impl Signals for Moment {
    fn value(&self, signal: &str) -> Option<f64> {
        self.values.get(signal).copied()
    }
    fn event(&self, name: &str, argument: Option<&str>) -> bool {
        self.events.iter().any(|(event, of)| event == name && of.as_deref() == argument)
    }
    fn in_state(&self, state: &str) -> bool {
        self.states.iter().any(|name| name == state)
    }
    fn chose(&self, ask: &str, option: &str) -> bool {
        self.choices.iter().any(|(a, o)| a == ask && o == option)
    }
}

struct Case {
    id: String,
    tree: Value,
    dt_s: f64,
    vocabulary: Vocabulary,
    moments: Vec<Moment>,
    whole: Value,
}

fn cases() -> Vec<Case> {
    let file: Value = serde_json::from_str(include_str!("../reference/temporal_rules.json")).unwrap();
    let cases: Vec<Case> = file["cases"].as_array().unwrap().iter().map(case).collect();
    assert_eq!(cases.len(), 243);
    cases
}

fn case(json: &Value) -> Case {
    let mut vocabulary = Vocabulary::new();
    let mut moments: Vec<Moment> = Vec::new();
    for (name, values) in json["signals"].as_object().unwrap() {
        vocabulary.signal(name, Unit::plain());
        let values = values.as_array().unwrap();
        moments.resize_with(values.len(), Moment::default);
        for (moment, value) in moments.iter_mut().zip(values) {
            moment.values.insert(name.clone(), number(value));
        }
    }
    Case {
        id: json["id"].as_str().unwrap().to_owned(),
        tree: json["ast"].clone(),
        dt_s: number(&json["dt"]),
        vocabulary,
        moments,
        whole: json.clone(),
    }
}

/// A number of the corpus; infinities are strings there.
fn number(json: &Value) -> f64 {
    match json.as_str() {
        Some("inf") => f64::INFINITY,
        Some("-inf") => f64::NEG_INFINITY,
        _ => json.as_f64().unwrap(),
    }
}

fn at(kind: Kind) -> Expr {
    Expr::unplaced(kind)
}

fn quantity(value: f64, unit: &str) -> Quantity {
    Quantity { value, unit: Unit::parse(unit).unwrap() }
}

/// The corpus's tree as ours. With `closed`, `until` and `since` ask the left operand at the right's moment
/// too.
fn translated(json: &Value, closed: bool) -> Expr {
    let op = json["op"].as_str().unwrap();
    let window = json
        .get("a")
        .map(|a| Window { from: quantity(number(a), "s"), to: quantity(number(&json["b"]), "s") });
    let part = |json: &Value| translated(json, closed);
    let boxed = |json: &Value| Box::new(part(json));
    let args = |place: usize| boxed(&json["args"][place]);
    let list = || json["args"].as_array().unwrap().iter().map(part).collect();
    let comparison = match op {
        "ge" => Some(Comparison::AtLeast),
        "gt" => Some(Comparison::Greater),
        "le" => Some(Comparison::AtMost),
        "lt" => Some(Comparison::Less),
        "eq" => Some(Comparison::Equal),
        "ne" => Some(Comparison::Unequal),
        _ => None,
    };
    at(match op {
        _ if comparison.is_some() => {
            Kind::Compare(comparison.unwrap(), Box::new(term(&json["left"])), Box::new(term(&json["right"])))
        }
        "not" => Kind::Not(boxed(&json["arg"])),
        "and" => Kind::And(list()),
        "or" => Kind::Or(list()),
        "implies" => Kind::Implies(args(0), args(1)),
        "until" | "since" => {
            let right = if closed { Box::new(at(Kind::And(vec![*args(0), *args(1)]))) } else { args(1) };
            Kind::Binary(Binary::from_word(op).unwrap(), window, args(0), right)
        }
        _ => Kind::Temporal(Temporal::from_word(op).unwrap(), window, boxed(&json["arg"])),
    })
}

fn term(json: &Value) -> Expr {
    match json.get("var") {
        Some(name) => at(Kind::Name(name.as_str().unwrap().to_owned())),
        None => {
            let value = number(&json["const"]);
            let size = at(Kind::Number(quantity(value.abs(), "")));
            if value.is_sign_negative() { at(Kind::Negative(Box::new(size))) } else { size }
        }
    }
}

/// Every truth and every margin of the corpus, exactly, from rules read out of text.
#[test]
fn the_corpus_agrees_offline_at_every_sample() {
    for case in cases() {
        let tree = translated(&case.tree, false);
        let rule = Rule::parse(&tree.to_string(), &case.vocabulary).unwrap();
        assert_eq!(rule.tree(), &tree, "{}", case.id);
        let found = rule.offline(case.dt_s, &case.moments);
        let expected = &case.whole["all"];
        for (k, verdict) in found.verdicts.iter().enumerate() {
            assert_eq!(
                verdict.truth,
                expected["sat"][k].as_bool().unwrap(),
                "{} truth at {k}: {rule}",
                case.id
            );
            assert_eq!(
                verdict.margin,
                number(&expected["robustness"][k]),
                "{} margin at {k}: {rule}",
                case.id
            );
        }
        assert_eq!(found.verdicts.len(), expected["sat"].as_array().unwrap().len());
    }
}

/// The closed meaning of `until`, which other texts use, is ours with the left operand joined to the right.
#[test]
fn the_corpus_agrees_on_closed_until_too() {
    let mut compared = 0;
    for case in cases() {
        let Some(expected) = case.whole.get("closed_until") else { continue };
        let rule = Rule::from_tree(translated(&case.tree, true), &case.vocabulary).unwrap();
        let found = rule.offline(case.dt_s, &case.moments);
        let k = case.whole["expected"]["at"].as_u64().unwrap() as usize;
        assert_eq!(found.verdicts[k].truth, expected["sat"].as_bool().unwrap(), "{}", case.id);
        assert_eq!(found.verdicts[k].margin, number(&expected["robustness"]), "{}", case.id);
        compared += 1;
    }
    assert_eq!(compared, 86);
}

/// The judge of a running session says the same as the recording, for every rule that looks back.
#[test]
fn the_corpus_agrees_online_for_the_past() {
    let mut judged = 0;
    for case in cases() {
        let rule = Rule::from_tree(translated(&case.tree, false), &case.vocabulary).unwrap();
        let future = matches!(case.whole["kind"].as_str(), Some("future" | "mixed"));
        assert_eq!(rule.online(case.dt_s).is_err(), future, "{}", case.id);
        let Ok(mut monitor) = rule.online(case.dt_s) else { continue };
        judged += 1;
        for (k, moment) in case.moments.iter().enumerate() {
            let expected = Verdict {
                truth: case.whole["all"]["sat"][k].as_bool().unwrap(),
                margin: number(&case.whole["all"]["robustness"][k]),
            };
            assert_eq!(monitor.peek(moment), expected, "{} at {k}: {rule}", case.id);
            assert_eq!(monitor.push(moment), expected, "{} at {k}: {rule}", case.id);
        }
    }
    assert!(judged >= 134, "only {judged} rules look back");
}

/// The decisive moment's own margin is the rule's, up to the sign that `not` turns.
#[test]
fn the_decisive_moment_carries_the_margin_of_the_session() {
    for case in cases() {
        let rule = Rule::parse(&translated(&case.tree, false).to_string(), &case.vocabulary).unwrap();
        let found = rule.offline(case.dt_s, &case.moments);
        let overall = found.overall.unwrap();
        match found.decisive {
            Some(decisive) => {
                assert_eq!(decisive.verdict.margin.abs(), overall.margin.abs(), "{}: {rule}", case.id);
                assert!(decisive.sample < case.moments.len());
            }
            None => assert!(overall.margin.is_infinite(), "{}: {rule}", case.id),
        }
    }
}

fn theatre() -> Vocabulary {
    let mut vocabulary = Vocabulary::new();
    let unit = |text| Unit::parse(text).unwrap();
    vocabulary
        .signal("sbp", unit("mmHg"))
        .signal("map", unit("mmHg"))
        .signal("hr", unit("bpm"))
        .signal("leak.Ia", unit("mL/min"))
        .signal("oversize.proximal", unit("%"))
        .signal("blood_loss", unit("mL"))
        .signal("tip_to_valve", unit("mm"))
        .event("done", Argument::one_of(["run", "unsheathe"]))
        .event("order", Argument::one_of(["lower_pressure"]))
        .event("handed_over", Argument::None)
        .state("theatre")
        .state("ward")
        .ask("graft", ["tevar_34", "tevar_38"]);
    vocabulary
}

/// A session sampled every `dt_s` seconds from `sbp` values in mmHg, with events by sample.
fn session(sbp: &[f64], events: &[(usize, &str, &str)]) -> Vec<Moment> {
    let mut moments: Vec<Moment> = sbp
        .iter()
        .map(|&value| Moment { values: [("sbp".to_owned(), value)].into(), ..Moment::default() })
        .collect();
    for &(k, name, argument) in events {
        moments[k].events.push((name.to_owned(), Some(argument.to_owned())));
    }
    moments
}

fn judged(text: &str, dt_s: f64, moments: &[Moment]) -> overwire::scenario::rule::Evaluation {
    Rule::parse(text, &theatre()).unwrap_or_else(|faults| panic!("{text}: {faults:?}")).offline(dt_s, moments)
}

/// Worked by hand from the definitions.
#[test]
fn sentences_mean_what_they_say() {
    // Ordered at 1 min; 104 a minute later, 97 two minutes later.
    let moments = session(&[130.0, 128.0, 104.0, 97.0, 103.0], &[(1, "order", "lower_pressure")]);
    let within = "sbp < 100 mmHg within 3 min of order(lower_pressure)";
    let found = judged(within, 60.0, &moments);
    assert_eq!(found.overall, Some(Verdict { truth: true, margin: 3.0 }));
    let decisive = found.decisive.unwrap();
    assert_eq!((decisive.sample, &within[decisive.span]), (3, "sbp < 100 mmHg"));
    let soon = judged("sbp < 100 mmHg within 1 min of order(lower_pressure)", 60.0, &moments);
    assert_eq!(soon.overall, Some(Verdict { truth: false, margin: -4.0 }));
    let never_ordered = judged("sbp < 10 mmHg within 1 min of done(run)", 60.0, &moments);
    assert_eq!(never_ordered.overall, Some(Verdict { truth: true, margin: f64::INFINITY }));

    // 13.3322387415 kPa is 100 mmHg.
    let kpa = judged("always sbp > 12 kPa", 60.0, &moments).overall.unwrap();
    assert!(kpa.truth && (kpa.margin - (97.0 - 12.0 / 0.133_322_387_415)).abs() < 1e-9);

    // One low sample at the very start is not two minutes of low pressure; three in a row, a minute apart,
    // are.
    let low_start = session(&[55.0, 80.0, 80.0, 80.0], &[]);
    assert!(judged("never (sbp < 60 mmHg for 2 min)", 60.0, &low_start).overall.unwrap().truth);
    let low_long = session(&[80.0, 55.0, 58.0, 52.0, 80.0], &[]);
    let found = judged("never (sbp < 60 mmHg for 2 min)", 60.0, &low_long);
    assert_eq!(found.overall, Some(Verdict { truth: false, margin: -2.0 }));
    assert_eq!(found.decisive.unwrap().sample, 2);

    // A part that looks back is read at the end even beside one that looks ahead.
    let moments = session(&[90.0, 95.0, 92.0], &[(1, "done", "run")]);
    let both = judged("once done(run) and always sbp > 85 mmHg", 60.0, &moments);
    assert_eq!(both.overall, Some(Verdict { truth: true, margin: 5.0 }));

    let moments = session(&[90.0; 4], &[(0, "done", "run"), (2, "done", "run"), (3, "done", "run")]);
    for (text, truths) in [
        ("count(done(run)) >= 2", [false, false, true, true]),
        ("count[0 s, 1 min](done(run)) >= 2", [false, false, false, true]),
        ("count[1 min, 2 min](done(run)) == 1", [false, true, true, true]),
        ("not done(unsheathe) since done(run)", [true, true, true, true]),
        ("known(leak.Ia) or leak.Ia < 10 mL/min", [false; 4]),
        ("handed_over or in(theatre) or chose(graft, tevar_34)", [false; 4]),
    ] {
        let found = judged(text, 60.0, &moments);
        assert_eq!(found.verdicts.iter().map(|verdict| verdict.truth).collect::<Vec<_>>(), truths, "{text}");
    }
}

/// Every fault at once, with the words it is about, and a remedy.
#[test]
fn faults_are_told_at_once_with_place_and_remedy() {
    for (text, expected) in [
        ("spb < 100 mmHg", &[("spb", "`spb` is not a signal", "did you mean `sbp`?")][..]),
        ("sbp < 100 mmhg", &[("mmhg", "`mmhg` is not a unit", "did you mean `mmHg`?")]),
        (
            "sbp < 100",
            &[("sbp < 100", "a quantity in mmHg and a plain number do not go together", "`100 mmHg`")],
        ),
        (
            "sbp < 100 mL and hr + map > 3 bpm",
            &[
                (
                    "sbp < 100 mL",
                    "a quantity in mmHg and a quantity in mL do not go together",
                    "quantity in mmHg",
                ),
                ("hr + map", "a quantity in bpm and a quantity in mmHg do not go together", ""),
            ],
        ),
        (
            "done(rum) or in(thatre) or chose(graft, tevar_36)",
            &[
                ("done(rum)", "`rum` is not something that `done` can be of", "did you mean `run`?"),
                ("in(thatre)", "`thatre` is not a state of the chart", "did you mean `theatre`?"),
                (
                    "chose(graft, tevar_36)",
                    "`tevar_36` is not an option of `graft`",
                    "did you mean `tevar_34`?",
                ),
            ],
        ),
        ("map", &[("map", "expected a condition, found a quantity in mmHg", "`map >= 1 mmHg`")]),
        ("done and sbp > 3 mmHg", &[("done", "`done` needs to know of what", "`done(run)`")]),
        ("done(run) + 1 > 2", &[("done(run)", "expected a quantity, found a condition", "count")]),
        (
            "always[3 min, 1 min] sbp > 3 mmHg",
            &[("[3 min, 1 min]", "this window ends before it begins", "nearer")],
        ),
        (
            "sbp > 3 mmHg for 2 mmHg",
            &[("2 mmHg", "expected a length of time, found a quantity in mmHg", "2 min")],
        ),
        ("50 mmHg < sbp < 100 mmHg", &[("<", "two comparisons in a row", "between")]),
        ("(sbp > 3 mmHg", &[("", "expected `)`, found the end of the rule", "byte 0")]),
        ("", &[("", "expected a condition or a quantity, found the end of the rule", "map >= 65 mmHg")]),
        (
            "sbp > and map < $ 3 mmHg )",
            &[
                ("and", "expected a condition or a quantity, found `and`", ""),
                ("$", "`$` means nothing here", ""),
                (")", "expected the rule to end here, found `)`", ""),
            ],
        ),
        ("hr = 60 bpm", &[("=", "`=` means nothing here", "==")]),
        (
            "hr > 60 bpm done(run) and spb < 3 mmHg",
            &[("done", "expected the rule to end here", "and"), ("spb", "`spb` is not a signal", "sbp")],
        ),
    ] {
        let faults = Rule::parse(text, &theatre()).expect_err(text);
        assert_eq!(faults.len(), expected.len(), "{text}: {faults:#?}");
        for (fault, (place, message, hint)) in faults.iter().zip(expected) {
            assert_eq!(&text[fault.span.clone()], *place, "{text}: {faults:#?}");
            assert!(fault.message.starts_with(message), "{text}: {faults:#?}");
            assert!(fault.hint.as_deref().unwrap_or_default().contains(hint), "{text}: {faults:#?}");
        }
    }
    let ahead = Rule::parse("once done(run) and never (sbp < 60 mmHg)", &theatre()).unwrap();
    let fault = ahead.online(1.0).unwrap_err();
    assert_eq!(fault.span, 19..40);
}

/// Deep and long texts are refused or read, never a stack overflow.
#[test]
fn hostile_texts_are_refused_in_words() {
    for text in [
        "(".repeat(4000),
        "not ".repeat(1000),
        "-".repeat(4000),
        "hr+".repeat(1300) + "hr",
        "abs(".repeat(900),
        "count(".repeat(600),
        "always[0 s,".repeat(300),
        "hr < 1 bpm for ".repeat(200),
        "x ".repeat(2000),
        "a".repeat(1_000_000),
        "\"".repeat(333),
        "é≤°µ\u{0}\u{202e}".repeat(100),
    ] {
        assert!(Rule::parse(&text, &theatre()).is_err(), "{}", &text[..20.min(text.len())]);
    }
    let long = "hr > 1 bpm and ".repeat(250) + "hr > 1 bpm";
    assert!(Rule::parse(&long, &theatre()).is_ok());
}

fn names() -> impl Strategy<Value = String> {
    prop::sample::select(vec!["x", "leak.Ia", "line.2.tip", "odd name", "3rd", "über"])
        .prop_map(str::to_owned)
}

fn word() -> impl Strategy<Value = String> {
    prop::sample::select(vec!["x", "leak.Ia", "line.2.tip", "über"]).prop_map(str::to_owned)
}

fn quantities(units: &'static [&'static str]) -> impl Strategy<Value = Quantity> {
    let value = prop_oneof![(0_u32..500).prop_map(f64::from), 0.0..1e6, Just(1e-7), Just(1.5e300)];
    (value, prop::sample::select(units)).prop_map(|(value, unit)| quantity(value, unit))
}

fn windows() -> impl Strategy<Value = Option<Window>> {
    let ends = (quantities(&["s"]), quantities(&["min", "h", "day"]));
    prop::option::of(ends.prop_map(|(mut from, to)| {
        from.value = from.value.min(to.value);
        Window { from, to }
    }))
}

/// Any tree that the grammar can say, sensible or not.
fn trees() -> impl Strategy<Value = Expr> {
    let leaf = prop_oneof![
        any::<bool>().prop_map(Kind::Truth),
        quantities(&["", "mmHg", "%", "mL/kg/h", "Gy cm2", "1/min"]).prop_map(Kind::Number),
        word().prop_map(Kind::Name),
        (word(), names()).prop_map(|(name, of)| Kind::Event(name, of)),
        names().prop_map(Kind::In),
        (names(), names()).prop_map(|(ask, option)| Kind::Chose(ask, option)),
        word().prop_map(Kind::Known),
    ]
    .prop_map(at);
    leaf.prop_recursive(6, 40, 4, |part| {
        let boxed = part.clone().prop_map(Box::new).boxed();
        let pair = (boxed.clone(), boxed.clone());
        let several = prop::collection::vec(part, 2..4);
        prop_oneof![
            (windows(), boxed.clone()).prop_map(|(window, x)| Kind::Count(window, x)),
            boxed.clone().prop_map(Kind::Abs),
            boxed.clone().prop_map(Kind::Negative),
            (prop::sample::select(Arithmetic::ALL), pair.clone())
                .prop_map(|(op, (x, y))| Kind::Arithmetic(op, x, y)),
            (prop::sample::select(Comparison::ALL), pair.clone())
                .prop_map(|(op, (x, y))| Kind::Compare(op, x, y)),
            (boxed.clone(), pair.clone()).prop_map(|(x, (low, high))| Kind::Between(x, low, high)),
            boxed.clone().prop_map(Kind::Not),
            several.clone().prop_map(Kind::And),
            several.prop_map(Kind::Or),
            pair.clone().prop_map(|(p, q)| Kind::Implies(p, q)),
            (prop::sample::select(Temporal::ALL), windows(), boxed.clone())
                .prop_map(|(op, window, p)| Kind::Temporal(op, window, p)),
            (prop::sample::select(Binary::ALL), windows(), pair.clone())
                .prop_map(|(op, window, (p, q))| Kind::Binary(op, window, p, q)),
            (boxed.clone(), quantities(&["s", "min"])).prop_map(|(p, length)| Kind::For(p, length)),
            (pair, quantities(&["s", "h"])).prop_map(|((p, e), length)| Kind::Within(p, length, e)),
        ]
        .prop_map(at)
    })
}

proptest! {
    /// What is printed reads back as the same tree.
    #[test]
    fn printed_rules_read_back(tree in trees()) {
        let text = tree.to_string();
        prop_assume!(text.len() <= 4096);
        let (read, faults) = parse(&text);
        prop_assert_eq!(faults, vec![], "{}", text);
        prop_assert_eq!(read, tree, "{}", text);
    }

    /// No text makes the reader panic, and every fault lies inside the text on letter boundaries.
    #[test]
    fn any_text_is_read_or_refused(text in "[a-z0-9 ()\\[\\],.<>=+*/%\"é≤-]{0,60}|(sbp|map|100|mmHg|<|and|or|\\(|\\)|for|within|of|min|once|since|\\[|,|\\]| ){0,30}") {
        if let Err(faults) = Rule::parse(&text, &theatre()) {
            prop_assert!(!faults.is_empty());
            for fault in faults {
                prop_assert!(text.get(fault.span).is_some());
            }
        }
    }

    /// A rule that looks back says the same moment by moment as over the whole recording.
    #[test]
    fn online_equals_offline(
        sbp in prop::collection::vec(-5.0..5.0, 1..40),
        near in 0_u32..6,
        width in 0_u32..6,
        runs in prop::collection::vec(any::<bool>(), 40),
        dt_s in prop::sample::select(vec![1.0, 0.1, 0.7]),
    ) {
        let window = format!("[{near} s, {} s]", near + width);
        let text = format!(
            "(sbp > 1 mmHg since{window} sbp < -1 mmHg) or count{window}(done(run)) >= 2 and \
             (historically{window} sbp > -2 mmHg for 2 s) or not once{window} done(run)"
        );
        let events: Vec<_> = (0..sbp.len()).filter(|&k| runs[k]).map(|k| (k, "done", "run")).collect();
        let moments = session(&sbp, &events);
        let rule = Rule::parse(&text, &theatre()).unwrap();
        let mut monitor = rule.online(dt_s).unwrap();
        let online: Vec<_> = moments.iter().map(|moment| monitor.push(moment)).collect();
        prop_assert_eq!(online, rule.offline(dt_s, &moments).verdicts);
    }
}
