//! The vessels that this desk knows, by their anatomical names.

use serde::{Deserialize, Serialize};

/// One named vessel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the anatomical name")]
pub enum VesselName {
    /// From the valve to the bifurcation.
    Aorta,
    Innominate,
    RightCarotid,
    RightSubclavian,
    LeftCarotid,
    LeftSubclavian,
    RightVertebral,
    LeftVertebral,
    /// The paired intercostals and lumbars, as one group.
    Intercostals,
    Coeliac,
    Sma,
    RightRenal,
    LeftRenal,
    Ima,
    RightCommonIliac,
    LeftCommonIliac,
    RightInternalIliac,
    LeftInternalIliac,
    /// Runs on as the common femoral below the inguinal ligament.
    RightExternalIliac,
    /// Runs on as the common femoral below the inguinal ligament.
    LeftExternalIliac,
    /// The false channel of a dissected aorta.
    FalseLumen,
}

impl VesselName {
    /// Of the left leg's way from the aorta.
    pub fn is_left(self) -> bool {
        matches!(self, Self::LeftCommonIliac | Self::LeftInternalIliac | Self::LeftExternalIliac)
    }
    /// As said aloud.
    pub fn label(self) -> &'static str {
        match self {
            Self::Aorta => "aorta",
            Self::Innominate => "innominate artery",
            Self::RightCarotid => "right common carotid",
            Self::RightSubclavian => "right subclavian",
            Self::LeftCarotid => "left common carotid",
            Self::LeftSubclavian => "left subclavian",
            Self::RightVertebral => "right vertebral",
            Self::LeftVertebral => "left vertebral",
            Self::Intercostals => "intercostals",
            Self::Coeliac => "coeliac artery",
            Self::Sma => "superior mesenteric artery",
            Self::RightRenal => "right renal artery",
            Self::LeftRenal => "left renal artery",
            Self::Ima => "inferior mesenteric artery",
            Self::RightCommonIliac => "right common iliac",
            Self::LeftCommonIliac => "left common iliac",
            Self::RightInternalIliac => "right internal iliac",
            Self::LeftInternalIliac => "left internal iliac",
            Self::RightExternalIliac => "right external iliac",
            Self::LeftExternalIliac => "left external iliac",
            Self::FalseLumen => "false lumen",
        }
    }
}
