//! Outcomes as CSV, one rehearsal a row, and back: the file of a whole sweep and the files of its shards, merged, are the same to
//! the byte.

use super::mind::Kind;
use super::outcome::{Harm, Made, Outcome};
use super::sweep::Pace;
use crate::scenario::Loaded;
use crate::scenario::case::{Tier, Tone};
use std::fmt::Write;

/// The columns. The first four say what the row belongs to; answers are written `question=option:tier`, with `!` where the clock
/// answered, one after another with `;` between.
pub const HEAD: &str = "case,case_version,case_digest,engine,player,seed,ending,tone,end_s,harm,harm_s,lost_ml,risk_percent,worst_percent,contrast_ml,kap_gy_cm2,lowest_mmhg,coldest_c,hb_g_l,theatre_min,score,refused,answers";

/// What a row belongs to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Of {
    /// Case's id.
    pub case: String,
    /// Its version.
    pub version: String,
    /// First twelve digits of the digest of its text.
    pub digest: String,
    /// Version of the engine; `+coarse` where time passed in longer leaps.
    pub engine: String,
}

impl Of {
    /// A case with this engine.
    pub fn case(case: &Loaded, pace: Pace) -> Self {
        let engine = env!("CARGO_PKG_VERSION");
        Self {
            case: case.case.id.clone(),
            version: case.case.version.replace([',', '"', '\n', '\r'], " "),
            digest: case.digest.chars().take(12).collect(),
            engine: if pace == Pace::Coarse { format!("{engine}+coarse") } else { engine.into() },
        }
    }
}

/// Where a row stands among others: by kind of player, player and seed.
pub fn place(outcome: &Outcome) -> (Kind, String, u64) {
    let kind = Kind::named(&outcome.player).unwrap_or(Kind::OneChanged);
    (kind, outcome.player.clone(), outcome.seed)
}

/// The whole table.
pub fn write(of: &Of, outcomes: &[Outcome]) -> String {
    let mut out = format!("{HEAD}\r\n");
    for o in outcomes {
        let (harm, harm_s) =
            o.harm.as_ref().map_or((String::new(), String::new()), |h| (h.what.clone(), h.at_s.to_string()));
        let tone = o.tone.map_or("", tone_word);
        let score = o.score.map_or(String::new(), |s| s.to_string());
        let answers: Vec<String> = o.made.iter().map(answer).collect();
        let _ = write!(
            out,
            "{},{},{},{},{},{},{},{tone},{},{harm},{harm_s},{},{},{},{},{},{},{},{},{},{score},{},{}\r\n",
            of.case,
            of.version,
            of.digest,
            of.engine,
            o.player,
            o.seed,
            o.ending,
            o.end_s,
            o.lost_ml,
            o.risk_percent,
            o.worst_percent,
            o.contrast_ml,
            o.kap_gy_cm2,
            o.lowest_mmhg,
            o.coldest_c,
            o.hb_g_l,
            o.theatre_min,
            o.refused,
            answers.join(";")
        );
    }
    out
}

fn answer(m: &Made) -> String {
    let clock = if m.by_clock { "!" } else { "" };
    format!("{}={}:{}{clock}", m.ask, m.option, tier_word(m.tier))
}

/// A tier as tables and pages write it.
pub fn tier_word(tier: Tier) -> &'static str {
    match tier {
        Tier::Unsafe => "unsafe",
        Tier::Suboptimal => "suboptimal",
        Tier::Defensible => "defensible",
        Tier::Preferred => "preferred",
    }
}

/// A tone as tables and pages write it.
pub fn tone_word(tone: Tone) -> &'static str {
    match tone {
        Tone::Good => "good",
        Tone::Mixed => "mixed",
        Tone::Bad => "bad",
    }
}

