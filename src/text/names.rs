//! Names as people say them: drugs, vessels, tests and devices, found by what identifies them.

use crate::scenario::nearest;
use crate::session::view::View;
use serde::de::DeserializeOwned;

/// The value of a plain enumeration that `words` name: its own name, a usual other name, or enough of it to be the only one.
pub fn named<T: DeserializeOwned>(what: &str, words: &[&str]) -> Result<T, String> {
    let said = words.join("_").to_lowercase();
    let all = variants::<T>();
    let said = OTHER_NAMES
        .iter()
        .find(|(a, b)| *a == said && all.iter().any(|v| v == b))
        .map_or(said, |(_, b)| (*b).into());
    if said.is_empty() {
        return Err(format!("which {what}? I know {}", list(&all)));
    }
    let id = match only(&all, &said) {
        Found::One(id) => id.clone(),
        Found::Many(some) => {
            return Err(format!("\"{}\" can mean {}; say more", words.join(" "), list(&some)));
        }
        Found::None => {
            let hint = nearest(&said, all.iter().map(String::as_str)).map_or_else(
                || format!("I know {}", list(&all)),
                |like| format!("did you mean {}?", like.replace('_', " ")),
            );
            return Err(format!("I know no {what} called \"{}\"; {hint}", words.join(" ")));
        }
    };
    serde_json::from_value(serde_json::Value::String(id)).map_err(|e| e.to_string())
}

/// A device by its shelf id, or by words of its name: first among those in `prefer`, then on the whole shelf.
pub fn device(view: &View, prefer: &[String], words: &[&str]) -> Result<String, String> {
    let said = words.join("_").to_lowercase();
    if said.is_empty() {
        return Err("which device? `shelf` lists them, `lines` shows what lies on each line".into());
    }
    if view.shelf.iter().any(|s| s.id == said) {
        return Ok(said);
    }
    let fits = |id: &str| {
        let stocked = view.shelf.iter().find(|s| s.id == id);
        let label = stocked.map_or(String::new(), |s| s.label.to_lowercase());
        words.iter().all(|w| {
            let w = w.to_lowercase();
            stocked.is_some_and(|s| s.kind == w)
                || id.split('_').any(|part| part == w)
                || label.split([' ', ',']).any(|part| part == w)
                || id.starts_with(&w)
        })
    };
    let mut hits: Vec<&String> = prefer.iter().filter(|id| fits(id)).collect();
    if hits.is_empty() {
        hits = view.shelf.iter().map(|s| &s.id).filter(|id| fits(id)).collect();
    }
    match hits.as_slice() {
        [one] => Ok((*one).clone()),
        [] => Err(match nearest(&said, view.shelf.iter().map(|s| s.id.as_str())) {
            Some(like) => format!("there is no \"{}\" on the shelf; did you mean {like}?", words.join(" ")),
            None => format!("there is no \"{}\" on the shelf; `shelf` lists what there is", words.join(" ")),
        }),
        many => {
            let some: Vec<String> = many.iter().take(6).map(|s| (*s).clone()).collect();
            let more = if many.len() > 6 { format!(" and {} more", many.len() - 6) } else { String::new() };
            Err(format!("\"{}\" can mean {}{more}; say more", words.join(" "), some.join(", ")))
        }
    }
}

/// Every name of a plain enumeration, as its reader tells them.
pub fn variants<T: DeserializeOwned>() -> Vec<String> {
    let refusal = serde_json::from_value::<T>(serde_json::Value::String("?".into())).err();
    let text = refusal.map_or(String::new(), |e| e.to_string());
    text.split('`').skip(3).step_by(2).map(str::to_owned).collect()
}

/// What people also say, where a name of the list is meant.
const OTHER_NAMES: &[(&str, &str)] = &[
    ("right", "right_femoral"),
    ("right_groin", "right_femoral"),
    ("left", "left_femoral"),
    ("left_groin", "left_femoral"),
    ("arm", "left_brachial"),
    ("left_arm", "left_brachial"),
    ("norepinephrine", "noradrenaline"),
    ("epinephrine", "adrenaline"),
    ("saline", "crystalloid"),
    ("blood", "red_cells"),
    ("ffp", "plasma"),
    ("txa", "tranexamic_acid"),
    ("frusemide", "furosemide"),
    ("lsa", "left_subclavian"),
    ("lcca", "left_carotid"),
    ("superior_mesenteric", "sma"),
    ("celiac", "coeliac"),
    ("us", "ultrasound"),
    ("cutdown", "cut_down"),
    ("cut", "cut_down"),
    ("ga", "general"),
    ("hb", "haemoglobin"),
];

enum Found<'a> {
    One(&'a String),
    Many(Vec<String>),
    None,
}

fn only<'a>(all: &'a [String], said: &str) -> Found<'a> {
    if let Some(exact) = all.iter().find(|v| *v == said) {
        return Found::One(exact);
    }
    let parts: Vec<&str> = said.split('_').filter(|p| !p.is_empty()).collect();
    let fits = |v: &&String| parts.iter().all(|p| v.split('_').any(|part| part.starts_with(p)));
    let hits: Vec<&String> = all.iter().filter(fits).collect();
    match hits.as_slice() {
        [one] => Found::One(one),
        [] => Found::None,
        many => Found::Many(many.iter().map(|s| (*s).clone()).collect()),
    }
}

fn list(names: &[String]) -> String {
    names.iter().map(|n| n.replace('_', " ")).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::order::{BriefItem, Guide};

    #[test]
    fn a_name_is_found_by_what_identifies_it() {
        assert_eq!(named::<Guide>("guide", &["Ultra"]), Ok(Guide::Ultrasound));
        assert_eq!(named::<Guide>("guide", &["cut", "down"]), Ok(Guide::CutDown));
        assert_eq!(named::<BriefItem>("point", &["pressure"]), Ok(BriefItem::PressurePlan));
        let why = named::<BriefItem>("point", &["plan"]).unwrap_err();
        assert!(why.contains("pressure plan") && why.contains("heparin plan"), "{why}");
        let why = named::<Guide>("guide", &["ultrasuond"]).unwrap_err();
        assert!(why.contains("did you mean ultrasound"), "{why}");
    }
}
