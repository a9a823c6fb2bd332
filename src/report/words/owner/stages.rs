//! An authorisation in stages, where more than one repair may follow.

use super::kinds::drive;
use crate::analysis::Analysis;
use crate::verdict::{SURE, State};

/// From these odds on that the drive is due, taking covers off to look is worth agreeing to (one
/// time in ten the marks are right); below, another measurement comes first. Judgement, no source.
const WORTH_A_LOOK: f64 = 0.9;

/// What the owner is asked to agree to, stage by stage: where a jump is sure and its place is open,
/// where jump or wear is open, or where the odds are high and not high enough. `None` otherwise.
#[must_use]
pub fn stages(analysis: &Analysis) -> Option<String> {
    let verdict = &analysis.verdict;
    let asked = &verdict.questions;
    let likely = |odds: f64| (WORTH_A_LOOK..SURE).contains(&odds);
    let look = match verdict.state {
        State::Jumped => verdict.place_is_open(),
        State::DriveDue => true,
        State::CannotTell => likely(asked.skipped) || likely(asked.drive_due),
        State::InTime | State::OffNotJumped => false,
    };
    let name = drive(analysis, verdict.chain.as_ref()).0;
    look.then(|| {
        format!(
            "Stage 1: take the covers off, bring the engine to its marks by the maker’s procedure and photograph them. Stop \
             there if the marks are right: the {name} then has not jumped, the covers go back on, and the search goes on at \
             the sensors, their wheels and the description of this engine. Stage 2, only if the marks are off or the {name} \
             is worn: the repair, at the place the marks show."
        )
    })
}
