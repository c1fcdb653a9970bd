//! Loading whole cases.

use overwire::scenario::diagnostic::{Level, render};
use overwire::scenario::load;

#[test]
fn the_first_case_loads_without_a_fault() {
    let text = include_str!("../../scenarios/descending_rupture.ron");
    let (loaded, found) = load(text, "descending_rupture.ron");
    let faults: Vec<_> = found.into_iter().filter(|d| d.level == Level::Fault).collect();
    assert!(faults.is_empty(), "{}", render(&faults, text, "descending_rupture.ron", false));
    assert!(loaded.is_some());
}

#[test]
fn every_starter_is_sound_and_says_what_is_left_to_do() {
    use clap::ValueEnum;
    use overwire::cli::new::{Kind, starter};
    for kind in Kind::value_variants() {
        let text = starter(*kind, "my_case");
        assert!(!text.contains("{{"), "{kind:?}: a part is missing: {text}");
        let (loaded, found) = load(&text, "my_case.ron");
        assert!(found.is_empty(), "{kind:?}\n{}", render(&found, &text, "my_case.ron", false));
        let loaded = loaded.unwrap();
        let told = overwire::scenario::check(&loaded);
        let doubts: Vec<_> = told
            .iter()
            .filter(|d| d.level == Level::Doubt && !matches!(d.code, "to-do" | "play" | "source"))
            .cloned()
            .collect();
        assert!(doubts.is_empty(), "{kind:?}\n{}", render(&doubts, &text, "my_case.ron", false));
        assert!(told.iter().any(|d| d.code == "to-do"), "{kind:?}");
    }
}

/// A case is read or refused; whatever is done to its text, in reasonable time and with at least one place and message.
fn refused(text: &str) {
    let begun = std::time::Instant::now();
    let (loaded, found) = load(text, "case.ron");
    assert!(loaded.is_none());
    let faults: Vec<_> = found.into_iter().filter(|d| d.level == Level::Fault).collect();
    assert!(!faults.is_empty());
    assert!(faults.iter().all(|d| !d.message.is_empty() && d.span.end <= text.len().max(1)), "{faults:?}");
    assert!(!render(&faults[..faults.len().min(5)], text, "case.ron", false).is_empty());
    // One second is promised of the program as built for use; this build is several times slower.
    assert!(begun.elapsed().as_secs() < 10, "{:?}", begun.elapsed());
}

#[test]
fn a_truncated_case_is_refused_wherever_it_breaks_off() {
    let text = include_str!("../../scenarios/descending_rupture.ron");
    let end = text.trim_end().len();
    for i in 0..500 {
        let mut at = end * i / 500;
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        refused(&text[..at]);
    }
}

#[test]
fn hostile_texts_are_refused() {
    for deep in ["(", "[", "{", "(a:", "[[(", "(format: 1, chart: (states: [(states: ["] {
        refused(&deep.repeat(200_000 / deep.len()));
    }
    refused(&"\u{1f480}".repeat(1000));
    refused(&"/*".repeat(100_000));
    refused(&"\"".repeat(99_999));
    refused(&"#".repeat(100_000));
    refused(&"x".repeat(3 << 20));
    refused("(format: 1)\0");
    refused("");
    refused("\n\n// only a comment\n");
    refused("(format: 18446744073709551616)");
    refused("(format: 7)");
    refused("#![include(\"/etc/passwd\")]\n(format: 1)");
    refused("(format: 1, id: include_str!(\"/etc/passwd\"))");
    // As large as is looked at: a million faults, a million empty lists, a million names.
    let fill = |unit: &str| format!("(format: 1, asks: [{}])", unit.repeat((2 << 20) / unit.len() - 20));
    for unit in ["0,", "[],", "(),", "\"\",", "a,", "(id: \"a\"),", "a ", "0 ", "\n) "] {
        refused(&fill(unit));
    }
}

#[test]
fn what_is_no_text_is_refused() {
    use overwire::scenario::load::decode;
    for bytes in
        [&[0xff, 0xfe, 0x28, 0x00][..], &[0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a], &[0xc3, 0x28]]
    {
        assert_eq!(decode(bytes).unwrap_err().code, "not-text");
    }
    assert_eq!(decode(&vec![b' '; (2 << 20) + 1]).unwrap_err().code, "too-large");
}

