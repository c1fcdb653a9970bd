//! What came of one rehearsal.

use crate::assess::credit;
use crate::circulation::Organ;
use crate::scenario::case::{Tier, Tone};
use crate::scenario::rule::Signals;
use crate::scenario::signal::RISKS;
use crate::scenario::written;
use crate::session::event::EventKind;
use crate::session::{Row, Session};

/// Part of an organ that will not recover and is counted as harm, per cent: what a bedside examination may first notice (assumed).
pub const HARM_PERCENT: f64 = 2.0;

/// The first irreversible harm.
#[derive(Clone, Debug, PartialEq)]
pub struct Harm {
    /// "death" or the organ, as rules write it.
    pub what: String,
    /// When, s since the call.
    pub at_s: f64,
}

/// An answer that was given, or that the clock gave.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Made {
    /// Question.
    pub ask: String,
    /// Option.
    pub option: String,
    /// As judged at that moment.
    pub tier: Tier,
    /// Nobody answered.
    pub by_clock: bool,
}

/// One rehearsal.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Player, as [`super::Mind::label`] has it.
    pub player: String,
    /// Seed.
    pub seed: u64,
    /// Ending's id; empty where the case did not end.
    pub ending: String,
    /// Its tone; none where the case did not end.
    pub tone: Option<Tone>,
    /// Patient time at the end, s.
    pub end_s: f64,
    /// First irreversible harm.
    pub harm: Option<Harm>,
    /// Blood lost, whole mL.
    pub lost_ml: f64,
    /// Chance that any of the risks that were faced would have struck, per cent to two places, whatever the dice did.
    pub risk_percent: f64,
    /// Part of the worst-hit organ that will not recover, per cent to two places.
    pub worst_percent: f64,
    /// Contrast given, whole mL.
    pub contrast_ml: f64,
    /// Kerma-area product, Gy cm2 to one place.
    pub kap_gy_cm2: f64,
    /// Lowest mean pressure while alive, pacing left out, whole mmHg.
    pub lowest_mmhg: f64,
    /// Lowest core temperature, degC to one place.
    pub coldest_c: f64,
    /// Haemoglobin at the end, whole g/L.
    pub hb_g_l: f64,
    /// Until the hand-over, or the end where there was none, whole minutes.
    pub theatre_min: f64,
    /// Credit for the decisions, 0 to 1, as the report has it, to four places; none when nothing was decided.
    pub score: Option<f64>,
    /// Orders that the state of things refused.
    pub refused: usize,
    /// Answers in order.
    pub made: Vec<Made>,
}

impl Outcome {
    /// Of a finished session.
    pub fn of(session: &Session, player: String) -> Self {
        let made: Vec<Made> = session
            .events()
            .iter()
            .filter_map(|e| match &e.kind {
                EventKind::Chosen { ask, option, tier, by_clock, .. } => {
                    Some(Made { ask: ask.clone(), option: option.clone(), tier: *tier, by_clock: *by_clock })
                }
                _ => None,
            })
            .collect();
        let credits: f64 = made.iter().map(|m| credit(m.tier)).sum();
        let chances = session.events().iter().filter_map(|e| match &e.kind {
            // What the case itself leaves to chance may be a mere finding: what it does shows elsewhere.
            EventKind::Risk { id, probability, .. } if RISKS.iter().any(|(risk, _)| risk == id) => {
                Some(1.0 - probability)
            }
            _ => None,
        });
        let last = |name: &str| session.trace().last().and_then(|row| row.value(name)).unwrap_or(0.0);
        let worst = organs().map(|(signal, _)| last(&signal)).fold(0.0, f64::max);
        // As fine as the table keeps them, so that a table read back is the same.
        let places = |value: f64, scale: f64| (value * scale).round() / scale;
        let least = |name: &str| {
            let alive = |row: &&Row| row.value("alive") != Some(0.0) && row.value("pacing") != Some(1.0);
            session
                .trace()
                .iter()
                .filter(alive)
                .filter_map(|row| row.value(name))
                .fold(f64::INFINITY, f64::min)
        };
        let known = |value: f64| if value.is_finite() { value } else { 0.0 };
        let handed = session.events().iter().find_map(|e| match &e.kind {
            EventKind::Done { verb, .. } if verb == "hand_over" => Some(e.at),
            _ => None,
        });
        let refused = session.events().iter().filter(|e| matches!(e.kind, EventKind::Refused { .. }));
        Self {
            player,
            seed: session.seed(),
            ending: session.ended().map(|e| e.id.clone()).unwrap_or_default(),
            tone: session.ended().map(|e| e.tone),
            end_s: session.now().seconds(),
            harm: harm(session),
            lost_ml: last("lost").round(),
            risk_percent: places(100.0 * (1.0 - chances.product::<f64>()), 100.0),
            worst_percent: places(worst, 100.0),
            contrast_ml: last("contrast").round(),
            kap_gy_cm2: places(last("kap"), 10.0),
            lowest_mmhg: known(least("map")).round(),
            coldest_c: places(known(least("temperature")), 10.0),
            hb_g_l: last("hb").round(),
            theatre_min: (handed.unwrap_or(session.now()).seconds() / 60.0).round(),
            score: (!made.is_empty()).then(|| places(credits / made.len() as f64, 1e4)),
            refused: refused.count(),
            made,
        }
    }

    /// How it went for the patient: 3 whole, 2 mixed, 1 not ended, 0 dead or gravely harmed.
    pub fn rank(&self) -> u8 {
        match self.tone {
            Some(Tone::Good) => 3,
            Some(Tone::Mixed) => 2,
            None => 1,
            Some(Tone::Bad) => 0,
        }
    }
}

/// Every organ: the signal of its lasting harm, and its name.
fn organs() -> impl Iterator<Item = (String, String)> {
    Organ::ALL.iter().map(written).map(|o| (format!("injured.{o}"), o))
}

/// Death, or the first sample at which an organ has lost more than [`HARM_PERCENT`].
fn harm(session: &Session) -> Option<Harm> {
    let organs: Vec<(String, String)> = organs().collect();
    let found = |row: &Row| -> Option<String> {
        if row.value("alive") == Some(0.0) {
            return Some("death".into());
        }
        organs.iter().find(|(s, _)| row.value(s).is_some_and(|v| v > HARM_PERCENT)).map(|(_, o)| o.clone())
    };
    // What is lost stays lost, so the first such sample is found by halving.
    let rows = session.trace();
    let first = rows.partition_point(|row| found(row).is_none());
    let row = rows.get(first)?;
    Some(Harm { what: found(row)?, at_s: row.at.seconds() })
}
