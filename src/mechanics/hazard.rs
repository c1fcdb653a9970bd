//! Chance of injury, computed before any dice are thrown.
//!
//! A base chance from a published series is multiplied, as odds, by what is true here. Cohort odds are associations,
//! so every product is capped. Whoever judges reads the probability and its reasons; whoever plays draws from it.

use crate::anatomy::{LesionShape, Septum, Tree};
use crate::math::ops;

/// What may happen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum HazardKind {
    /// A wire or catheter goes through a vessel's wall.
    Perforation,
    /// A tip goes through the left ventricle.
    VentriclePerforation,
    /// A leaflet of the aortic valve is torn.
    ValveInjury,
    /// Debris or air to the brain.
    Stroke(Territory),
    /// An access vessel tears through.
    AccessRupture,
    /// An access vessel's intima is lifted.
    AccessDissection,
    /// A dissection runs back into the ascending aorta.
    RetrogradeDissection,
    /// The distal end of a graft makes a new tear.
    DistalNewEntry,
    /// The spinal cord goes short of blood.
    CordIschaemia,
    /// A balloon tears the aorta.
    AorticTear,
    /// A balloon bursts.
    BalloonBurst,
    /// An embolic goes where it was not meant to.
    NonTargetEmbolus,
    /// A graft slips out of its landing.
    Migration,
    /// The sutures of an access do not hold.
    ClosureFailure,
    /// A vein between brain and dura tears as the brain sinks.
    Subdural,
    /// A punctured canal bleeds and presses on the cord.
    CanalBleed,
}

impl HazardKind {
    /// Short name for streams, logs and rules.
    pub fn id(self) -> &'static str {
        match self {
            Self::Perforation => "perforation",
            Self::VentriclePerforation => "ventricle_perforation",
            Self::ValveInjury => "valve_injury",
            Self::Stroke(Territory::Right) => "stroke_right",
            Self::Stroke(Territory::Left) => "stroke_left",
            Self::Stroke(Territory::Posterior) => "stroke_posterior",
            Self::AccessRupture => "access_rupture",
            Self::AccessDissection => "access_dissection",
            Self::RetrogradeDissection => "retrograde_dissection",
            Self::DistalNewEntry => "distal_new_entry",
            Self::CordIschaemia => "cord_ischaemia",
            Self::AorticTear => "aortic_tear",
            Self::BalloonBurst => "balloon_burst",
            Self::NonTargetEmbolus => "non_target_embolus",
            Self::Migration => "migration",
            Self::ClosureFailure => "closure_failure",
            Self::Subdural => "subdural",
            Self::CanalBleed => "canal_bleed",
        }
    }
}

/// Parts of the brain by the artery that feeds them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Territory {
    /// Right carotid.
    Right,
    /// Left carotid.
    Left,
    /// Vertebral and basilar arteries.
    Posterior,
}

/// A chance with its reasons.
#[derive(Clone, Debug, PartialEq)]
pub struct Hazard {
    /// What.
    pub kind: HazardKind,
    /// 0 to 1, for the act as a whole.
    pub probability: f64,
    /// The base chance first, then each multiplier of the odds, with its source.
    pub because: Vec<(String, f64)>,
}

impl Hazard {
    /// Starts from a base probability.
    pub fn base(kind: HazardKind, probability: f64, why: &str) -> Self {
        Self { kind, probability: probability.clamp(0.0, 0.95), because: vec![(why.to_owned(), probability)] }
    }
    /// Multiplies the odds; a factor of 1 leaves no trace.
    #[must_use]
    pub fn times(mut self, factor: f64, why: &str) -> Self {
        if (factor - 1.0).abs() > 1e-9 {
            self.probability = ops::scale_odds(self.probability, factor);
            self.because.push((why.to_owned(), factor));
        }
        self
    }
    /// The same when something holds.
    #[must_use]
    pub fn times_if(self, holds: bool, factor: f64, why: &str) -> Self {
        if holds { self.times(factor, why) } else { self }
    }
    /// What an act adds to a chance that was drawn already for less.
    #[must_use]
    pub fn beyond(mut self, drawn: &Self) -> Self {
        let left = 1.0 - drawn.probability;
        self.probability = ((self.probability - drawn.probability) / left.max(1e-9)).max(0.0);
        self.because.push(("less what was faced before".to_owned(), self.probability));
        self
    }
    /// Keeps the probability at or below a cap.
    #[must_use]
    pub fn capped(mut self, most: f64) -> Self {
        if self.probability > most {
            self.probability = most;
            self.because.push(("cap (assumed)".to_owned(), most));
        }
        self
    }
}

