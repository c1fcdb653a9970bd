//! What the outcomes of a sweep say about the case.

use super::mind::Kind;
use super::outcome::Outcome;
use super::table::place;
use crate::scenario::case::{Case, Tier};
use std::collections::BTreeMap;

/// Wilson's interval of a share, 95 %: low and high (Wilson, J Am Stat Assoc 1927;22:209). 0 to 1 when nothing was counted.
pub fn wilson(hits: usize, of: usize) -> (f64, f64) {
    const Z: f64 = 1.959_963_984_540_054;
    if of == 0 {
        return (0.0, 1.0);
    }
    let (n, p) = (of as f64, hits as f64 / of as f64);
    let middle = p + Z * Z / (2.0 * n);
    let half = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    let whole = 1.0 + Z * Z / n;
    (((middle - half) / whole).max(0.0), ((middle + half) / whole).min(1.0))
}

/// Outcomes of one kind of player.
#[derive(Clone, Debug)]
pub struct PlayerCount {
    /// The kind.
    pub kind: Kind,
    /// Rehearsals.
    pub n: usize,
    /// Endings, in the order of the case, with how often; the last is "", not ended.
    pub endings: Vec<(String, usize)>,
    /// Times of the first irreversible harm, minutes, from early to late.
    pub harm_min: Vec<f64>,
    /// Mean credit for decisions; none when none was made.
    pub score: Option<f64>,
    /// Mean number of refused orders.
    pub refused: f64,
}

/// A difference over several seeds: mean, least and greatest.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spread {
    /// Mean.
    pub mean: f64,
    /// Least.
    pub least: f64,
    /// Greatest.
    pub greatest: f64,
}

impl Spread {
    fn of(values: &[f64]) -> Self {
        if values.is_empty() {
            return Self::default();
        }
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        Self { mean, least, greatest: values.iter().copied().fold(f64::NEG_INFINITY, f64::max) }
    }
}

/// One measure of what an option costs.
pub struct Cost {
    /// As the page says it.
    pub name: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// What of it makes no difference to anybody (assumed).
    pub alike: f64,
    /// Its value.
    pub of: fn(&Outcome) -> f64,
}

/// The measures. Alike are a fifth of a unit of blood, a chance of one in a hundred, what no examination finds of an organ, a hand
/// injection, a minute of screening, a step of the monitor, a third of a degree, half a bag of red cells, ten minutes.
pub const COSTS: [Cost; 9] = [
    Cost { name: "blood lost", unit: "mL", alike: ALIKE_ML, of: |o| o.lost_ml },
    Cost { name: "chance of a mishap", unit: "%", alike: 1.0, of: |o| o.risk_percent },
    Cost { name: "worst organ", unit: "%", alike: 2.0, of: |o| o.worst_percent },
    Cost { name: "contrast", unit: "mL", alike: 10.0, of: |o| o.contrast_ml },
    Cost { name: "dose", unit: "Gy cm2", alike: 5.0, of: |o| o.kap_gy_cm2 },
    Cost { name: "lowest mean", unit: "mmHg", alike: 5.0, of: |o| o.lowest_mmhg },
    Cost { name: "coldest", unit: "degC", alike: 0.3, of: |o| o.coldest_c },
    Cost { name: "haemoglobin at the end", unit: "g/L", alike: 5.0, of: |o| o.hb_g_l },
    Cost { name: "time to the hand-over", unit: "min", alike: 10.0, of: |o| o.theatre_min },
];

/// What an option costs beyond the model's answer with the same seed, in the order of [`COSTS`].
pub type More = [Spread; COSTS.len()];

/// Do two options cost about the same?
fn alike(a: &More, b: &More) -> bool {
    COSTS.iter().zip(a.iter().zip(b)).all(|(cost, (a, b))| (a.mean - b.mean).abs() <= cost.alike)
}

/// How an option of a question fares when it alone is changed.
#[derive(Clone, Debug)]
pub struct OptionCount {
    /// Option's id.
    pub id: String,
    /// As the case judges it.
    pub tier: Tier,
    /// Rehearsals in which it was taken as the only change.
    pub n: usize,
    /// Of these: patient better, alike and worse than with the model's answer, same seed. By tone of the ending.
    pub against_model: [usize; 3],
    /// What it cost beyond the model's with the same seed.
    pub more: More,
    /// Endings reached.
    pub endings: BTreeMap<String, usize>,
    /// An option of the same question with which no patient fared worse and some fared better, if there is one.
    pub dominated_by: Option<String>,
    /// Makes no difference that the sweep can see: every patient comes to the model's ending at the model's cost.
    pub idle: bool,
}

