//! From measurements to what probably happened, with odds.
//!
//! [`weigh`] lists everything that could have happened to this engine, asks of each how well it
//! predicts all readings together, adds the prior odds of the trade and says what
//! stands out. It never says more than the odds: below 0.99 the answer is
//! [`State::CannotTell`] and the one measurement that would settle it.

pub mod cautions;
pub mod codes;
mod decide;
mod density;
mod deviations;
mod evidence;
mod health;
mod hypotheses;
mod likelihood;
mod matrix;
mod next_test;
mod readings;
mod unobservable;
mod words;

use serde::Serialize;

pub use codes::CodeAnswer;
pub use decide::weigh;
pub use evidence::{CompressionEvidence, CrankFacts, Evidence, SwappedFit, TdcEvidence};
pub use hypotheses::priors;
pub use readings::errors;
pub(crate) use words::{capital, list, varying};

/// Odds at which a finding is stated: 99 in 100.
pub const SURE: f64 = 0.99;

/// What is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Every cam stands within tolerance.
    InTime,
    /// A chain has skipped; place and teeth are known.
    Jumped,
    /// Something is off, and it is not a skipped chain.
    OffNotJumped,
    /// The odds reach none of the above.
    CannotTell,
}

impl State {
    /// Every state.
    pub const ALL: [State; 4] =
        [State::InTime, State::Jumped, State::OffNotJumped, State::CannotTell];

    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            State::InTime => "in_time",
            State::Jumped => "jumped",
            State::OffNotJumped => "off_not_jumped",
            State::CannotTell => "cannot_tell",
        }
    }
}

/// Kind of explanation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// All cams within tolerance.
    InTime,
    /// A chain, belt or gear skipped teeth.
    Skip,
    /// A chain or a strand of it is worn past tolerance.
    Wear,
    /// A phaser stands away from its rest stop.
    PhaserOffRest,
    /// The crank's wheel, key or TDC figure is off.
    CrankReferenceMoved,
    /// A cam's wheel slipped or is the wrong part.
    CamWheelMoved,
    /// One tooth of a cam's wheel is damaged.
    DamagedTooth,
    /// Two leads are exchanged.
    LeadsCrossed,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Kind; 8] = [
        Kind::InTime,
        Kind::Skip,
        Kind::Wear,
        Kind::PhaserOffRest,
        Kind::CrankReferenceMoved,
        Kind::CamWheelMoved,
        Kind::DamagedTooth,
        Kind::LeadsCrossed,
    ];

    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Kind::InTime => "in_time",
            Kind::Skip => "skip",
            Kind::Wear => "wear",
            Kind::PhaserOffRest => "phaser_off_rest",
            Kind::CrankReferenceMoved => "crank_reference_moved",
            Kind::CamWheelMoved => "cam_wheel_moved",
            Kind::DamagedTooth => "damaged_tooth",
            Kind::LeadsCrossed => "leads_crossed",
        }
    }
}

/// One explanation and its odds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Weighed {
    /// What it is in a few words: "a skip of the primary chain at B1 intake, 1 tooth late".
    #[serde(skip)]
    pub name: String,
    /// What kind.
    pub kind: Kind,
    /// The shaft (skip) or cam concerned.
    pub on: Option<String>,
    /// Name of the chain concerned.
    pub chain: Option<String>,
    /// Teeth skipped, positive late.
    pub teeth: Option<i32>,
    /// Names of the cams displaced.
    pub moves: Vec<String>,
    /// Its probability; all explanations together make 1.
    pub probability: f64,
    /// The number that speaks for or against it, one line.
    pub why: String,
    /// What most likely comes along with it; `why` says it in words.
    #[serde(skip)]
    pub beside: Option<Beside>,
}

/// A second fault beside the one of an explanation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Beside {
    /// What kind.
    pub kind: Kind,
    /// Names of the cams concerned; empty when it is none or all that a chain drives.
    pub cams: Vec<String>,
}

/// Something the user should hear.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Notice {
    /// Lead, cam or subject.
    pub about: String,
    /// One or two sentences.
    pub text: String,
}

/// The verdict.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verdict {
    /// What is found.
    pub state: State,
    /// Probability of that finding; of the leading explanation for `cannot_tell`.
    pub probability: f64,
    /// Teeth skipped when `jumped`, positive late.
    pub teeth: Option<i32>,
    /// The shaft or cam concerned, of a finding.
    pub on: Option<String>,
    /// The chain concerned, of a finding.
    pub chain: Option<String>,
    /// Cams displaced, of a finding.
    pub moves: Vec<String>,
    /// The finding in a few short sentences.
    pub sentence: String,
    /// Probability that a chain skipped, wherever and however far: every such explanation together.
    #[serde(skip)]
    pub skipped: f64,
    /// Every explanation, likeliest first.
    pub explanations: Vec<Weighed>,
    /// The one measurement that would separate the leading two.
    pub next_test: Option<String>,
    /// What was said of each stored code; printed beside the verdict, not in it.
    #[serde(skip)]
    pub codes: Vec<CodeAnswer>,
    /// What holds the verdict back or is not covered by it.
    #[serde(skip)]
    pub warnings: Vec<Notice>,
}

#[cfg(test)]
mod tests;
