//! `explain`: what a field, an order, a signal or a message means.
//!
//! Nothing is written twice: the fields come from the documentation of the file types, the signals, devices, drugs and
//! messages from their own tables, the examples from the built-in case.

mod limits;
mod reference;

pub use reference::{Entry, Item, entries};

use super::{fail, say};
use crate::circulation::{Drug, Product, Test};
use crate::kit::Shelf;
use crate::records::library::BUILT_IN;
use crate::scenario::diagnostic::CODES;
use crate::scenario::load::read::names_of;
use crate::scenario::load::words::{did_you_mean, noun, snake};
use crate::scenario::rule::{KEYWORDS, Unit};
use crate::scenario::signal::{FAMILIES, RISKS, SIGNALS};
use crate::scenario::spans::{Body, Node, Spans};
use crate::scenario::written;
use limits::limits;
use std::fmt::Write;

/// What `explain` takes.
#[derive(clap::Args)]
pub struct ExplainArgs {
    /// A field, an order, a signal, a message's name, or one of: case, rules, signals, orders, events, shelf, drugs, units, messages
    topic: Option<String>,
}

/// Explains it: 0, or 2 when nobody knows the word.
pub fn explain(args: &ExplainArgs) -> u8 {
    let Some(topic) = &args.topic else {
        say(overview());
        return 0;
    };
    match text(topic) {
        Some(text) => {
            say(text.trim_end());
            0
        }
        None => {
            let all = topics();
            let hint = did_you_mean(topic, all.iter().map(String::as_str));
            let near = hint.starts_with("did you mean");
            let rest = if near { hint } else { "`overwire explain` lists what there is".into() };
            fail(format!("nothing here is called \"{topic}\"; {rest}"))
        }
    }
}

/// What is known of a word.
pub fn text(topic: &str) -> Option<String> {
    let topic = topic.trim().trim_matches('`').to_lowercase().replace([' ', '-'], "_");
    match topic.as_str() {
        "case" => return Some(types(&["Case"])),
        "signals" => return Some(signals()),
        "rules" | "rule" => return Some(rules()),
        "orders" => return Some(types(&["Order"])),
        "events" => return Some(events()),
        "shelf" | "devices" => return Some(format!("{}\n{}", types(&["ShelfSpec"]), shelf())),
        "drugs" => return Some(drugs()),
        "units" => return Some(units()),
        "messages" => return Some(messages()),
        _ => {}
    }
    let mut out = String::new();
    let entries = entries();
    for entry in entries.iter().filter(|e| author_names(e).contains(&topic)) {
        out.push_str(&describe(entry));
        out.push('\n');
    }
    for entry in &entries {
        for item in entry.items.iter().filter(|i| i.name == topic) {
            let _ = writeln!(out, "In {}:", noun(&entry.type_name));
            out.push_str(&line(item, &entry.type_name, 1));
            for field in &item.fields {
                out.push_str(&line(field, &item.name, 2));
            }
        }
        for variant in entry.items.iter() {
            for field in variant.fields.iter().filter(|f| f.name == topic) {
                let _ = writeln!(out, "In `{}`:", variant.name);
                out.push_str(&line(field, &variant.name, 1));
            }
        }
    }
    let example = if out.is_empty() { None } else { example(&topic) };
    if let Some(example) = example {
        let _ = write!(out, "\nFor example:\n\n{example}\n");
    }
    for signal in SIGNALS.iter().chain(FAMILIES).filter(|s| s.name.eq_ignore_ascii_case(&topic)) {
        let unit = if signal.unit.is_empty() { String::new() } else { format!(", {}", signal.unit) };
        let _ = writeln!(out, "The signal `{}`{unit}: {}.", signal.name, signal.about);
    }
    for (code, why) in CODES.iter().filter(|(code, _)| code.replace('-', "_") == topic) {
        let _ = writeln!(out, "The message `{code}`: {why}");
    }
    for stocked in Shelf::generic().items.iter().filter(|s| s.id == topic) {
        let _ = writeln!(out, "On the shelf: {}; {} of them.", stocked.label, stocked.count);
    }
    for drug in Drug::ALL.into_iter().filter(|d| written(d) == topic) {
        let _ = writeln!(
            out,
            "The drug {}: given in {}, infused in {}.",
            drug.label(),
            drug.unit(),
            drug.rate_unit()
        );
    }
    (!out.is_empty()).then_some(out)
}

