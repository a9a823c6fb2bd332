//! From measurements to what probably happened, with odds.
//!
//! [`weigh`] lists everything that could have happened to this engine, asks of each how well it
//! predicts all readings together, adds the prior odds of the trade and says what
//! stands out. It never says more than the odds: below 0.99 the answer is
//! [`State::CannotTell`] and the one measurement that would settle it.

mod caution;
pub mod codes;
mod decide;
mod density;
mod deviations;
mod evidence;
mod explanation;
mod health;
mod hypotheses;
mod likelihood;
mod matrix;
mod next_test;
mod open;
mod readings;
mod unobservable;

use serde::Serialize;

pub use caution::Caution;
pub use codes::{CodeAnswer, CodeReason};
pub use decide::weigh;
pub use deviations::CamDeviation;
pub use evidence::{CompressionEvidence, CrankFacts, Evidence, SwappedFit, TdcEvidence};
pub use explanation::{Reason, SkipShift, Weighed};
pub use hypotheses::{SecondFault, priors};
pub use next_test::Test;
pub use open::{Open, Unobservable};
pub use readings::errors;

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

/// Something the user should hear.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Notice {
    /// Lead, cam or subject.
    pub about: String,
    /// One or two sentences.
    pub text: String,
}

/// The verdict.
#[derive(Debug, Clone, PartialEq)]
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
    /// Why nothing is found; present when `cannot_tell`.
    pub open: Option<Open>,
    /// Where every measured cam stands, as the finding takes it: leads that are exchanged put
    /// right, and counted from the pass of the crank mark that brings the cams closest.
    pub deviations: Vec<CamDeviation>,
    /// Probability that a chain skipped, wherever and however far: every such explanation together.
    pub skipped: f64,
    /// Every explanation, likeliest first.
    pub explanations: Vec<Weighed>,
    /// The one measurement that would separate the leading two.
    pub next_test: Option<Test>,
    /// What was said of each stored code; printed beside the verdict, not in it.
    pub codes: Vec<CodeAnswer>,
    /// What holds the verdict back or is not covered by it.
    pub warnings: Vec<Notice>,
}

impl Verdict {
    /// The cam furthest from its place, of those that were held against anything.
    #[must_use]
    pub fn furthest(&self) -> Option<&CamDeviation> {
        deviations::furthest(&self.deviations)
    }
}

#[cfg(test)]
mod tests;