/// Reads a table back.
///
/// # Errors
/// Which line is not one of a sweep's table, in plain words.
pub fn read(text: &str) -> Result<(Of, Vec<Outcome>), String> {
    let mut lines = text.lines();
    if lines.next().map(str::trim_end) != Some(HEAD) {
        return Err("this is not a table of a sweep: its first line should name the columns".into());
    }
    let mut of: Option<Of> = None;
    let mut outcomes = Vec::new();
    for (i, line) in lines.enumerate().filter(|(_, l)| !l.trim().is_empty()) {
        let why = |what: &str| format!("line {}: {what}", i + 2);
        let (own, outcome) =
            row(line.trim_end()).ok_or_else(|| why("this is not a row of a sweep's table"))?;
        if of.as_ref().is_some_and(|of| *of != own) {
            return Err(why("this row is of another case, another version of it, or another engine"));
        }
        of = Some(own);
        outcomes.push(outcome);
    }
    of.map(|of| (of, outcomes)).ok_or_else(|| "the table has no row".into())
}

fn row(line: &str) -> Option<(Of, Outcome)> {
    let f: Vec<&str> = line.split(',').collect();
    let [
        case,
        version,
        digest,
        engine,
        player,
        seed,
        ending,
        tone,
        end_s,
        harm,
        harm_s,
        lost,
        risk,
        worst,
        contrast,
        kap,
        lowest,
        coldest,
        hb,
        theatre,
        score,
        refused,
        answers,
    ] = f.as_slice()
    else {
        return None;
    };
    let finite = |s: &str| s.parse::<f64>().ok().filter(|v| v.is_finite());
    let of = Of {
        case: (*case).into(),
        version: (*version).into(),
        digest: (*digest).into(),
        engine: (*engine).into(),
    };
    let harm = match (harm.is_empty(), harm_s.is_empty()) {
        (true, true) => None,
        (false, false) => Some(Harm { what: (*harm).into(), at_s: finite(harm_s)? }),
        _ => return None,
    };
    let tone = match *tone {
        "" => None,
        word => Some([Tone::Good, Tone::Mixed, Tone::Bad].into_iter().find(|t| tone_word(*t) == word)?),
    };
    let made = answers.split(';').filter(|a| !a.is_empty()).map(made).collect::<Option<Vec<_>>>()?;
    let outcome = Outcome {
        player: (*player).into(),
        seed: seed.parse().ok()?,
        ending: (*ending).into(),
        tone,
        end_s: finite(end_s)?,
        harm,
        lost_ml: finite(lost)?,
        risk_percent: finite(risk)?,
        worst_percent: finite(worst)?,
        contrast_ml: finite(contrast)?,
        kap_gy_cm2: finite(kap)?,
        lowest_mmhg: finite(lowest)?,
        coldest_c: finite(coldest)?,
        hb_g_l: finite(hb)?,
        theatre_min: finite(theatre)?,
        score: if score.is_empty() { None } else { Some(finite(score)?) },
        refused: refused.parse().ok()?,
        made,
    };
    Some((of, outcome))
}

fn made(text: &str) -> Option<Made> {
    let (ask, rest) = text.split_once('=')?;
    let (option, tier) = rest.split_once(':')?;
    let by_clock = tier.ends_with('!');
    let word = tier.trim_end_matches('!');
    let tiers = [Tier::Unsafe, Tier::Suboptimal, Tier::Defensible, Tier::Preferred];
    let tier = tiers.into_iter().find(|t| tier_word(*t) == word)?;
    Some(Made { ask: ask.into(), option: option.into(), tier, by_clock })
}

/// Tables of the same sweep as one: rows in the order of a whole sweep, each once.
///
/// # Errors
/// When there is none, or they are of different cases, versions or engines, or one rehearsal came out in two ways.
pub fn merge(tables: Vec<(Of, Vec<Outcome>)>) -> Result<(Of, Vec<Outcome>), String> {
    let mut tables = tables.into_iter();
    let (of, mut all) = tables.next().ok_or("there is no table to merge")?;
    for (other, outcomes) in tables {
        if other != of {
            return Err("the tables are of different cases, versions of a case, or engines".into());
        }
        all.extend(outcomes);
    }
    all.sort_by_cached_key(place);
    for pair in all.windows(2) {
        if place(&pair[0]) == place(&pair[1]) && pair[0] != pair[1] {
            return Err(format!("{} with seed {} came out in two ways", pair[0].player, pair[0].seed));
        }
    }
    all.dedup();
    Ok((of, all))
}