/// Logistic curve through two points of a risk.
fn through(x: f64, (x0, p0): (f64, f64), (x1, p1): (f64, f64)) -> f64 {
    let logit = |p: f64| ops::ln(p / (1.0 - p));
    ops::logistic(logit(p0) + (logit(p1) - logit(p0)) * (x - x0) / (x1 - x0))
}

/// What passes through an access artery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AccessLoad {
    /// Outer diameter of what passes, mm.
    pub outer_mm: f64,
    /// Narrowest inner diameter on its way, mm.
    pub narrowest_mm: f64,
    /// Part of the circumference that is calcified there, 0 to 1.
    pub calcium: f64,
    /// Centreline length over straight length of the access vessels.
    pub tortuosity: f64,
    /// A stiff wire leads it.
    pub on_stiff_wire: bool,
}

/// Failure of closure sutures laid before the puncture.
///
/// They hold in 94 % of accesses, less often from 20 Fr up (pooled 2257 patients); arteries in which they failed were 4.9 mm wide on
/// average against 6.8 mm (series of the same review). A wire is left in until they hold, so that another can be laid on it (common
/// practice); the published figure is of accesses closed so.
pub fn closure(outer_mm: f64, artery_mm: f64, calcium: f64, wired: bool, act_s: f64) -> Hazard {
    let fr = outer_mm * 3.0;
    Hazard::base(HazardKind::ClosureFailure, 0.06, "closure sutures (pooled 2257 patients)")
        .times_if(fr < 12.0, 0.3, "small hole, under 12 Fr (assumed)")
        .times_if(fr >= 12.0 && !wired, 2.0, "no wire left in the artery for a further suture (assumed)")
        .times(1.0 + ((act_s - 120.0) / 60.0).clamp(0.0, 1.0), "blood that clots slowly (assumed, up to 2)")
        .times_if(fr >= 20.0, 1.5, "20 Fr and more (direction published, size assumed)")
        .times(
            ops::exp((6.8 - artery_mm).clamp(-2.0, 3.0) * 0.5),
            "width of the artery (4.9 failed, 6.8 held; slope assumed)",
        )
        .times(1.0 + calcium.clamp(0.0, 1.0), "calcified artery (assumed, up to 2)")
        .capped(0.5)
}

/// Rupture and dissection of the access artery.
///
/// Rupture was 0.7 % at a mean sheath-to-artery ratio of 0.88 and 6.3 % at 1.13 (Cakal et al. 2023); another series
/// found no such step at 1.05 (Ulm et al., Front Cardiovasc Med 2021), hence a smooth curve and not a threshold.
pub fn access(load: &AccessLoad) -> [Hazard; 2] {
    let ratio = load.outer_mm / load.narrowest_mm.max(0.1);
    let p = through(ratio, (0.88, 0.007), (1.13, 0.063));
    let finish = |kind, p: f64| {
        Hazard::base(kind, p, "sheath-to-artery ratio (Cakal 2023)")
            .times(1.0 + 2.0 * load.calcium.clamp(0.0, 1.0), "calcified artery (assumed, up to 3)")
            .times_if(load.tortuosity > 1.5, 1.5, "severe tortuosity, index above 1.5 (assumed)")
            .times_if(!load.on_stiff_wire, 2.0, "no stiff wire leads it (assumed)")
            .capped(0.6)
    };
    // Access complications of all kinds are reported two to three times as often as rupture (assumed: twice).
    [finish(HazardKind::AccessRupture, p), finish(HazardKind::AccessDissection, (2.0 * p).min(0.5))]
}

