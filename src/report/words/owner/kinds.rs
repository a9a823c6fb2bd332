//! Kinds of fault in the owner's words.

use crate::analysis::Analysis;
use crate::engine::ChainKind;
use crate::report::words::{list, percent, skipped_by};
use crate::verdict::{Kind, SURE, SecondFault, Weighed};

/// The leading explanation in plain words.
pub(super) fn likeliest(analysis: &Analysis) -> String {
    let leading = analysis.verdict.explanations.first();
    leading.map_or_else(String::new, |one| format!("Likeliest: {}.", explained(analysis, one)))
}

/// Another explanation this likely is named beside the leading one.
const WORTH_NAMING: f64 = 0.05;
/// So is one that holds this share of what the leading one leaves, where the leading one is not
/// sure: who reads that the cause is less sure wants to know what else it may be.
const WORTH_NAMING_OF_REST: f64 = 0.5;

/// The leading one with its odds, and the second where it counts.
pub(super) fn likeliest_two(analysis: &Analysis) -> String {
    let told = |word: &str, one: &Weighed| {
        format!("{word}: {}, with odds of {}.", explained(analysis, one), odds(one.probability))
    };
    let counts = |first: &Weighed, second: &Weighed| {
        let rest = 1.0 - first.probability;
        let of_rest = first.probability < SURE && second.probability >= WORTH_NAMING_OF_REST * rest;
        second.probability >= WORTH_NAMING || of_rest
    };
    match analysis.verdict.explanations.as_slice() {
        [] => String::new(),
        [first, second, ..] if counts(first, second) => {
            format!("{} {}", told("Likeliest", first), told("Next", second))
        }
        [first, ..] => told("Likeliest", first),
    }
}

/// A camshaft by its name: "camshaft B1 intake"; one that is called camshaft needs no more.
pub(super) fn camshaft(name: &str) -> String {
    if name.to_lowercase().contains("cam") {
        format!("“{name}”")
    } else {
        format!("camshaft {name}")
    }
}

/// An explanation in plain words, with what it concerns.
fn explained(analysis: &Analysis, weighed: &Weighed) -> String {
    let at_crank = weighed.on.as_deref() == Some("crank");
    let all = weighed.moves.len() == analysis.engine.cams.len();
    let whose = if at_crank || (all && weighed.moves.len() > 1) { &[][..] } else { &weighed.moves };
    let at = if at_crank && weighed.kind == Kind::Skip { " at the crankshaft" } else { "" };
    let teeth = weighed
        .teeth
        .map_or_else(String::new, |teeth| format!(", {}", skipped_by(teeth, weighed.links)));
    format!("{}{at}{teeth}{}", plain(weighed.kind, analysis), concerns(weighed.kind, whose))
}

/// " (camshafts B1 intake and B1 exhaust)".
fn concerns(kind: Kind, cams: &[String]) -> String {
    match cams {
        _ if kind == Kind::DoesNotFit => String::new(),
        _ if kind == Kind::LeadsCrossed => format!(" ({})", list(cams)),
        [] => String::new(),
        [one] => format!(" ({})", camshaft(one)),
        several => format!(" (camshafts {})", list(several)),
    }
}

/// A kind of fault in plain words.
fn plain(kind: Kind, analysis: &Analysis) -> String {
    let drive = drive(analysis, None).0;
    match kind {
        Kind::InTime => "no fault of the timing".into(),
        Kind::Skip => format!("a jump of the {drive}"),
        Kind::Wear => format!("a worn {drive}"),
        Kind::PhaserOffRest => {
            "a cam adjuster (phaser) that does not stand at its rest position".into()
        }
        Kind::CrankReferenceMoved => {
            "the crank sensor's wheel or its mark, which has moved or is described wrongly".into()
        }
        Kind::CamWheelMoved => {
            "a sensor wheel that has moved on its camshaft, the camshaft itself being in place"
                .into()
        }
        Kind::DamagedTooth => "a damaged tooth on a sensor wheel".into(),
        Kind::LeadsCrossed => "two test leads that were exchanged".into(),
        Kind::DoesNotFit => "a description of the engine, or test leads, that are not right".into(),
    }
}

/// What drives the camshafts, and its verb; of no chain by name, the first described.
pub(super) fn drive(analysis: &Analysis, name: Option<&String>) -> (&'static str, &'static str) {
    let chains = &analysis.engine.drive.chains;
    let chain = chains.iter().find(|one| Some(&one.name) == name).or(chains.first());
    match chain.map(|chain| chain.kind) {
        Some(ChainKind::Belt) => ("timing belt", "has"),
        Some(ChainKind::Gear) => ("timing gears", "have"),
        Some(ChainKind::Chain) | None => ("timing chain", "has"),
    }
}

/// Odds without a sign to be read.
pub(super) fn odds(probability: f64) -> String {
    percent(probability).replace("> ", "more than ").replace("< ", "less than ")
}

/// What the leading explanation says may be there besides.
pub(super) fn second_fault(analysis: &Analysis) -> String {
    let names = |cams: &[usize]| -> Vec<String> {
        cams.iter().map(|&cam| analysis.engine.cams[cam].name.clone()).collect()
    };
    let second = analysis.verdict.explanations.first().map(|one| &one.second_fault);
    let (kind, cams) = match second {
        None | Some(SecondFault::None) => return String::new(),
        Some(SecondFault::Wear(_)) => (Kind::Wear, vec![]),
        Some(SecondFault::Phasers(cams)) => (Kind::PhaserOffRest, names(cams)),
        Some(SecondFault::Places | SecondFault::Figure(_) | SecondFault::Delayed(_)) => {
            (Kind::DoesNotFit, vec![])
        }
        Some(SecondFault::CrankReference) => (Kind::CrankReferenceMoved, vec![]),
        Some(SecondFault::CamWheel(cam)) => (Kind::CamWheelMoved, names(&[*cam])),
        Some(SecondFault::DamagedTooth(cam)) => (Kind::DamagedTooth, names(&[*cam])),
        // Where the second skip is, is the technician's.
        Some(SecondFault::Skip { .. }) => (Kind::Skip, vec![]),
        Some(SecondFault::Crossed(first, second)) => {
            (Kind::LeadsCrossed, names(&[*first, *second]))
        }
    };
    let what = match kind {
        Kind::Skip => format!("a second jump of the {}", drive(analysis, None).0),
        kind => plain(kind, analysis),
    };
    format!(" The readings also fit a second fault: {what}{}.", concerns(kind, &cams))
}