/// Every word that `text` knows.
fn topics() -> Vec<String> {
    let entries = entries();
    let mut all: Vec<String> =
        ["case", "rules", "signals", "orders", "events", "shelf", "drugs", "units", "messages"]
            .map(str::to_owned)
            .to_vec();
    for entry in &entries {
        all.extend(author_names(entry));
        all.extend(entry.items.iter().map(|i| i.name.clone()));
        all.extend(entry.items.iter().flat_map(|i| &i.fields).map(|f| f.name.clone()));
    }
    all.extend(SIGNALS.iter().map(|s| s.name.to_owned()));
    all.extend(CODES.iter().map(|(code, _)| (*code).to_owned()));
    all.extend(Shelf::generic().items.into_iter().map(|s| s.id));
    all.extend(Drug::ALL.iter().map(written));
    all.sort();
    all.dedup();
    all
}

/// `Choice` is an option to authors, `StateSpec` a state.
fn author_names(entry: &Entry) -> Vec<String> {
    let plain = entry.type_name.trim_end_matches("Spec");
    let spoken = noun(&entry.type_name);
    let spoken = spoken
        .trim_matches('`')
        .trim_start_matches("a ")
        .trim_start_matches("an ")
        .trim_start_matches("the ");
    let mut names = vec![snake(plain), snake(&entry.type_name), spoken.replace(' ', "_")];
    names.sort();
    names.dedup();
    names
}

fn overview() -> String {
    let mut out = String::from("overwire explain WORD\n\nThe parts of a case:\n\n");
    if let Some(case) = entries().into_iter().find(|e| e.type_name == "Case") {
        for item in &case.items {
            out.push_str(&line(item, "Case", 1));
        }
    }
    out.push_str(
        "\nEach of these words can be explained, and so can every field, order, signal, device, drug and message.\n\
         Lists: case, rules, signals, orders, events, shelf, drugs, units, messages.\n",
    );
    out
}

fn types(names: &[&str]) -> String {
    entries().iter().filter(|e| names.contains(&e.type_name.as_str())).map(describe).collect()
}

fn describe(entry: &Entry) -> String {
    let what = if entry.one_of { "one of" } else { "fields" };
    let mut out = format!("{} ({what})\n{}\n\n", capital(&noun(&entry.type_name)), entry.about);
    for item in &entry.items {
        out.push_str(&line(item, &entry.type_name, 1));
        for field in &item.fields {
            out.push_str(&line(field, &item.name, 3));
        }
    }
    out
}

/// A field or variant of a type, or of a variant.
fn line(item: &Item, of: &str, depth: usize) -> String {
    let indent = "  ".repeat(depth);
    let sort = if item.sort.is_empty() { String::new() } else { format!(": {}", item.sort) };
    let optional = if item.optional { " (may be left out)" } else { "" };
    let about = if item.about.is_empty() { String::new() } else { format!("\n{indent}    {}", item.about) };
    let words = words_of(&item.sort)
        .map_or(String::new(), |words| format!("\n{indent}    One of {}.", words.join(", ")));
    let limits = limits(of, item).map_or(String::new(), |l| format!("\n{indent}    {l}"));
    format!("{indent}{}{sort}{optional}{about}{words}{limits}\n", item.name)
}

/// The words that may stand where a type of bare words is wanted.
fn words_of(sort: &str) -> Option<Vec<String>> {
    let named = sort
        .split(['[', ']', '(', ')', ',', ' '])
        .find(|word| !matches!(*word, "" | "Some" | "or" | "None"))?;
    let entry = entries().into_iter().find(|e| e.one_of && snake(&e.type_name) == named)?;
    let plain = entry.items.iter().all(|i| i.sort.is_empty() && i.fields.is_empty());
    plain.then(|| entry.items.into_iter().map(|i| i.name).collect())
}

/// The first value of that name in the built-in case.
fn example(name: &str) -> Option<String> {
    fn first<'n>(node: &'n Node, text: &str, name: &str) -> Option<(usize, &'n Node)> {
        match &node.body {
            _ if node.tag.is_some_and(|(a, b)| text.get(a as usize..b as usize) == Some(name)) => {
                Some((node.span.0 as usize, node))
            }
            Body::Fields(fields) => fields.iter().find_map(|f| {
                let key = text.get(f.key.0 as usize..f.key.1 as usize)?;
                if key == name { Some((f.key.0 as usize, &f.value)) } else { first(&f.value, text, name) }
            }),
            Body::Items(items) | Body::List(items) => items.iter().find_map(|i| first(i, text, name)),
            Body::Map(pairs) => pairs.iter().find_map(|(_, v)| first(v, text, name)),
            _ => None,
        }
    }
    const LONGEST: usize = 600;
    BUILT_IN.iter().find_map(|(_, text)| {
        let spans = Spans::scan(text).0?;
        let (start, value) = first(spans.root(), text, name)?;
        let line_start = text[..start].rfind('\n').map_or(0, |i| i + 1);
        let blank = text[line_start..].len() - text[line_start..].trim_start().len();
        let shown = &text[start..value.range().end];
        let cut: String = shown.chars().take(LONGEST).collect();
        let more = if cut.len() < shown.len() { "\n..." } else { "" };
        let unindented: Vec<&str> =
            cut.lines().map(|l| l.get(blank.min(l.len() - l.trim_start().len())..).unwrap_or(l)).collect();
        Some(format!("    {}{more}", unindented.join("\n    ")))
    })
}