#[test]
fn every_name_stands_where_its_path_says() {
    use overwire::scenario::Order;
    use overwire::scenario::compile::walk;
    let text = include_str!("../../scenarios/descending_rupture.ron");
    let loaded = load(text, "case.ron").0.unwrap();
    let at = |path: &str| &text[loaded.spans.node(path).unwrap_or_else(|| panic!("{path}")).range()];
    let mut devices = 0;
    for (path, order) in walk::orders(&loaded.case) {
        if let Order::Insert { device, .. } | Order::Move { device, .. } | Order::Remove { device, .. } =
            order
        {
            assert_eq!(at(&format!("{path}.{}.device", order.verb())), format!("\"{device}\""));
            devices += 1;
        }
    }
    assert!(devices > 20, "{devices}");
    for state in walk::states(&loaded.case) {
        assert_eq!(at(&format!("{}.id", state.path)), format!("\"{}\"", state.state.id));
    }
    for (path, rule, _) in walk::rules(&loaded.case) {
        assert_eq!(
            at(&path).trim_start_matches("Some(").trim_end_matches(')').matches('"').count(),
            2,
            "{path}: {rule}"
        );
    }
    for (name, value) in &loaded.case.policy {
        assert_eq!(at(&format!("policy[{name}]")).parse(), Ok(*value));
    }
    // What is left out is shown at the nearest thing around it.
    let around = loaded.spans.find("asks[0].options[0].sends[3]");
    assert_eq!(&text[around], format!("\"{}\"", loaded.case.asks[0].options[0].id));
}

#[test]
fn places_are_told_in_lines_and_characters() {
    use overwire::scenario::diagnostic::{json, sarif};
    // An umlaut is two bytes and one column.
    let text = "(\n    format: 1, id: \"müde\", titel: \"x\",\n)";
    let found = load(text, "a b.ron").1;
    let unknown = json(&found, text, "a b.ron");
    let place = &unknown.as_array().unwrap().iter().find(|d| d["code"] == "field-unknown").unwrap()["place"];
    assert_eq!((&place["line"], &place["column"], &place["end_column"]), (&2.into(), &28.into(), &33.into()));
    // SARIF 2.1.0 (OASIS 2020), sections 3.13, 3.14, 3.27 and 3.30: what a run, a result and a region must have.
    let log = sarif(&[("a b.ron".into(), text.into(), found)]);
    assert_eq!(log["version"], "2.1.0");
    let run = &log["runs"][0];
    let rules: Vec<_> =
        run["tool"]["driver"]["rules"].as_array().unwrap().iter().map(|r| r["id"].clone()).collect();
    let results = run["results"].as_array().unwrap();
    assert!(!results.is_empty());
    for result in results {
        assert!(rules.contains(&result["ruleId"]), "{result}");
        assert!(["error", "warning", "note"].contains(&result["level"].as_str().unwrap()));
        assert!(!result["message"]["text"].as_str().unwrap().is_empty());
        let location = &result["locations"][0]["physicalLocation"];
        assert_eq!(location["artifactLocation"]["uri"], "a%20b.ron");
        assert!(location["region"]["startLine"].as_u64().unwrap() >= 1);
        assert!(location["region"]["startColumn"].as_u64().unwrap() >= 1);
    }
}

#[test]
fn every_message_has_its_place_in_the_index() {
    use overwire::scenario::diagnostic::CODES;
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/suite");
    for file in std::fs::read_dir(folder).unwrap() {
        let text = std::fs::read_to_string(file.unwrap().path()).unwrap();
        for told in text.split("//~").skip(1) {
            let code = told
                .trim_start_matches('~')
                .split(':')
                .next()
                .unwrap()
                .split_whitespace()
                .nth(1)
                .unwrap_or("");
            assert!(CODES.iter().any(|(known, _)| *known == code), "{told}");
        }
    }
}

/// A case that somebody wrote years ago must still run: each format keeps a file that is never changed, and a format that is
/// left behind gets a migration for it.
#[test]
fn every_format_that_there_was_still_loads() {
    use overwire::scenario::load::FORMAT;
    for format in 1..=FORMAT {
        let path = format!("{}/tests/formats/{format}.ron", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
        assert!(text.contains(&format!("format: {format},")), "{path}");
        let (loaded, found) = load(&text, &path);
        assert!(loaded.is_some(), "{path}: {found:?}");
    }
    for other in [0, FORMAT + 1] {
        let text = include_str!("../formats/1.ron").replace("format: 1,", &format!("format: {other},"));
        let (loaded, found) = load(&text, "case.ron");
        assert!(loaded.is_none() && found.len() == 1 && found[0].code == "version", "{found:?}");
    }
}
