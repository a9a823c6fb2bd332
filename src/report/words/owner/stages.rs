//! An authorisation in stages, where more than one repair may follow.

use super::kinds::drive;
use crate::analysis::Analysis;
use crate::report::job::Job;
use crate::verdict::{SURE, State};

/// From these odds on that the drive is due, taking covers off to look is worth agreeing to (one
/// time in ten the marks are right); below, another measurement comes first. Judgement, no source.
const WORTH_A_LOOK: f64 = 0.9;

/// Whether taking the covers off is worth agreeing to.
pub(super) fn worth_a_look(analysis: &Analysis) -> bool {
    let verdict = &analysis.verdict;
    let asked = &verdict.questions;
    let likely = |odds: f64| (WORTH_A_LOOK..SURE).contains(&odds);
    match verdict.state {
        State::Jumped | State::DriveDue => true,
        State::CannotTell if verdict.rests_on_assumption() => false,
        State::CannotTell => likely(asked.skipped) || likely(asked.drive_due),
        State::InTime | State::OffNotJumped | State::DoesNotFit => false,
    }
}

/// What the owner is asked to agree to, stage by stage: where the drive jumped or is due, or where
/// the odds of that are high and not high enough. `None` otherwise. Hours and parts are those of
/// the job.
#[must_use]
pub fn stages(analysis: &Analysis, job: &Job) -> Option<Vec<String>> {
    if !worth_a_look(analysis) {
        return None;
    }
    let verdict = &analysis.verdict;
    let name = drive(analysis, verdict.chain.as_ref()).0;
    let parts = match job.parts.as_slice() {
        [] => String::new(),
        parts => format!(" Parts: {}.", parts.join(", ")),
    };
    Some(vec![
        format!(
            "Stage 1: take the covers off, bring the engine to its marks by the maker’s procedure and photograph them.{} Stop \
             there if the marks are right: the {name} then has not jumped, and the search goes on at the sensors, their wheels and \
             the description of this engine.",
            hours(job.hours.covers)
        ),
        format!(
            "Stage 2, only if the marks are off or the {name} is worn: the repair, and the same measurement again.{}{parts}",
            hours(job.hours.repair)
        ),
    ])
}

/// " 3.4 hours of labour."; nothing where they were not reckoned.
fn hours(hours: Option<f64>) -> String {
    match hours {
        Some(1.0) => " 1 hour of labour.".into(),
        Some(hours) => format!(" {hours} hours of labour."),
        None => String::new(),
    }
}
