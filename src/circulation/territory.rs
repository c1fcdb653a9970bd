//! The beds: which territory each is, what it gets of the output, and how it answers nerves and pressure.

use super::network::RA;
use super::plumbing::node as n;

/// A bed: what lies between an artery and a vein.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "each variant is the territory's name")]
pub enum Bed {
    Heart,
    RightBrain,
    LeftBrain,
    PosteriorBrain,
    RightFace,
    LeftFace,
    RightArm,
    LeftArm,
    UpperChest,
    LowerChest,
    Loin,
    Cord,
    Liver,
    Gut,
    Colon,
    RightKidney,
    LeftKidney,
    RightPelvis,
    LeftPelvis,
    RightLeg,
    LeftLeg,
}

/// Number of beds.
pub const BEDS: usize = 21;

/// What is known of a bed at rest.
pub struct BedKind {
    /// Which.
    pub bed: Bed,
    /// The artery's node.
    pub artery: usize,
    /// The vein's node.
    pub vein: usize,
    /// Share of the cardiac output, %.
    pub share: f64,
    /// How far sympathetic vasoconstriction reaches it, 1 = a muscle's.
    pub sympathetic: f64,
    /// How well it holds its own flow against pressure: 0 not at all, 1 perfectly within its range.
    pub autoregulation: f64,
}

const fn bed(
    b: Bed,
    artery: usize,
    vein: usize,
    share: f64,
    sympathetic: f64,
    autoregulation: f64,
) -> BedKind {
    BedKind { bed: b, artery, vein, share, sympathetic, autoregulation }
}

/// Shares: National Academies (radon report, table A-1, after Williams and Leggett 1989) summed by artery; arms, face
/// and the two halves of the trunk are our own split of what remains. Reach of the sympathetics: assumed, in the order
/// skin and muscle > gut > kidney >> heart, brain, cord (Guyton and Hall). Autoregulation: assumed, brain and kidney
/// best (Paulson 1990), heart and cord next, muscle little.
pub const BED_KINDS: [BedKind; BEDS] = [
    bed(Bed::Heart, n::CORONARY, RA, 4.0, 0.0, 0.6),
    bed(Bed::RightBrain, n::R_BRAIN, n::SYSTEMIC, 4.6, 0.0, 0.85),
    bed(Bed::LeftBrain, n::L_BRAIN, n::SYSTEMIC, 4.6, 0.0, 0.85),
    bed(Bed::PosteriorBrain, n::BASILAR, n::SYSTEMIC, 2.8, 0.0, 0.85),
    bed(Bed::RightFace, n::R_CAROTID, n::SYSTEMIC, 1.8, 1.0, 0.0),
    bed(Bed::LeftFace, n::L_CAROTID, n::SYSTEMIC, 1.8, 1.0, 0.0),
    bed(Bed::RightArm, n::R_RADIAL, n::SYSTEMIC, 3.2, 1.0, 0.1),
    bed(Bed::LeftArm, n::L_RADIAL, n::SYSTEMIC, 3.2, 1.0, 0.1),
    bed(Bed::UpperChest, n::UPPER_INTERCOSTAL, n::SYSTEMIC, 4.0, 0.8, 0.1),
    bed(Bed::LowerChest, n::LOWER_INTERCOSTAL, n::SYSTEMIC, 3.0, 0.8, 0.1),
    bed(Bed::Loin, n::LUMBAR, n::SYSTEMIC, 2.2, 0.8, 0.1),
    bed(Bed::Cord, n::CORD, n::SYSTEMIC, 0.3, 0.0, 0.5),
    bed(Bed::Liver, n::COELIAC, n::SPLANCHNIC, 11.5, 0.9, 0.1),
    bed(Bed::Gut, n::SMA, n::SPLANCHNIC, 12.0, 0.9, 0.2),
    bed(Bed::Colon, n::IMA, n::SPLANCHNIC, 2.0, 0.9, 0.2),
    bed(Bed::RightKidney, n::R_RENAL, n::SYSTEMIC, 9.5, 0.7, 0.7),
    bed(Bed::LeftKidney, n::L_RENAL, n::SYSTEMIC, 9.5, 0.7, 0.7),
    bed(Bed::RightPelvis, n::R_HYPOGASTRIC, n::SYSTEMIC, 3.0, 1.0, 0.1),
    bed(Bed::LeftPelvis, n::L_HYPOGASTRIC, n::SYSTEMIC, 3.0, 1.0, 0.1),
    bed(Bed::RightLeg, n::R_FEMORAL, n::SYSTEMIC, 7.0, 1.0, 0.1),
    bed(Bed::LeftLeg, n::L_FEMORAL, n::SYSTEMIC, 7.0, 1.0, 0.1),
];
