//! The owner's half page: plain words, nothing that needs a training.

use maud::{Markup, html};

use super::plain::{camshaft, count, drive, likeliest, likeliest_two, odds, second_fault};
use super::{sign, title};
use crate::analysis::Analysis;
use crate::cam::CamResult;
use crate::crank::Condition;
use crate::units::CYCLE_DEG;
use crate::verdict::cautions::CAUTIONS;
use crate::verdict::{SURE, State, Verdict, list};

/// Writes the half page.
pub(super) fn part(analysis: &Analysis) -> Markup {
    let verdict = &analysis.verdict;
    let word = verdict.state.word();
    html! {
        section.owner aria-label="For the owner" {
            div.finding.(word) id="finding" data-state=(word) {
                span.sign aria-hidden="true" { (sign(verdict.state)) }
                div {
                    h2 { (title(verdict.state)) }
                    p { (finding(analysis)) }
                }
            }
            dl.plain {
                dt { "How sure" }
                dd { (how_sure(analysis)) }
                dt { "What was measured" }
                dd { (measured(analysis)) }
                dt { "What it means" }
                dd { (meaning(analysis)) }
                dt { "Proposed next" }
                dd { (next(verdict)) }
                dt { "Please note" }
                dd { (note(verdict.state)) }
            }
        }
    }
}

