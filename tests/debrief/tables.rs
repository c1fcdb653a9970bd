//! CSV and JSON: they parse, and say what the page says.

use super::report::{page_of, session_saying};
use overwire::assess::Judgement;
use overwire::debrief::export;
use serde_json::Value;

/// RFC 4180: fields, quoted fields with doubled quotes, CRLF.
fn csv(text: &str) -> Vec<Vec<String>> {
    let mut rows = vec![vec![String::new()]];
    let mut chars = text.chars().peekable();
    let mut quoted = false;
    while let Some(c) = chars.next() {
        let row = rows.last_mut().unwrap();
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                row.last_mut().unwrap().push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => row.push(String::new()),
            '\r' if !quoted => assert_eq!(chars.peek(), Some(&'\n'), "a bare carriage return"),
            '\n' if !quoted => rows.push(vec![String::new()]),
            c => row.last_mut().unwrap().push(c),
        }
    }
    assert!(!quoted, "a quote stays open");
    assert_eq!(rows.pop(), Some(vec![String::new()]), "the last line ends");
    rows
}

#[test]
fn tables_parse_and_agree_with_the_page() {
    let words = "so, \"said\" he\r\nand left";
    let record = session_saying(words).record();
    let judgement = Judgement::of_record(&record);
    let json = export::json(&record, &judgement, &[]);
    let again: Value = serde_json::from_str(&serde_json::to_string_pretty(&json).unwrap()).unwrap();
    assert_eq!(again, json);
    let rows = csv(&export::decisions_csv(&judgement));
    let decisions = json["decisions"].as_array().unwrap();
    assert_eq!(rows.len(), decisions.len() + 1);
    assert!(rows.iter().all(|r| r.len() == rows[0].len()), "{rows:?}");
    let column = |name: &str| rows[0].iter().position(|c| c == name).unwrap();
    for (row, d) in rows[1..].iter().zip(decisions) {
        assert_eq!(row[column("tier")], d["tier"].as_str().unwrap());
        assert_eq!(row[column("why")], d["why"].as_str().unwrap());
        assert_eq!(row[column("time_s")].parse::<f64>().unwrap(), d["time_s"].as_f64().unwrap());
        assert_eq!(row[column("sure_percent")], d["sure_percent"].to_string());
    }
    let page = page_of(&record);
    let score = 100.0 * json["decision_score"].as_f64().unwrap();
    assert!(page.contains(&format!("that is {score:.0} %")));
    let held = json["marks"].as_array().unwrap().iter().filter(|m| m["met"] == true).count();
    let shown = page.matches(">done</span>").count() + page.matches(">avoided</span>").count();
    assert_eq!(shown, held);
    assert_eq!(json["not_computed_again"], "Written by hand for a check.");
    assert_eq!(json["training_only"], overwire::debrief::TRAINING_ONLY);
}

/// A spreadsheet runs a field that begins like a formula (OWASP, CSV injection).
#[test]
fn no_field_is_a_formula() {
    for words in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"] {
        let record = session_saying(words).record();
        let rows = csv(&export::decisions_csv(&Judgement::of_record(&record)));
        for field in rows.iter().flatten() {
            assert!(!field.starts_with(['=', '+', '@', '\t', '\r']), "{field:?}");
            assert!(!field.starts_with('-') || field.parse::<f64>().is_ok(), "{field:?}");
        }
    }
}
