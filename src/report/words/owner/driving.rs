//! May it be driven; and why a new sensor would not mend it.

use super::kinds::drive;
use crate::analysis::Analysis;
use crate::leads::Role;
use crate::verdict::{Cranking, Kind, State};

/// Whether the vehicle may be driven, as far as this measurement says.
#[must_use]
pub fn driving(analysis: &Analysis) -> String {
    let verdict = &analysis.verdict;
    let meets = match analysis.engine.interference {
        Some(false) => {
            " By its description valves and pistons of this engine cannot meet; it may still stop at any moment."
        }
        _ => "",
    };
    match (verdict.state, verdict.cranking) {
        (State::Jumped | State::DriveDue, _) => {
            format!("No. Do not start it; have it towed.{meets}")
        }
        (State::InTime, _) if verdict.covers_every_cam => {
            "Nothing measured here speaks against it. Whatever else brought it in may.".into()
        }
        (State::InTime, _) => {
            "Nothing measured here speaks against it; what was not measured may.".into()
        }
        (_, Cranking::NotAgain) => format!(
            "No. A jumped {} is likely enough not to start it again; have it towed.{meets}",
            drive(analysis, None).0
        ),
        (_, Cranking::ByHandFirst) => format!(
            "Not before it was looked at: a jumped {} is not ruled out. If it has to be moved, have it towed.{meets}",
            drive(analysis, None).0
        ),
        (State::OffNotJumped, Cranking::Free) => {
            "Not before the cause was looked at. Something is out of place.".into()
        }
        (State::DoesNotFit | State::CannotTell, Cranking::Free) => {
            "This measurement does not say.".into()
        }
    }
}

/// Why a new sensor would not mend it; `None` where it might, or where nothing is out of place.
#[must_use]
pub fn sensor(analysis: &Analysis) -> Option<String> {
    let verdict = &analysis.verdict;
    let out_of_place = match verdict.state {
        State::Jumped | State::DriveDue => true,
        State::OffNotJumped => verdict.explanations.first().is_some_and(|one| {
            matches!(
                one.kind,
                Kind::PhaserOffRest | Kind::CamWheelMoved | Kind::CrankReferenceMoved | Kind::Wear
            )
        }),
        State::InTime | State::DoesNotFit | State::CannotTell => false,
    };
    let mut read =
        analysis.leads.iter().filter(|lead| matches!(lead.role, Role::Crank | Role::Cam(_)));
    let clean = read.all(|lead| lead.faults.is_empty());
    (out_of_place && clean).then(|| {
        "No: the sensors that were measured give sound signals and show where the wheels stand. A new one would show the same."
            .into()
    })
}
