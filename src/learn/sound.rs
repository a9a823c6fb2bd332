//! Does a capture look like one of a sound engine?

use crate::analysis::Analysis;
use crate::crank::Condition;
use crate::edges::SignalFault;
use crate::units::CrankDelta;
use crate::verdict::{Kind, SURE, State};

/// Sound banks differ in compression by a few hundredths; a bank this much lower is a fault (three
/// standard deviations of 2 %, the verdict's figure for sound banks).
const BANK_DOWN: f64 = 0.06;
/// With at least these odds that the engine is not in time, it is not learned from, though the
/// verdict itself may not be sure.
const DOUBT: f64 = 0.5;
/// A sound cam, held by a chain in order and a locked phaser, scatters less than this from cycle to
/// cycle (measured on the recordings: 0.05 to 0.3).
const MOST_SCATTER: CrankDelta = CrankDelta(1.5);

/// What speaks against learning from a capture; `None` when nothing does.
pub(super) fn fault(analysis: &Analysis) -> Option<String> {
    crank(analysis)
        .or_else(|| condition(analysis))
        .or_else(|| signals(analysis))
        .or_else(|| verdict(analysis))
        .or_else(|| deviations(analysis))
        .or_else(|| relations(analysis))
        .or_else(|| compression(analysis))
}

fn crank(analysis: &Analysis) -> Option<String> {
    (analysis.crank.confidence < SURE)
        .then(|| "the crank wheel's teeth could not be counted beyond doubt".to_owned())
}

fn condition(analysis: &Analysis) -> Option<String> {
    let phasers =
        analysis.cams.iter().any(|c| analysis.engine.cams[c.measured.cam].phaser.is_some());
    (analysis.crank.condition != Condition::Cranking && phasers).then(|| {
        "the engine runs by itself, so its phasers may stand anywhere; capture it cranking"
            .to_owned()
    })
}

fn signals(analysis: &Analysis) -> Option<String> {
    for cam in &analysis.cams {
        let name = &analysis.engine.cams[cam.measured.cam].name;
        if let Some(sd) = cam.measured.cycle_sd.filter(|sd| *sd > MOST_SCATTER) {
            return Some(format!("\"{name}\" wanders by {:.1}° from cycle to cycle", sd.0));
        }
        if cam.measured.cycles.len() < 2 {
            return Some(format!("\"{name}\" was seen in fewer than two cycles"));
        }
    }
    let dead = analysis.leads.iter().find(|lead| lead.faults.contains(&SignalFault::Dead));
    dead.map(|lead| format!("the lead \"{}\" shows no signal", lead.name))
}

fn verdict(analysis: &Analysis) -> Option<String> {
    let verdict = &analysis.verdict;
    match verdict.state {
        State::DoesNotFit => {
            Some("what was measured does not fit the description of the engine".to_owned())
        }
        State::Jumped | State::DriveDue | State::OffNotJumped => Some(match verdict.furthest() {
            Some(one) => {
                let cam = &analysis.engine.cams[one.cam].name;
                format!("it is not in time: \"{cam}\" stands {}", one.deviation)
            }
            None => "it is not in time".to_owned(),
        }),
        State::InTime => None,
        State::CannotTell => {
            // Without any place to hold the cams against the odds are prior odds, and say nothing.
            let judged = analysis.cams.iter().any(|cam| cam.expected.is_some());
            let first = verdict.explanations.first()?;
            let off = first.kind != Kind::InTime && first.probability > DOUBT;
            (judged && off).then(|| "most likely it is not in time".to_owned())
        }
    }
}

fn deviations(analysis: &Analysis) -> Option<String> {
    analysis.cams.iter().find_map(|cam| {
        let described = &analysis.engine.cams[cam.measured.cam];
        let off = cam.deviation()?;
        let sure = off.0.abs() - cam.measured.half_width95.0;
        (sure > described.tolerance.0).then(|| format!("\"{}\" stands {off}", described.name))
    })
}

fn relations(analysis: &Analysis) -> Option<String> {
    analysis.bank_differences.iter().find_map(|pair| {
        let (first, second) =
            (&analysis.engine.cams[pair.cams.0], &analysis.engine.cams[pair.cams.1]);
        let allowed = first.tolerance.0.max(second.tolerance.0);
        (pair.difference.0.abs() - pair.half_width95.0 > allowed).then(|| {
            format!(
                "\"{}\" against \"{}\" is {}, beyond the tolerance of {allowed:.1}°",
                first.name, second.name, pair.difference
            )
        })
    })
}

fn compression(analysis: &Analysis) -> Option<String> {
    let measured = analysis.compression.measured.as_ref()?;
    let difference = measured.bank_difference.as_ref()?;
    (difference.stands_out && difference.relative < -BANK_DOWN).then(|| {
        let which = difference.bank.map_or("one bank".to_owned(), |bank| format!("bank {bank}"));
        format!("{which} is {:.0} % down in compression", -100.0 * difference.relative)
    })
}