fn signals() -> String {
    let mut out = String::from("Signals that rules may read:\n\n");
    for signal in SIGNALS {
        let _ = writeln!(out, "  {:<20} {:<8} {}", signal.name, signal.unit, signal.about);
    }
    out.push_str("\nFamilies; the last part is a name:\n\n");
    for family in FAMILIES {
        let _ =
            writeln!(out, "  {:<20} {:<8} {}", format!("{}.NAME", family.name), family.unit, family.about);
    }
    out.push_str("\nThe unit of policy.NAME and var.NAME is told by the name's end: sbp_high_mmhg, landing_mm, heparin_iu_kg;\nwithout such an end it is a plain number.\n\nRisks:\n\n");
    for (name, about) in RISKS {
        let _ = writeln!(out, "  risk.{name:<22} {about}");
    }
    out
}

fn events() -> String {
    let mut out = String::from(
        "Events that a state waits for (event: Some(\"...\")):\n\n  \
         done.ORDER               an order was carried out, such as done.run\n  \
         order.ORDER              an order was given\n  \
         answer.QUESTION.OPTION   a question was answered; answer.QUESTION takes any option\n  \
         lab.TEST                 a result came back\n  \
         here.ROLE                somebody called arrived\n  \
         done.state.STATE         a state reached its final inner state\n  \
         ANY_NAME                 an event that the case sends itself\n\n\
         Events in rules are written with brackets: done(run), given(heparin), arrived(surgeon), entered(STATE), answered(QUESTION).\n\nTests:\n\n",
    );
    for test in names_of::<Test>() {
        let _ = writeln!(out, "  {test}");
    }
    out
}

fn rules() -> String {
    format!(
        "A rule is a sentence over signals, events, states and choices:\n\n  \
         sbp < 100 mmHg within 3 min of done(give)\n  \
         never (sbp < 60 mmHg for 2 min)\n  \
         not done(unsheathe) since done(run)\n  \
         oversize.proximal between 10 % and 20 %\n  \
         in(check) and chose(pressure, low) and var.planned == 1\n\n\
         Numbers carry the unit of what they are compared with. A rule that is asked while the session runs (when, unless,\n\
         endings) may only look back: once, historically, since, for. A mark or an expectation may also look ahead:\n\
         always, never, eventually, until, within.\n\nWords of the language: {}.\n",
        KEYWORDS.join(", ")
    )
}

fn shelf() -> String {
    let mut out = String::from("What lies on the built-in shelf (id, how many, what):\n\n");
    for stocked in Shelf::generic().items {
        let _ = writeln!(out, "  {:<28} {:>2}  {}", stocked.id, stocked.count, stocked.label);
    }
    out
}

fn drugs() -> String {
    let mut out = String::from("Drugs (name, single dose in, infusion in):\n\n");
    for drug in Drug::ALL {
        let _ = writeln!(out, "  {:<22} {:<6} {}", written(&drug), drug.unit(), drug.rate_unit());
    }
    out.push_str("\nProducts for `transfuse`, mL:\n\n");
    for product in Product::ALL {
        let _ = writeln!(out, "  {:<22} {}", written(&product), product.label());
    }
    out
}

fn units() -> String {
    let words: Vec<&str> = Unit::words().collect();
    format!(
        "Times are written \"90 s\", \"2 min 30 s\", \"3 h\", \"3 d\"; doses \"40 mg\", \"5000 IU\", \"0.5 mg/kg\"; rates \"50 ug/kg/min\", \"5 mg/h\".\n\
         A number without quotes has the unit that its field's name ends in: _mm, _mm2, _ml, _mmhg, _deg, _percent, _kg, _cm, _years.\n\n\
         Units in rules: {}; also quotients and products of these, as in mL/min.\n",
        words.join(", ")
    )
}

fn messages() -> String {
    let mut out = String::from("What messages are about:\n\n");
    for (code, why) in CODES {
        let _ = writeln!(out, "  {code:<16} {why}");
    }
    out
}

fn capital(words: &str) -> String {
    let words = words.trim_matches('`');
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |c| c.to_uppercase().chain(letters).collect())
}
