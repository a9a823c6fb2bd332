//! Which camshaft is meant, for somebody who has never seen the engine; and what was not measured.

use super::kinds::drive;
use crate::analysis::Analysis;
use crate::engine::{Cam, CamShaft, Engine};
use crate::report::words::list;
use crate::verdict::{Kind, State};

/// Most camshafts that are explained: an engine of two banks has four.
const MOST: usize = 4;
/// Explanations less likely than this concern no camshaft here.
const WORTH_NAMING: f64 = 0.05;

/// What the names of the camshafts mean that the finding is about; `None` where it is about none.
#[must_use]
pub fn whereabouts(analysis: &Analysis) -> Option<String> {
    let engine = &analysis.engine;
    let said: Vec<String> = concerned(analysis)
        .into_iter()
        .take(MOST)
        .map(|cam| what(engine, &engine.cams[cam]))
        .collect();
    (!said.is_empty()).then(|| said.join(" "))
}

/// The cams that the finding, or what is likeliest, is about; in the engine's order.
fn concerned(analysis: &Analysis) -> Vec<usize> {
    let verdict = &analysis.verdict;
    let likely = verdict.explanations.iter().filter(|one| {
        one.probability >= WORTH_NAMING && !matches!(one.kind, Kind::InTime | Kind::DoesNotFit)
    });
    let names: Vec<&String> = match verdict.state {
        State::InTime => Vec::new(),
        _ if !verdict.moves.is_empty() => verdict.moves.iter().collect(),
        _ => likely.take(2).flat_map(|one| &one.moves).collect(),
    };
    let engine = &analysis.engine;
    (0..engine.cams.len()).filter(|&cam| names.contains(&&engine.cams[cam].name)).collect()
}

fn what(engine: &Engine, cam: &Cam) -> String {
    let kind = match cam.shaft {
        CamShaft::Intake => "the camshaft that works the intake valves",
        CamShaft::Exhaust => "the camshaft that works the exhaust valves",
        _ => "the camshaft that works the valves",
    };
    let banks: Vec<String> = cam.banks.iter().map(u32::to_string).collect();
    let of = match (engine.banks.len(), banks.as_slice()) {
        (0 | 1, _) => String::new(),
        (_, [one]) => format!(" of bank {one}"),
        (_, several) => format!(" of banks {}", list(several)),
    };
    let place = cam.place.as_ref().or_else(|| engine.bank_places.get(&cam.bank));
    match (place, engine.banks.len()) {
        (Some(place), _) => format!("“{}” is {kind}{of}: {place}.", cam.name),
        (None, 0 | 1) => format!("“{}” is {kind}.", cam.name),
        (None, _) => format!("“{}” is {kind}{of}; ask which side of the engine that is.", cam.name),
    }
}

/// What was not measured, so that nobody takes it for sound.
#[must_use]
pub fn not_measured(analysis: &Analysis) -> String {
    let engine = &analysis.engine;
    let mut missing: Vec<String> = Vec::new();
    let names: Vec<&str> =
        analysis.unmeasured.iter().map(|&cam| engine.cams[cam].name.as_str()).collect();
    match names.as_slice() {
        [] => {}
        [one] => missing.push(format!("where the camshaft {one} stands")),
        several => missing.push(format!("where the camshafts {} stand", list(several))),
    }
    if analysis.compression.measured.is_none() {
        missing.push("the compression of the cylinders".into());
    }
    missing.push(format!("the {} itself with its guides and tensioner", drive(analysis, None).0));
    missing.push("the valves and pistons".into());
    missing.push("the oil pressure".into());
    format!("Not looked at: {}.", list(&missing))
}
