//! What orders choose among: what is briefed, scanned, measured, marked, and how an artery is found and closed.

use serde::{Deserialize, Serialize};

/// What a briefing covered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each name says it")]
pub enum BriefItem {
    Roles,
    PressurePlan,
    HeparinPlan,
    DeviceAndSize,
    WiresAndCatheters,
    Views,
    Blood,
    OcclusionBalloon,
    WhatIf,
    ContrastBudget,
}

impl BriefItem {
    /// All, in the usual order.
    pub const ALL: [Self; 10] = [
        Self::Roles,
        Self::PressurePlan,
        Self::HeparinPlan,
        Self::DeviceAndSize,
        Self::WiresAndCatheters,
        Self::Views,
        Self::Blood,
        Self::OcclusionBalloon,
        Self::WhatIf,
        Self::ContrastBudget,
    ];
}

/// How much of the patient a CT shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CtExtent {
    /// The chest only.
    Chest,
    /// Neck vessels to both femoral arteries.
    WholeAorta,
}

/// What a trainee measures on the CT.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Measured {
    /// Diameter of the aorta where the graft's upper end shall seal.
    ProximalDiameter,
    /// Diameter where its lower end shall seal.
    DistalDiameter,
    /// Healthy length above the lesion.
    ProximalLength,
    /// Healthy length below the lesion.
    DistalLength,
    /// Length of aorta to cover.
    TreatedLength,
    /// Least diameter of the right access vessels.
    RightAccess,
    /// Least diameter of the left access vessels.
    LeftAccess,
}

impl Measured {
    /// All, in order.
    pub const ALL: [Self; 7] = [
        Self::ProximalDiameter,
        Self::DistalDiameter,
        Self::ProximalLength,
        Self::DistalLength,
        Self::TreatedLength,
        Self::RightAccess,
        Self::LeftAccess,
    ];
    /// As a case writes it.
    pub fn id(self) -> &'static str {
        match self {
            Self::ProximalDiameter => "proximal_diameter",
            Self::DistalDiameter => "distal_diameter",
            Self::ProximalLength => "proximal_length",
            Self::DistalLength => "distal_length",
            Self::TreatedLength => "treated_length",
            Self::RightAccess => "right_access",
            Self::LeftAccess => "left_access",
        }
    }
}

/// The plane of a measurement.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Plane {
    /// At right angles to the centreline.
    #[default]
    Orthogonal,
    /// As the scanner cut it.
    Axial,
    /// On a run, calibrated by the bands of a marked catheter: what lies aslant to the view reads too short.
    Run,
    /// On the brightest values of a slab of the CT, a projection: what lies aslant to it reads too short.
    Projection,
}

/// How a puncture is guided.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Guide {
    /// By ultrasound, with closure sutures placed first.
    #[default]
    Ultrasound,
    /// By landmark.
    Landmark,
    /// Through an open exposure of the artery.
    CutDown,
}

/// A mark on the reference picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each name says it")]
pub enum Mark {
    LeftCarotid,
    LeftSubclavian,
    ProximalLanding,
    DistalLanding,
    Coeliac,
    LowestRenal,
    Lesion,
}

impl Mark {
    /// All, in order along the aorta.
    pub const ALL: [Self; 7] = [
        Self::LeftCarotid,
        Self::LeftSubclavian,
        Self::ProximalLanding,
        Self::Lesion,
        Self::DistalLanding,
        Self::Coeliac,
        Self::LowestRenal,
    ];
    /// As a case writes it.
    pub fn id(self) -> &'static str {
        match self {
            Self::LeftCarotid => "left_carotid",
            Self::LeftSubclavian => "left_subclavian",
            Self::ProximalLanding => "proximal_landing",
            Self::DistalLanding => "distal_landing",
            Self::Coeliac => "coeliac",
            Self::LowestRenal => "lowest_renal",
            Self::Lesion => "lesion",
        }
    }
}

/// How an access is closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Closure {
    /// The sutures placed before.
    Sutures,
    /// By hand.
    Pressure,
    /// Open repair.
    Surgical,
}