/// Rupture of an artery that a stent stretches beyond its width.
///
/// 10 to 20 % over is the usual choice (common practice). The curve is assumed: 0.5 % at a fifth over, 20 % at half over; what opens
/// by its own spring stops sooner than a balloon (assumed: a fifth of the odds).
pub fn overstretch(stent_mm: f64, artery_mm: f64, calcium: f64, by_balloon: bool) -> Hazard {
    let ratio = stent_mm / artery_mm.max(0.1);
    let p = if ratio > 1.0 { through(ratio, (1.2, 0.005), (1.5, 0.2)) } else { 1e-5 };
    Hazard::base(HazardKind::AccessRupture, p, "stent against artery (assumed curve)")
        .times(1.0 + 2.0 * calcium.clamp(0.0, 1.0), "calcified artery (assumed, up to 3)")
        .times_if(!by_balloon, 0.2, "opens by its own spring (assumed)")
        .capped(0.6)
}

/// The disease that a graft is laid in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Disease {
    /// Degenerative aneurysm, or a ruptured one.
    Aneurysm,
    /// Blunt injury of an otherwise sound aorta.
    Transection,
    /// Dissection of less than two weeks.
    AcuteDissection,
    /// An older dissection.
    ChronicDissection,
    /// None: a balloon in a sound aorta, against bleeding elsewhere.
    Sound,
}

impl Disease {
    /// Of the aortic wall at a place, mm from the valve. A dissected wall is dissected where the septum lies and two
    /// centimetres before it, where its tear begins (assumed); other diseases are of the whole aorta.
    pub fn at(tree: &Tree, s_mm: f64) -> Self {
        const MARGIN_MM: f64 = 20.0;
        match &tree.aorta().wall.septum {
            Some(s) if (s.from_mm - MARGIN_MM..=s.to_mm).contains(&s_mm) => Self::dissection(s),
            _ => Self::of_lesions(tree),
        }
    }
    /// Of the patient: a dissection anywhere goes before all else, for it can run back into a sound landing.
    pub fn of(tree: &Tree) -> Self {
        tree.aorta().wall.septum.as_ref().map_or_else(|| Self::of_lesions(tree), Self::dissection)
    }
    /// Less than two weeks old is acute (the definition of the dissection guidelines).
    fn dissection(septum: &Septum) -> Self {
        if septum.age_days <= 14.0 { Self::AcuteDissection } else { Self::ChronicDissection }
    }
    fn of_lesions(tree: &Tree) -> Self {
        let lesions = &tree.aorta().wall.lesions;
        if lesions.iter().any(|l| matches!(l.shape, LesionShape::Transection { .. })) {
            Self::Transection
        } else if lesions.is_empty() {
            Self::Sound
        } else {
            Self::Aneurysm
        }
    }
}

/// What makes a dissection run back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProximalLanding {
    /// Disease of the landing.
    pub disease: Disease,
    /// Oversizing against the true present diameter, percent.
    pub oversize_percent: f64,
    /// A balloon pressed the landing.
    pub ballooned: bool,
    /// A bare stent reaches beyond the fabric.
    pub bare_stent: bool,
    /// The edge lies in the ascending aorta.
    pub zone_0: bool,
}

/// Retrograde type A dissection.
///
/// Odds times 1.14 for each percent of oversizing above 9; acute dissection 10 and chronic 3.4 times an aneurysm
/// (Canaud et al., Ann Surg 2014). A bare stent doubled it in one meta-analysis (Chen et al., JAHA 2017) and did not in
/// two others, so half of that, as odds, is taken.
pub fn retrograde_dissection(at: &ProximalLanding) -> Hazard {
    let relative = match at.disease {
        Disease::Aneurysm | Disease::Transection | Disease::Sound => 1.0,
        Disease::ChronicDissection => 3.4,
        Disease::AcuteDissection => 10.0,
    };
    let over = (at.oversize_percent - 9.0).max(0.0);
    Hazard::base(HazardKind::RetrogradeDissection, 0.0016, "aneurysm at 9 % oversizing or less (Canaud 2014)")
        .times(relative, "dissected wall (Canaud 2014)")
        .times(ops::powf(1.14, over), "1.14 for each percent of oversizing above 9 (Canaud 2014)")
        .times_if(at.bare_stent, 1.4, "bare proximal stent (Chen 2017: 2.06; others: none)")
        .times_if(
            at.ballooned && at.disease == Disease::AcuteDissection,
            3.0,
            "balloon in acute dissection (assumed)",
        )
        .times_if(at.zone_0, 2.0, "edge in the ascending aorta (assumed; reported highest there)")
        .capped(0.5)
}