/// One question.
#[derive(Clone, Debug)]
pub struct AskCount {
    /// Question's id.
    pub id: String,
    /// Defensible or better, and all, among novices.
    pub novices: (usize, usize),
    /// The same among those who answer by chance: what guessing gives.
    pub guessers: (usize, usize),
    /// Left to the clock, of all answers of all players.
    pub by_clock: (usize, usize),
    /// Its options, where single changes were rehearsed.
    pub options: Vec<OptionCount>,
    /// Declared to be judged only.
    pub knowledge: bool,
    /// Whether any answer made a difference to any patient, in ending or cost; none when no change was rehearsed or it never opened.
    pub matters: Option<bool>,
}

/// Everything.
#[derive(Clone, Debug)]
pub struct Summary {
    /// By kind of player.
    pub players: Vec<PlayerCount>,
    /// By question, in the order of the case.
    pub asks: Vec<AskCount>,
    /// Endings that no rehearsal reached.
    pub never_reached: Vec<String>,
    /// Naive players who came to a good ending: kind, how many, of how many.
    pub naive_wins: Vec<(Kind, usize, usize)>,
}

/// Blood that makes no difference to anybody, mL (assumed): within it two rehearsals count as alike.
pub const ALIKE_ML: f64 = 100.0;

impl Summary {
    /// Counts.
    pub fn of(case: &Case, outcomes: &[Outcome]) -> Self {
        let kind_of = |o: &Outcome| place(o).0;
        let mut by_kind: BTreeMap<Kind, Vec<&Outcome>> = BTreeMap::new();
        for o in outcomes {
            by_kind.entry(kind_of(o)).or_default().push(o);
        }
        let players = by_kind.iter().map(|(kind, some)| player(case, *kind, some)).collect();
        let none = Vec::new();
        let of = |kind| by_kind.get(&kind).unwrap_or(&none);
        let asks = case
            .asks
            .iter()
            .map(|ask| {
                let options = options(case, &ask.id, of(Kind::OneChanged), of(Kind::Model));
                AskCount {
                    id: ask.id.clone(),
                    novices: sound(&ask.id, of(Kind::Novice)),
                    guessers: sound(&ask.id, of(Kind::Random)),
                    by_clock: by_clock(&ask.id, outcomes),
                    knowledge: ask.knowledge,
                    matters: matters(&options),
                    options,
                }
            })
            .collect();
        let never_reached = case
            .endings
            .iter()
            .filter(|e| !outcomes.iter().any(|o| o.ending == e.id))
            .map(|e| e.id.clone())
            .collect();
        let naive_wins = [Kind::Random, Kind::DoNothing, Kind::AlwaysMiddle]
            .into_iter()
            .filter_map(|kind| {
                let some = of(kind);
                let wins = some.iter().filter(|o| o.rank() == 3).count();
                (!some.is_empty()).then_some((kind, wins, some.len()))
            })
            .collect();
        Self { players, asks, never_reached, naive_wins }
    }
}

fn player(case: &Case, kind: Kind, some: &[&Outcome]) -> PlayerCount {
    let n = some.len();
    let ids = case.endings.iter().map(|e| e.id.as_str()).chain([""]);
    let endings = ids.map(|id| (id.to_owned(), some.iter().filter(|o| o.ending == id).count())).collect();
    let mut harm_min: Vec<f64> = some.iter().filter_map(|o| Some(o.harm.as_ref()?.at_s / 60.0)).collect();
    harm_min.sort_by(f64::total_cmp);
    let scores: Vec<f64> = some.iter().filter_map(|o| o.score).collect();
    let score = (!scores.is_empty()).then(|| scores.iter().sum::<f64>() / scores.len() as f64);
    let refused = some.iter().map(|o| o.refused as f64).sum::<f64>() / n.max(1) as f64;
    PlayerCount { kind, n, endings, harm_min, score, refused }
}

/// Answers that were defensible or better, and all, to a question. Silence that the clock took as an answer counts.
fn sound(ask: &str, some: &[&Outcome]) -> (usize, usize) {
    let made = some.iter().flat_map(|o| o.made.iter().filter(|m| m.ask == ask));
    made.fold((0, 0), |(hits, n), m| (hits + usize::from(m.tier >= Tier::Defensible), n + 1))
}

fn by_clock(ask: &str, all: &[Outcome]) -> (usize, usize) {
    let made = all.iter().flat_map(|o| o.made.iter().filter(|m| m.ask == ask));
    made.fold((0, 0), |(hits, n), m| (hits + usize::from(m.by_clock), n + 1))
}

