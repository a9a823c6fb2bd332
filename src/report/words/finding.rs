//! The finding in short sentences: degrees with "early" or "late", never surer than the odds. The
//! technician's; the owner's stands in `owner/`.

use super::explanation::{beside, chain_of, explanation};
use super::phrases::{capital, chain, list, teeth_off};
use super::standing::{all_stand, furthest, stands};
use crate::engine::Engine;
use crate::units::CrankDelta;
use crate::verdict::{CamDeviation, Kind, Open, Reason, State, Unobservable, Verdict, Weighed};

/// The finding of a verdict on this engine.
#[must_use]
pub fn finding(engine: &Engine, verdict: &Verdict) -> String {
    let Some(leading) = verdict.explanations.first() else { return String::new() };
    match verdict.state {
        State::InTime => format!("In time. {}", furthest(engine, verdict.furthest())),
        State::Jumped => jumped(engine, verdict, leading) + &beside(engine, leading),
        State::OffNotJumped => off(engine, verdict, leading),
        State::CannotTell => open(engine, verdict, leading),
    }
}

fn jumped(engine: &Engine, verdict: &Verdict, leading: &Weighed) -> String {
    let by = match &leading.reason {
        Reason::Skip { shift: Some(shift), .. } => shift.by,
        _ => CrankDelta(0.0),
    };
    format!(
        "The {} has very likely skipped at {}: {} ({by}). {}. Displaced: {}. Do not run this engine.",
        chain_of(engine, leading).map_or_else(String::new, chain),
        leading.on.as_deref().unwrap_or("a sprocket"),
        leading.teeth.map(teeth_off).unwrap_or_default(),
        capital(&all_stand(engine, &moved(engine, verdict, leading))),
        list(&leading.moves)
    )
}

fn off(engine: &Engine, verdict: &Verdict, leading: &Weighed) -> String {
    let stand = all_stand(engine, &moved(engine, verdict, leading));
    let stand = match leading.kind {
        Kind::LeadsCrossed => format!("With them put right the reading is {stand}"),
        _ => capital(&stand),
    };
    format!(
        "Something is off, and it is very likely not a skipped chain. Likeliest: {}. {stand}.",
        explanation(engine, leading)
    )
}

/// Why nothing is found.
fn open(engine: &Engine, verdict: &Verdict, leading: &Weighed) -> String {
    let rival = verdict.explanations.get(1).unwrap_or(leading);
    match &verdict.open {
        None => "Cannot tell.".into(),
        Some(Open::NoCam) => "Cannot tell: no cam was measured.".into(),
        Some(Open::Outlier(cam)) => outlier(engine, verdict, *cam),
        Some(Open::Unobservable { skip, because }) => {
            unobservable(engine, verdict, &verdict.explanations[*skip], because)
        }
        Some(Open::HowFar) => format!(
            "Cannot tell how far or where: a chain has very likely skipped, but the engine file describes none. \
             {}. Do not run this engine.",
            capital(&all_stand(engine, &moved(engine, verdict, leading)))
        ),
        Some(Open::Where) => format!(
            "Cannot tell where: a chain has very likely skipped, but {} and {} are both possible. \
             Do not run this engine.",
            explanation(engine, leading),
            explanation(engine, rival)
        ),
        Some(Open::Assumed { low_bank, some_bank_low }) => {
            assumed(engine, verdict, *low_bank, *some_bank_low)
        }
        Some(Open::Odds) => format!(
            "Cannot tell. Likeliest is {}, then {}. {}.",
            explanation(engine, leading),
            explanation(engine, rival),
            capital(&all_stand(engine, &verdict.deviations))
        ),
    }
}

/// What cams show that are held against each other by their wheels alone.
fn assumed(
    engine: &Engine,
    verdict: &Verdict,
    low_bank: Option<(u32, u32)>,
    some_bank_low: bool,
) -> String {
    let held: Vec<CamDeviation> = verdict
        .deviations
        .iter()
        .filter(|one| engine.rests_on_assumption(one.cam) && one.against != Some(one.cam))
        .copied()
        .collect();
    let mut text =
        "Cannot tell whether the timing is right: nobody said where the cams should stand."
            .to_owned();
    if !held.is_empty() {
        text.push_str(&format!(
            " If the wheels are clocked alike, the reading is {}; a multiple of {:.0}° (one firing to the next) would look the same.",
            all_stand(engine, &held),
            engine.firing_interval().0
        ));
    }
    match low_bank {
        Some((bank, percent)) => {
            text.push_str(&format!(" The compression of bank {bank} is {percent} % lower."))
        }
        None if some_bank_low => {
            text.push_str(" The compression of one bank is lower, which one is not known.")
        }
        None => {}
    }
    let off = held.iter().any(|one| one.deviation.0.abs() > engine.cams[one.cam].tolerance.0);
    if off || some_bank_low {
        text.push_str(" Do not run this engine before that is settled.");
    }
    text
}

fn outlier(engine: &Engine, verdict: &Verdict, cam: usize) -> String {
    let name = &engine.cams[cam].name;
    let found = verdict.deviations.iter().find(|one| one.cam == cam);
    let reads = found.map_or_else(|| name.clone(), |one| stands(engine, one));
    format!(
        "Cannot tell. One reading is out of place: {reads}, tolerance {:.1}°. It may be a faulty reading, but that is not \
         shown. Check the lead, sensor and wheel of {name} and the place its cam should have, then capture again.",
        engine.cams[cam].tolerance.0
    )
}

fn unobservable(
    engine: &Engine,
    verdict: &Verdict,
    skip: &Weighed,
    because: &Unobservable,
) -> String {
    let why = match because {
        Unobservable::NotMeasured(cams) => {
            let names: Vec<&str> = cams.iter().map(|&cam| engine.cams[cam].name.as_str()).collect();
            format!("{} was not measured", list(&names))
        }
        Unobservable::PlaceUncertain => "where the cams belong is not known well enough".to_owned(),
        Unobservable::RelationsOnly => "the cams are only known against each other".to_owned(),
    };
    format!(
        "Cannot tell. Nothing measured is out of place, but {} would not show: {why}. {}",
        explanation(engine, skip),
        furthest(engine, verdict.furthest())
    )
}

/// Where the cams stand that an explanation moves.
fn moved(engine: &Engine, verdict: &Verdict, weighed: &Weighed) -> Vec<CamDeviation> {
    let stand = |name: &String| {
        verdict.deviations.iter().find(|one| engine.cams[one.cam].name == *name).copied()
    };
    weighed.moves.iter().filter_map(stand).collect()
}