/// What was done in the arch.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ArchWork {
    /// Landing zone of the proximal edge, 0 to 11.
    pub zone: u8,
    /// Travel of wires, catheters and delivery systems inside the arch, mm, in all.
    pub travel_mm: f64,
    /// Sum of wall force times travel there, N mm: how hard they scraped.
    pub scrape_n_mm: f64,
    /// The left subclavian artery is covered and not revascularised.
    pub left_subclavian_lost: bool,
    /// It is covered, and a bypass feeds it.
    pub left_subclavian_fed: bool,
    /// That vertebral artery is the dominant one.
    pub left_vertebral_dominant: bool,
    /// The delivery system or the injector was not flushed of air.
    pub air: bool,
    /// A young person's arch, without plaque.
    pub young: bool,
    /// Atheroma of the arch, 0 none to 1 severe and mobile.
    pub atheroma: f64,
}

/// Wall force times travel in the arch in a clean case, N mm (as computed in the cases: 400 to 1500).
const USUAL_N_MM: f64 = 1000.0;

/// Stroke, by territory.
///
/// Base 2.9 % for a descending landing and 7.1 % for an arch landing (Li et al., VQI 2022), 22 % in zone 0 (Jonsson et
/// al., Swedvasc). Debris is shared out as the arch's branches share the flow (Boileau et al., IJNMBE 2015).
pub fn stroke(work: &ArchWork) -> [Hazard; 3] {
    let (base, why) = match work.zone {
        0 => (0.22, "landing in zone 0 (Jonsson, Swedvasc)"),
        1 | 2 => (0.071, "landing in the arch (Li, VQI 2022)"),
        3..=5 => (0.029, "landing in the descending aorta (Li, VQI 2022)"),
        // Nothing is moved past the arch's branches.
        _ => (0.004, "abdominal repair (assumed)"),
    };
    // A clean case travels the arch about three times, 120 mm each, and a stiff wire and a system lean on its wall with some three
    // newtons (as computed in the cases): so were the grafts brought up whose strokes were counted.
    let travel = ops::powf((work.travel_mm / 360.0).clamp(0.25, 8.0), 0.5);
    let scrape = (1.0 + (work.scrape_n_mm - USUAL_N_MM) / 3000.0).clamp(0.7, 2.5);
    let shares = [(Territory::Right, 0.45), (Territory::Left, 0.30), (Territory::Posterior, 0.25)];
    shares.map(|(territory, share)| {
        let posterior = territory == Territory::Posterior;
        Hazard::base(HazardKind::Stroke(territory), base * share, why)
            .times(travel, "travel in the arch against three clean passes (assumed)")
            .times(scrape, "wall force times travel in the arch (assumed, 0.7 to 2.5)")
            .times_if(
                work.young,
                0.3,
                "an arch without plaque: strokes in about 1 % of grafts for injury (from memory)",
            )
            .times(1.0 + 3.0 * work.atheroma.clamp(0.0, 1.0), "atheroma of the arch (assumed, up to 4)")
            .times_if(
                work.left_subclavian_fed,
                0.76,
                "left subclavian fed first: 5.4 against 7.1 % of all (Chen 2019)",
            )
            .times_if(work.air, 3.0, "air not flushed out (assumed)")
            .times_if(
                posterior && work.left_subclavian_lost,
                5.34,
                "left subclavian covered, not revascularised (Clough 2011)",
            )
            .times_if(
                posterior && work.left_subclavian_lost && work.left_vertebral_dominant,
                2.0,
                "its vertebral artery is dominant (assumed)",
            )
            .capped(0.4)
    })
}

/// What the cord depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CordSupply {
    /// Thoracic aorta covered, mm.
    pub covered_mm: f64,
    /// Length left open above the coeliac artery, mm.
    pub open_above_coeliac_mm: f64,
    /// Left subclavian artery lost.
    pub subclavian_lost: bool,
    /// Lumbar arteries lost, now or by an earlier abdominal repair.
    pub lumbar_lost: bool,
    /// Internal iliac arteries lost: 0, 1 or 2.
    pub hypogastrics_lost: u8,
    /// Mean arterial pressure, mmHg.
    pub map_mmhg: f64,
    /// Pressure of the cerebrospinal fluid, mmHg.
    pub csf_mmhg: f64,
    /// Haemoglobin, g/L.
    pub hb_g_l: f64,
}