/// Every option of a question as the only change, set against the model with the same seed. Only rehearsals in which the
/// question was answered count.
fn options(case: &Case, ask: &str, changed: &[&Outcome], model: &[&Outcome]) -> Vec<OptionCount> {
    let Some(spec) = case.asks.iter().find(|a| a.id == ask) else { return Vec::new() };
    let model: BTreeMap<u64, &Outcome> = model.iter().map(|o| (o.seed, *o)).collect();
    let mut ranks: Vec<BTreeMap<u64, u8>> = Vec::new();
    let mut out = Vec::new();
    for option in &spec.options {
        let player = format!("{ask}={}", option.id);
        let took = |o: &Outcome| o.made.iter().any(|m| m.ask == ask && m.option == option.id);
        let mine: Vec<&&Outcome> = changed.iter().filter(|o| o.player == player && took(o)).collect();
        let mut against_model = [0; 3];
        let mut endings = BTreeMap::new();
        let mut pairs: Vec<(&Outcome, &Outcome)> = Vec::new();
        for o in &mine {
            *endings.entry(o.ending.clone()).or_insert(0) += 1;
            if let Some(own) = model.get(&o.seed) {
                let slot = match o.rank().cmp(&own.rank()) {
                    std::cmp::Ordering::Greater => 0,
                    std::cmp::Ordering::Equal => 1,
                    std::cmp::Ordering::Less => 2,
                };
                against_model[slot] += 1;
                pairs.push((o, own));
            }
        }
        let more = COSTS.each_ref().map(|cost| {
            Spread::of(&pairs.iter().map(|(o, own)| (cost.of)(o) - (cost.of)(own)).collect::<Vec<_>>())
        });
        let same = pairs.iter().all(|(o, own)| o.ending == own.ending);
        ranks.push(mine.iter().map(|o| (o.seed, o.rank())).collect());
        out.push(OptionCount {
            id: option.id.clone(),
            tier: option.tier,
            n: mine.len(),
            against_model,
            more,
            endings,
            dominated_by: None,
            idle: !pairs.is_empty() && same && alike(&more, &More::default()),
        });
    }
    for i in 0..out.len() {
        let better = (0..out.len()).find(|&j| j != i && dominates(&ranks[j], &ranks[i]));
        out[i].dominated_by = better.map(|j| out[j].id.clone());
    }
    out
}

/// With the same seeds: never worse, and at least once better.
fn dominates(a: &BTreeMap<u64, u8>, b: &BTreeMap<u64, u8>) -> bool {
    let pairs: Vec<(u8, u8)> = b.iter().filter_map(|(seed, r)| Some((*a.get(seed)?, *r))).collect();
    !pairs.is_empty() && pairs.iter().all(|(a, b)| a >= b) && pairs.iter().any(|(a, b)| a > b)
}

/// Do two options end differently, or cost differently?
fn matters(options: &[OptionCount]) -> Option<bool> {
    let tried: Vec<&OptionCount> = options.iter().filter(|o| o.n > 0).collect();
    let first = tried.first()?;
    if tried.len() < 2 {
        return None;
    }
    let apart = |o: &&&OptionCount| {
        // Shares of endings, whatever the number of seeds.
        let share = |c: &OptionCount, id: &String| c.endings.get(id).map_or(0.0, |n| *n as f64 / c.n as f64);
        let ids = o.endings.keys().chain(first.endings.keys());
        ids.clone().any(|id| (share(o, id) - share(first, id)).abs() > 1e-9) || !alike(&o.more, &first.more)
    };
    Some(tried.iter().skip(1).any(|o| apart(&o)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Wilson's interval for 7 of 10: 0.3968 to 0.8922 (Newcombe, Stat Med 1998;17:857 gives the method; the figures were
    /// computed apart with numpy).
    #[test]
    fn wilson_is_the_published_interval() {
        let (low, high) = wilson(7, 10);
        assert!((low - 0.3968).abs() < 5e-5 && (high - 0.8922).abs() < 5e-5, "{low} {high}");
        assert_eq!(wilson(0, 0), (0.0, 1.0));
        // Newcombe's table I: 0 of 20 gives 0 to 0.1611; 1 of 29 gives 0.0061 to 0.1718.
        let (low, high) = wilson(0, 20);
        assert!(low.abs() < 1e-12 && (high - 0.1611).abs() < 5e-5, "{low} {high}");
        let (low, high) = wilson(1, 29);
        assert!((low - 0.0061).abs() < 5e-5 && (high - 0.1718).abs() < 5e-5, "{low} {high}");
    }
}
