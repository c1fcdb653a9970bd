//! The tolerant reader against the `ron` crate (RON's reference implementation): what `ron` reads, it reads alike; what
//! `ron` refuses, it refuses.

use overwire::scenario::load::read::read;
use overwire::scenario::spans::Spans;
use proptest::prelude::*;
use ron::extensions::Extensions;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Inner {
    name: String,
    #[serde(default)]
    size: Option<f64>,
    kind: Kind,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
enum Kind {
    Plain,
    Sized { mm: f64, pair: [u32; 2] },
    Named(String),
    Nested(Box<Inner>),
    Two(i8, bool),
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Outer {
    id: u64,
    list: Vec<Inner>,
    map: BTreeMap<String, f64>,
    wrapped: Wrapped,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Wrapped(i64);

fn reference() -> ron::Options {
    ron::Options::default().with_default_extension(
        Extensions::IMPLICIT_SOME | Extensions::UNWRAP_NEWTYPES | Extensions::UNWRAP_VARIANT_NEWTYPES,
    )
}

fn kind() -> impl Strategy<Value = Kind> {
    let leaf = prop_oneof![
        Just(Kind::Plain),
        (-1e9..1e9, any::<[u32; 2]>()).prop_map(|(mm, pair)| Kind::Sized { mm, pair }),
        ".{0,12}".prop_map(Kind::Named),
        (any::<i8>(), any::<bool>()).prop_map(|(a, b)| Kind::Two(a, b)),
    ];
    leaf.prop_recursive(3, 8, 1, |kind| {
        ("[a-z\"\\\\ \n\té]{0,8}", proptest::option::of(-5.0..5.0), kind)
            .prop_map(|(name, size, kind)| Kind::Nested(Box::new(Inner { name, size, kind })))
    })
}

fn outer() -> impl Strategy<Value = Outer> {
    let inner = ("[a-z]{1,6}", proptest::option::of(any::<i16>().prop_map(f64::from)), kind())
        .prop_map(|(name, size, kind)| Inner { name, size, kind });
    let map = proptest::collection::btree_map("[a-z_]{1,5}", -1e3..1e3, 0..3);
    (0..=i64::MAX as u64, proptest::collection::vec(inner, 0..4), map, any::<i64>())
        .prop_map(|(id, list, map, wrapped)| Outer { id, list, map, wrapped: Wrapped(wrapped) })
}

fn ours(text: &str) -> Result<Outer, usize> {
    let (spans, faults) = Spans::scan(text);
    let Some(spans) = spans.filter(|_| faults.is_empty()) else { return Err(faults.len()) };
    let read = read::<Outer>(&spans);
    if read.faults.is_empty() { read.value.ok_or(0) } else { Err(read.faults.len()) }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]

    #[test]
    fn what_ron_writes_is_read_alike(value in outer(), pretty in any::<bool>()) {
        let options = reference();
        let text = if pretty {
            options.to_string_pretty(&value, ron::ser::PrettyConfig::new()).unwrap()
        } else {
            options.to_string(&value).unwrap()
        };
        // A control character in a text is refused on purpose; `ron` writes some of them bare.
        if !text.chars().any(|c| c.is_control() && !"\n\r\t".contains(c)) && !text.contains('\u{feff}') {
            prop_assert_eq!(ours(&text), Ok(options.from_str(&text).unwrap()), "{}", text);
        }
    }

    #[test]
    fn what_ron_refuses_is_refused(value in outer(), cut in 0.0..1.0, change in "[(){}\\[\\],:\"a-z0-9.+_ -]{0,2}", take in 0usize..3) {
        let text = reference().to_string(&value).unwrap();
        let mut at = (cut * text.len() as f64) as usize;
        while !text.is_char_boundary(at) { at -= 1; }
        let mut end = (at + take).min(text.len());
        while !text.is_char_boundary(end) { end += 1; }
        let broken = format!("{}{change}{}", &text[..at], &text[end..]);
        let theirs = reference().from_str::<Outer>(&broken);
        if let (Err(refusal), Ok(read)) = (&theirs, ours(&broken)) {
            // Kept lenient on purpose: a newtype's value may stand in its variant's brackets or in brackets of its own.
            prop_assert!(false, "ron refuses ({refusal}) what we read as {read:?}: {broken}");
        }
    }
}

#[test]
fn every_fault_is_told_at_once() {
    let text = r#"(
    id: -1,
    list: [
        (name: "a", size: "3.5", kind: plane),
        (nam: "b", kind: sized(mm: 3, pair: [1, 2])),
        (name: c, kind: two(1, yes)),
        (),
    ],
    map: (),
    wrapped: 4.5,
    other: 3,
)"#;
    let (spans, faults) = Spans::scan(text);
    assert!(faults.is_empty(), "{faults:?}");
    let read = read::<Outer>(&spans.unwrap());
    let told: Vec<String> =
        read.faults.iter().map(|f| format!("{}|{}|{}|{}", f.code, f.path, f.message, f.hint)).collect();
    let mut sorted = told.clone();
    sorted.sort();
    for wanted in [
        "range|id|",
        "wrong-sort|list[0].size|text in quotes cannot stand here|take the quotes away: 3.5",
        "word-unknown|list[0].kind|`plane` is not known here|did you mean `plain`?",
        "field-unknown|list[1]|`inner` has no field `nam`|did you mean `name`?",
        "wrong-sort|list[1].kind.sized.pair|",
        "wrong-sort|list[2].name|the word c cannot stand here|put it between quotes: \"c\"",
        "wrong-sort|list[2].kind.two[1]|the word yes cannot stand here|write true",
        "field-missing|list[3]|`inner` has no `name`, `kind`|",
        "wrong-sort|map|",
        "wrong-sort|wrapped|",
        "field-unknown||`outer` has no field `other`|",
    ] {
        assert!(told.iter().any(|t| t.starts_with(wanted)), "missing {wanted} in\n{}", told.join("\n"));
    }
    assert_eq!(told.len(), 11, "{}", told.join("\n"));
    let value = read.value.unwrap();
    assert_eq!(value.list.len(), 4);
    assert_eq!(value.list[0].name, "a");
}