/// Cord ischaemia.
///
/// Base 2.5 % (Buth et al., EUROSTAR, J Vasc Surg 2007). Length: patients with lasting deficit had 260 mm covered against
/// 196, and 17 mm left open above the coeliac against 63 (Feezor et al., Ann Thorac Surg 2008). Left subclavian lost 3.9,
/// earlier abdominal repair 5.5 (Buth 2007). Two lost territories, or one and low pressure, is the pattern that harms
/// (Czerny et al., J Endovasc Ther 2012).
pub fn cord(supply: &CordSupply) -> Hazard {
    // Equal-spread discriminant on the covered length with 75 mm standard deviation (assumed): 64.7 / 75² a mm.
    let length = ops::exp((supply.covered_mm - 200.0) * 0.0115);
    let low = ((80.0 - (supply.map_mmhg - supply.csf_mmhg)) / 10.0).max(0.0);
    let anaemia = ((100.0 - supply.hb_g_l) / 20.0).clamp(0.0, 3.0);
    Hazard::base(
        HazardKind::CordIschaemia,
        0.015,
        "thoracic graft of 200 mm, all territories kept (below Buth 2007)",
    )
    .times(length.clamp(0.2, 8.0), "length covered (Feezor 2008; spread assumed)")
    .times_if(
        supply.open_above_coeliac_mm < 20.0,
        2.0,
        "less than 20 mm left open above the coeliac (Feezor 2008)",
    )
    .times_if(supply.subclavian_lost, 3.9, "left subclavian lost (Buth 2007)")
    .times_if(supply.lumbar_lost, 5.5, "lumbar arteries lost (Buth 2007: earlier abdominal repair)")
    .times_if(
        supply.hypogastrics_lost > 0,
        1.0 + 0.5 * f64::from(supply.hypogastrics_lost),
        "internal iliacs lost (assumed)",
    )
    .times(ops::powf(1.6, low), "1.6 for each 10 mmHg of cord perfusion below 80 (assumed)")
    .times(ops::powf(1.3, anaemia), "anaemia, 1.3 for each 20 g/L below 100 (assumed)")
    .capped(0.6)
}

/// Spinal fluid let out, and how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drained {
    /// Let out before, mL.
    pub before_ml: f64,
    /// Let out by now, mL.
    pub by_now_ml: f64,
    /// The rate between the two, mL/h.
    pub rate_ml_h: f64,
    /// Pressure of the fluid, mmHg.
    pub csf_mmhg: f64,
}

/// A subdural bleed from what has been drained since it was last asked.
///
/// Of 230 patients 8 bled; 690 (standard error 79) mL had been taken from them and 359 (24) mL from the others (Dardik et al., J
/// Vasc Surg 2002;36:47; that the figures after the means are standard errors is our reading). An equal-spread discriminant on that
/// volume: the spread is 24 times the root of 222, 358 mL. Drains of that series opened at 5 cm of water, 3.7 mmHg, so a lower
/// pressure lies beyond it; a rate above 20 mL/h is where common practice clamps. Both factors are assumed.
pub fn subdural(drained: &Drained) -> Hazard {
    const SPREAD_ML: f64 = 358.0;
    const SLOPE: f64 = (690.0 - 359.0) / (SPREAD_ML * SPREAD_ML);
    let by = |ml: f64| ops::scale_odds(8.0 / 230.0, ops::exp(SLOPE * (ml - 0.5 * (690.0 + 359.0))));
    let (before, now) = (by(drained.before_ml), by(drained.by_now_ml));
    let added = ((now - before) / (1.0 - before)).max(0.0);
    Hazard::base(HazardKind::Subdural, added, "volume of spinal fluid drained (Dardik 2002)")
        .times_if(drained.rate_ml_h > 20.0, 2.0, "faster than 20 mL an hour (assumed)")
        .times_if(drained.csf_mmhg < 3.7, 2.0, "spinal fluid below 5 cm of water (assumed)")
        .capped(0.3)
}

