//! From measurements to what probably happened, with odds.
//!
//! [`weigh`] lists everything that could have happened to this engine, asks of each how well it
//! predicts all readings together, adds the prior odds of the trade and says what
//! stands out. It never says more than the odds: below 0.99 the answer is
//! [`State::CannotTell`] and the one measurement that would settle it.

mod banks;
mod caution;
mod caveat;
pub mod codes;
mod compression;
mod contradiction;
mod controller;
mod coverage;
mod cranking;
mod cylinders;
mod decide;
mod density;
mod deviations;
mod evidence;
mod explanation;
mod factored;
mod finding;
mod health;
mod hypotheses;
mod kind;
mod likelihood;
mod mistake;
mod next_test;
mod open;
mod questions;
mod readings;
mod rule;
mod unobservable;
mod weighing;

pub use caution::Caution;
pub use caveat::Caveat;
pub use codes::{CodeAnswer, CodeReason};
pub use compression::{Agreement, CompressionEvidence, CompressionJudgement};
pub use contradiction::Contradiction;
pub use controller::{ControllerError, ControllerReading, read_controller};
pub use cranking::Cranking;
pub use cylinders::{CompressionFinding, CompressionState, WhyWithheld, judge_cylinders};
pub use decide::weigh;
pub use deviations::CamDeviation;
pub use evidence::{CrankFacts, Evidence, TdcEvidence, ValveEvidence};
pub use explanation::{PhaserSaid, Reason, SkipShift, Weighed};
pub use finding::Verdict;
pub use hypotheses::{SecondFault, priors};
pub use kind::{Kind, SURE, State};
pub use mistake::Mistake;
pub use next_test::Test;
pub use open::{Open, Unobservable};
pub use questions::{Place, Questions};
pub use readings::errors;

#[cfg(test)]
mod tests;
