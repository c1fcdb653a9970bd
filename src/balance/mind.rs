//! How a player decides.

use crate::math::Streams;
use crate::scenario::case::{Ask, Case, Tier};
use crate::session::{Session, dealt};

/// Sort of player.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// The case's model play.
    Model,
    /// The model play with the slips of somebody new to it.
    Novice,
    /// Any option, each as likely.
    Random,
    /// No order and no answer.
    DoNothing,
    /// The option in the middle of the list, as dealt.
    AlwaysMiddle,
    /// The model play with one question answered otherwise: for every question and option.
    OneChanged,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 6] =
        [Self::Model, Self::Novice, Self::Random, Self::DoNothing, Self::AlwaysMiddle, Self::OneChanged];

    /// As typed and printed.
    pub fn name(self) -> &'static str {
        match self {
            Self::Model => "model",
            Self::Novice => "novice",
            Self::Random => "random",
            Self::DoNothing => "do-nothing",
            Self::AlwaysMiddle => "always-middle",
            Self::OneChanged => "one-changed",
        }
    }
    /// By its name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|k| k.name() == name)
    }
    /// What it does, in a sentence.
    pub fn about(self) -> &'static str {
        match self {
            Self::Model => {
                "plays the case's model play; what the play does not foresee gets the best-judged answer"
            }
            Self::Novice => {
                "plays the model play, and slips at each question as often as HEART expects of a beginner"
            }
            Self::Random => "plays the model play's manual steps, and answers every question by chance",
            Self::DoNothing => "gives no order and answers nothing",
            Self::AlwaysMiddle => {
                "plays the model play's manual steps, and takes the middle option as the screen shows it"
            }
            Self::OneChanged => "plays the model play with one question answered otherwise",
        }
    }
}

/// A player's way to decide. It knows the moment, the question and its own seed, and no other state: two rehearsals with the same
/// past and the same answer are the same.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mind {
    /// See [`Kind::Model`].
    Model,
    /// See [`Kind::Novice`].
    Novice,
    /// See [`Kind::Random`].
    Random,
    /// See [`Kind::DoNothing`].
    DoNothing,
    /// See [`Kind::AlwaysMiddle`].
    AlwaysMiddle,
    /// The model play with this option (by place) of this question (by place).
    Changed {
        /// Place of the question in the case.
        ask: usize,
        /// Place of the option in the question.
        option: usize,
    },
}

impl Mind {
    /// Sort of player.
    pub fn kind(&self) -> Kind {
        match self {
            Self::Model => Kind::Model,
            Self::Novice => Kind::Novice,
            Self::Random => Kind::Random,
            Self::DoNothing => Kind::DoNothing,
            Self::AlwaysMiddle => Kind::AlwaysMiddle,
            Self::Changed { .. } => Kind::OneChanged,
        }
    }

    /// The players of a kind: one, or for [`Kind::OneChanged`] one for every question and option.
    pub fn of_kind(kind: Kind, case: &Case) -> Vec<Self> {
        match kind {
            Kind::Model => vec![Self::Model],
            Kind::Novice => vec![Self::Novice],
            Kind::Random => vec![Self::Random],
            Kind::DoNothing => vec![Self::DoNothing],
            Kind::AlwaysMiddle => vec![Self::AlwaysMiddle],
            Kind::OneChanged => {
                let asks = case.asks.iter().enumerate();
                asks.flat_map(|(ask, a)| {
                    (0..a.options.len()).map(move |option| Self::Changed { ask, option })
                })
                .collect()
            }
        }
    }

    /// As the tables call it.
    pub fn label(&self, case: &Case) -> String {
        match self {
            Self::Changed { ask, option } => {
                let ask = &case.asks[*ask];
                format!("{}={}", ask.id, ask.options[*option].id)
            }
            other => other.kind().name().into(),
        }
    }

    /// The option (by place) for a question (by place) with the player's seed; `written` is what the model play answers, if it
    /// does. None: no answer.
    pub fn choose(&self, session: &Session, seed: u64, place: usize, written: Option<&str>) -> Option<usize> {
        let ask = session.case().case.asks.get(place)?;
        let n = ask.options.len();
        let sound = sound(session, ask, written)?;
        let stream = |who: &str| Streams::new(seed).named(&format!("balance/{who}/{}", ask.id));
        match self {
            Self::Model => Some(sound),
            Self::Changed { ask: at, option } => Some(if *at == place { *option } else { sound }),
            Self::Novice => {
                let mut stream = stream("novice");
                if n < 2 || !stream.chance(slip_rate(ask)) {
                    return Some(sound);
                }
                let other = stream.below(n as u32 - 1) as usize;
                Some(if other < sound { other } else { other + 1 })
            }
            Self::Random => Some(stream("random").below(n as u32) as usize),
            Self::AlwaysMiddle => {
                let dealt = dealt(ask, seed);
                let (id, _) = dealt.get((n.max(1) - 1) / 2)?;
                ask.options.iter().position(|o| o.id == *id)
            }
            Self::DoNothing => None,
        }
    }
}

/// The model's answer, unless things have come otherwise than the play foresaw and it is judged worse for that; else the best-judged one of
/// this moment, of equals the first as written.
fn sound(session: &Session, ask: &Ask, written: Option<&str>) -> Option<usize> {
    let tiers: Vec<Tier> = ask.options.iter().map(|o| session.tier_now(o)).collect();
    let best = tiers.iter().max()?;
    let model = written.and_then(|id| ask.options.iter().position(|o| o.id == id));
    model
        .filter(|&i| tiers[i] >= ask.options[i].tier.min(*best))
        .or_else(|| tiers.iter().position(|t| t == best))
}

/// How often a beginner answers a question otherwise than the model, 0 to 1, after HEART (Williams, Proc. 9th Advances in
/// Reliability Technology Symposium, Bradford 1986): the nominal unreliability of the generic task, times 3 for error-producing
/// condition 15, operator inexperience (the factor as reprinted in Aliabadi et al., PLoS One 2021;16:e0253827, table 2). A question
/// that asks "why?" counts as task C, complex, with comprehension and skill: 0.16; any other as task D, fairly simple, done fast:
/// 0.09 (both from memory). Which task a question is, is our judgement.
pub fn slip_rate(ask: &Ask) -> f64 {
    const INEXPERIENCE: f64 = 3.0;
    let nominal = if ask.why || ask.confidence { 0.16 } else { 0.09 };
    nominal * INEXPERIENCE
}