/// A bleed in the spinal canal when an anticoagulant follows a bloody puncture within a day.
///
/// Of 342 patients who got full heparin after a lumbar puncture 7 bled into the canal, and bloody punctures were among the reasons (Ruff and
/// Dougherty, Stroke 1981;12:879, from memory). `blocked` is the part of clotting that the dose blocks; a full dose blocks 0.45.
pub fn canal_bleed(blocked: f64) -> Hazard {
    let dose = (blocked / 0.45).clamp(0.02, 2.0);
    Hazard::base(HazardKind::CanalBleed, 7.0 / 342.0, "full heparin after a spinal needle (Ruff 1981)")
        .times(3.0, "bloody punctures (a reason there; size assumed)")
        .times(dose, "what it blocks, against a full dose (assumed)")
        .capped(0.3)
}

/// New entry at the distal edge in a dissected aorta, over the following year.
///
/// Oversizing against the true lumen was 95.9 ± 49.3 % with and 55.9 ± 36.2 % without it, taper 41 against 25 % (2014
/// series); base 3.4 % (Dong et al., J Vasc Surg 2010).
pub fn distal_new_entry(oversize_percent: f64, taper_percent: f64) -> Hazard {
    Hazard::base(HazardKind::DistalNewEntry, 0.034, "dissection treated with a graft (Dong 2010)")
        .times(
            ops::exp((oversize_percent - 60.0).clamp(-60.0, 150.0) * 0.0214),
            "oversizing against the true lumen",
        )
        .times(
            ops::exp((taper_percent - 28.0).clamp(-28.0, 60.0) * 0.03),
            "taper from neck to true lumen (spread assumed)",
        )
        .capped(0.5)
}

/// How a tip meets what is before it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TipLoad {
    /// Force on it, N.
    pub force_n: f64,
    /// Radius of its rounding, mm: half a wire's diameter for a straight tip, the curl's radius for a J.
    pub blunt_mm: f64,
    /// The wall is dissected, ulcerated or ruptured there.
    pub diseased: bool,
    /// A stiff shaft stands right behind it.
    pub stiff: bool,
}

/// Perforation by a tip; 50 % at 4 N on a straight tip of 0.45 mm (assumed: no bench value for human aorta is used).
pub fn perforation(tip: &TipLoad) -> Hazard {
    // Pressure under the tip decides: force over a patch that grows with the curl.
    let force = tip.force_n / (tip.blunt_mm / 0.45).clamp(1.0, 6.0);
    Hazard::base(
        HazardKind::Perforation,
        through(force, (1.0, 0.005), (4.0, 0.5)).max(1e-5),
        "tip load (assumed)",
    )
    .times_if(tip.diseased, 4.0, "diseased wall (assumed)")
    .times_if(tip.stiff, 2.0, "stiff shaft behind the tip (assumed)")
    .capped(0.7)
}

/// A tip on the valve, or through it in the ventricle.
pub fn valve(tip: &TipLoad, in_ventricle: bool) -> Hazard {
    let force = tip.force_n / (tip.blunt_mm / 0.45).clamp(1.0, 6.0);
    if in_ventricle {
        return Hazard::base(
            HazardKind::VentriclePerforation,
            through(force, (0.5, 0.01), (3.0, 0.5)).max(1e-4),
            "tip load in the ventricle (assumed)",
        )
        .times_if(tip.stiff, 3.0, "stiff shaft behind the tip (assumed)")
        .capped(0.7);
    }
    Hazard::base(
        HazardKind::ValveInjury,
        through(force, (0.5, 0.003), (3.0, 0.3)).max(1e-5),
        "tip load on the valve (assumed)",
    )
    .times_if(tip.stiff, 3.0, "stiff shaft behind the tip (assumed)")
    .capped(0.6)
}

/// Slipping of a placed graft, over the following year: the stream's drag against what holds it.
///
/// Drag and grip come from [`super::forces`]; a wedge of 5 mm or more under the edge adds 8 points of late leak or slipping in
/// a meta-analysis (Marrocco-Trischitta et al.), which is odds of about 2 on a base of 6 %.
pub fn migration(drag_n: f64, grip_n: f64, beak_mm: f64) -> Hazard {
    let ratio = drag_n / grip_n.max(0.1);
    Hazard::base(
        HazardKind::Migration,
        through(ratio, (0.5, 0.02), (1.5, 0.5)).clamp(1e-4, 0.9),
        "drag over grip (assumed curve)",
    )
    .times_if(beak_mm >= 5.0, 2.0, "wedge of 5 mm or more under the edge (Marrocco-Trischitta)")
    .capped(0.9)
}
