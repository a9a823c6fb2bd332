//! What the finding means for the owner, and what is proposed.

use super::kinds::second_fault;
use super::stages::worth_a_look;
use crate::analysis::Analysis;
use crate::report::words::{caution, next as next_words};
use crate::verdict::{Caution, State};

/// What the finding means for the owner.
#[must_use]
pub fn meaning(analysis: &Analysis) -> String {
    match analysis.verdict.state {
        State::InTime if !analysis.verdict.covers_every_cam => "What was recorded is where it should be. Of the camshafts that \
                          were not recorded this says nothing more."
            .into(),
        State::InTime => "The trouble very likely comes from somewhere else. This does not say that the rest of the \
                          engine is sound."
            .into(),
        State::Jumped => format!(
            "Valves very likely no longer open and close at the right moment. On many engines valves and pistons can then meet, so \
             the engine should not be started.{}{}",
            compression_agrees(analysis),
            second_fault(analysis)
        ),
        State::DriveDue => format!(
            "If it jumped, valves no longer open and close at the right moment, and on many engines valves and pistons can then \
             meet: the engine should not be started.{}",
            second_fault(analysis)
        ),
        State::OffNotJumped => format!(
            "The readings do not look like a chain that jumped. The cause named above should be checked before a larger \
             job is agreed.{}",
            second_fault(analysis)
        ),
        State::DoesNotFit | State::CannotTell => "No large repair should be agreed on this measurement alone, and the engine should not be \
                              called sound on it either."
            .into(),
    }
}

/// That the low bank is the one with the late cam, where it is.
fn compression_agrees(analysis: &Analysis) -> String {
    let difference = analysis.compression.measured.as_ref().and_then(|m| m.bank_difference);
    let low = difference.and_then(|difference| difference.low_bank);
    let banks = analysis.verdict.moves.iter().filter_map(|name| {
        analysis.engine.cam_index(name).map(|cam| analysis.engine.cams[cam].bank)
    });
    match low {
        Some(low) if banks.clone().all(|bank| bank == low) && banks.count() > 0 => {
            format!(" Bank {low} also has less compression than the other, which agrees.")
        }
        _ => String::new(),
    }
}

/// The one proposal. Where it is to be agreed in stages, that is the first of them; a further
/// measurement is then the technician's business.
#[must_use]
pub fn next(analysis: &Analysis) -> String {
    let verdict = &analysis.verdict;
    let test = next_words(&analysis.engine, verdict).unwrap_or_default();
    match verdict.state {
        State::Jumped | State::DriveDue => {
            "Agree to stage 1 below, and to no repair before its result is known.".into()
        }
        State::InTime if test.is_empty() => "Look for the cause elsewhere.".into(),
        State::InTime => format!("What was not recorded is not covered: {test}"),
        State::CannotTell if worth_a_look(analysis) && !test.is_empty() => {
            format!("{test} If that is not wanted, stage 1 below.")
        }
        State::CannotTell if worth_a_look(analysis) => "Agree to stage 1 below.".into(),
        State::OffNotJumped | State::DoesNotFit | State::CannotTell if test.is_empty() => {
            "Measure again with every sensor connected.".into()
        }
        State::OffNotJumped | State::DoesNotFit | State::CannotTell => test,
    }
}

/// What to mind, whatever the finding means.
#[must_use]
pub fn note(state: State) -> String {
    let cautions: Vec<&str> = Caution::of_finding(state).iter().map(|&one| caution(one)).collect();
    cautions.join(" ")
}
