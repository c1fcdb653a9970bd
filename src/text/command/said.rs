//! Parts of what is said: lines, sides, numbers with their units.

use super::Place;
use crate::anatomy::Site;
use crate::scenario::quantity::Span;
use crate::session::view::View;

/// The line named at the end, the one last worked on, or the only one.
pub(super) fn on_line<'w>(words: &[&'w str], place: &Place<'_>) -> Result<(Site, Vec<&'w str>), String> {
    let (site, rest) = site_last(words);
    let lines = &place.view.rail.lines;
    if let Some(site) = site.or(place.site.filter(|s| lines.iter().any(|l| l.site == *s))) {
        return Ok((site, rest));
    }
    match lines.as_slice() {
        [one] => Ok((one.site, rest)),
        [] => Err("there is no access yet; say for example: puncture right ultrasound".into()),
        _ => Err("on which line? Add right, left or arm".into()),
    }
}

/// A side at the end of the words: `... on the right`, `... left groin`.
pub(super) fn site_last<'w>(words: &[&'w str]) -> (Option<Site>, Vec<&'w str>) {
    let mut end = words.len();
    while end > 0 && ["groin", "femoral", "side", "line", "brachial"].contains(&words[end - 1]) {
        end -= 1;
    }
    let site = match words[..end].last() {
        Some(&"right") => Site::RightFemoral,
        Some(&"left") => Site::LeftFemoral,
        Some(&"arm") => Site::LeftBrachial,
        _ => return (None, words.to_vec()),
    };
    let mut keep = end - 1;
    if site == Site::LeftBrachial && keep > 0 && words[keep - 1] == "left" {
        keep -= 1;
    }
    while keep > 0 && ["on", "at", "from"].contains(&words[keep - 1]) {
        keep -= 1;
    }
    (Some(site), words[..keep].to_vec())
}

/// A side at the beginning: `right ultrasound`.
pub(super) fn site_first<'w>(words: &[&'w str]) -> Option<(Site, Vec<&'w str>)> {
    let (site, mut rest) = match words {
        ["left", "arm", rest @ ..] | ["arm", rest @ ..] => (Site::LeftBrachial, rest),
        ["right", rest @ ..] => (Site::RightFemoral, rest),
        ["left", rest @ ..] => (Site::LeftFemoral, rest),
        _ => return None,
    };
    while let [first, tail @ ..] = rest
        && ["groin", "femoral", "side", "with", "by", "under"].contains(first)
    {
        rest = tail;
    }
    Some((site, rest.to_vec()))
}

pub(super) fn lying(view: &View, site: Site) -> Vec<String> {
    let line = view.rail.lines.iter().find(|l| l.site == site);
    line.map_or(Vec::new(), |l| l.items.iter().map(|i| i.device.clone()).collect())
}

pub(super) fn balloons(view: &View, site: Site) -> Vec<String> {
    let line = view.rail.lines.iter().find(|l| l.site == site);
    line.map_or(Vec::new(), |l| {
        l.items.iter().filter(|i| i.kind == "balloon").map(|i| i.device.clone()).collect()
    })
}

pub(super) fn off(words: &[&str]) -> bool {
    words.iter().any(|w| ["off", "stop", "end"].contains(w))
}

/// Without these words at either end.
pub(super) fn strip<'a, 'w>(mut words: &'a [&'w str], these: &[&str]) -> &'a [&'w str] {
    while let [first, rest @ ..] = words
        && these.contains(first)
    {
        words = rest;
    }
    while let [rest @ .., last] = words
        && these.contains(last)
    {
        words = rest;
    }
    words
}

pub(super) fn split(text: &str) -> Vec<&str> {
    text.split_whitespace().collect()
}

/// A number, perhaps with its unit behind it: `40`, `40mm`.
pub(super) fn number(word: Option<&&str>, example: &str) -> Result<f64, String> {
    let text = word.ok_or(format!("how much? Say for example: {example}"))?;
    let digits = text.trim_end_matches(|c: char| c.is_alphabetic() || c == '%' || c == '/');
    digits
        .parse::<f64>()
        .ok()
        .filter(|n| n.is_finite())
        .ok_or(format!("\"{text}\" is not a number; say for example: {example}"))
}

/// Words, then a number, perhaps its unit.
pub(super) fn name_then_number<'w>(words: &[&'w str], example: &str) -> Result<(Vec<&'w str>, f64), String> {
    let is_number = |w: &&str| w.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '.');
    let at = words.iter().rposition(is_number).ok_or(format!("how much? Say for example: {example}"))?;
    Ok((words[..at].to_vec(), number(words.get(at), example)?))
}

/// Words, then a quantity with its unit.
pub(super) fn name_then_quantity<'w>(
    words: &[&'w str],
    example: &str,
) -> Result<(Vec<&'w str>, String), String> {
    let at = words
        .iter()
        .position(|w| w.starts_with(|c: char| c.is_ascii_digit()))
        .ok_or(format!("how much? Say for example: {example}"))?;
    Ok((words[..at].to_vec(), words[at..].join(" ")))
}

/// Units as the quantity readers spell them, from lower case.
pub(super) fn spelt(quantity: &str) -> String {
    let Some((number, unit)) = quantity.split_once(' ') else { return quantity.to_owned() };
    let (amount, per) = unit.split_once('/').map_or((unit, String::new()), |(a, p)| (a, format!("/{p}")));
    let amount = match amount.trim() {
        "iu" | "units" | "unit" => "IU",
        "u" => "U",
        "ml" => "mL",
        "mcg" => "ug",
        other => other,
    };
    format!("{number} {amount}{per}")
}

pub(super) fn span(words: &[&str], example: &str) -> Result<Span, String> {
    if words.is_empty() {
        return Err(format!("how long? Say for example: {example}"));
    }
    Span::parse(
        &words
            .join(" ")
            .replace("minutes", "min")
            .replace("minute", "min")
            .replace("seconds", "s")
            .replace("hours", "h"),
    )
}

pub(super) fn span_or_hours(words: &[&str]) -> Result<f64, String> {
    match words {
        [one] if one.parse::<f64>().is_ok_and(f64::is_finite) => number(Some(one), "recover 24"),
        words => Ok(span(words, "recover 24 h")?.as_seconds() / 3600.0),
    }
}
