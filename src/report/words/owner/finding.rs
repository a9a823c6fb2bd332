//! The finding in the owner's words, and how sure it is.

use std::collections::BTreeSet;

use super::kinds::{camshaft, drive, likeliest, likeliest_two, odds};
use super::measured::without_cams;
use crate::analysis::Analysis;
use crate::cam::CamResult;
use crate::report::words::{either_way, small, teeth_count};
use crate::verdict::{Open, SURE, State};

/// The finding in one sentence.
#[must_use]
pub fn finding(analysis: &Analysis) -> String {
    let verdict = &analysis.verdict;
    match verdict.state {
        State::InTime => in_time(analysis),
        State::Jumped if verdict.place_is_open() => jumped_somewhere(analysis) + leads_first(analysis),
        State::Jumped => jumped(analysis) + leads_first(analysis),
        State::DriveDue => {
            let (drive, has) = drive(analysis, verdict.chain.as_ref());
            format!(
                "The {drive} {has} very likely either jumped or worn too far. Which of the two is not settled; the same covers \
                 come off for either."
            )
        }
        State::OffNotJumped => format!(
            "Something is out of place, and it is very likely not a jumped {}. {}{}",
            drive(analysis, None).0,
            likeliest(analysis),
            leads_first(analysis)
        ),
        State::DoesNotFit => "What was measured does not fit the description of this engine. Very likely the description or a \
                              test lead is wrong, so nothing can be said of the timing yet."
            .into(),
        State::CannotTell if without_cams(analysis) => {
            "This measurement was not about the engine's timing: no camshaft sensor was part of it."
                .into()
        }
        State::CannotTell if matches!(verdict.open, Some(Open::Contradiction(_))) => {
            "Two things that were measured contradict each other, so this measurement cannot tell whether the engine's timing has \
             jumped."
                .into()
        }
        State::CannotTell => {
            "This measurement cannot tell whether the engine's timing has jumped.".into()
        }
    }
}

fn in_time(analysis: &Analysis) -> String {
    let names: Vec<&str> =
        analysis.unmeasured.iter().map(|&cam| analysis.engine.cams[cam].name.as_str()).collect();
    if names.is_empty() {
        format!(
            "Every camshaft stands where it should. The timing has very likely not jumped.{}",
            unconfirmed(analysis)
        )
    } else {
        format!(
            "Every camshaft that was measured stands where it should. Not measured: {}.{}",
            names.join(", "),
            unconfirmed(analysis)
        )
    }
}

/// That the places it was held against were never borne out.
fn unconfirmed(analysis: &Analysis) -> &'static str {
    if analysis.verdict.never_confirmed().is_empty() {
        ""
    } else {
        " Where they should stand was never confirmed on a sound engine of this type."
    }
}

/// That which camshaft it is hangs on two test leads that look alike.
fn leads_first(analysis: &Analysis) -> &'static str {
    if either_way(&analysis.engine, &analysis.verdict).is_empty() {
        ""
    } else {
        " Which camshaft it is hangs on two test leads that look alike to this measurement; they have to be followed to their \
         sensors first."
    }
}

fn jumped(analysis: &Analysis) -> String {
    let verdict = &analysis.verdict;
    let (drive, has) = drive(analysis, verdict.chain.as_ref());
    let by = verdict.teeth.map_or_else(String::new, |teeth| format!(" by {}", teeth_count(teeth)));
    let stand: Vec<String> = verdict
        .moves
        .iter()
        .map(|name| {
            let cam = analysis.engine.cam_index(name);
            let result = analysis.cams.iter().find(|result| Some(result.measured.cam) == cam);
            match result.and_then(CamResult::deviation) {
                Some(deviation) => format!("{} stands {deviation}", camshaft(name)),
                None => format!("{} is moved with it but was not measured", camshaft(name)),
            }
        })
        .collect();
    let stand = if stand.is_empty() { String::new() } else { format!(": {}", stand.join("; ")) };
    format!("The {drive} {has} very likely jumped{by}{stand}.")
}

/// It has jumped, and where or how far is open.
fn jumped_somewhere(analysis: &Analysis) -> String {
    let verdict = &analysis.verdict;
    let (drive, has) = drive(analysis, verdict.chain.as_ref());
    let banks: Vec<String> = banks_in_question(analysis).iter().map(u32::to_string).collect();
    let where_ = match banks.as_slice() {
        [] | [_] => String::new(),
        several => format!(" It is at bank {}, which is not settled.", several.join(" or bank ")),
    };
    format!("The {drive} {has} very likely jumped; where or how far is not settled.{where_}")
}

/// The banks of the cams that the listed places move, in order.
fn banks_in_question(analysis: &Analysis) -> BTreeSet<u32> {
    let engine = &analysis.engine;
    let moves = analysis.verdict.places.iter().flat_map(|place| &place.moves);
    moves.filter_map(|name| Some(engine.cams[engine.cam_index(name)?].bank)).collect()
}

/// What a finding's odds are called: the number itself rests on what page two lists.
const OVER: &str = "Over 99 % under the assumptions listed on page two";

/// How sure the finding is, and of what.
#[must_use]
pub fn how_sure(analysis: &Analysis) -> String {
    let verdict = &analysis.verdict;
    match verdict.state {
        State::CannotTell if without_cams(analysis) => "Of the timing nothing can be said.".into(),
        State::CannotTell if analysis.cams.is_empty() => {
            "No camshaft sensor could be read, so nothing can be said of the timing.".into()
        }
        // The odds alone would do, but what was measured would not show every fault, or one reading
        // contradicts.
        State::CannotTell if verdict.probability >= SURE => {
            "Not sure enough. What was measured leaves a fault possible; what is missing is named under “Proposed next”."
                .into()
        }
        State::Jumped if verdict.place_is_open() => format!(
            "That it jumped: {}. Not sure enough where or how far: a place is stated only from odds of 99 %. {}",
            small(OVER),
            likeliest_two(analysis)
        ),
        State::CannotTell => format!(
            "Not sure enough: a finding is stated only from odds of 99 %. {}",
            likeliest_two(analysis)
        ),
        State::OffNotJumped => {
            let leading = verdict.explanations.first().map_or(0.0, |one| one.probability);
            let cause = if leading < SURE { " Less sure of the cause." } else { "" };
            format!(
                "That something is out of place and no {} has jumped: {}.{cause} {}",
                drive(analysis, None).0,
                small(OVER),
                likeliest_two(analysis)
            )
        }
        State::DoesNotFit => format!(
            "With odds of {} the description or a test lead is wrong. {}",
            odds(verdict.probability),
            likeliest_two(analysis)
        ),
        State::InTime | State::Jumped | State::DriveDue => format!("{OVER}."),
    }
}