/// The finding in one sentence.
fn finding(analysis: &Analysis) -> String {
    let verdict = &analysis.verdict;
    match verdict.state {
        State::InTime => in_time(analysis),
        State::Jumped => jumped(analysis),
        State::OffNotJumped => format!(
            "Something is out of place, and it is very likely not a jumped {}. {}",
            drive(analysis, None).0,
            likeliest(analysis)
        ),
        State::CannotTell if without_cams(analysis) => {
            "This measurement was not about the engine's timing: no camshaft sensor was part of it."
                .into()
        }
        State::CannotTell if jumped_somewhere(verdict) => {
            let (drive, has) = drive(analysis, None);
            format!(
                "The {drive} {has} very likely jumped, but this measurement cannot tell where or how far."
            )
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
        "Every camshaft stands where it should. The timing has very likely not jumped.".into()
    } else {
        format!(
            "Every camshaft that was measured stands where it should. Not measured: {}.",
            names.join(", ")
        )
    }
}

fn jumped(analysis: &Analysis) -> String {
    let verdict = &analysis.verdict;
    let (drive, has) = drive(analysis, verdict.chain.as_ref());
    let by = verdict.teeth.map_or_else(String::new, |teeth| format!(" by {}", count(teeth)));
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

/// Whether a chain has very likely jumped though where or how far is open.
fn jumped_somewhere(verdict: &Verdict) -> bool {
    verdict.state == State::CannotTell && verdict.skipped >= SURE
}

/// Whether the engine was described without camshafts, to compare its cylinders alone.
fn without_cams(analysis: &Analysis) -> bool {
    analysis.engine.cams.is_empty()
}

fn how_sure(analysis: &Analysis) -> String {
    let verdict = &analysis.verdict;
    let sure = odds(verdict.probability);
    match verdict.state {
        State::CannotTell if without_cams(analysis) => "Of the timing nothing can be said.".into(),
        State::CannotTell if analysis.cams.is_empty() => {
            "No camshaft sensor could be read, so nothing can be said of the timing.".into()
        }
        // The odds alone would do, but what was measured would not show every fault, or one reading contradicts.
        State::CannotTell if verdict.probability >= SURE => {
            "Not sure enough. What was measured leaves a fault possible; what is missing is named under “Proposed next”."
                .into()
        }
        State::CannotTell if jumped_somewhere(verdict) => format!(
            "Very sure that it jumped: {}. Not sure enough where or how far: a place is stated only from odds of 99 %. {}",
            odds(verdict.skipped),
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
                "Very sure that something is out of place and no {} has jumped: {sure}.{cause} {}",
                drive(analysis, None).0,
                likeliest_two(analysis)
            )
        }
        _ => format!("Very sure: {sure} that this finding is right, by this measurement."),
    }
}

fn measured(analysis: &Analysis) -> String {
    let cams = match analysis.cams.len() {
        0 if !without_cams(analysis) => return no_cam(analysis),
        1 => "one camshaft sensor".into(),
        several => format!("{several} camshaft sensors"),
    };
    let doing = match analysis.crank.condition {
        Condition::Cranking => "while the starter turned the engine",
        Condition::Running => "while the engine ran",
        Condition::Mixed => "while the engine was started and ran",
    };
    let turns = match analysis.cycles {
        1 => "1 whole engine cycle".to_owned(),
        cycles => format!("{cycles} whole engine cycles"),
    };
    let compression = if analysis.compression.measured.is_some() {
        " The compression of the cylinders was compared as well."
    } else {
        ""
    };
    let modulo = if analysis.known_modulo.0 < CYCLE_DEG {
        " Some positions look alike to the sensors that were connected."
    } else {
        ""
    };
    let unknown = nowhere(analysis);
    if without_cams(analysis) {
        return format!(
            "The crankshaft sensor, recorded {doing}, over {turns}.{compression} The engine was not taken apart."
        );
    }
    format!(
        "The crankshaft sensor and {cams}, recorded {doing}, over {turns}. From the signals it was worked out where \
         each camshaft stands, and that was held against where it should stand. The engine was not taken apart.\
         {compression}{modulo}{unknown}"
    )
}

/// The camshafts that could not be held against anything.
fn nowhere(analysis: &Analysis) -> String {
    let names: Vec<&str> = analysis
        .cams
        .iter()
        .filter(|cam| cam.deviation().is_none())
        .map(|cam| analysis.engine.cams[cam.measured.cam].name.as_str())
        .collect();
    match names.as_slice() {
        [] => String::new(),
        names => format!(" Where it should stand is not known for {}.", list(names)),
    }
}

/// What was measured where no camshaft could be read.
fn no_cam(analysis: &Analysis) -> String {
    let compared = if analysis.compression.measured.is_some() {
        " The compression of the cylinders was compared with one another."
    } else {
        ""
    };
    format!(
        "The crankshaft sensor, but no camshaft sensor that could be read.{compared} The engine was not taken apart."
    )
}

fn meaning(analysis: &Analysis) -> String {
    match analysis.verdict.state {
        State::InTime => "The trouble very likely comes from somewhere else. This does not say that the rest of the \
                          engine is sound."
            .into(),
        State::Jumped => format!(
            "Valves very likely no longer open and close at the right moment. On many engines valves and pistons can then meet, so \
             the engine should not be started.{}{}",
            compression_agrees(analysis),
            second_fault(analysis)
        ),
        State::OffNotJumped => format!(
            "The readings do not look like a chain that jumped. The cause named above should be checked before a larger \
             job is agreed.{}",
            second_fault(analysis)
        ),
        State::CannotTell if jumped_somewhere(&analysis.verdict) => format!(
            "Valves very likely no longer open and close at the right moment. On many engines valves and pistons can then \
             meet, so the engine should not be started. Where it jumped has to be found before a repair is agreed.{}",
            second_fault(analysis)
        ),
        State::CannotTell => "No large repair should be agreed on this measurement alone, and the engine should not be \
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

fn next(verdict: &Verdict) -> String {
    let test = verdict.next_test.as_deref().unwrap_or("");
    match verdict.state {
        State::Jumped => format!(
            "Do not start the engine. Before the repair is ordered, confirm at the timing marks by the maker's procedure and \
             find out why it jumped. After the repair, measure again in the same way. {}",
            if test.is_empty() {
                String::new()
            } else {
                format!("One more measurement that could bear it out or overturn it: {test}")
            }
        ),
        State::InTime => {
            if test.is_empty() {
                "Look for the cause elsewhere.".into()
            } else {
                format!("Look for the cause elsewhere. If doubt remains: {test}")
            }
        }
        State::CannotTell if jumped_somewhere(verdict) => {
            format!("Do not start the engine. {test}").trim().to_owned()
        }
        State::OffNotJumped | State::CannotTell => {
            if test.is_empty() {
                "Measure again with every sensor connected.".into()
            } else {
                test.to_owned()
            }
        }
    }
}

fn note(state: State) -> Markup {
    let last = CAUTIONS[CAUTIONS.len() - 1];
    html! {
        @if state != State::InTime { (CAUTIONS[0]) " " }
        (last)
    }
}
